//! The formats for other programs, held to their schemas, and to facts beside them.

mod fixes;
mod searches;
mod shells;
mod totals;
mod ways;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use boon::{Compiler, SchemaIndex, Schemas};
use serde_json::Value;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// A schema, ready to judge.
struct Judge {
    schemas: Schemas,
    index: SchemaIndex,
}

impl Judge {
    fn new(schema: Value) -> Self {
        let mut compiler = Compiler::new();
        let mut schemas = Schemas::new();
        compiler
            .add_resource("http://dryfit.test/schema.json", schema)
            .expect("the schema is read");
        let index = compiler
            .compile("http://dryfit.test/schema.json", &mut schemas)
            .expect("the schema compiles");
        Self { schemas, index }
    }

    fn allows(&self, document: &Value) -> bool {
        self.schemas.validate(document, self.index).is_ok()
    }

    fn assert(&self, name: &str, document: &Value) {
        if let Err(error) = self.schemas.validate(document, self.index) {
            panic!("{name}: {error}");
        }
    }
}

fn run(args: &[&str]) -> (Option<i32>, String) {
    run_in(Path::new(ROOT), args)
}

fn run_in(folder: &Path, args: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(args)
        .current_dir(folder)
        .output()
        .expect("it starts");
    (output.status.code(), String::from_utf8(output.stdout).expect("it writes UTF-8"))
}

fn audit(format: &str, builds: &[&str]) -> Value {
    audit_in(Path::new(ROOT), format, builds)
}

fn audit_in(folder: &Path, format: &str, builds: &[&str]) -> Value {
    let (code, text) = run_in(folder, &[&["audit", "--format", format], builds].concat());
    assert!(matches!(code, Some(0..=2)), "{builds:?} ended with {code:?}");
    serde_json::from_str(&text).expect("it is JSON")
}

