//! Runs every case: a folder with a `cmd` file, run in a copy of itself, compared with `stdout`,
//! `stderr` and `code` beside it.
//!
//! - `base` names folders under `base/`, one a line, whose files are laid under the case's own.
//! - `setup` makes what can't be kept in a repository, one step a line (see `setup.rs`).
//! - `cmd` may begin with `NAME=value` words, which go to the environment, and end with `| closed`,
//!   which closes the pipe at once.
//! - `wrote` is a folder of what the run leaves: files as they must stand afterwards. All else must
//!   stand as it stood before, byte for byte.
//! - `facts` holds what must be so whatever the snapshot says: `+ text` must be in the output, `-
//!   text` must not.
//!
//! `DRYFIT_BLESS=1` writes the snapshots anew; `DRYFIT_CASE=part/of/path` runs some only.

mod run;
mod setup;
mod stand;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::{env, fs, thread};

/// What no output may ever hold: the library's inner names, a panic, and anything that acts on a
/// terminal.
const NEVER: &[&str] = &[
    "panicked",
    "rhai::",
    "Dynamic",
    "EvalAlt",
    "ErrorRuntime",
    "alloc::",
    "core::",
    "dryfit::",
    "&str",
    "Num)",
    "i64",
    "f64",
];

/// A test a folder of cases, so that one can be run alone.
macro_rules! suites {
    ($($name:ident = $folder:literal)*) => {
        const SUITES: &[&str] = &[$($folder),*];
        $(#[test]
        fn $name() {
            check($folder);
        })*
    };
}

suites! {
    bad_brief = "bad/brief"
    bad_build = "bad/build"
    bad_catalogue = "bad/catalogue"
    bad_feed = "bad/feed"
    bad_rules = "bad/rules"
    demo = "demo"
    good = "good"
    layers = "layers"
    accepted = "accepted"
    lists = "lists"
    machine = "machine"
    search = "search"
}

#[test]
fn no_case_is_outside_the_suites() {
    let root = root();
    let mut cases = Vec::new();
    find(&root, &mut cases);
    let held = |case: &PathBuf| SUITES.iter().any(|suite| case.starts_with(root.join(suite)));
    assert!(cases.iter().all(held) && cases.len() > 300, "{} cases", cases.len());
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases")
}

/// Runs every case of a folder.
fn check(suite: &str) {
    let root = root();
    let wanted = env::var("DRYFIT_CASE").unwrap_or_default();
    let mut cases = Vec::new();
    find(&root.join(suite), &mut cases);
    assert!(!cases.is_empty(), "no case is in {suite}");
    cases.retain(|c| c.to_string_lossy().contains(&wanted));
    cases.sort();
    let next = AtomicUsize::new(0);
    let failures = Mutex::new(Vec::new());
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while let Some(case) = cases.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let name = case.strip_prefix(&root).unwrap_or(case).display().to_string();
                    if let Err(why) = one(&root, case) {
                        failures
                            .lock()
                            .unwrap_or_else(PoisonError::into_inner)
                            .push(format!("== {name}\n{why}"));
                    }
                }
            });
        }
    });
    let mut failures = failures.into_inner().unwrap_or_else(PoisonError::into_inner);
    failures.sort();
    assert!(
        failures.is_empty(),
        "{} of {} cases:\n{}",
        failures.len(),
        cases.len(),
        failures.join("\n")
    );
}

fn find(folder: &Path, into: &mut Vec<PathBuf>) {
    if folder.join("cmd").is_file() {
        into.push(folder.to_path_buf());
        return;
    }
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.path().is_dir() {
            find(&entry.path(), into);
        }
    }
}

