//! Markdown for a ticket: a heading a build, a line a finding. Names are data, so whatever Markdown
//! or HTML would act on is escaped.

use std::io;

use crate::app::report::brief::line;
use crate::app::report::escape::inert;
use crate::app::report::glance::summary;
use crate::app::report::unsettled::sentences;
use crate::app::report::{Audited, Merged, Out, Presenter, Report};
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::source::Problem;
use crate::words::clip;

/// Longest text of a cell or line, in letters.
const LONG: usize = 900;

#[derive(Debug, Clone, Copy)]
pub struct Markdown;

impl Presenter for Markdown {
    fn present(&self, reports: &[Report], out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        for (at, report) in reports.iter().enumerate() {
            if at > 0 {
                writeln!(out)?;
            }
            match &report.outcome {
                Ok(audited) => build(report, audited, out)?,
                Err(problems) => {
                    writeln!(out, "## {}\n\nNot audited:\n", escaped(report.name()))?;
                    for problem in &problems.0 {
                        writeln!(out, "- {}", escaped(&problem.message))?;
                    }
                }
            }
            writeln!(out, "\n{}", escaped(&summary(report)))?;
        }
        Ok(())
    }
}

fn build(report: &Report, audited: &Audited, out: Out<'_>) -> io::Result<()> {
    writeln!(out, "## {}\n", escaped(&audited.title))?;
    writeln!(
        out,
        "| File | Prices of | Total | Budget | Verdict |\n| --- | --- | ---: | ---: | --- |"
    )?;
    let budget = audited.budget.map_or_else(|| "none".to_owned(), |b| audited.money(b));
    writeln!(
        out,
        "| {} | {} | {} | {budget} | {} |",
        escaped(&report.file),
        audited.priced_on,
        audited.paid,
        audited.ruling.words()
    )?;
    for (level, head) in
        [(Level::Stop, "Stops"), (Level::Caution, "Cautions"), (Level::Advice, "Advice")]
    {
        list(head, &report.file, &audited.at(level).collect::<Vec<_>>(), out)?;
    }
    let unsettled = sentences(audited, false);
    if !unsettled.is_empty() {
        writeln!(out, "\n### Not settled\n")?;
        for sentence in unsettled {
            writeln!(out, "- {}", escaped(&sentence))?;
        }
    }
    list("Waived", &report.file, &audited.waived().collect::<Vec<_>>(), out)?;
    let broken: Vec<Problem> = audited.broken.iter().map(BrokenRule::told).collect();
    for (head, problems) in [("Broken", &broken), ("Waivers to look at", &audited.waivers)] {
        if !problems.is_empty() {
            writeln!(out, "\n### {head}\n")?;
            for problem in problems {
                writeln!(out, "- {}", escaped(&problem.message))?;
            }
        }
    }
    Ok(())
}

fn list(head: &str, file: &str, found: &[&Merged], out: Out<'_>) -> io::Result<()> {
    if found.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n### {head}\n")?;
    for merged in found {
        let finding = &merged.finding;
        let times =
            if merged.times > 1 { format!(" ({} times)", merged.times) } else { String::new() };
        writeln!(
            out,
            "- `{}` line {}: {}{times}",
            code(&finding.rule),
            line(finding, file),
            escaped(&finding.message)
        )?;
        if let Some(waiver) = &finding.waived {
            writeln!(
                out,
                "  - signed off by {} until {}: {}",
                escaped(&waiver.by),
                waiver.until,
                escaped(&waiver.reason)
            )?;
        } else if finding.level != Level::Advice && !finding.remedy.is_empty() {
            writeln!(out, "  - fix: {}", escaped(&finding.remedy))?;
        }
    }
    Ok(())
}

/// A rule's id between back-ticks: it must hold none.
fn code(id: &str) -> String {
    inert(id).replace('`', "'")
}

/// Text on one line that no Markdown reader acts on; addresses and names of people are broken up
/// too, as ticket systems link them.
pub(crate) fn escaped(text: &str) -> String {
    let text = clip(&inert(text), LONG);
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '@' => out.push_str("&#64;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '#' | '~' | '!' | '$' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    // A scheme or a leading www makes a link without any mark.
    out.replace("://", ":&#47;&#47;").replace("www.", "www&#46;")
}

#[cfg(test)]
#[path = "../../../tests/unit/app/report/markdown.rs"]
mod tests;
