//! Pages and tables as makers and wholesalers write them, in forms that no generator makes.

use serde_json::{Map, Value, json};

use super::{files_are_read, text_of};

/// The parts of a source as the score wants them.
fn parts(source: &Value) -> Value {
    let part = |one: &Value| {
        let fact =
            |(field, is): (&String, &Value)| (field.clone(), json!({ "is": is, "from": "" }));
        let must: Map<String, Value> =
            one["must"].as_object().into_iter().flatten().map(fact).collect();
        let may = one["may"].as_array().into_iter().flatten().filter_map(Value::as_str);
        let may: Map<String, Value> = may.map(|field| (field.to_owned(), Value::Null)).collect();
        json!({ "names": one["names"], "must": must, "may": may })
    };
    let all: Vec<Value> = source["part"].as_array().into_iter().flatten().map(part).collect();
    json!({ "parts": all })
}

#[test]
fn written_by_hand() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/specs/by_hand/truth.toml");
    let truth = std::fs::read_to_string(path).expect("it is there");
    let truth: Value = toml::from_str(&truth).expect("it is TOML");
    let sources = truth["source"].as_array().expect("sources");
    files_are_read(sources.iter().map(|source| {
        let file = format!("by_hand/{}", text_of(&source["file"]));
        (file, text_of(&source["kind"]), parts(source))
    }));
}
