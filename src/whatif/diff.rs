//! What differs between two states of a build: lines, findings and measures.

use std::collections::BTreeMap;
use std::sync::Arc;

use similar::DiffOp;

use crate::audit::finding::Brief;
use crate::audit::wording::{counted, figure};
use crate::build::fields::BUILD_FIELDS;
use crate::build::{Build, Line, What};
use crate::catalogue::value::Val;
use crate::catalogue::want_words::open_words;
use crate::kit::{Measure, Ruling};
use crate::level::Level;
use crate::rules::loader::Better;
use crate::whatif::trial::Snapshot;

/// What differs between two states.
#[derive(Debug, Clone, Default)]
pub struct Change {
    /// Lines that came, went or changed.
    pub lines: Vec<LineChange>,
    /// Fields of the build, and waivers, that changed.
    pub fields: Vec<FieldChange>,
    /// Findings that are new.
    pub raised: Vec<Brief>,
    /// Findings that are gone.
    pub cleared: Vec<Brief>,
    /// Findings of the same rule that say something else, before and after.
    pub shifted: Vec<(Brief, Brief)>,
    /// Rules that broke, and rules that are whole again.
    pub broken: (Vec<String>, Vec<String>),
    /// Measures that moved.
    pub measures: Vec<Moved>,
    /// Goods and shipping of what is to be bought, before and after, in words.
    pub total: (String, String),
    /// The same after, with how much of it is shipping.
    pub paid: String,
    /// How many findings of each level are in force after: stops, cautions, advice.
    pub counts: [usize; 3],
    /// Facts to look up before the verdict is settled.
    pub to_look_up: usize,
    /// The verdict after; none of a change of nothing.
    pub ruling: Option<Ruling>,
    /// Whether the texts of the two files differ.
    pub text_differs: bool,
}

impl Change {
    /// Whether nothing changed at all, the text included.
    pub fn is_empty(&self) -> bool {
        !self.text_differs && !self.says_more_than_text()
    }

    /// Whether anything beside the text changed.
    pub fn says_more_than_text(&self) -> bool {
        !(self.lines.is_empty()
            && self.fields.is_empty()
            && self.raised.is_empty()
            && self.cleared.is_empty()
            && self.shifted.is_empty()
            && self.measures.is_empty())
            || !(self.broken.0.is_empty() && self.broken.1.is_empty())
    }
}

/// A line of a build as a reader knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct LineView {
    /// Its number in the file, from 1.
    pub number: usize,
    /// The kind's word.
    pub kind: String,
    /// The part's id; none while the line is open.
    pub part: Option<String>,
    /// The id of the part that an open line is judged with.
    pub chosen: Option<String>,
    /// The part's name, or what is wished for.
    pub name: String,
    /// Pieces.
    pub count: u32,
    /// Where it is fitted.
    pub mount: Option<Arc<str>>,
    /// Which way it blows.
    pub flow: Option<Arc<str>>,
    /// Whether the customer has it.
    pub owned: bool,
    /// Whether the parts in its box join.
    pub included: bool,
}

/// A change of one line.
#[derive(Debug, Clone, PartialEq)]
pub enum LineChange {
    /// Another part, and perhaps other values.
    Swapped(LineView, LineView),
    /// The same part with other values.
    Altered(LineView, LineView),
    /// New.
    Added(LineView),
    /// Gone.
    Dropped(LineView),
    /// A part that comes in another's box joined (`true`) or left: its name and id.
    Boxed(bool, String, String),
}

/// A field of the build that changed, in words.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldChange {
    /// Its name.
    pub name: String,
    /// Before.
    pub from: String,
    /// After.
    pub to: String,
}

/// A measure that moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Its id.
    pub id: String,
    /// What reports call it.
    pub name: Arc<str>,
    /// Before, in words.
    pub from: String,
    /// After, in words.
    pub to: String,
    /// The difference with its sign; empty when one of them does not apply.
    pub difference: String,
    /// The difference as a share of the larger; 1 when one of them does not apply.
    pub share: f64,
    /// Whether it moved for the better, or for the worse; none where neither way is better.
    pub better: Option<bool>,
}

