//! The fields of a kind for who writes a rule: what each holds and means, what it is where a part
//! leaves it out, and which rules read it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::json;

use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::kit::usual_words;

#[derive(Serialize)]
pub(crate) struct FieldRow {
    /// Its name; that of a record's field stands behind the record's, with a point between.
    pub(crate) name: String,
    pub(crate) holds: String,
    pub(crate) meaning: String,
    /// What it is where a part leaves it out; empty where nothing is said of that.
    pub(crate) left_out: String,
    /// The rules that look at it.
    pub(crate) readers: Vec<String>,
}

/// Every field of a kind, each record's below it; `readers` are rules by place.
pub(crate) fn field_rows(kind: &Kind, readers: &BTreeMap<String, Vec<String>>) -> Vec<FieldRow> {
    let row = |name: String, field: &Field| FieldRow {
        holds: field.type_in_words(),
        meaning: field.meaning.clone(),
        left_out: left_out(field),
        readers: readers.get(&format!("{}.{name}", kind.name)).cloned().unwrap_or_default(),
        name,
    };
    let mut rows = Vec::new();
    for field in &kind.fields {
        rows.push(row(field.name.to_string(), field));
        if let FieldType::Records(inner) = &field.ty {
            rows.extend(inner.iter().map(|sub| row(format!("{}.{}", field.name, sub.name), sub)));
        }
    }
    rows
}

fn left_out(field: &Field) -> String {
    let state = match (field.required, &field.absent, field.optional) {
        (true, ..) => "every part gives it".to_owned(),
        (_, Some(value), _) => {
            let unit = if value.as_num().is_some() { &*field.unit } else { "" };
            format!("left out, it is {} {unit}", value.show()).trim_end().to_owned()
        }
        (_, _, true) => "a part may have none".to_owned(),
        _ => String::new(),
    };
    let usual = field.usual.as_ref().map(|usual| {
        format!("assumed where unknown: {} ({})", usual_words(usual, &field.unit), usual.basis)
    });
    [state, usual.unwrap_or_default()]
        .into_iter()
        .filter(|s| !s.is_empty())
        .collect::<Vec<_>>()
        .join("; ")
}

/// A kind with its fields, for people.
pub(crate) fn text(look: Look, kind: &Kind, readers: &BTreeMap<String, Vec<String>>) -> String {
    let about = json!({ "name": &*kind.name, "meaning": kind.meaning, "also": kind.also.join(", "),
    "rows": field_rows(kind, readers) });
    Page::new(look).filled("kind.txt", "", about)
}
