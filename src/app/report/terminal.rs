//! The report for people at a terminal: findings with marks under the very values, the worst first,
//! one closing line.

use std::io;
use std::sync::Arc;

use crate::app::counted::count;
use crate::app::report::escape::{indented, inert, width};
use crate::app::report::style::{Look, Tone};
use crate::app::report::{Audited, Merged, Presenter, Report, Wishes, summary};
use crate::audit::finding::{Finding, Pointer};
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::source::{Label, Problems};

/// Most values marked in one finding, unless all are asked for.
pub(crate) const MOST_POINTERS: usize = 4;
/// Most lines of the build marked beside them.
const MOST_LINES: usize = 2;

/// Text with excerpts.
#[derive(Debug, Clone, Copy)]
pub struct Terminal {
    /// How it looks.
    pub look: Look,
    /// How what is wrong with the input looks, which goes elsewhere.
    pub aside: Look,
    /// What to show.
    pub wishes: Wishes,
}

impl Presenter for Terminal {
    fn present(
        &self,
        reports: &[Report],
        out: &mut dyn io::Write,
        aside: &mut dyn io::Write,
    ) -> io::Result<()> {
        let mut said: Vec<Arc<Problems>> = Vec::new();
        let several = reports.len() > 1;
        for report in reports {
            match &report.outcome {
                Ok(audited) => {
                    let text = self.build(audited, several);
                    if several && !text.is_empty() {
                        out.write_all(
                            self.look
                                .title(&format!("{}: {}", report.file, audited.title))
                                .as_bytes(),
                        )?;
                    }
                    out.write_all(text.as_bytes())?;
                }
                Err(problems) if said.iter().any(|p| Arc::ptr_eq(p, problems)) => {}
                Err(problems) => {
                    said.push(problems.clone());
                    aside.write_all(problems_text(self.aside, problems).as_bytes())?;
                    writeln!(aside)?;
                }
            }
            if !several {
                out.write_all(indented(&summary(report), "", "  ", self.look.width).as_bytes())?;
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
    problems.0.iter().map(|p| look.problem(Tone::Wrong, p)).collect::<Vec<_>>().join("\n")
}

impl Terminal {
    /// One build. Among several, what is only good to know is counted, not told, unless all is
    /// asked for.
    fn build(&self, audited: &Audited, several: bool) -> String {
        let mut out = chosen(self.look, audited);
        let full = |out: &mut String, level| {
            for merged in audited.at(level) {
                out.push_str(&self.finding(merged));
                out.push('\n');
            }
        };
        full(&mut out, Level::Stop);
        full(&mut out, Level::Caution);
        if self.wishes.all {
            full(&mut out, Level::Advice);
        } else if !several && audited.at(Level::Advice).next().is_some() {
            for merged in audited.at(Level::Advice) {
                out.push_str(&self.line(
                    Tone::Level(Level::Advice),
                    &format!("{}{}", merged.finding.message, times(merged)),
                    &merged.finding.rule,
                ));
            }
            out.push('\n');
        }
        if !several || self.wishes.all {
            out.push_str(&self.waived(audited));
        }
        for problem in &audited.waivers {
            out.push_str(&self.look.problem(Tone::Level(Level::Caution), problem));
            out.push('\n');
        }
        out.push_str(&self.broken(&audited.broken));
        if !several || self.wishes.all {
            out.push_str(&self.waiting(audited));
        }
        if self.wishes.measures {
            out.push_str(&measures(self.look, audited));
        }
        if !several || self.wishes.all {
            out.push_str(&self.closing(audited));
        }
        out
    }

    fn finding(&self, merged: &Merged) -> String {
        let finding = &merged.finding;
        let tone = Tone::Level(finding.level);
        let by = finding
            .margin
            .as_ref()
            .filter(|m| m.left_value != m.right_value)
            .map_or_else(String::new, |m| format!(", {}", m.words));
        let mut out =
            self.look.heading(tone, &inert(&format!("{}{by}{}", finding.rule, times(merged))));
        out.push_str(&self.look.paragraph(&finding.message));
        let most = if self.wishes.all { usize::MAX } else { MOST_POINTERS };
        let labels = marks(finding, most);
        out.push_str(&self.look.excerpts(tone, &labels.iter().collect::<Vec<_>>(), 0));
        let shown = |p: &Pointer| {
            p.label.as_ref().is_some_and(|l| {
                labels.iter().any(|m| m.span == l.span && Arc::ptr_eq(&m.source, &l.source))
            })
        };
        let rest: Vec<String> =
            finding.pointers.iter().filter(|p| !shown(p)).map(pointer_words).collect();
        out.push_str(&self.look.noted(
            if labels.is_empty() { "Rests on:" } else { "Rests on these too:" },
            &rest.join("; "),
        ));
        out.push_str(&self.look.noted("To clear it:", &finding.remedy));
        out.push_str(&self.look.noted("Basis:", &finding.basis));
        out
    }

    /// One line for one finding, with the rule's id behind it where there is room.
    fn line(&self, tone: Tone, message: &str, rule: &str) -> String {
        let lead = " ".repeat(if self.look.width < 40 { 2 } else { width(tone.word()) + 1 });
        let text = indented(
            &format!("{} [{rule}]", inert(message)),
            &format!("{} ", tone.word()),
            &lead,
            self.look.width,
        );
        text.replacen(tone.word(), &self.look.paint(tone, tone.word()), 1)
    }

    fn waived(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for merged in audited.waived() {
            let Some(waiver) = &merged.finding.waived else { continue };
            let level = merged.finding.level;
            out.push_str(&indented(
                &inert(&format!(
                    "Waived {level}: {}{} [{}]",
                    merged.finding.message,
                    times(merged),
                    merged.finding.rule
                )),
                "",
                "  ",
                self.look.width,
            ));
            out.push_str(
                &self.look.paragraph(&format!(
                    "{}, {}, until {}",
                    waiver.reason, waiver.by, waiver.until
                )),
            );
        }
        if !out.is_empty() {
            out.push('\n');
        }
        out
    }

    /// Broken rules; those that fail at the same place in the same way are told once.
    fn broken(&self, broken: &[BrokenRule]) -> String {
        let mut out = String::new();
        for (one, others) in grouped(broken) {
            out.push_str(&self.look.problem(Tone::Broken, &one.told()));
            if !others.is_empty() {
                out.push_str(&self.look.noted("The same breaks:", &others.join(", ")));
            }
            out.push('\n');
        }
        out
    }

    /// What is odd in the scripts, and what this shop decided of the rules: nothing is switched off
    /// unseen.
    fn closing(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for problem in &audited.warnings {
            out.push_str(&self.look.problem(Tone::Aside, problem));
            out.push('\n');
        }
        let decisions = audited.decisions();
        for decision in &decisions {
            out.push_str(&indented(
                &inert(&format!("Here {decision}")),
                "  ",
                "    ",
                self.look.width,
            ));
        }
        if !decisions.is_empty() {
            out.push('\n');
        }
        out
    }

    fn waiting(&self, audited: &Audited) -> String {
        let mut kinds: Vec<&str> = audited.waiting.iter().map(|(_, kind)| kind.as_str()).collect();
        kinds.sort_unstable();
        kinds.dedup();
        let mut out = String::new();
        for kind in kinds {
            let rules: Vec<&str> = audited
                .waiting
                .iter()
                .filter(|(_, k)| k == kind)
                .map(|(rule, _)| rule.as_str())
                .collect();
            let names =
                if self.wishes.all { format!(": {}", rules.join(", ")) } else { String::new() };
            let verb = if rules.len() == 1 { "waits" } else { "wait" };
            out.push_str(&indented(
                &inert(&format!(
                    "{} {verb} for the open {kind} line{names}",
                    count(rules.len(), "rule")
                )),
                "",
                "  ",
                self.look.width,
            ));
        }
        if !out.is_empty() {
            out.push('\n');
        }
        out
    }
}

/// What stands on lines that were left open, and why others stay so.
fn chosen(look: Look, audited: &Audited) -> String {
    let mut out: String = crate::whatif::open_lines::words(&audited.chosen)
        .iter()
        .map(|w| indented(&inert(w), "", "  ", look.width))
        .collect();
    if !out.is_empty() {
        out.push('\n');
    }
    for problem in &audited.left {
        out.push_str(&look.problem(Tone::Aside, problem));
        out.push('\n');
    }
    out
}

fn times(merged: &Merged) -> String {
    match merged.times {
        1 => String::new(),
        2 => " (twice)".to_owned(),
        n => format!(" ({n} times)"),
    }
}

/// A pointer as words: its place and value.
pub fn pointer_words(pointer: &Pointer) -> String {
    match &pointer.label {
        // The value of a place that is shown whole is its own name.
        Some(_) if pointer.value.is_empty() => pointer.place.clone(),
        Some(_) => format!("{} is {}", pointer.place, pointer.value),
        None => format!("{}, {}", pointer.place, pointer.value),
    }
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

/// Broken rules with the ids of others that broke at the same place.
pub fn grouped(broken: &[BrokenRule]) -> Vec<(&BrokenRule, Vec<&str>)> {
    let place = |b: &BrokenRule| b.problem.labels.first().map(|l| (l.source.name.clone(), l.span));
    let mut groups: Vec<(&BrokenRule, Vec<&str>)> = Vec::new();
    for one in broken {
        let same = |(held, _): &&mut (&BrokenRule, Vec<&str>)| {
            held.problem.message == one.problem.message && place(held) == place(one)
        };
        match (groups.iter_mut().find(same), &one.rule) {
            (Some((_, others)), Some(rule)) => others.push(rule),
            _ => groups.push((one, Vec::new())),
        }
    }
    groups
}

/// Every measure with its number.
pub fn measures(look: Look, audited: &Audited) -> String {
    let longest = audited.measures.iter().map(|m| width(&m.id)).max().unwrap_or(0);
    let mut out = String::new();
    for measure in &audited.measures {
        let gap = if look.width < 60 { 1 } else { longest + 2 - width(&measure.id) };
        out.push_str(&indented(
            &inert(&measure.words),
            &format!("{}{}", measure.id, " ".repeat(gap)),
            "  ",
            look.width.max(longest + 22),
        ));
    }
    if !out.is_empty() {
        out.push('\n');
    }
    out
}

/// One row a build, for several.
pub fn table(look: Look, reports: &[Report]) -> String {
    let mut stems: Vec<&str> = reports.iter().map(Report::name).collect();
    stems.sort_unstable();
    stems.dedup();
    // Two files of one name are told apart by their folders.
    let plain = stems.len() == reports.len();
    let names: Vec<String> = reports
        .iter()
        .map(|r| {
            inert(if plain { r.name() } else { r.file.strip_suffix(".toml").unwrap_or(&r.file) })
        })
        .collect();
    let longest = names.iter().map(|n| width(n)).max().unwrap_or(0).min(look.width / 2);
    let mut out = String::new();
    for (report, name) in reports.iter().zip(&names) {
        let words = summary(report);
        let rest = words.strip_prefix(&format!("{}: ", inert(report.name()))).unwrap_or(&words);
        let first = if width(name) <= longest {
            format!("{name}{}", " ".repeat(longest + 2 - width(name)))
        } else {
            format!("{name}  ")
        };
        let lead = if look.width < 60 { "  ".to_owned() } else { " ".repeat(longest + 2) };
        if look.width < 60 {
            out.push_str(&indented(&format!("{name}: {rest}"), "", &lead, look.width));
        } else {
            out.push_str(&indented(rest, &first, &lead, look.width));
        }
    }
    let clear = reports.iter().filter(|r| r.code() == 0).count();
    out.push_str(&indented(
        &format!("Nothing stops {clear} of {}.", count(reports.len(), "build")),
        "",
        "  ",
        look.width,
    ));
    out
}
