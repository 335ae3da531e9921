//! Findings as a code host's report of code quality.

use std::io;

use serde_json::{Value, json};

use crate::app::report::json::element;
use crate::app::report::located::{Located, with_help};
use crate::app::report::{Out, Report, Stream, Tally, hash};
use crate::level::Level;
use crate::source::Problem;

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
