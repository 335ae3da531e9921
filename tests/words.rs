//! Words that are not to come back: paraphrases of what the trade has a word for, and phrases that
//! nobody says. Read are the rules' messages and doc lines, the catalogue's meanings, help texts,
//! and whatever the cases print.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use dryfit::inside::app::writing::plain_words::found;

fn files(folder: &Path, wanted: &dyn Fn(&Path) -> bool, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, wanted, into);
        } else if wanted(&path) {
            into.push(path);
        }
    }
}

/// The prose of a rule file: doc lines, and the texts that findings and steps are made of.
fn prose_of_rules(text: &str) -> Vec<String> {
    let mut prose = Vec::new();
    for line in text.lines() {
        let bare = line.trim_start();
        if let Some(doc) = bare.strip_prefix("///").or_else(|| bare.strip_prefix("//!")) {
            prose.push(doc.to_owned());
            continue;
        }
        for call in ["stop(\"", "caution(\"", "advice(\"", "step(\""] {
            for piece in line.split(call).skip(1) {
                prose.push(piece.split("\", ").next().unwrap_or("").to_owned());
            }
        }
    }
    prose
}

/// The prose of declarations: titles and meanings.
fn prose_of_declarations(text: &str) -> Vec<String> {
    let keys = ["title", "meaning", "basis", "usual_basis"];
    let of = |line: &str| {
        let (key, value) = line.split_once('=')?;
        keys.contains(&key.trim()).then(|| value.trim().trim_matches('"').to_owned())
    };
    text.lines().filter_map(of).collect()
}

fn faults(of: &str, text: &str, words: bool, into: &mut Vec<String>) {
    for (word, _) in found(text, words) {
        into.push(format!("{of}: `{word}` in: {text}"));
    }
}

fn help(args: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_dryfit")).args(args).output().expect("it starts");
    String::from_utf8(output.stdout).expect("text")
}

#[test]
fn no_word_of_the_list_comes_back() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut back = Vec::new();
    let name = |path: &Path| path.strip_prefix(root).unwrap_or(path).display().to_string();
    let ends = |end: &'static str| move |path: &Path| path.to_string_lossy().ends_with(end);
    let mut paths = Vec::new();
    files(&root.join("rules"), &ends(".rhai"), &mut paths);
    assert!(paths.len() > 20, "{paths:?}");
    for path in paths {
        let text = fs::read_to_string(&path).expect("it reads");
        for prose in prose_of_rules(&text) {
            faults(&name(&path), &prose, true, &mut back);
        }
    }
    let mut paths = vec![root.join("rules/settings.toml")];
    files(&root.join("catalogue/kinds"), &ends(".toml"), &mut paths);
    files(&root.join("catalogue/tables"), &ends(".toml"), &mut paths);
    for path in paths {
        let text = fs::read_to_string(&path).expect("it reads");
        for prose in prose_of_declarations(&text) {
            faults(&name(&path), &prose, true, &mut back);
        }
    }
    let manual = help(&["man"]);
    assert!(manual.len() > 2_000);
    for line in manual.lines() {
        faults("dryfit man", line, true, &mut back);
    }
    let mut paths = Vec::new();
    let shown = |path: &Path| matches!(path.file_name(), Some(n) if n == "stdout" || n == "stderr");
    files(&root.join("tests/cases"), &shown, &mut paths);
    assert!(paths.len() > 200);
    for path in paths {
        let text = String::from_utf8_lossy(&fs::read(&path).expect("it reads")).into_owned();
        for line in text.lines() {
            faults(&name(&path), line, false, &mut back);
        }
    }
    back.sort();
    back.dedup();
    assert!(back.is_empty(), "{} words came back:\n{}", back.len(), back.join("\n"));
}
