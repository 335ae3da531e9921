//! Findings in words: what a rule's draft becomes when somebody looks.

use std::sync::Arc;

use crate::audit::ask::{Answer, Ask, Step};
use crate::audit::eval::View;
use crate::audit::expr::{Expr, ExprId};
use crate::audit::message::Said;
use crate::audit::place::{self, Spot, handle_name, hole_spots, spots};
use crate::audit::verdict::{Draft, Hole, Verdict};
use crate::audit::wording::{self, Names};
use crate::build::Waiver;
use crate::build::fields::{BUILD_FIELDS, build_field};
use crate::catalogue::value::Val;
use crate::level::Level;
use crate::source::{Label, floor_boundary};

/// Most pointers a finding shows; the largest shares come first.
pub const MAX_POINTERS: usize = 8;

/// What a rule found.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Finding {
    /// The rule's id.
    pub rule: String,
    /// How bad it is, a shop's own choice included.
    pub level: Level,
    /// What the rule checks.
    pub title: String,
    /// What it found.
    pub message: String,
    /// The message as its rule writes it, with holes in braces, for other languages.
    pub template: Arc<str>,
    /// What fills the holes, in the order of the rule's map.
    pub values: Vec<Filled>,
    /// The very values that caused it.
    pub pointers: Vec<Pointer>,
    /// By how much, when a comparison of numbers decided it.
    pub margin: Option<Margin>,
    /// What would clear it.
    pub remedy: String,
    /// Where the knowledge comes from.
    pub basis: String,
    /// Ids of the parts it is about.
    pub subjects: Vec<String>,
    /// The waiver that signs it off.
    pub waived: Option<Waiver>,
    /// Whether it holds whatever the facts are that nobody said.
    pub settled: Settled,
}

/// How firmly a finding stands where some facts are not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Settled {
    /// It holds whatever they are.
    Certain,
    /// It holds where they are what they commonly are.
    Usual,
    /// It may hold or not.
    Open,
}

/// What fills a hole of a message.
#[derive(Debug, Clone)]
pub struct Filled {
    /// The hole's name.
    pub name: Arc<str>,
    /// What stands there, in words.
    pub words: String,
    /// The number, where it is one.
    pub number: Option<f64>,
    /// Its unit; empty where it has none.
    pub unit: String,
}

/// A finding in one line: what there is to say of it without looking up where its values are
/// written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Brief {
    /// The rule's id.
    pub rule: Arc<str>,
    /// How bad it is, a shop's own choice included.
    pub level: Level,
    /// What it found.
    pub message: String,
    /// Whether a waiver signs it off.
    pub waived: bool,
}

/// A value that a finding rests on.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Pointer {
    /// Its name, such as `supply.rated_w`.
    pub place: String,
    /// Its value in words.
    pub value: String,
    /// Where it is written; none for what is not there.
    pub label: Option<Label>,
    /// The line of the build that brought it in, when it stands in the catalogue.
    pub line: Option<Label>,
}

/// The comparison that decided a finding.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Margin {
    /// What was compared, in words.
    pub left: String,
    /// Its value.
    pub left_value: f64,
    /// What it was compared with.
    pub right: String,
    /// Its value.
    pub right_value: f64,
    /// Unit of both.
    pub unit: Arc<str>,
    /// The comparison as it held: `<`, `<=`, `>`, `>=`, `=`, `≠`.
    pub sign: &'static str,
    /// In words: `by 2 mm`.
    pub words: String,
}

/// A rule's own words.
pub struct RuleWords<'a> {
    /// Its id.
    pub id: &'a str,
    /// What it checks.
    pub title: &'a str,
    /// What would clear it.
    pub remedy: &'a str,
    /// Where the knowledge comes from.
    pub basis: &'a str,
    /// The level a shop chose.
    pub level: Option<Level>,
}

impl Finding {
    /// A finding of which nothing is said yet.
    pub(crate) fn unsaid(rule: &str, level: Level) -> Self {
        Self {
            rule: rule.to_owned(),
            level,
            title: String::new(),
            message: String::new(),
            template: "".into(),
            values: Vec::new(),
            pointers: Vec::new(),
            margin: None,
            remedy: String::new(),
            basis: String::new(),
            subjects: Vec::new(),
            waived: None,
            settled: Settled::Open,
        }
    }
}

/// What proves a finding.
pub(crate) struct Proof<'a> {
    /// As the rule raised it.
    pub(crate) draft: &'a Draft,
    /// How the rule got there.
    pub(crate) verdict: &'a Verdict,
    /// The facts that suffice, the one read last first.
    pub(crate) facts: &'a [ExprId],
}

