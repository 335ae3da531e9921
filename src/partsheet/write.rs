//! Imported parts as a catalogue's file, each value with a comment on where it came from; a second
//! import changes only what changed.

use serde_json::Value;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, value};

use super::Imported;
use crate::source::Problem;
use crate::words::toml_number;

/// What an import changes in a file.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// A part that was not there.
    New(String),
    /// A value that is another now: the part, the field, before, after.
    Other(String, String, String, String),
    /// A value that was not there: the part, the field, the value.
    Added(String, String, String),
}

impl Change {
    /// The change in a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::New(part) => format!("{part} is new."),
            Self::Other(part, field, before, after)
                if field == "socket" || field == "memory_kind" =>
            {
                format!(
                    "{part}: {field} was {before} and is {after} now. \
                     Is it another part under the same name?"
                )
            }
            Self::Other(part, field, before, after) => {
                format!("{part}: {field} was {before}, is {after}.")
            }
            Self::Added(part, field, now) => format!("{part}: {field} is {now}."),
        }
    }
}

/// Puts parts into a file's text, or into a new one.
///
/// # Errors
/// The file is no TOML, or holds parts of another kind.
pub fn merged(
    text: &str,
    name: &str,
    kind: &str,
    parts: &[Imported],
) -> Result<(String, Vec<Change>), Problem> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|_| Problem::new(format!("{name} is not valid TOML; nothing is written")))?;
    match document.get("kind").map(|k| k.as_str().unwrap_or("").to_owned()) {
        Some(held) if held != kind => {
            return Err(Problem::new(format!(
                "{name} holds parts of kind {held}, not {kind}; nothing is written"
            ))
            .help("name another file after --into"));
        }
        Some(_) => {}
        None => {
            document.insert("kind", value(kind));
        }
    }
    let mut changes = Vec::new();
    if parts.len() > 1 && parts.iter().any(|part| part.name.is_empty()) {
        return Err(Problem::new("a part of several has no name; nothing is written")
            .help("give each a name in the source"));
    }
    for part in parts {
        let id = part.id.rsplit('/').next().unwrap_or(&part.id).to_owned();
        let fresh = !document.contains_key(&id);
        if fresh {
            changes.push(Change::New(part.id.clone()));
            let mut table = Table::new();
            table.insert("name", value(part.name.clone()));
            document.insert(&id, Item::Table(table));
        }
        let Some(table) = document.get_mut(&id).and_then(Item::as_table_mut) else {
            return Err(Problem::new(format!("{name}: `{id}` is no part; nothing is written")));
        };
        for (field, read) in &part.fields {
            let now = to_toml(&read.value);
            let before = table
                .get(field)
                .and_then(Item::as_value)
                .map(|v| v.clone().decorated("", "").to_string());
            let after = now.clone().decorated("", "").to_string();
            if before.as_deref().is_some_and(|b| same(b, &after)) {
                continue;
            }
            if !fresh {
                changes.push(match before {
                    Some(before) => Change::Other(part.id.clone(), field.clone(), before, after),
                    None => Change::Added(part.id.clone(), field.clone(), after),
                });
            }
            let from: String =
                read.from.chars().map(|c| if c.is_control() { ' ' } else { c }).take(120).collect();
            let mut now = now;
            now.decor_mut().set_suffix(format!("  # line {}: {from}", read.line));
            table.insert(field, Item::Value(now));
        }
    }
    Ok((document.to_string(), changes))
}

/// Whether two values are the same but for how they are written.
fn same(a: &str, b: &str) -> bool {
    let read = |t: &str| format!("x = {t}").parse::<toml::Table>().ok();
    read(a).is_some() && read(a) == read(b)
}

pub(super) fn to_toml(json: &Value) -> toml_edit::Value {
    match json {
        Value::Bool(flag) => (*flag).into(),
        Value::Number(number) => toml_number(number.as_f64().unwrap_or(0.0)),
        Value::Array(items) => {
            let mut array: Array = items.iter().map(to_toml).collect();
            if items.iter().any(Value::is_object) {
                for item in array.iter_mut() {
                    item.decor_mut().set_prefix("\n  ");
                }
                array.set_trailing("\n");
                array.set_trailing_comma(true);
            }
            array.into()
        }
        Value::Object(map) => {
            let mut table = InlineTable::new();
            for (key, item) in map {
                table.insert(key, to_toml(item));
            }
            table.into()
        }
        Value::String(text) => text.as_str().into(),
        Value::Null => "".into(),
    }
}
