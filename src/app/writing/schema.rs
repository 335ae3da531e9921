//! `dryfit schema NAME`: JSON Schemas of the files that people write, for editors, made from the
//! kinds and the build's fields; and of the report for programs.

use serde_json::{Map, Value, json};

use super::schema_parts::{closed, kind_fields, number, one_of, text};
use crate::build::brief::{BRIEF_KEYS, MAX_AIMS};
use crate::build::fields::{BUILD_FIELDS, BuildField, OTHER_KEYS, Shape};
use crate::build::read::{LINE_KEYS, OFFER_KEYS};
use crate::build::waivers::WAIVER_KEYS;
use crate::build::{MAX_COUNT, MAX_LINES};
use crate::cases::case::{CASE_KEYS, FIND_KEYS, MEASURE_KEYS};
use crate::catalogue::Catalogue;
use crate::catalogue::value::Val;
use crate::kit::Kit;
use crate::source::Problem;

/// The files that have a schema, and what each is.
pub const SCHEMAS: &[(&str, &str)] = &[
    ("build", "a parts list"),
    ("parts", "parts of the catalogue, catalogue/parts/NAME.toml"),
    ("cases", "rule cases, rules/NAME.cases.toml"),
    ("settings", "what rules ask for, rules/settings.toml"),
    ("brief", "what a customer asks for"),
    ("audit", "what `audit --format json` writes"),
    ("waivers", "findings signed off, rules/waivers.toml"),
];

/// One schema.
///
/// # Errors
/// There is no schema of that name.
pub fn schema(kit: &Kit, name: &str) -> Result<Value, Problem> {
    let catalogue = kit.catalogue();
    let body = match name {
        "build" => build(catalogue),
        "parts" => parts(catalogue),
        "cases" => cases(kit),
        "settings" => settings(kit),
        "brief" => brief(catalogue),
        "audit" => {
            return serde_json::from_str(crate::app::report::json::SCHEMA).map_err(|e| {
                Problem::new(format!("the schema of the report cannot be read: {e}"))
            });
        }
        "waivers" => closed(json!({ "waive": waivers() }), &[]),
        _ => {
            let names: Vec<&str> = SCHEMAS.iter().map(|(n, _)| *n).collect();
            return Err(Problem::new(format!("there is no schema `{name}`"))
                .help(format!("known here: {}", names.join(", "))));
        }
    };
    let meaning = SCHEMAS.iter().find(|(n, _)| *n == name).map_or("", |(_, m)| m);
    let mut whole = Map::new();
    whole.insert("$schema".into(), "https://json-schema.org/draft/2020-12/schema".into());
    whole.insert("title".into(), format!("dryfit: {meaning}").into());
    if let Value::Object(body) = body {
        whole.extend(body);
    }
    Ok(Value::Object(whole))
}

fn day(meaning: &str) -> Value {
    json!({ "type": "string", "pattern": "^\\d{4}-\\d{2}-\\d{2}$", "description": meaning })
}

fn field(catalogue: &Catalogue, field: &BuildField) -> Value {
    match field.shape {
        Shape::Text => text(field.meaning),
        Shape::Purpose => one_of(field.meaning, rows(catalogue, "purpose")),
        Shape::Number(low, high) => number(field.meaning, field.unit, low, high, field.default),
        Shape::Money => money(field.meaning),
    }
}

fn money(meaning: &str) -> Value {
    json!({ "type": "string", "pattern": "^\\d+(\\.\\d+)? \
     [A-Z]{3}$", "description": format!("{meaning}, such as \"1450.00 EUR\"") })
}

fn rows(catalogue: &Catalogue, table: &str) -> Vec<String> {
    catalogue
        .table_id(table)
        .and_then(|id| catalogue.table(id))
        .map(|t| t.rows.iter().map(ToString::to_string).collect())
        .unwrap_or_default()
}

