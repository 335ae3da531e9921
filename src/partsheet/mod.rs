//! Parts from the pages of makers and the tables of wholesalers: each value with the text it came
//! from, and nothing that is not said.

mod board_headers;
mod case_records;
mod clauses;
mod fields;
mod grids;
mod label_fields;
mod measures;
mod pages;
mod reader;
mod record_fields;
mod records;
mod sockets;
mod told;
mod unlabelled;
mod words;
mod write;

use std::collections::BTreeMap;

use serde_json::Value;

use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Kind, KindId};
use crate::intake::{Aliases, Intake, Text, compact_text};
use crate::source::{Problem, Source};
use label_fields::Labels;
use reader::Reader;

pub use write::{Change, merged};

/// A value as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// The value.
    pub value: Value,
    /// The text it came from.
    pub from: String,
    /// The line of the text, from 1.
    pub line: usize,
}

/// A part as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// `kind/id`.
    pub id: String,
    /// Its name; empty where the page does not say it.
    pub name: String,
    /// Its fields, in the order of the kind's.
    pub fields: Vec<(String, Read)>,
    /// What was said and not understood.
    pub unread: Vec<String>,
    /// What gives no value, and why.
    pub notes: Vec<String>,
    /// Fields that are not given.
    pub missing: Vec<String>,
}

/// Which of a source's labels mean which fields, as a map file says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetMap {
    pub(super) labels: BTreeMap<String, String>,
}

impl SheetMap {
    /// Reads a map: `[fields]` with `"their label" = "field"`.
    ///
    /// # Errors
    /// It is no TOML, or names a field that the kind lacks, or none at all.
    pub fn parse(source: &Source, kind: &Kind) -> Result<Self, Problem> {
        let table: toml::Table = source.text.parse().map_err(|e: toml::de::Error| {
            Problem::new(format!("{} is not valid TOML: {}", source.name, e.message()))
        })?;
        let mut labels = BTreeMap::new();
        for (label, field) in
            table.get("fields").and_then(toml::Value::as_table).into_iter().flatten()
        {
            let field = field.as_str().unwrap_or("");
            if kind.field(field).is_none() && field != "id" {
                return Err(Problem::new(format!(
                    "{}: a {} has no field `{field}`",
                    source.name, kind.title
                ))
                .suggest(field, kind.fields.iter().map(|f| &*f.name)));
            }
            labels.insert(compact_text(label), field.to_owned());
        }
        if labels.is_empty() {
            return Err(Problem::new(format!("{} names no column", source.name))
                .help("write [fields] and below it \"their label\" = \"our field\""));
        }
        Ok(Self { labels })
    }
}

/// Whether a column's head, or a page's label, is of a set of compact words.
fn heads(set: &str, head: &str) -> bool {
    let key = compact_text(head);
    words::of(set).any(|w| w == key)
}

/// The value of a field as a page would say it ("2 x M.2 2280, PCIe 4.0 x4"), in TOML; none where
/// any of it is not understood.
pub fn value(catalogue: &Catalogue, kind: KindId, field: &str, text: &str) -> Option<String> {
    let schema = catalogue.kind(kind)?;
    let words = Intake::new(catalogue, Aliases::default());
    let map = SheetMap { labels: BTreeMap::from([(compact_text(field), field.to_owned())]) };
    let page = pages::page(&format!("{field}: {text}"), &|label| label == field);
    let labels = Labels::of(schema);
    let part = Reader::new(catalogue, &labels, &map, &words).part(&page);
    let (_, read) = part.fields.iter().find(|(name, _)| name == field)?;
    part.unread.is_empty().then(|| write::to_toml(&read.value).to_string())
}

/// Reads the parts of a page or of a table.
///
/// # Errors
/// There is nothing in it that names a part.
pub fn import(
    catalogue: &Catalogue,
    kind: KindId,
    text: &Text,
    map: &SheetMap,
    name: &str,
) -> Result<Vec<Imported>, Problem> {
    let schema = catalogue.kind(kind).ok_or_else(|| Problem::new("there is no such kind"))?;
    let known = Intake::new(catalogue, Aliases::default());
    let labels = Labels::of(schema);
    let reader = || Reader::new(catalogue, &labels, map, &known);
    let table = match text {
        Text::Plain(text) => pages::table(text),
        Text::Table(_) => None,
    };
    let table = table.or_else(|| text.table());
    let described = match (table, text) {
        (Some(table), _) => {
            let column = |set: &str| table.heads.iter().position(|h| heads(set, h));
            let (name, code) = (column("name_heads"), column("code_heads"));
            let own = |h: &String| {
                let key = compact_text(h);
                let mut names = schema.also.iter().map(|w| compact_text(w));
                compact_text(&schema.title) == key || names.any(|w| w == key)
            };
            // Of an item's number and its name the name has more letters.
            let letters = |at: &usize| -> usize {
                let cells = table.rows.iter().filter_map(|(_, row)| row.get(*at));
                cells.map(|c| c.chars().filter(|c| c.is_alphabetic()).count()).sum()
            };
            let own = table.heads.iter().position(own);
            let other = name;
            let name = name.into_iter().chain(own).max_by_key(letters);
            let code = code.or(other.filter(|at| Some(*at) != name));
            let labels = |cells: &mut dyn Iterator<Item = &String>| {
                cells.filter(|c| reader().knows_label(c)).count()
            };
            let first = labels(&mut table.rows.iter().filter_map(|(_, row)| row.first()));
            let heads = labels(&mut table.heads.iter().skip(1));
            if first * 2 > table.rows.len() && heads * 2 < table.heads.len() {
                pages::columns(&table)
            } else {
                pages::feed(&table, name.or(code), code)
            }
        }
        (None, Text::Plain(text)) => {
            let text = &*words::with_umlauts(schema, &crate::intake::page_text(text));
            let knower = reader();
            let knows = |label: &str| knower.knows_label(label);
            match grids::of_models(text, &knows) {
                Some(table) => pages::columns(&table),
                None => vec![pages::page(text, &knows)],
            }
        }
        (None, Text::Table(_)) => Vec::new(),
    };
    let parts = told_apart(described.into_iter().map(|d| reader().part(&d)));
    let nothing = parts.iter().all(|p| p.fields.len() < 2);
    if parts.is_empty() || nothing {
        let message = format!("{name} says nothing of a {} that could be read", schema.title);
        return Err(Problem::new(message).help(
            "a page has a line a fact, \"Label: value\"; a table has a head that names its \
             columns; `--map` says what they mean",
        ));
    }
    Ok(parts)
}

/// Parts of one name and unlike facts under names of their own; a part that is described twice
/// alike, once.
fn told_apart(parts: impl Iterator<Item = Imported>) -> Vec<Imported> {
    let mut apart: Vec<Imported> = Vec::new();
    for mut part in parts {
        let said = |p: &Imported| -> Vec<(String, Value)> {
            p.fields.iter().map(|(name, read)| (name.clone(), read.value.clone())).collect()
        };
        let alike = |held: &&Imported| !part.name.is_empty() && held.name == part.name;
        let twins = apart.iter().filter(alike).count();
        if twins == 0 {
            apart.push(part);
            continue;
        }
        if apart.iter().filter(alike).any(|held| said(held) == said(&part)) {
            continue;
        }
        part.notes.push(format!(
            "name: {} parts here are called {}, and unlike; this one is written as its number {}",
            twins + 1,
            part.name,
            twins + 1
        ));
        part.id = format!("{}-{}", part.id, twins + 1);
        apart.push(part);
    }
    apart
}
