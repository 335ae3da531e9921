//! The report as SARIF 2.1.0, for code hosts and editors that show findings beside the text.

use std::collections::HashSet;
use std::io;
use std::path::Path;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::repairs::Repair;
use crate::app::replacements::Replacement;
use crate::app::report::escape::inert_json;
use crate::app::report::json::element;
use crate::app::report::located::{build_label, with_help};
use crate::app::report::markdown::escaped;
use crate::app::report::{Merged, Out, Report, Stream, Tally, hash};
use crate::kit::OpenRule;
use crate::level::Level;
use crate::rules::loader::Rule;
use crate::source::{Label, Problem, Problems};

/// What gives a search more time.
const MORE_TIME: &str = "`--seconds` gives it more";
const SCHEMA: &str = "https://json.schemastore.org/sarif-2.1.0.json";

/// SARIF, written as lists come.
#[derive(Debug, Default)]
pub struct Sarif {
    rules: Vec<(Rule, Level)>,
    handbook: Option<String>,
    begun: bool,
    notes: Vec<Value>,
    known: HashSet<String>,
    said: Vec<Arc<Problems>>,
}

impl Sarif {
    /// With every rule in force, for the rules' own pages, and the address of the handbook.
    pub fn new(rules: Vec<(Rule, Level)>, handbook: Option<String>) -> Self {
        Self { rules, handbook, ..Self::default() }
    }

    /// A broken rule is broken for every list: once is enough.
    fn note(&mut self, note: Value) {
        if self.known.insert(note.to_string()) {
            self.notes.push(note);
        }
    }
}

impl Stream for Sarif {
    fn begin(&mut self, out: Out<'_>) -> io::Result<()> {
        let rules: Vec<Value> =
            self.rules.iter().map(|(rule, worst)| self.page(rule, *worst)).collect();
        let driver = json!({
            "name": "dryfit",
            "version": env!("CARGO_PKG_VERSION"),
            "rules": rules,
        });
        let text = serde_json::to_string_pretty(&json!({ "driver": driver }));
        let tool = inert_json(&text.map_err(io::Error::other)?).replace('\n', "\n      ");
        write!(
            out,
            "{{\n  \"$schema\": \"{SCHEMA}\",\n  \"version\": \"2.1.0\",\n  \"runs\": [\n    {{\n\
             \x20     \
             \"tool\": {tool},\n      \"columnKind\": \"unicodeCodePoints\",\n      \"results\": ["
        )
    }

    fn report(&mut self, report: Report, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        match &report.outcome {
            Ok(audited) => {
                for merged in &audited.findings {
                    let result = self.result(&report.file, merged);
                    element(&result, &mut self.begun, "        ", out)?;
                }
                for merged in &audited.accepted {
                    let mut result = self.result(&report.file, merged);
                    result["baselineState"] = json!("unchanged");
                    result["suppressions"] = suppressed("accepted as before");
                    element(&result, &mut self.begun, "        ", out)?;
                }
                for (at, open) in audited.open_rules.iter().enumerate() {
                    let before = audited.open_rules.iter().take(at);
                    let nth = before.filter(|o| o.rule == open.rule).count();
                    let result = not_settled(&report.file, open, nth);
                    element(&result, &mut self.begun, "        ", out)?;
                }
                if audited.fixes_searched == Some(false) {
                    let words = "The time was over before every fix of this list was looked for.";
                    let problem = Problem::new(words).code("fixes-cut-short");
                    self.note(note(&report.file, "note", &problem.help(MORE_TIME)));
                }
                for problem in &audited.broken {
                    self.note(note(&report.file, "error", &problem.told()));
                }
                for problem in &audited.waivers {
                    self.note(note(&report.file, "warning", problem));
                }
            }
            // What is wrong with rules or parts is wrong for every list.
            Err(problems) if self.said.iter().any(|p| Arc::ptr_eq(p, problems)) => {}
            Err(problems) => {
                self.said.push(problems.clone());
                self.notes.extend(problems.0.iter().map(|p| note(&report.file, "error", p)));
            }
        }
        Ok(())
    }