/// Fields of a build that rules may read.
fn build_fields(catalogue: &Catalogue) -> Map<String, Value> {
    let mut fields: Map<String, Value> =
        BUILD_FIELDS.iter().map(|f| (f.name.to_owned(), field(catalogue, f))).collect();
    fields.insert("priced_on".into(), day("offers count as of this day"));
    fields
}

fn build(catalogue: &Catalogue) -> Value {
    let mut properties = build_fields(catalogue);
    properties.insert("note".into(), text("for people"));
    properties.insert(
        "bundles".into(),
        json!({ "type": "array", "items": one_of("the part's \
         id", part_ids(catalogue)), "description": "parts that are worth having when a seller adds \
         them" }),
    );
    properties.insert(
        "line".into(),
        json!({ "type": "array", "minItems": 1, "maxItems": MAX_LINES, "items": line(catalogue) }),
    );
    properties.insert("waive".into(), waivers());
    debug_assert!(
        OTHER_KEYS.iter().all(|k| properties.contains_key(*k)),
        "every key of a build has its schema"
    );
    closed(Value::Object(properties), &["line"])
}

fn kinds(catalogue: &Catalogue) -> Vec<String> {
    catalogue.kinds.iter().map(|k| k.name.to_string()).collect()
}

fn part_ids(catalogue: &Catalogue) -> Vec<String> {
    let mut ids: Vec<String> = catalogue.parts.iter().map(|p| p.id.to_string()).collect();
    ids.sort();
    ids
}

/// What a line says beside the part it names.
fn line_words(catalogue: &Catalogue) -> Map<String, Value> {
    let mut words = Map::new();
    words.insert("count".into(), json!({ "type": "integer", "minimum": 1, "maximum": MAX_COUNT, "default": 1, "description": "pieces" }));
    words.insert("mount".into(), one_of("where it is fitted", rows(catalogue, "mount")));
    words.insert("flow".into(), one_of("which way it blows", vec!["in".into(), "out".into()]));
    words.insert(
        "owned".into(),
        json!({ "type": "boolean", "default": false, "description": "the \
     customer has it already" }),
    );
    words.insert(
        "included".into(),
        json!({ "type": "boolean", "default": true,
    "description": "false leaves out what comes in its box" }),
    );
    words.insert(
        "quoted".into(),
        closed(
            json!({ "price": money("price of one"), "on": day("the day it was quoted") }),
            &["price", "on"],
        ),
    );
    words.insert("note".into(), text("for people"));
    words
}

fn line(catalogue: &Catalogue) -> Value {
    let mut properties = line_words(catalogue);
    properties.insert("part".into(), one_of("the part's id", part_ids(catalogue)));
    properties.insert("any".into(), one_of("a kind: the line is left open", kinds(catalogue)));
    properties.insert(
        "wants".into(),
        json!({ "type": "array", "items": { "type": "string" },
    "description": "what an open line must meet, as expressions" }),
    );
    debug_assert!(
        LINE_KEYS.len() == properties.len()
            && LINE_KEYS.iter().all(|k| properties.contains_key(*k)),
        "every key of a line has its schema"
    );
    let mut line = closed(Value::Object(properties), &[]);
    if let Value::Object(line) = &mut line {
        line.insert("oneOf".into(), json!([{ "required": ["part"] }, { "required": ["any"] }]));
    }
    line
}

fn parts(catalogue: &Catalogue) -> Value {
    let each: Vec<Value> = catalogue
        .kinds
        .iter()
        .map(|kind| {
            json!({
                "description": format!("{}: {}", kind.title, kind.meaning),
                "properties": { "kind": { "const": &*kind.name } },
                "additionalProperties": kind_fields(catalogue, kind, true),
            })
        })
        .collect();
    json!({ "type": "object", "required": ["kind"], "properties": { "kind": one_of("what kind of \
     parts the file holds", kinds(catalogue)) }, "oneOf": each })
}

fn strings(meaning: &str) -> Value {
    json!({ "type": "array", "items": { "type": "string" }, "description": meaning })
}

