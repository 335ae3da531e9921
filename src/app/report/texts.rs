//! Formats that are texts: what a report holds is put before a template under `page/`, which says
//! what stands where.

use std::io;
use std::sync::{Arc, LazyLock};

use minijinja::{
    AutoEscape, Environment, Error, Output, State, UndefinedBehavior, Value as Filled,
};
use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::escape::{inert, inert_char};
use crate::app::report::glance::{self, summary};
use crate::app::report::json::join;
use crate::app::report::located::{Located, label_at, with_help};
use crate::app::report::markdown::{code, escaped as in_markdown};
use crate::app::report::terminal::{grouped, has_evidence, pointer_words};
use crate::app::report::unsettled::sentences;
use crate::app::report::{Audited, Merged, Out, Report, Stream, Tally, Wishes};
use crate::audit::finding::Pointer;
use crate::kit::Cause;
use crate::level::Level;
use crate::source::{Label, Problem, Problems};
use crate::whatif::open_lines;

/// A format that is a text.
pub struct TextFormat {
    template: &'static str,
    /// What makes a text inert where the format puts it.
    clean: fn(&str) -> String,
    pub wishes: Wishes,
    pub fail_on: Level,
    /// Reports that are shown once all have come; none where each is shown as it comes.
    held: Option<Vec<Report>>,
    /// What was wrong and is said already.
    said: Vec<Arc<Problems>>,
    nth: usize,
    /// The last report in one line.
    summary: String,
}

impl TextFormat {
    fn new(template: &'static str, clean: fn(&str) -> String) -> Self {
        Self {
            template,
            clean,
            wishes: Wishes::default(),
            fail_on: Level::Stop,
            held: None,
            said: Vec::new(),
            nth: 0,
            summary: String::new(),
        }
    }

    /// One line a finding, for editors and for searching: `FILE:LINE: level rule message`.
    pub fn brief() -> Self {
        Self::new("brief.txt", inert)
    }

    /// Annotation lines of a code host: `::error file=…,line=…,title=…::message`.
    pub fn github() -> Self {
        Self::new("github.txt", in_command)
    }

    /// JUnit XML, failing on findings of a level or above: a suite a list, a case a finding, and
    /// one case for a list without any.
    pub fn junit(fail_on: Level) -> Self {
        Self { fail_on, ..Self::new("junit.txt", in_xml) }
    }

    /// Markdown for a ticket: a heading a build, a line a finding.
    pub fn markdown() -> Self {
        Self::new("markdown.txt", in_markdown)
    }

    /// Prose: no colour, no drawing, no columns; it reads well aloud and keeps still in pipes.
    pub fn plain(wishes: Wishes) -> Self {
        Self { wishes, held: Some(Vec::new()), ..Self::new("plain.txt", inert) }
    }

    fn fill(&self, part: &str, about: Value) -> io::Result<String> {
        let about = join(json!({ "part": part, "nth": self.nth }), about);
        filled(self.template, self.clean, &about).map_err(io::Error::other)
    }

    fn one(
        &mut self,
        report: &Report,
        several: bool,
        out: Out<'_>,
        aside: Out<'_>,
    ) -> io::Result<()> {
        let about = join(json!({ "several": several }), self.view(report));
        if let Err(problems) = &report.outcome
            && !(several && self.said.iter().any(|p| Arc::ptr_eq(p, problems)))
        {
            aside.write_all(self.fill("aside", about.clone())?.as_bytes())?;
            self.said.push(problems.clone());
        }
        out.write_all(self.fill("report", about)?.as_bytes())?;
        self.nth += 1;
        self.summary = summary(report);
        Ok(())
    }

    /// What a template is given of a report.
    fn view(&self, report: &Report) -> Value {
        let file = report.file.as_str();
        let head = json!({ "file": file, "name": report.name(), "summary": summary(report) });
        let notes =
            |problems: &[Problem]| problems.iter().map(|p| note(p, file)).collect::<Value>();
        join(
            head,
            match &report.outcome {
                Ok(audited) => self.audited(report, audited, notes),
                Err(problems) => {
                    json!({ "problems": notes(&problems.0), "findings": [], "open": [],
            "every_question": [], "left": [], "waivers": [], "broken": [] })
                }
            },
        )
    }

