//! What the editor can ask of a list.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::client::{Client, uri};
use crate::common::desk::Desk;

/// A short list with a power supply that is too small, on lines that the tests count.
const LIST: &str = "title = \"Desk\"\npriced_on = 2026-11-20\n\n[[line]]\npart = \"supply/millrace-300\"\n\n\
                    [[line]]\npart  = \"graphics/spindrift-maelstrom-32\" # big\n";

fn opened(text: &str) -> (Desk, Client, String) {
    let desk = Desk::new();
    let file = uri(&desk.path("list.toml"));
    let mut client = Client::start(&desk, &["utf-16"]);
    client.open(&file, text);
    client.said(&file, Some(1));
    (desk, client, file)
}

/// A text with edits made, by positions as editors count them.
fn applied(text: &str, edits: &Value) -> String {
    let offset = |at: &Value| {
        let (line, column) = (at["line"].as_u64().unwrap(), at["character"].as_u64().unwrap());
        let mut start = 0;
        for _ in 0..line {
            start += text[start..].find('\n').map_or(text.len() - start, |n| n + 1);
        }
        let mut units = 0;
        for (at, c) in text[start..].char_indices() {
            if units >= column {
                return start + at;
            }
            units += c.len_utf16() as u64;
        }
        text.len()
    };
    let mut edits: Vec<(usize, usize, String)> = edits
        .as_array()
        .unwrap()
        .iter()
        .map(|e| {
            let new = e["newText"].as_str().unwrap().to_owned();
            (offset(&e["range"]["start"]), offset(&e["range"]["end"]), new)
        })
        .collect();
    edits.sort();
    let mut out = text.to_owned();
    for (start, end, new) in edits.into_iter().rev() {
        out.replace_range(start..end, &new);
    }
    out
}

fn actions(client: &mut Client, file: &str, line: usize) -> Vec<Value> {
    let at = json!({ "line": line, "character": 12 });
    let answer = client.ask(
        "textDocument/codeAction",
        json!({
            "textDocument": { "uri": file },
            "range": { "start": at, "end": at },
            "context": { "diagnostics": [] },
        }),
    );
    answer.as_array().unwrap().clone()
}

fn verdict(client: &mut Client, file: &str) -> Value {
    client.ask("dryfit/audit", json!({ "uri": file }))["audits"][0].clone()
}

#[test]
fn a_part_is_explained_completed_and_found() {
    let (_desk, mut client, file) = opened(LIST);
    let page = client.at("textDocument/hover", &file, (4, 12));
    let page = page["contents"]["value"].as_str().unwrap();
    assert!(page.contains("Millrace 300") && page.contains("rated\\_w: 300 W"), "{page}");
    assert!(page.contains("This line adds"), "{page}");
    let page = client.at("textDocument/hover", &file, (4, 1));
    assert!(page["contents"]["value"].as_str().unwrap().contains("the part's id"), "{page}");
    // What the program carries is read by a request of its own.
    let place = client.at("textDocument/definition", &file, (4, 12));
    let target = place["uri"].as_str().unwrap();
    let text = client.ask("dryfit/text", json!({ "uri": target }));
    let line = place["range"]["start"]["line"].as_u64().unwrap() as usize;
    let written = text["text"].as_str().unwrap().lines().nth(line).unwrap().to_owned();
    assert!(written.contains("millrace-300"), "{written}");
    let place = client.at("textDocument/implementation", &file, (4, 12));
    assert!(place["uri"].as_str().unwrap().contains("/offers/"), "{place}");
    let items = client.at("textDocument/completion", &file, (4, 20));
    let items = items["items"].as_array().unwrap();
    assert!(items.iter().any(|i| i["label"] == "supply/millrace-300"), "{items:?}");
    assert!(items.iter().all(|i| i["label"].as_str().unwrap().contains("mill")), "{items:?}");
    let hints = client.ask(
        "textDocument/inlayHint",
        json!({ "textDocument": { "uri": file }, "range": {
            "start": { "line": 0, "character": 0 }, "end": { "line": 9, "character": 0 } } }),
    );
    let labels: Vec<&str> =
        hints.as_array().unwrap().iter().map(|h| h["label"].as_str().unwrap()).collect();
    assert_eq!(labels.len(), 3, "{labels:?}");
    assert!(labels[0].starts_with("do not build · "), "{labels:?}");
    assert!(labels[2].contains("EUR · ") && labels[2].ends_with(" W"), "{labels:?}");
    assert_eq!(client.end(), Some(0));
}