fn cases(kit: &Kit) -> Value {
    let catalogue = kit.catalogue();
    let rules = kit.rules();
    let ids: Vec<String> = rules.rules.iter().map(|r| r.id.to_string()).collect();
    let measures: Vec<String> =
        rules.rules.iter().filter(|r| r.unit.is_some()).map(|r| r.id.to_string()).collect();
    let find = json!({
        "rule": { "$ref": "#/$defs/rule" },
        "level": one_of("its level", vec!["stop".into(), "caution".into(), "advice".into()]),
        "at": strings("places it points at: kind.field, build.field or setting:name"),
        "says": text("words of its message"),
        "times": { "type": "integer", "minimum": 1, "description": "how many such findings there are" },
    });
    let measure = json!({ "name": one_of("the measure", measures), "value": { "type": "number" }, "within": { "type": "number", "minimum": 0 }, "absent": { "type": "boolean" } });
    let settings: Map<String, Value> = kit
        .settings()
        .all()
        .iter()
        .map(|s| (s.name.to_string(), setting_value(&s.value, &s.meaning)))
        .collect();
    let case = json!({
        "name": text("what it shows"),
        "base": text("a build file to start from, counted from the cases file"),
        "without": strings("kinds or parts of the base to take out"),
        "build": closed(Value::Object(build_fields(catalogue)), &[]),
        "line": { "type": "array", "items": { "oneOf": [case_line(catalogue),
        { "oneOf": spots(catalogue) }] } },
        "find": { "type": "array", "items": closed(find.clone(), &["rule"]) },
        "silent": { "type": "array", "items": { "$ref": "#/$defs/rule" } },
        "measure": { "type": "array", "items": closed(measure.clone(), &["name"]) },
        "setting": closed(Value::Object(settings), &[]),
        "note": text("for people"),
    });
    debug_assert!(
        same_keys(&case, CASE_KEYS)
            && same_keys(&find, FIND_KEYS)
            && same_keys(&measure, MEASURE_KEYS)
    );
    let mut whole = closed(
        json!({ "case": { "type": "array", "minItems": 1, "items": closed(case, &["name"]) } }),
        &["case"],
    );
    if let Value::Object(whole) = &mut whole {
        whole.insert("$defs".into(), json!({ "rule": one_of("a rule's or measure's id", ids) }));
    }
    whole
}

fn same_keys(object: &Value, keys: &[&str]) -> bool {
    object
        .as_object()
        .is_some_and(|o| o.len() == keys.len() && keys.iter().all(|k| o.contains_key(*k)))
}

fn setting_value(value: &Val, meaning: &str) -> Value {
    match value {
        Val::Text(_) => text(meaning),
        _ => json!({ "type": "number", "description": meaning }),
    }
}

/// What the sellers say, as a case may write it on a line.
fn offers() -> Map<String, Value> {
    OFFER_KEYS
        .iter()
        .map(|key| {
            (
                (*key).to_owned(),
                json!({ "type": "number", "description": "what the sellers say of it" }),
            )
        })
        .collect()
}

fn case_line(catalogue: &Catalogue) -> Value {
    let mut line = line(catalogue);
    if let Some(properties) = line.get_mut("properties").and_then(Value::as_object_mut) {
        properties.insert(
            "set".into(),
            json!({ "type": "object", "description": "fields of the \
         part that are otherwise here" }),
        );
        properties.extend(offers());
    }
    line
}

/// Parts written on the spot, kind by kind: only the fields that are read.
fn spots(catalogue: &Catalogue) -> Vec<Value> {
    catalogue
        .kinds
        .iter()
        .map(|kind| {
            let mut spot = kind_fields(catalogue, kind, false);
            if let Some(properties) = spot.get_mut("properties").and_then(Value::as_object_mut) {
                properties.extend(line_words(catalogue));
                properties.extend(offers());
                properties.insert("kind".into(), json!({ "const": &*kind.name }));
            }
            if let Value::Object(spot) = &mut spot {
                spot.insert("required".into(), json!(["kind"]));
            }
            spot
        })
        .collect()
}

