//! Where a value was written: from an expression back to the text of the build, the catalogue and
//! the settings.

use std::collections::HashSet;
use std::sync::Arc;

use crate::audit::derived::DERIVED;
use crate::audit::eval::{Seen, View};
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord};
use crate::audit::verdict::Hole;
use crate::audit::wording::{self, Names};
use crate::build::chambers;
use crate::build::fields::BUILD_FIELDS;
use crate::build::resolve::Slot;
use crate::catalogue::field_reader::{Step, inner_span};
use crate::catalogue::kinds::{Field, FieldType, KindId};
use crate::catalogue::value::Val;
use crate::source::{Label, Source, Span};

/// A place that a rule read: where it is written, its name and what stands there.
#[derive(Debug, Clone)]
pub struct Spot {
    /// Where; none for what is not written anywhere, such as an empty slot.
    pub label: Option<Label>,
    /// Its name, such as `supply.rated_w`.
    pub place: String,
    /// The line of the build that brought it in, for a field of a part.
    pub line: Option<(KindId, u16)>,
}

/// The name of a place.
pub fn name(view: View<'_>, id: ExprId) -> String {
    match view.pool.get(id) {
        Expr::Field(kind, nth, field) => {
            format!("{}.{}", slot_name(view, *kind, *nth), field_name(view, *kind, *field))
        }
        Expr::Sub(kind, nth, field, index, sub) => {
            format!(
                "{}.{}[{index}].{}",
                slot_name(view, *kind, *nth),
                field_name(view, *kind, *field),
                sub_name(view, *kind, *field, *sub)
            )
        }
        Expr::Line(kind, nth, word) => {
            format!("{}.{}", slot_name(view, *kind, *nth), line_word(*word))
        }
        Expr::Build(BuildWord::Field(at)) => {
            format!("build.{}", BUILD_FIELDS.get(*at as usize).map_or("", |f| f.name))
        }
        Expr::Build(BuildWord::Total) => "build.total".to_owned(),
        Expr::Build(BuildWord::Unpriced) => "build.unpriced".to_owned(),
        Expr::Setting(at) => format!("setting {}", view.settings.get(*at).map_or("", |s| &s.name)),
        Expr::Cell(table, column, row) => {
            let table = view.build.catalogue.table(*table);
            let row = match view.see(*row) {
                Ok(Seen::Text(row)) => row.to_owned(),
                _ => "?".to_owned(),
            };
            let column =
                table.and_then(|t| t.columns.get(*column as usize)).map_or("", |c| &c.name);
            format!("table {}[{row}].{column}", table.map_or("", |t| &t.name))
        }
        Expr::Sum(field) => format!("sum of {field}"),
        Expr::Pieces(kind) => format!("count of {}", kind_name(view, *kind)),
        Expr::Derived(at) => DERIVED.get(*at as usize).map_or("", |d| d.name).to_owned(),
        Expr::Assign(assign) => format!(
            "assignment of {} to {}",
            counted(assign.things.len(), "thing"),
            counted(assign.places.len(), "place")
        ),
        _ => String::new(),
    }
}

fn counted(n: usize, of: &str) -> String {
    format!("{n} {of}{}", if n == 1 { "" } else { "s" })
}

fn line_word(word: LineWord) -> &'static str {
    match word {
        LineWord::Count => "count",
        LineWord::Mount => "mount",
        LineWord::Flow | LineWord::FlowUsual => "flow",
        LineWord::Owned => "owned",
        LineWord::Included => "included",
        LineWord::PartId => "part",
        LineWord::Price => "price",
        LineWord::MailRebate => "mail_rebate",
        LineWord::Credit => "credit",
        LineWord::BundleValue => "bundle_value",
        LineWord::Shipping => "shipping",
        LineWord::Stock => "stock",
        LineWord::Sellers => "sellers",
        LineWord::OfferAge => "offer_age_days",
        LineWord::SupportDays => "support_until_days",
    }
}

pub(crate) fn kind_name(view: View<'_>, kind: KindId) -> &str {
    view.build.catalogue.kind(kind).map_or("", |k| &k.name)
}

pub(crate) fn slot_name(view: View<'_>, kind: KindId, nth: u16) -> String {
    let name = kind_name(view, kind);
    if view.build.slots(kind).len() > 1 { format!("{name}[{nth}]") } else { name.to_owned() }
}

fn field(view: View<'_>, kind: KindId, at: u16) -> Option<&Field> {
    view.build.catalogue.kind(kind).and_then(|k| k.fields.get(at as usize))
}

