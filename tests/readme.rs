//! The README and the long tour, run word for word: files they show are written, commands they show
//! are run, and what these print must be what is printed there.
//!
//! `DRYFIT_BLESS=1 cargo test --test golden readme` writes what came out into them; read it before
//! you keep it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A fenced block: its info string and its lines, with the place of its first line.
struct Block {
    info: String,
    lines: Vec<String>,
    first: usize,
}

fn blocks(text: &str) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut open: Option<Block> = None;
    for (at, line) in text.lines().enumerate() {
        match (line.strip_prefix("```"), open.take()) {
            (Some(info), None) => {
                open =
                    Some(Block { info: info.trim().to_owned(), lines: Vec::new(), first: at + 1 })
            }
            (Some(_), Some(block)) => blocks.push(block),
            (None, Some(mut block)) => {
                block.lines.push(line.to_owned());
                open = Some(block);
            }
            (None, None) => {}
        }
    }
    blocks
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("the folder can be made");
    for entry in fs::read_dir(from).expect("the folder can be read") {
        let path = entry.expect("the entry can be read").path();
        let target = to.join(path.file_name().expect("it has a name"));
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).expect("the file can be copied");
        }
    }
}

fn run(folder: &Path, command: &str) -> Vec<String> {
    let binary = Path::new(env!("CARGO_BIN_EXE_dryfit"));
    let path = format!(
        "{}:{}",
        binary.parent().expect("it lies in a folder").display(),
        std::env::var("PATH").unwrap_or_default()
    );
    let output = Command::new("sh")
        .args(["-c", command])
        .current_dir(folder)
        .env("PATH", path)
        .env("NO_COLOR", "1")
        .env("COLUMNS", "100")
        .env("HOME", folder)
        .output()
        .expect("the command starts");
    let text = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    text.lines().map(|l| l.trim_end().to_owned()).collect()
}

/// Most lines of the README.
const MOST_LINES: usize = 150;

#[test]
fn the_readme_is_true() {
    is_true("README.md");
    let lines = text_of("README.md").lines().count();
    assert!(lines <= MOST_LINES, "README.md has {lines} lines");
}

#[test]
fn the_tour_is_true() {
    is_true("examples/TOUR.md");
}

fn text_of(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("it is there")
}

