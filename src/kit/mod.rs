//! The kit: a catalogue and its rules, loaded once, auditing any number of builds.

mod audit;
mod cause;
mod causes;
pub(crate) mod evidence;
mod explored;
pub(crate) mod expression;
pub mod filters;
#[cfg(feature = "app")]
mod implied;
mod layers;
mod open;
pub mod page_values;
pub mod prompt_eval;
mod work;

use std::borrow::Cow;
use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;
use rhai::Engine;

use crate::audit::expr::Pool;
use crate::audit::memory::{Tree, Walk};
use crate::audit::proofs::MOST_OF_RULE;
use crate::build::lack::Lack;
use crate::build::resolve::Resolved;
use crate::build::{Build, Waiver};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::KindId;
use crate::layer::Layer;
use crate::rules::choice;
use crate::rules::engine::engine;
use crate::rules::host::{Cut, Host};
use crate::rules::loader::RuleSet;
use crate::rules::run::{self, Failed, on_script_stack};
use crate::rules::word_table::Word;
use crate::settings::Settings;
use crate::source::{Problem, Problems, Source};
use crate::waivers;

pub use audit::{Audit, Measure, Outcome};
pub use cause::{Blame, Blames};
pub use causes::{Cause, causes};
pub(crate) use explored::Runner;
pub use layers::Layers;
pub use open::{Decides, Fits, OpenRule, Question, Ruling};
#[cfg(feature = "app")]
pub(crate) use open::{asked_first, usual_words};
pub use work::{Step, Task};

/// What memory may hold over all rules, in nodes and steps of the ways to verdicts, of some 70
/// bytes each; what findings say and what lists answer weighs as much by its bytes.
pub const MAX_MEMORY: usize = 4_000_000;
/// How many expressions may be known before all is forgotten; one is some 150 bytes, and counts for
/// more where it holds a long text or list. The shipped rules make some thousands.
pub const MAX_EXPRESSIONS: usize = 500_000;

/// A catalogue with its rules, ready to audit any number of builds.
///
/// It remembers how each rule decided, as a tree of comparisons, so a build that looks the same to
/// a rule gets its verdict with no script run. It belongs to one thread; the catalogue may be
/// shared between the kits of several threads.
pub struct Kit {
    catalogue: Arc<Catalogue>,
    host: Rc<Host>,
    engine: Rc<Engine>,
    words: Vec<Word>,
    waivers: Rc<[Waiver]>,
    /// What memory may hold, and how many expressions.
    budget: std::cell::Cell<usize>,
    expressions: std::cell::Cell<usize>,
    /// The settings to put back after a rule case.
    case_settings: std::cell::RefCell<Option<Rc<Settings>>>,
}

impl Kit {
    /// Loads catalogue and rules. A rule file that can't be read does not hinder: every audit
    /// reports it as broken.
    ///
    /// # Errors
    /// What is wrong with the catalogue or the settings.
    pub fn load(layers: &Layers) -> Result<Self, Problems> {
        Self::with_catalogue(layers.load_catalogue()?, &layers.rules)
    }

    /// The same with a catalogue that is loaded already.
    ///
    /// # Errors
    /// What is wrong with the settings.
    pub fn with_catalogue(catalogue: Arc<Catalogue>, rules: &[Layer]) -> Result<Self, Problems> {
        let mut settings = Settings::load(rules)?;
        let waivers = waivers::load(rules)?.into();
        let host = Host::new(settings.clone());
        let (mut engine, words) = engine(&host, &catalogue);
        let (mut set, outlines) = on_script_stack(|| RuleSet::load(rules, &mut engine, &host));
        set.check(&outlines, &engine, &catalogue, &settings);
        // A decision on a rule that does not exist would be a silent no.
        set.broken.extend(choice::decide(&mut settings, &set));
        host.state.borrow_mut().settings = Rc::new(settings.clone());
        // Beside the rule, so that an audit looks no rule up by its name.
        for rule in &mut set.rules {
            if let Some(choice) = settings.choices.get(&*rule.id) {
                (rule.off, rule.counts_as) = (choice.off, choice.level);
            }
        }
        host.state.borrow_mut().trees.resize_with(set.rules.len(), Tree::default);
        *host.rules.borrow_mut() = Rc::new(set);
        Ok(Self {
            catalogue,
            host,
            engine: Rc::new(engine),
            words,
            waivers,
            budget: std::cell::Cell::new(MAX_MEMORY),
            expressions: std::cell::Cell::new(MAX_EXPRESSIONS),
            case_settings: std::cell::RefCell::new(None),
        })
    }

