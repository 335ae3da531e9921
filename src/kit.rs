//! The kit: a catalogue and its rules, loaded once, auditing any number of builds.

use std::borrow::Cow;
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;
use rhai::Engine;

use crate::audit::eval::{Open, View};
use crate::audit::finding::{Brief, Finding, RuleWords, fill, finding};
use crate::audit::memory::{Tree, Walk};
use crate::audit::show::{self, Names};
use crate::audit::verdict::{Level, Verdict};
use crate::build::resolve::Resolved;
use crate::build::{Build, Waiver};
use crate::catalogue::Catalogue;
use crate::layer::{Layer, find_upward};
use crate::rules::engine::engine;
use crate::rules::host::{Cut, Host};
use crate::rules::run::{self, Failed};
use crate::rules::script::{Rule, RuleSet};
use crate::rules::words::Word;
use crate::settings::{RuleChoice, Settings};
use crate::source::{Problem, Problems, Source};
use crate::waivers;

/// Stack for scripts, in bytes: a chain of closures is dropped by recursion.
const SCRIPT_STACK: usize = 64 << 20;
/// What memory may hold over all rules, in nodes and steps of the ways to them; a step is some 70 bytes.
pub const MAX_MEMORY: usize = 4_000_000;

/// The layers that a kit is loaded from.
#[derive(Debug, Clone)]
pub struct Layers {
    /// Catalogue folders, the lowest first.
    pub catalogue: Vec<Layer>,
    /// Rule folders, the lowest first.
    pub rules: Vec<Layer>,
}

impl Layers {
    /// What the binary carries, and nothing else.
    pub fn built_in() -> Self {
        Self { catalogue: vec![Layer::built_in_catalogue()], rules: vec![Layer::built_in_rules()] }
    }

    /// What the binary carries, with the `catalogue` and `rules` folders found beside a file or above it.
    ///
    /// # Errors
    /// A folder that is there and can't be read.
    pub fn beside(file: &Path) -> Result<Self, Problems> {
        let mut layers = Self::built_in();
        if let Some(folder) = find_upward(file, "catalogue", "layer.toml") {
            layers.catalogue.push(Layer::read(&folder)?);
        }
        if let Some(folder) = find_upward(file, "rules", "settings.toml") {
            layers.rules.push(Layer::read(&folder)?);
        }
        Ok(layers)
    }
}

/// A catalogue with rules, ready to audit. It belongs to one thread; the catalogue may be shared between kits.
pub struct Kit {
    catalogue: Arc<Catalogue>,
    host: Rc<Host>,
    engine: Engine,
    words: Vec<Word>,
    waivers: Rc<[Waiver]>,
    /// What memory may hold.
    budget: std::cell::Cell<usize>,
    /// The settings to put back after a rule case.
    case_settings: std::cell::RefCell<Option<Rc<Settings>>>,
}

impl Kit {
    /// Loads catalogue and rules. A rule file that can't be read does not hinder: every audit reports it as broken.
    ///
    /// # Errors
    /// What is wrong with the catalogue or the settings.
    pub fn load(layers: &Layers) -> Result<Self, Problems> {
        let catalogue = Arc::new(Catalogue::load(&layers.catalogue)?);
        Self::with_catalogue(catalogue, &layers.rules)
    }

