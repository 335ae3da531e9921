//! From what is named to where it is written: a part, its kind, its offer, a rule, a helper.

use lsp_types::Location;
use serde_json::{Value, json};
use std::sync::Arc;

use super::cursor_requests::Here;
use super::hover;
use super::positions::Lines;
use super::requests::At;
use super::script_words::Meaning;
use super::server::Failure;
use super::toml_cursor::Cursor;
use super::uris;
use crate::catalogue::Part;
use crate::rules::outline::Outline;
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

/// Where what is under the cursor is written: the part, the rule, the field, the kind; in a script
/// the helper, setting, table or measure too.
pub(super) fn definition(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let found = hover::meaning(here).and_then(|(meaning, _)| written(here, meaning));
    Ok(found.map_or(Value::Null, |location| json!(location)))
}

fn written(here: &Here<'_>, meaning: Meaning<'_>) -> Option<Location> {
    let rules = here.kit()?.rules();
    let file = |at: usize| rules.files.get(at).map(|file| &file.source);
    match meaning {
        Meaning::Part(part) => here.location(&part.source, part.head),
        Meaning::Field(_, field) => here.location(&field.declared.source, field.declared.span),
        Meaning::Kind(kind) => here.location(&kind.source, Span::default()),
        Meaning::Setting(setting) => here.location(&setting.source, setting.span),
        Meaning::Table(table) => here.location(&table.source, Span::default()),
        Meaning::Rule(rule) => here.location(file(rule.file_at.into())?, rule.span()),
        Meaning::Function(at, name) => {
            let source = file(at)?;
            here.location(source, Outline::read(&source.text).place(&name).0)
        }
        Meaning::Host(_) | Meaning::Key(_) => None,
    }
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