fn is_true(name: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = text_of(name);
    let short = name.replace('/', "-");
    let folder: PathBuf =
        std::env::temp_dir().join(format!("dryfit-{short}-{}", std::process::id()));
    let _ = fs::remove_dir_all(&folder);
    copy(&root.join("examples"), &folder.join("examples"));
    let mut lines: Vec<String> = readme.lines().map(str::to_owned).collect();
    let mut wrong = Vec::new();
    let mut commands = 0;
    let all = blocks(&readme);
    let mut edits: Vec<(usize, usize, Vec<String>)> = Vec::new();
    for block in &all {
        if let Some(name) = block.info.split_whitespace().find_map(|w| w.strip_prefix("file=")) {
            let path = folder.join(name);
            fs::create_dir_all(path.parent().expect("it lies in a folder"))
                .expect("the folder can be made");
            fs::write(&path, block.lines.join("\n") + "\n").expect("the file can be written");
        }
        if block.info != "console" {
            continue;
        }
        let mut at = 0;
        while let Some(command) = block.lines.get(at).and_then(|l| l.strip_prefix("$ ")) {
            let end = block
                .lines
                .iter()
                .skip(at + 1)
                .position(|l| l.starts_with("$ "))
                .map_or(block.lines.len(), |n| at + 1 + n);
            let expected: Vec<String> = block.lines[at + 1..end].to_vec();
            let got = run(&folder, command);
            commands += 1;
            if got != expected {
                wrong.push(format!(
                    "{name}:{}: `{command}` prints\n{}",
                    block.first + at + 1,
                    got.join("\n")
                ));
                edits.push((block.first + at + 1, block.first + end, got));
            }
            at = end;
        }
    }
    let _ = fs::remove_dir_all(&folder);
    if std::env::var_os("DRYFIT_BLESS").is_some() {
        for (from, to, got) in edits.into_iter().rev() {
            lines.splice(from..to, got);
        }
        fs::write(root.join(name), lines.join("\n") + "\n").expect("it can be written");
        return;
    }
    assert!(commands >= 3, "{name} shows {commands} commands");
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// Each limit as DEVELOPERS.md names it, with its value.
fn limits() -> Vec<(&'static str, String)> {
    use dryfit::inside::app::limits::*;
    use dryfit::inside::limits::*;
    let kib = |bytes: usize| format!("{} KiB", bytes >> 10);
    let mib = |bytes: usize| format!("{} MiB", bytes >> 20);
    let counts: [(&str, usize); 33] = [
        ("operations of a rule", MAX_OPERATIONS as usize),
        ("questions of a rule", MAX_QUESTIONS),
        ("findings of a rule", MAX_FINDINGS),
        ("holes of a message", MAX_HOLES),
        ("values of a finding", MAX_VALUES),
        ("arguments of a call", MAX_ARGUMENTS),
        ("steps of working out one number", MAX_EXTENT.1 as usize),
        ("steps within steps of working out one number", MAX_EXTENT.0 as usize),
        ("what rules remember, in nodes of their ways and steps to verdicts", MAX_MEMORY),
        (
            "expressions that rules make, while nothing that was said of a build is kept",
            MAX_EXPRESSIONS,
        ),
        ("calls within calls", MAX_CALLS),
        ("a script's list", MAX_ARRAY),
        ("a script's map", MAX_MAP),
        ("variables at once", MAX_VARIABLES),
        ("functions of a rule file", MAX_FUNCTIONS),
        ("lines of a build", MAX_LINES),
        ("pieces on a line", MAX_COUNT as usize),
        ("parts included with a part, theirs too", MAX_BOX),
        ("folders within a rules or catalogue folder", MAX_FOLDERS),
        ("files of a rules or catalogue folder", MAX_FILES),
        ("folders within a folder of builds", MAX_BUILD_FOLDERS),
        ("builds of one call", MAX_BUILDS),
        ("columns of a seller's feed", MAX_CELLS),
        ("problems shown of a feed", MOST_TOLD),
        ("wants of a brief", MAX_WANTS),
        ("aims of a brief", MAX_AIMS),
        ("open lines of a search, in `plan`", MOST_OPEN),
        ("lines and kinds that `mend` may change", MOST_ELEMENTS),
        ("lines in which mixed lists differ", MOST_DIFFERENCES),
        ("lines that only one of two mixed lists has", MOST_EXTRA),
        ("builds tried for open lines", MOST_AUDITS),
        ("steps that `undo` knows", MAX_STEPS),
        ("values shown of an expression", MOST_VALUES),
    ];
    let (outside, inside) = MAX_DEPTH;
    let others = [
        ("time of a rule", format!("{} ms", MAX_TIME.as_millis())),
        ("expressions within expressions", format!("{outside}, in functions {inside}")),
        ("a script's text", format!("{MAX_TEXT} bytes")),
        ("a rule file", kib(MAX_SCRIPT_BYTES)),
        ("an expression at the prompt or in `wants`", kib(MAX_EXPRESSION)),
        ("any file", mib(MAX_FILE_BYTES as usize)),
        ("a build file", mib(MAX_BYTES)),
        ("a row of a seller's feed", kib(MAX_ROW as usize)),
        ("a want or an aim of a brief", kib(MAX_WANT)),
        ("parts tried by `why`", format!("{MOST_TRIED}, {} ms", MOST_TIME.as_millis())),
        ("texts that `undo` holds", mib(MAX_HELD)),
        ("lines of history", MOST_HISTORY.to_string()),
        ("rows shown by `fit`, without `all`", MOST_ROWS.to_string()),
        ("values shown with a finding, without `--all`", MOST_POINTERS.to_string()),
    ];
    counts.into_iter().map(|(what, n)| (what, n.to_string())).chain(others).collect()
}

/// The table in DEVELOPERS.md has the values of the code, and what it says is told where a limit is
/// met is told in the test that it names.
#[test]
fn the_limits_are_those_of_the_code_and_each_is_met_by_its_test() {
    let guide = text_of("DEVELOPERS.md");
    let (_, table) = guide.split_once("<!-- limits, kept by tests/readme.rs -->\n").expect("it");
    let (table, _) = table.split_once("<!-- end -->").expect("the table ends");
    let mut limits = limits();
    for row in table.lines().skip(2) {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [what, value, says, test] = cells.as_slice() else { panic!("no row: {row}") };
        let at = limits.iter().position(|(name, _)| name == what).expect("the code has that limit");
        assert_eq!(limits.swap_remove(at).1, *value, "{what}");
        let met = text_of(test.trim_matches('`'));
        assert!(*says == "–" || met.contains(says), "{what} is not met in {test}");
    }
    assert!(limits.is_empty(), "DEVELOPERS.md leaves out {limits:?}");
}

#[test]
fn the_oldest_rust_is_that_of_the_manifest() {
    let readme = text_of("README.md");
    let asked = format!("You need Rust {} or later", env!("CARGO_PKG_RUST_VERSION"));
    assert!(readme.contains(&asked), "README.md does not say: {asked}");
}

#[test]
fn every_dependency_has_its_reason() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let manifest = fs::read_to_string(root.join("Cargo.toml")).expect("Cargo.toml is there");
    let guide = fs::read_to_string(root.join("DEVELOPERS.md")).expect("DEVELOPERS.md is there");
    let rows: Vec<&str> = guide.lines().filter(|l| l.starts_with('|')).collect();
    let manifest: toml::Table = toml::from_str(&manifest).expect("it is TOML");
    let unix = manifest
        .get("target")
        .and_then(|t| t.get("cfg(unix)"))
        .and_then(|t| t.get("dev-dependencies"));
    let all = [manifest.get("dependencies"), manifest.get("dev-dependencies"), unix]
        .into_iter()
        .flatten();
    for name in all.filter_map(toml::Value::as_table).flat_map(toml::Table::keys) {
        let told = |row: &&&str| {
            row.split('|')
                .nth(1)
                .is_some_and(|cell| cell.split([',', ' ']).any(|word| word == name))
        };
        assert!(
            rows.iter().any(|row| told(&row)),
            "DEVELOPERS.md does not say why {name} is there"
        );
    }
}