/// Says what differs between two states.
pub fn between(old: &Snapshot, new: &Snapshot) -> Change {
    let (was, is) = (old.audit.build(), new.audit.build());
    let mut change = Change {
        total: (
            figure(was.total(), "money", &was.build.currency),
            figure(is.total(), "money", &is.build.currency),
        ),
        text_differs: old.source.text != new.source.text,
        paid: is.paid().to_string(),
        to_look_up: new.audit.to_look_up(),
        ruling: Some(new.ruling()),
        ..Change::default()
    };
    for (slot, level) in change.counts.iter_mut().zip([Level::Stop, Level::Caution, Level::Advice])
    {
        *slot = new.briefs.iter().filter(|f| f.level == level && !f.waived).count();
    }
    lines(old, new, &mut change.lines);
    fields(&was.build, &is.build, &mut change.fields);
    findings(old, new, &mut change);
    measures(old, new, &mut change.measures);
    let broken =
        |s: &Snapshot| s.audit.broken().iter().map(|b| b.told().message).collect::<Vec<_>>();
    let (was, is) = (broken(old), broken(new));
    change.broken = (
        is.iter().filter(|b| !was.contains(b)).cloned().collect(),
        was.iter().filter(|b| !is.contains(b)).cloned().collect(),
    );
    change
}

impl LineView {
    /// All but its number, which changes when a line above it goes.
    fn key(&self) -> impl std::hash::Hash + Ord + '_ {
        let Self { number: _, kind, part, chosen, name, count, mount, flow, owned, included } =
            self;
        (kind, part, chosen, name, count, mount, flow, owned, included)
    }
}

/// The lines of a build as a reader knows them.
pub fn views(snapshot: &Snapshot) -> Vec<LineView> {
    let catalogue = &snapshot.audit.build().catalogue;
    let view = |(at, line): (usize, &Line)| {
        let kind = catalogue.kind(line.kind()).map_or_else(String::new, |k| k.name.to_string());
        let (part, name) = match &line.what {
            What::Part(part) => (Some(part.id.to_string()), part.name.to_string()),
            What::Open { kind: id, wants, .. } => {
                let wants = wants.iter().map(|(want, _)| want.as_str());
                let words = catalogue.kind(*id).map(|kind| open_words(kind, wants));
                (None, words.unwrap_or_default())
            }
        };
        let chosen = snapshot.chosen.iter().find(|choice| choice.line == at);
        LineView {
            number: at + 1,
            kind,
            part,
            chosen: chosen.map(|choice| choice.part.id.to_string()),
            name,
            count: line.count,
            mount: line.mount.clone(),
            flow: line.flow.clone(),
            owned: line.owned,
            included: line.included,
        }
    };
    snapshot.build().lines.iter().enumerate().map(view).collect()
}

fn lines(old: &Snapshot, new: &Snapshot, into: &mut Vec<LineChange>) {
    let (was, is) = (views(old), views(new));
    let (was_keys, is_keys): (Vec<_>, Vec<_>) =
        (was.iter().map(LineView::key).collect(), is.iter().map(LineView::key).collect());
    let (mut gone, mut fresh): (Vec<&LineView>, Vec<&LineView>) = (Vec::new(), Vec::new());
    for op in similar::capture_diff_slices(similar::Algorithm::Myers, &was_keys, &is_keys) {
        if !matches!(op, DiffOp::Equal { .. }) {
            gone.extend(was.get(op.old_range()).into_iter().flatten());
            fresh.extend(is.get(op.new_range()).into_iter().flatten());
        }
    }
    // The same part first, then the same kind: a person swaps within a kind.
    let mut pairs: BTreeMap<usize, &LineView> = BTreeMap::new();
    let alike: [fn(&LineView, &LineView) -> bool; 2] =
        [|a, b| a.part.is_some() && a.part == b.part, |a, b| a.kind == b.kind];
    for same in alike {
        for to in &fresh {
            if pairs.contains_key(&to.number) {
                continue;
            }
            if let Some(at) = gone.iter().position(|from| same(from, to)) {
                pairs.insert(to.number, gone.remove(at));
            }
        }
    }
    into.extend(gone.into_iter().cloned().map(LineChange::Dropped));
    for to in fresh {
        match pairs.get(&to.number) {
            None => into.push(LineChange::Added(to.clone())),
            Some(from) if from.key() == to.key() => {}
            Some(from) if from.part == to.part => {
                into.push(LineChange::Altered((*from).clone(), to.clone()))
            }
            Some(from) => into.push(LineChange::Swapped((*from).clone(), to.clone())),
        }
    }
    let (was, is) = (boxed(old), boxed(new));
    for (some, others, joined) in [(&was, &is, false), (&is, &was, true)] {
        let fresh = some.iter().filter(|b| !others.contains(b));
        into.extend(fresh.map(|(id, name)| LineChange::Boxed(joined, name.clone(), id.clone())));
    }
}

/// Parts that come in the boxes of others: id and name.
fn boxed(snapshot: &Snapshot) -> Vec<(String, String)> {
    snapshot
        .audit
        .build()
        .all()
        .filter(|(_, _, s)| s.included)
        .filter_map(|(_, _, s)| s.part.as_ref())
        .map(|p| (p.id.to_string(), p.name.to_string()))
        .collect()
}