    /// The same with a catalogue that is loaded already.
    ///
    /// # Errors
    /// What is wrong with the settings.
    pub fn with_catalogue(catalogue: Arc<Catalogue>, rules: &[Layer]) -> Result<Self, Problems> {
        let settings = Settings::load(rules)?;
        let waivers = waivers::load(rules)?.into();
        let host = Host::new(settings.clone());
        let (mut engine, words) = engine(&host, &catalogue);
        let mut set = stacker::maybe_grow(SCRIPT_STACK / 2, SCRIPT_STACK, || RuleSet::load(rules, &mut engine, &host));
        set.check(&engine, &catalogue, &settings);
        check_choices(&host, &mut set);
        // Beside the rule, so that an audit looks no rule up by its name.
        for rule in &mut set.rules {
            if let Some(choice) = settings.choices.get(&*rule.id) {
                (rule.off, rule.counts_as) = (choice.off, choice.level);
            }
        }
        host.state.borrow_mut().trees.resize_with(set.rules.len(), Tree::default);
        *host.rules.borrow_mut() = Rc::new(set);
        Ok(Self { catalogue, host, engine, words, waivers, budget: std::cell::Cell::new(MAX_MEMORY), case_settings: std::cell::RefCell::new(None) })
    }

    /// The catalogue.
    pub fn catalogue(&self) -> &Arc<Catalogue> {
        &self.catalogue
    }

    /// The rules.
    pub fn rules(&self) -> Rc<RuleSet> {
        self.host.rules.borrow().clone()
    }

    /// The settings.
    pub fn settings(&self) -> Rc<Settings> {
        self.host.state.borrow().settings.clone()
    }

    /// The words that scripts may use.
    pub fn words(&self) -> &[Word] {
        &self.words
    }

    /// Reads a build against this kit's catalogue.
    ///
    /// # Errors
    /// Every problem of the file.
    pub fn read(&self, source: &Arc<Source>, today: Date) -> Result<Build, Problems> {
        Build::parse(source, &self.catalogue, today)
    }

    /// Audits a build with every rule.
    pub fn audit(&self, build: &Build) -> Audit {
        let rules = self.rules();
        let all: Vec<u16> = (0u16..).take(rules.rules.len()).collect();
        self.audit_with(&Rc::new(Resolved::new(Arc::new(build.clone()), self.catalogue.clone())), &all)
    }

    /// Audits a resolved build with some of the rules.
    pub fn audit_with(&self, build: &Rc<Resolved>, which: &[u16]) -> Audit {
        let rules = self.rules();
        self.trim_memory();
        // In order of rule, as what is said of them is; callers mostly ask in that order.
        let which = if which.is_sorted() { Cow::Borrowed(which) } else { Cow::Owned(sorted(which)) };
        {
            let mut state = self.host.state.borrow_mut();
            state.build = Some(build.clone());
            state.pool.look_anew();
        }
        let mut outcomes = Vec::with_capacity(which.len());
        let mut missing = Vec::new();
        for &at in &*which {
            if rules.rules.get(at as usize).is_none_or(|r| r.off) {
                continue;
            }
            match run::recall(&self.host, at) {
                Walk::Known(verdict) => outcomes.push((at, Outcome::Known(verdict))),
                Walk::Waits(open) => outcomes.push((at, Outcome::Waits(open))),
                Walk::Unknown => {
                    missing.push(outcomes.len());
                    outcomes.push((at, Outcome::Waits(Open(crate::catalogue::kinds::KindId(0), 0))));
                }
            }
        }
        if !missing.is_empty() {
            stacker::maybe_grow(SCRIPT_STACK / 2, SCRIPT_STACK, || {
                for slot in missing {
                    if let Some((at, outcome)) = outcomes.get_mut(slot) {
                        *outcome = self.run(*at);
                    }
                }
            });
        }
        Audit { build: build.clone(), outcomes, host: self.host.clone(), rules, waivers: self.waivers.clone() }
    }

    fn run(&self, rule: u16) -> Outcome {
        if let Some(flaw) = self.rules().rules.get(rule as usize).and_then(|r| r.flaw.clone()) {
            return Outcome::Broken(flaw);
        }
        // A measure may have been worked out for another rule meanwhile.
        if let Walk::Known(verdict) = run::recall(&self.host, rule) {
            return Outcome::Known(verdict);
        }
        self.host.start();
        match run::script(&self.host, &self.engine, rule) {
            Ok(verdict) => Outcome::Known(verdict),
            Err(error) => match (self.host.cut(), &*error) {
                (Some(Cut::Open(open)), _) => Outcome::Waits(open),
                (_, rhai::EvalAltResult::ErrorRuntime(payload, _)) => match payload.clone().try_cast::<Failed>() {
                    Some(Failed(problem)) => Outcome::Broken(Box::new(problem)),
                    None => Outcome::Broken(Box::new(Problem::new("a rule stopped itself"))),
                },
                _ => Outcome::Broken(Box::new(Problem::new("a rule stopped itself"))),
            },
        }
    }

