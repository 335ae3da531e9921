//! JSON Schemas of declared tables: what their reader holds, an editor holds as well.

use serde_json::{Map, Value, json};

use super::schema_parts::{closed, number, one_of, text};
use crate::catalogue::Catalogue;
use crate::catalogue::declared::{Declared, Takes};

/// A table with its keys and no others.
pub(super) fn table(catalogue: &Catalogue, declared: &Declared) -> Value {
    let needed: Vec<&str> = declared.keys.iter().filter(|k| k.needed).map(|k| k.name).collect();
    closed(properties(catalogue, &[declared]), &needed)
}

/// The keys of several tables that are one in a file.
pub(super) fn properties(catalogue: &Catalogue, all: &[&Declared]) -> Map<String, Value> {
    let keys = all.iter().flat_map(|d| d.keys);
    keys.map(|k| (k.name.to_owned(), takes(catalogue, k.takes, k.meaning))).collect()
}

/// Changes one property.
pub(super) fn describe(
    properties: &mut Map<String, Value>,
    key: &str,
    change: impl FnOnce(&mut Map<String, Value>),
) {
    if let Some(property) = properties.get_mut(key).and_then(Value::as_object_mut) {
        change(property);
    }
}

pub(super) fn takes(catalogue: &Catalogue, takes: Takes, meaning: &str) -> Value {
    let words = |words: &[&str]| one_of(meaning, words.iter().map(|w| (*w).to_owned()).collect());
    let texts =
        || json!({ "type": "array", "items": { "type": "string" }, "description": meaning });
    match takes {
        Takes::Text => text(meaning),
        Takes::Flag => json!({ "type": "boolean", "description": meaning }),
        Takes::Number(low, high) => number(meaning, "", low, high, None),
        Takes::Whole(low, high) => {
            json!({ "type": "integer", "minimum": low, "maximum": high, "description": meaning })
        }
        Takes::Figure => json!({ "type": ["number", "string"], "description": meaning }),
        Takes::Day => json!({ "type": "string", "pattern": "^\\d{4}-\\d{2}-\\d{2}$",
            "description": meaning }),
        Takes::Money | Takes::Rate => json!({ "type": "string",
            "pattern": "^\\d+(\\.\\d+)? [A-Z]{3}$",
            "description": format!("{meaning}, such as \"1450.00 EUR\"") }),
        Takes::Words(list) => words(list),
        Takes::Rows(table) => {
            words(&catalogue.words(table).iter().map(|w| &**w).collect::<Vec<_>>())
        }
        Takes::Texts => texts(),
        Takes::TextOrTexts => json!({ "oneOf": [text(meaning), texts()] }),
        Takes::Table(declared) => table(catalogue, declared),
        Takes::Tables(declared) => json!({ "type": "array", "items": table(catalogue, declared),
            "description": meaning }),
        Takes::Other => json!({ "type": "object", "description": meaning }),
    }
}