fn fields(old: &Build, new: &Build, into: &mut Vec<FieldChange>) {
    let words = |build: &Build, at: usize| match (build.values.get(at), BUILD_FIELDS.get(at)) {
        (Some(Val::Num(n)), Some(field)) => figure(*n, field.unit, &build.currency),
        (Some(Val::Absent) | None, _) => "not said".to_owned(),
        (Some(value), _) => value.show(),
    };
    for (at, field) in BUILD_FIELDS.iter().enumerate() {
        if old.values.get(at) != new.values.get(at)
            || (field.unit == "money"
                && old.currency != new.currency
                && old.values.get(at) != Some(&Val::Absent))
        {
            into.push(FieldChange {
                name: field.name.to_owned(),
                from: words(old, at),
                to: words(new, at),
            });
        }
    }
    if old.priced_on != new.priced_on {
        into.push(FieldChange {
            name: "priced_on".to_owned(),
            from: old.priced_on.to_string(),
            to: new.priced_on.to_string(),
        });
    }
    let waivers = |build: &Build| -> Vec<(String, String)> {
        let of = |w: &crate::build::Waiver| {
            w.subject.as_ref().map_or_else(String::new, |s| format!(" for {s}"))
        };
        build
            .waivers
            .iter()
            .map(|w| {
                (format!("waiver of {}{}", w.rule, of(w)), format!("until {}, {}", w.until, w.by))
            })
            .collect()
    };
    let (was, is) = (waivers(old), waivers(new));
    let none = || "none".to_owned();
    into.extend(was.iter().filter(|w| !is.contains(w)).map(|(name, words)| FieldChange {
        name: name.clone(),
        from: words.clone(),
        to: none(),
    }));
    into.extend(is.iter().filter(|w| !was.contains(w)).map(|(name, words)| FieldChange {
        name: name.clone(),
        from: none(),
        to: words.clone(),
    }));
}

fn findings(old: &Snapshot, new: &Snapshot, change: &mut Change) {
    let same = |a: &Brief, b: &Brief| {
        a.rule == b.rule && a.level == b.level && a.message == b.message && a.waived == b.waived
    };
    let mut gone: Vec<&Brief> = old.briefs.iter().collect();
    let mut fresh: Vec<&Brief> = Vec::new();
    for found in &new.briefs {
        match gone.iter().position(|g| same(g, found)) {
            Some(at) => {
                gone.remove(at);
            }
            None => fresh.push(found),
        }
    }
    for found in fresh {
        match gone.iter().position(|g| g.rule == found.rule) {
            Some(at) => change.shifted.push((gone.remove(at).clone(), found.clone())),
            None => change.raised.push(found.clone()),
        }
    }
    change.cleared.extend(gone.into_iter().cloned());
}

fn measures(old: &Snapshot, new: &Snapshot, into: &mut Vec<Moved>) {
    let was: BTreeMap<&str, _> = old.measures.iter().map(|m| (&*m.id, m)).collect();
    let currency = &new.build().currency;
    for is in &new.measures {
        let before = was.get(&*is.id);
        let from = before.and_then(|m| m.value);
        if from == is.value {
            continue;
        }
        let (difference, share) = match (from, is.value) {
            (Some(a), Some(b)) => {
                (difference(b - a, &is.unit, currency), (b - a).abs() / a.abs().max(b.abs()))
            }
            _ => (String::new(), 1.0),
        };
        let words =
            |m: &Measure| if m.value.is_some() { m.words.clone() } else { "none".to_owned() };
        into.push(Moved {
            id: is.id.to_string(),
            name: is.name.clone(),
            from: before.map_or_else(|| "none".to_owned(), |m| words(m)),
            to: words(is),
            difference,
            share,
            better: is.better.zip(from.zip(is.value)).map(|(way, (from, to))| match way {
                Better::More => to > from,
                Better::Less => to < from,
            }),
        });
    }
}

/// A difference with its sign and unit; shares differ by points.
pub fn difference(by: f64, unit: &str, currency: &str) -> String {
    let share = unit == "%" || unit.starts_with("of ");
    // A difference far below the figures it is of needs no more places than they have.
    let by = if by.abs() >= 0.01 { (by * 100.0).round() / 100.0 } else { by };
    let words = figure(by.abs(), unit, currency);
    let words = match words.strip_suffix(" %").filter(|_| share) {
        Some(number) => format!("{number} {}", counted(number, "points")),
        None => words,
    };
    format!("{}{words}", if by < 0.0 { '-' } else { '+' })
}

#[cfg(test)]
#[path = "../../tests/unit/whatif/diff.rs"]
mod tests;
