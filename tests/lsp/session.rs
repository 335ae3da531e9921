//! The session itself: beginning and end, requests called back, files that change on disk, many
//! texts, many shops, none.

use std::fs;

use serde_json::{Value, json};

use super::client::{Client, uri};
use crate::common::desk::Desk;
use crate::common::share;

const WRECK: &str = include_str!("../../examples/quay-salvage.toml");
const UTF16: &[&str] = &["utf-16"];

/// A shop of its own in a folder of the desk: one rule that stops every list, in its own words.
fn shop(desk: &Desk, folder: &str, says: &str) {
    desk.write(
        &format!("{folder}/rules/house.rhai"),
        &format!(
            "//! The house.\n\n/// The house says so.\n/// Basis: common practice, no source.\nfn \
             always(build) {{ stop(\"{says}\", #{{}}); }}\n"
        ),
    );
    let text = desk.read("desk.toml");
    desk.write(&format!("{folder}/list.toml"), &text);
}

fn rules_of(said: &[Value]) -> Vec<&str> {
    said.iter().filter_map(|d| d["code"].as_str()).collect()
}

#[test]
fn a_session_ends_with_the_codes_of_the_protocol() {
    let desk = Desk::new();
    assert_eq!(Client::start(&desk, UTF16).end(), Some(0));
    let mut client = Client::start(&desk, UTF16);
    client.notify("exit", Value::Null);
    assert_eq!(client.hang_up(), Some(1), "an end that was not announced");
    assert_eq!(Client::start(&desk, UTF16).hang_up(), Some(1), "an editor that is gone");
    // Before it is told to begin, it does nothing.
    let mut client = Client::raw(&desk, &["lsp"]);
    let id = client.send("textDocument/hover", json!({}));
    assert_eq!(client.wait(id)["error"]["code"], -32002);
    assert_eq!(client.hang_up(), Some(1));
}

#[test]
fn after_shutdown_nothing_is_answered() {
    let desk = Desk::new();
    let mut client = Client::start(&desk, UTF16);
    client.ask("shutdown", Value::Null);
    let id = client.send("dryfit/audit", json!({ "uri": uri(&desk.path("desk.toml")) }));
    assert_eq!(client.wait(id)["error"]["code"], -32600);
    client.notify("exit", Value::Null);
    assert_eq!(client.hang_up(), Some(0));
}

#[test]
fn what_is_no_message_of_ours_does_no_harm() {
    let desk = Desk::new();
    let mut client = Client::start(&desk, UTF16);
    let file = uri(&desk.path("desk.toml"));
    client.notify("$/setTrace", json!({ "value": "off" }));
    client.notify("textDocument/didChange", json!({ "what": 1 }));
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": "file:///no/such" } }));
    client.change("file:///never/opened.toml", 3, json!([{ "text": "x" }]));
    let id = client.send("textDocument/inventedRequest", json!({}));
    assert_eq!(client.wait(id)["error"]["code"], -32601);
    let id = client.send("textDocument/hover", json!({ "textDocument": 3 }));
    assert_eq!(client.wait(id)["error"]["code"], -32602);
    for method in ["textDocument/hover", "textDocument/completion", "textDocument/rename"] {
        assert_eq!(client.at(method, "file:///never/opened.toml", (0, 0)), Value::Null);
    }
    client.open("untitled:Untitled-1", "[[line]]\npart = \"fan/lull-120\"\n");
    assert!(rules_of(&client.said("untitled:Untitled-1", Some(1))).contains(&"fit.complete"));
    client.open(&file, &desk.read("desk.toml"));
    client.said(&file, Some(1));
    assert_eq!(client.end(), Some(0));
}

#[test]
fn requests_that_are_called_back_are_answered_so() {
    let desk = Desk::new();
    let mut client = Client::start(&desk, UTF16);
    let file = uri(&desk.path("wreck.toml"));
    client.open(&file, WRECK);
    client.said(&file, Some(1));
    let search = client.send("dryfit/mend", json!({ "uri": file }));
    let waiting = client.send("dryfit/why", json!({ "uri": file, "rule": "power.headroom" }));
    client.notify("$/cancelRequest", json!({ "id": waiting }));
    client.notify("$/cancelRequest", json!({ "id": search }));
    client.notify("$/cancelRequest", json!({ "id": 4711 }));
    assert_eq!(client.wait(search)["error"]["code"], -32800);
    assert_eq!(client.wait(waiting)["error"]["code"], -32800);
    // A text that changes ends what is searched for on it, too.
    let search = client.send("dryfit/mend", json!({ "uri": file }));
    client.change(&file, 2, json!([{ "text": format!("{WRECK}\n# more\n") }]));
    client.said(&file, Some(2));
    assert_eq!(client.wait(search)["error"]["code"], -32801);
    assert_eq!(client.end(), Some(0));
}

