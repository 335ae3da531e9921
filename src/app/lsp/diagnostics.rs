//! Findings, facts to look up and problems as the editor shows them: at the lines that cause them,
//! with the other places beside.

use std::sync::Arc;

use lsp_types::{
    Diagnostic, DiagnosticRelatedInformation, DiagnosticSeverity, DiagnosticTag, Location,
    NumberOrString, Position, Range,
};
use serde_json::json;

use super::list_view::ListView;
use super::positions::Places;
use super::shops::Shop;
use super::uris;
use crate::app::report::{Merged, unsettled};
use crate::audit::finding::Pointer;
use crate::kit::Question;
use crate::level::Level;
use crate::source::{Label, Problem, Source};

/// Who says it.
pub(crate) const SOURCE: &str = "dryfit";

/// A text about which something is said, and what is needed to name other places.
pub(crate) struct Page<'a> {
    pub(crate) source: &'a Arc<Source>,
    /// Its name as the editor writes it.
    pub(crate) uri: &'a str,
    pub(crate) shop: &'a Shop,
    pub(crate) places: &'a mut Places,
}

impl Page<'_> {
    /// All that is said of a list that reads, in order of place.
    pub(crate) fn of_list(&mut self, view: &ListView) -> Vec<Diagnostic> {
        let mut all = Vec::new();
        if let Some(audited) = &view.audited {
            all.extend(audited.findings.iter().map(|merged| self.finding(view, merged)));
            let first = audited.questions.iter().filter(|q| q.after.is_none());
            all.extend(first.map(|q| self.question(view, q)));
            let broken = audited.broken.iter().map(|b| b.told());
            let wrong = broken.chain(audited.left.iter().cloned());
            all.extend(wrong.map(|p| self.problem(&p, DiagnosticSeverity::ERROR)));
            let odd = audited.waivers.iter();
            all.extend(odd.map(|p| self.problem(p, DiagnosticSeverity::WARNING)));
        }
        all.extend(self.stale());
        sort(&mut all);
        all
    }

    /// All that is wrong with a text that does not read.
    pub(crate) fn of_problems(&mut self, problems: &[Problem]) -> Vec<Diagnostic> {
        let mut all: Vec<Diagnostic> =
            problems.iter().map(|p| self.problem(p, DiagnosticSeverity::ERROR)).collect();
        all.extend(self.stale());
        sort(&mut all);
        all
    }

    /// That the verdict is by rules and parts of before, since the newest do not load.
    fn stale(&mut self) -> Option<Diagnostic> {
        if !self.shop.stale || self.shop.kit.is_none() {
            return None;
        }
        let problems = &self.shop.problems;
        let first = problems.iter().find(|p| !p.labels.is_empty()).or(problems.first())?;
        let problem = Problem::new(format!(
            "The catalogue or the settings cannot be read; this list is audited with those of \
             before: {}",
            first.message
        ));
        let problem = Problem { labels: first.labels.clone(), ..problem.code("stale") };
        Some(self.problem(&problem, DiagnosticSeverity::WARNING))
    }

    fn finding(&mut self, view: &ListView, merged: &Merged) -> Diagnostic {
        let finding = &merged.finding;
        let own = finding.pointers.iter().find_map(|p| self.own_label(p)).cloned();
        let line = || {
            let lines = view.list().lines.iter();
            let mut named = lines.filter(|line| {
                line.part().is_some_and(|part| finding.subjects.iter().any(|s| **s == *part.id))
            });
            named.next().map(|line| Label {
                source: self.source.clone(),
                span: line.spans.part,
                text: String::new(),
            })
        };
        let main = own.or_else(line);
        let range = main.as_ref().map_or_else(Range::default, |label| self.places.range(label));
        let mut related = Vec::new();
        for pointer in &finding.pointers {
            for label in [&pointer.label, &pointer.line].into_iter().flatten() {
                let text = format!("{} is {}", pointer.place, pointer.value);
                self.relate(label, text, &range, &mut related);
            }
        }
        let mut message = finding.message.clone();
        if let Some(waiver) = &finding.waived {
            message.push_str(&format!(
                "\nWaived by {} until {}: {}",
                waiver.by, waiver.until, waiver.reason
            ));
        } else if !finding.remedy.is_empty() {
            message.push_str(&format!("\nFix: {}", finding.remedy));
        }
        let severity = match (finding.waived.is_some(), finding.level) {
            (true, _) => DiagnosticSeverity::HINT,
            (_, Level::Stop) => DiagnosticSeverity::ERROR,
            (_, Level::Caution) => DiagnosticSeverity::WARNING,
            (_, Level::Advice) => DiagnosticSeverity::INFORMATION,
        };
        Diagnostic {
            range,
            severity: Some(severity),
            code: Some(NumberOrString::String(finding.rule.clone())),
            source: Some(SOURCE.to_owned()),
            message,
            related_information: (!related.is_empty()).then_some(related),
            tags: finding.waived.is_some().then(|| vec![DiagnosticTag::UNNECESSARY]),
            data: Some(json!({ "finding": merged.id, "level": finding.level.to_string() })),
            ..Diagnostic::default()
        }
    }

    /// Where a value stands in this text, or the line of it that brought the value in.
    fn own_label<'p>(&self, pointer: &'p Pointer) -> Option<&'p Label> {
        let here = |label: &&Label| label.source.name == self.source.name;
        pointer.label.as_ref().filter(here).or(pointer.line.as_ref().filter(here))
    }

    fn question(&mut self, view: &ListView, question: &Question) -> Diagnostic {
        let mut lines = view.list().lines.iter();
        let line = lines.find(|l| l.part().is_some_and(|p| *p.id == *question.part_id));
        let range =
            line.map_or_else(Range::default, |l| self.places.range_of(self.source, l.spans.part));
        let usual = question.usual.as_ref();
        let usual = usual.map(|(value, basis)| format!("\nUsually {value} ({basis})."));
        Diagnostic {
            range,
            severity: Some(DiagnosticSeverity::HINT),
            code: Some(NumberOrString::String("look-up".to_owned())),
            source: Some(SOURCE.to_owned()),
            message: format!(
                "Look up {}{}",
                unsettled::question(question),
                usual.unwrap_or_default()
            ),
            data: Some(json!({ "fact": question.place })),
            ..Diagnostic::default()
        }
    }

    /// A problem: at its first place in this text, the others beside it.
    pub(crate) fn problem(
        &mut self,
        problem: &Problem,
        severity: DiagnosticSeverity,
    ) -> Diagnostic {
        let here = |label: &&Label| label.source.name == self.source.name;
        let main = problem.labels.iter().find(here).cloned();
        let range = main.as_ref().map_or_else(Range::default, |label| self.places.range(label));
        let mut related = Vec::new();
        for label in &problem.labels {
            let text = if label.text.is_empty() { "here" } else { &label.text };
            self.relate(label, text.to_owned(), &range, &mut related);
        }
        let mut message = problem.message.clone();
        if let Some(label) = main.filter(|l| !l.text.is_empty()) {
            message.push_str(&format!(" ({})", label.text));
        }
        if let Some(help) = &problem.help {
            message.push_str(&format!("\nFix: {help}"));
        }
        Diagnostic {
            range,
            severity: Some(severity),
            code: Some(NumberOrString::String(problem.code.to_owned())),
            source: Some(SOURCE.to_owned()),
            message,
            related_information: (!related.is_empty()).then_some(related),
            ..Diagnostic::default()
        }
    }

    /// Adds a place beside the main one, each once.
    fn relate(
        &mut self,
        label: &Label,
        message: String,
        main: &Range,
        into: &mut Vec<DiagnosticRelatedInformation>,
    ) {
        let own = label.source.name == self.source.name;
        let uri = if own { Some(self.uri.to_owned()) } else { self.shop.uri_of(&label.source) };
        let Some(uri) = uri.and_then(|uri| uris::typed(&uri)) else { return };
        let range = self.places.range(label);
        if own && range == *main {
            return;
        }
        let location = Location { uri, range };
        if !into.iter().any(|known| known.location == location && known.message == message) {
            into.push(DiagnosticRelatedInformation { location, message });
        }
    }
}

/// In order of place, the worst first.
fn sort(all: &mut [Diagnostic]) {
    let key = |d: &Diagnostic| (d.range.start, d.severity.map_or(0, severity_rank), code_of(d));
    all.sort_by_key(key);
}

fn severity_rank(severity: DiagnosticSeverity) -> u8 {
    match severity {
        DiagnosticSeverity::ERROR => 1,
        DiagnosticSeverity::WARNING => 2,
        DiagnosticSeverity::INFORMATION => 3,
        _ => 4,
    }
}

/// The rule's id or the sort of problem.
pub(crate) fn code_of(diagnostic: &Diagnostic) -> String {
    match &diagnostic.code {
        Some(NumberOrString::String(code)) => code.clone(),
        Some(NumberOrString::Number(code)) => code.to_string(),
        None => String::new(),
    }
}

/// The first line of a text, where nothing else is at fault.
pub(crate) fn at_top(message: String, severity: DiagnosticSeverity) -> Diagnostic {
    Diagnostic {
        range: Range::new(Position::new(0, 0), Position::new(0, 0)),
        severity: Some(severity),
        source: Some(SOURCE.to_owned()),
        message,
        ..Diagnostic::default()
    }
}
