//! The result of an audit: an outcome a rule, put in words when somebody looks.

use std::rc::Rc;
use std::sync::Arc;

use crate::audit::eval::View;
use crate::audit::finding::{Brief, Finding, RuleWords, fill, finding};
use crate::audit::interval::Span;
use crate::audit::verdict::{Draft, Verdict};
use crate::audit::wording::{self, Names};
use crate::build::Waiver;
use crate::build::lack::Lack;
use crate::build::resolve::Resolved;
use crate::kit::explored::{Explored, Runner, Saying};
use crate::level::Level;
use crate::rules::host::PoolGuard;
use crate::rules::loader::{Better, BrokenRule, Rule, RuleSet};
use crate::settings::RuleChoice;
use crate::source::Problem;
use crate::waivers;

/// The result of one rule.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// It gave a verdict.
    Known(Rc<Verdict>),
    /// It waits for a line whose part is not chosen.
    Waits(Lack),
    /// It rests on facts that nobody said: every way it can end.
    Explored(Rc<Explored>),
    /// It failed.
    Broken(Box<Problem>),
}

/// What the rules say of one build. Findings and measures are put in words when they are asked
/// for, so an audit that nobody reads costs little; ask once and keep the answer.
pub struct Audit {
    pub(super) build: Rc<Resolved>,
    /// In order of rule.
    pub(super) outcomes: Vec<(u16, Outcome)>,
    pub(super) runner: Runner,
    pub(super) rules: Rc<RuleSet>,
    /// The shop's own.
    pub(super) waivers: Rc<[Waiver]>,
    /// Verdicts are made of expressions.
    pub(super) _readers: PoolGuard,
}

/// A number that a rule file works out of a build, with its unit.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Measure {
    /// Its id.
    pub id: Arc<str>,
    /// What reports call it, in a word or three.
    pub name: Arc<str>,
    /// What it is.
    pub title: Arc<str>,
    /// The number, in `unit`; none when it does not apply to the build.
    pub value: Option<f64>,
    /// What it lies between, the ends infinite where nothing is known, when it rests on facts that
    /// nobody said.
    pub range: Option<(f64, f64)>,
    /// Its unit, such as `W`; empty for a bare number.
    pub unit: Arc<str>,
    /// The number with its unit, rounded for people.
    pub words: String,
    /// Which way it is better, if one is.
    pub better: Option<Better>,
    /// Whether it is a row where builds stand beside each other.
    pub compared: bool,
}

impl Audit {
    /// Those of the list, then those of the shop.
    fn all_waivers(&self) -> impl Iterator<Item = &Waiver> {
        self.build.build.waivers.iter().chain(self.waivers.iter())
    }

    /// The build as the rules saw it.
    #[doc(hidden)]
    pub fn build(&self) -> &Rc<Resolved> {
        &self.build
    }

    /// The rules.
    pub fn rule_set(&self) -> &Rc<RuleSet> {
        &self.rules
    }

    /// The result of each rule, in order of id.
    #[doc(hidden)]
    pub fn outcomes(&self) -> impl Iterator<Item = (&Rule, &Outcome)> {
        self.outcomes
            .iter()
            .filter_map(|(at, o)| self.rules.rules.get(*at as usize).map(|r| (r, o)))
    }

