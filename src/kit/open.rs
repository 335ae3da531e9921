//! What is not settled: rules that facts decide which nobody said, and the facts to look up.

use std::collections::BTreeMap;

use crate::audit::domain;
use crate::audit::explore::Ends;
use crate::audit::expr::ExprId;
use crate::audit::finding::{Finding, Settled};
use crate::audit::interval::Hull;
use crate::build::lack::Fact;
use crate::catalogue::kinds::{Usual, UsualValue};
use crate::catalogue::value::Val;
use crate::kit::audit::Audit;
use crate::kit::explored::{Explored, Saying, same_finding};
use crate::level::Level;
use crate::rules::loader::Rule;

/// What may be said of a build, the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ruling {
    /// The input or a rule is broken.
    Broken,
    /// Something stops it, whatever is not known.
    Stop,
    /// Something may stop it, and a fact that nobody said decides.
    Open,
    /// Nothing stops it; it has a cost the customer should know.
    Care,
    /// Nothing speaks against it.
    Build,
}

impl Ruling {
    /// The word for people, the same everywhere.
    pub fn words(self) -> &'static str {
        self.said().0
    }

    /// The word for programs.
    pub fn key(self) -> &'static str {
        self.said().1
    }

    /// The exit code: 2, 1, 3, 0, 0.
    pub fn code(self) -> u8 {
        self.said().2
    }

    fn said(self) -> (&'static str, &'static str, u8) {
        match self {
            Self::Broken => ("no verdict", "broken", 2),
            Self::Stop => ("do not build", "stop", 1),
            Self::Open => ("not settled", "open", 3),
            Self::Care => ("build with care", "care", 0),
            Self::Build => ("build", "build", 0),
        }
    }
}

/// A rule that is not settled.
#[derive(Debug, Clone)]
pub struct OpenRule {
    /// The rule's id.
    pub rule: String,
    /// What it checks.
    pub title: String,
    /// The worst it may come to.
    pub level: Level,
    /// What it may find, in words; none where it waits for a fact before it says anything.
    pub message: Option<String>,
    /// Whether it holds where the facts are what they commonly are.
    pub as_usual: bool,
    /// Whether a waiver signs it off.
    pub waived: bool,
    /// The facts that decide it.
    pub facts: Vec<Fact>,
    /// Those among them that matter only once another of the same part is known, and which.
    pub(crate) after: BTreeMap<Fact, Fact>,
}

impl OpenRule {
    /// What it may find; where it waits before it says anything, what it checks.
    pub fn words(&self) -> &str {
        self.message.as_deref().unwrap_or(&self.title)
    }
}

/// A fact to look up.
#[derive(Debug, Clone)]
pub struct Question {
    /// Its name as people type it.
    pub place: String,
    /// The part's name.
    pub part: String,
    /// The part's id.
    pub part_id: String,
    /// The field's word.
    pub field: String,
    /// Its unit; empty when it has none.
    pub unit: String,
    /// What it means.
    pub meaning: String,
    /// What it commonly is, in words, and where that comes from.
    pub usual: Option<(String, String)>,
    /// The fact that is asked before: whether this one matters depends on it.
    pub after: Option<String>,
    /// What it decides, the worst first.
    pub decides: Vec<Decides>,
}

/// What a fact decides.
#[derive(Debug, Clone)]
pub struct Decides {
    /// The rule's id.
    pub rule: String,
    /// The worst it may come to.
    pub level: Level,
    /// Which values let the rule pass; none where other facts decide with it.
    pub fits: Option<Fits>,
}

/// The values with which a rule passes.
#[derive(Debug, Clone, PartialEq)]
pub enum Fits {
    /// Numbers from the first to the second, where they are limits.
    Between(Option<f64>, Option<f64>),
    /// One of these.
    Words(Vec<String>),
}

impl Audit {
    /// The verdict.
    pub fn ruling(&self) -> Ruling {
        let worst = match self.exit_code_of_findings() {
            2 => return Ruling::Broken,
            1 => return Ruling::Stop,
            _ => self.worst(),
        };
        let open = self.open_rules();
        let may = |level: Level| open.iter().any(|o| !o.waived && o.level >= level);
        if may(Level::Stop) {
            Ruling::Open
        } else if worst >= Some(Level::Caution) || may(Level::Caution) || !self.off().is_empty() {
            Ruling::Care
        } else {
            Ruling::Build
        }
    }