fn settings(kit: &Kit) -> Value {
    let one = |value: Value| {
        closed(
            json!({ "value": value, "unit": text("unit of a number"), "meaning": text("what it means"), "basis": text("where the figure comes from") }),
            &["value"],
        )
    };
    let any = one(json!({ "type": ["number", "string"] }));
    let mut files: Map<String, Value> = Map::new();
    let held = kit.settings();
    for setting in held.all() {
        let value = one(setting_value(&setting.value, &setting.meaning));
        match setting.name.split_once('.') {
            Some((file, name)) => {
                let file = files.entry(file.to_owned()).or_insert_with(
                    || json!({ "type": "object", "properties": {}, "additionalProperties": any }),
                );
                if let Some(properties) = file.get_mut("properties").and_then(Value::as_object_mut)
                {
                    properties.insert(name.to_owned(), value);
                }
            }
            None => {
                files.insert(setting.name.to_string(), value);
            }
        }
    }
    let choice = closed(
        json!({ "level": one_of("another level for its findings", vec!["stop".into(),
        "caution".into(), "advice".into()]), "off": { "type": "boolean" }, "reason": text("why, \
         for the next person") }),
        &["reason"],
    );
    let ids: Map<String, Value> =
        kit.rules().rules.iter().map(|r| (r.id.to_string(), choice.clone())).collect();
    files.insert("rule".into(), closed(Value::Object(ids), &[]));
    json!({ "type": "object", "properties": files, "additionalProperties": { "anyOf": [any,
    { "type": "object", "additionalProperties": any }] } })
}

fn brief(catalogue: &Catalogue) -> Value {
    let aim = |meaning: &str| {
        json!({ "oneOf": [text(meaning), { "type": "array",
    "items": text(meaning), "maxItems": MAX_AIMS }] })
    };
    let mut properties = build_fields(catalogue);
    properties.insert("note".into(), text("for people"));
    properties.insert(
        "needs".into(),
        json!({ "type": "array", "items": one_of("a \
     kind", kinds(catalogue)), "description": "kinds that there must be" }),
    );
    properties.insert(
        "wants".into(),
        strings("what the build must meet, as expressions over `build` that say yes or no"),
    );
    properties.insert("minimise".into(), aim("`price`, a measure, or an expression over `build`"));
    properties.insert("maximise".into(), aim("a measure, or an expression over `build`"));
    properties.insert(
        "tolerate".into(),
        one_of(
            "the worst that the build may have; left out, a list has cautions only where none \
             without them meets the brief",
            vec!["caution".into(), "advice".into()],
        ),
    );
    properties.insert(
        "line".into(),
        json!({ "type": "array", "maxItems": MAX_LINES,
    "items": line(catalogue), "description": "lines that are fixed, owned, or open with wants of \
     their own" }),
    );
    properties.insert("waive".into(), waivers());
    properties
        .insert("bundles".into(), strings("parts that are worth having when a seller adds them"));
    debug_assert!(
        BRIEF_KEYS.iter().all(|k| properties.contains_key(*k)),
        "every key of a brief has its schema"
    );
    let mut whole = closed(Value::Object(properties), &[]);
    if let Value::Object(whole) = &mut whole {
        whole.insert("anyOf".into(), json!([{ "required": ["needs"] }, { "required": ["line"] }]));
    }
    whole
}

fn waivers() -> Value {
    let properties: Map<String, Value> = WAIVER_KEYS
        .iter()
        .map(|(key, meaning)| {
            ((*key).to_owned(), if *key == "until" { day(meaning) } else { text(meaning) })
        })
        .collect();
    let keys: Vec<&str> = WAIVER_KEYS.iter().map(|(k, _)| *k).collect();
    json!({ "type": "array", "items": closed(Value::Object(properties), &keys) })
}
