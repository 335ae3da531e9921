//! Data flows one way: a room of `src/` uses rooms below it only.

use std::fs;
use std::path::{Path, PathBuf};

/// The rooms, the lowest first: each may use those before it.
const ROOMS: &[&str] = &[
    "words",
    "source",
    "level",
    "disk",
    "layer",
    "trade",
    "catalogue",
    "build",
    "intake",
    "partsheet",
    "settings",
    "config",
    "packs",
    "audit",
    "waivers",
    "rules",
    "kit",
    "cases",
    "whatif",
    "prices",
    "limits",
    "app",
];

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("the folder is there") {
        let path = entry.expect("it can be read").path();
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// What code names after `crate::`: a room, or something else where the code is not written so.
fn used(text: &str) -> Vec<String> {
    let code: Vec<&str> = text.lines().map(|l| l.split("//").next().unwrap_or("")).collect();
    let code = code.join("\n");
    let after = code.split("crate::").skip(1);
    after.map(|rest| rest.split([':', ';', ',', ' ']).next().unwrap_or("").to_owned()).collect()
}

#[test]
fn no_room_uses_one_above_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    files(&root, &mut paths);
    paths.sort();
    let place = |room: &str| ROOMS.iter().position(|r| *r == room);
    let (mut wrong, mut looks) = (Vec::new(), 0);
    for path in paths {
        let below =
            path.strip_prefix(&root).expect("it lies in src").to_string_lossy().replace('\\', "/");
        if ["lib.rs", "main.rs", "embed.rs"].contains(&&*below) {
            continue;
        }
        let own = below.split(['/', '.']).next().unwrap_or("");
        let Some(at) = place(own) else {
            wrong.push(format!("src/{below}: the order of rooms does not name `{own}`"));
            continue;
        };
        let text = fs::read_to_string(&path).expect("it can be read");
        for room in used(&text) {
            looks += 1;
            match place(&room) {
                None => wrong.push(format!(
                    "src/{below} uses `crate::{room}`, which is no room: one `use` a room"
                )),
                Some(other) if other > at => {
                    wrong.push(format!("src/{below} uses `crate::{room}`, which is above `{own}`"));
                }
                Some(_) => {}
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(looks > 500, "only {looks} uses were found: the reader of `use` lines is broken");
}

#[test]
fn the_picture_in_the_guide_has_the_rooms_in_this_order() {
    let guide = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md"))
        .expect("DEVELOPERS.md is there");
    let picture = guide
        .split_once("<!-- rooms, kept by tests/engine -->\n```\n")
        .and_then(|(_, rest)| rest.split_once("```"))
        .expect("the picture is there")
        .0;
    let rooms: Vec<&str> = picture
        .lines()
        .filter(|line| !line.starts_with(' '))
        .flat_map(|line| line.split("  ").next().unwrap_or("").split(' '))
        .map(|room| room.trim_end_matches('/'))
        .collect();
    assert_eq!(rooms, ROOMS);
}

#[test]
fn every_form_of_use_is_read() {
    let text = "use crate::a::B;\nuse crate::{c, d::E};\nlet x = crate::f::g(); // crate::h\n";
    assert_eq!(used(text), ["a", "{c", "f"]);
}
