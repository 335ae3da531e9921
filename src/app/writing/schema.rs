//! `dryfit schema NAME`: JSON Schemas of the files that people write, for editors, made from the
//! kinds and the build's fields; and of the report for programs.

use serde_json::{Map, Value, json};

use super::schema_declared as declared;
use super::schema_parts::{closed, kind_fields, number, one_of, text};
use crate::build::MAX_LINES;
use crate::build::brief::{BRIEF, MAX_AIMS};
use crate::build::fields::{BUILD_FIELDS, BuildField};
use crate::build::read::{BESIDE, CHANGES, LINE, OFFER};
use crate::build::waivers::WAIVERS;
use crate::cases::case::CASE;
use crate::catalogue::Catalogue;
use crate::catalogue::declared::{Declared, Takes};
use crate::catalogue::value::Val;
use crate::kit::Kit;
use crate::settings::{CHOICE, SETTING};
use crate::source::Problem;

/// The files that have a schema, and what each is.
pub const SCHEMAS: &[(&str, &str)] = &[
    ("build", "a parts list"),
    ("parts", "parts of the catalogue, catalogue/parts/NAME.toml"),
    ("cases", "rule cases, rules/NAME.cases.toml"),
    ("settings", "what rules ask for, rules/settings.toml"),
    ("brief", "what a customer needs"),
    ("config", "what a shop sets once, dryfit.toml"),
    ("audit", "what `audit --format json` writes"),
    ("search", "what plan, fit, steps, mend, mix and compare write with `--format json`"),
    ("waivers", "findings signed off, rules/waivers.toml"),
];

