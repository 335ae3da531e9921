//! What a trial has come to: in one line above each prompt, and in a few at the start.

use std::rc::Rc;

use crate::app::batch::judged;
use crate::app::counted::count;
use crate::app::left_out;
use crate::app::prompt::search_commands::measure_called;
use crate::app::prompt::session::Session;
use crate::app::report::escape::width;
use crate::app::report::glance;
use crate::app::report::page::{Page, safe};
use crate::app::report::style::Role;
use crate::app::report::{Audited, Report, unsettled};
use crate::audit::finding::Finding;
use crate::kit::{Kit, Ruling, asked_first};
use crate::level::Level;
use crate::source::Problem;
use crate::whatif::diff::difference;
use crate::words::clip;

/// Columns between two items of the line.
const GAP: usize = 3;
/// Longest name of a list in it.
const LONGEST_NAME: usize = 24;

/// A state as it was judged last, and the text and rules that it is of.
pub(super) struct Judged {
    text: String,
    kit: Rc<Kit>,
    pub(super) audited: Audited,
}

impl Session {
    /// The present state as `audit` judges it, open lines with the parts chosen for them; judged
    /// once for each text.
    pub(super) fn judge(&mut self) -> &Audited {
        let now = self.trial.now();
        let kit = self.trial.kit().clone();
        let fresh = self
            .judged
            .take()
            .filter(|held| held.text == now.source.text && Rc::ptr_eq(&held.kit, &kit));
        let held = fresh.unwrap_or_else(|| {
            let open = now.build().lines.iter().any(|l| l.part().is_none());
            // Wants that cannot be read leave their line as it is.
            let settled = open.then(|| judged(&kit, now.build(), false).ok()).flatten();
            let audited = settled.unwrap_or_else(|| Audited::new(&now.audit));
            Judged { text: now.source.text.clone(), kit, audited }
        });
        &self.judged.insert(held).audited
    }

    /// Name, verdict, total and its difference from the start, the power supply's watts and the
    /// measure being watched, in one line: what has no room is left out, the last first.
    pub(super) fn state(&mut self, page: &mut Page) {
        let name = self.name();
        let watch = self.watch.clone();
        let now = self.judge().total;
        let start = *self.start_total.get_or_insert(now);
        let audited = self.judge();
        let ruling = glance::verdict(audited);
        let stops = audited.at(Level::Stop).count();
        let verdict = match ruling {
            Ruling::Stop if stops > 0 => format!("{}, {}", ruling.words(), count(stops, "stop")),
            _ => ruling.words().to_owned(),
        };
        let least = if audited.unpriced > 0 { "at least " } else { "" };
        let more = audited.total - start;
        let changed = if more.abs() < 0.005 {
            String::new()
        } else {
            format!(" ({})", difference(more, "money", &audited.currency))
        };
        let mut items = vec![
            (Role::Strong, name),
            (Role::of_verdict(ruling), verdict),
            (Role::Plain, format!("{least}{}{changed}", audited.money(audited.total))),
        ];
        items.extend(watts(audited).map(|words| (Role::Plain, words)));
        if let Some(measure) = watch.as_deref().and_then(|id| audited.measure(id)) {
            items.push((Role::Plain, format!("{} {}", measure.name, measure.words)));
        }
        let wide = |items: &[(Role, String)]| {
            items.iter().map(|(_, t)| width(&safe(t)) + GAP).sum::<usize>().saturating_sub(GAP)
        };
        while items.len() > 2 && wide(&items) > page.look.width {
            items.pop();
        }
        if wide(&items) > page.look.width {
            items.remove(0);
        }
        for (at, (role, text)) in items.iter().enumerate() {
            if at > 0 {
                page.say(&" ".repeat(GAP));
            }
            page.put(*role, text);
        }
        page.end();
    }

    /// The file's name without its ending, with a star when something is unsaved.
    pub(super) fn name(&self) -> String {
        let stem = self.options.build.file_stem();
        let name = stem.map_or_else(|| "build".to_owned(), |s| safe(&s.to_string_lossy()));
        let star = if self.trial.unsaved() { "*" } else { "" };
        format!("{}{star}", clip(&name, LONGEST_NAME))
    }