fn field_name(view: View<'_>, kind: KindId, at: u16) -> &str {
    field(view, kind, at).map_or("", |f| &f.name)
}

fn sub_name(view: View<'_>, kind: KindId, at: u16, sub: u16) -> &str {
    match field(view, kind, at).map(|f| &f.ty) {
        Some(FieldType::Records(fields)) => fields.get(sub as usize).map_or("", |f| &f.name),
        _ => "",
    }
}

/// Every place that an expression rests on, in the order it names them, each once.
pub fn spots(view: View<'_>, id: ExprId, into: &mut Vec<Spot>) {
    spots_of(view, id, &mut HashSet::new(), into);
}

fn spots_of(view: View<'_>, id: ExprId, seen: &mut HashSet<ExprId>, into: &mut Vec<Spot>) {
    if !seen.insert(id) {
        return;
    }
    let mut spots = |view, id, into: &mut Vec<Spot>| spots_of(view, id, seen, into);
    match view.pool.get(id) {
        Expr::Const(_) | Expr::Word(_) => {}
        Expr::Bin(_, a, b) => {
            spots(view, *a, into);
            spots(view, *b, into);
        }
        Expr::Un(_, a) | Expr::Measure(_, a) => spots(view, *a, into),
        Expr::Func(_, args) => args.iter().for_each(|a| spots(view, *a, into)),
        Expr::Assign(assign) => assign.exprs().for_each(|a| spots(view, a, into)),
        Expr::Cell(table, column, row) => {
            into.push(Spot {
                label: cell_label(view, *table, *column, *row).map(|l| valued(view, l, id)),
                place: name(view, id),
                line: None,
            });
            spots(view, *row, into);
        }
        Expr::KeyOf(counts, key) => {
            let key_text = match view.see(*key) {
                Ok(Seen::Text(key)) => key.to_owned(),
                _ => String::new(),
            };
            if let Expr::Field(kind, nth, at) = view.pool.get(*counts) {
                let label = inner_label(view, *kind, *nth, *at, &[Step::Key(&key_text)])
                    .map(|l| valued(view, l, id));
                into.push(Spot {
                    label,
                    place: format!("{}[\"{key_text}\"]", name(view, *counts)),
                    line: Some((*kind, *nth)),
                });
            }
            spots(view, *key, into);
        }
        Expr::Sum(field) => sum_spots(view, field, into),
        Expr::Pieces(kind) => lines_of(view, *kind, LineWord::Count, into),
        Expr::Derived(at) if DERIVED.get(*at as usize).is_some_and(|d| d.unit == "money") => {
            price_spots(view, into)
        }
        Expr::Derived(at) => {
            if DERIVED.get(*at as usize).is_some_and(|d| d.air) {
                for kind in chambers::kinds(&view.build.catalogue) {
                    lines_of(view, kind, LineWord::PartId, into);
                }
            }
        }
        Expr::Build(BuildWord::Total | BuildWord::Unpriced) => price_spots(view, into),
        _ => into.push(leaf(view, id)),
    }
}

fn leaf(view: View<'_>, id: ExprId) -> Spot {
    let place = name(view, id);
    let (label, line) = match view.pool.get(id) {
        Expr::Field(kind, nth, at) => (field_label(view, *kind, *nth, *at), Some((*kind, *nth))),
        Expr::Sub(kind, nth, at, index, sub) => {
            let path = [Step::Index(*index as usize), Step::Key(sub_name(view, *kind, *at, *sub))];
            (inner_label(view, *kind, *nth, *at, &path), Some((*kind, *nth)))
        }
        Expr::Line(kind, nth, word) => (line_label(view, *kind, *nth, *word), None),
        Expr::Build(BuildWord::Field(at)) => {
            let span = view.build.build.spans.get(*at as usize).copied().filter(|s| !s.is_empty());
            (span.map(|span| at_span(&view.build.build.source, span)), None)
        }
        Expr::Setting(at) => (view.settings.get(*at).map(|s| at_span(&s.source, s.span)), None),
        _ => (None, None),
    };
    Spot { label: label.map(|l| valued(view, l, id)), place, line }
}

/// A single value has no measure in it, so no measure's name is needed to show it.
struct NoNames;

impl Names for NoNames {
    fn measure(&self, _: u16) -> Option<(&str, &str)> {
        None
    }
}

