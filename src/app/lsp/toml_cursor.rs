//! Where the cursor is in a TOML text of ours, and what may be written there.

use std::path::Path;

use serde_json::Value;

use super::cursor_requests::Here;
use super::documents::Sort;
use super::toml_outline::{TomlEntry, TomlOutline, TomlTable, strings_in};
use crate::app::writing::schema_config;
use crate::build::brief::BRIEF;
use crate::build::fields::{BUILD_FIELDS, BuildField};
use crate::build::read::{BESIDE, LINE};
use crate::build::waivers::WAIVER;
use crate::cases::case::{CASE, FIND, MEASURE};
use crate::catalogue::Part;
use crate::catalogue::declared::{Declared, Key, Takes, key};
use crate::catalogue::kind_keys::{FIELD, KIND};
use crate::catalogue::kinds::{Field, Kind};
use crate::catalogue::tables::{COLUMN, TABLE};
use crate::config;
use crate::settings::{CHOICE, SETTING};
use crate::source::Span;

pub(super) struct Cursor<'o> {
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

pub(super) struct KnownKey {
    pub(super) name: String,
    pub(super) meaning: String,
    /// The unit of its number; empty when it has none.
    pub(super) unit: String,
    pub(super) takes: Takes,
    /// The words that it may be, where they come from what is loaded.
    pub(super) words: Vec<String>,
}

impl KnownKey {
    fn of(name: &str, meaning: &str, unit: &str, takes: Takes) -> Self {
        let (name, meaning) = (name.to_owned(), meaning.to_owned());
        Self { name, meaning, unit: unit.to_owned(), takes, words: Vec::new() }
    }
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
        let named = |word: &str| catalogue.kind_named(word);
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
            let of = |f: &Field| KnownKey::of(&f.name, &f.meaning, &f.unit, Takes::Other);
            keys.extend(fields.iter().map(of));
            if self.below().is_none() {
                return keys;
            }
        }
        for declared in self.declared(&path) {
            let of = |k: &Key| KnownKey::of(k.name, k.meaning, k.unit, k.takes);
            keys.extend(declared.keys.iter().map(of));
        }
        if path.is_empty() && matches!(self.doc.sort, Sort::List | Sort::Brief) {
            let of = |f: &BuildField| KnownKey::of(f.name, f.meaning, f.unit, f.takes);
            keys.extend(BUILD_FIELDS.iter().map(of));
        }
        if let (Some(kit), true) = (self.kit(), self.is_config()) {
            keys.extend(config_keys(&schema_config::config(kit), &path));
        }
        if self.below().is_some_and(|below| below.starts_with("tables/")) && path.len() == 2 {
            keys.extend(self.columns(path.first().is_some_and(|word| *word == "row")));
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
            (Sort::Layer, []) if below.starts_with("kinds/") => vec![&KIND],
            (Sort::Layer, ["field", _] | ["field", _, "field", _])
                if below.starts_with("kinds/") =>
            {
                vec![&FIELD]
            }
            (Sort::Layer, []) if below.starts_with("tables/") => vec![&TABLE],
            (Sort::Layer, ["column", _]) if below.starts_with("tables/") => vec![&COLUMN],
            _ => Vec::new(),
        }
    }
}

impl Here<'_> {
    /// Whether the text is the shop's `dryfit.toml`.
    pub(super) fn is_config(&self) -> bool {
        let name = self.doc.path.as_deref().and_then(Path::file_name);
        name.is_some_and(|name| name == config::NAME)
    }

    /// The columns of the table that a text holds, for its rows.
    fn columns(&self, in_row: bool) -> Vec<KnownKey> {
        let tables = self.outline.tables.iter().filter(|_| in_row);
        let of = |table: &TomlTable| match table.path.iter().map(String::as_str).collect::<Vec<_>>()
            [..]
        {
            ["column", name] => {
                let said = |key| table.text(self.text(), key).unwrap_or("");
                Some(KnownKey::of(name, said("meaning"), said("unit"), Takes::Other))
            }
            _ => None,
        };
        tables.filter_map(of).collect()
    }
}

/// The keys that `dryfit.toml` may hold at a path, from its schema.
fn config_keys(schema: &Value, path: &[&str]) -> Vec<KnownKey> {
    let mut at = schema;
    for name in path {
        let by_name = at.pointer("/properties").and_then(|all| all.get(name));
        // What the shop names itself, such as a pack, is all of one form.
        let Some(inner) = by_name.or(at.get("additionalProperties")) else { return Vec::new() };
        // Of a list of tables each is of one form; of two ways to write it, the table is meant.
        let either = inner.pointer("/oneOf/1").filter(|form| form.get("properties").is_some());
        let table = either.or(inner.get("items"));
        at = table.unwrap_or(inner);
    }
    let text = |value: &Value, key: &str| value[key].as_str().unwrap_or("").to_owned();
    let words = |value: &Value| -> Vec<String> {
        let all = value["enum"].as_array().into_iter().flatten();
        all.filter_map(|word| word.as_str().map(str::to_owned)).collect()
    };
    let properties = at["properties"].as_object().into_iter().flatten();
    let known = properties.map(|(name, value)| KnownKey {
        words: words(value),
        ..KnownKey::of(
            name,
            &text(value, "description"),
            "",
            if value["type"] == "boolean" { Takes::Flag } else { Takes::Text },
        )
    });
    known.collect()
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