    /// The greeting: title, verdict, what is open and not settled, the worst finding, and three
    /// commands that fit.
    pub(super) fn greet(&mut self, page: &mut Page) {
        page.flow(Role::Strong, self.trial.now().build().title(), 2);
        let report_name = self.name();
        let audited = self.judge().clone();
        let ruling = glance::verdict(&audited);
        let words = ruling.words().to_uppercase();
        page.put(Role::of_verdict(ruling), &words).flow(
            Role::Plain,
            &format!(": {}; {}", glance::counts(&audited, false), glance::money(&audited)),
            2,
        );
        for choice in crate::whatif::open_lines::words(&audited.chosen) {
            page.flow(Role::Plain, &choice, 2);
        }
        for line in &audited.left {
            page.flow(Role::Plain, &format!("{}.", line.message), 2);
        }
        if let Some(first) = audited.questions.first() {
            let more = asked_first(&audited.questions).saturating_sub(1);
            let rest = if more == 0 { String::new() } else { format!(", and {more} more") };
            let fact = unsettled::question(first);
            page.flow(Role::Plain, &format!("To look up: {fact}{rest}."), 2);
        }
        if let Some(found) = worst(&audited) {
            let head = if found.level == Level::Stop { "Worst stop: " } else { "Worst caution: " };
            page.put(Role::Level(found.level), head.trim_end()).say(" ").flow(
                Role::Plain,
                &format!("{} ({})", found.message, found.rule),
                2,
            );
        }
        left_out::take().iter().for_each(|problem| {
            page.problem(problem);
        });
        for problem in self.trial.now().audit.broken() {
            page.problem(&problem.told());
        }
        let report = Report { file: report_name, outcome: Ok(Box::new(audited)) };
        let commands = self.fitting(&report);
        page.flow(Role::Plain, &format!("Try {commands}."), 2);
        page.put(Role::Faint, "`help` lists the commands, Tab completes").end();
    }

    /// Three commands that fit the state, in words.
    fn fitting(&self, report: &Report) -> String {
        let Ok(audited) = &report.outcome else { return "`help`".to_owned() };
        let why = worst(audited).map(|found| format!("`why {}`", found.rule));
        let line = self.trial.now().build().lines.iter().find(|l| l.part().is_none());
        let kind = line
            .and_then(|l| self.trial.kit().catalogue().kind(l.kind()))
            .map(|kind| format!("`fit {}`", kind.name));
        let facts = (!audited.questions.is_empty()).then(|| "`ask`".to_owned());
        let mend = (glance::verdict(audited) == Ruling::Stop).then(|| "`mend`".to_owned());
        let fixed = ["`audit`", "`steps`", "`measures`"].map(|c| Some(c.to_owned()));
        let all = [mend, kind, facts, why].into_iter().chain(fixed).flatten();
        let three: Vec<String> = all.take(3).collect();
        match three.as_slice() {
            [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
            _ => three.join(""),
        }
    }

    /// What may be done after a change.
    pub(super) fn next_things(&mut self, page: &mut Page) {
        let words = match glance::verdict(self.judge()) {
            Ruling::Stop => "`mend` finds the fewest swaps that clear every stop",
            Ruling::Open => "`ask` lists the facts to look up",
            _ if self.trial.unsaved() => "`save` writes it",
            _ => "`diff` shows what differs from the start",
        };
        let text = format!("`undo` reverses it; {words}");
        page.cell(Role::Plain, "next", 8).flow(Role::Faint, &text, 9);
    }

    /// `watch MEASURE`: shows a measure in the state line; `watch none` shows none.
    pub(super) fn watch(&mut self, name: Option<&str>, page: &mut Page) -> Result<(), Problem> {
        match name {
            None => {
                let now = self.watch.as_deref().unwrap_or("no measure");
                page.line(&format!("{now} is in the state line; `watch MEASURE` changes that"));
            }
            Some("none") => {
                self.watch = None;
                page.line("no measure is in the state line");
            }
            Some(name) => {
                let rules = self.trial.kit().rules();
                let rule = measure_called(&rules, name)?;
                page.line(&format!("the state line shows {}", rule.name));
                self.watch = Some(rule.id.to_string());
            }
        }
        Ok(())
    }
}

/// The worst of the stops and cautions.
fn worst(audited: &Audited) -> Option<&Finding> {
    let mut found = audited.findings.iter().map(|merged| &merged.finding);
    found.find(|finding| finding.waived.is_none() && finding.level > Level::Advice)
}

/// What the parts draw of what the power supply is rated for.
fn watts(audited: &Audited) -> Option<String> {
    let value = |id: &str| audited.measure(id)?.value;
    let (draw, spare) = (value("power.sustained_draw")?, value("power.in_hand")?);
    Some(format!("{:.0} W of {:.0} W", draw, draw + spare))
}
