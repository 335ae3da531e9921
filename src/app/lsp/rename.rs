//! Renaming a part: in the shop's catalogue and offers, in its rules and cases, and in every list
//! under the folders that are open. Nothing is written here; the editor makes the edits.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use lsp_types::TextEdit;
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::positions::Lines;
use super::requests::At;
use super::server::Failure;
use super::shops::{BUILT_IN, key_of};
use super::toml_outline::{TomlOutline, strings_in};
use super::uris;
use crate::app::lists;
use crate::catalogue::Part;
use crate::catalogue::kinds::is_part_name;
use crate::layer::read_source;
use crate::rules::tokens::tokens;
use crate::source::{Source, Span};
use crate::words::clip;

/// Longest name of a part.
const LONGEST: usize = 60;

/// What would be renamed; null where the cursor is on no part.
pub(super) fn prepare(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let Some((part, span)) = here.part_here() else { return Ok(Value::Null) };
    own(here, part)?;
    let range = here.doc.range(span, here.encoding);
    let placeholder = here.text().get(span.start()..span.end()).unwrap_or("");
    Ok(json!({ "range": range, "placeholder": placeholder }))
}

/// Whether a part is the shop's own; one that the program carries keeps its name.
fn own(here: &Here<'_>, part: &Part) -> Result<(), Failure> {
    let layers = &here.shop.layers.catalogue;
    let carried = |source: &Arc<Source>| {
        layers.iter().any(|layer| {
            layer.label == BUILT_IN && layer.files.iter().any(|(_, s)| Arc::ptr_eq(s, source))
        })
    };
    let mut under = Some(part);
    while let Some(part) = under {
        if carried(&part.source) {
            return Err(Failure::new(format!(
                "{} comes with dryfit and keeps its name; a part of your own catalogue can be \
                 renamed",
                part.id
            )));
        }
        under = part.under.as_deref();
    }
    Ok(())
}

/// The edits that rename the part under the cursor.
pub(super) fn rename(here: &Here<'_>, at: &At) -> Result<Value, Failure> {
    let Some((part, _)) = here.part_here() else {
        return Err(Failure::new("there is no part here to rename"));
    };
    own(here, part)?;
    let typed = at.new_name.as_deref().unwrap_or("").trim();
    let (kind, old) = part.id.split_once('/').unwrap_or(("", &part.id));
    let new = match typed.split_once('/') {
        Some((of, name)) if of == kind => name,
        Some(_) => return Err(Failure::new(format!("{} stays a part of kind {kind}", part.id))),
        None => typed,
    };
    if new.len() > LONGEST || !is_part_name(new) {
        return Err(Failure::new(format!(
            "`{}` cannot be a part's name: lower-case letters, digits, - . and _, {LONGEST} at the \
             most",
            clip(new, LONGEST)
        )));
    }
    let new_id = format!("{kind}/{new}");
    let taken = here.kit().is_some_and(|kit| kit.catalogue().part(&new_id).is_some());
    if taken && new != old {
        return Err(Failure::new(format!("there is a part {new_id} already")));
    }
    let renaming = Renaming { kind, old, new, id: &part.id, new_id: &new_id };
    let mut changes: BTreeMap<String, Vec<TextEdit>> = BTreeMap::new();
    for (uri, source) in texts(here) {
        let mut edits = renaming.edits(&uri, &source.text);
        if edits.is_empty() {
            continue;
        }
        edits.sort_by_key(|(span, _)| span.start());
        let lines = Lines::of(&source.text);
        let edits = edits.into_iter().map(|(span, text)| TextEdit {
            range: lines.range(&source.text, span, here.encoding),
            new_text: text,
        });
        changes.insert(uri, edits.collect());
    }
    Ok(json!({ "changes": changes }))
}

