//! The report for people at a terminal: the verdict first, then stops under the line at fault, what
//! is not settled, cautions, advice as a count, and the next step. Evidence where it is asked for.

use std::io;
use std::sync::Arc;

use crate::app::counted::count;
use crate::app::report::escape::{indented, inert, width, wrap};
use crate::app::report::glance::{self, summary, verdict};
use crate::app::report::style::{Look, Tone};
use crate::app::report::table::table;
use crate::app::report::{Audited, Merged, Out, Report, Stream, Tally, Wishes, unsettled};
use crate::audit::finding::{Finding, Pointer};
use crate::kit::{Cause, Ruling};
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::source::{Label, Problems};

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
    problems.0.iter().map(|p| look.problem(Tone::Wrong, p)).collect::<Vec<_>>().join("\n")
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
        let evidence = if several { self.wishes.all } else { has_evidence(self.wishes, audited) };
        let text = self.blocks(report, audited, several, evidence);
        if self.wishes.all || !evidence || text.lines().count() <= SCREEN {
            return text;
        }
        // What was not asked for takes no more than the screen.
        self.blocks(report, audited, several, false)
    }

    fn blocks(&self, report: &Report, audited: &Audited, several: bool, evidence: bool) -> String {
        let mut blocks = vec![self.head(report, audited), chosen(self.look, audited)];
        blocks.push(self.broken(&audited.broken));
        let causes = audited.causes.iter().map(|c| self.cause(audited, c, evidence));
        blocks.push(causes.collect());
        blocks.push(self.waiting(audited));
        blocks.push(self.unsettled(audited));
        let mut tail = vec![self.waived(audited)];
        tail.push(self.advice(audited));
        if self.wishes.measures {
            tail.push(measures(self.look, audited));
        }
        tail.push(self.closing(audited));
        if !several {
            let next = glance::next(report, audited, self.wishes.prompt);
            tail.push(self.look.hanging(&next));
        }
        let used: usize = blocks.iter().chain(&tail).map(|b| b.lines().count() + 1).sum();
        let room = if evidence { usize::MAX } else { SCREEN.saturating_sub(used) };
        blocks.push(self.cautions(audited, evidence, room));
        blocks.extend(tail);
        blocks.retain(|b| !b.is_empty());
        blocks.iter().map(|b| format!("{}\n", b.trim_end())).collect::<Vec<_>>().join("\n")
    }

    /// Verdict, name, counts and total; one line where there is room.
    fn head(&self, report: &Report, audited: &Audited) -> String {
        let ruling = verdict(audited);
        let verdict = ruling.words().to_uppercase();
        let rest = [inert(report.name()), glance::counts(audited, false), glance::money(audited)];
        let tone = match ruling {
            Ruling::Stop => Tone::Level(Level::Stop),
            Ruling::Broken => Tone::Broken,
            Ruling::Open | Ruling::Care => Tone::Level(Level::Caution),
            Ruling::Build => Tone::Good,
        };
        let mut gap = "    ";
        if width(&verdict) + width(&rest.join(gap)) + gap.len() > self.look.width {
            gap = "  ";
        }
        let one = format!("{verdict}{gap}{}", rest.join(gap));
        let lines = if width(&one) <= self.look.width {
            format!("{one}\n")
        } else {
            self.look.hanging(&format!("{verdict}: {}", rest.join("; ")))
        };
        lines.replacen(&verdict, &self.look.paint(tone, &verdict), 1)
    }

    /// A line at fault, and its stops.
    fn cause(&self, audited: &Audited, cause: &Cause, evidence: bool) -> String {
        let at = cause.at.as_ref().map_or_else(String::new, |l| {
            format!(" (line {})", l.source.line_column(l.span.start()).0)
        });
        let head = inert(format!("{} {}{at}", cause.kind, cause.name).trim_start());
        let tally = format!("clears {}", count(cause.findings.len(), "stop"));
        let mut out =
            self.ended(&head, "", &tally, |look, text| look.paint(Tone::Level(Level::Stop), text));
        for at in &cause.findings {
            if let Some(merged) = audited.findings.get(*at) {
                out.push_str(&self.finding(merged, evidence));
            }
        }
        out
    }

    /// A finding as one sentence with its rule at the end; below, what it rests on.
    fn finding(&self, merged: &Merged, evidence: bool) -> String {
        let finding = &merged.finding;
        let text = format!("{}{}", inert(&finding.message), times(merged));
        let mut out = self.ended(&text, "  ", &inert(&finding.rule), Look::faint);
        if evidence {
            out.push_str(&self.evidence(finding));
        }
        out
    }

    fn evidence(&self, finding: &Finding) -> String {
        let tone = Tone::Level(finding.level);
        let most = if self.wishes.all { usize::MAX } else { MOST_POINTERS };
        let labels = marks(finding, most);
        let mut out = self.look.excerpts(tone, &labels.iter().collect::<Vec<_>>());
        let shown = |p: &Pointer| {
            p.label.as_ref().is_some_and(|l| {
                labels.iter().any(|m| m.span == l.span && Arc::ptr_eq(&m.source, &l.source))
            })
        };
        let rest: Vec<String> =
            finding.pointers.iter().filter(|p| !shown(p)).map(pointer_words).collect();
        let margin = finding.margin.as_ref().filter(|m| m.left_value != m.right_value);
        out.push_str(&self.look.noted("Decided", margin.map_or("", |m| &m.words)));
        out.push_str(&self.look.noted("Evidence:", &rest.join("; ")));
        out.push_str(&self.look.noted("Fix:", &finding.remedy));
        out.push_str(&self.look.noted("Source:", &finding.basis));
        out.push('\n');
        out
    }

    /// Text with a word small at the right end of its last line.
    fn ended(
        &self,
        text: &str,
        lead: &str,
        word: &str,
        paint: impl Fn(Look, &str) -> String,
    ) -> String {
        let room = self.look.width - lead.len();
        let has_room =
            |lines: &[String]| lines.last().is_some_and(|l| width(l) + 2 + width(word) <= room);
        let mut lines = wrap(text, room);
        if !has_room(&lines) {
            // Broken a little earlier, the last line may have room for it.
            let narrower = (room * 2 / 3..room).rev().map(|most| wrap(text, most));
            let found = narrower.take_while(|l| l.len() == lines.len()).find(|l| has_room(l));
            match found {
                Some(found) => lines = found,
                None => lines.push(String::new()),
            }
        }
        let mut out = String::new();
        let last = lines.len() - 1;
        for (at, line) in lines.iter().enumerate() {
            out.push_str(lead);
            // The heading is painted as a whole, the small word behind a sentence by itself.
            out.push_str(&if lead.is_empty() { paint(self.look, line) } else { line.clone() });
            if at == last {
                let gap = room.saturating_sub(width(line) + width(word));
                out.push_str(&" ".repeat(gap));
                out.push_str(&self.look.faint(word));
            }
            out.push('\n');
        }
        out
    }

    /// The facts to look up, and what is taken as usual.
    fn unsettled(&self, audited: &Audited) -> String {
        let sentences = unsettled::sentences(audited, self.wishes.all);
        if sentences.is_empty() {
            return String::new();
        }
        let mut out = self.look.paint(Tone::Level(Level::Caution), "not settled");
        out.push('\n');
        for words in sentences {
            out.push_str(&indented(&inert(&words), "  ", "    ", self.look.width));
        }
        out
    }

    /// Cautions, and what is odd about waivers; as many as there is room for.
    fn cautions(&self, audited: &Audited, evidence: bool, room: usize) -> String {
        let cautions: Vec<&Merged> = audited.at(Level::Caution).collect();
        let all = cautions.len() + audited.waivers.len();
        if all == 0 {
            return String::new();
        }
        let head = if all == 1 { "caution" } else { "cautions" };
        let mut out = self.look.paint(Tone::Level(Level::Caution), head);
        out.push('\n');
        for problem in &audited.waivers {
            out.push_str(&self.look.problem(Tone::Level(Level::Caution), problem));
        }
        for (at, merged) in cautions.iter().enumerate() {
            let text = self.finding(merged, evidence);
            let lines = out.lines().count() + text.lines().count() + 1;
            if at >= LEAST_CAUTIONS && lines > room {
                let more = count(cautions.len() - at, "more caution");
                out.push_str(&format!("  and {more}: `--all` shows all\n"));
                break;
            }
            out.push_str(&text);
        }
        out
    }

    /// Advice: a count, or every piece in full.
    fn advice(&self, audited: &Audited) -> String {
        if audited.at(Level::Advice).next().is_none() {
            return String::new();
        }
        if !self.wishes.all {
            return self.look.hanging(&glance::advice(audited));
        }
        let head = self.look.paint(Tone::Level(Level::Advice), "advice");
        let found = audited.at(Level::Advice).map(|m| self.finding(m, true));
        format!("{head}\n{}", found.collect::<String>())
    }

    fn waived(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for merged in audited.waived() {
            let Some(waiver) = &merged.finding.waived else { continue };
            let level = merged.finding.level;
            out.push_str(&self.look.hanging(&format!(
                "Waived {level}: {}{} ({})",
                merged.finding.message,
                times(merged),
                merged.finding.rule
            )));
            out.push_str(
                &self.look.paragraph(&format!(
                    "{}, {}, until {}",
                    waiver.reason, waiver.by, waiver.until
                )),
            );
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
        }
        out
    }

    /// What is odd in the scripts, and what this shop decided of the rules: nothing is switched off
    /// unseen.
    fn closing(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for problem in &audited.warnings {
            out.push_str(&self.look.problem(Tone::Aside, problem));
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
        out
    }

    fn waiting(&self, audited: &Audited) -> String {
        let mut out = String::new();
        for (kind, rules) in audited.waits() {
            let names =
                if self.wishes.all { format!(": {}", rules.join(", ")) } else { String::new() };
            let verb = if rules.len() == 1 { "waits" } else { "wait" };
            out.push_str(&self.look.hanging(&format!(
                "{} {verb} for the open {kind} line{names}",
                count(rules.len(), "rule")
            )));
        }
        out
    }
}

/// What stands on lines that were left open, and why others stay so.
fn chosen(look: Look, audited: &Audited) -> String {
    let mut out: String =
        crate::whatif::open_lines::words(&audited.chosen).iter().map(|w| look.hanging(w)).collect();
    out.extend(audited.wish_sentences().map(|w| look.hanging(&w)));
    for problem in &audited.left {
        out.push_str(&look.problem(Tone::Aside, problem));
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
    out
}