    /// Calls `look` with the build as rules see it and the names of its places.
    pub(crate) fn with_view<T>(&self, look: impl FnOnce(View<'_>, &dyn Names) -> T) -> T {
        let state = self.runner.host.state.borrow();
        // This audit may be of another build than the one looked at last, so numbers are not shared
        // either way.
        state.pool.invalidate();
        let seen = look(
            View { pool: &state.pool, settings: &state.settings, build: &self.build },
            &*self.rules,
        );
        state.pool.invalidate();
        seen
    }

    /// Every finding, the worst first, then in order of rule; waived ones carry their waiver.
    /// Advice that is for the sheet alone (`Shown: on the sheet`) is not among them.
    pub fn findings(&self) -> Vec<Finding> {
        self.findings_of(|rule| !rule.on_sheet)
    }

    /// Advice for the bench, which stands on the sheet and nowhere else.
    pub(crate) fn sheet_findings(&self) -> Vec<Finding> {
        self.findings_of(|rule| rule.on_sheet)
    }

    fn findings_of(&self, which: impl Fn(&Rule) -> bool) -> Vec<Finding> {
        let mut findings = Vec::new();
        self.with_view(|view, names| {
            for (rule, outcome) in self.outcomes().filter(|(rule, _)| which(rule)) {
                let words = words_of(rule);
                findings.extend(outcome.found().map(|(draft, verdict, settled)| Finding {
                    settled,
                    ..finding(view, names, &words, draft, verdict)
                }));
            }
        });
        for found in &mut findings {
            let mut all = self.all_waivers();
            found.waived =
                all.find(|w| waivers::covers(w, found, self.build.build.priced_on)).cloned();
        }
        findings.sort_by(|a, b| {
            a.waived
                .is_some()
                .cmp(&b.waived.is_some())
                .then(b.level.cmp(&a.level))
                .then_with(|| a.rule.cmp(&b.rule))
        });
        findings
    }

    /// Every finding in one line, in the order of [`Self::findings`]: much cheaper, as no value's
    /// place is looked up.
    #[doc(hidden)]
    pub fn briefs(&self) -> Vec<Brief> {
        let day = self.build.build.priced_on;
        let waivers: Vec<&Waiver> = self.all_waivers().collect();
        let mut briefs = self.with_view(|view, names| {
            let mut briefs = Vec::with_capacity(self.outcomes.len().min(16));
            for (rule, outcome) in self.outcomes().filter(|(rule, _)| !rule.on_sheet) {
                let level = rule.counts_as;
                let words = RuleWords { id: &rule.id, title: "", remedy: "", basis: "", level };
                for (draft, verdict, _) in outcome.found() {
                    // Whether a waiver covers it is known from its pointers only.
                    let full = waivers
                        .iter()
                        .any(|w| w.rule == *rule.id)
                        .then(|| finding(view, names, &words, draft, verdict));
                    let waived =
                        full.is_some_and(|f| waivers.iter().any(|w| waivers::covers(w, &f, day)));
                    briefs.push(Brief {
                        rule: rule.id.clone(),
                        level: level.unwrap_or(draft.level),
                        message: fill(view, names, draft),
                        waived,
                    });
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
        if self.all_waivers().next().is_none() {
            return self
                .outcomes()
                .filter_map(|(rule, outcome)| {
                    outcome.found().map(|(d, ..)| rule.counts_as.unwrap_or(d.level)).max()
                })
                .max();
        }
        self.findings().iter().filter(|f| f.waived.is_none()).map(|f| f.level).max()
    }

    /// Every measure, in order of id.
    pub fn measures(&self) -> Vec<Measure> {
        let currency = self.build.build.currency.clone();
        self.with_view(|view, _| {
            self.outcomes()
                .filter_map(|(rule, outcome)| {
                    let unit = rule.unit.clone()?;
                    let figure = |n: f64| wording::figure(n, &unit, &currency);
                    let (value, range) = match outcome {
                        Outcome::Known(verdict) => {
                            (verdict.value.and_then(|id| view.number(id).ok()), None)
                        }
                        Outcome::Explored(explored) => match explored.value(view) {
                            Some(span) => (span.single(), Some(span)),
                            None => (None, Some(Span::ALL)),
                        },
                        _ => return None,
                    };
                    let words = match (value, range) {
                        (Some(n), _) => figure(n),
                        (None, None) => "does not apply".to_owned(),
                        (None, Some(span)) => wording::range(span.lo, span.hi, &unit, &currency),
                    };
                    let range = range.filter(|_| value.is_none()).map(|s| (s.lo, s.hi));
                    Some(Measure {
                        id: rule.id.clone(),
                        name: rule.name.clone(),
                        title: rule.title.clone(),
                        value,
                        range,
                        unit,
                        words,
                        better: rule.better,
                        compared: rule.compared,
                    })
                })
                .collect()
        })
    }

    /// The number of a measure by its place among the rules; none when it does not apply or was not
    /// asked for.
    pub(crate) fn number(&self, rule: u16) -> Option<f64> {
        let (_, outcome) = self.outcomes.iter().find(|(at, _)| *at == rule)?;
        let Outcome::Known(verdict) = outcome else { return None };
        self.with_view(|view, _| view.number(verdict.value?).ok().filter(|n| n.is_finite()))
    }

    /// The same, and where facts that nobody said leave it open, the worse end of what it may come
    /// to: the least where more is better. None too where that end is not known.
    pub(crate) fn number_at_worst(&self, rule: u16, more_is_better: bool) -> Option<f64> {
        let (_, outcome) = self.outcomes.iter().find(|(at, _)| *at == rule)?;
        let Outcome::Explored(explored) = outcome else { return self.number(rule) };
        let span = self.with_view(|view, _| explored.value(view))?;
        Some(if more_is_better { span.lo } else { span.hi }).filter(|n| n.is_finite())
    }

    /// The numbers of the measures that were asked for, by their place among the rules.
    pub(crate) fn numbers(&self) -> Vec<(u16, f64)> {
        self.with_view(|view, _| {
            let of = |(at, outcome): &(u16, Outcome)| match outcome {
                Outcome::Known(verdict) => {
                    view.number(verdict.value?).ok().filter(|n| n.is_finite()).map(|n| (*at, n))
                }
                _ => None,
            };
            self.outcomes.iter().filter_map(of).collect()
        })
    }

    /// How many findings nobody signed off there are, by rule and level.
    pub(crate) fn tally(&self) -> std::collections::BTreeMap<(u16, Level), usize> {
        let mut tally = std::collections::BTreeMap::new();
        if self.all_waivers().next().is_none() {
            for (at, outcome) in &self.outcomes {
                let rule = self.rules.rules.get(*at as usize).filter(|rule| !rule.on_sheet);
                let Some(rule) = rule else { continue };
                for (draft, ..) in outcome.found() {
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

    /// Every way that the rules took, or may take where facts are missing, by their place.
    #[cfg(feature = "app")]
    pub(crate) fn ways(&self) -> impl Iterator<Item = (u16, &Rc<Verdict>)> {
        self.outcomes.iter().flat_map(|(at, outcome)| {
            let ends = outcome.exploration().into_iter().flat_map(|e| &e.whole.all);
            let open = ends.filter_map(|end| end.verdict.as_ref());
            let known = match outcome {
                Outcome::Known(verdict) => Some(verdict),
                _ => None,
            };
            known.into_iter().chain(open).map(|verdict| (*at, verdict))
        })
    }

    /// The rules whose verdict rests on what parts cost, by their place: a measure by its number
    /// and the price of the whole list, any other rule by all that it asked.
    pub(crate) fn resting_on_prices(&self) -> std::collections::BTreeSet<u16> {
        self.with_view(|view, _| {
            let asks = |verdict: &Verdict| {
                let mut exprs = verdict.path.iter().flat_map(|step| step.ask.exprs());
                exprs.any(|e| view.pool.rests_on_prices(e, true))
            };
            let rests = |verdict: &Verdict| match verdict.value {
                Some(value) => view.pool.rests_on_prices(value, false),
                None => asks(verdict),
            };
            let known = self.verdicts().filter_map(|(at, verdict)| Some((at, verdict?)));
            known.filter(|(_, verdict)| rests(verdict)).map(|(at, _)| at).collect()
        })
    }

    /// Ids of the rules with a finding at a level or above that nobody signed off.
    pub(crate) fn stops(&self, level: Level) -> Vec<String> {
        let mut rules: Vec<String> = self
            .briefs()
            .into_iter()
            .filter(|b| !b.waived && b.level >= level)
            .map(|b| b.rule.to_string())
            .collect();
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
        self.all_waivers().any(|w| w.rule == rule)
    }

    /// Rules that failed, and files that could not be read as rules.
    pub fn broken(&self) -> Vec<BrokenRule> {
        let failed = self.failed().map(|(rule, problem)| BrokenRule::new(rule, problem));
        self.rules.broken.iter().cloned().map(BrokenRule::from).chain(failed).collect()
    }

    /// Rules that wait for an open line: the rule's id and the kind it waits for.
    pub fn waiting(&self) -> Vec<(String, String)> {
        self.outcomes()
            .filter_map(|(rule, o)| match o {
                Outcome::Waits(Lack::Open(kind, _)) => Some((
                    rule.id.to_string(),
                    self.build
                        .catalogue
                        .kind(*kind)
                        .map_or_else(String::new, |k| k.name.to_string()),
                )),
                _ => None,
            })
            .collect()
    }

    /// What is odd about waivers, the build's and the shop's: expired, unused, or for a rule that
    /// does not exist.
    pub fn waiver_problems(&self) -> Vec<Problem> {
        if self.all_waivers().next().is_none() {
            return Vec::new();
        }
        let known = self
            .outcomes()
            .filter(|(_, o)| matches!(o, Outcome::Known(_) | Outcome::Explored(_)))
            .map(|(r, _)| &*r.id)
            .collect();
        let ids = self.rules.rules.iter().map(|r| &*r.id).collect();
        waivers::problems(
            &self.build,
            &self.waivers,
            &self.findings(),
            &waivers::Rules { ids, known },
        )
    }

    /// What this shop decided of single rules, in order of rule.
    #[doc(hidden)]
    pub fn decided(&self) -> Vec<(String, RuleChoice)> {
        let mut decided: Vec<_> = self
            .runner
            .host
            .state
            .borrow()
            .settings
            .choices
            .iter()
            .map(|(id, choice)| (id.clone(), choice.clone()))
            .collect();
        decided.sort_by(|a, b| a.0.cmp(&b.0));
        decided
    }

    /// What is odd in the rules' scripts and still runs; what broke on the same line has said it
    /// better.
    pub fn warnings(&self) -> Vec<Problem> {
        if self.rules.warnings.is_empty() {
            return Vec::new();
        }
        let place = |p: &Problem| {
            p.labels
                .first()
                .map(|l| (l.source.name.clone(), l.source.line_column(l.span.start()).0))
        };
        let broken: Vec<_> = self.broken().iter().map(|b| place(&b.problem)).collect();
        self.rules.warnings.iter().filter(|w| !broken.contains(&place(w))).cloned().collect()
    }

    /// The rule of a finding, and the finding as its script raised it.
    pub(super) fn raised(&self, finding: &Finding) -> Option<(u16, Draft, Rc<Verdict>)> {
        let rule = self.rules.find(&finding.rule)?;
        let (_, outcome) = self.outcomes.iter().find(|(at, _)| *at == rule)?;
        let mut found = outcome.found();
        found.find_map(|(draft, verdict, _)| {
            let words = self.with_view(|view, names| fill(view, names, draft));
            (words == finding.message).then(|| (rule, draft.clone(), verdict.clone()))
        })
    }

    /// What a rule may say, in words.
    pub(super) fn worded(&self, rule: &Rule, saying: &Saying) -> Finding {
        let words = words_of(rule);
        match saying.draft() {
            Some(draft) => {
                self.with_view(|view, names| finding(view, names, &words, draft, &saying.verdict))
            }
            None => Finding::unsaid(&rule.id, Level::Advice),
        }
    }

    /// Whether a waiver, the build's own or the shop's, signs a finding off.
    pub(super) fn is_waived(&self, finding: &Finding) -> bool {
        let mut all = self.all_waivers();
        all.any(|w| waivers::covers(w, finding, self.build.build.priced_on))
    }

    /// The exit code of the verdict: 0, 1 when something stops the build, 2 when a rule is broken,
    /// 3 when facts that nobody said decide.
    pub fn exit_code(&self) -> u8 {
        self.ruling().code()
    }

    /// 0 when no finding stops the build, 1 when one does, 2 when a rule is broken.
    pub(super) fn exit_code_of_findings(&self) -> u8 {
        if !self.rules.broken.is_empty()
            || self.outcomes.iter().any(|(_, o)| matches!(o, Outcome::Broken(_)))
        {
            2
        } else {
            u8::from(self.worst() == Some(Level::Stop))
        }
    }
}

/// What a finding says of its rule.
fn words_of(rule: &Rule) -> RuleWords<'_> {
    RuleWords {
        id: &rule.id,
        title: &rule.title,
        remedy: &rule.remedy,
        basis: &rule.basis,
        level: rule.counts_as,
    }
}
