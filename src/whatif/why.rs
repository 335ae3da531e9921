//! Why a rule says what it says: the questions it asked, the values it read, and which parts would
//! turn it.

mod turns;

use std::sync::Arc;

use crate::audit::ask::{Answer, Ask, Step};
use crate::audit::eval::View;
use crate::audit::expr::ExprId;
use crate::audit::finding::Finding;
use crate::audit::place::{self, Spot, spots};
use crate::audit::wording::{self, Names};
use crate::kit::{Kit, Outcome};
use crate::rules::loader::BrokenRule;
use crate::source::{Label, Problem};
use crate::whatif::trial::Snapshot;
use crate::words::{clip, some_of};

use turns::turns;
pub use turns::{Choice, MOST_SHOWN, MOST_TIME, MOST_TRIED, Turn, price};

/// Why a rule says what it says.
#[derive(Debug, Clone)]
pub struct Why {
    /// The rule's id.
    pub rule: String,
    /// What it checks.
    pub title: String,
    /// Where it is written.
    pub written: String,
    /// Where the knowledge comes from.
    pub basis: String,
    /// What it said.
    pub said: Said,
    /// The questions in the order asked.
    pub steps: Vec<Question>,
    /// What a measure's number is made of: the formula and the values not read before.
    pub formula: Option<(String, Vec<Read>)>,
    /// By how much the last comparison of numbers was decided, and its unit.
    pub margin: Option<(f64, String)>,
    /// Lines of the build with the parts that would turn it.
    pub turns: Vec<Turn>,
    /// How many parts were tried, and whether that was all of them.
    pub tried: (usize, bool),
}

/// What a rule said.
#[derive(Debug, Clone)]
pub enum Said {
    /// It found something.
    Found(Vec<Finding>),
    /// It found nothing.
    Silent,
    /// The number of a measure with its unit; none where it does not apply.
    Number(Option<f64>, Arc<str>),
    /// It waits for an open line of this kind.
    Waits(String),
    /// It is switched off, and why.
    Off(String),
    /// It failed.
    Broken(Box<Problem>),
}

/// A question that a rule asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What was asked.
    pub test: Test,
    /// Whether the answer was yes; of no meaning for a question that is not answered so.
    pub yes: bool,
    /// The measure in which it was asked.
    pub measure: Option<String>,
    /// Where in a script it was asked, `file:line`.
    pub script: String,
    /// Values read for it that no question before it had read.
    pub reads: Vec<Read>,
    /// Whether a finding was raised on its answer.
    pub decides: bool,
}

/// What a rule asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Test {
    /// Whether there is a line of a kind, by its number from 1.
    Has(String, u16),
    /// Whether the part of a line is chosen.
    Chosen(String),
    /// How many lines of a kind there are.
    Lines(String, usize),
    /// Whether a value is given.
    Present(String),
    /// Whether a value is true.
    Truth(String),
    /// Whether one number is below another.
    Less(Operand, Operand),
    /// Whether one number is below another or equal to it.
    LessEqual(Operand, Operand),
    /// Whether two values are equal.
    Equal(Operand, Operand),
    /// Whether a list holds a word.
    Contains(Operand, Operand),
    /// How many entries a list has.
    Entries(String, u32),
    /// An assignment, and how many pieces have a place.
    Placed(String, usize),
    /// What a value is.
    Value(Operand),
}

/// One side of a comparison.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Operand {
    /// The formula; none for what a script wrote as it is.
    pub name: Option<String>,
    /// Its value with its unit.
    pub value: String,
}

/// A value that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    /// Its name.
    pub place: String,
    /// Its value in words.
    pub value: String,
    /// Where it is written, `file:line`; empty for what is not written anywhere.
    pub at: String,
}

/// The rule that a user means: its id, or its second half where only one has it.
/// Errors: there is none or more than one; the message names the likely ones.
pub fn rule_named(kit: &Kit, name: &str) -> Result<u16, Problem> {
    let rules = kit.rules();
    if let Some(at) = rules.find(name) {
        return Ok(at);
    }
    let fits: Vec<(u16, &str)> = rules
        .rules
        .iter()
        .zip(0u16..)
        .filter(|(r, _)| r.function == name)
        .map(|(r, at)| (at, &*r.id))
        .collect();
    match fits.as_slice() {
        [(at, _)] => return Ok(*at),
        [] => {}
        several => {
            return Err(Problem::new(format!("several rules are called `{name}`"))
                .help(format!("say which: {}", some_of(several.iter().map(|(_, id)| *id), 12))));
        }
    }
    let problem = Problem::new(format!("there is no rule or measure `{}`", clip(name, 60)));
    let same_file: Vec<&str> =
        rules.rules.iter().filter(|r| *r.file == *name).map(|r| &*r.id).collect();
    if !same_file.is_empty() {
        return Err(problem.help(format!("rules of {name}: {}", some_of(same_file, 24))));
    }
    let names = rules.rules.iter().flat_map(|r| [&*r.id, r.function.as_str()]);
    Err(problem.help("`measures` and Tab after `why` show what there is").suggest(name, names))
}

