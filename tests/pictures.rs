//! The pictures of the README: a session at the prompt, recorded in a real pseudo-terminal, and a
//! picture of a sheet.
//!
//! `DRYFIT_BLESS=1 cargo test --test golden pictures` draws them anew; look at them before you keep
//! them.

use std::fs;
use std::io::{Read as _, Write as _};
use std::path::Path;
use std::process::Command as Plain;
use std::time::{Duration, Instant};

use pty_process::Size;
use pty_process::blocking::{Command, Pty};

use crate::common::screen::Screen;

const COLUMNS: u16 = 92;
const ROWS: u16 = 60;
/// Longest wait for the prompt.
const PATIENCE: Duration = Duration::from_secs(120);
/// What is typed.
const SESSION: &[&str] = &["watch airflow.noise", "mend", "mend 2"];

fn held(name: &str, drawn: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/pictures").join(name);
    if std::env::var_os("DRYFIT_BLESS").is_some() {
        fs::create_dir_all(path.parent().expect("a folder")).expect("it can be made");
        fs::write(&path, drawn).expect("it can be written");
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    assert!(kept == drawn, "{} is out of date: DRYFIT_BLESS=1", path.display());
}

/// Reads until the screen shows so many prompts, the last of them empty.
fn until_prompt(pty: &Pty, screen: &mut Screen, prompts: usize) {
    let start = Instant::now();
    let mut bytes = [0; 4096];
    while screen.prompts() < prompts || !screen.is_at_prompt() {
        assert!(start.elapsed() < PATIENCE, "no prompt: {}", screen.text());
        let n = (&mut &*pty).read(&mut bytes).expect("it goes on");
        screen.take(&String::from_utf8_lossy(&bytes[..n]));
    }
}

#[test]
fn the_recorded_session_is_true() {
    let folder = std::env::temp_dir().join(format!("dryfit-picture-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("it can be made");
    let list = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/boatyard-drawing.toml");
    fs::copy(list, folder.join("boatyard.toml")).expect("it can be copied");
    let (pty, pts) = pty_process::blocking::open().expect("a terminal");
    pty.resize(Size::new(ROWS, COLUMNS)).expect("it has a size");
    let mut child = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(["try", "boatyard.toml", "--date", "2026-11-20"])
        .current_dir(&folder)
        .env("XDG_DATA_HOME", &folder)
        .env("TERM", "xterm")
        .env("LC_ALL", "C.UTF-8")
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .spawn(pts)
        .expect("it starts");
    let mut screen = Screen::new(usize::from(COLUMNS));
    until_prompt(&pty, &mut screen, 1);
    for (at, line) in SESSION.iter().enumerate() {
        (&pty).write_all(format!("{line}\r").as_bytes()).expect("it takes input");
        until_prompt(&pty, &mut screen, at + 2);
    }
    (&pty).write_all(b"quit!\r").expect("it takes input");
    child.wait().expect("it ends");
    let _ = fs::remove_dir_all(&folder);
    held("prompt.svg", &screen.svg());
}

#[test]
fn the_picture_of_a_sheet_is_one_of_a_sheet() {
    let output = Plain::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(["sheet", "examples/quay-salvage.toml", "-o", "-", "--date", "2026-11-20"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("it starts");
    let page = String::from_utf8(output.stdout).expect("text");
    let style = page.split("<style>").nth(1).and_then(|s| s.split("</style>").next());
    let start = page.find("<svg ").expect("a picture");
    let end = page[start..].find("</svg>").expect("it ends") + start + "</svg>".len();
    let picture = page[start..end].replacen(
        "<svg ",
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"840\" style=\"background: #fbfaf4\" ",
        1,
    );
    let (head, rest) = picture.split_once('>').expect("a head");
    let style = style.expect("a style");
    held("power.svg", &format!("{head}>\n<style>{style}</style>{rest}\n"));
}