    /// How many facts are to be looked up before the verdict is settled; none where it is.
    pub fn to_look_up(&self) -> usize {
        if !self.is_wholly_known() && self.ruling() == Ruling::Open {
            asked_first(&self.questions())
        } else {
            0
        }
    }

    /// Rules that facts decide which nobody said, the worst first, then in order of rule.
    pub fn open_rules(&self) -> Vec<OpenRule> {
        let mut open: Vec<OpenRule> = Vec::new();
        if self.is_wholly_known() {
            return open;
        }
        for (rule, explored) in self.explorations() {
            let says: Vec<&Saying> =
                explored.says.iter().filter(|s| is_open(s) && s.draft().is_some()).collect();
            let level = |s: &Saying| {
                rule.counts_as.or_else(|| s.draft().map(|d| d.level)).unwrap_or(Level::Advice)
            };
            for saying in &says {
                let finding = self.worded(rule, saying);
                let whole = saying.settled == Some(Settled::Usual);
                open.push(OpenRule {
                    rule: rule.id.to_string(),
                    title: rule.title.to_string(),
                    level: level(saying),
                    as_usual: whole,
                    waived: self.is_waived(&finding),
                    message: Some(finding.message),
                    facts: self.deciding(explored, whole),
                    after: explored.ends(whole).after.clone(),
                });
            }
            let waits = !explored.usual.is_whole();
            let known = says.iter().map(|s| level(s)).max();
            let worst = rule.counts_as.or_else(|| rule.levels().iter().max().copied());
            if waits && worst > known && rule.unit.is_none() {
                open.push(self.waiting_rule(rule, explored, worst.unwrap_or(Level::Advice)));
            }
        }
        open.sort_by(|a, b| b.level.cmp(&a.level).then_with(|| a.rule.cmp(&b.rule)));
        open
    }

    /// How often each rule is left open by facts that nobody said of the parts on some lines, with
    /// the worst it may come to: stops and cautions that nobody signed off. What is open through
    /// other parts alone is none of theirs.
    pub(crate) fn open_tally(
        &self,
        of: impl Fn(usize) -> bool,
    ) -> BTreeMap<(String, Level), usize> {
        let mut tally = BTreeMap::new();
        for open in self.open_rules() {
            let theirs = |fact: &Fact| {
                self.build.slot(fact.kind, fact.nth).is_some_and(|slot| of(slot.line))
            };
            if !open.waived && open.level > Level::Advice && open.facts.iter().any(theirs) {
                *tally.entry((open.rule, open.level)).or_default() += 1;
            }
        }
        tally
    }

    /// Rules that the parts on some lines leave open more often than in another audit, the worst
    /// first: rule and level.
    pub(crate) fn opened_since(
        &self,
        before: &BTreeMap<(String, Level), usize>,
        of: impl Fn(usize) -> bool,
    ) -> Vec<(String, Level)> {
        let fresh = self
            .open_tally(of)
            .into_iter()
            .filter(|(key, number)| before.get(key).is_none_or(|was| was < number));
        let mut opened: Vec<(String, Level)> = fresh.map(|(key, _)| key).collect();
        opened.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        opened
    }

    fn waiting_rule(&self, rule: &Rule, explored: &Explored, level: Level) -> OpenRule {
        let facts = self.deciding(explored, false);
        let subjects = facts.iter().filter_map(|fact| {
            let slot = self.build.slot(fact.kind, fact.nth)?;
            slot.part.as_ref().map(|part| part.id.to_string())
        });
        let finding = Finding { subjects: subjects.collect(), ..Finding::unsaid(&rule.id, level) };
        OpenRule {
            rule: rule.id.to_string(),
            title: rule.title.to_string(),
            level,
            message: None,
            as_usual: false,
            waived: self.is_waived(&finding),
            facts,
            after: explored.ends(false).after.clone(),
        }
    }

    /// Stops that are ruled out where facts are what they commonly are: rule and title.
    pub fn off(&self) -> Vec<(String, String)> {
        let mut off = Vec::new();
        for (rule, explored) in self.explorations() {
            let level = |s: &Saying| rule.counts_as.or_else(|| s.draft().map(|d| d.level));
            let ruled_out = explored.says.iter().filter(|s| s.settled.is_none());
            let stop = ruled_out.filter_map(level).any(|level| level == Level::Stop);
            // A rule that takes a fact as plain runs to its end with what is usual only.
            let worst = rule.counts_as.or_else(|| rule.levels().iter().max().copied());
            let assumed = !explored.whole.is_whole() && explored.usual.is_whole();
            let silent = explored.says.is_empty() && worst == Some(Level::Stop);
            if stop || assumed && silent {
                off.push((rule.id.to_string(), rule.title.to_string()));
            }
        }
        off
    }

