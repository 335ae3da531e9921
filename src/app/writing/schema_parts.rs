//! Pieces of JSON Schemas: a kind's fields, numbers with bounds, words of a table.

use serde_json::{Map, Value, json};

use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind, Words};
use crate::catalogue::value::Val;

/// An object with these keys and no others.
pub(super) fn closed(properties: impl Into<Value>, required: &[&str]) -> Value {
    let properties = properties.into();
    json!({ "type": "object", "properties": properties, "required": required,
    "additionalProperties": false })
}

/// A text that says something.
pub(super) fn text(meaning: &str) -> Value {
    json!({ "type": "string", "description": meaning })
}

pub(super) fn one_of(meaning: &str, words: Vec<String>) -> Value {
    json!({ "type": "string", "enum": words, "description": meaning })
}

/// A number between two bounds.
pub(super) fn number(
    meaning: &str,
    unit: &str,
    low: f64,
    high: f64,
    default: Option<f64>,
) -> Value {
    let meaning =
        if unit.is_empty() { meaning.to_owned() } else { format!("{meaning}, in {unit}") };
    let mut number = json!({ "type": "number", "description": meaning });
    // The bounds that stand for none are left out.
    if low > -1e15 {
        number["minimum"] = json!(low);
    }
    if high < 1e15 {
        number["maximum"] = json!(high);
    }
    if let Some(default) = default {
        number["default"] = json!(default);
    }
    number
}

/// A part's fields; whole parts must give the required ones.
pub(super) fn kind_fields(catalogue: &Catalogue, kind: &Kind, whole: bool) -> Value {
    let mut properties: Map<String, Value> =
        kind.fields.iter().map(|f| (f.name.to_string(), field(catalogue, f, whole))).collect();
    if whole {
        let flag = |meaning: &str| json!({ "type": "boolean", "description": meaning });
        properties.insert("complete".into(), flag("what it leaves out, it does not have"));
        properties.insert("replace".into(), flag("nothing of a lower layer's part counts"));
        properties.insert(
            "lacks".into(),
            json!({ "type": "array", "items": { "type": "string" },
            "description": "fields that it is known not to have" }),
        );
    }
    closed(properties, &required(&kind.fields, whole))
}

fn required(fields: &[Field], whole: bool) -> Vec<&str> {
    fields.iter().filter(|f| whole && f.required).map(|f| &*f.name).collect()
}

fn field(catalogue: &Catalogue, field: &Field, whole: bool) -> Value {
    let meaning = field.meaning.as_str();
    let default = field.absent.as_ref();
    let mut made = match &field.ty {
        FieldType::Number => {
            number(meaning, &field.unit, field.min, field.max, default.and_then(Val::as_num))
        }
        FieldType::Text(words) => {
            let mut made = word(catalogue, words);
            made["description"] = meaning.into();
            made
        }
        FieldType::Flag => json!({ "type": "boolean", "description": meaning }),
        FieldType::List(words) => {
            json!({ "type": "array", "items": word(catalogue, words), "description": meaning })
        }
        FieldType::Counts(words) => {
            json!({
                "type": "object",
                "propertyNames": word(catalogue, words),
                "additionalProperties": { "type": "number", "minimum": 0 },
                "description": meaning,
            })
        }
        FieldType::Records(fields) => {
            let properties: Map<String, Value> = fields
                .iter()
                .map(|f| (f.name.to_string(), self::field(catalogue, f, whole)))
                .collect();
            json!({ "type": "array", "items": closed(properties, &required(fields,
            whole)), "description": meaning })
        }
    };
    match default {
        Some(Val::Text(text)) => made["default"] = json!(&**text),
        Some(Val::Flag(flag)) => made["default"] = json!(flag),
        _ => {}
    }
    made
}

fn word(catalogue: &Catalogue, words: &Words) -> Value {
    if matches!(words, Words::Any) {
        return json!({ "type": "string" });
    }
    let list: Vec<&str> = catalogue.words_of(words).iter().map(|w| &**w).collect();
    json!({ "type": "string", "enum": list })
}
