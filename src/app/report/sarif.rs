//! The report as SARIF 2.1.0, for code hosts and editors that show findings beside the text.

use std::io;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::report::brief::build_label;
use crate::app::report::json::write;
use crate::app::report::{Merged, Presenter, Report};
use crate::audit::finding::Finding;
use crate::level::Level;
use crate::source::{Label, Problem, Problems};

/// SARIF.
#[derive(Debug, Clone, Default)]
pub struct Sarif {
    /// Every rule in force, for the rules' own pages.
    pub rules: Vec<RulePage>,
}

/// A rule as SARIF describes it.
#[derive(Debug, Clone)]
pub struct RulePage {
    /// Its id.
    pub id: String,
    /// What it checks.
    pub title: String,
    /// Why.
    pub why: String,
    /// What would clear it.
    pub remedy: String,
    /// Where the knowledge comes from.
    pub basis: String,
    /// The worst level it raises.
    pub level: Level,
}

impl Presenter for Sarif {
    fn present(
        &self,
        reports: &[Report],
        out: &mut dyn io::Write,
        _: &mut dyn io::Write,
    ) -> io::Result<()> {
        let mut results = Vec::new();
        let mut notes = Vec::new();
        let mut said: Vec<Arc<Problems>> = Vec::new();
        for report in reports {
            match &report.outcome {
                Ok(audited) => {
                    results.extend(audited.findings.iter().map(|m| self.result(&report.file, m)));
                    notes.extend(
                        audited.broken.iter().map(|b| note(&report.file, "error", &b.told())),
                    );
                    notes.extend(audited.waivers.iter().map(|p| note(&report.file, "warning", p)));
                }
                Err(problems) if said.iter().any(|p| Arc::ptr_eq(p, problems)) => {}
                Err(problems) => {
                    said.push(problems.clone());
                    notes.extend(problems.0.iter().map(|p| note(&report.file, "error", p)));
                }
            }
        }
        let broken = crate::app::report::code(reports) == 2;
        write(
            &json!({
                "$schema": "https://json.schemastore.org/sarif-2.1.0.json",
                "version": "2.1.0",
                "runs": [{
                    "tool": { "driver": { "name": "dryfit", "version": env!("CARGO_PKG_VERSION"), "rules": self.rules.iter().map(page).collect::<Vec<_>>() } },
                    "columnKind": "unicodeCodePoints",
                    "invocations": [{ "executionSuccessful": !broken,
                    "toolExecutionNotifications": notes }],
                    "results": results,
                }],
            }),
            out,
        )
    }
}

fn level(level: Level) -> &'static str {
    match level {
        Level::Stop => "error",
        Level::Caution => "warning",
        Level::Advice => "note",
    }
}

fn page(rule: &RulePage) -> Value {
    let mut help = rule.title.clone();
    for (word, text) in [("", &rule.why), ("Fix: ", &rule.remedy), ("Source: ", &rule.basis)] {
        if !text.is_empty() {
            help.push_str(&format!("\n{word}{text}"));
        }
    }
    json!({
        "id": rule.id,
        "shortDescription": { "text": rule.title },
        "fullDescription": { "text": if rule.why.is_empty() { &rule.title } else { &rule.why } },
        "help": { "text": help },
        "defaultConfiguration": { "level": level(rule.level) },
    })
}

impl Sarif {
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
            if let Some(entry) = entry.as_object_mut() {
                entry.insert("id".to_owned(), json!(related.len() + 1));
            }
            related.push(entry);
        }
        let mut result = json!({
            "ruleId": finding.rule,
            "level": level(finding.level),
            "message": { "text": finding.message },
            "locations": [main],
            "relatedLocations": related,
            "partialFingerprints": { "dryfitFinding/v1": fingerprint(file, finding) },
        });
        if let Some(result) = result.as_object_mut() {
            if let Some(at) = self.rules.iter().position(|r| r.id == finding.rule) {
                result.insert("ruleIndex".to_owned(), json!(at));
            }
            if let Some(waiver) = &finding.waived {
                let words = format!("{} ({}, until {})", waiver.reason, waiver.by, waiver.until);
                result.insert(
                    "suppressions".to_owned(),
                    json!([{ "kind": "external", "status": "accepted", "justification": words }]),
                );
            }
        }
        result
    }
}

/// What stays the same when lines move: the file, the rule, the parts and the places, no line
/// numbers and no figures.
fn fingerprint(file: &str, finding: &Finding) -> String {
    let name = file.rsplit(['/', '\\']).next().unwrap_or(file);
    let places = finding.pointers.iter().map(|p| p.place.as_str());
    let texts = [name, &finding.rule]
        .into_iter()
        .chain(finding.subjects.iter().map(String::as_str))
        .chain(places);
    // FNV-1a: the same for every version of the program and the compiler.
    let step = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    let hash =
        texts.fold(0xcbf2_9ce4_8422_2325, |hash, text| text.bytes().chain([0]).fold(hash, step));
    format!("{hash:016x}")
}

fn location(label: &Label, message: Option<&str>) -> Value {
    let (line, column) = label.source.line_column(label.span.start());
    let (end_line, end_column) = label.source.line_column(label.span.end());
    let region = json!({ "startLine": line, "startColumn": column, "endLine": end_line,
    "endColumn": end_column });
    let mut entry = json!({ "physicalLocation": { "artifactLocation": { "uri": uri(&label.source.name) }, "region": region } });
    if let (Some(text), Some(entry)) = (message, entry.as_object_mut()) {
        entry.insert("message".to_owned(), json!({ "text": text }));
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
    let text = match &problem.help {
        Some(help) => format!("{}; {help}", problem.message),
        None => problem.message.clone(),
    };
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
    json!({ "descriptor": { "id": problem.code }, "level": level, "message": { "text": text }, "locations": places })
}
