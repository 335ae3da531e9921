//! Where the cursor is in a TOML text of ours, and what may be written there.

use super::cursor_requests::Here;
use super::documents::Sort;
use super::toml_outline::{TomlEntry, TomlOutline, TomlTable, strings_in};
use crate::build::brief::BRIEF;
use crate::build::fields::BUILD_FIELDS;
use crate::build::read::{BESIDE, LINE};
use crate::build::waivers::WAIVER;
use crate::cases::case::{CASE, FIND, MEASURE};
use crate::catalogue::Part;
use crate::catalogue::declared::{Declared, Takes, key};
use crate::catalogue::kinds::Kind;
use crate::settings::{CHOICE, SETTING};
use crate::source::Span;

/// The cursor in a text.
pub(super) struct Cursor<'o> {
    /// The table it is in.
    pub(super) table: &'o TomlTable,
    /// The key it is at, on the key or in the value.
    pub(super) entry: Option<&'o TomlEntry>,
    /// Whether it is behind the `=` of that key.
    pub(super) in_value: bool,
    /// The text in quotes that it is in, without them.
    pub(super) string: Option<Span>,
    /// Whether it is on the table's heading.
    pub(super) on_heading: bool,
}

/// A key that may be written.
pub(super) struct KnownKey {
    /// Its word.
    pub(super) name: String,
    /// What it means.
    pub(super) meaning: String,
    /// The unit of its number; empty when it has none.
    pub(super) unit: String,
    /// What it takes.
    pub(super) takes: Takes,
}

impl<'o> Cursor<'o> {
    /// Finds it.
    pub(super) fn at(outline: &'o TomlOutline, text: &str, offset: usize) -> Option<Self> {
        let table = outline.table_at(offset)?;
        let on_heading = table.head.start() <= offset && offset <= table.head.end();
        let on_heading = on_heading && !table.head.is_empty();
        let line_end =
            |at: usize| at + text.get(at..).map_or(0, |rest| rest.find('\n').unwrap_or(rest.len()));
        let entry = table.entries.iter().rev().find(|entry| {
            let end = entry.value.end().max(entry.key_span.end());
            entry.key_span.start() <= offset && offset <= line_end(end)
        });
        let in_value = entry.and_then(|e| e.after_equals).is_some_and(|at| at <= offset);
        let string = entry.filter(|_| in_value).and_then(|entry| {
            let mut strings = strings_in(text, entry.value).into_iter();
            strings.find(|span| span.start() <= offset && offset <= span.end())
        });
        Some(Self { table, entry, in_value, string, on_heading })
    }

    /// The key whose value the cursor is in: of an inline table the nearest before it.
    pub(super) fn key(&self, text: &str, offset: usize) -> Option<String> {
        let entry = self.entry.filter(|_| self.in_value)?;
        let value = text.get(entry.value.start()..offset.min(entry.value.end())).unwrap_or("");
        let inner = value.rsplit(['{', ',']).next().filter(|_| value.starts_with(['{', '[']));
        let inner = inner.and_then(|part| part.split_once('=')).map(|(key, _)| key.trim());
        Some(inner.filter(|k| !k.is_empty()).unwrap_or(&entry.key).to_owned())
    }
}