/// One schema.
/// Errors: there is no schema of that name.
pub fn schema(kit: &Kit, name: &str) -> Result<Value, Problem> {
    let catalogue = kit.catalogue();
    let body = match name {
        "build" => build(catalogue),
        "parts" => parts(catalogue),
        "cases" => cases(kit),
        "settings" => settings(kit),
        "brief" => brief(catalogue),
        "config" => super::schema_config::config(kit),
        "audit" => return written(crate::app::report::json::SCHEMA),
        "search" => return written(crate::app::report::search_json::SCHEMA),
        "waivers" => declared::table(catalogue, &WAIVERS),
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

/// A schema that is written by hand.
fn written(text: &str) -> Result<Value, Problem> {
    serde_json::from_str(text)
        .map_err(|e| Problem::new(format!("the schema of the report cannot be read: {e}")))
}

/// Fields of a build that rules may read.
fn build_fields(catalogue: &Catalogue) -> Map<String, Value> {
    let field = |f: &BuildField| match (f.takes, f.default) {
        (Takes::Number(low, high), _) => number(f.meaning, f.unit, low, high, f.default),
        _ => declared::takes(catalogue, f.takes, f.meaning),
    };
    let mut fields: Map<String, Value> =
        BUILD_FIELDS.iter().map(|f| (f.name.to_owned(), field(f))).collect();
    let mut beside = declared::properties(catalogue, &[&BESIDE]);
    // A case gives its day among them.
    fields.extend(beside.remove_entry("priced_on"));
    fields
}

/// What a build and a brief say beside the fields.
fn beside(catalogue: &Catalogue) -> Map<String, Value> {
    let mut properties = declared::properties(catalogue, &[&BESIDE]);
    properties.extend(build_fields(catalogue));
    declared::describe(&mut properties, "bundles", |b| {
        b.insert("items".into(), one_of("the part's id", part_ids(catalogue)));
    });
    declared::describe(&mut properties, "line", |l| {
        l.insert("maxItems".into(), json!(MAX_LINES));
        l.insert("items".into(), line(catalogue));
    });
    properties
}

fn build(catalogue: &Catalogue) -> Value {
    let mut properties = beside(catalogue);
    declared::describe(&mut properties, "line", |l| {
        l.insert("minItems".into(), json!(1));
    });
    closed(properties, &["line"])
}

fn kinds(catalogue: &Catalogue) -> Vec<String> {
    catalogue.kinds.iter().map(|k| k.name.to_string()).collect()
}

fn part_ids(catalogue: &Catalogue) -> Vec<String> {
    let mut ids: Vec<String> = catalogue.parts().map(|p| p.id.to_string()).collect();
    ids.sort();
    ids
}

fn line_properties(catalogue: &Catalogue, all: &[&Declared]) -> Map<String, Value> {
    let mut properties = declared::properties(catalogue, all);
    properties.insert("part".into(), one_of("the part's id", part_ids(catalogue)));
    properties.insert("any".into(), one_of("a kind: the line is left open", kinds(catalogue)));
    properties
}

fn line_of(catalogue: &Catalogue, all: &[&Declared]) -> Value {
    let mut line = closed(line_properties(catalogue, all), &[]);
    let ways = [&["part"][..], &["any"], &["kind", "name"]];
    line["oneOf"] = json!(ways.map(|keys| json!({ "required": keys })));
    line
}

fn line(catalogue: &Catalogue) -> Value {
    line_of(catalogue, &[&LINE])
}

fn parts(catalogue: &Catalogue) -> Value {
    let each: Vec<Value> = catalogue
        .kinds
        .iter()
        .map(|kind| {
            json!({
                "description": format!("{}: {}", kind.title, kind.meaning),
                "properties": {
                    "kind": { "const": &*kind.name },
                    "complete": { "type": "boolean" },
                },
                "additionalProperties": kind_fields(catalogue, kind, true),
            })
        })
        .collect();
    json!({ "type": "object", "required": ["kind"], "properties": { "kind": one_of("what kind of \
     parts the file holds", kinds(catalogue)) }, "oneOf": each })
}

fn cases(kit: &Kit) -> Value {
    let catalogue = kit.catalogue();
    let rules = kit.rules();
    let ids: Vec<String> = rules.rules.iter().map(|r| r.id.to_string()).collect();
    let measures: Vec<String> =
        rules.rules.iter().filter(|r| r.unit.is_some()).map(|r| r.id.to_string()).collect();
    let settings: Map<String, Value> = kit
        .settings()
        .all()
        .iter()
        .map(|s| (s.name.to_string(), setting_value(&s.value, &s.meaning)))
        .collect();
    let mut case = declared::properties(catalogue, &[&CASE]);
    let rule = json!({ "$ref": "#/$defs/rule" });
    let lines = json!({ "anyOf": [line_of(catalogue, &[&LINE, &OFFER, &CHANGES]),
        { "oneOf": spots(catalogue) }] });
    let within = |case: &mut Map<String, Value>, list: &str, key: &str, value: Value| {
        if let Some(slot) =
            case.get_mut(list).and_then(|l| l.pointer_mut(&format!("/items/properties/{key}")))
        {
            *slot = value;
        }
    };
    within(&mut case, "find", "rule", rule.clone());
    within(&mut case, "measure", "name", one_of("the measure", measures));
    for named in ["silent", "open"] {
        case.insert(named.into(), json!({ "type": "array", "items": rule.clone() }));
    }
    case.insert("build".into(), closed(build_fields(catalogue), &[]));
    case.insert("line".into(), json!({ "type": "array", "items": lines }));
    case.insert("setting".into(), closed(settings, &[]));
    let case = closed(case, &["name"]);
    let mut whole =
        closed(json!({ "case": { "type": "array", "minItems": 1, "items": case } }), &["case"]);
    whole["$defs"] = json!({ "rule": one_of("a rule's or measure's id", ids) });
    whole
}

fn setting_value(value: &Val, meaning: &str) -> Value {
    match value {
        Val::Text(_) => text(meaning),
        _ => json!({ "type": "number", "description": meaning }),
    }
}

/// Parts written on the spot, kind by kind: only the fields that are read.
fn spots(catalogue: &Catalogue) -> Vec<Value> {
    catalogue
        .kinds
        .iter()
        .map(|kind| {
            let mut spot = kind_fields(catalogue, kind, false);
            if let Some(properties) = spot.get_mut("properties").and_then(Value::as_object_mut) {
                let mut words = declared::properties(catalogue, &[&LINE, &OFFER, &CHANGES]);
                words.retain(|key, _| !["part", "any", "wants", "set"].contains(&key.as_str()));
                properties.extend(words);
                properties.insert("kind".into(), json!({ "const": &*kind.name }));
            }
            spot["required"] = json!(["kind"]);
            spot
        })
        .collect()
}

fn settings(kit: &Kit) -> Value {
    let catalogue = kit.catalogue();
    let one = |value: Value| {
        let mut properties = declared::properties(catalogue, &[&SETTING]);
        properties.insert("value".into(), value);
        closed(properties, &["value"])
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
                file["properties"][name] = value;
            }
            None => {
                files.insert(setting.name.to_string(), value);
            }
        }
    }
    let choice = declared::table(catalogue, &CHOICE);
    let ids: Map<String, Value> =
        kit.rules().rules.iter().map(|r| (r.id.to_string(), choice.clone())).collect();
    let mut rules = closed(ids, &[]);
    // Rules by pattern or tag.
    rules["patternProperties"] = json!({ "^tag:|[*?]": choice });
    files.insert("rule".into(), rules);
    json!({ "type": "object", "properties": files, "additionalProperties": { "anyOf": [any,
    { "type": "object", "additionalProperties": any }] } })
}

fn brief(catalogue: &Catalogue) -> Value {
    let mut properties = beside(catalogue);
    properties.extend(declared::properties(catalogue, &[&BRIEF]));
    declared::describe(&mut properties, "needs", |n| {
        n.insert("items".into(), one_of("a kind", kinds(catalogue)));
    });
    for aim in ["minimise", "maximise"] {
        if let Some(list) = properties.get_mut(aim).and_then(|a| a.pointer_mut("/oneOf/1")) {
            list["maxItems"] = json!(MAX_AIMS);
        }
    }
    let mut whole = closed(properties, &[]);
    whole["anyOf"] = json!([{ "required": ["needs"] }, { "required": ["line"] }]);
    whole
}
