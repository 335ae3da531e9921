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
pub(super) use crate::app::report::markdown::escaped as md;
use crate::audit::wording::figure;
use crate::build::resolve::Slot;
use crate::catalogue::Part;
use crate::catalogue::kinds::{Field, Kind};
use crate::rules::loader::Rule;
use crate::source::Span;
use crate::words::some_of;

/// Offers shown of one part.
const OFFERS: usize = 8;
/// The measure that what a line draws is added to.
pub(super) const DRAW: &str = "power.sustained_draw";

/// The page for what is under the cursor; null where nothing is.
pub(super) fn hover(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let page = |(meaning, span)| Some((page(here, meaning)?, span));
    let Some((text, span)) = meaning(here).and_then(page) else { return Ok(Value::Null) };
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

fn page(here: &Here<'_>, meaning: Meaning<'_>) -> Option<String> {
    Some(match meaning {
        Meaning::Part(part) => {
            let cursor = Cursor::at(&here.outline, here.text(), here.offset)?;
            part_page(here, part, here.line_of(&cursor).filter(|_| cursor.string.is_some()))
        }
        Meaning::Key(key) => {
            let unit = if key.unit.is_empty() { "" } else { " in " };
            format!("**{}**{unit}{}\n\n{}\n", md(&key.name), key.unit, md(&key.meaning))
        }
        Meaning::Field(kind, field) => field_page(here, kind, &field),
        Meaning::Kind(kind) => kind_page(kind),
        Meaning::Setting(setting) => format!(
            "**{}** = {} {}\n\n{}\n\nSource: {}\n\nLayer: {}\n",
            md(&setting.name),
            md(&setting.value.show()),
            md(&setting.unit),
            md(&setting.meaning),
            md(&setting.basis),
            md(&setting.layer)
        ),
        Meaning::Table(table) => {
            let columns = table.columns.iter().map(|c| match c.unit.is_empty() {
                true => c.name.to_string(),
                false => format!("{} ({})", c.name, c.unit),
            });
            let columns: Vec<String> = columns.collect();
            let rows = some_of(table.rows.iter().map(|r| &**r), 30);
            format!(
                "**{}**\n\n{}\n\nColumns: {}.\n\nRows: {}.\n\nSource: {}\n",
                md(&table.name),
                md(&table.meaning),
                md(&columns.join(", ")),
                md(&rows),
                md(&table.citation)
            )
        }
        Meaning::Rule(rule) => rule_page(&rule),
        Meaning::Function(file, name) => script_words::function_page(here, file, &name)?,
        Meaning::Host(words) => {
            let page = words.iter().map(|(how, what)| format!("**{}**\n\n{}\n", md(how), md(what)));
            page.collect::<Vec<_>>().join("\n")
        }
    })
}

/// A part: its facts, its offers, and what its line adds to the list.
fn part_page(here: &Here<'_>, part: &Part, line: Option<usize>) -> String {
    let mut out = format!("**{}** `{}`\n", md(&part.name), md(&part.id));
    let Some(kit) = here.kit() else { return out };
    let catalogue = kit.catalogue();
    if let Some(adds) = line.and_then(|line| adds(here, line)) {
        out.push_str(&format!("\n{adds}\n"));
    }
    out.push('\n');
    if let Some(kind) = catalogue.kind(part.kind) {
        out.push_str(&facts(kind, part));
    }
    let day = here.view.as_ref().map(|view| view.list().priced_on);
    let day = day.unwrap_or_else(|| here.server.shops.base().today());
    let offers = catalogue.offers.on(&part.id, day);
    if offers.is_empty() {
        out.push_str(&format!("\nNo offer on {day}.\n"));
    }
    for offer in offers.iter().take(OFFERS) {
        let stock = match offer.stock {
            Some(0) => ", none in stock".to_owned(),
            Some(n) => format!(", {n} in stock"),
            None => String::new(),
        };
        let seller = md(&offer.seller);
        out.push_str(&format!("\n- {}: {} on {}{stock}", seller, offer.till(), offer.seen_on));
    }
    out
}

/// What a line adds to the price and the draw of its list.
fn adds(here: &Here<'_>, line: usize) -> Option<String> {
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
    Some(format!("This line adds {}.", words.join(" and ")))
}

/// What the part on a line draws at full load, all pieces together; none where it does not say.
pub(super) fn draw(here: &Here<'_>, slot: &Slot) -> Option<f64> {
    let part = slot.part.as_ref()?;
    let kind = here.kit()?.catalogue().kind(part.kind)?;
    let (at, _) = kind.field("draw_w")?;
    Some(part.values.get(at as usize)?.as_num()? * slot.count)
}

fn facts(kind: &Kind, part: &Part) -> String {
    let mut out = format!("{} with:\n", md(&kind.title));
    let mut unknown = Vec::new();
    for (at, field) in kind.fields.iter().enumerate() {
        let Some(value) = part.values.get(at) else { continue };
        if value.is_unknown() {
            unknown.push(&*field.name);
        } else if !value.is_absent() && &*field.name != "name" {
            let unit = if field.unit.is_empty() { "" } else { " " };
            let shown = md(&value.show());
            out.push_str(&format!("- {}: {shown}{unit}{}\n", md(&field.name), field.unit));
        }
    }
    if !unknown.is_empty() {
        out.push_str(&format!("\nNot known: {}.\n", md(&some_of(unknown, 30))));
    }
    out
}

/// A rule: what it checks, why, and what would clear it.
pub(super) fn rule_page(rule: &Rule) -> String {
    let mut out = format!("**{}**\n\n{}\n", md(&rule.id), md(&rule.title));
    if !rule.why.is_empty() {
        out.push_str(&format!("\n{}\n", md(&rule.why)));
    }
    match &rule.unit {
        Some(unit) if unit.is_empty() => out.push_str("\nA measure, a plain number.\n"),
        Some(unit) => out.push_str(&format!("\nA measure in {}.\n", md(unit))),
        None => {
            let levels: Vec<String> = rule.levels().iter().map(ToString::to_string).collect();
            out.push_str(&format!("\nRaises: {}.\n", levels.join(", ")));
        }
    }
    for (head, text) in [("Fix", &rule.remedy), ("Source", &rule.basis)] {
        if !text.is_empty() {
            out.push_str(&format!("\n{head}: {}\n", md(text)));
        }
    }
    for (head, text) in rule.notes() {
        out.push_str(&format!("\n{head}: {}\n", md(&text)));
    }
    out.push_str(&format!("\nLayer: {}\n", md(&rule.layer)));
    out
}

fn kind_page(kind: &Kind) -> String {
    let names: Vec<&str> = kind.fields.iter().map(|f| &*f.name).collect();
    format!(
        "**{}** `{}`\n\n{}\n\nFields: {}.\n",
        md(&kind.title),
        md(&kind.name),
        md(&kind.meaning),
        md(&some_of(names, 60))
    )
}

/// A field: what it means, its type, its bounds, and which rules read it.
fn field_page(here: &Here<'_>, kind: &Kind, field: &Field) -> String {
    let mut out = format!("**{}** of a {}\n\n", md(&field.name), md(&kind.title));
    out.push_str(&format!("{}: {}.\n", md(&field.meaning), md(&field.type_in_words())));
    if field.min > -1e15 || field.max < 1e15 {
        let unit = &field.unit;
        out.push_str(&format!("\nFrom {} to {} {unit}.\n", field.min, field.max));
    }
    if let Some(value) = &field.absent {
        out.push_str(&format!("\nLeaving it out means {}.\n", md(&value.show())));
    } else if field.optional {
        out.push_str("\nA part may have none.\n");
    } else if field.required {
        out.push_str("\nEvery part gives it.\n");
    }
    if let Some(usual) = &field.usual {
        out.push_str(&format!("\nWhat is usual is taken from: {}.\n", md(&usual.basis)));
    }
    let Some(kit) = here.kit() else { return out };
    let rules = readers(kit, kind, &field.name);
    if rules.is_empty() {
        out.push_str("\nNo rule reads it.\n");
    } else {
        let rules = some_of(rules.iter().map(String::as_str), 20);
        out.push_str(&format!("\nRead by {}.\n", md(&rules)));
    }
    out
}