    fn audited(
        &self,
        report: &Report,
        audited: &Audited,
        notes: impl Fn(&[Problem]) -> Value,
    ) -> Value {
        let (file, all) = (report.file.as_str(), self.wishes.all);
        let open = audited.open_rules.iter().filter(|o| !o.waived).map(|open| {
            json!({ "rule": open.rule, "level": open.level.to_string(), "words": open.words() })
        });
        let waits = audited.waits().into_iter().map(|(kind, rules)| {
            let names = if all { format!(": {}", rules.join(", ")) } else { String::new() };
            format!("{kind} line: {}{names}", count(rules.len(), "rule"))
        });
        let measures = audited.measures.iter().filter(|_| self.wishes.measures);
        let has_advice = audited.at(Level::Advice).next().is_some();
        json!({
            "problems": [],
            "title": audited.title,
            "priced_on": audited.priced_on.to_string(),
            "paid": audited.paid.to_string(),
            "budget": audited.budget.map(|b| audited.money(b)),
            "ruling": audited.ruling.words(),
            "verdict": glance::verdict(audited).words(),
            "counts": glance::counts(audited, true),
            "money": glance::money(audited),
            "chosen": open_lines::words(&audited.chosen).into_iter().chain(audited.wish_sentences())
                .collect::<Vec<_>>(),
            "left": notes(&audited.left),
            "broken": broken(audited, file),
            "causes": audited.causes.iter().map(cause).collect::<Vec<_>>(),
            "findings": audited.findings.iter().map(|m| self.finding(m, file)).collect::<Vec<_>>(),
            "evidence": has_evidence(self.wishes, audited),
            "all": all,
            "waits": waits.collect::<Vec<_>>(),
            "open": open.collect::<Vec<_>>(),
            "questions": sentences(audited, false),
            "every_question": sentences(audited, true),
            "waivers": notes(&audited.waivers),
            "advice": has_advice.then(|| glance::advice(audited)),
            "measures": measures.map(|m| format!("{}: {}", m.id, m.words)).collect::<Vec<_>>(),
            "warnings": notes(&audited.warnings),
            "decisions": audited.decisions(),
            "next": glance::next(report, audited, self.wishes.prompt),
        })
    }

    fn finding(&self, merged: &Merged, file: &str) -> Value {
        let finding = &merged.finding;
        let pointer = |p: &Pointer| {
            json!({ "words": pointer_words(p), "at": p.label.as_ref().map(label_at),
            "line": p.line.as_ref().map(label_at) })
        };
        let margin = finding.margin.as_ref().filter(|m| m.left_value != m.right_value);
        json!({
            "rule": finding.rule,
            "level": finding.level.to_string(),
            "message": finding.message,
            "times": merged.times,
            "fails": finding.waived.is_none() && finding.level >= self.fail_on,
            "at": Located::finding(finding, file).json(),
            "pointers": finding.pointers.iter().map(pointer).collect::<Vec<_>>(),
            "margin": margin.map(|m| &m.words),
            "remedy": finding.remedy,
            "basis": finding.basis,
            "waived": finding.waived.as_ref().map(|w| json!({ "reason": w.reason, "by": w.by,
            "until": w.until.to_string() })),
        })
    }
}

impl Stream for TextFormat {
    fn begin(&mut self, out: Out<'_>) -> io::Result<()> {
        out.write_all(self.fill("begin", json!({}))?.as_bytes())
    }

    fn report(&mut self, report: Report, out: Out<'_>, aside: Out<'_>) -> io::Result<()> {
        match &mut self.held {
            Some(held) => held.push(report),
            None => self.one(&report, false, out, aside)?,
        }
        out.flush()
    }

    fn end(&mut self, tally: &Tally, out: Out<'_>, aside: Out<'_>) -> io::Result<()> {
        let held = self.held.take().unwrap_or_default();
        for report in &held {
            self.one(report, held.len() > 1, out, aside)?;
        }
        let about = json!({ "summary": self.summary, "lists": tally.lists(), "clear": tally.clear,
        "failed": tally.failed, "below_stop": tally.below_stop, "broken": tally.broken,
        "open": tally.open });
        out.write_all(self.fill("end", about)?.as_bytes())
    }
}

