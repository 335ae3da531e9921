//! One line a finding, for editors and for searching: `FILE:LINE: level rule message`.

use std::io;

use crate::app::counted::count;
use crate::app::report::escape::inert;
use crate::app::report::glance::summary;
use crate::app::report::{Out, Report, Stream, Tally, unsettled};
use crate::audit::finding::Finding;
use crate::level::Level;
use crate::source::{Label, Problem};

/// One line a finding.
#[derive(Debug, Clone, Default)]
pub struct Brief {
    /// What closes the report of one list alone.
    last: String,
}

impl Stream for Brief {
    fn report(&mut self, report: Report, out: Out<'_>, aside: Out<'_>) -> io::Result<()> {
        match &report.outcome {
            Ok(audited) => {
                for merged in &audited.findings {
                    let finding = &merged.finding;
                    let waived = finding.waived.as_ref().map_or_else(String::new, |w| {
                        format!(" (waived by {} until {})", w.by, w.until)
                    });
                    writeln!(
                        out,
                        "{}: {} {} {}",
                        at(&report.file, line(finding, &report.file)),
                        finding.level,
                        finding.rule,
                        inert(&format!("{}{waived}", finding.message))
                    )?;
                }
                for open in audited.open_rules.iter().filter(|o| !o.waived) {
                    let one = if open.level == Level::Advice { "" } else { "a " };
                    let text = format!("may be {one}{}: {}", open.level, open.words());
                    writeln!(out, "{}: open {} {}", report.file, open.rule, inert(&text))?;
                }
                for sentence in unsettled::sentences(audited, true) {
                    writeln!(out, "{}: look-up {}", report.file, inert(&sentence))?;
                }
                for problem in audited.waivers.iter() {
                    writeln!(out, "{}", problem_line(&report.file, "caution", problem))?;
                }
                for problem in &audited.broken {
                    let rule = problem.rule.as_deref();
                    // The word stands in front already, so the message need not say it again.
                    let word = rule.map_or_else(|| "broken".to_owned(), |r| format!("broken {r}"));
                    writeln!(out, "{}", problem_line(&report.file, &word, &problem.problem))?;
                }
            }
            Err(problems) => {
                for problem in &problems.0 {
                    writeln!(aside, "{}", problem_line(&report.file, "wrong", problem))?;
                }
            }
        }
        self.last = summary(&report);
        Ok(())
    }

    fn end(&mut self, tally: &Tally, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        match tally.lists() {
            0 => Ok(()),
            1 => writeln!(out, "{}", self.last),
            lists => writeln!(
                out,
                "{}: {} clear to build, {} stopped, {} broken{}{}",
                count(lists, "build"),
                tally.clear,
                tally.failed - tally.below_stop,
                tally.broken,
                match tally.below_stop {
                    0 => String::new(),
                    more => format!(", {more} failed without a stop"),
                },
                match tally.open {
                    0 => String::new(),
                    open => format!(", {open} not settled"),
                }
            ),
        }
    }
}

fn at(file: &str, line: usize) -> String {
    format!("{}:{line}", inert(file))
}

/// The line of the build that a finding rests on: of a value in the build itself, or of what
/// brought one in; the first line when there is none.
pub fn line(finding: &Finding, file: &str) -> usize {
    build_label(finding, file).map_or(1, |l| l.source.line_column(l.span.start()).0)
}

/// The place in the build file that stands for a finding; offers, tables and parts are reached over
/// a line of it.
pub fn build_label<'a>(finding: &'a Finding, file: &str) -> Option<&'a Label> {
    finding.pointers.iter().find_map(|p| {
        p.line.as_ref().or_else(|| p.label.as_ref().filter(|l| l.source.name == file))
    })
}

fn problem_line(file: &str, word: &str, problem: &Problem) -> String {
    let label = problem.labels.first();
    let place = label.map_or_else(
        || inert(file),
        |l| at(&l.source.name, l.source.line_column(l.span.start()).0),
    );
    let what = label
        .map(|l| l.text.as_str())
        .filter(|t| !t.is_empty() && *t != "here")
        .map_or_else(String::new, |t| format!(": {t}"));
    let help = problem.help.as_ref().map_or_else(String::new, |h| format!("; {h}"));
    inert(&format!("{place}: {word} {}{what}{help}", problem.message))
}