    fn end(&mut self, tally: &Tally, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        let close = if self.begun { "\n      ]" } else { "]" };
        let invocations = json!([{
            "executionSuccessful": tally.broken == 0,
            "toolExecutionNotifications": self.notes,
        }]);
        let text = serde_json::to_string_pretty(&invocations).map_err(io::Error::other)?;
        let text = inert_json(&text).replace('\n', "\n      ");
        writeln!(out, "{close},\n      \"invocations\": {text}\n    }}\n  ]\n}}")
    }
}

fn level(level: Level) -> &'static str {
    match level {
        Level::Stop => "error",
        Level::Caution => "warning",
        Level::Advice => "note",
    }
}

impl Sarif {
    fn page(&self, rule: &Rule, worst: Level) -> Value {
        let parts = [
            ("", "", &*rule.title),
            ("", "", &rule.why),
            ("Fix: ", "**Fix:** ", &rule.remedy),
            ("Source: ", "**Source:** ", &rule.basis),
        ];
        let said = || parts.iter().filter(|(_, _, text)| !text.is_empty());
        let plain: Vec<String> = said().map(|(word, _, text)| format!("{word}{text}")).collect();
        let marked: Vec<String> =
            said().map(|(_, word, text)| format!("{word}{}", escaped(text))).collect();
        let subject = rule.id.split('.').next().unwrap_or(&rule.id);
        let mut tags = vec![subject.to_owned(), worst.to_string()];
        let own = rule.tags.iter().filter(|tag| !tags.contains(tag));
        tags.extend(own.cloned().collect::<Vec<_>>());
        let mut page = json!({
            "id": &*rule.id,
            "shortDescription": { "text": &*rule.title },
            "fullDescription": {
                "text": if rule.why.is_empty() { &rule.title } else { &*rule.why }
            },
            "help": { "text": plain.join("\n"), "markdown": marked.join("\n\n") },
            "defaultConfiguration": { "level": level(worst) },
            "properties": { "tags": tags },
        });
        if let Some(handbook) = &self.handbook {
            let address = format!("{}/{}.html", handbook.trim_end_matches('/'), uri(&rule.id));
            page["helpUri"] = json!(address);
        }
        page
    }

    fn result(&self, file: &str, merged: &Merged) -> Value {
        let finding = &merged.finding;
        let home = build_label(finding, file);
        let main = home.map_or_else(
            || {
                json!({ "physicalLocation": { "artifactLocation": { "uri": uri(file) },
            "region": { "startLine": 1 } } })
            },
            |l| location(l, None),
        );
        let mut related: Vec<Value> = Vec::new();
        for pointer in &finding.pointers {
            let Some(label) = &pointer.label else { continue };
            let mut entry =
                location(label, Some(&format!("{} is {}", pointer.place, pointer.value)));
            entry["id"] = json!(related.len() + 1);
            related.push(entry);
        }
        let mut result = json!({
            "ruleId": finding.rule,
            "level": level(finding.level),
            "message": { "text": finding.message },
            "locations": [main],
            "relatedLocations": related,
            "partialFingerprints": {
                "dryfitFinding/v2": hash([&*list_path(file), &merged.id].into_iter()),
                "primaryLocationLineHash": line_hash(home),
            },
        });
        if !merged.fixes.is_empty() {
            result["fixes"] = merged.fixes.iter().map(|f| fix(file, f)).collect();
        }
        if let Some(at) = self.rules.iter().position(|(r, _)| *r.id == finding.rule) {
            result["ruleIndex"] = json!(at);
        }
        if let Some(waiver) = &finding.waived {
            let words = format!("{} ({}, until {})", waiver.reason, waiver.by, waiver.until);
            result["suppressions"] = suppressed(&words);
        }
        result
    }
}