impl<'a> Here<'a> {
    /// The part of a parts file whose table a cursor is in.
    pub(super) fn part_of_heading(&self, cursor: &Cursor<'_>) -> Option<&'a Part> {
        self.below()?.strip_prefix("parts/")?;
        let kind = self.outline.tables.first()?.text(self.text(), "kind")?;
        let id = format!("{kind}/{}", cursor.table.path.first()?);
        self.kit()?.catalogue().part(&id).map(|part| &**part)
    }

    /// The line of the list that a cursor is in, from 0.
    pub(super) fn line_of(&self, cursor: &Cursor<'_>) -> Option<usize> {
        let of_list = matches!(self.doc.sort, Sort::List | Sort::Brief);
        let line = cursor.table.path.first().is_some_and(|key| key == "line");
        if !of_list || !line {
            return None;
        }
        let tables = self.outline.tables.iter().filter(|t| t.array && t.is(&["line"]));
        tables.filter(|t| t.head.start() <= cursor.table.head.start()).count().checked_sub(1)
    }

    /// The kind of the part that a cursor's table is about.
    pub(super) fn kind_at(&self, cursor: &Cursor<'_>) -> Option<&'a Kind> {
        let catalogue = self.kit()?.catalogue();
        let named = |word: &str| catalogue.kind_id(word).and_then(|id| catalogue.kind(id));
        if self.below().is_some_and(|below| below.starts_with("parts/")) {
            return named(self.outline.tables.first()?.text(self.text(), "kind")?);
        }
        let line = match cursor.table.path.first().map(String::as_str) {
            // `[line.facts]` is about the line above it.
            Some("line") => {
                let before = |t: &&TomlTable| t.head.start() <= cursor.table.head.start();
                let mut tables = self.outline.tables.iter().rev().filter(before);
                tables.find(|t| t.is(&["line"]))?
            }
            _ => cursor.table,
        };
        let text = self.text();
        let kind = line.text(text, "kind").or_else(|| line.text(text, "any"));
        let part = || line.text(text, "part").and_then(|id| id.split('/').next());
        named(kind.or_else(part)?)
    }

    /// Whether a cursor is where fields of a part are written.
    pub(super) fn takes_fields(&self, cursor: &Cursor<'_>) -> bool {
        let path = &cursor.table.path;
        match self.below() {
            Some(below) if below.starts_with("parts/") => path.len() == 1,
            Some(_) => false,
            None => {
                let inline = cursor.entry.is_some_and(|e| e.key == "facts" && cursor.in_value);
                inline || path.iter().map(String::as_str).eq(["line", "facts"])
            }
        }
    }

    /// The keys that may be written where a cursor is.
    pub(super) fn keys(&self, cursor: &Cursor<'_>) -> Vec<KnownKey> {
        let path: Vec<&str> = cursor.table.path.iter().map(String::as_str).collect();
        let mut keys = Vec::new();
        if self.takes_fields(cursor) {
            let fields = self.kind_at(cursor).map_or(&[][..], |kind| &kind.fields);
            keys.extend(fields.iter().map(|field| KnownKey {
                name: field.name.to_string(),
                meaning: field.meaning.clone(),
                unit: field.unit.to_string(),
                takes: Takes::Other,
            }));
            if self.below().is_none() {
                return keys;
            }
        }
        for declared in self.declared(&path) {
            keys.extend(declared.keys.iter().map(|key| KnownKey {
                name: key.name.to_owned(),
                meaning: key.meaning.to_owned(),
                unit: key.unit.to_owned(),
                takes: key.takes,
            }));
        }
        if path.is_empty() && matches!(self.doc.sort, Sort::List | Sort::Brief) {
            keys.extend(BUILD_FIELDS.iter().map(|field| KnownKey {
                name: field.name.to_owned(),
                meaning: field.meaning.to_owned(),
                unit: field.unit.to_owned(),
                takes: field.takes,
            }));
        }
        keys
    }

    fn declared(&self, path: &[&str]) -> Vec<&'static Declared> {
        let below = self.below().unwrap_or_default();
        match (self.doc.sort, path) {
            (Sort::List, []) => vec![&BESIDE],
            (Sort::Brief, []) => vec![&BESIDE, &BRIEF],
            (Sort::List | Sort::Brief, ["line"]) => vec![&LINE],
            (Sort::List | Sort::Brief, ["waive"]) => vec![&WAIVER],
            (Sort::Layer, path) if below == "settings.toml" => match path {
                ["rule", ..] => vec![&CHOICE],
                [] => Vec::new(),
                _ => vec![&SETTING],
            },
            (Sort::Layer, ["waive"]) => vec![&WAIVER],
            (Sort::Layer, ["case", rest @ ..]) if below.ends_with(".cases.toml") => match rest {
                [] => vec![&CASE],
                ["line"] => vec![&LINE],
                ["find"] => vec![&FIND],
                ["measure"] => vec![&MEASURE],
                _ => Vec::new(),
            },
            (Sort::Layer, [_]) if below.starts_with("parts/") => vec![&PART],
            (Sort::Layer, []) if below.starts_with("parts/") => vec![&PARTS],
            _ => Vec::new(),
        }
    }
}

/// What a part says beside its fields.
const PART: Declared = Declared {
    of: "a part",
    keys: &[
        key("complete", Takes::Flag, "what is left out here is known to be absent"),
        key("lacks", Takes::Texts, "fields that the part is known not to have"),
        key("replace", Takes::Flag, "takes the place of the part of the layer below as a whole"),
    ],
};
/// What stands at the top of a file of parts.
const PARTS: Declared = Declared {
    of: "a file of parts",
    keys: &[
        key("kind", Takes::Text, "the kind of its parts"),
        key("complete", Takes::Flag, "what its parts leave out is known to be absent"),
    ],
};