/// Places of the list itself, from the shell, are where the editor shows each finding.
#[test]
fn findings_stand_where_the_shell_points() {
    let (desk, mut client, file) = opened(LIST);
    client.change(&file, 2, json!([{ "text": LIST }]));
    let said = client.said(&file, Some(2));
    desk.write("list.toml", LIST);
    let audit = verdict(&mut client, &file);
    for finding in audit["findings"].as_array().unwrap() {
        let own = |p: &&Value| p["file"].as_str().is_some_and(|f| f.ends_with("list.toml"));
        let pointers = finding["pointers"].as_array().unwrap();
        let direct = pointers.iter().find(own).cloned();
        let brought = pointers.iter().map(|p| &p["brought_in"]).find(own).cloned();
        let Some(place) = direct.or(brought) else { continue };
        let lines: Vec<u64> = pointers
            .iter()
            .flat_map(|p| [p, &p["brought_in"]])
            .filter(own)
            .map(|p| p["line"].as_u64().unwrap() - 1)
            .collect();
        let shown = said.iter().find(|d| d["code"] == finding["rule"]).unwrap();
        let line = shown["range"]["start"]["line"].as_u64().unwrap();
        assert!(lines.contains(&line), "{place} {shown}");
    }
    assert_eq!(client.end(), Some(0));
}

#[test]
fn a_swap_that_is_offered_clears_its_finding() {
    let (_desk, mut client, file) = opened(LIST);
    let rules = |audit: &Value| -> Vec<String> {
        let findings = audit["findings"].as_array().unwrap().iter();
        findings.map(|f| f["rule"].as_str().unwrap().to_owned()).collect()
    };
    let before = rules(&verdict(&mut client, &file));
    let offered = actions(&mut client, &file, 4);
    let swaps: Vec<&Value> =
        offered.iter().filter(|a| a["title"].as_str().unwrap().starts_with("Swap ")).collect();
    assert!(!swaps.is_empty(), "{offered:?}");
    let mut version = 1;
    for swap in swaps {
        let rule = swap["title"].as_str().unwrap().rsplit("clears ").next().unwrap().to_owned();
        let text = applied(LIST, &swap["edit"]["changes"][&file]);
        assert!(text.contains("# big"), "comments stay: {text}");
        version += 1;
        client.change(&file, version, json!([{ "text": text }]));
        client.said(&file, Some(version));
        let after = rules(&verdict(&mut client, &file));
        let number = |all: &[String]| all.iter().filter(|r| **r == rule).count();
        assert!(number(&after) < number(&before), "{swap}");
    }
    assert_eq!(client.end(), Some(0));
}

#[test]
fn an_open_line_is_filled_and_prices_are_written_down() {
    let text = format!("{LIST}\n[[line]]\nany = \"input\"\n");
    let (_desk, mut client, file) = opened(&text);
    let offered = actions(&mut client, &file, 10);
    let fill = offered.iter().find(|a| a["title"].as_str().unwrap().starts_with("Fill ")).unwrap();
    let filled = applied(&text, &fill["edit"]["changes"][&file]);
    assert!(!filled.contains("any = ") && filled.contains("part = \"input/"), "{filled}");
    let offered = actions(&mut client, &file, 4);
    let titled = |word: &str| {
        offered.iter().find(|a| a["title"].as_str().unwrap().starts_with(word)).unwrap().clone()
    };
    let pinned = applied(&text, &titled("Write down the price of")["edit"]["changes"][&file]);
    assert_eq!(pinned.matches("quoted").count(), 1, "{pinned}");
    let all = applied(&text, &titled("Write down the prices")["edit"]["changes"][&file]);
    assert_eq!(all.matches("quoted").count(), 2, "{all}");
    // A waiver counts for nothing until somebody says why and signs.
    let waived = applied(&text, &titled("Waive ")["edit"]["changes"][&file]);
    client.change(&file, 2, json!([{ "text": waived }]));
    let said = client.said(&file, Some(2));
    assert!(said.iter().all(|d| d["tags"].is_null()), "{said:?}");
    assert_eq!(client.end(), Some(0));
}

