//! What formats for programs say alike: where a finding or a problem is, and a problem in one line.

use crate::app::report::brief::build_label;
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
}

/// A problem in one line, with what would fix it.
pub(super) fn with_help(problem: &Problem) -> String {
    match &problem.help {
        Some(help) => format!("{}; {help}", problem.message),
        None => problem.message.clone(),
    }
}
