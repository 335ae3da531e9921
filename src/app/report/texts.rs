//! Formats that are texts: what a report holds is put before a template under `page/`, which says
//! what stands where.

use std::io;
use std::sync::{Arc, LazyLock};

use minijinja::{
    AutoEscape, Environment, Error, Output, State, UndefinedBehavior, Value as Filled,
};
use serde_json::{Value, json};

use crate::app::report::escape::{inert, inert_char};
use crate::app::report::glance::summary;
use crate::app::report::json::join;
use crate::app::report::markdown::{code, escaped as in_markdown};
use crate::app::report::view::{Telling, note, view};
use crate::app::report::{Out, Report, Stream, Tally, Wishes};
use crate::level::Level;
use crate::source::Problems;

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
        let has_places = self.template == "plain.txt";
        let telling = Telling { wishes: self.wishes, fail_on: self.fail_on, has_places };
        let about = join(json!({ "several": several }), view(report, telling));
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
        ("hover.txt", include_str!("page/hover.txt")),
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
