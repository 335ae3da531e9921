//! Facts of catalogue parts that were written into a list, moved to the shop's file of known facts.

use toml_edit::{Array, DocumentMut, Item, Key, Table, TableLike, Value};

use super::edit::{self, Edit};
use super::edit_facts::Known;
use crate::build::{Build, What};
use crate::source::Problem;
use crate::words::clip;

/// How the file begins.
const HEAD: &str =
    "# Facts that somebody looked up, by part; the words they came from stand behind them.\n\n";

/// A fact of a catalogue part.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    /// Id of the part.
    pub part: String,
    /// The field's word.
    pub field: String,
    /// The value as TOML; none where the part is known to lack the field.
    pub value: Option<String>,
}

/// The facts that lines of a list add to parts of the catalogue, and the list without them.
/// Errors: the list cannot be edited, or two lines say different things of one part.
pub fn taken_out(text: &str, build: &Build) -> Result<(String, Vec<Fact>), Problem> {
    let document: DocumentMut = edit::read(text)?;
    let (mut facts, mut edits): (Vec<Fact>, Vec<Edit>) = (Vec::new(), Vec::new());
    for (at, line) in build.lines.iter().enumerate() {
        let What::Part(part) = &line.what else { continue };
        // A part that only its line describes lies over none of the catalogue.
        if part.under.is_none() {
            continue;
        }
        for (field, value) in written(&document, at) {
            let fact = Fact { part: part.id.to_string(), field: field.clone(), value };
            let other = facts.iter().find(|f| f.part == fact.part && f.field == field);
            match other {
                Some(other) if other.value != fact.value => {
                    return Err(Problem::new(format!(
                        "two lines say different things of {}: {field} is {} and {}",
                        fact.part,
                        shown(other.value.as_deref()),
                        shown(fact.value.as_deref())
                    ))
                    .help("correct one of them; nothing is written"));
                }
                Some(_) => {}
                None => facts.push(fact),
            }
            edits.push(Edit::Fact(Known { line: at, field, value: None, lacks: false }));
        }
    }
    Ok((edit::apply(text, &edits)?, facts))
}

/// The facts on a line, those that it says are lacking among them.
fn written(document: &DocumentMut, line: usize) -> Vec<(String, Option<String>)> {
    let table: Option<&dyn TableLike> = match document.get("line") {
        Some(Item::ArrayOfTables(tables)) => tables.get(line).map(|t| t as &dyn TableLike),
        Some(Item::Value(Value::Array(array))) => {
            array.get(line).and_then(Value::as_inline_table).map(|t| t as &dyn TableLike)
        }
        _ => None,
    };
    let facts = table.and_then(|t| t.get("facts")).and_then(Item::as_table_like);
    let mut found = Vec::new();
    for (field, item) in facts.into_iter().flat_map(TableLike::iter) {
        let Some(value) = item.as_value() else { continue };
        match (field, value) {
            ("lacks", Value::Array(names)) => {
                found.extend(names.iter().filter_map(|n| n.as_str()).map(|n| (n.to_owned(), None)))
            }
            _ => found.push((field.to_owned(), Some(value.clone().decorated("", "").to_string()))),
        }
    }
    found
}

/// The shop's file of known facts with these among them, each with the words it came from.
/// Errors: the file is no TOML, or says otherwise already.
pub fn merged(
    held: &str,
    name: &str,
    facts: &[Fact],
    words: impl Fn(&Fact) -> String,
) -> Result<String, Problem> {
    let mut document: DocumentMut = held.parse().map_err(|_| {
        Problem::new(format!(
            "{name} is not valid TOML, so no fact can be added; nothing is written"
        ))
    })?;
    for fact in facts {
        let lead = if document.is_empty() && held.trim().is_empty() { HEAD } else { "\n" };
        let fresh = document.get(&fact.part).is_none();
        if fresh {
            let mut table = Table::new();
            table.decor_mut().set_prefix(lead);
            document.insert_formatted(&Key::new(&fact.part), Item::Table(table));
        }
        let table = document.get_mut(&fact.part).and_then(Item::as_table_like_mut);
        let table = table.ok_or_else(|| {
            Problem::new(format!("{name}: `{}` is not a table of fields", clip(&fact.part, 60)))
                .help("nothing is written")
        })?;
        add(table, fact, name, &words(fact))?;
    }
    Ok(document.to_string())
}

fn add(table: &mut dyn TableLike, fact: &Fact, name: &str, words: &str) -> Result<(), Problem> {
    let lacks = table.get("lacks").and_then(Item::as_array).cloned().unwrap_or_default();
    let lacking = lacks.iter().any(|n| n.as_str() == Some(&fact.field));
    let held = table.get(&fact.field).and_then(Item::as_value);
    let held = held.map(|value| value.clone().decorated("", "").to_string());
    if lacking || held.is_some() {
        // The same fact twice is one; the words it first came from stay.
        return if held == fact.value {
            Ok(())
        } else {
            Err(Problem::new(format!(
                "{name} has {} = {} for {}, and the list {}",
                fact.field,
                shown(held.as_deref()),
                fact.part,
                shown(fact.value.as_deref())
            ))
            .help("correct one of them; nothing is written"))
        };
    }
    let comment = format!(" # {}", comment(words));
    match &fact.value {
        Some(text) => {
            let value = text.parse::<Value>().map_err(|_| {
                Problem::new(format!("`{}` cannot be written as a value", clip(text, 40)))
            })?;
            table.insert(&fact.field, Item::Value(value.decorated(" ", comment)));
        }
        None => {
            let mut lacks: Array = lacks;
            lacks.push(fact.field.as_str());
            lacks.fmt();
            table.insert("lacks", Item::Value(Value::Array(lacks).decorated(" ", comment)));
        }
    }
    Ok(())
}

/// Words that may stand in a comment: on one line, with nothing that acts on a terminal.
fn comment(words: &str) -> String {
    let plain: String = words.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    clip(plain.trim(), 160)
}

fn shown(value: Option<&str>) -> String {
    value.map_or_else(|| "absent".to_owned(), |value| clip(value, 60))
}

#[cfg(test)]
#[path = "../../tests/unit/whatif/known_file.rs"]
mod tests;
