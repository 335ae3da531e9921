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

/// The table between two marks of a text, and the text with another in its place.
fn table<'t>(text: &'t str, mark: &str) -> (&'t str, String, &'t str) {
    let (before, rest) = text
        .split_once(&format!("<!-- {mark}, kept by tests/readme.rs -->\n"))
        .expect("the table's mark is there");
    let (table, after) = rest.split_once("<!-- end -->").expect("the table ends");
    (before, table.to_owned(), after)
}

/// One after the other, since the first may write what the second reads.
#[test]
fn the_guide_is_true() {
    the_oldest_rust_is_that_of_the_manifest();
    the_limits_are_those_of_the_code_and_each_is_met_by_its_test();
    every_dependency_has_its_reason();
}

fn the_limits_are_those_of_the_code_and_each_is_met_by_its_test() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let path = root.join("DEVELOPERS.md");
    let text = fs::read_to_string(&path).expect("DEVELOPERS.md is there");
    let mut rows =
        String::from("| limit | value | said where it is met | met in |\n|---|---|---|---|\n");
    let ours = dryfit::inside::limits::limits();
    for limit in ours.into_iter().chain(dryfit::inside::app::limits::limits()) {
        let (says, test) = (
            if limit.says.is_empty() { "–" } else { limit.says },
            if limit.test.is_empty() { "–".to_owned() } else { format!("`{}`", limit.test) },
        );
        rows.push_str(&format!("| {} | {} | {says} | {test} |\n", limit.what, limit.value));
        if !limit.test.is_empty() {
            let met = fs::read_to_string(root.join(limit.test)).unwrap_or_default();
            assert!(met.contains(limit.says), "{} is not met in {}", limit.what, limit.test);
        }
    }
    let mark = "limits";
    let (before, table, after) = table(&text, mark);
    if std::env::var_os("DRYFIT_BLESS").is_some() {
        fs::write(
            &path,
            format!("{before}<!-- {mark}, kept by tests/readme.rs -->\n{rows}<!-- end -->{after}"),
        )
        .expect("it can be written");
        return;
    }
    assert!(
        table == rows,
        "the limits in DEVELOPERS.md are not those of the code: DRYFIT_BLESS=1 cargo test --test golden readme"
    );
}

fn the_oldest_rust_is_that_of_the_manifest() {
    let readme = text_of("README.md");
    let asked = format!("You need Rust {} or later", env!("CARGO_PKG_RUST_VERSION"));
    assert!(readme.contains(&asked), "README.md does not say: {asked}");
}

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
