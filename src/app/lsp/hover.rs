//! What stands under the cursor, explained: a part with its facts and offers and what its line
//! adds, a rule, a kind, a field with the rules that read it, a key of a list.

use lsp_types::{Hover, HoverContents, MarkupContent, MarkupKind};
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::requests::At;
use super::script_words::{self, Meaning};
use super::server::Failure;
use super::toml_cursor::Cursor;
use crate::app::commands::parts::readers;
use crate::app::report::json::join;
pub(super) use crate::app::report::markdown::escaped as md;
use crate::app::report::texts::filled;
use crate::app::writing::listing::rule_json;
use crate::audit::wording::figure;
use crate::build::resolve::Slot;
use crate::catalogue::Part;
use crate::catalogue::kinds::{Field, Kind};
use crate::catalogue::value::Val;
use crate::rules::loader::Rule;
use crate::source::Span;
use crate::words::some_of;

/// Offers shown of one part.
const OFFERS: usize = 8;
/// The measure that what a line draws is added to.
pub(super) const DRAW: &str = "power.sustained_draw";

/// The page for what is under the cursor; null where nothing is.
pub(super) fn hover(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let view = |(meaning, span)| Some((view(here, meaning)?, span));
    let Some((view, span)) = meaning(here).and_then(view) else { return Ok(Value::Null) };
    let text = filled("hover.txt", md, &view).unwrap_or_else(|why| why);
    let contents = MarkupContent { kind: MarkupKind::Markdown, value: text };
    let range = Some(here.doc.range(span, here.encoding));
    Ok(json!(Hover { contents: HoverContents::Markup(contents), range }))
}

/// What stands under the cursor, and where.
pub(super) fn meaning<'h>(here: &'h Here<'_>) -> Option<(Meaning<'h>, Span)> {
    if here.is_script() {
        return script_words::meaning(here);
    }
    let cursor = Cursor::at(&here.outline, here.text(), here.offset)?;
    if let Some(span) = cursor.string
        && let Some(found) = of_word(here, here.text().get(span.start()..span.end())?)
    {
        return Some((found, span));
    }
    if let (Some(part), true) = (here.part_of_heading(&cursor), cursor.on_heading) {
        return Some((Meaning::Part(part), cursor.table.name));
    }
    let entry = cursor.entry.filter(|entry| here.offset <= entry.key_span.end())?;
    let kind = here.kind_at(&cursor);
    let name = entry.key.strip_prefix("facts.").unwrap_or(&entry.key);
    let field = kind.and_then(|kind| Some(Meaning::Field(kind, kind.field(name)?.1.clone())));
    let key = || here.keys(&cursor).into_iter().find(|k| k.name == entry.key).map(Meaning::Key);
    Some((field.or_else(key)?, entry.key_span))
}

/// A part, a rule or a kind by its word.
fn of_word<'h>(here: &'h Here<'_>, word: &str) -> Option<Meaning<'h>> {
    let kit = here.kit()?;
    if let Some(part) = kit.catalogue().part(word) {
        return Some(Meaning::Part(part));
    }
    let rule = kit.rules().rule(word).map(|rule| Meaning::Rule(Box::new(rule.clone())));
    rule.or_else(|| kit.catalogue().kind_named(word).map(Meaning::Kind))
}

/// A meaning as the page's template takes it.
fn view(here: &Here<'_>, meaning: Meaning<'_>) -> Option<Value> {
    Some(match meaning {
        Meaning::Part(part) => {
            let cursor = Cursor::at(&here.outline, here.text(), here.offset)?;
            let line = here.line_of(&cursor).filter(|_| cursor.string.is_some());
            part_view(here, part, line)?
        }
        Meaning::Key(key) => {
            json!({ "sort": "key", "name": key.name, "unit": key.unit, "meaning": key.meaning })
        }
        Meaning::Field(kind, field) => field_view(here, kind, &field),
        Meaning::Kind(kind) => json!({ "sort": "kind", "title": kind.title, "name": &*kind.name,
            "meaning": kind.meaning, "fields": some_of(kind.fields.iter().map(|f| &*f.name), 60) }),
        Meaning::Setting(setting) => json!({ "sort": "setting", "name": &*setting.name,
            "value": setting.value.show(), "unit": &*setting.unit, "meaning": setting.meaning,
            "basis": setting.basis, "layer": setting.layer }),
        Meaning::Table(table) => {
            let columns = table.columns.iter().map(|c| match c.unit.is_empty() {
                true => c.name.to_string(),
                false => format!("{} ({})", c.name, c.unit),
            });
            json!({ "sort": "table", "name": &*table.name, "meaning": table.meaning,
            "columns": columns.collect::<Vec<_>>(), "citation": table.citation,
            "rows": some_of(table.rows.iter().map(|r| &**r), 30) })
        }
        Meaning::Rule(rule) => rule_view(here, &rule)?,
        Meaning::Function(file, name) => script_words::function_view(here, file, &name)?,
        Meaning::Host(words) => json!({ "sort": "words", "words": words }),
    })
}