/// Every text that may name a part: the shop's own layers, and the lists of the open folders; what
/// is open in the editor counts before what is on disk.
fn texts(here: &Here<'_>) -> BTreeMap<String, Arc<Source>> {
    let mut texts = BTreeMap::new();
    let layers = here.shop.layers.catalogue.iter().chain(&here.shop.layers.rules);
    for layer in layers.filter(|layer| layer.label != BUILT_IN) {
        for (_, source) in &layer.files {
            if let Some(uri) = here.shop.uri_of(source) {
                texts.insert(uri, source.clone());
            }
        }
    }
    let roots: Vec<PathBuf> = here.server.roots.clone();
    let lists = lists::entries(&roots).unwrap_or_default();
    for path in lists.into_iter().map(|entry| uris::real(&entry.path)) {
        let uri = uris::uri_of(&path);
        if here.server.docs.contains_key(&uri) || key_of(&path) != *here.shop.key() {
            continue;
        }
        if let Ok(source) = read_source(&path) {
            texts.insert(uri, source);
        }
    }
    for doc in here.server.docs.values().filter(|doc| doc.shop == *here.shop.key()) {
        let own = doc.path.as_deref().map(uris::uri_of);
        own.map(|own| texts.remove(&own));
        texts.insert(doc.uri.clone(), doc.source.clone());
    }
    texts
}

struct Renaming<'r> {
    kind: &'r str,
    old: &'r str,
    new: &'r str,
    id: &'r str,
    new_id: &'r str,
}

impl Renaming<'_> {
    fn edits(&self, uri: &str, text: &str) -> Vec<(Span, String)> {
        // A file without the name at all need not be taken apart.
        if !text.contains(self.old) {
            return Vec::new();
        }
        if uri.ends_with(".csv") {
            self.of_offers(text)
        } else if uri.ends_with(".rhai") {
            self.of_script(text)
        } else {
            self.of_toml(text)
        }
    }

    fn of_toml(&self, text: &str) -> Vec<(Span, String)> {
        let outline = TomlOutline::read(text);
        let mut edits = Vec::new();
        let top = outline.tables.first();
        let of_kind = top.and_then(|top| top.text(text, "kind")) == Some(self.kind);
        for table in &outline.tables {
            if of_kind && table.path.first().is_some_and(|name| name == self.old) {
                edits.extend(self.first_key(text, table.name));
            }
            for entry in &table.entries {
                let dotted = entry.key.split('.').next() == Some(self.old);
                if of_kind && table.path.is_empty() && dotted {
                    edits.extend(self.first_key(text, entry.key_span));
                }
                let named = strings_in(text, entry.value)
                    .into_iter()
                    .filter(|span| text.get(span.start()..span.end()) == Some(self.id));
                edits.extend(named.map(|span| (span, self.new_id.to_owned())));
            }
        }
        edits
    }

    /// The name of the part at the beginning of a heading or a dotted key.
    fn first_key(&self, text: &str, span: Span) -> Option<(Span, String)> {
        let written = text.get(span.start()..span.end())?;
        let at = span.start() + written.find(self.old)?;
        let span = Span::new(at, at + self.old.len());
        // A point within a bare key would make two of it.
        let bare = !written.contains(['"', '\'']) && self.new.contains('.');
        Some((span, if bare { format!("\"{}\"", self.new) } else { self.new.to_owned() }))
    }

    fn of_offers(&self, text: &str) -> Vec<(Span, String)> {
        let mut edits = Vec::new();
        for (at, found) in text.match_indices(self.id) {
            let before = text.get(..at).and_then(|t| t.chars().next_back());
            let after = text.get(at + found.len()..).and_then(|t| t.chars().next());
            let cell = |c: Option<char>| c.is_none_or(|c| ",\"\r\n".contains(c));
            if cell(before) && cell(after) {
                edits.push((Span::new(at, at + found.len()), self.new_id.to_owned()));
            }
        }
        edits
    }

    fn of_script(&self, text: &str) -> Vec<(Span, String)> {
        let named = tokens(text).into_iter().filter(|t| t.quoted() == Some(self.id));
        named
            .map(|t| (Span::new(t.span.start() + 1, t.span.end() - 1), self.new_id.to_owned()))
            .collect()
    }
}
