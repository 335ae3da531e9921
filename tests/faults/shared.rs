//! A file that changes behind a session's back: by hand, by another session, by another import.

use std::fs;
use std::path::Path;
use std::time::Duration;

use dryfit::inside::app::prompt::TryOptions;
use dryfit::inside::app::prompt::build_file::OnDisk;
use dryfit::inside::app::prompt::session::Session;
use dryfit::inside::app::report::page::Page;
use dryfit::inside::app::report::style::Look;
use dryfit::inside::disk::write_whole;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::prices::import::{Map, import};
use dryfit::inside::source::Source;
use jiff::civil::date;

use super::{MAP, OFFERS, bench, litter};
use crate::common::desk::Desk;

fn session(desk: &Desk) -> Session {
    let options = TryOptions {
        build: desk.path("build.toml"),
        new: false,
        script: None,
        keep_going: false,
        limit: std::time::Duration::from_secs(60),
        trust_unknown: false,
        plain: true,
        rules: None,
        catalogue: None,
        today: date(2026, 11, 20),
    };
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
    assert!(
        refused.contains("changed on disk since it was read; nothing is written")
            && refused.contains("`save!`"),
        "{refused}"
    );
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
fn variables_keep_their_values_when_the_rules_are_read_again() {
    let desk = bench();
    let mut trial = session(&desk);
    run(&mut trial, "= let x = build.supply.rated_w").unwrap();
    run(&mut trial, "= let all = [x + 0.25, build.supply.name, #{ y: x * 2 }]").unwrap();
    run(&mut trial, "= let line = build.supply").unwrap();
    assert!(run(&mut trial, "= let f = |a| a + x").unwrap().contains("`f` is no more"));
    let shown = run(&mut trial, "= all").unwrap();
    let rated: f64 = run(&mut trial, "= x").unwrap().trim().parse().unwrap();
    desk.write("rules/own.rhai", "//! Own: ours.\n\n/// Always.\n/// Basis: practice.\nfn always(build) { advice(`seen ${build.supply.name}`); }\n");
    assert!(run(&mut trial, "reload").unwrap().contains("read again"));
    // The first expression after it: an id of the old kit would stand for something else in the new
    // one.
    let said =
        run(&mut trial, &format!("= x == {rated} && x < {} && all[0] > x", rated + 1.0)).unwrap();
    assert!(said.contains("`line` is no more") && said.ends_with("yes\n"), "{said}");
    assert_eq!(run(&mut trial, "= all").unwrap(), shown);
    assert!(run(&mut trial, "= line").is_err());
}

#[test]
fn who_saves_waits_its_turn_and_looks_again() {
    let desk = bench();
    let path = desk.path("build.toml");
    let held = fs::File::open(&path).unwrap();
    held.lock().unwrap();
    let (mut early, mut late) = (session(&desk), session(&desk));
    run(&mut early, "set budget 800").unwrap();
    assert!(run(&mut early, "save").unwrap_err().contains("another program keeps it locked"));
    let before = desk.read("build.toml");
    run(&mut late, "set budget 900").unwrap();
    // Another session is between its look and its rename, while this one has looked and found
    // nothing changed.
    std::thread::scope(|threads| {
        let other = threads.spawn(|| {
            std::thread::sleep(Duration::from_millis(300));
            desk.write("new", &before.replace("Counter desk", "Window desk"));
            fs::rename(desk.path("new"), &path).unwrap();
            drop(held);
        });
        assert!(run(&mut late, "save").unwrap_err().contains("changed on disk since it was read"));
        other.join().unwrap();
    });
    assert!(desk.read("build.toml").contains("Window desk"));
    assert_eq!(litter(&desk.0), Vec::<String>::new());
}

#[test]
fn of_many_that_save_at_once_none_loses_what_another_wrote() {
    let desk = Desk::new();
    let path = desk.path("count.toml");
    fs::write(&path, "0").unwrap();
    let saved: u32 = std::thread::scope(|threads| {
        let count = |_| {
            threads.spawn(|| {
                let tries = (0..60).filter(|_| {
                    let number: u32 = fs::read_to_string(&path).unwrap().parse().unwrap();
                    let mut disk = OnDisk::read(&path).unwrap();
                    // Another may have written between the two looks: then this number is an old
                    // one.
                    disk.holds(number.to_string().as_bytes())
                        && disk.save(&(number + 1).to_string(), false, "look again").is_ok()
                });
                tries.count() as u32
            })
        };
        let all: Vec<_> = (0..4).map(count).collect();
        all.into_iter().map(|t| t.join().unwrap()).sum()
    });
    assert_eq!(fs::read_to_string(&path).unwrap(), saved.to_string());
    assert!(saved > 0);
}

#[test]
fn of_many_that_make_one_file_one_does() {
    let desk = Desk::new();
    let path = desk.path("new.toml");
    let made: Vec<bool> = std::thread::scope(|threads| {
        let all: Vec<_> = (0..8u8)
            .map(|n| (n, &path))
            .map(|(n, path)| threads.spawn(move || write_whole(path, &[b'a' + n], false).is_ok()))
            .collect();
        all.into_iter().map(|t| t.join().unwrap()).collect()
    });
    let winner = made.iter().position(|made| *made).unwrap();
    assert_eq!(made.iter().filter(|made| **made).count(), 1, "{made:?}");
    assert_eq!(desk.read("new.toml").as_bytes(), [b'a' + winner as u8]);
    assert_eq!(litter(&desk.0), Vec::<String>::new());
}

#[test]
fn what_is_no_file_is_not_replaced_by_one() {
    let desk = bench();
    let path = desk.path("socket");
    let _socket = std::os::unix::net::UnixListener::bind(&path).unwrap();
    let mut trial = session(&desk);
    let mut refused = vec![run(&mut trial, &format!("save! {}", path.display())).unwrap_err()];
    for arguments in [
        &["sheet", "build.toml", "-o", "socket"][..],
        &["prices", "import", "feed.csv", "--map", "map.toml", "--write", "--into", "socket"],
    ] {
        let output = desk.command(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        refused.push(String::from_utf8_lossy(&output.stderr).into_owned());
    }
    assert!(refused.iter().all(|said| said.contains("not a file")), "{refused:?}");
    assert!(std::os::unix::fs::FileTypeExt::is_socket(
        &fs::symlink_metadata(&path).unwrap().file_type()
    ));
}

#[test]
fn two_imports_into_one_file_lose_no_row() {
    let desk = bench();
    let layers =
        Layers::beside(Path::new(&desk.path("build.toml"))).unwrap_or_else(|e| panic!("{e}"));
    let kit = Kit::load(&layers).unwrap_or_else(|e| panic!("{e}"));
    let map = Map::read(&Source::new("map.toml", MAP)).unwrap_or_else(|e| panic!("{e}"));
    let into = desk.path(OFFERS);
    let feed = desk.path("feed.csv");
    desk.write("short.csv", "id;price;day;stock\nsupply/wick-450;50.00;2025-01-02;1\n");
    // Another import runs from start to end while this one has read none of its rows.
    let mut other = None;
    let mut within = |_, _| {
        other.get_or_insert_with(|| {
            desk.command(&[
                "prices",
                "import",
                "short.csv",
                "--map",
                "map.toml",
                "--write",
                "--into",
                OFFERS,
            ])
            .output()
            .unwrap()
        });
    };
    let refused = import(kit.catalogue(), &map, &feed, Some(&into), &into, &mut within)
        .expect_err("the file has changed");
    assert!(refused.to_string().contains("changed by something else meanwhile"), "{refused}");
    assert!(other.is_some_and(|o| o.status.success()));
    assert!(desk.read(OFFERS).contains("wick-450"));
    let again = import(kit.catalogue(), &map, &feed, Some(&into), &into, &mut |_, _| {})
        .unwrap_or_else(|e| panic!("{e}"));
    assert!(again.added > 100 && desk.read(OFFERS).contains("wick-450"));
}