/// Pointers at what a rule points at itself, at the facts that prove what it found, and at the
/// settings and cells of tables that decided it with them: no facts of the list, but where a shop
/// looks next. What was pointed at before, which the last comparison looked at first, says best
/// where to begin.
pub(crate) fn pointers_at(view: View<'_>, proof: &Proof<'_>, before: &[Pointer]) -> Vec<Pointer> {
    let mut found: Vec<Spot> = Vec::new();
    proof.draft.at.iter().for_each(|hole| hole_spots(view, hole, &mut found));
    proof.facts.iter().for_each(|place| spots(view, *place, &mut found));
    let asked = proof.verdict.path.get(..proof.draft.asked).unwrap_or(&proof.verdict.path);
    let mut under: Vec<ExprId> = deciding(asked).iter().flat_map(|s| s.ask.exprs()).collect();
    while let Some(id) = under.pop() {
        match view.pool.get(id) {
            Expr::Setting(_) | Expr::Cell(..) => spots(view, id, &mut found),
            expr => under.extend(expr.operands()),
        }
    }
    let order = |spot: &Spot| before.iter().position(|p| p.place == spot.place);
    found.sort_by_key(|spot| order(spot).unwrap_or(usize::MAX));
    pointers(view, found)
}

/// Puts a draft in words.
pub fn finding(
    view: View<'_>,
    names: &dyn Names,
    rule: &RuleWords<'_>,
    draft: &Draft,
    verdict: &Verdict,
) -> Finding {
    let asked = verdict.path.get(..draft.asked).unwrap_or(&verdict.path);
    let deciding = deciding(asked);
    let mut found = Vec::new();
    // What the rule points at itself comes first, then what decided, then what the message names.
    draft.at.iter().for_each(|hole| hole_spots(view, hole, &mut found));
    for step in deciding.iter().rev() {
        step_spots(view, step, &mut found);
    }
    draft.message.holes.iter().for_each(|(_, hole)| hole_spots(view, hole, &mut found));
    Finding {
        rule: rule.id.to_owned(),
        level: rule.level.unwrap_or(draft.level),
        title: rule.title.to_owned(),
        message: fill(view, names, draft),
        template: draft.message.template.clone(),
        values: values(view, names, draft),
        subjects: subjects(view, draft, &found),
        pointers: pointers(view, found),
        margin: deciding.last().and_then(|step| margin(view, names, step)),
        remedy: rule.remedy.to_owned(),
        basis: rule.basis.to_owned(),
        waived: None,
        settled: Settled::Certain,
    }
}

/// The questions that decided: the last comparison, with those of the same line of the script
/// before it, which are the other halves of an `&&`, or the earlier rounds of a loop that ended
/// without a yes.
fn deciding(asked: &[Step]) -> &[Step] {
    let Some(last) = asked.iter().rposition(|s| s.ask.compares()) else {
        return asked.last().map_or(&[], std::slice::from_ref);
    };
    let place = |s: &Step| (s.pos.file, s.pos.line, s.measure);
    let mut first = last;
    while first > 0
        && asked.get(first - 1).is_some_and(|s| {
            s.pos.line != 0 && asked.get(last).is_some_and(|l| place(s) == place(l))
        })
    {
        first -= 1;
    }
    asked.get(first..=last).unwrap_or(&[])
}

fn step_spots(view: View<'_>, step: &Step, into: &mut Vec<Spot>) {
    match &step.ask {
        Ask::Has(kind, nth) | Ask::Chosen(kind, nth) => {
            into.push(Spot {
                label: place::build_line(view, *kind, *nth),
                place: place::slot_name(view, *kind, *nth),
                line: None,
            });
        }
        Ask::Lines(kind) => {
            for (_, nth) in view.build.slots(*kind).iter().zip(0u16..) {
                into.push(Spot {
                    label: place::build_line(view, *kind, nth),
                    place: place::slot_name(view, *kind, nth),
                    line: None,
                });
            }
        }
        ask => ask.exprs().for_each(|e| spots(view, e, into)),
    }
}

fn pointers(view: View<'_>, found: Vec<Spot>) -> Vec<Pointer> {
    let mut pointers: Vec<Pointer> = Vec::new();
    for spot in found {
        if pointers.iter().any(|p| p.place == spot.place) || pointers.len() >= MAX_POINTERS {
            continue;
        }
        let line = spot.line.and_then(|(kind, nth)| place::build_line(view, kind, nth));
        let value = spot_value(view, &spot);
        pointers.push(Pointer { place: spot.place, value, label: spot.label, line });
    }
    pointers
}

/// What stands at a spot, taken from the text itself where it is short, with the part's name for a
/// whole line.
fn spot_value(view: View<'_>, spot: &Spot) -> String {
    let Some(label) = &spot.label else { return unwritten(view, &spot.place) };
    if !label.text.is_empty() {
        return label.text.clone();
    }
    if spot.line.is_none()
        && let Some((kind, nth)) = slot_of(view, &spot.place)
        && let Some(name) = handle_name(view, &Hole::Line(kind, nth))
    {
        return name;
    }
    place::written(label)
}

/// What is written nowhere: a build's field at its default, or an empty slot.
fn unwritten(view: View<'_>, place: &str) -> String {
    let field = place.strip_prefix("build.").and_then(build_field);
    match field.and_then(|at| view.build.build.values.get(at as usize)) {
        Some(Val::Num(n)) => format!(
            "{} unless the build says otherwise",
            wording::figure(
                *n,
                BUILD_FIELDS.get(field.unwrap_or(0) as usize).map_or("", |f| f.unit),
                &view.build.build.currency
            )
        ),
        Some(_) => "not given".to_owned(),
        None => "not on the list".to_owned(),
    }
}