/// A proven change that clears a finding, as edits of the list.
fn fix(file: &str, fix: &Repair) -> Value {
    let replacement = |one: &Replacement| {
        let mut entry = json!({ "deletedRegion": region(fix.places(one)) });
        if !one.text.is_empty() {
            entry["insertedContent"] = json!({ "text": one.text });
        }
        entry
    };
    json!({
        "description": { "text": fix.title },
        "artifactChanges": [{
            "artifactLocation": { "uri": uri(file) },
            "replacements": fix.replacements.iter().map(replacement).collect::<Vec<_>>(),
        }],
    })
}

fn region(((line, column), (end_line, end_column)): ((usize, usize), (usize, usize))) -> Value {
    json!({ "startLine": line, "startColumn": column, "endLine": end_line,
    "endColumn": end_column })
}

/// A result that is signed off, and why.
fn suppressed(why: &str) -> Value {
    json!([{ "kind": "external", "status": "accepted", "justification": why }])
}

/// A rule that facts decide which nobody said; `nth` tells what it may find apart.
fn not_settled(file: &str, open: &OpenRule, nth: usize) -> Value {
    let nth = nth.to_string();
    let place = json!({ "physicalLocation": { "artifactLocation": { "uri": uri(file) } } });
    json!({
        "ruleId": open.rule,
        "kind": "open",
        "level": "none",
        "message": { "text": open.words() },
        "locations": [place],
        "partialFingerprints": {
            "dryfitFinding/v2": hash([&*list_path(file), &open.rule, &nth].into_iter()),
        },
    })
}

/// A list's path as it is told apart from others of its name: below the folder that the program
/// runs in, where it lies there, so that it is the same on every machine.
fn list_path(file: &str) -> String {
    let path = Path::new(file);
    let real = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    let here = std::env::current_dir().and_then(|folder| folder.canonicalize());
    let below = here.ok().and_then(|here| real.strip_prefix(here).map(Path::to_path_buf).ok());
    below.unwrap_or(real).to_string_lossy().replace('\\', "/")
}

/// The text of the line that a finding stands on, without blanks, and which of those alike it is.
fn line_hash(home: Option<&Label>) -> String {
    let bare = |line: &str| line.split_whitespace().collect::<String>();
    let Some(label) = home else { return format!("{}:1", hash([""].into_iter())) };
    let (number, _) = label.source.line_column(label.span.start());
    let mut lines = label.source.text.lines().map(bare);
    let before: Vec<String> = lines.by_ref().take(number.saturating_sub(1)).collect();
    let line = lines.next().unwrap_or_default();
    let nth = before.iter().filter(|other| **other == line).count() + 1;
    format!("{}:{nth}", hash([line.as_str()].into_iter()))
}

fn location(label: &Label, message: Option<&str>) -> Value {
    let at = |offset| label.source.line_column(offset);
    let region = region((at(label.span.start()), at(label.span.end())));
    let file = json!({ "uri": uri(&label.source.name) });
    let mut entry = json!({ "physicalLocation": { "artifactLocation": file, "region": region } });
    if let Some(text) = message {
        entry["message"] = json!({ "text": text });
    }
    entry
}

/// A path as a relative reference: what may not stand in one is escaped.
fn uri(path: &str) -> String {
    let mut out = String::with_capacity(path.len());
    for byte in path.replace('\\', "/").bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                out.push(char::from(byte))
            }
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    if out.starts_with('/') { format!("file://{out}") } else { out }
}

fn note(file: &str, level: &str, problem: &Problem) -> Value {
    let places: Vec<Value> = problem
        .labels
        .iter()
        .map(|l| location(l, Some(if l.text.is_empty() { "here" } else { &l.text })))
        .collect();
    let places = if places.is_empty() {
        vec![json!({ "physicalLocation": { "artifactLocation": { "uri": uri(file) } } })]
    } else {
        places
    };
    json!({
        "descriptor": { "id": problem.code }, "level": level,
        "message": { "text": with_help(problem) },
        "locations": places,
    })
}
