//! What the editor can ask of a rule script.

use serde_json::{Value, json};

use super::client::{Client, uri};
use crate::common::desk::Desk;

const RULES: &str = "//! The house.

/// Big enough.
/// Basis: common practice, no source.
/// Remedy: a larger one.
fn big(build) {
    let supply = build.supply;
    if supply.rated_w < setting(\"least_w\") { stop(\"{s} is small\", #{ s: supply }); }
}
";
const SETTINGS: &str = "[house.least_w]\nvalue = 5000\nunit = \"W\"\nmeaning = \"least\"\n";
const CASES: &str = "[[case]]\nname = \"small\"\n[[case.line]]\nkind = \"supply\"\nrated_w = \
                     300\n[[case.find]]\nrule = \"house.big\"\nlevel = \"stop\"\n";

fn shop() -> (Desk, Client, String, String) {
    let desk = Desk::new();
    desk.write("rules/house.rhai", RULES);
    desk.write("rules/settings.toml", SETTINGS);
    desk.write("rules/house.cases.toml", CASES);
    let mut client = Client::start(&desk, &["utf-16"]);
    let (rules, list) = (uri(&desk.path("rules/house.rhai")), uri(&desk.path("desk.toml")));
    client.open(&list, &desk.read("desk.toml"));
    client.said(&list, Some(1));
    client.open(&rules, RULES);
    assert!(client.said(&rules, Some(1)).is_empty());
    (desk, client, rules, list)
}

/// The place of a word of the script, some letters into it.
fn place(word: &str) -> (usize, usize) {
    let at = RULES.find(word).unwrap() + 1;
    let line = RULES[..at].matches('\n').count();
    (line, at - RULES[..at].rfind('\n').map_or(0, |n| n + 1))
}

#[test]
fn words_are_explained_and_found() {
    let (_desk, mut client, rules, _) = shop();
    let page = |client: &mut Client, word: &str| {
        let page = client.at("textDocument/hover", &rules, place(word));
        page["contents"]["value"].as_str().unwrap_or("").to_owned()
    };
    assert!(page(&mut client, "rated_w").contains("a number in W"));
    assert!(page(&mut client, "least_w").contains("5000"));
    assert!(page(&mut client, "stop(").contains("a finding"));
    assert!(page(&mut client, "big(").contains("Big enough"));
    let found = client.at("textDocument/definition", &rules, place("least_w"));
    assert!(found["uri"].as_str().unwrap().ends_with("/rules/settings.toml"), "{found}");
    let help = client.at("textDocument/signatureHelp", &rules, {
        let (line, column) = place("\"least_w");
        (line, column)
    });
    assert!(help["signatures"][0]["label"].as_str().unwrap().starts_with("setting("), "{help}");
    let names = client.at("textDocument/completion", &rules, place("least_w"));
    let names = names.as_array().unwrap();
    assert!(names.iter().any(|i| i["label"] == "least_w"), "{names:?}");
    let fields = client.at("textDocument/completion", &rules, place("rated_w"));
    let fields: Vec<&Value> = fields.as_array().unwrap().iter().collect();
    assert!(fields.iter().any(|i| i["label"] == "rated_w"));
    assert!(!fields.iter().any(|i| i["label"] == "refresh_hz"), "of another kind");
    assert_eq!(client.end(), Some(0));
}

#[test]
fn a_rule_that_is_typed_is_heard_by_open_lists_at_once() {
    let (desk, mut client, rules, list) = shop();
    let lens = |client: &mut Client| -> Vec<String> {
        let lenses =
            client.ask("textDocument/codeLens", json!({ "textDocument": { "uri": rules } }));
        let titles = lenses.as_array().unwrap().iter();
        titles.map(|l| l["command"]["title"].as_str().unwrap().to_owned()).collect()
    };
    assert!(lens(&mut client).iter().any(|t| t == "fires on desk.toml"));
    client.forget();
    let typed = RULES.replace("rated_w <", "rated_w >");
    client.change(&rules, 2, json!([{ "text": typed }]));
    let said = client.said(&list, Some(1));
    assert!(!said.iter().any(|d| d["code"] == "house.big"), "not saved, and counts: {said:?}");
    assert!(lens(&mut client).iter().any(|t| t == "silent on 1 open list"));
    // A word that nobody knows: said at its place, and put right.
    let wrong = RULES.replace("supply.rated_w", "supply.rated_ww");
    client.change(&rules, 3, json!([{ "text": wrong }]));
    let said = client.said(&rules, Some(3));
    assert_eq!(said[0]["severity"], 1, "{said:?}");
    let range = said[0]["range"].clone();
    let fixes = client.ask(
        "textDocument/codeAction",
        json!({ "textDocument": { "uri": rules }, "range": range, "context": { "diagnostics": [] } }),
    );
    assert_eq!(fixes[0]["title"], "Write `rated_w`", "{fixes} {said:?}");
    // Closed without saving: what is on disk counts again.
    client.forget();
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": rules } }));
    let said = client.said(&list, Some(1));
    assert!(said.iter().any(|d| d["code"] == "house.big"), "{said:?}");
    assert_eq!(desk.read("rules/house.rhai"), RULES, "nothing is written");
    assert_eq!(client.end(), Some(0));
}

#[test]
fn cases_run_when_the_file_is_saved() {
    let (_desk, mut client, rules, _) = shop();
    client.notify("textDocument/didSave", json!({ "textDocument": { "uri": rules } }));
    let begun = std::time::Instant::now();
    loop {
        let lenses =
            client.ask("textDocument/codeLens", json!({ "textDocument": { "uri": rules } }));
        let text = lenses.to_string();
        if text.contains("1 case passed") {
            assert!(text.contains("no case leaves it silent"), "{text}");
            break;
        }
        assert!(begun.elapsed().as_secs() < 200, "{text}");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    assert_eq!(client.end(), Some(0));
}
