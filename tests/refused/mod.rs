//! What must be refused: broken scripts, cases, settings and waivers, each with what is said of it
//! word for word.
//!
//! `scripts/NAME.rhai` is laid over the built-in rules and tried on `build.toml`;
//! `files/NAME.cases.toml`, `.settings.toml` and `.waivers.toml` likewise. What is said stands
//! beside each as `.txt`; `DRYFIT_BLESS=1` writes it anew.

mod hostile;
mod walls;

use std::fs;
use std::path::{Path, PathBuf};

use dryfit::inside::app::report::style::{Look, Role};
use dryfit::inside::cases;
use dryfit::inside::layer::{Layer, read_source};
use dryfit::inside::rules::loader::BrokenRule;
use dryfit::inside::source::{Label, Problem};
use dryfit::{Kit, Layers};
use jiff::civil::date;

/// Words of the engine's and the program's own that no message may hold.
const NOT_FOR_PEOPLE: &[&str] = &[
    "Dynamic",
    "dryfit::",
    "rhai::",
    "core::",
    "alloc::",
    "std::",
    "i64",
    "f64",
    "INT",
    "FLOAT",
    "ImmutableString",
    "LineRef",
    "RecordRef",
    "BuildRef",
    "FindingRef",
    "FnPtr",
    "NativeCall",
    "Box<",
    "Rc<",
    "Arc<",
    "Option<",
    "Some(",
    "None",
    "Err(",
    "anon$",
    "src/",
    ".rs:",
    "/root",
    "/home",
    "get$",
    "index$",
    "EvalAlt",
    "DeValue",
    "serde",
];

fn here() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/refused")
}

/// The built-in rules with one file over them.
fn layers(below: &str, text: &str, label: &str) -> Layers {
    let mut layers = Layers::built_in();
    layers.rules.push(Layer::from_texts(label, &[(below, text)]));
    layers
}

/// What an audit of the list here says of its waivers and of a broken file's rules.
fn audited(kit: &Kit, of: &str) -> Vec<Problem> {
    let source = read_source(Path::new("tests/refused/build.toml")).expect("the list is read");
    let build = kit.read(&source, date(2026, 11, 20)).expect("the list is whole");
    let audit = kit.audit(&build);
    let of_file = |p: &Problem| {
        p.message.contains(&format!("rule {of}."))
            || p.labels.iter().any(|l| l.source.name.ends_with(&format!("/{of}.rhai")))
    };
    audit
        .broken()
        .iter()
        .map(BrokenRule::told)
        .filter(of_file)
        .chain(audit.waiver_problems())
        .chain(audit.warnings())
        .collect()
}

/// Everything that is said of a file.
fn said_of(path: &Path) -> Vec<Problem> {
    let name = path.file_name().expect("a file").to_string_lossy().into_owned();
    let text = fs::read_to_string(path).expect("it is text");
    let (stem, sort) = name.split_once('.').expect("an ending");
    match sort {
        "rhai" => {
            let kit = Kit::load(&layers(&name, &text, "shop"))
                .expect("a broken script hinders no loading");
            audited(&kit, stem)
        }
        "cases.toml" => match cases::run_top(&layers(&name, &text, "tests/refused/files"), None) {
            Ok(report) => report.failures,
            Err(problems) => problems.0,
        },
        "settings.toml" | "waivers.toml" => {
            match Kit::load(&layers(sort, &text, "tests/refused/files")) {
                Ok(kit) => kit
                    .rules()
                    .broken
                    .iter()
                    .cloned()
                    .chain(audited(&kit, "no such file"))
                    .collect(),
                Err(problems) => problems.0,
            }
        }
        _ => panic!("{name} is of no sort that is known here"),
    }
}

fn files(folder: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(here().join(folder))
        .expect("a folder")
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.extension().is_none_or(|e| e != "txt"))
        .collect();
    files.sort();
    files
}

fn is_plain(label: &Label) -> bool {
    let whole = label.span.end() <= label.source.text.len()
        && label.source.text.is_char_boundary(label.span.start())
        && label.source.text.is_char_boundary(label.span.end());
    whole
        && (label.source.slice(label.span).chars().count() > 0
            || label.span.end() == label.span.start())
}

fn check(folder: &str, least: usize) {
    let look = Look { colour: false, drawing: false, width: 100 };
    let bless = std::env::var_os("DRYFIT_BLESS").is_some();
    let files = files(folder);
    assert!(files.len() >= least, "{} files in {folder}, and {least} are wanted", files.len());
    let mut wrong = Vec::new();
    for path in files {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let problems = said_of(&path);
        assert!(!problems.is_empty(), "nothing is said of {name}");
        for problem in &problems {
            let words = problem
                .labels
                .iter()
                .map(|l| l.text.as_str())
                .chain([problem.message.as_str(), problem.help.as_deref().unwrap_or("")])
                .collect::<Vec<_>>()
                .join("\n");
            for word in NOT_FOR_PEOPLE {
                assert!(!words.contains(word), "{name}: `{word}` is not for people: {words}");
            }
            assert!(
                problem.labels.iter().all(is_plain),
                "{name}: a mark does not stand on whole letters"
            );
        }
        let text =
            problems.iter().map(|p| look.problem(Role::Wrong, p)).collect::<Vec<_>>().join("\n");
        let golden = path.with_file_name(format!("{name}.txt"));
        if bless {
            fs::write(&golden, &text).expect("it can be written");
        } else if fs::read_to_string(&golden).unwrap_or_default() != text {
            wrong.push(format!("{name}:\n{text}"));
        }
    }
    assert!(
        wrong.is_empty(),
        "said otherwise than written down (DRYFIT_BLESS=1 writes it anew):\n{}",
        wrong.join("\n")
    );
}

#[test]
fn broken_scripts_are_told_plainly() {
    check("scripts", 40);
}

#[test]
fn broken_cases_settings_and_waivers_are_told_plainly() {
    check("files", 40);
}