/// A label with what stands there in words: the text under it may be a default's name or a whole
/// row.
fn valued(view: View<'_>, label: Label, id: ExprId) -> Label {
    match view.see(id) {
        Ok(Seen::Absent) => Label { text: "left out".to_owned(), ..label },
        Ok(Seen::Whole(val @ (Val::List(_) | Val::Counts(_)))) => {
            Label { text: crate::words::clip(&val.show(), 60), ..label }
        }
        // Records are shown as they are written.
        Ok(Seen::Num(_) | Seen::Text(_) | Seen::Flag(_)) => {
            Label { text: wording::value(view, &NoNames, id, None), ..label }
        }
        _ => label,
    }
}

fn at_span(source: &Arc<Source>, span: Span) -> Label {
    Label { source: source.clone(), span, text: String::new() }
}

fn field_label(view: View<'_>, kind: KindId, nth: u16, at: u16) -> Option<Label> {
    let part = view.build.slot(kind, nth)?.part.as_ref()?;
    match part.written_at(at) {
        Some((source, span)) => Some(at_span(source, span)),
        None if part.values.get(at as usize).is_none_or(Val::is_absent) => {
            Some(at_span(&part.source, part.head))
        }
        None => field(view, kind, at).map(|f| at_span(&f.declared.source, f.declared.span)),
    }
}

