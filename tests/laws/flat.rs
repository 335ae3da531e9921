//! Many lists take no more memory than a few: what rules remember is bounded, whatever they say.
#![cfg(target_os = "linux")]

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;
use std::{env, fs, process};

use dryfit::inside::build::What;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::source::Source;
use jiff::civil::date;

use crate::random::{Random, random_build};
use crate::watch;

/// A rule that says something else of every list, at length, and compares with as much.
const HOARD: &str = "/// Hoards.\n/// Basis: none.\nfn hoard(build) {\n\
    let own = build.budget.to_int();\n\
    let long = `${own} `; long.pad(4000, \"w\");\n\
    for n in 0..4 { advice(\"{what}\", #{ what: `${n} ${long}` }); }\n\
    for n in 0..60 { let text = `${n} ${long}`; if build.purpose == text { advice(\"never\"); } }\n}";
/// Leaves the rules aside that the program carries.
const ALONE: &str = "[rule.\"*\"]\noff = true\nreason = \"hoard is looked at by itself\"\n\
    [rule.\"hoard.hoard\"]\noff = false\nreason = \"hoard is looked at by itself\"\n";

/// Holds the most memory that is used over four times as many lists to that over a few; the budget
/// of each is its own.
fn held(name: &str, rules: &[(&str, &str)], lines: impl Fn(usize) -> String, few: usize) {
    let folder = env::temp_dir().join(format!("dryfit-flat-{name}-{}", process::id()));
    let write = |below: &Path, text: &str| {
        let path = folder.join(below);
        fs::create_dir_all(path.parent().unwrap_or(&folder))
            .and_then(|()| fs::write(&path, text))
            .unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    };
    write(Path::new("rules/settings.toml"), "");
    for (file, text) in rules {
        write(&Path::new("rules").join(file), text);
    }
    let peak = |lists: usize| {
        let into = Path::new("lists").join(lists.to_string());
        for at in 0..lists {
            let head = format!("purpose = \"games\"\nbudget = \"{}.00 EUR\"\n", 1000 + at);
            write(&into.join(format!("{at}.toml")), &format!("{head}{}", lines(at)));
        }
        let mut command = Command::new(env!("CARGO_BIN_EXE_dryfit"));
        command.arg("audit").arg(&into).args(["--format", "json-lines", "--date", "2026-11-20"]);
        let child = command.current_dir(&folder).stdout(Stdio::null()).spawn();
        let mut child = child.unwrap_or_else(|e| panic!("{e}"));
        let used = watch::watch(&mut child, Duration::from_secs(600));
        let used = used.unwrap_or_else(|e| panic!("{e}"));
        assert!(matches!(used.code, Some(0 | 1)), "{:?}", used.code);
        used.peak_kb
    };
    let (low, high) = (peak(few), peak(4 * few));
    let _ = fs::remove_dir_all(&folder);
    assert!(low > 0 && high * 10 <= low * 13, "{few} lists: {low} KiB, {}: {high} KiB", 4 * few);
}

#[test]
fn lists_of_any_parts_take_flat_memory() {
    let kit = Kit::load(&Layers::built_in()).unwrap_or_else(|p| panic!("{p}"));
    let head = "purpose = \"games\"\n[[line]]\npart = \"supply/tarn-650\"\n";
    let base = kit.read(&Source::new("list", head), date(2026, 11, 20));
    let base = base.unwrap_or_else(|p| panic!("{p}"));
    let lines = |at: usize| {
        let build = random_build(kit.catalogue(), &mut Random(at as u64 * 7919), &base);
        build.lines.iter().fold(String::new(), |mut text, line| {
            let What::Part(part) = &line.what else { return text };
            let _ = writeln!(text, "[[line]]\npart = \"{}\"\ncount = {}", part.id, line.count);
            for (key, word) in [("mount", &line.mount), ("flow", &line.flow)] {
                let _ = word.as_ref().map(|word| writeln!(text, "{key} = \"{word}\""));
            }
            text
        })
    };
    held("shipped", &[], lines, 20);
}

#[test]
fn a_rule_that_says_another_thing_of_every_list_takes_flat_memory() {
    let rules = [("hoard.rhai", HOARD), ("settings.toml", ALONE)];
    held("hoard", &rules, |_| "[[line]]\npart = \"supply/tarn-650\"\n".to_owned(), 80);
}