    /// Audits the small build of a rule case: parts may leave out fields, settings may differ, nothing is remembered.
    pub(crate) fn audit_case(&self, build: &Rc<Resolved>, which: &[u16], settings: &[(String, crate::catalogue::value::Val)]) -> Audit {
        self.host.sparse.set(true);
        let held = self.settings();
        if !settings.is_empty() {
            let mut changed = (*held).clone();
            for (name, value) in settings {
                // A setting that does not exist is found out when the rule asks for it.
                let _ = changed.set(name, value.clone());
            }
            self.host.state.borrow_mut().settings = Rc::new(changed);
        }
        *self.case_settings.borrow_mut() = Some(held);
        self.audit_with(build, which)
    }

    /// Puts back what a case changed, once its findings have been put in words.
    pub(crate) fn end_case(&self) {
        if let Some(held) = self.case_settings.borrow_mut().take() {
            self.host.state.borrow_mut().settings = held;
        }
        self.host.sparse.set(false);
    }

    /// The rules that hold the most are forgotten first, until half is free: they remember the least that comes again.
    fn trim_memory(&self) {
        let mut state = self.host.state.borrow_mut();
        if state.held <= self.budget.get() {
            return;
        }
        let mut largest: Vec<usize> = (0..state.trees.len()).collect();
        largest.sort_by_key(|at| std::cmp::Reverse(state.trees.get(*at).map_or(0, Tree::weight)));
        for at in largest {
            if state.held <= self.budget.get() / 2 {
                break;
            }
            let Some(tree) = state.trees.get_mut(at) else { continue };
            let freed = tree.weight();
            tree.clear();
            state.held = state.held.saturating_sub(freed);
        }
    }

    /// Bounds memory to another weight than [`MAX_MEMORY`]: nodes, and steps of the ways to known verdicts.
    pub fn limit_memory(&self, weight: usize) {
        self.budget.set(weight);
    }

    /// What memory holds now, in nodes and steps. It may pass its bound by what one audit adds.
    pub fn memory_weight(&self) -> usize {
        self.host.state.borrow().held
    }

    /// Switches memory off or on again; off, every audit runs every script.
    pub fn remember(&self, on: bool) {
        self.host.state.borrow_mut().remember = on;
    }

    /// Forgets every verdict.
    pub fn forget(&self) {
        let mut state = self.host.state.borrow_mut();
        state.trees.iter_mut().for_each(Tree::clear);
        state.held = 0;
    }

    /// How many times a script ran since the kit was loaded.
    pub fn script_runs(&self) -> u64 {
        self.host.runs.get()
    }

    /// Host and engine, for words that are not rules: expressions at the prompt, wants of open lines.
    pub(crate) fn inside(&self) -> (&Rc<Host>, &Engine) {
        (&self.host, &self.engine)
    }

    /// Nodes of memory held for one rule.
    pub fn nodes_of(&self, rule: u16) -> usize {
        self.host.state.borrow().trees.get(rule as usize).map_or(0, Tree::len)
    }

    /// Nodes of memory held.
    pub fn memory_nodes(&self) -> usize {
        self.host.state.borrow().trees.iter().map(Tree::len).sum()
    }
}

fn sorted(which: &[u16]) -> Vec<u16> {
    let mut which = which.to_vec();
    which.sort_unstable();
    which
}