#[test]
fn verdicts_do_not_wait_for_a_search() {
    let desk = Desk::new();
    let mut client = Client::start(&desk, UTF16);
    let (wreck, list) = (uri(&desk.path("wreck.toml")), uri(&desk.path("desk.toml")));
    client.open(&wreck, WRECK);
    client.said(&wreck, Some(1));
    let search = client.send("dryfit/mend", json!({ "uri": wreck }));
    client.open(&list, &desk.read("desk.toml"));
    client.said(&list, Some(1));
    client.at("textDocument/hover", &list, (10, 3));
    client.notify("$/cancelRequest", json!({ "id": search }));
    // Answered after what was asked later: the answer was not among those that came before.
    client.wait(search);
    assert_eq!(client.end(), Some(0));
}

#[test]
fn files_that_change_on_disk_change_what_is_said() {
    let desk = Desk::new();
    shop(&desk, "quay", "no list leaves the quay");
    let mut client = Client::start(&desk, UTF16);
    let file = uri(&desk.path("quay/list.toml"));
    client.open(&file, &desk.read("quay/list.toml"));
    assert!(rules_of(&client.said(&file, Some(1))).contains(&"house.always"));
    let rule = desk.read("quay/rules/house.rhai").replace("stop(", "advice(");
    let changed = |client: &mut Client| {
        let event = json!({ "uri": uri(&desk.path("quay/rules/house.rhai")), "type": 2 });
        client.notify("workspace/didChangeWatchedFiles", json!({ "changes": [event] }));
    };
    desk.write("quay/rules/house.rhai", &rule);
    changed(&mut client);
    let said = client.said(&file, Some(1));
    let found = said.iter().find(|d| d["code"] == "house.always").unwrap();
    assert_eq!(found["severity"], 3, "advice by now: {found}");
    // The shop's rules go away altogether, and the list belongs to no shop.
    fs::remove_dir_all(desk.path("quay/rules")).unwrap();
    changed(&mut client);
    assert!(!rules_of(&client.said(&file, Some(1))).contains(&"house.always"));
    assert_eq!(client.end(), Some(0));
}

#[test]
fn a_catalogue_that_breaks_leaves_the_verdicts_of_lists() {
    let desk = Desk::new();
    shop(&desk, "quay", "no list leaves the quay");
    desk.write(
        "quay/catalogue/parts/fan.toml",
        "kind = \"fan\"\n\n[own]\nname = \"Own\"\nsize_mm = 120\n",
    );
    let mut client = Client::start(&desk, UTF16);
    let (list, parts) =
        (uri(&desk.path("quay/list.toml")), uri(&desk.path("quay/catalogue/parts/fan.toml")));
    client.open(&list, &desk.read("quay/list.toml"));
    let before = client.said(&list, Some(1));
    client.open(&parts, &desk.read("quay/catalogue/parts/fan.toml"));
    let hints = client.said(&parts, Some(1));
    assert!(rules_of(&hints).contains(&"unknown-facts"), "{hints:?}");
    // A part that cannot be read is said at its place; the list does not use it.
    client.forget();
    client.change(&parts, 2, json!([{ "text": "kind = \"fan\"\n\n[own]\nsize_mmm = 120\n" }]));
    let wrong = client.said(&parts, Some(2));
    assert!(wrong.iter().any(|d| d["message"].as_str().unwrap().contains("size_mmm")), "{wrong:?}");
    let after = client.said(&list, Some(1));
    assert_eq!(rules_of(&after), rules_of(&before));
    // A file that cannot be read at all leaves the verdict of before, and says so.
    client.forget();
    client.change(&parts, 3, json!([{ "text": "kind = \"fan\"\n\n[own\n" }]));
    let wrong = client.said(&parts, Some(3));
    assert!(wrong.iter().any(|d| d["severity"] == 1), "{wrong:?}");
    client.said(&list, Some(1));
    let id = client.send("dryfit/audit", json!({ "uri": list }));
    assert!(client.wait(id)["result"]["audits"][0]["findings"].is_array());
    assert_eq!(client.end(), Some(0));
}