    /// The catalogue.
    pub fn catalogue(&self) -> &Arc<Catalogue> {
        &self.catalogue
    }

    /// The rules.
    #[doc(hidden)]
    pub fn rules(&self) -> Rc<RuleSet> {
        self.host.rules.borrow().clone()
    }

    /// The settings.
    #[doc(hidden)]
    pub fn settings(&self) -> Rc<Settings> {
        self.host.state.borrow().settings.clone()
    }

    /// The words that scripts may use.
    #[doc(hidden)]
    pub fn words(&self) -> &[Word] {
        &self.words
    }

    /// Reads a parts list against this kit's catalogue. `today` is the day that prices are of where
    /// the list leaves out `priced_on`; the clock is never read.
    ///
    /// # Errors
    /// Every problem of the file.
    pub fn read(&self, source: &Arc<Source>, today: Date) -> Result<Build, Problems> {
        Build::parse(source, &self.catalogue, today)
    }

    /// Audits a build with every rule. A rule that fails is part of the answer
    /// ([`Audit::broken`]) and does not stop the others.
    pub fn audit(&self, build: &Build) -> Audit {
        let rules = self.rules();
        let all: Vec<u16> = (0u16..).take(rules.rules.len()).collect();
        self.audit_with(
            &Rc::new(Resolved::new(Arc::new(build.clone()), self.catalogue.clone())),
            &all,
        )
    }

    /// Audits a resolved build with some of the rules.
    #[doc(hidden)]
    pub fn audit_with(&self, build: &Rc<Resolved>, which: &[u16]) -> Audit {
        // Steps of the work judge nothing; a rule case tries them all the same.
        self.run_all(build, which, self.host.sparse.get())
    }

    /// Runs rules over a build, steps of the work among them or not.
    fn run_all(&self, build: &Rc<Resolved>, which: &[u16], steps: bool) -> Audit {
        let rules = self.rules();
        self.trim_memory();
        // In order of rule, as what is said of them is; callers mostly ask in that order.
        let which =
            if which.is_sorted() { Cow::Borrowed(which) } else { Cow::Owned(sorted(which)) };
        self.runner().look_at(build);
        let mut outcomes = Vec::with_capacity(which.len());
        let mut missing = Vec::new();
        for &at in &*which {
            if rules.rules.get(at as usize).is_none_or(|r| r.off || r.step.is_some() && !steps) {
                continue;
            }
            match run::recall(&self.host, at) {
                Walk::Known(verdict) => outcomes.push((at, Outcome::Known(verdict))),
                Walk::Waits(lack @ Lack::Open(..)) => outcomes.push((at, Outcome::Waits(lack))),
                Walk::Unknown | Walk::Waits(Lack::Fact(_)) => {
                    missing.push(outcomes.len());
                    outcomes.push((at, Outcome::Waits(Lack::Open(KindId(0), 0))));
                }
            }
        }
        if !missing.is_empty() {
            on_script_stack(|| {
                for slot in missing {
                    if let Some((at, outcome)) = outcomes.get_mut(slot) {
                        *outcome = self.run(*at);
                    }
                }
            });
        }
        Audit {
            build: build.clone(),
            outcomes,
            runner: self.runner(),
            rules,
            waivers: self.waivers.clone(),
            _readers: self.host.pool_guard(),
        }
    }

    /// What runs the rules, for what is asked of an audit later.
    pub(crate) fn runner(&self) -> Runner {
        Runner { host: self.host.clone(), engine: self.engine.clone() }
    }