    /// The facts to look up: those that another of their part decides on last, and of the others
    /// those first that decide most and worst. Only what could become a stop or a caution asks.
    pub fn questions(&self) -> Vec<Question> {
        let mut asked: BTreeMap<Fact, Vec<Decides>> = BTreeMap::new();
        let mut behind: BTreeMap<Fact, Vec<Option<Fact>>> = BTreeMap::new();
        for open in self.open_rules() {
            if open.waived || open.level < Level::Caution {
                continue;
            }
            for fact in &open.facts {
                behind.entry(*fact).or_default().push(open.after.get(fact).copied());
                let decides = asked.entry(*fact).or_default();
                if decides.iter().any(|d| d.rule == open.rule) {
                    continue;
                }
                decides.push(Decides {
                    rule: open.rule.clone(),
                    level: open.level,
                    fits: self.fits(&open, *fact),
                });
            }
        }
        // A fact waits for another where every rule that asks for it asks for the other before.
        let after = |fact: &Fact| {
            let before = behind.get(fact)?;
            let asked = |fact: &Option<Fact>| fact.filter(|fact| asked.contains_key(fact));
            before
                .iter()
                .all(|fact| asked(fact).is_some())
                .then(|| asked(before.first()?))
                .flatten()
        };
        let questions = asked.iter().map(|(fact, decides)| Question {
            after: after(fact).map(|fact| fact.place(&self.build)),
            ..self.question(*fact, decides.clone())
        });
        let mut questions: Vec<Question> = questions.collect();
        let stops = |q: &Question| q.decides.iter().filter(|d| d.level == Level::Stop).count();
        questions.sort_by(|a, b| {
            a.after
                .is_some()
                .cmp(&b.after.is_some())
                .then(stops(b).cmp(&stops(a)))
                .then(b.decides.len().cmp(&a.decides.len()))
                .then_with(|| a.place.cmp(&b.place))
        });
        questions
    }

    fn question(&self, fact: Fact, decides: Vec<Decides>) -> Question {
        let field = fact.schema(&self.build);
        let part = self.build.slot(fact.kind, fact.nth).and_then(|s| s.part.as_ref());
        let usual = field.and_then(|f| f.usual.as_ref().map(|usual| (f, usual)));
        let usual = usual.map(|(field, usual)| {
            let number = |name: &str| {
                let (at, _) = self.build.catalogue.kind(fact.kind)?.field(name)?;
                part?.values.get(at as usize)?.as_num()
            };
            let words = match usual.span(field, number) {
                Some((lo, hi)) => span_words(lo, hi, &field.unit),
                None => usual_words(usual, &field.unit),
            };
            (words, usual.basis.clone())
        });
        Question {
            place: fact.place(&self.build),
            part: fact.part(&self.build),
            part_id: part.map_or_else(String::new, |p| p.id.to_string()),
            field: field.map_or_else(String::new, |f| f.name.to_string()),
            unit: field.map_or_else(String::new, |f| f.unit.to_string()),
            meaning: field.map_or_else(String::new, |f| f.meaning.clone()),
            usual,
            after: None,
            decides,
        }
    }

    /// The facts that decide a rule: with everything as usual where that leaves something open,
    /// else with everything open.
    fn deciding(&self, explored: &Explored, whole: bool) -> Vec<Fact> {
        let ends = explored.ends(whole);
        self.with_view(|view, _| {
            let mut facts: Vec<Fact> = ends.waits.iter().copied().collect();
            for place in &ends.turned {
                for fact in domain::facts_of(view, *place) {
                    if !facts.contains(&fact) {
                        facts.push(fact);
                    }
                }
            }
            // With everything as usual, what is commonly one thing decides nothing.
            facts.retain(|fact| {
                let field = fact.schema(&self.build);
                let one = field.and_then(|f| f.usual.as_ref()?.single());
                field.is_some() && (whole || one.is_none())
            });
            // What is commonly so waits until nothing else is missing: known facts beside it often
            // settle the rule.
            let usual = |fact: &Fact| fact.schema(&self.build).is_some_and(|f| f.usual.is_some());
            if !whole && facts.iter().any(|fact| !usual(fact)) {
                facts.retain(|fact| !usual(fact));
            }
            // In an order that does not depend on what was met before.
            facts.sort_unstable();
            facts
        })
    }

