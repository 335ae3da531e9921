//! The report as prose: no colour, no drawing, no columns; it reads well aloud and keeps still in
//! pipes.

use std::io;
use std::sync::Arc;

use crate::app::counted::count;
use crate::app::report::escape::inert;
use crate::app::report::glance::{self, summary};
use crate::app::report::terminal::{grouped, has_evidence, pointer_words};
use crate::app::report::{Audited, Merged, Out, Presenter, Report, Wishes, unsettled};
use crate::level::Level;
use crate::source::{Label, Problem, Problems};

/// Sentences, one a line.
#[derive(Debug, Clone, Copy)]
pub struct Plain {
    pub wishes: Wishes,
}

impl Presenter for Plain {
    fn present(&self, reports: &[Report], out: Out<'_>, aside: Out<'_>) -> io::Result<()> {
        let mut said: Vec<Arc<Problems>> = Vec::new();
        let several = reports.len() > 1;
        for report in reports {
            match &report.outcome {
                Ok(audited) => {
                    out.write_all(head(report, audited).as_bytes())?;
                    out.write_all(self.build(audited).as_bytes())?;
                    if !several {
                        let next = glance::next(report, audited, self.wishes.prompt);
                        writeln!(out, "{}", inert(&next).replace('`', "\""))?;
                    }
                }
                Err(problems) => {
                    if !said.iter().any(|p| Arc::ptr_eq(p, problems)) {
                        said.push(problems.clone());
                        aside.write_all(problems_text(problems).as_bytes())?;
                    }
                    writeln!(out, "{}.", summary(report))?;
                }
            }
        }
        Ok(())
    }
}

/// The verdict, the counts and the total, a sentence each.
fn head(report: &Report, audited: &Audited) -> String {
    let (verdict, counts) = (glance::verdict(audited).words(), glance::counts(audited, true));
    let (file, title) = (inert(&report.file), inert(&audited.title));
    format!(
        "{file}, {}\nVerdict: {verdict}; {counts}.\nTotal: {}.\n",
        sentence(&title),
        inert(&glance::money(audited))
    )
}

/// Everything wrong with an input.
pub fn problems_text(problems: &Problems) -> String {
    problems.0.iter().map(|p| problem("Error", p)).collect()
}

pub fn problem(word: &str, problem: &Problem) -> String {
    let mut out = format!("{word}: {}\n", sentence(&problem.message));
    for label in &problem.labels {
        let text = if label.text.is_empty() { "here".to_owned() } else { inert(&label.text) };
        out.push_str(&format!("  {}: {text}.\n", place(label)));
    }
    if let Some(help) = &problem.help {
        out.push_str(&format!("  Try: {}\n", sentence(help)));
    }
    out
}

fn sentence(text: &str) -> String {
    let text = inert(text);
    if text.ends_with(['.', '?', '!', '…']) { text } else { format!("{text}.") }
}

fn place(label: &Label) -> String {
    let (line, column) = label.source.line_column(label.span.start());
    format!("{}, line {line}, column {column}", inert(&label.source.name))
}

impl Plain {
    fn build(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for words in crate::whatif::open_lines::words(&audited.chosen) {
            out.push_str(&format!("{}\n", sentence(&words)));
        }
        for words in audited.wish_sentences() {
            out.push_str(&format!("{}\n", sentence(&words)));
        }
        for left in &audited.left {
            out.push_str(&problem("Note", left));
        }
        for (broken, others) in grouped(&audited.broken) {
            out.push_str(&problem("Error", &broken.told()));
            if !others.is_empty() {
                out.push_str(&format!("  The same breaks: {}.\n", others.join(", ")));
            }
        }
        let evidence = has_evidence(self.wishes, audited);
        let tell = |merged: &Merged| if evidence { full(merged) } else { line(merged) };
        out.push_str(&self.findings(audited, tell));
        if self.wishes.measures {
            for measure in &audited.measures {
                out.push_str(&format!("Measure {}: {}.\n", measure.id, inert(&measure.words)));
            }
        }
        for odd in &audited.warnings {
            out.push_str(&problem("Note", odd));
        }
        for decision in audited.decisions() {
            out.push_str(&format!("Here {}\n", sentence(&decision)));
        }
        out
    }

