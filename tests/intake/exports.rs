//! What dryfit writes for others, read back: the same parts, as many of each.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use dryfit::inside::intake::{Aliases, Intake, State, read_bytes};

use super::catalogue;
use super::generate::rng::Rng;
use crate::common::share;

type Parts = BTreeMap<String, u64>;

fn exported(list: &Path, format: &str) -> Vec<u8> {
    let run = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(["prices", "list", "--date", "2026-11-20", "--format", format])
        .arg(list)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("it runs");
    run.stdout
}

fn read_back(name: &str, bytes: &[u8]) -> Parts {
    let catalogue = catalogue();
    let intake = Intake::new(&catalogue, Aliases::default());
    let text = read_bytes(bytes, name).expect("it is a list");
    let mut parts = Parts::new();
    for row in intake.read(&text).expect("it is read") {
        assert!(matches!(row.state, State::Matched | State::Ignored), "{name}: {row:?}");
        // Markdown lists what the customer has, too.
        if let Some(part) = row.part.filter(|_| !row.owned) {
            *parts.entry(part).or_default() += u64::from(row.count);
        }
    }
    parts
}

/// The parts that a list buys: owned ones are no purchase.
fn bought(text: &str) -> Option<Parts> {
    let list: toml::Table = text.parse().ok()?;
    let mut parts = Parts::new();
    for line in list.get("line")?.as_array()? {
        if line.get("owned").and_then(toml::Value::as_bool) == Some(true) {
            continue;
        }
        // What an open line comes to is for the rules to say.
        let part = line.get("part")?.as_str()?;
        let count = line.get("count").and_then(toml::Value::as_integer).unwrap_or(1);
        *parts.entry(part.to_owned()).or_default() += u64::try_from(count).ok()?;
    }
    Some(parts)
}

fn same_in_every_form(list: &Path, parts: &Parts) {
    for format in ["csv", "json", "markdown"] {
        let name = format!("{} as {format}", list.display());
        assert_eq!(&read_back(&name, &exported(list, format)), parts, "{name}");
    }
}

#[test]
fn shopping_lists_of_the_demo_and_of_random_lists_come_back() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/examples");
    let files = fs::read_dir(folder).expect("the examples are there").flatten();
    let mut lists: Vec<PathBuf> = files.map(|f| f.path()).collect();
    lists.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    lists.sort();
    let mut known = Vec::new();
    let mut held = 0;
    for list in &lists {
        let text = fs::read_to_string(list).expect("it is text");
        let Some(parts) = bought(&text).filter(|p| !p.is_empty()) else { continue };
        same_in_every_form(list, &parts);
        known.extend(parts.into_keys());
        held += 1;
    }
    assert!(held >= 5, "{held} lists of the demo");
    known.sort();
    known.dedup();
    let random = Path::new(env!("CARGO_TARGET_TMPDIR")).join("random-list.toml");
    for seed in 0..u64::from(share::of(72)) {
        let mut rng = Rng(seed);
        let mut parts = Parts::new();
        let mut text = String::from("title = \"Random\"\n");
        for _ in 0..1 + rng.below(9) {
            let part = known.get(rng.below(known.len())).expect("there are parts").clone();
            let count = 1 + rng.below(4) as u64;
            text.push_str(&format!("[[line]]\npart = \"{part}\"\ncount = {count}\n"));
            *parts.entry(part).or_default() += count;
        }
        fs::write(&random, text).expect("it is written");
        same_in_every_form(&random, &parts);
    }
}

/// What `dryfit intake --format json` says of a list, said again: the same rows, with open lines,
/// unknown parts and their facts, owned ones, counts and prices.
#[test]
fn what_intake_wrote_is_read_as_it_was_understood() {
    let said = |list: &Path| {
        let run = Command::new(env!("CARGO_BIN_EXE_dryfit"))
            .args(["intake", "--ask-nothing", "--format", "json"])
            .arg(list)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .expect("it runs");
        assert!(!run.stdout.is_empty(), "{}", String::from_utf8_lossy(&run.stderr));
        run.stdout
    };
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/intake/by_hand");
    let again = Path::new(env!("CARGO_TARGET_TMPDIR")).join("understood.json");
    for name in ["19-wants.txt", "20-unknown-makers.txt", "23-owned.txt", "43-prices-words.txt"] {
        let first = said(&Path::new(folder).join(name));
        fs::write(&again, &first).expect("it is written");
        let rows = |bytes: &[u8]| {
            let document: serde_json::Value = serde_json::from_slice(bytes).expect("it is JSON");
            document["rows"].clone()
        };
        assert!(rows(&first).as_array().is_some_and(|rows| rows.len() > 4), "{name}");
        assert_eq!(rows(&said(&again)), rows(&first), "{name}");
    }
}