/// Everything wrong with an input, as prose.
pub fn problems_as_prose(problems: &Problems) -> String {
    let notes: Vec<Value> = problems.0.iter().map(|p| note(p, "")).collect();
    filled("plain.txt", inert, &json!({ "part": "aside", "problems": notes })).unwrap_or_else(|e| e)
}

fn note(problem: &Problem, file: &str) -> Value {
    let label = |l: &Label| join(label_at(l), json!({ "text": l.text }));
    json!({ "message": problem.message, "bare": problem.message, "help": problem.help,
    "with_help": with_help(problem), "at": Located::problem(problem, file).json(),
    "labels": problem.labels.iter().map(label).collect::<Vec<_>>() })
}

/// Broken rules; the first of those that break in the same way has the others behind it.
fn broken(audited: &Audited, file: &str) -> Vec<Value> {
    let groups = grouped(&audited.broken);
    let told = |one: &crate::rules::loader::BrokenRule| {
        let same = groups.iter().find(|(first, _)| std::ptr::eq(*first, one));
        join(
            note(&one.told(), file),
            json!({ "rule": one.rule.as_deref(), "bare": one.problem.message,
            "same": same.map(|(_, others)| others) }),
        )
    };
    audited.broken.iter().map(told).collect()
}

fn cause(cause: &Cause) -> Value {
    let line = cause.at.as_ref().map(|l| l.source.line_column(l.span.start()).0);
    json!({ "name": format!("{} {}", cause.kind, cause.name).trim(), "line": line,
    "tally": count(cause.findings.len(), "stop"), "findings": cause.findings })
}

static TEMPLATES: LazyLock<Result<Environment<'static>, Error>> = LazyLock::new(|| {
    let mut env = Environment::new();
    env.set_trim_blocks(true);
    env.set_lstrip_blocks(true);
    env.set_keep_trailing_newline(true);
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.set_auto_escape_callback(|_| AutoEscape::Custom("text"));
    env.add_filter("sentence", |text: String| {
        let text = inert(&text);
        if text.ends_with(['.', '?', '!', '…']) { text } else { format!("{text}.") }
    });
    env.add_filter("code", |id: String| Filled::from_safe_string(code(&id)));
    env.add_filter("property", |text: String| {
        let text = in_command(&text).replace(':', "%3A").replace(',', "%2C");
        Filled::from_safe_string(text)
    });
    for (name, text) in [
        ("brief.txt", include_str!("page/brief.txt")),
        ("feed.txt", include_str!("page/feed.txt")),
        ("github.txt", include_str!("page/github.txt")),
        ("junit.txt", include_str!("page/junit.txt")),
        ("markdown.txt", include_str!("page/markdown.txt")),
        ("plain.txt", include_str!("page/plain.txt")),
        ("priced.txt", include_str!("page/priced.txt")),
    ] {
        env.add_template(name, text)?;
    }
    Ok(env)
});

/// A template filled; every text on its way into it is made inert.
/// Errors: the template's own fault.
pub(crate) fn filled(
    template: &str,
    clean: fn(&str) -> String,
    about: &Value,
) -> Result<String, String> {
    let mut env = TEMPLATES.as_ref().map_err(ToString::to_string)?.clone();
    env.set_formatter(move |out: &mut Output<'_>, _: &State<'_, '_>, value: &Filled| {
        match value.as_str() {
            Some(text) if !value.is_safe() => Ok(out.write_str(&clean(text))?),
            _ => Ok(write!(out, "{value}")?),
        }
    });
    let text = env.get_template(template).and_then(|t| t.render(about));
    text.map_err(|e| format!("the template of this format fails: {e:#}"))
}

/// A message in the one line that a code host's command is.
fn in_command(text: &str) -> String {
    let inert = |c: char| if c == '\n' { c } else { inert_char(c) };
    let text: String = text.replace('\r', "").chars().map(inert).collect();
    text.replace('%', "%25").replace('\n', "%0A")
}

/// Text for an element of XML or an attribute in double quotes.
pub(crate) fn in_xml(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            // Not to be had in XML, escaped or not.
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            '\n' | '\t' => out.push(' '),
            c => out.push(inert_char(c)),
        }
    }
    out
}

#[cfg(test)]
#[path = "../../../tests/unit/app/report/texts.rs"]
mod tests;