#[test]
fn each_list_is_held_to_the_shop_it_lies_in() {
    let desk = Desk::new();
    shop(&desk, "quay", "no list leaves the quay");
    shop(&desk, "lock", "no list passes the lock");
    let mut client = Client::start(&desk, UTF16);
    for (folder, says) in [("quay", "the quay"), ("lock", "the lock")] {
        let file = uri(&desk.path(&format!("{folder}/list.toml")));
        client.open(&file, &desk.read("desk.toml"));
        let said = client.said(&file, Some(1));
        let found = said.iter().find(|d| d["code"] == "house.always").unwrap();
        assert!(found["message"].as_str().unwrap().contains(says), "{found}");
    }
    let file = uri(&desk.path("desk.toml"));
    client.open(&file, &desk.read("desk.toml"));
    assert!(!rules_of(&client.said(&file, Some(1))).contains(&"house.always"));
    assert_eq!(client.end(), Some(0));
}

#[test]
fn two_hundred_open_lists_and_thousands_of_edits_stay_small() {
    let desk = Desk::new();
    let text = desk.read("desk.toml");
    let mut client = Client::start(&desk, UTF16);
    let name = |at: usize| uri(&desk.path(&format!("list-{at}.toml")));
    for at in 0..200 {
        client.open(&name(at), &text);
    }
    for at in 0..200 {
        client.said(&name(at), Some(1));
    }
    client.forget();
    let insert = |text: &str| {
        let place = json!({ "line": 0, "character": 0 });
        json!([{ "range": { "start": place, "end": place }, "text": text }])
    };
    let edits = if share::whole() { 10_000 } else { 420 };
    for edit in 0..edits {
        let file = name(edit % 7);
        let version = 2 + (edit / 7) as i64;
        client.change(&file, version, insert(["#", " ", "a", "\n"][edit % 4]));
        if edit % 50 == 49 || edit + 1 == edits {
            // What is overtaken by the next key need not be said; the last is.
            client.said(&file, Some(version));
            client.forget();
        }
    }
    assert!(client.peak_mb() < 200, "{} MB", client.peak_mb());
    assert_eq!(client.end(), Some(0));
}

#[test]
fn hostile_texts_are_answered_for_and_nothing_is_written() {
    let desk = Desk::new();
    let before = listing(&desk);
    let mut client = Client::start(&desk, UTF16);
    let deep = format!("line = {}{}", "[".repeat(20_000), "]".repeat(20_000));
    let texts = [
        String::new(),
        "\u{feff}[[line]]\npart = \"fan/lull-120\"\n".to_owned(),
        "\0\u{1b}[31m\u{202e}".to_owned(),
        deep,
        "[[line]]\npart = \"fan/lull-120\"\n".repeat(5_000),
        format!("title = \"{}\"\n", "\u{1b}]0;x\u{7}<b>".repeat(20_000)),
        "a".repeat(3 << 20),
        "[[line]]\nany = \"graphics\"\nwants = [\"loop { }\"]\n".to_owned(),
        "[[line]]\nany = \"fan\"\ncount = 99\n".repeat(40),
        "needs = [\"fan\"]\nwants = [\"let x = []; loop { x += x }\"]\n".to_owned(),
    ];
    for (at, text) in texts.iter().enumerate() {
        let file = uri(&desk.path(&format!("hostile-{at}.toml")));
        client.open(&file, text);
        let said = client.said(&file, Some(1));
        assert!(said.len() <= 401, "{at}");
        let params = json!({
            "textDocument": { "uri": file },
            "position": { "line": 1, "character": 9 },
            "options": { "tabSize": 4, "insertSpaces": true },
            "newName": "x",
        });
        for method in [
            "hover",
            "completion",
            "documentSymbol",
            "foldingRange",
            "formatting",
            "inlayHint",
            "definition",
            "rename",
        ] {
            let id = client.send(&format!("textDocument/{method}"), params.clone());
            client.wait(id);
        }
        client.notify("textDocument/didClose", json!({ "textDocument": { "uri": file } }));
        assert!(client.said(&file, None).is_empty());
    }
    assert_eq!(client.end(), Some(0));
    assert_eq!(listing(&desk), before, "nothing is written");
}

fn listing(desk: &Desk) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(&desk.0)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}