/// A folder of its own for a test, gone at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("dryfit-formats-{name}-{}", std::process::id()));
        fs::create_dir_all(&path).expect("it can be made");
        Self(path)
    }

    fn put(&self, name: &str, text: &str) -> String {
        let path = self.0.join(name);
        fs::write(&path, text).expect("it can be written");
        path.display().to_string()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn examples() -> Vec<String> {
    let mut found: Vec<String> = fs::read_dir(Path::new(ROOT).join("examples"))
        .expect("there are examples")
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .map(|p| format!("examples/{}", p.file_name().expect("it has a name").to_string_lossy()))
        .collect();
    found.sort();
    found
}

const WAIVED: &str = "examples/youth-club-games.toml";

/// A build that cannot be read, one with a name that would act, and one with an odd waiver.
fn odd_builds(folder: &Folder) -> Vec<String> {
    vec![
        folder.put("unreadable.toml", "[[line]]\npart = \"supply/no-such\"\n"),
        folder.put("names \u{202e} <b>.toml", "title = \"\\u001b[31m<b>\\u202e\"\n[[line]]\npart = \"processor/whimbrel-306\"\n"),
        folder.put(
            "waiver.toml",
            "[[line]]\npart = \"processor/whimbrel-306\"\n[[waive]]\nrule = \"power.total\"\nsubject = \"supply\"\nreason = \"r\"\nby = \"x\"\nuntil = 2020-01-01\n",
        ),
    ]
}

/// The same schema with nothing allowed that it does not name, so that a key added in silence is
/// noticed.
fn closed(mut schema: Value) -> Value {
    fn close(value: &mut Value) {
        match value {
            Value::Object(map) => {
                if map.contains_key("properties") && map.contains_key("type") {
                    map.insert("additionalProperties".into(), false.into());
                }
                map.values_mut().for_each(close);
            }
            Value::Array(all) => all.iter_mut().for_each(close),
            _ => {}
        }
    }
    // A line of JSON Lines has the head beside the audit.
    if let Some(definitions) = schema.get_mut("$defs") {
        for (name, definition) in definitions.as_object_mut().expect("definitions are named") {
            if name == "audit" {
                definition["properties"]["format"] = true.into();
                definition["properties"]["version"] = true.into();
            }
            close(definition);
        }
    }
    schema
}

#[test]
fn json_keeps_its_contract() {
    let (code, text) = run(&["schema", "audit"]);
    assert_eq!(code, Some(0));
    let schema: Value = serde_json::from_str(&text).expect("the schema is JSON");
    let (open, strict) = (Judge::new(schema.clone()), Judge::new(closed(schema)));
    let folder = Folder::new("json");
    let builds: Vec<String> = examples().into_iter().chain(odd_builds(&folder)).collect();
    for build in &builds {
        let document = audit("json", &[build]);
        open.assert(build, &document);
        strict.assert(build, &document);
    }
    let all: Vec<&str> = builds.iter().map(String::as_str).collect();
    let document = audit("json", &all);
    open.assert("all together", &document);
    assert_eq!(document["audits"].as_array().map(Vec::len), Some(all.len()));
    // The judges do judge: a key nobody promised, and one that is missing.
    let mut more = audit("json", &[WAIVED]);
    more["audits"][0]["findings"][0]["new"] = 1.into();
    assert!(open.allows(&more) && !strict.allows(&more));
    more["audits"][0]["findings"][0].as_object_mut().expect("a finding").remove("margin");
    assert!(!open.allows(&more));
}

#[test]
fn json_says_where_and_how_often() {
    let document = audit("json", &[WAIVED]);
    let text = fs::read_to_string(Path::new(ROOT).join(WAIVED)).expect("it is there");
    let waived: Vec<&Value> = document["audits"][0]["findings"]
        .as_array()
        .expect("findings")
        .iter()
        .filter(|f| !f["waived"].is_null())
        .collect();
    assert_eq!(waived.len(), 1);
    assert_eq!(waived[0]["rule"], "memory.rated_speed");
    assert_eq!(waived[0]["waived"]["until"], "2027-03-01");
    let lines: Vec<&str> = waived[0]["pointers"]
        .as_array()
        .expect("pointers")
        .iter()
        .filter_map(|p| p["brought_in"]["line"].as_u64())
        .map(|line| text.lines().nth(line as usize - 1).expect("the line is there"))
        .collect();
    assert!(lines.iter().any(|line| line.contains("memory/")), "{lines:?}");
}

#[test]
fn sarif_is_as_published() {
    let path = Path::new(ROOT).join("tests/formats/sarif-2.1.0.schema.json");
    let judge = Judge::new(
        serde_json::from_str(&fs::read_to_string(path).expect("the schema is there"))
            .expect("it is JSON"),
    );
    let folder = Folder::new("sarif");
    let builds: Vec<String> = examples().into_iter().chain(odd_builds(&folder)).collect();
    for build in &builds {
        judge.assert(build, &audit("sarif", &[build]));
    }
    let mut from_zero = audit("sarif", &[WAIVED]);
    from_zero["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["region"]["startLine"] =
        0.into();
    assert!(!judge.allows(&from_zero), "the schema counts lines from 1");
    let all: Vec<&str> = builds.iter().map(String::as_str).collect();
    let together = audit("sarif", &all);
    judge.assert("all together", &together);
    for result in together["runs"][0]["results"].as_array().expect("results") {
        let rule = &together["runs"][0]["tool"]["driver"]["rules"][result["ruleIndex"]
            .as_u64()
            .map_or(usize::MAX, |n| usize::try_from(n).unwrap_or(usize::MAX))];
        assert_eq!(rule["id"], result["ruleId"], "the index points at the rule");
    }
}

#[test]
fn sarif_agrees_with_json_and_keeps_fingerprints() {
    let (sarif, json) = (audit("sarif", &[WAIVED]), audit("json", &[WAIVED]));
    let results = sarif["runs"][0]["results"].as_array().expect("results");
    assert_eq!(results.len(), json["audits"][0]["findings"].as_array().expect("findings").len());
    assert_eq!(results.iter().filter(|r| r["suppressions"].is_array()).count(), 1);
    for result in results {
        assert!(
            result["locations"][0]["physicalLocation"]["region"]["startLine"].as_u64() >= Some(1)
        );
    }
    // Lines above move every place, and no fingerprint.
    let folder = Folder::new("moved");
    let text = fs::read_to_string(Path::new(ROOT).join(WAIVED)).expect("it is there");
    let name = "youth-club-games.toml";
    folder.put(name, &text);
    let sarif = audit_in(&folder.0, "sarif", &[name]);
    folder.put(name, &format!("# one\n# two\n# three\n{text}"));
    let moved = audit_in(&folder.0, "sarif", &[name]);
    let prints = |v: &Value| {
        v["runs"][0]["results"]
            .as_array()
            .expect("results")
            .iter()
            .map(|r| r["partialFingerprints"].clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(prints(&sarif), prints(&moved));
    let line = |v: &Value| {
        v["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["region"]["startLine"]
            .as_u64()
    };
    assert_eq!(line(&sarif).map(|n| n + 3), line(&moved));
    // Two lists of one name are told apart.
    fs::create_dir_all(folder.0.join("other")).expect("a folder");
    folder.put("other/youth-club-games.toml", &text);
    folder.put(name, &text);
    let both = audit_in(&folder.0, "sarif", &[name, "other/youth-club-games.toml"]);
    let own: Vec<String> = both["runs"][0]["results"]
        .as_array()
        .expect("results")
        .iter()
        .map(|r| r["partialFingerprints"]["dryfitFinding/v2"].to_string())
        .collect();
    let distinct: std::collections::HashSet<&String> = own.iter().collect();
    assert_eq!(distinct.len(), own.len());
}

#[test]
fn markdown_has_a_line_a_finding_and_nothing_that_acts() {
    let (code, text) = run(&["audit", "--format", "markdown", WAIVED]);
    assert_eq!(code, Some(1));
    let json = audit("json", &[WAIVED]);
    assert_eq!(
        text.lines().filter(|l| l.starts_with("- `")).count(),
        json["audits"][0]["findings"].as_array().expect("findings").len()
    );
    assert!(text.contains("signed off by jm until 2027-03-01"));
    let folder = Folder::new("markdown");
    let hostile =
        folder.put("h.toml", "title = \"<script>x</script> [a](javascript:1) @all\\u202e\\u001b[31m\\n# head\"\n[[line]]\npart = \"processor/whimbrel-306\"\n");
    let (_, text) = run(&["audit", "--format", "markdown", &hostile]);
    assert!(
        !text.contains("<script")
            && !text.contains("[a](")
            && !text.contains('\u{202e}')
            && !text.contains('\u{1b}')
            && !text.contains("@all"),
        "{text}"
    );
    assert!(!text.contains("\n# head"));
}