fn slot_of(view: View<'_>, name: &str) -> Option<(crate::catalogue::kinds::KindId, u16)> {
    let (kind, nth) = match name.split_once('[') {
        Some((kind, rest)) => (kind, rest.strip_suffix(']')?.parse().ok()?),
        None => (name, 0),
    };
    Some((view.build.catalogue.kind_id(kind)?, nth))
}

fn subjects(view: View<'_>, draft: &Draft, found: &[Spot]) -> Vec<String> {
    let mut ids: Vec<String> = Vec::new();
    let mut add = |kind, nth| {
        if let Some(part) = view.build.slot(kind, nth).and_then(|s| s.part.as_ref())
            && !ids.iter().any(|i| **i == *part.id)
        {
            ids.push(part.id.to_string());
        }
    };
    for hole in draft.message.holes.iter().map(|(_, h)| h).chain(&draft.at) {
        if let Hole::Line(kind, nth) | Hole::Record(kind, nth, ..) = hole {
            add(*kind, *nth);
        }
    }
    for (kind, nth) in found.iter().filter_map(|s| s.line) {
        add(kind, nth);
    }
    ids
}

/// Longest message, in bytes.
pub(crate) const MAX_MESSAGE: usize = 8 << 10;

/// The message of a draft, its holes filled in.
pub(crate) fn fill(view: View<'_>, names: &dyn Names, draft: &Draft) -> String {
    let mut out = String::with_capacity(draft.message.template.len() + 64);
    for said in draft.message.said() {
        match said {
            Said::Text(text) => out.push_str(text),
            Said::Hole(hole, unit) => put_hole(&mut out, view, names, hole, unit),
        }
        if out.len() > MAX_MESSAGE {
            out.truncate(floor_boundary(&out, MAX_MESSAGE));
            out.push('…');
            break;
        }
    }
    out
}

fn values(view: View<'_>, names: &dyn Names, draft: &Draft) -> Vec<Filled> {
    let filled = |(name, hole): &(Arc<str>, Hole)| {
        let mut words = String::new();
        put_hole(&mut words, view, names, hole, None);
        let (number, unit) = match hole {
            Hole::Expr(id) => (
                view.number(*id).ok().filter(|n| n.is_finite()),
                wording::unit(view, names, *id).to_owned(),
            ),
            _ => (None, String::new()),
        };
        let unit = if number.is_some() { unit } else { String::new() };
        Filled { name: name.clone(), words, number, unit }
    };
    draft.message.holes.iter().map(filled).collect()
}

fn put_hole(out: &mut String, view: View<'_>, names: &dyn Names, hole: &Hole, unit: Option<&str>) {
    match hole {
        Hole::Expr(id) => wording::put_value(out, view, names, *id, unit),
        Hole::Text(text) => out.push_str(text),
        Hole::Many(holes) if holes.is_empty() => out.push_str("none"),
        Hole::Many(holes) => {
            for (at, hole) in holes.iter().enumerate() {
                if out.len() > MAX_MESSAGE {
                    return;
                }
                match at {
                    0 => {}
                    _ if at + 1 == holes.len() => out.push_str(" and "),
                    _ => out.push_str(", "),
                }
                put_hole(out, view, names, hole, unit);
            }
        }
        // The most of what messages name.
        Hole::Line(kind, nth) => match view.build.slot(*kind, *nth).and_then(|s| s.part.as_ref()) {
            Some(part) => out.push_str(&part.name),
            None => out.push_str(&handle_name(view, hole).unwrap_or_default()),
        },
        Hole::Record(..) => out.push_str(&handle_name(view, hole).unwrap_or_default()),
    }
}

fn margin(view: View<'_>, names: &dyn Names, step: &Step) -> Option<Margin> {
    let held = step.answer == Answer::Bool(true);
    let (a, b, sign) = match (&step.ask, held) {
        (Ask::Less(a, b), true) => (*a, *b, "<"),
        (Ask::Less(a, b), false) => (*a, *b, ">="),
        (Ask::LessEqual(a, b), true) => (*a, *b, "<="),
        (Ask::LessEqual(a, b), false) => (*a, *b, ">"),
        _ => return None,
    };
    let (x, y) = (view.number(a).ok()?, view.number(b).ok()?);
    // A margin is worth a word where both sides measure the same thing, or one is a bare number of
    // the script's.
    let units = (wording::unit(view, names, a), wording::unit(view, names, b));
    let bare = |u: &str| u.is_empty() || u.starts_with("of ");
    let unit = match units {
        (x, y) if x == y => units.0,
        (x, _) if bare(x) => units.1,
        (_, y) if bare(y) => units.0,
        _ => return None,
    };
    if unit.is_empty() || unit.starts_with("of ") {
        return None;
    }
    let words = format!("by {}", wording::figure((x - y).abs(), unit, &view.build.build.currency));
    let text = |id: ExprId| wording::expression(view, names, id);
    Some(Margin {
        left: text(a),
        left_value: x,
        right: text(b),
        right_value: y,
        unit: unit.into(),
        sign,
        words,
    })
}
