//! From what is named to where it is written: a part, its kind, its offer, a rule, a helper.

use lsp_types::Location;
use serde_json::{Value, json};
use std::sync::Arc;

use super::cursor_requests::Here;
use super::positions::Lines;
use super::requests::At;
use super::script_words;
use super::server::Failure;
use super::toml_cursor::Cursor;
use super::uris;
use crate::catalogue::Part;
use crate::source::{Source, Span};

impl Here<'_> {
    /// A place in another text, as the editor opens it.
    pub(super) fn location(&self, source: &Arc<Source>, span: Span) -> Option<Location> {
        let own = source.name == self.source.name;
        let uri = if own { self.doc.uri.clone() } else { self.shop.uri_of(source)? };
        let lines = Lines::of(&source.text);
        Some(Location {
            uri: uris::typed(&uri)?,
            range: lines.range(&source.text, span, self.encoding),
        })
    }

    /// The part under the cursor, named in quotes or by its heading.
    pub(super) fn part_here(&self) -> Option<(&Part, Span)> {
        let cursor = Cursor::at(&self.outline, self.text(), self.offset)?;
        if cursor.on_heading {
            return Some((self.part_of_heading(&cursor)?, cursor.table.name));
        }
        let span = cursor.string?;
        let id = self.text().get(span.start()..span.end())?;
        Some((self.kit()?.catalogue().part(id)?, span))
    }
}

/// Where what is under the cursor is written: the part, the rule; in a script the helper, setting,
/// table or measure.
pub(super) fn definition(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let found = match here.is_script() {
        true => script_words::definition(here),
        false => of_toml(here),
    };
    Ok(found.map_or(Value::Null, |location| json!(location)))
}

fn of_toml(here: &Here<'_>) -> Option<Location> {
    if let Some((part, _)) = here.part_here() {
        return here.location(&part.source, part.head);
    }
    let cursor = Cursor::at(&here.outline, here.text(), here.offset)?;
    let kit = here.kit()?;
    if let Some(span) = cursor.string {
        let word = here.text().get(span.start()..span.end())?;
        let rules = kit.rules();
        if let Some(rule) = rules.rule(word) {
            let file = rules.files.get(rule.file_at as usize)?;
            return here.location(&file.source, rule.span());
        }
        let kind = kit.catalogue().kind_named(word)?;
        return here.location(&kind.source, Span::default());
    }
    let entry = cursor.entry.filter(|entry| here.offset <= entry.key_span.end())?;
    let kind = here.kind_at(&cursor)?;
    let (_, field) = kind.field(entry.key.strip_prefix("facts.").unwrap_or(&entry.key))?;
    here.location(&field.declared.source, field.declared.span)
}

/// The file of the kind of the part under the cursor.
pub(super) fn kind_of(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let kind = here.part_here().and_then(|(part, _)| here.kit()?.catalogue().kind(part.kind));
    let place = kind.and_then(|kind| here.location(&kind.source, Span::default()));
    Ok(place.map_or(Value::Null, |place| json!(place)))
}

/// The offer that gives the part under the cursor its price.
pub(super) fn offer_of(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let place = || {
        let (part, _) = here.part_here()?;
        let catalogue = here.kit()?.catalogue();
        let list = here.view.as_ref().map(|view| view.list());
        let day = list.map_or_else(|| here.server.shops.base().today(), |list| list.priced_on);
        let currency =
            list.map_or_else(|| catalogue.currency.code().into(), |list| list.currency.clone());
        let market = catalogue.market(&currency, day);
        let (source, span) = market.known(catalogue, part)?.place.as_ref()?;
        here.location(source, *span)
    };
    Ok(place().map_or(Value::Null, |place| json!(place)))
}
