//! The public names of the crate are those of a list: a name more or less is a decision.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// The names that `pub use` lines of a text bring to the root, under the name they get there.
fn exported(text: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for item in text.split("\npub use ").skip(1) {
        let item = item.split(';').next().unwrap_or("");
        let list =
            item.split_once('{').map_or(item, |(_, list)| list.trim_end().trim_end_matches('}'));
        for one in list.split(',').map(str::trim).filter(|one| !one.is_empty()) {
            let name = one.rsplit(" as ").next().unwrap_or(one);
            names.insert(name.rsplit("::").next().unwrap_or(name).to_owned());
        }
    }
    names
}

/// Items of the root that are public and not hidden from the documentation.
fn declared(text: &str) -> Vec<&str> {
    let lines: Vec<&str> = text.lines().collect();
    let public = |line: &str| {
        ["mod", "fn", "struct", "enum", "trait", "type", "const", "static"]
            .iter()
            .any(|word| line.starts_with(&format!("pub {word} ")))
    };
    let hidden = |at: usize| {
        let above = lines[..at].iter().rev().take_while(|l| l.starts_with('#'));
        above.into_iter().any(|l| *l == "#[doc(hidden)]")
    };
    let shown = |at: &usize| public(lines[*at]) && !hidden(*at);
    (0..lines.len()).filter(shown).map(|at| lines[at]).collect()
}

#[test]
fn the_public_names_are_those_of_the_list() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(root.join("src/lib.rs")).expect("src/lib.rs is there");
    assert_eq!(declared(&text), Vec::<&str>::new(), "the root declares nothing public of its own");
    let path = root.join("tests/engine/names.txt");
    let names: String = exported(&text).into_iter().map(|name| name + "\n").collect();
    if std::env::var_os("DRYFIT_BLESS").is_some() {
        fs::write(&path, &names).expect("it can be written");
    }
    let held = fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(
        names, held,
        "the crate's public names are not those of tests/engine/names.txt: \
         DRYFIT_BLESS=1 cargo test --test engine"
    );
}

#[test]
fn names_are_read_from_every_form_of_use() {
    let text =
        "\npub use a::B;\npub use c::{D, e::F,\n    G as H};\nuse i::J;\npub(crate) use k::L;\n";
    let names: Vec<String> = exported(text).into_iter().collect();
    assert_eq!(names, ["B", "D", "F", "H"]);
    let text = "#[doc(hidden)]\npub mod inside {\npub fn shown() {\nmod own;\n";
    assert_eq!(declared(text), ["pub fn shown() {"]);
}