/// A decision on a rule that does not exist would be a silent no: report it.
fn check_choices(host: &Host, set: &mut RuleSet) {
    let settings = host.state.borrow().settings.clone();
    let mut ids: Vec<&String> = settings.choices.keys().filter(|id| set.rule(id).is_none()).collect();
    ids.sort();
    for id in ids {
        if let Some(choice) = settings.choices.get(id) {
            let problem = Problem::new(format!("settings decide on rule `{id}`, which does not exist")).at(&choice.source, choice.span, "unknown rule");
            set.broken.push(problem.suggest(id, set.rules.iter().map(|r| &*r.id)));
        }
    }
}

/// What came of one rule.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// It gave a verdict.
    Known(Rc<Verdict>),
    /// It waits for a line whose part is not chosen.
    Waits(Open),
    /// It failed.
    Broken(Box<Problem>),
}

/// What the rules say of a build.
pub struct Audit {
    build: Rc<Resolved>,
    outcomes: Vec<(u16, Outcome)>,
    host: Rc<Host>,
    rules: Rc<RuleSet>,
    /// The shop's own.
    waivers: Rc<[Waiver]>,
}

/// A measure's number.
#[derive(Debug, Clone)]
pub struct Measure {
    /// Its id.
    pub id: String,
    /// What it is.
    pub title: String,
    /// The number; none when it does not apply.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Arc<str>,
    /// The number in words.
    pub words: String,
    /// Whether it tells better from worse.
    pub tells: bool,
}

impl Audit {
    /// The build as the rules saw it.
    pub fn build(&self) -> &Rc<Resolved> {
        &self.build
    }

    /// What came of each rule, in order of id.
    pub fn outcomes(&self) -> impl Iterator<Item = (&Rule, &Outcome)> {
        self.outcomes.iter().filter_map(|(at, o)| self.rules.rules.get(*at as usize).map(|r| (r, o)))
    }