    /// What was found, the worst first, and what is not settled.
    fn findings(&self, audited: &Audited, tell: impl Fn(&Merged) -> String) -> String {
        let mut out = String::new();
        for cause in &audited.causes {
            let at = cause.at.as_ref().map_or_else(String::new, |l| {
                format!(", line {} of the list", l.source.line_column(l.span.start()).0)
            });
            let name = format!("{} {}", cause.kind, cause.name);
            let tally = count(cause.findings.len(), "stop");
            out.push_str(&format!("About the {}{at}, {tally}.\n", inert(name.trim())));
            for at in &cause.findings {
                out.push_str(&audited.findings.get(*at).map_or_else(String::new, &tell));
            }
        }
        out.push_str(&self.waiting(audited));
        for words in unsettled::sentences(audited, self.wishes.all) {
            out.push_str(&format!("Not settled: {}\n", sentence(&words)));
        }
        for odd in &audited.waivers {
            out.push_str(&problem("Caution", odd));
        }
        for merged in audited.at(Level::Caution) {
            out.push_str(&tell(merged));
        }
        if self.wishes.all {
            audited.at(Level::Advice).for_each(|merged| out.push_str(&full(merged)));
        } else if audited.at(Level::Advice).next().is_some() {
            let advice = glance::advice(audited).replace('`', "\"");
            out.push_str(&format!("{}\n", inert(&advice)));
        }
        for merged in audited.waived() {
            let Some(waiver) = &merged.finding.waived else { continue };
            let line = line(merged);
            let mut letters = line.chars();
            let first = letters.next().map_or_else(String::new, |c| c.to_lowercase().to_string());
            out.push_str(&format!("Waived {first}{}", letters.as_str()));
            out.push_str(&format!(
                "  Reason: {} Signed {}, until {}.\n",
                sentence(&waiver.reason),
                inert(&waiver.by),
                waiver.until
            ));
        }
        out
    }

    fn waiting(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for (kind, rules) in audited.waits() {
            let names =
                if self.wishes.all { format!(": {}", rules.join(", ")) } else { String::new() };
            let rules = count(rules.len(), "rule");
            out.push_str(&format!("Waiting for the open {kind} line: {rules}{names}.\n"));
        }
        out
    }
}

fn line(merged: &Merged) -> String {
    let finding = &merged.finding;
    let level = match finding.level {
        Level::Stop => "Stop",
        Level::Caution => "Caution",
        Level::Advice => "Advice",
    };
    let times = if merged.times > 1 { format!(", {} times", merged.times) } else { String::new() };
    format!("{level}, rule {}{times}: {}\n", finding.rule, sentence(&finding.message))
}

fn full(merged: &Merged) -> String {
    let finding = &merged.finding;
    let mut out = line(merged);
    if let Some(margin) = finding.margin.as_ref().filter(|m| m.left_value != m.right_value) {
        out.push_str(&format!("  Decided {}.\n", inert(&margin.words)));
    }
    for pointer in &finding.pointers {
        let mut text = format!("  {}", inert(&pointer_words(pointer)));
        if let Some(label) = &pointer.label {
            text.push_str(&format!(": {}", place(label)));
        }
        if let Some(line) = &pointer.line {
            text.push_str(&format!("; on the list at {}", place(line)));
        }
        out.push_str(&format!("{text}.\n"));
    }
    if !finding.remedy.is_empty() {
        out.push_str(&format!("  Fix: {}\n", sentence(&finding.remedy)));
    }
    if !finding.basis.is_empty() {
        out.push_str(&format!("  Source: {}\n", sentence(&finding.basis)));
    }
    out
}