    fn run(&self, rule: u16) -> Outcome {
        if let Some(flaw) = self.rules().rules.get(rule as usize).and_then(|r| r.flaw.clone()) {
            return Outcome::Broken(flaw);
        }
        // A measure may have been worked out for another rule meanwhile.
        match run::recall(&self.host, rule) {
            Walk::Known(verdict) => return Outcome::Known(verdict),
            Walk::Waits(Lack::Fact(_)) => return self.runner().outcome(rule),
            Walk::Waits(_) | Walk::Unknown => {}
        }
        self.host.start();
        match run::script(&self.host, &self.engine, rule) {
            Ok(verdict) => Outcome::Known(verdict),
            Err(error) => match (self.host.cut(), &*error) {
                (Some(Cut::Lack(Lack::Fact(_))), _) => self.runner().outcome(rule),
                (Some(Cut::Lack(open)), _) => Outcome::Waits(open),
                (_, rhai::EvalAltResult::ErrorRuntime(payload, _)) => {
                    match payload.clone().try_cast::<Failed>() {
                        Some(Failed(problem)) => Outcome::Broken(Box::new(problem)),
                        None => Outcome::Broken(Box::new(Problem::new("a rule stopped itself"))),
                    }
                }
                _ => Outcome::Broken(Box::new(Problem::new("a rule stopped itself"))),
            },
        }
    }

    /// Audits the small build of a rule case: parts may leave out fields, settings may differ,
    /// nothing is remembered.
    pub(crate) fn audit_case(
        &self,
        build: &Rc<Resolved>,
        which: &[u16],
        settings: &[(String, crate::catalogue::value::Val)],
    ) -> Audit {
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

    /// The rules that hold the most are forgotten first, until half is free: they remember the
    /// least that comes again.
    fn trim_memory(&self) {
        let mut state = self.host.state.borrow_mut();
        if state.pool.weight() > self.expressions.get() && self.host.is_pool_free() {
            state.forget();
            state.pool = Pool::default();
        }
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

    /// Bounds what is remembered, in nodes and steps of the paths to known verdicts: 4,000,000
    /// where nothing is said, about 70 bytes each.
    pub fn limit_memory(&self, weight: usize) {
        self.budget.set(weight);
    }

    /// Bounds the expressions known to another number than [`MAX_EXPRESSIONS`]. They may pass it by
    /// what one audit adds, and by what comes while an audit is kept.
    #[doc(hidden)]
    pub fn limit_expressions(&self, number: usize) {
        self.expressions.set(number);
    }

    /// What memory holds now, in nodes and steps. It may pass its bound by what one audit adds.
    pub fn memory_weight(&self) -> usize {
        self.host.state.borrow().held
    }

    /// How many proofs of findings are kept, of all rules.
    #[doc(hidden)]
    pub fn proofs_known(&self) -> usize {
        self.host.state.borrow().remembered.proofs.len()
    }

    /// How many proofs of one rule's findings are kept at the most.
    #[doc(hidden)]
    pub fn most_proofs(&self) -> usize {
        MOST_OF_RULE
    }

    /// Switches memory off or on again; off, every audit runs every script.
    pub fn remember(&self, on: bool) {
        self.host.state.borrow_mut().remember = on;
    }

    /// Forgets every verdict, which frees most of the memory that the kit holds.
    pub fn forget(&self) {
        self.host.state.borrow_mut().forget();
    }

    /// How many times a script ran since the kit was loaded.
    #[doc(hidden)]
    pub fn script_runs(&self) -> u64 {
        self.host.runs.get()
    }

    /// Host and engine, for words that are not rules: expressions at the prompt, wants of open
    /// lines.
    pub(crate) fn inside(&self) -> (&Rc<Host>, &Engine) {
        (&self.host, &self.engine)
    }

    /// Nodes of memory held for one rule.
    #[doc(hidden)]
    pub fn nodes_of(&self, rule: u16) -> usize {
        self.host.state.borrow().trees.get(rule as usize).map_or(0, Tree::len)
    }

    /// Expressions known. They are as many as the scripts write, whatever the number of builds,
    /// unless a script makes new ones of every value.
    #[doc(hidden)]
    pub fn expressions(&self) -> usize {
        self.host.state.borrow().pool.len()
    }

    /// Nodes of memory held.
    #[doc(hidden)]
    pub fn memory_nodes(&self) -> usize {
        self.host.state.borrow().trees.iter().map(Tree::len).sum()
    }
}

fn sorted(which: &[u16]) -> Vec<u16> {
    let mut which = which.to_vec();
    which.sort_unstable();
    which
}
