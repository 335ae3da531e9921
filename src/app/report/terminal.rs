//! The report for people at a terminal: the verdict first, then stops under the line at fault, what
//! is not settled, cautions, advice as a count, and the next step. Evidence where it is asked for.

use std::io;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::report::excerpt::excerpts;
use crate::app::report::glance::{self, summary};
use crate::app::report::json::join;
use crate::app::report::page::Page;
use crate::app::report::style::{Look, Role};
use crate::app::report::table::table;
use crate::app::report::view::{Telling, grouped, pointer_words, view};
use crate::app::report::{Audited, Out, Report, Stream, Tally, Wishes};
use crate::audit::finding::{Finding, Pointer};
use crate::level::Level;
use crate::source::{Label, Problem, Problems};

/// Most values marked in one finding, unless all are asked for.
pub const MOST_POINTERS: usize = 4;
/// Most lines of the build marked beside them.
const MOST_LINES: usize = 2;
/// A list with no more stops and cautions than this is shown with its evidence.
const FEW: usize = 2;
/// Lines of a screen: cautions that have no room on it are counted.
const SCREEN: usize = 49;
/// Cautions shown however long the report is.
const LEAST_CAUTIONS: usize = 3;

/// Text with excerpts, shown once all reports have come.
#[derive(Debug, Clone)]
pub struct Terminal {
    look: Look,
    /// How what is wrong with the input looks, which goes elsewhere.
    aside: Look,
    wishes: Wishes,
    held: Vec<Report>,
}

impl Stream for Terminal {
    fn report(&mut self, report: Report, _: Out<'_>, _: Out<'_>) -> io::Result<()> {
        self.held.push(report);
        Ok(())
    }

    fn end(&mut self, _: &Tally, out: Out<'_>, aside: Out<'_>) -> io::Result<()> {
        let reports = &self.held;
        let mut said: Vec<Arc<Problems>> = Vec::new();
        let several = reports.len() > 1;
        for report in reports {
            match &report.outcome {
                Ok(audited) => {
                    let text = self.build(report, audited, several);
                    out.write_all(text.as_bytes())?;
                    if several {
                        writeln!(out)?;
                    }
                }
                Err(problems) => {
                    if !said.iter().any(|p| Arc::ptr_eq(p, problems)) {
                        said.push(problems.clone());
                        aside.write_all(problems_text(self.aside, problems).as_bytes())?;
                        writeln!(aside)?;
                    }
                    if !several {
                        let words = summary(report);
                        out.write_all(self.look.hanging(&words).as_bytes())?;
                    }
                }
            }
        }
        if several {
            out.write_all(table(self.look, reports).as_bytes())?;
        }
        Ok(())
    }
}

/// Everything wrong with an input.
pub fn problems_text(look: Look, problems: &Problems) -> String {
    problems.0.iter().map(|p| look.problem(Role::Wrong, p)).collect::<Vec<_>>().join("\n")
}

/// Whether a build's findings are shown with what they rest on: where that is asked for, or they
/// are few.
pub(crate) fn has_evidence(wishes: Wishes, audited: &Audited) -> bool {
    wishes.all || audited.at(Level::Stop).chain(audited.at(Level::Caution)).count() <= FEW
}

impl Terminal {
    pub fn new(look: Look, aside: Look, wishes: Wishes) -> Self {
        Self { look, aside, wishes, held: Vec::new() }
    }

    /// One build. Among several, what is only good to know is counted, and nothing is told of
    /// the next step.
    fn build(&self, report: &Report, audited: &Audited, several: bool) -> String {
        let telling = Telling { wishes: self.wishes, fail_on: Level::Stop, has_places: false };
        let view = join(view(report, telling), json!({ "several": several }));
        let cautions = audited.at(Level::Caution).count();
        let fits = |text: &String| text.lines().count() <= SCREEN;
        if if several { self.wishes.all } else { has_evidence(self.wishes, audited) } {
            let text = self.text(audited, &view, true, cautions);
            if self.wishes.all || fits(&text) {
                return text;
            }
        }
        // What was not asked for takes no more than the screen.
        let more: Vec<usize> = (LEAST_CAUTIONS + 1..=cautions).collect();
        let shown = more.partition_point(|most| fits(&self.text(audited, &view, false, *most)));
        self.text(audited, &view, false, LEAST_CAUTIONS + shown)
    }