/// Says why a rule says what it says of a build.
pub fn why(kit: &Kit, now: &Snapshot, rule: u16) -> Why {
    let rules = kit.rules();
    let words = rules.rules.get(rule as usize);
    let file = words.and_then(|r| rules.files.get(r.file_at as usize));
    let id = words.map_or_else(String::new, |r| r.id.to_string());
    let outcome = now.audit.outcomes().find(|(r, _)| *r.id == *id).map(|(_, o)| o.clone());
    let mut why = Why {
        title: words.map_or_else(String::new, |r| r.title.to_string()),
        written: file.zip(words).map_or_else(String::new, |(f, r)| {
            format!("{}:{}", f.source.name, f.source.line_column(r.span().start()).0)
        }),
        basis: words.map_or_else(String::new, |r| r.basis.clone()),
        said: said(kit, now, &id, outcome.as_ref()),
        steps: Vec::new(),
        formula: None,
        margin: None,
        turns: Vec::new(),
        tried: (0, true),
        rule: id,
    };
    if let Some(verdict) = outcome.as_ref().and_then(|o| o.verdict()) {
        let deciding: Vec<usize> = verdict
            .drafts
            .iter()
            .filter_map(|d| verdict.path.get(..d.asked)?.iter().rposition(|s| s.ask.compares()))
            .collect();
        let files: Vec<String> = rules.files.iter().map(|f| f.source.name.clone()).collect();
        let mut touched = Vec::new();
        now.audit.with_view(|view, names| {
            let mut seen = Vec::new();
            why.steps =
                steps(view, names, &files, &verdict.path, &deciding, &mut touched, &mut seen);
            why.formula = verdict.value.map(|id| {
                let mut found = Vec::new();
                spots(view, id, &mut found);
                (wording::expression(view, names, id), reads(view, found, &mut seen))
            });
            let last = deciding.last().copied().or_else(|| {
                verdict
                    .path
                    .iter()
                    .rposition(|s| matches!(s.ask, Ask::Less(..) | Ask::LessEqual(..)))
            });
            why.margin =
                last.and_then(|at| verdict.path.get(at)).and_then(|s| margin(view, names, s));
        });
        if matches!(why.said, Said::Found(_) | Said::Silent) {
            turns(kit, now, rule, &touched, &mut why);
        }
    }
    why
}

fn said(kit: &Kit, now: &Snapshot, id: &str, outcome: Option<&Outcome>) -> Said {
    match outcome {
        None => {
            Said::Off(kit.settings().choices.get(id).map_or_else(String::new, |c| c.reason.clone()))
        }
        Some(Outcome::Broken(problem)) => {
            let broken = BrokenRule { rule: Some(id.into()), problem: (**problem).clone() };
            Said::Broken(Box::new(broken.told()))
        }
        Some(Outcome::Waits(lack)) => Said::Waits(lack.waits_for(now.audit.build())),
        Some(Outcome::Known(_) | Outcome::Explored(_)) => {
            if let Some(measure) = now.measures.iter().find(|m| *m.id == *id) {
                return Said::Number(measure.value, measure.unit.clone());
            }
            let found: Vec<Finding> =
                now.audit.findings().into_iter().filter(|f| f.rule == id).collect();
            if found.is_empty() { Said::Silent } else { Said::Found(found) }
        }
    }
}