#[test]
fn a_misspelt_word_is_put_right() {
    let text = LIST.replace("part  =", "prat  =").replace("title", "titel");
    let (_desk, mut client, file) = opened(&text);
    let offered = actions(&mut client, &file, 0);
    assert!(offered.is_empty(), "the cursor is on no problem: {offered:?}");
    let at = |line: usize| json!({ "line": line, "character": 2 });
    let mut fixed = text.clone();
    for line in [7, 0] {
        let answer = client.ask(
            "textDocument/codeAction",
            json!({ "textDocument": { "uri": file }, "range": { "start": at(line), "end": at(line) },
            "context": { "diagnostics": [] } }),
        );
        let action = answer[0].clone();
        fixed = applied(&fixed, &action["edit"]["changes"][&file]);
    }
    assert_eq!(fixed, LIST);
    assert_eq!(client.end(), Some(0));
}

#[test]
fn a_part_is_renamed_in_the_catalogue_and_in_every_list() {
    let desk = Desk::new();
    let parts = "kind = \"fan\"\n\n[own-120] # ours\nname = \"Own 120\"\nsize_mm = 120\n";
    desk.write("catalogue/parts/fan.toml", parts);
    let offers = "part,seller,seen_on,price,currency,shipping,stock,instant_off,mail_rebate,credit,\
                  bundle,bundle_value\nfan/own-120,Lantern,2026-11-01,9.00,EUR,,,,,,,\n";
    desk.write("catalogue/offers/own.csv", offers);
    let list = "[[line]]\npart = \"fan/own-120\" # fan/own-120\n";
    desk.write("a.toml", list);
    desk.write("deep/b.toml", &format!("bundles = ['fan/own-120']\n{list}"));
    desk.write("c.toml", "[[line]]\npart = \"fan/own-1200\"\n");
    let mut client = Client::start(&desk, &["utf-16"]);
    let file = uri(&desk.path("a.toml"));
    client.open(&file, list);
    client.said(&file, Some(1));
    let rename = |client: &mut Client, name: &str| {
        let id = client.send(
            "textDocument/rename",
            json!({ "textDocument": { "uri": file }, "position": { "line": 1, "character": 12 },
            "newName": name }),
        );
        client.wait(id)
    };
    for wrong in ["", "Own", "fan/", "supply/own", "a b", "lull-120", "../x"] {
        assert!(rename(&mut client, wrong)["error"].is_object(), "{wrong}");
    }
    let answer = rename(&mut client, "fan/new-120");
    let changes: BTreeMap<String, Value> =
        serde_json::from_value(answer["result"]["changes"].clone()).unwrap();
    let expected = [
        ("a.toml", "[[line]]\npart = \"fan/new-120\" # fan/own-120\n".to_owned()),
        ("catalogue/offers/own.csv", offers.replace("own-120", "new-120")),
        ("catalogue/parts/fan.toml", parts.replace("own-120", "new-120")),
        (
            "deep/b.toml",
            "bundles = ['fan/new-120']\n[[line]]\npart = \"fan/new-120\" # \
                         fan/own-120\n"
                .to_owned(),
        ),
    ];
    assert_eq!(changes.len(), expected.len(), "{changes:?}");
    for (name, text) in expected {
        let edits = &changes[&uri(&desk.path(name))];
        assert_eq!(applied(&desk.read(name), edits), text, "{name}");
    }
    // A part that comes with the program keeps its name.
    client.change(&file, 2, json!([{ "text": "[[line]]\npart = \"fan/lull-120\"\n" }]));
    assert!(rename(&mut client, "other")["error"].is_object());
    assert_eq!(client.end(), Some(0));
}

