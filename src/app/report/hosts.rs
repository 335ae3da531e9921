//! Findings for code hosts: annotation lines of one, a code quality report of another.

use std::io;

use serde_json::{Value, json};

use crate::app::report::json::element;
use crate::app::report::located::{Located, with_help};
use crate::app::report::{Merged, Out, Report, Stream, Tally, hash};
use crate::level::Level;
use crate::source::Problem;

/// Annotation lines: `::error file=…,line=…,title=…::message`.
#[derive(Debug, Clone, Copy)]
pub struct Github;

impl Stream for Github {
    fn report(&mut self, report: Report, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        match &report.outcome {
            Ok(audited) => {
                for merged in audited.findings.iter().filter(|m| m.finding.waived.is_none()) {
                    annotate_finding(&report.file, merged, out)?;
                }
                for open in audited.open_rules.iter().filter(|o| !o.waived) {
                    let message = format!("not settled: {}", open.words());
                    let at = Located { file: &report.file, line: 1, column: 1 };
                    annotate("warning", at, &open.rule, &message, out)?;
                }
                for problem in &audited.waivers {
                    annotate_problem("warning", &report.file, problem, out)?;
                }
                for problem in &audited.broken {
                    annotate_problem("error", &report.file, &problem.told(), out)?;
                }
            }
            Err(problems) => {
                for problem in &problems.0 {
                    annotate_problem("error", &report.file, problem, out)?;
                }
            }
        }
        out.flush()
    }
}

fn annotate_finding(file: &str, merged: &Merged, out: Out<'_>) -> io::Result<()> {
    let finding = &merged.finding;
    let word = match finding.level {
        Level::Stop => "error",
        Level::Caution => "warning",
        Level::Advice => "notice",
    };
    let fix = if finding.remedy.is_empty() {
        String::new()
    } else {
        format!("\nFix: {}", finding.remedy)
    };
    let message = format!("{}{fix}", finding.message);
    annotate(word, Located::finding(finding, file), &finding.rule, &message, out)
}

fn annotate_problem(word: &str, file: &str, problem: &Problem, out: Out<'_>) -> io::Result<()> {
    annotate(word, Located::problem(problem, file), "audit", &with_help(problem), out)
}

fn annotate(
    word: &str,
    at: Located<'_>,
    title: &str,
    message: &str,
    out: Out<'_>,
) -> io::Result<()> {
    writeln!(
        out,
        "::{word} file={},line={},col={},title={}::{}",
        property(at.file),
        at.line,
        at.column,
        property(title),
        data(message)
    )
}

/// A message, in the one line that a command is.
fn data(text: &str) -> String {
    let inert = |c: char| if c == '\n' { c } else { crate::app::report::escape::inert_char(c) };
    let text: String = text.replace('\r', "").chars().map(inert).collect();
    text.replace('%', "%25").replace('\n', "%0A")
}

/// A property, which colons and commas would end.
fn property(text: &str) -> String {
    data(text).replace(':', "%3A").replace(',', "%2C")
}

/// A code quality report: one array of issues.
#[derive(Debug, Clone, Copy, Default)]
pub struct Gitlab {
    begun: bool,
}

impl Stream for Gitlab {
    fn begin(&mut self, out: Out<'_>) -> io::Result<()> {
        write!(out, "[")
    }

    fn report(&mut self, report: Report, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        for issue in issues(&report) {
            element(&issue, &mut self.begun, "  ", out)?;
        }
        Ok(())
    }

    fn end(&mut self, _: &Tally, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        writeln!(out, "{}]", if self.begun { "\n" } else { "" })
    }
}

fn issues(report: &Report) -> Vec<Value> {
    let broken = |problem: &Problem| {
        let at = Located::problem(problem, &report.file);
        let print = hash([report.file.as_str(), at.file, &problem.message].into_iter());
        issue(&with_help(problem), "dryfit", &print, "blocker", at)
    };
    let audited = match &report.outcome {
        Ok(audited) => audited,
        Err(problems) => return problems.0.iter().map(broken).collect(),
    };
    let found = audited.findings.iter().filter(|m| m.finding.waived.is_none()).map(|merged| {
        let finding = &merged.finding;
        let severity = match finding.level {
            Level::Stop => "critical",
            Level::Caution => "minor",
            Level::Advice => "info",
        };
        let print = hash([report.file.as_str(), &merged.id].into_iter());
        let at = Located::finding(finding, &report.file);
        issue(&finding.message, &finding.rule, &print, severity, at)
    });
    let open = audited.open_rules.iter().filter(|o| !o.waived).map(|open| {
        let print = hash([report.file.as_str(), &open.rule].into_iter());
        let message = format!("not settled: {}", open.words());
        let at = Located { file: &report.file, line: 1, column: 1 };
        issue(&message, &open.rule, &print, "major", at)
    });
    found
        .chain(open)
        .chain(audited.waivers.iter().map(broken))
        .chain(audited.broken.iter().map(|rule| broken(&rule.told())))
        .collect()
}

fn issue(
    description: &str,
    rule: &str,
    fingerprint: &str,
    severity: &str,
    at: Located<'_>,
) -> Value {
    json!({
        "description": description,
        "check_name": rule,
        "fingerprint": fingerprint,
        "severity": severity,
        "location": { "path": at.file.replace('\\', "/"), "lines": { "begin": at.line } },
    })
}