    /// Lends what words are made from.
    pub(crate) fn seen<T>(&self, look: impl FnOnce(View<'_>, &dyn Names) -> T) -> T {
        let state = self.host.state.borrow();
        // This audit may be of another build than the one looked at last, so numbers are not shared either way.
        state.pool.look_anew();
        let seen = look(View { pool: &state.pool, settings: &state.settings, build: &self.build }, &*self.rules);
        state.pool.look_anew();
        seen
    }

    /// Every finding, the worst first, then in order of rule; waived ones carry their waiver.
    pub fn findings(&self) -> Vec<Finding> {
        let mut findings = Vec::new();
        self.seen(|view, names| {
            for (rule, outcome) in self.outcomes() {
                let Outcome::Known(verdict) = outcome else { continue };
                let words = RuleWords { id: &rule.id, title: &rule.title, remedy: &rule.remedy, basis: &rule.basis, level: rule.counts_as };
                findings.extend(verdict.drafts.iter().map(|draft| finding(view, names, &words, draft, verdict)));
            }
        });
        for found in &mut findings {
            let mut all = self.build.build.waivers.iter().chain(self.waivers.iter());
            found.waived = all.find(|w| waivers::covers(w, found, self.build.build.priced_on)).cloned();
        }
        findings.sort_by(|a, b| a.waived.is_some().cmp(&b.waived.is_some()).then(b.level.cmp(&a.level)).then_with(|| a.rule.cmp(&b.rule)));
        findings
    }

    /// Every finding in one line, in the order of [`Self::findings`]: much cheaper, as no value's place is looked up.
    pub fn briefs(&self) -> Vec<Brief> {
        let (build, day) = (&self.build.build, self.build.build.priced_on);
        let waivers: Vec<&Waiver> = build.waivers.iter().chain(self.waivers.iter()).collect();
        let mut briefs = self.seen(|view, names| {
            let mut briefs = Vec::with_capacity(self.outcomes.len().min(16));
            for (rule, outcome) in self.outcomes() {
                let Outcome::Known(verdict) = outcome else { continue };
                let level = rule.counts_as;
                let words = RuleWords { id: &rule.id, title: "", remedy: "", basis: "", level };
                for draft in &verdict.drafts {
                    // Whether a waiver covers it is known from its pointers only.
                    let full = waivers.iter().any(|w| w.rule == *rule.id).then(|| finding(view, names, &words, draft, verdict));
                    let waived = full.is_some_and(|f| waivers.iter().any(|w| waivers::covers(w, &f, day)));
                    briefs.push(Brief { rule: rule.id.clone(), level: level.unwrap_or(draft.level), message: fill(view, names, draft), waived });
                }
            }
            briefs
        });
        // A stable sort: within a level they stay in order of rule, as outcomes are.
        briefs.sort_by(|a, b| a.waived.cmp(&b.waived).then(b.level.cmp(&a.level)));
        briefs
    }

    /// The worst level that is not waived; none when nothing was found.
    pub fn worst(&self) -> Option<Level> {
        if self.build.build.waivers.is_empty() && self.waivers.is_empty() {
            return self
                .outcomes()
                .filter_map(|(rule, outcome)| match outcome {
                    Outcome::Known(verdict) => verdict.drafts.iter().map(|d| rule.counts_as.unwrap_or(d.level)).max(),
                    _ => None,
                })
                .max();
        }
        self.findings().iter().filter(|f| f.waived.is_none()).map(|f| f.level).max()
    }

    /// Every measure, in order of id.
    pub fn measures(&self) -> Vec<Measure> {
        let currency = self.build.build.currency.clone();
        self.seen(|view, _| {
            self.outcomes()
                .filter_map(|(rule, outcome)| {
                    let unit = rule.unit.clone()?;
                    let Outcome::Known(verdict) = outcome else { return None };
                    let value = verdict.value.and_then(|id| view.number(id).ok());
                    let words = value.map_or_else(|| "does not apply".to_owned(), |n| show::figure(n, &unit, &currency));
                    Some(Measure { id: rule.id.to_string(), title: rule.title.clone(), value, unit, words, tells: rule.better.is_some() })
                })
                .collect()
        })
    }

    /// The number of a measure by its place among the rules; none when it does not apply or was not asked for.
    pub(crate) fn number(&self, rule: u16) -> Option<f64> {
        let (_, outcome) = self.outcomes.iter().find(|(at, _)| *at == rule)?;
        let Outcome::Known(verdict) = outcome else { return None };
        self.seen(|view, _| view.number(verdict.value?).ok().filter(|n| n.is_finite()))
    }

    /// The numbers of the measures that were asked for, by their place among the rules.
    pub(crate) fn numbers(&self) -> Vec<(u16, f64)> {
        self.seen(|view, _| {
            let of = |(at, outcome): &(u16, Outcome)| match outcome {
                Outcome::Known(verdict) => view.number(verdict.value?).ok().filter(|n| n.is_finite()).map(|n| (*at, n)),
                _ => None,
            };
            self.outcomes.iter().filter_map(of).collect()
        })
    }

    /// How many findings nobody signed off there are, by rule and level.
    pub(crate) fn tally(&self) -> std::collections::BTreeMap<(u16, Level), usize> {
        let mut tally = std::collections::BTreeMap::new();
        if self.build.build.waivers.is_empty() && self.waivers.is_empty() {
            for (at, outcome) in &self.outcomes {
                let (Outcome::Known(verdict), Some(rule)) = (outcome, self.rules.rules.get(*at as usize)) else { continue };
                for draft in &verdict.drafts {
                    *tally.entry((*at, rule.counts_as.unwrap_or(draft.level))).or_default() += 1;
                }
            }
            return tally;
        }
        for brief in self.briefs().into_iter().filter(|b| !b.waived) {
            if let Some(at) = self.rules.find(&brief.rule) {
                *tally.entry((at, brief.level)).or_default() += 1;
            }
        }
        tally
    }

    /// The ways that the rules took, by their place; none for one that gave no verdict.
    pub(crate) fn verdicts(&self) -> impl Iterator<Item = (u16, Option<&Rc<Verdict>>)> {
        self.outcomes.iter().map(|(at, outcome)| match outcome {
            Outcome::Known(verdict) => (*at, Some(verdict)),
            _ => (*at, None),
        })
    }

    /// Ids of the rules with a finding at a level or above that nobody signed off.
    pub(crate) fn stops(&self, level: Level) -> Vec<String> {
        let mut rules: Vec<String> = self.briefs().into_iter().filter(|b| !b.waived && b.level >= level).map(|b| b.rule.to_string()).collect();
        rules.dedup();
        rules
    }

    /// The rules that failed on this build.
    pub(crate) fn failed(&self) -> impl Iterator<Item = (&Rule, &Problem)> {
        self.outcomes().filter_map(|(rule, o)| match o {
            Outcome::Broken(problem) => Some((rule, &**problem)),
            _ => None,
        })
    }

    /// Whether a waiver, the build's own or the shop's, may sign off findings of a rule.
    pub(crate) fn may_waive(&self, rule: &str) -> bool {
        self.build.build.waivers.iter().chain(self.waivers.iter()).any(|w| w.rule == rule)
    }

    /// Rules that failed, and files that could not be read as rules.
    pub fn broken(&self) -> Vec<Problem> {
        let failed = self.outcomes().filter_map(|(_, o)| match o {
            Outcome::Broken(problem) => Some((**problem).clone()),
            _ => None,
        });
        self.rules.broken.iter().cloned().chain(failed).collect()
    }

    /// Rules that wait for an open line: the rule's id and the kind it waits for.
    pub fn waiting(&self) -> Vec<(String, String)> {
        self.outcomes()
            .filter_map(|(rule, o)| match o {
                Outcome::Waits(Open(kind, _)) => Some((rule.id.to_string(), self.build.catalogue.kind(*kind).map_or_else(String::new, |k| k.name.to_string()))),
                _ => None,
            })
            .collect()
    }

    /// What is odd about waivers, the build's and the shop's: expired, unused, or for a rule that does not exist.
    pub fn waiver_problems(&self) -> Vec<Problem> {
        let known = self.outcomes().filter(|(_, o)| matches!(o, Outcome::Known(_))).map(|(r, _)| &*r.id).collect();
        let ids = self.rules.rules.iter().map(|r| &*r.id).collect();
        waivers::problems(&self.build, &self.waivers, &self.findings(), &waivers::Rules { ids, known })
    }

    /// What this shop decided of single rules, in order of rule.
    pub fn decided(&self) -> Vec<(String, RuleChoice)> {
        let mut decided: Vec<_> = self.host.state.borrow().settings.choices.iter().map(|(id, choice)| (id.clone(), choice.clone())).collect();
        decided.sort_by(|a, b| a.0.cmp(&b.0));
        decided
    }

    /// What is odd in the rules' scripts and still runs; what broke on the same line has said it better.
    pub fn warnings(&self) -> Vec<Problem> {
        if self.rules.warnings.is_empty() {
            return Vec::new();
        }
        let place = |p: &Problem| p.labels.first().map(|l| (l.source.name.clone(), l.source.line_column(l.span.start()).0));
        let broken: Vec<_> = self.broken().iter().map(place).collect();
        self.rules.warnings.iter().filter(|w| !broken.contains(&place(w))).cloned().collect()
    }

    /// 0 when nothing stops the build, 1 when something does, 2 when a rule is broken.
    pub fn exit_code(&self) -> u8 {
        if !self.rules.broken.is_empty() || self.outcomes.iter().any(|(_, o)| matches!(o, Outcome::Broken(_))) {
            2
        } else {
            u8::from(self.worst() == Some(Level::Stop))
        }
    }
}