/// What other programs may ask is what the shell says.
#[test]
fn own_requests_answer_as_the_shell_does() {
    let (desk, mut client, file) = opened(LIST);
    desk.write("list.toml", LIST);
    let shell = |arguments: &[&str]| -> Value {
        let output = desk.command(arguments).output().unwrap();
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let audit = client.ask("dryfit/audit", json!({ "uri": file }));
    let day = "2026-11-20";
    let whole = shell(&["audit", "list.toml", "--format", "json", "--date", day]);
    assert_eq!(audit, whole);
    let asked = client.ask("dryfit/ask", json!({ "uri": file }));
    assert_eq!(asked, shell(&["ask", "list.toml", "--json", "--date", day]));
    let fit = client.ask("dryfit/fit", json!({ "uri": file, "line": 1 }));
    assert_eq!(fit, shell(&["fit", "list.toml", "1", "--format", "json", "--date", day]));
    assert_eq!(fit["complete"], true, "{fit}");
    let part = fit["rows"][0]["part"].as_str().unwrap();
    let swap = client.ask("dryfit/swap", json!({ "uri": file, "line": 1, "part": part }));
    let swapped = applied(LIST, &swap["edits"]);
    assert!(swapped.contains(part) && !swapped.contains("millrace-300"), "{swapped}");
    let why = client.ask("dryfit/why", json!({ "uri": file, "rule": "power.headroom" }));
    assert!(!why["steps"].as_array().unwrap().is_empty(), "{why}");
    let mut mend = client.ask("dryfit/mend", json!({ "uri": file }));
    for way in mend["ways"].as_array_mut().unwrap() {
        assert_ne!(applied(LIST, &way["edits"].take()), LIST);
        way.as_object_mut().unwrap().remove("edits");
    }
    let soon = shell(&["mend", "list.toml", "--seconds", "1", "--format", "json", "--date", day]);
    let keys = |answer: &Value| answer.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    assert_eq!(
        keys(&mend),
        keys(&soon),
        "how far a search comes hangs on its time, its shape does not"
    );
    assert_eq!((&mend["list"], &mend["stops"]), (&soon["list"], &soon["stops"]));
    for wrong in [
        ("dryfit/fit", json!({ "uri": file })),
        ("dryfit/fit", json!({ "uri": file, "line": 99 })),
        ("dryfit/swap", json!({ "uri": file, "line": 1, "part": "no/such" })),
        ("dryfit/swap", json!({ "uri": file, "line": 99, "part": part })),
        ("dryfit/why", json!({ "uri": file, "rule": "no.such" })),
        ("dryfit/audit", json!({ "uri": "file:///no/such.toml" })),
        ("dryfit/text", json!({ "uri": file })),
    ] {
        let id = client.send(wrong.0, wrong.1);
        assert!(client.wait(id)["error"].is_object(), "{}", wrong.0);
    }
    assert_eq!(client.end(), Some(0));
}

#[test]
fn layout_keeps_comments_and_meaning() {
    let text =
        "title=\"a\" # one\n[[line]]\npart = \"fan/lull-120\"   # two\ncount= 2\n\n\n\n# three\n";
    let (_desk, mut client, file) = opened(text);
    let edits = client.ask(
        "textDocument/formatting",
        json!({ "textDocument": { "uri": file }, "options": { "tabSize": 4, "insertSpaces": true } }),
    );
    let laid = applied(text, &edits);
    assert_eq!(
        laid,
        "title = \"a\" # one\n[[line]]\npart  = \"fan/lull-120\"   # two\ncount = 2\n\n# three\n"
    );
    assert_eq!(client.end(), Some(0));
}

/// Half a word typed takes no finding of a line away, whether the editor sends what changed or everything.
#[test]
fn findings_stay_while_a_text_does_not_read() {
    let text = format!("# Grüße\n{LIST}");
    let (_desk, mut client, file) = opened(&text);
    let broken = text.replacen("[[line]]", "[[line]", 1);
    let codes = |said: &[Value]| -> Vec<(String, u64)> {
        let row = |d: &Value| {
            (d["code"].as_str().unwrap().to_owned(), d["range"]["start"]["line"].as_u64().unwrap())
        };
        let mut rows: Vec<_> =
            said.iter().map(row).filter(|(code, at)| code.contains('.') && *at > 0).collect();
        rows.sort();
        rows
    };
    client.change(&file, 2, json!([{ "text": text }]));
    let before = client.said(&file, Some(2));
    assert!(!codes(&before).is_empty(), "{before:?}");
    client.change(&file, 3, json!([{ "text": broken }]));
    let after = client.said(&file, Some(3));
    assert!(after.iter().any(|d| d["code"] == "not-toml"), "{after:?}");
    assert_eq!(codes(&before), codes(&after));
    // What is written above moves them, and a change of their own place drops them.
    client.change(&file, 4, json!([{ "text": format!("# ö\n{broken}") }]));
    let moved: Vec<_> = codes(&before).into_iter().map(|(code, at)| (code, at + 1)).collect();
    assert_eq!(moved, codes(&client.said(&file, Some(4))));
    client.change(&file, 5, json!([{ "text": "[[line]" }]));
    assert_eq!(codes(&client.said(&file, Some(5))), Vec::new());
}