fn one(root: &Path, case: &Path) -> Result<(), String> {
    let read = |name: &str| fs::read_to_string(case.join(name)).unwrap_or_default();
    let place = setup::Place::new(root, case)?;
    if !setup::prepare(&place.folder, &read("setup"))? {
        return Ok(());
    }
    let before = stand::files(&place.folder);
    let seen = run::run(&place.folder, read("cmd").trim())?;
    let after = stand::files(&place.folder);
    let mut wrong = limits(&seen);
    undated(&place.folder, &read("cmd"), &seen, &mut wrong);
    if env::var_os("DRYFIT_BLESS").is_some() {
        stand::bless(&case.join("wrote"), &place.folder)?;
    }
    stand::differ(&case.join("wrote"), &before, &after, &mut wrong);
    facts(&read("facts"), &seen, &mut wrong);
    if env::var_os("DRYFIT_BLESS").is_some() {
        bless(case, &seen)?;
    } else {
        differ("stdout", &read("stdout"), &seen.stdout, &mut wrong);
        differ("stderr", &read("stderr"), &seen.stderr, &mut wrong);
        let code = read("code").trim().parse().unwrap_or(0);
        if seen.code != Some(code) {
            let _ = writeln!(wrong, "exit code {:?}, expected {code}", seen.code);
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong) }
}

/// Input of any kind is answered without much memory and before the runner's clock ends it.
fn limits(seen: &run::Seen) -> String {
    let mut wrong = String::new();
    if seen.peak_kb > 200 << 10 {
        let _ = writeln!(wrong, "used {} MiB", seen.peak_kb >> 10);
    }
    if seen.code.is_none() {
        let _ = writeln!(wrong, "was killed by a signal or by the clock");
    }
    let acts = |c: char| {
        c.is_control() && c != '\n'
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    for (name, text) in [("stdout", &seen.stdout), ("stderr", &seen.stderr)] {
        for word in NEVER.iter().filter(|w| text.contains(**w)) {
            let _ = writeln!(wrong, "{name} says `{word}`");
        }
        if text.chars().any(acts) {
            let _ = writeln!(wrong, "{name} holds a character that acts on a terminal");
        }
    }
    wrong
}

/// What is printed is the same tomorrow: no output may hold a day that only the clock gave.
fn undated(folder: &Path, cmd: &str, seen: &run::Seen, wrong: &mut String) {
    let today = jiff::Zoned::now().date().to_string();
    let given = || {
        cmd.contains(&today)
            || stand::files(folder)
                .keys()
                .filter_map(|file| fs::read_to_string(folder.join(file)).ok())
                .any(|text| text.contains(&today))
    };
    if seen.stdout.contains(&today) && !given() {
        let _ = writeln!(wrong, "depends on the day it is run: give it `--date`");
    }
}

fn facts(facts: &str, seen: &run::Seen, wrong: &mut String) {
    let all = format!("{}{}", seen.stdout, seen.stderr);
    for fact in facts.lines().filter(|l| !l.trim().is_empty()) {
        let ok = match fact.split_at_checked(2) {
            Some(("+ ", text)) => all.contains(text),
            Some(("- ", text)) => !all.contains(text),
            Some(("w ", most)) => {
                all.lines().all(|l| l.chars().count() <= most.parse().unwrap_or(usize::MAX))
            }
            _ => false,
        };
        if !ok {
            let _ = writeln!(wrong, "fact not so: {fact}");
        }
    }
}

fn bless(case: &Path, seen: &run::Seen) -> Result<(), String> {
    let code = seen.code.map_or_else(String::new, |c| format!("{c}\n"));
    for (name, text) in [("stdout", &seen.stdout), ("stderr", &seen.stderr), ("code", &code)] {
        let path = case.join(name);
        let usual = text.is_empty() || (name == "code" && text == "0\n");
        let done = if usual {
            fs::remove_file(&path)
                .or_else(|e| if e.kind() == std::io::ErrorKind::NotFound { Ok(()) } else { Err(e) })
        } else {
            fs::write(&path, text)
        };
        done.map_err(|e| format!("{}: {e}", path.display()))?;
    }
    Ok(())
}

fn differ(name: &str, expected: &str, seen: &str, wrong: &mut String) {
    if expected == seen {
        return;
    }
    let (old, new): (Vec<&str>, Vec<&str>) = (expected.lines().collect(), seen.lines().collect());
    let same = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let _ = writeln!(wrong, "{name} differs from line {}:", same + 1);
    for (sign, lines) in [("-", &old), ("+", &new)] {
        for line in lines.iter().skip(same).take(8) {
            let _ = writeln!(wrong, "  {sign} {}", line.chars().take(200).collect::<String>());
        }
    }
}