    /// The page of a build, with no more cautions than are asked for.
    fn text(&self, audited: &Audited, view: &Value, evidence: bool, cautions: usize) -> String {
        let mut page = Page::new(self.look);
        let caution = Role::Level(Level::Caution);
        let found = audited.findings.iter().map(|m| &m.finding);
        // Excerpts take most of the time: none is drawn that is not shown.
        let is_shown = |f: &Finding| {
            evidence && f.waived.is_none() && (self.wishes.all || f.level > Level::Advice)
        };
        let rests_on: Vec<_> =
            found.map(|f| is_shown(f).then(|| self.rests_on(&mut page, f))).collect();
        let in_force = |(_, m): &(usize, &super::Merged)| {
            m.finding.level == Level::Caution && m.finding.waived.is_none()
        };
        let of_cautions = audited.findings.iter().enumerate().filter(in_force).map(|(at, _)| at);
        let broken = grouped(&audited.broken).into_iter().map(|(one, others)| {
            json!({ "block": kept(&mut page, Role::Wrong, &one.told()), "same": others })
        });
        let about = json!({
            "broken_blocks": broken.collect::<Vec<_>>(),
            "left_blocks": all_kept(&mut page, Role::Strong, &audited.left),
            "waiver_blocks": all_kept(&mut page, caution, &audited.waivers),
            "warning_blocks": all_kept(&mut page, Role::Strong, &audited.warnings),
            "rests_on": rests_on,
            "cautions": of_cautions.collect::<Vec<_>>(),
            "most_cautions": cautions,
            "counts": glance::counts(audited, false),
            "verdict_role": Role::of_verdict(glance::verdict(audited)).name(),
        });
        page.fill("audit.txt", "", join(view.clone(), about));
        // Blocks that are empty leave one blank line between the others.
        let mut out = String::new();
        for line in page.text.trim().lines() {
            if !line.is_empty() || !out.ends_with("\n\n") {
                out.push_str(line);
                out.push('\n');
            }
        }
        out
    }

    /// What a finding rests on: its values marked where they stand, and those that are not.
    fn rests_on(&self, page: &mut Page, finding: &Finding) -> Value {
        let most = if self.wishes.all { usize::MAX } else { MOST_POINTERS };
        let labels = marks(finding, most);
        let marked = |p: &Pointer| {
            p.label.as_ref().is_some_and(|l| {
                labels.iter().any(|m| m.span == l.span && Arc::ptr_eq(&m.source, &l.source))
            })
        };
        let unmarked = finding.pointers.iter().filter(|p| !marked(p)).map(pointer_words);
        let drawn = excerpts(self.look, Role::Level(finding.level), &labels);
        json!({ "marks": page.keep(drawn), "unmarked": unmarked.collect::<Vec<_>>() })
    }
}

fn kept(page: &mut Page, role: Role, problem: &Problem) -> usize {
    page.keep(page.look.problem(role, problem))
}

fn all_kept(page: &mut Page, role: Role, problems: &[Problem]) -> Vec<usize> {
    problems.iter().map(|p| kept(page, role, p)).collect()
}

/// The places to mark: the values, and the lines of the build that brought them in.
fn marks(finding: &Finding, most: usize) -> Vec<Label> {
    let mut values = Vec::new();
    let mut lines: Vec<Label> = Vec::new();
    for pointer in finding.pointers.iter().take(most) {
        let Some(label) = &pointer.label else { continue };
        // The value is in the text already, unless it is a default or part of a row.
        let written = label.source.slice(label.span).trim_matches('"');
        let shown = label.text.split(' ').next().unwrap_or("");
        let near = written
            .parse::<f64>()
            .ok()
            .zip(shown.parse::<f64>().ok())
            .is_some_and(|(a, b)| (a - b).abs() <= a.abs() / 100.0);
        let seen = shown.is_empty() || written.contains(shown) || near || pointer.value == written;
        let mut text = if seen {
            pointer.place.clone()
        } else {
            format!("{} is {}", pointer.place, pointer.value)
        };
        if let Some(line) = &pointer.line {
            let known = lines.iter().any(|l| l.span == line.span);
            if !known && lines.len() < MOST_LINES {
                let slot = pointer.place.split('.').next().unwrap_or("").to_owned();
                lines.push(Label { text: slot, ..line.clone() });
            } else if !known {
                text.push_str(&format!(
                    ", line {} of the build",
                    line.source.line_column(line.span.start()).0
                ));
            }
        }
        values.push(Label { text, ..label.clone() });
    }
    lines.into_iter().chain(values).collect()
}