/// A part: its facts, its offers, and what its line adds to the list.
fn part_view(here: &Here<'_>, part: &Part, line: Option<usize>) -> Option<Value> {
    let catalogue = here.kit()?.catalogue();
    let kind = catalogue.kind(part.kind)?;
    let day = here.view.as_ref().map(|view| view.list().priced_on);
    let day = day.unwrap_or_else(|| here.server.shops.base().today());
    let offers = catalogue.offers.on(&part.id, day);
    let offers = offers.iter().take(OFFERS).map(|offer| {
        json!({ "seller": &*offer.seller, "price": offer.till().to_string(),
        "seen_on": offer.seen_on.to_string(), "stock": offer.stock })
    });
    let (unknown, known): (Vec<_>, Vec<_>) =
        kind.fields.iter().zip(&part.values).partition(|(_, value)| value.is_unknown());
    let known = known.into_iter().filter(|(f, v)| !v.is_absent() && &*f.name != "name");
    let fact = |(field, value): (&Field, &Val)| {
        let (name, unit) = (&*field.name, &*field.unit);
        json!({ "name": name, "value": value.show(), "unit": unit })
    };
    Some(json!({
        "sort": "part",
        "name": &*part.name,
        "id": &*part.id,
        "adds": line.and_then(|line| adds(here, line)),
        "kind": kind.title,
        "facts": known.map(fact).collect::<Vec<_>>(),
        "unknown": some_of(unknown.iter().map(|(field, _)| &*field.name), 30),
        "offers": offers.collect::<Vec<_>>(),
        "day": day.to_string(),
    }))
}

/// What a line adds to the price and the draw of its list.
fn adds(here: &Here<'_>, line: usize) -> Option<Vec<String>> {
    let view = here.view.as_ref()?;
    let build = &view.build;
    let slot = build.slot_of_line(line)?;
    let currency = &build.build.currency;
    let mut words = Vec::new();
    match build.facts(slot).price.filter(|_| !slot.owned) {
        Some(price) => {
            let all = price.times(slot.count as i64).ok()?;
            let total = figure(build.total(), "money", currency);
            words.push(format!("{all} of {total}"));
        }
        None if slot.owned => words.push("the customer's own: costs nothing".to_owned()),
        None => words.push("no offer".to_owned()),
    }
    if let Some(watts) = draw(here, slot) {
        let whole = view.audited.as_ref().and_then(|audited| audited.measure(DRAW));
        let of = whole.map(|m| format!(" of {}", m.words)).unwrap_or_default();
        words.push(format!("{}{of}", figure(watts, "W", "")));
    }
    Some(words)
}

/// What the part on a line draws at full load, all pieces together; none where it does not say.
pub(super) fn draw(here: &Here<'_>, slot: &Slot) -> Option<f64> {
    let part = slot.part.as_ref()?;
    let kind = here.kit()?.catalogue().kind(part.kind)?;
    let (at, _) = kind.field("draw_w")?;
    Some(part.values.get(at as usize)?.as_num()? * slot.count)
}

/// A rule: what it checks, why, and what would clear it.
pub(super) fn rule_view(here: &Here<'_>, rule: &Rule) -> Option<Value> {
    let kit = here.kit()?;
    let notes = [("Fix", rule.remedy.clone()), ("Source", rule.basis.clone())];
    let notes: Vec<_> = notes.into_iter().chain(rule.notes()).collect();
    Some(join(rule_json(kit, &kit.rules(), rule), json!({ "notes": notes })))
}

/// A field: what it means, its type, its bounds, and which rules read it.
fn field_view(here: &Here<'_>, kind: &Kind, field: &Field) -> Value {
    let rules = here.kit().map(|kit| readers(kit, kind, &field.name)).unwrap_or_default();
    let bounded = field.min > -1e15 || field.max < 1e15;
    json!({
        "sort": "field",
        "name": &*field.name,
        "kind": kind.title,
        "meaning": field.meaning,
        "holds": field.type_in_words(),
        "bounds": bounded.then(|| [field.min.to_string(), field.max.to_string()]),
        "unit": &*field.unit,
        "absent": field.absent.as_ref().map(Val::show),
        "optional": field.optional,
        "required": field.required,
        "usual": field.usual.as_ref().map(|usual| &usual.basis),
        "readers": some_of(rules.iter().map(String::as_str), 20),
    })
}
