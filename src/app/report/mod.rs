//! What people see: one stream of findings, several presenters.

pub mod brief;
pub mod escape;
mod excerpt;
pub mod glance;
pub mod json;
pub mod markdown;
pub mod plain;
pub mod reference;
pub mod sarif;
pub mod sheet;
pub mod style;
pub mod terminal;
pub mod unsettled;

use std::io;
use std::sync::Arc;

use jiff::civil::Date;

use crate::app::counted::count;
use crate::audit::finding::Finding;
use crate::build::What;
use crate::build::fields::build_field;
use crate::catalogue::value::Val;
use crate::kit::{Audit, Cause, Measure, OpenRule, Question, Ruling, causes};
use crate::level::Level;
use crate::rules::loader::{BrokenRule, RuleSet, Taken};
use crate::settings::RuleChoice;
use crate::source::{Problem, Problems};
use crate::whatif::open_lines::Choice;
use crate::words::some_of;

/// What came of one build file.
#[derive(Debug, Clone)]
pub struct Report {
    /// The file as the user named it.
    pub file: String,
    /// What the rules say, or why nothing can be said.
    pub outcome: Result<Box<Audited>, Arc<Problems>>,
}

/// What the rules say of a build, with nothing left to work out: it may go from one thread to
/// another.
#[derive(Debug, Clone)]
pub struct Audited {
    /// What the job is called.
    pub title: String,
    /// Offers count as of this day.
    pub priced_on: Date,
    /// Currency of every amount.
    pub currency: Arc<str>,
    /// Price of what has an offer.
    pub total: f64,
    /// What it may cost.
    pub budget: Option<f64>,
    /// Lines without an offer.
    pub unpriced: usize,
    /// Kinds of the lines left open.
    pub open: Vec<String>,
    /// What stands on lines that were left open; the verdict is of the build with these in place.
    pub chosen: Vec<Choice>,
    /// Why other lines stay open.
    pub left: Vec<Problem>,
    /// Findings, the worst first, the waived ones last; the same said twice is one.
    pub findings: Vec<Merged>,
    /// Advice for the bench that only the sheet shows.
    pub bench: Vec<Merged>,
    /// What is at fault, with the places of its stops among the findings; empty unless asked for.
    pub causes: Vec<Cause>,
    /// Measures.
    pub measures: Vec<Measure>,
    /// Rules that wait for an open line, and for which kind.
    pub waiting: Vec<(String, String)>,
    /// Broken rules.
    pub broken: Vec<BrokenRule>,
    /// What is odd about waivers; each counts as a caution.
    pub waivers: Vec<Problem>,
    /// What the shop decided of single rules.
    pub decided: Vec<(String, RuleChoice)>,
    /// Which rules are not those of the lowest layer.
    pub layered: Layered,
    /// What is odd in the rules' scripts and still runs.
    pub warnings: Vec<Problem>,
    /// Rules that facts decide which nobody said.
    pub open_rules: Vec<OpenRule>,
    /// The facts to look up, those that decide most first.
    pub questions: Vec<Question>,
    /// Stops that are ruled out where parts are as usual: rule and message.
    pub off: Vec<(String, String)>,
    /// The verdict.
    pub ruling: Ruling,
    /// 0, 1, 2 or 3.
    pub code: u8,
}

/// A finding, with how often the rule raised it in the same words.
#[derive(Debug, Clone)]
pub struct Merged {
    /// The finding, with the pointers of all.
    pub finding: Finding,
    /// How often.
    pub times: usize,
}

/// What a reader wants to see of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wishes {
    /// Every finding in full, every waiting rule by name.
    pub all: bool,
    /// Every measure.
    pub measures: bool,
    /// The reader is at the prompt, where commands need no list.
    pub prompt: bool,
}

/// One way of showing reports.
pub trait Presenter {
    /// Writes them, in the order given. What is wrong with the input goes to `aside` where the
    /// format has no place for it.
    ///
    /// # Errors
    /// What writing says.
    fn present(
        &self,
        reports: &[Report],
        out: &mut dyn io::Write,
        aside: &mut dyn io::Write,
    ) -> io::Result<()>;
}

impl Report {
    /// The file's name without folder and ending.
    pub fn name(&self) -> &str {
        let name = self.file.rsplit(['/', '\\']).next().unwrap_or(&self.file);
        name.strip_suffix(".toml").unwrap_or(name)
    }

    /// 0 when nothing stops the build, 1 when something does, 2 when the input or a rule is broken.
    pub fn code(&self) -> u8 {
        self.outcome.as_ref().map_or(2, |a| a.code)
    }
}

impl Audited {
    /// Takes from an audit all that a presenter shows.
    pub fn new(audit: &Audit) -> Self {
        let resolved = audit.build();
        let build = &resolved.build;
        let catalogue = &resolved.catalogue;
        let open = build.lines.iter().filter(|l| matches!(l.what, What::Open { .. }));
        Self {
            title: build.title().to_owned(),
            priced_on: build.priced_on,
            currency: build.currency.clone(),
            total: resolved.total(),
            budget: build_field("budget")
                .and_then(|at| build.values.get(at as usize))
                .and_then(Val::as_num),
            unpriced: resolved.unpriced() as usize,
            open: open
                .filter_map(|l| catalogue.kind(l.kind()))
                .map(|k| k.name.to_string())
                .collect(),
            chosen: Vec::new(),
            left: Vec::new(),
            findings: merge(audit.findings()).0,
            causes: Vec::new(),
            bench: merge(audit.sheet_findings()).0,
            measures: audit.measures(),
            waiting: audit.waiting(),
            broken: audit.broken(),
            waivers: audit.waiver_problems(),
            decided: audit.decided(),
            layered: Layered::of(&audit.rule_set()),
            warnings: audit.warnings(),
            open_rules: audit.open_rules(),
            questions: audit.questions(),
            off: audit.off(),
            ruling: audit.ruling(),
            code: audit.exit_code(),
        }
    }