fn steps(
    view: View<'_>,
    names: &dyn Names,
    files: &[String],
    path: &[Step],
    deciding: &[usize],
    touched: &mut Vec<usize>,
    seen: &mut Vec<String>,
) -> Vec<Question> {
    let mut out = Vec::with_capacity(path.len());
    for (at, step) in path.iter().enumerate() {
        let mut found = Vec::new();
        step.ask.exprs().for_each(|e| spots(view, e, &mut found));
        if let Ask::Has(kind, nth) = &step.ask {
            found.push(Spot {
                label: place::build_line(view, *kind, *nth),
                place: place::slot_name(view, *kind, *nth),
                line: None,
            });
            touched.extend(view.build.slot(*kind, *nth).map(|s| s.line));
        }
        touched.extend(
            found
                .iter()
                .filter_map(|s| s.line)
                .filter_map(|(kind, nth)| view.build.slot(kind, nth))
                .map(|s| s.line),
        );
        let script = match (files.get(step.pos.file as usize), step.pos.line) {
            (Some(file), line) if line > 0 => format!("{file}:{line}"),
            _ => String::new(),
        };
        // That a part is chosen goes without saying; only its being open is worth a word.
        if matches!(step.ask, Ask::Chosen(..)) && step.answer == Answer::Bool(true) {
            continue;
        }
        let measure = step.measure.and_then(|m| names.measure(m)).map(|(id, _)| id.to_owned());
        out.push(Question {
            test: test(view, names, step),
            yes: step.answer == Answer::Bool(true),
            measure,
            script,
            reads: reads(view, found, seen),
            decides: deciding.contains(&at),
        });
    }
    out
}

/// The values at places that were not read before.
fn reads(view: View<'_>, found: Vec<Spot>, seen: &mut Vec<String>) -> Vec<Read> {
    let mut reads = Vec::new();
    for spot in found {
        if !seen.contains(&spot.place) {
            reads.push(Read {
                value: read_value(view, &spot),
                at: spot.label.as_ref().map_or_else(String::new, at_line),
                place: spot.place.clone(),
            });
            seen.push(spot.place);
        }
    }
    reads
}

fn at_line(label: &Label) -> String {
    format!("{}:{}", label.source.name, label.source.line_column(label.span.start()).0)
}

/// What stands at a place, as its file has it.
fn read_value(view: View<'_>, spot: &Spot) -> String {
    let Some(label) = &spot.label else { return "not there".to_owned() };
    if let Some((kind, nth)) = spot.line
        && label.span
            == view
                .build
                .slot(kind, nth)
                .and_then(|s| s.part.as_ref())
                .map_or_else(Default::default, |p| p.head)
    {
        return "left out".to_owned();
    }
    if label.text.is_empty() { place::written(label) } else { label.text.clone() }
}

fn test(view: View<'_>, names: &dyn Names, step: &Step) -> Test {
    let name = |id: ExprId| wording::expression(view, names, id);
    let operand = |id: ExprId| {
        let (name, value) = (name(id), wording::value(view, names, id, None));
        let bare = name.trim_matches('"');
        let constant = bare.parse::<f64>().is_ok() || bare == value;
        Operand { name: (!constant).then_some(name), value }
    };
    match &step.ask {
        Ask::Has(kind, nth) => Test::Has(place::kind_name(view, *kind).to_string(), *nth + 1),
        Ask::Chosen(kind, nth) => Test::Chosen(place::slot_name(view, *kind, *nth)),
        Ask::Lines(kind) => {
            Test::Lines(place::kind_name(view, *kind).to_string(), view.build.slots(*kind).len())
        }
        Ask::Present(e) => Test::Present(name(*e)),
        Ask::Truth(e) => Test::Truth(name(*e)),
        Ask::Less(a, b) => Test::Less(operand(*a), operand(*b)),
        Ask::LessEqual(a, b) => Test::LessEqual(operand(*a), operand(*b)),
        Ask::Equal(a, b) => Test::Equal(operand(*a), operand(*b)),
        Ask::Contains(list, item) => Test::Contains(operand(*list), operand(*item)),
        Ask::Len(e) => match &step.answer {
            Answer::Count(n) => Test::Entries(name(*e), *n),
            _ => Test::Entries(name(*e), 0),
        },
        Ask::Value(e) => Test::Value(Operand {
            name: Some(name(*e)),
            value: wording::value(view, names, *e, None),
        }),
        Ask::Assigned(e) => {
            let placed = match &step.answer {
                Answer::Places(given) => given.iter().map(|ways| ways.len()).sum(),
                _ => 0,
            };
            Test::Placed(name(*e), placed)
        }
    }
}

fn margin(view: View<'_>, names: &dyn Names, step: &Step) -> Option<(f64, String)> {
    let (Ask::Less(a, b) | Ask::LessEqual(a, b)) = &step.ask else { return None };
    let (x, y) = (view.number(*a).ok()?, view.number(*b).ok()?);
    let unit = [*a, *b]
        .map(|id| wording::unit(view, names, id))
        .into_iter()
        .find(|u| !u.is_empty())
        .unwrap_or_default();
    Some(((x - y).abs(), unit.to_owned()))
}
