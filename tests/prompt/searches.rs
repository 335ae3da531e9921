//! Searches that are ended early, and what they leave.

use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::out;
use crate::common::desk::{Desk, aside};

/// A brief with so much to choose from that nobody waits for the end of it.
const LONG: &str = r#"purpose = "games"
priced_on = 2026-11-20
needs = ["processor", "board", "cooler", "memory", "graphics", "storage", "chassis", "supply", "fan", "display", "sound", "input"]
maximise = ["value.index", "power.in_hand"]
minimise = "airflow.noise"
"#;

/// Whether a process takes Ctrl-C into its own hands.
fn listens(process: u32) -> bool {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:"));
    caught.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).is_some_and(|m| m & 2 != 0)
}

#[test]
fn ctrl_c_ends_a_plan_with_the_best_so_far() {
    let desk = Desk::new();
    desk.write("long.toml", LONG);
    let child = desk
        .command(&["plan", "long.toml", "--seconds", "600", "-o", "made.toml"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    // Not before the search listens, however slow the machine is.
    let begun = Instant::now();
    while !listens(child.id()) && begun.elapsed() < Duration::from_secs(60) {
        sleep(Duration::from_millis(20));
    }
    sleep(Duration::from_millis(500));
    let start = Instant::now();
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .expect("kill is there");
    let done = child.wait_with_output().expect("it ends");
    assert!(sent.success() && start.elapsed() < Duration::from_secs(60), "{:?}", start.elapsed());
    let text = out(&done);
    // It may have proven its best by then, but not what could be weighed against it.
    let early = ["the best so far", "as far as was looked", "before the search was ended"]
        .iter()
        .any(|w| text.contains(w));
    let told = aside(&done);
    assert!(early && told.contains("unfinished: Ctrl-C ended the search"), "{text}\n{told}");
    assert_eq!(done.status.code(), Some(130));
    assert!(told.contains("nothing is written") && desk.names() == ["desk.toml", "long.toml"]);
}

#[test]
fn a_plan_stops_when_its_time_is_over() {
    let desk = Desk::new();
    desk.write("long.toml", LONG);
    let done = desk.pipe(&["plan", "long.toml", "--seconds", "1"], "");
    let text = out(&done).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        text.contains("so far") || text.contains("as far as was looked"),
        "{text}\n{}",
        aside(&done)
    );
}

#[test]
fn a_plan_becomes_a_build_that_passes_and_no_file_is_written_over() {
    let desk = Desk::new();
    desk.write("brief.toml", "# For the desk by the door.\npurpose = \"office\"\nbudget = \"450.00 EUR\"\npriced_on = 2026-11-20\nneeds = [\"processor\", \"board\", \"memory\", \"storage\", \"chassis\", \"supply\"]\nwants = [\"build.processor.graphics\"] # no card\nminimise = \"price\"\n");
    let done = desk.pipe(&["plan", "brief.toml", "-o", "made.toml"], "");
    assert_eq!(done.status.code(), Some(0), "{}", aside(&done));
    let made = desk.read("made.toml");
    assert!(
        made.starts_with("# For the desk by the door.")
            && !made.contains("wants")
            && made.matches("[[line]]").count() == 6,
        "{made}"
    );
    assert_eq!(desk.pipe(&["audit", "made.toml"], "").status.code(), Some(0));
    let again = desk.pipe(&["plan", "brief.toml", "-o", "made.toml"], "");
    assert!(
        again.status.code() == Some(2)
            && aside(&again).contains("--force")
            && desk.read("made.toml") == made
    );
}

#[test]
fn the_prompt_writes_a_sheet_once() {
    let desk = Desk::new();
    let done = desk.pipe(&["try", "desk.toml"], "sheet desk.html\nsheet desk.html\n");
    assert!(
        done.status.code() == Some(2)
            && out(&done).contains("wrote desk.html")
            && aside(&done).contains("sheet! desk.html"),
        "{}",
        aside(&done)
    );
    assert!(
        desk.read("desk.html").starts_with("<!doctype html>")
            || desk.read("desk.html").starts_with("<!DOCTYPE html>")
    );
}
