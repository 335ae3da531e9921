//! What formats for programs say alike: where a finding or a problem is, and a problem in one line.

use serde_json::{Value, json};

use crate::audit::finding::Finding;
use crate::source::{Label, Problem};

/// A place in a file; line and column count from 1.
pub(super) struct Located<'a> {
    pub(super) file: &'a str,
    pub(super) line: usize,
    pub(super) column: usize,
}

impl<'a> Located<'a> {
    /// The place in the list that stands for a finding, or the list's beginning.
    pub(super) fn finding(finding: &'a Finding, list: &'a str) -> Self {
        Self::of(build_label(finding, list), list)
    }

    /// The first place of a problem, or the list's beginning.
    pub(super) fn problem(problem: &'a Problem, list: &'a str) -> Self {
        Self::of(problem.labels.first(), list)
    }

    fn of(label: Option<&'a Label>, list: &'a str) -> Self {
        let Some(label) = label else { return Self { file: list, line: 1, column: 1 } };
        let (line, column) = label.source.line_column(label.span.start());
        Self { file: &label.source.name, line, column }
    }

    pub(super) fn json(&self) -> Value {
        json!({ "file": self.file, "line": self.line, "column": self.column })
    }
}

/// Where a label stands.
pub(super) fn label_at(label: &Label) -> Value {
    Located::of(Some(label), "").json()
}

/// The place in the build file that stands for a finding; offers, tables and parts are reached over
/// a line of it.
pub(super) fn build_label<'a>(finding: &'a Finding, file: &str) -> Option<&'a Label> {
    finding.pointers.iter().find_map(|p| {
        p.line.as_ref().or_else(|| p.label.as_ref().filter(|l| l.source.name == file))
    })
}

/// A problem in one line, with what would fix it.
pub(super) fn with_help(problem: &Problem) -> String {
    match &problem.help {
        Some(help) => format!("{}; {help}", problem.message),
        None => problem.message.clone(),
    }
}