    /// Which values of a fact let a rule pass, where it alone decides.
    fn fits(&self, open: &OpenRule, fact: Fact) -> Option<Fits> {
        if open.facts.len() != 1 {
            return None;
        }
        let (_, explored) = self.explorations().find(|(rule, _)| *rule.id == *open.rule)?;
        // Of a figure that the host works out the limits are not those of the fact under it.
        let is_fact =
            |place: &&ExprId| self.with_view(|view, _| domain::is_fact(view, **place, fact));
        let place = *explored.whole.turned.iter().find(is_fact)?;
        let says = explored.says.iter().find(|s| {
            is_open(s)
                && s.draft().is_some_and(|d| d.level == open.level || open.level == Level::Stop)
        })?;
        let draft = says.draft()?;
        passing(&explored.whole, place, |v| v.drafts.iter().any(|d| same_finding(d, draft)))
    }

    /// Whether no rule rests on a fact that nobody said.
    pub(crate) fn is_wholly_known(&self) -> bool {
        self.explorations().next().is_none()
    }

    fn explorations(&self) -> impl Iterator<Item = (&Rule, &Explored)> {
        self.outcomes().filter_map(|(rule, outcome)| Some((rule, outcome.exploration()?)))
    }
}

/// How many of some facts to look up wait for no other.
pub(crate) fn asked_first(questions: &[Question]) -> usize {
    questions.iter().filter(|question| question.after.is_none()).count()
}

/// What a field commonly is, in words.
pub(crate) fn usual_words(usual: &Usual, unit: &str) -> String {
    match &usual.what {
        UsualValue::Range(lo, hi) => span_words(*lo, *hi, unit),
        UsualValue::Value(Val::Absent) => "none".to_owned(),
        UsualValue::Value(value) => value.show(),
        UsualValue::Times(of, low, high) => format!("{low} to {high} times {of}"),
        UsualValue::Per(of, low, high) => format!("{low} to {high} divided by {of}"),
    }
}

fn span_words(lo: f64, hi: f64, unit: &str) -> String {
    if lo == hi { figure(lo, unit) } else { crate::audit::wording::range(lo, hi, unit, "") }
}

fn is_open(saying: &Saying) -> bool {
    let stop = saying.draft().is_some_and(|d| d.level == Level::Stop);
    match saying.settled {
        Some(Settled::Open) => true,
        Some(Settled::Usual) => stop,
        _ => false,
    }
}

fn figure(n: f64, unit: &str) -> String {
    crate::audit::wording::figure(n, unit, "")
}

/// The values of a place with which no way ends in a finding.
fn passing(
    ends: &Ends,
    place: ExprId,
    raised: impl Fn(&crate::audit::verdict::Verdict) -> bool,
) -> Option<Fits> {
    let mut pass: Vec<Hull> = Vec::new();
    let mut fail: Vec<Hull> = Vec::new();
    for end in &ends.all {
        let here = end.verdict.as_ref()?;
        let hull = end.domains.get(&place)?.clone();
        if raised(here) { fail.push(hull) } else { pass.push(hull) }
    }
    match pass.first()? {
        Hull::Num(_) => {
            let span = |hulls: &[Hull]| {
                hulls.iter().map(Hull::span).reduce(crate::audit::interval::Span::join)
            };
            let (pass, fail) = (span(&pass)?, span(&fail)?);
            let lo = (fail.hi <= pass.lo && fail.hi.is_finite()).then(|| tidy(pass.lo));
            let hi = (fail.lo >= pass.hi && fail.lo.is_finite()).then(|| tidy(pass.hi));
            (lo.is_some() || hi.is_some()).then_some(Fits::Between(lo, hi))
        }
        Hull::Vals(_) => {
            let words = |hulls: &[Hull]| -> Vec<String> {
                hulls
                    .iter()
                    .filter_map(|h| if let Hull::Vals(vals) = h { Some(vals) } else { None })
                    .flat_map(|vals| vals.iter().map(Val::show))
                    .collect()
            };
            let fail = words(&fail);
            let mut pass: Vec<String> =
                words(&pass).into_iter().filter(|w| !fail.contains(w)).collect();
            pass.dedup();
            (!pass.is_empty()).then_some(Fits::Words(pass))
        }
        Hull::Any => None,
    }
}

/// A limit without what rounding put on it.
fn tidy(n: f64) -> f64 {
    let size = 10f64.powf(9.0 - n.abs().max(1e-9).log10().ceil());
    let near = (n * size).round() / size;
    if (near - n).abs() <= n.abs() * 1e-11 { near } else { n }
}
