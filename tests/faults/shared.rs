//! A file that changes behind a session's back: by hand, by another session, by another import.

use std::fs;
use std::path::Path;

use dryfit::kit::{Kit, Layers};
use dryfit::prices::import::{Map, import};
use dryfit::repl::TryOptions;
use dryfit::repl::page::Page;
use dryfit::repl::session::Session;
use dryfit::report::style::Look;
use dryfit::source::Source;
use jiff::civil::date;

use crate::desk::Desk;
use crate::{MAP, OFFERS, bench};

fn session(desk: &Desk) -> Session {
    let options =
        TryOptions { build: desk.path("build.toml"), script: None, keep_going: false, plain: true, rules: None, catalogue: None, today: date(2026, 11, 20) };
    Session::open(&options, true).unwrap_or_else(|e| panic!("{e}"))
}

/// Runs a line; what it says, or why it was refused.
fn run(session: &mut Session, line: &str) -> Result<String, String> {
    let mut page = Page::new(Look { colour: false, drawing: false, width: 100 });
    session.run(line, &mut page, &mut |_, _| None).map(|_| page.text).map_err(|e| e.to_string())
}

#[test]
fn the_second_of_two_sessions_is_refused() {
    let desk = bench();
    let (mut first, mut second) = (session(&desk), session(&desk));
    run(&mut first, "set budget 800").unwrap();
    run(&mut second, "set budget 900").unwrap();
    run(&mut first, "save").unwrap();
    let saved = desk.read("build.toml");
    let refused = run(&mut second, "save").unwrap_err();
    assert!(refused.contains("changed on disk since it was read; nothing is written") && refused.contains("`save!`"), "{refused}");
    assert_eq!(desk.read("build.toml"), saved);
    // What the second has is not lost: elsewhere, or over the first after all.
    run(&mut second, &format!("save {}", desk.path("mine.toml").display())).unwrap();
    assert!(desk.read("mine.toml").contains("900") && saved.contains("800"));
    run(&mut second, "save!").unwrap();
    assert_eq!(desk.read("build.toml"), desk.read("mine.toml"));
    // And then the first is the second.
    run(&mut first, "set budget 700").unwrap();
    assert!(run(&mut first, "save").is_err());
}

#[test]
fn a_file_replaced_removed_or_made_a_folder_is_not_written_over() {
    let desk = bench();
    let path = desk.path("build.toml");
    let mut trial = session(&desk);
    run(&mut trial, "set budget 800").unwrap();
    // An editor writes another file and puts it in this one's place.
    desk.write("new", &desk.read("build.toml").replace("Counter desk", "Window desk"));
    fs::rename(desk.path("new"), &path).unwrap();
    assert!(run(&mut trial, "save").unwrap_err().contains("changed on disk"));
    assert!(desk.read("build.toml").contains("Window desk"));
    fs::remove_file(&path).unwrap();
    assert!(run(&mut trial, "save").unwrap_err().contains("is gone from the disk"));
    assert!(!path.exists());
    fs::create_dir(&path).unwrap();
    assert!(run(&mut trial, "save!").unwrap_err().contains("is a folder"));
    fs::remove_dir(&path).unwrap();
    run(&mut trial, "save!").unwrap();
    assert!(desk.read("build.toml").contains("800.00") || desk.read("build.toml").contains("800"));
    // A file that is no list any more is said to be none, and the trial stays as it is.
    desk.write("build.toml", "not a list");
    assert!(run(&mut trial, "reload").is_err());
    assert!(trial.trial.text().contains("800"));
}

#[test]
fn two_imports_into_one_file_lose_no_row() {
    let desk = bench();
    let layers = Layers::beside(Path::new(&desk.path("build.toml"))).unwrap_or_else(|e| panic!("{e}"));
    let kit = Kit::load(&layers).unwrap_or_else(|e| panic!("{e}"));
    let map = Map::read(&Source::new("map.toml", MAP)).unwrap_or_else(|e| panic!("{e}"));
    let into = desk.path(OFFERS);
    let feed = desk.path("feed.csv");
    desk.write("short.csv", "id;price;day;stock\nsupply/wick-450;50.00;2025-01-02;1\n");
    // Another import runs from start to end while this one has read none of its rows.
    let mut other = None;
    let mut within = |_, _| {
        other.get_or_insert_with(|| desk.command(&["prices", "import", "short.csv", "--map", "map.toml", "--write", "--into", OFFERS]).output().unwrap());
    };
    let refused = import(kit.catalogue(), &map, &feed, Some(&into), &into, &mut within).expect_err("the file has changed");
    assert!(refused.to_string().contains("changed by something else meanwhile"), "{refused}");
    assert!(other.is_some_and(|o| o.status.success()));
    assert!(desk.read(OFFERS).contains("wick-450"));
    let again = import(kit.catalogue(), &map, &feed, Some(&into), &into, &mut |_, _| {}).unwrap_or_else(|e| panic!("{e}"));
    assert!(again.added > 100 && desk.read(OFFERS).contains("wick-450"));
}
