//! Code actions of a list that need no search: filling an open line, writing prices down, signing a
//! finding off, writing a fact down, and putting a misspelt word right.

use std::sync::Arc;

use jiff::civil::Date;
use lsp_types::{CodeActionKind, Diagnostic, DiagnosticSeverity, Position, TextEdit};
use serde_json::Value;

use super::fixes::action;
use super::list_view::ListView;
use super::positions::{Encoding, Lines, Places};
use super::text_edits;
use crate::app::counted::count;
use crate::app::repairs::Target;
use crate::app::report::Audited;
use crate::build::waivers::WHOLE_BUILD;
use crate::build::{Line, What};
use crate::catalogue::kinds::{Field, FieldType};
use crate::kit::Question;
use crate::level::Level;
use crate::prices::quote::quoted;
use crate::source::{Problem, Source, Span};
use crate::whatif::edit::{self, Edit};
use crate::whatif::edit_facts::Known as Fact;

/// The kind of the action that writes down every price.
pub(crate) const PRICES: &str = "source.dryfit.prices";
/// Days that a waiver from the template counts.
const WAIVED_DAYS: i64 = 90;
/// Words of a fact that are offered one by one.
const MOST_WORDS: usize = 12;
/// Lines of which each is offered something.
const MOST_LINES: usize = 3;
/// Findings that swaps and waivers are offered for.
const MOST_FINDINGS: usize = 6;
/// Stands for a value while an edit is made; it is taken out again.
const HOLE: &str = "987654321";

/// A list that reads, for which actions are wanted.
pub(crate) struct Known<'a> {
    pub(crate) source: &'a Arc<Source>,
    /// Its name in the editor.
    pub(crate) uri: &'a str,
    /// What was made of it.
    pub(crate) view: &'a ListView,
    pub(crate) today: Date,
    /// What columns count.
    pub(crate) encoding: Encoding,
}

