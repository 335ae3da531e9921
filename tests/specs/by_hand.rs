//! Pages and tables as makers and wholesalers write them, in forms that no generator makes.

use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::intake::read_bytes;
use dryfit::inside::layer::Layer;
use dryfit::inside::partsheet::{SheetMap, import};
use serde_json::{Map, Value, json};

use super::report;
use super::score::{self, Score};

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
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let truth: Value = toml::from_str(include_str!("by_hand/truth.toml")).expect("it is TOML");
    let mut score = Score::default();
    for source in truth["source"].as_array().expect("sources") {
        let name = source["file"].as_str().expect("a name");
        let path = format!("{}/tests/specs/by_hand/{name}", env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(path).expect("the file is there");
        let kind = catalogue.kind_id(source["kind"].as_str().expect("a kind")).expect("known");
        let text = read_bytes(&bytes, name).expect("it is text");
        match import(&catalogue, kind, &text, &SheetMap::default(), name) {
            Ok(read) => score::source(&mut score, name, &parts(source), &read),
            Err(problem) => score.failures.push(format!("{name}: {problem:?}")),
        }
    }
    let text = report(&score);
    if std::env::var_os("DRYFIT_ALL_FAILURES").is_some() {
        println!("{text}");
    }
    assert!(
        score.right * 10 >= score.facts * 9 && score.wrong == 0 && score.invented == 0,
        "{text}"
    );
}
