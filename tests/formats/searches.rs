//! What searches write for programs is as their schema promises, and says what the pages say.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{Folder, Judge, ROOT, closed, examples, run};

fn document(args: &[&str]) -> Value {
    let (_, text) = run(&[args, &["--format", "json"]].concat());
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{args:?}: {e}\n{text}"))
}

const WRECK: &str = "examples/quay-salvage.toml";
const GAMES: &str = "examples/youth-club-games.toml";
const EDIT: &str = "examples/bird-hide-edit.toml";
const CHEAP: &str = "examples/bird-hide-cheap.toml";

#[test]
fn searches_keep_their_contract() {
    let (code, text) = run(&["schema", "search"]);
    assert_eq!(code, Some(0));
    let schema: Value = serde_json::from_str(&text).expect("the schema is JSON");
    let judges = [Judge::new(schema.clone()), Judge::new(closed(schema))];
    let folder = Folder::new("searches");
    let names = folder.put(
        "names \u{202e} <b>.toml",
        "title = \"\\u001b[31m<b>\"\n[[line]]\npart = \"processor/whimbrel-306\"\ncount = 3\n",
    );
    let mut asked: Vec<Vec<&str>> = vec![
        vec!["plan", "examples/briefs/study-desk.toml", "--why", "processor/dotterel-606p"],
        vec!["plan", "examples/briefs/edit-desk.toml", "--seconds", "1"],
        vec!["fit", GAMES, "supply"],
        vec!["steps", GAMES, "graphics"],
        vec!["mend", WRECK, "--seconds", "1"],
        vec!["mend", GAMES],
        vec!["mend", &names, "--seconds", "1"],
        vec!["fit", &names, "processor"],
        vec!["mix", CHEAP, EDIT, "--seconds", "1"],
        vec!["compare", CHEAP, EDIT],
        vec!["compare", EDIT, EDIT],
    ];
    let lists = examples();
    asked.extend(lists.iter().map(|list| vec!["steps", list, "storage", "--seconds", "1"]));
    for args in &asked {
        // A list may have no such line; that is refused aside.
        if args[0] == "steps" && run(args).0 == Some(2) {
            continue;
        }
        let document = document(args);
        for judge in &judges {
            judge.assert(&args.join(" "), &document);
        }
        let format = format!("dryfit-{}", args[0]);
        assert_eq!(document["format"].as_str(), Some(&*format));
    }
    // The judges do judge.
    let mut more = document(&["steps", GAMES, "graphics"]);
    more["lines"][0]["new"] = 1.into();
    assert!(judges[0].allows(&more) && !judges[1].allows(&more));
    more["lines"][0].as_object_mut().expect("a line").remove("up");
    assert!(!judges[0].allows(&more));
}

/// The changes that are shown are those that are made, and what they make is sound.
#[test]
fn a_list_is_mended_in_its_file() {
    let folder = Folder::new("mended");
    let text = fs::read_to_string(Path::new(ROOT).join("examples/boatyard-drawing.toml"));
    let text = text.expect("it is there").replace("#:schema", "# Kept:");
    let list = folder.put("list.toml", &text);
    let ways = document(&["mend", &list]);
    let ways = ways["ways"].as_array().expect("ways");
    assert!(ways.len() > 1);
    let (code, patch) = run(&["mend", &list, "--diff", "--way", "2"]);
    assert_eq!(code, Some(0));
    assert!(patch.starts_with("--- ") && patch.contains("\n-"), "{patch}");
    assert_eq!(fs::read_to_string(&list).expect("it is there"), text, "--diff writes nothing");
    let (code, said) = run(&["mend", &list, "--write", "--way", "2"]);
    assert_eq!((code, said.contains("wrote ")), (Some(0), true), "{said}");
    let written = fs::read_to_string(&list).expect("it is there");
    let swap = &ways[1]["changes"][0];
    assert!(swap["to"].as_str().is_some_and(|to| written.contains(to)), "{swap}");
    assert!(written.starts_with("# Kept:"), "comments stay");
    // Once mended there is nothing to do, and nothing is done.
    let (code, said) = run(&["mend", &list, "--write"]);
    assert_eq!((code, said.contains("nothing to mend")), (Some(0), true), "{said}");
    assert_eq!(fs::read_to_string(&list).expect("it is there"), written);
    // A way that is not there, and a line that is not there.
    let list = folder.put("again.toml", &text);
    assert_eq!(run(&["mend", &list, "--write", "--way", "99"]).0, Some(2));
    assert_eq!(fs::read_to_string(&list).expect("it is there"), text);
    assert_eq!(run(&["fit", &list, "frobnicator"]).0, Some(2));
    assert_eq!(run(&["fit", &list, ""]).0, Some(2));
    assert_eq!(run(&["mend", &list, "--write", "--diff"]).0, Some(2));
}

/// The command says what the prompt says.
#[test]
fn a_command_and_the_prompt_say_the_same() {
    let folder = Folder::new("said");
    for (words, line) in
        [(["fit", GAMES, "supply"], "fit supply"), (["steps", GAMES, "graphics"], "steps graphics")]
    {
        let script = folder.put("s.txt", line);
        let prompt = run(&["try", GAMES, "--script", &script]);
        assert_eq!(prompt, run(&words), "{line}");
    }
}