fn inner_label(
    view: View<'_>,
    kind: KindId,
    nth: u16,
    at: u16,
    path: &[Step<'_>],
) -> Option<Label> {
    let outer = field_label(view, kind, nth, at)?;
    let written = view
        .build
        .slot(kind, nth)?
        .part
        .as_ref()?
        .spans
        .get(at as usize)
        .is_some_and(|s| !s.is_empty());
    let span = if written { inner_span(&outer.source, outer.span, path) } else { outer.span };
    Some(at_span(&outer.source, span))
}

/// The line of the build file that brought a part in.
pub fn build_line(view: View<'_>, kind: KindId, nth: u16) -> Option<Label> {
    let slot = view.build.slot(kind, nth)?;
    let spans = view.build.build.lines.get(slot.line)?.spans;
    let span = if spans.part.is_empty() { spans.whole } else { spans.part };
    Some(at_span(&view.build.build.source, span))
}

fn line_label(view: View<'_>, kind: KindId, nth: u16, word: LineWord) -> Option<Label> {
    let slot: &Slot = view.build.slot(kind, nth)?;
    let spans = view.build.build.lines.get(slot.line)?.spans;
    let own = match word {
        _ if slot.included => Span::default(),
        LineWord::Count => spans.count,
        LineWord::Mount => spans.mount,
        LineWord::FlowUsual => spans.mount,
        LineWord::Flow => spans.flow,
        LineWord::Owned => spans.owned,
        LineWord::Price
        | LineWord::MailRebate
        | LineWord::Credit
        | LineWord::BundleValue
        | LineWord::Shipping
        | LineWord::OfferAge
        | LineWord::Stock
        | LineWord::Sellers => {
            return view
                .build
                .facts(slot)
                .place
                .as_ref()
                .map(|(source, span)| at_span(source, *span))
                .or_else(|| build_line(view, kind, nth));
        }
        _ => Span::default(),
    };
    if own.is_empty() {
        build_line(view, kind, nth)
    } else {
        Some(at_span(&view.build.build.source, own))
    }
}

fn cell_label(view: View<'_>, table: u16, column: u16, row: ExprId) -> Option<Label> {
    let table = view.build.catalogue.table(table)?;
    match view.see(row) {
        Ok(Seen::Text(row)) => {
            let (source, span) = table.written(row, column);
            Some(at_span(source, span))
        }
        _ => None,
    }
}

fn sum_spots(view: View<'_>, name: &str, into: &mut Vec<Spot>) {
    let mut parts = Vec::new();
    for (kind, nth, slot) in view.build.all() {
        let Some((at, _)) = view.build.catalogue.kind(kind).and_then(|k| k.field(name)) else {
            continue;
        };
        let value = slot
            .part
            .as_ref()
            .and_then(|p| p.values.get(at as usize))
            .and_then(Val::as_num)
            .unwrap_or(0.0)
            * slot.count;
        if value != 0.0 {
            let place = format!("{}.{name}", slot_name(view, kind, nth));
            let unit = field(view, kind, at).map_or("", |f| &*f.unit);
            let words = wording::figure(value / slot.count, unit, &view.build.build.currency);
            let label = field_label(view, kind, nth, at).map(|l| Label { text: words, ..l });
            parts.push((value, Spot { label, place, line: Some((kind, nth)) }));
        }
    }
    largest_first(parts, into);
}

/// The largest shares first: they are what a person would change.
fn largest_first(mut parts: Vec<(f64, Spot)>, into: &mut Vec<Spot>) {
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    into.extend(parts.into_iter().map(|(_, spot)| spot));
}

fn price_spots(view: View<'_>, into: &mut Vec<Spot>) {
    let mut parts = Vec::new();
    for (kind, nth, slot) in view.build.all().filter(|(_, _, s)| !s.owned && !s.included) {
        let facts = view.build.facts(slot);
        let price = facts.price.as_ref().map_or(0.0, |p| p.to_f64() * slot.count);
        let place = format!("{}.price", slot_name(view, kind, nth));
        let words = facts.price.as_ref().map_or_else(
            || "no offer".to_owned(),
            |p| wording::figure(p.to_f64(), "money", &view.build.build.currency),
        );
        let label =
            line_label(view, kind, nth, LineWord::Price).map(|l| Label { text: words, ..l });
        parts.push((price, Spot { label, place, line: Some((kind, nth)) }));
    }
    largest_first(parts, into);
}

fn lines_of(view: View<'_>, kind: KindId, word: LineWord, into: &mut Vec<Spot>) {
    for (slot, nth) in view.build.slots(kind).iter().zip(0u16..) {
        let place = format!("{}.{}", slot_name(view, kind, nth), line_word(word));
        let mut label = line_label(view, kind, nth, word);
        if let Some(label) = label.as_mut().filter(|_| word == LineWord::Count) {
            // A count of one is written nowhere, and the mark stands under the part.
            label.text = slot.count.to_string();
        }
        into.push(Spot { label, place, line: None });
    }
}

/// The place of what fills a hole.
pub fn hole_spots(view: View<'_>, hole: &Hole, into: &mut Vec<Spot>) {
    match hole {
        Hole::Expr(id) => spots(view, *id, into),
        Hole::Line(kind, nth) => into.push(Spot {
            label: build_line(view, *kind, *nth),
            place: slot_name(view, *kind, *nth),
            line: None,
        }),
        Hole::Record(kind, nth, at, index) => {
            let label = inner_label(view, *kind, *nth, *at, &[Step::Index(*index as usize)]);
            into.push(Spot {
                label,
                place: format!(
                    "{}.{}[{index}]",
                    slot_name(view, *kind, *nth),
                    field_name(view, *kind, *at)
                ),
                line: Some((*kind, *nth)),
            });
        }
        Hole::Many(holes) => holes.iter().for_each(|h| hole_spots(view, h, into)),
        Hole::Text(_) => {}
    }
}

/// What stands at a place, as it is written there, in one short line: the value without its key and
/// quotes.
pub fn written(label: &Label) -> String {
    let text = label.source.slice(label.span).split_whitespace().collect::<Vec<_>>().join(" ");
    let keyed = text.split_once('=').filter(|(key, _)| {
        let key = key.trim();
        !key.is_empty() && key.chars().all(|c| c.is_alphanumeric() || c == '_' || c == '-')
    });
    let value = keyed.map_or(text.as_str(), |(_, value)| value.trim());
    crate::words::clip(value.trim_matches('"'), 60)
}

/// The name that a handle shows in a message.
pub fn handle_name(view: View<'_>, hole: &Hole) -> Option<String> {
    match hole {
        Hole::Line(kind, nth) => {
            let slot = view.build.slot(*kind, *nth)?;
            Some(slot.part.as_ref().map_or_else(
                || format!("the open {} line", kind_name(view, *kind)),
                |p| p.name.to_string(),
            ))
        }
        Hole::Record(kind, nth, at, index) => {
            let Some(FieldType::Records(fields)) = field(view, *kind, *at).map(|f| &f.ty) else {
                return None;
            };
            let part = view.build.slot(*kind, *nth)?.part.as_ref()?;
            let Some(Val::Records(records)) = part.values.get(*at as usize) else { return None };
            let record = records.get(*index as usize)?;
            let named = ["label", "name", "mount", "connector", "kind", "part"]
                .iter()
                .find_map(|n| fields.iter().position(|f| *f.name == **n));
            named
                .and_then(|at| record.get(at))
                .map(Val::show)
                .filter(|s| s != "absent")
                .or_else(|| Some(format!("{}[{index}]", field_name(view, *kind, *at))))
        }
        _ => None,
    }
}
