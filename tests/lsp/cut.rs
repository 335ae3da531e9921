//! Halves of files: each shipped file cut off anywhere, as while it is typed. The server answers
//! wherever it is asked, and says where the text breaks off.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::json;

use super::client::{Client, uri};
use super::law::{Dice, position};
use crate::common::desk::Desk;
use crate::common::share;

/// What an editor asks at a place.
const ASKED: &[&str] = &[
    "textDocument/completion",
    "textDocument/hover",
    "textDocument/signatureHelp",
    "textDocument/definition",
    "textDocument/documentSymbol",
    "textDocument/foldingRange",
    "textDocument/formatting",
    "textDocument/inlayHint",
    "textDocument/codeLens",
    "textDocument/prepareRename",
];

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> = entries.collect();
    paths.sort();
    for path in paths {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("").to_owned();
        if path.is_dir() {
            files(&path, into);
        } else if ["toml", "rhai", "csv"].contains(&ending.as_str()) {
            into.push(path);
        }
    }
}

#[test]
fn a_file_cut_off_anywhere_is_answered_for_everywhere() {
    let mut dice = Dice::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = Vec::new();
    for folder in ["catalogue", "rules", "examples"] {
        files(&root.join(folder), &mut paths);
    }
    assert!(paths.len() > 100, "the shipped files are found");
    let desk = Desk::new();
    desk.write("rules/layer.toml", "");
    desk.write("catalogue/layer.toml", "");
    let mut client = Client::start(&desk, &["utf-16"]);
    let step = if share::whole() { 1 } else { 9 };
    let (mut asked, mut version) = (0, 1);
    for path in paths.iter().skip(dice.roll(step)).step_by(step) {
        let text = fs::read_to_string(path).unwrap();
        let mut at = dice.roll(text.len() + 1);
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        let half = &text[..at];
        let below = path.strip_prefix(root).unwrap().display().to_string();
        let file = uri(&desk.0) + "/" + below.strip_prefix("examples/").unwrap_or(&below);
        client.open(&file, half);
        let mut places = vec![at, 0];
        places.extend((0..3).map(|_| dice.roll(at + 1)));
        for mut at in places {
            while !half.is_char_boundary(at) {
                at -= 1;
            }
            // A place within `\r\n` is none that an editor sends.
            if half[..at].ends_with('\r') && half[at..].starts_with('\n') {
                continue;
            }
            for method in ASKED {
                let id = client.send(
                    method,
                    json!({
                        "textDocument": { "uri": file },
                        "position": position(half, at, false),
                        "options": { "tabSize": 4, "insertSpaces": true },
                    }),
                );
                let answer = client.wait(id);
                // What cannot be renamed, or laid out, says so; nothing else fails.
                let may = ["textDocument/prepareRename", "textDocument/formatting"];
                let sound = answer.get("error").is_none() || may.contains(method);
                assert!(sound, "{method} at byte {at} of {below}: {answer}\n{half}");
                asked += 1;
            }
        }
        version += 1;
        client.change(&file, version, json!([{ "text": text }]));
        client.notify("textDocument/didClose", json!({ "textDocument": { "uri": file } }));
    }
    assert!(asked > 400, "{asked} questions");
    assert_eq!(client.end(), Some(0));
}