    /// The same with what is at fault, which takes longer to find than the findings do.
    pub fn with_causes(audit: &Audit) -> Self {
        let found = audit.findings();
        let mut causes = causes(audit, &found);
        let (_, places) = merge(found);
        for cause in &mut causes {
            cause.findings =
                cause.findings.iter().filter_map(|at| places.get(*at).copied()).collect();
            cause.findings.dedup();
        }
        Self { causes, ..Self::new(audit) }
    }

    /// Findings in force at a level.
    pub fn at(&self, level: Level) -> impl Iterator<Item = &Merged> {
        self.findings.iter().filter(move |m| m.finding.level == level && m.finding.waived.is_none())
    }

    /// Findings that are signed off.
    pub fn waived(&self) -> impl Iterator<Item = &Merged> {
        self.findings.iter().filter(|m| m.finding.waived.is_some())
    }

    /// One word for all of it: `broken`, `stop`, `caution` or `clear`.
    pub fn verdict(&self) -> &'static str {
        match self.code {
            2 => "broken",
            3 => "open",
            1 => "stop",
            _ if self.at(Level::Caution).next().is_some() || !self.waivers.is_empty() => "caution",
            _ => "clear",
        }
    }

    /// What the shop decided of single rules and which are its own, a sentence each.
    pub fn decisions(&self) -> Vec<String> {
        let decided = self.decided.iter().map(|(id, choice)| format!("{id} {}", choice.words()));
        decided.chain(self.layered.words()).collect()
    }

    /// An amount with its currency.
    pub fn money(&self, amount: f64) -> String {
        crate::audit::wording::figure(amount, "money", &self.currency)
    }
}

/// Rules of a shop's own: those that come beside the lower layers', those in the place of one, and
/// whole files that give way.
#[derive(Debug, Clone, Default)]
pub struct Layered {
    /// Rules that no lower layer has: id and layer.
    pub added: Vec<(Arc<str>, String)>,
    /// Rules in the place of a lower layer's of the same id: id, layer, lower layer.
    pub replaced: Vec<(Arc<str>, String, String)>,
    /// Whole files that give way to a layer's.
    pub taken: Vec<Taken>,
}

/// Most rules that are named in one sentence.
const MOST_NAMED: usize = 12;

impl Layered {
    /// Looks a rule set through.
    pub fn of(rules: &RuleSet) -> Self {
        let mut layered = Self { taken: rules.taken.clone(), ..Self::default() };
        for rule in rules.added() {
            match &rule.over {
                None => layered.added.push((rule.id.clone(), rule.layer.clone())),
                Some(over) => {
                    layered.replaced.push((rule.id.clone(), rule.layer.clone(), over.layer.clone()))
                }
            }
        }
        layered
    }

    /// A sentence each, to stand after "Here".
    fn words(&self) -> Vec<String> {
        let mut words = Vec::new();
        let mut layers: Vec<&str> = self.added.iter().map(|(_, layer)| layer.as_str()).collect();
        layers.sort_unstable();
        layers.dedup();
        for layer in layers {
            let own = self.added.iter().filter(|(_, l)| l == layer);
            let ids: Vec<&str> = own.map(|(id, _)| &**id).collect();
            let number = count(ids.len(), "rule");
            words.push(format!("{layer} adds {number}: {}", some_of(ids, MOST_NAMED)));
        }
        for (id, layer, over) in &self.replaced {
            words.push(format!("{id} is the rule of {layer}, in place of the {over} one"));
        }
        for taken in &self.taken {
            words.push(format!(
                "{} takes the place of the whole {} file {}: {}",
                taken.layer, taken.over, taken.file, taken.reason
            ));
        }
        words
    }
}

/// Joins findings that say the same, keeping the order; with the place that each has come to.
fn merge(findings: Vec<Finding>) -> (Vec<Merged>, Vec<usize>) {
    let mut merged: Vec<Merged> = Vec::with_capacity(findings.len());
    let mut places = Vec::with_capacity(findings.len());
    for finding in findings {
        let same = |m: &Merged| {
            m.finding.rule == finding.rule
                && m.finding.level == finding.level
                && m.finding.message == finding.message
                && m.finding.waived.is_some() == finding.waived.is_some()
        };
        let Some((at, held)) = merged.iter_mut().enumerate().find(|(_, m)| same(m)) else {
            places.push(merged.len());
            merged.push(Merged { finding, times: 1 });
            continue;
        };
        places.push(at);
        held.times += 1;
        for pointer in finding.pointers {
            if !held.finding.pointers.iter().any(|p| p.place == pointer.place) {
                held.finding.pointers.push(pointer);
            }
        }
        for subject in finding.subjects {
            if !held.finding.subjects.contains(&subject) {
                held.finding.subjects.push(subject);
            }
        }
    }
    (merged, places)
}

/// The code for all: the first of 2, 1, 3 and 0 that one of them has.
pub fn code(reports: &[Report]) -> u8 {
    let has = |code: u8| reports.iter().any(|report| report.code() == code);
    [2, 1, 3].into_iter().find(|code| has(*code)).unwrap_or(0)
}