impl Known<'_> {
    fn audited(&self) -> Option<&Audited> {
        self.view.audited.as_deref()
    }

    /// Whether something stops the list.
    pub(crate) fn is_stopped(&self) -> bool {
        self.audited().is_some_and(|a| a.at(Level::Stop).next().is_some())
    }

    /// The lines of the list that a run of bytes touches.
    fn lines(&self, (start, end): (usize, usize)) -> Vec<(usize, &Line)> {
        let lines = self.view.list().lines.iter().enumerate();
        let whole = |line: &Line| self.reach(line);
        lines
            .filter(|(_, line)| {
                let span = whole(line);
                span.start() <= end && start <= span.end()
            })
            .collect()
    }

    /// A line of the list with its keys: from its heading to the last of them.
    fn reach(&self, line: &Line) -> Span {
        let places = [line.spans.whole, line.spans.part, line.spans.count, line.spans.mount];
        let all = places.iter().chain([&line.spans.flow, &line.spans.owned]);
        let written = || all.clone().filter(|s| !s.is_empty());
        let start = written().map(|s| s.start()).min().unwrap_or(0);
        let end = written().map(|s| s.end()).max().unwrap_or(0);
        Span::new(start, end)
    }

    /// Actions at a place.
    pub(crate) fn quick(&self, span: (usize, usize)) -> Vec<Value> {
        let mut actions = Vec::new();
        let lines = self.lines(span);
        // Over many lines, what is offered for one by one is too much to choose from.
        if lines.len() > MOST_LINES {
            return actions;
        }
        for (at, line) in lines {
            if matches!(line.what, What::Open { .. }) {
                actions.extend(self.fill(at));
            } else {
                actions.extend(self.pin(at, line));
            }
            actions.extend(self.facts(at, line));
        }
        actions
    }

    fn edited(&self, title: &str, kind: CodeActionKind, edits: &[Edit]) -> Option<Value> {
        let text = edit::apply(&self.source.text, edits).ok()?;
        let edits = text_edits::between(&self.source.text, &text, self.encoding);
        (!edits.is_empty()).then(|| action(title, kind, self.uri, edits, None, false))
    }

    /// Puts the cheapest part that passes on an open line.
    fn fill(&self, line: usize) -> Option<Value> {
        let choice = self.audited()?.chosen.iter().find(|c| c.line == line)?;
        let title = format!("Fill line {} with {} ({})", line + 1, choice.part.name, choice.price);
        let edit = Edit::Part { line, part: choice.part.id.to_string() };
        self.edited(&title, CodeActionKind::QUICKFIX, &[edit])
    }

    /// Writes the price of the day onto a line.
    fn pin(&self, at: usize, line: &Line) -> Option<Value> {
        if line.owned {
            return None;
        }
        let build = &self.view.build;
        let slot = build.slot_of_line(at)?;
        let price = build.facts(slot).price?;
        let day = build.build.priced_on;
        if line.quoted.is_some_and(|q| q.price == price && q.on == day) {
            return None;
        }
        let value = edit::Word::Plain(format!("{{ price = \"{price}\", on = {day} }}"));
        let title = format!("Write down the price of {day}: {price}");
        let edit = Edit::Key { line: at, key: "quoted", value: Some(value) };
        self.edited(&title, CodeActionKind::QUICKFIX, &[edit])
    }

    /// Writes the prices of the day onto every line.
    pub(crate) fn pin_all(&self) -> Option<Value> {
        let quoted = quoted(&self.view.build).ok()?;
        let edits = text_edits::between(&self.source.text, &quoted.text, self.encoding);
        let title = format!(
            "Write down the prices of {} on {}",
            self.view.list().priced_on,
            count(quoted.lines, "line")
        );
        let kind = CodeActionKind::new(PRICES);
        (!edits.is_empty()).then(|| action(&title, kind, self.uri, edits, None, false))
    }

    /// Writes down a fact that the verdict waits for.
    fn facts(&self, at: usize, line: &Line) -> Vec<Value> {
        let (Some(part), Some(audited)) = (line.part(), self.audited()) else { return Vec::new() };
        let asked = audited.questions.iter().filter(|q| *q.part_id == *part.id);
        asked.flat_map(|question| self.fact(at, line, question)).collect()
    }

    fn fact(&self, at: usize, line: &Line, question: &Question) -> Vec<Value> {
        let kind = self.view.build.catalogue.kind(line.kind());
        let Some((_, field)) = kind.and_then(|kind| kind.field(&question.field)) else {
            return Vec::new();
        };
        let mut actions = Vec::new();
        let known = |value: Option<String>, lacks: bool| {
            Edit::Fact(Fact { line: at, field: field.name.to_string(), value, lacks })
        };
        for word in self.words(field).into_iter().take(MOST_WORDS) {
            let title = format!("Know that {} is {}", question.place, word.trim_matches('"'));
            let edit = known(Some(word), false);
            actions.extend(self.edited(&title, CodeActionKind::QUICKFIX, &[edit]));
        }
        if matches!(field.ty, FieldType::Number) {
            actions.extend(self.template(&question.place, &known(Some(HOLE.to_owned()), false)));
        }
        if field.when_left_out().is_some() {
            let title = format!("Know that there is no {}", question.place);
            actions.extend(self.edited(&title, CodeActionKind::QUICKFIX, &[known(None, true)]));
        }
        actions
    }

    /// The values that a field may have, where they are few, as the list writes them.
    fn words(&self, field: &Field) -> Vec<String> {
        let quoted = |w: &Arc<str>| format!("\"{w}\"");
        match &field.ty {
            FieldType::Flag => vec!["true".to_owned(), "false".to_owned()],
            FieldType::Text(words) => {
                self.view.build.catalogue.words_of(words).iter().map(quoted).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Writes a field down with its value left to be typed: until then the text does not read, and
    /// says so at that place.
    fn template(&self, place: &str, edit: &Edit) -> Option<Value> {
        let text = edit::apply(&self.source.text, std::slice::from_ref(edit)).ok()?;
        let text = text.replacen(HOLE, "", 1);
        let edits = text_edits::between(&self.source.text, &text, self.encoding);
        let title = format!("Write down {place}: its value is yours to type");
        Some(action(&title, CodeActionKind::QUICKFIX, self.uri, edits, None, false))
    }

    /// The findings at a place, each with the lines that it rests on.
    pub(crate) fn findings(
        &self,
        said: &[Diagnostic],
        (start, end): (usize, usize),
        offset: impl Fn(Position) -> usize,
    ) -> Vec<(Target, Diagnostic)> {
        let Some(audited) = self.audited() else { return Vec::new() };
        let here = said.iter().filter(|d| {
            d.severity != Some(DiagnosticSeverity::HINT)
                && offset(d.range.start) <= end
                && start <= offset(d.range.end)
        });
        let found = here.filter_map(|said| {
            let id = said.data.as_ref()?.get("finding")?.as_str()?;
            let merged = audited.findings.iter().find(|m| m.id == id)?;
            let target = Target::of(merged, self.view.list(), &self.source.name);
            Some((target, said.clone()))
        });
        found.take(MOST_FINDINGS).collect()
    }

    /// Signs findings off: the reason and the initials are left to be typed, and until then the
    /// waiver counts for nothing.
    pub(crate) fn waivers(&self, findings: &[(Target, Diagnostic)]) -> Vec<Value> {
        let until = self.today.checked_add(jiff::Span::new().days(WAIVED_DAYS));
        let until = until.unwrap_or(self.today);
        let text = &self.source.text;
        let end = Lines::of(text).position(text, text.len(), self.encoding);
        let waive = |(finding, said): &(Target, Diagnostic)| {
            let subject = finding.lines.first().and_then(|at| self.view.list().lines.get(*at));
            let subject = subject.and_then(|l| l.part()).map_or(WHOLE_BUILD, |part| &part.id);
            let ended = self.source.text.is_empty() || self.source.text.ends_with('\n');
            let text = format!(
                "{}\n[[waive]]\nrule    = \"{}\"\nsubject = \"{subject}\"\nreason  = \"\"\nby      \
                 = \"\"\nuntil   = {until}\n",
                if ended { "" } else { "\n" },
                finding.rule,
            );
            let edit = TextEdit { range: lsp_types::Range::new(end, end), new_text: text };
            let title = format!("Waive {} (say why, and sign)", finding.rule);
            action(&title, CodeActionKind::QUICKFIX, self.uri, vec![edit], Some(said), false)
        };
        findings.iter().map(waive).collect()
    }
}

/// Puts misspelt words right, where a problem says which was meant.
pub(crate) fn spelling(
    problems: &[Problem],
    source: &Arc<Source>,
    uri: &str,
    (start, end): (usize, usize),
    places: &mut Places,
) -> Vec<Value> {
    let mut actions = Vec::new();
    for problem in problems {
        let Some(meant) = problem.help.as_deref().and_then(meant) else { continue };
        let here = problem.labels.first().filter(|l| {
            l.source.name == source.name && l.span.start() <= end && start <= l.span.end()
        });
        let Some(label) = here else { continue };
        let Some((span, text)) = replacement(source.slice(label.span), label.span, meant) else {
            continue;
        };
        let range = places.range_of(source, span);
        let title = format!("Write `{meant}`");
        let edit = TextEdit { range, new_text: text };
        actions.push(action(&title, CodeActionKind::QUICKFIX, uri, vec![edit], None, true));
    }
    actions
}

/// The word that a sentence of help proposes: "did you mean `rated_w`?".
fn meant(help: &str) -> Option<&str> {
    let rest = help.split_once("did you mean ")?.1;
    let quote = rest.chars().next().filter(|c| "`\"".contains(*c))?;
    let word = rest.get(1..)?.split_once(quote)?.0;
    (!word.is_empty()).then_some(word)
}

/// The word to replace within what a problem points at, and what stands there then.
fn replacement(pointed: &str, span: Span, meant: &str) -> Option<(Span, String)> {
    let inner = pointed.trim_matches(['"', '\'']);
    let of_name = |c: char| c.is_alphanumeric() || "_-./:".contains(c);
    if inner.is_empty() || !inner.chars().all(of_name) {
        return None;
    }
    let start = span.start() + pointed.find(inner)?;
    // A helper named with its file keeps what stands before the last part.
    Some((Span::new(start, start + inner.len()), meant.to_owned()))
}
