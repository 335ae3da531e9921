//! What the line editor asks of us: completion, hints, highlighting, and whether a line is
//! finished.

use std::borrow::Cow;
use std::cell::RefCell;
use std::rc::Rc;

use rustyline::completion::{Completer, Pair};
use rustyline::highlight::{CmdKind, Highlighter};
use rustyline::hint::{Hint, Hinter};
use rustyline::history::SearchDirection;
use rustyline::validate::{ValidationContext, ValidationResult, Validator};
use rustyline::{Context, Helper};

use crate::app::prompt::command::{COMMANDS, called, commands, goes_on};
use crate::app::prompt::complete::Facts;
use crate::app::report::page::safe;
use crate::app::report::style::Role;

/// Longest text that is highlighted and hinted at; a paste beyond it stays plain.
const MOST_PAINTED: usize = 2000;

/// What the line editor asks.
pub(super) struct Prompter {
    /// What is known of the trial.
    pub(super) facts: Rc<RefCell<Facts>>,
    pub(super) colour: bool,
}

impl Helper for Prompter {}

impl Completer for Prompter {
    type Candidate = Pair;

    fn complete(
        &self,
        line: &str,
        pos: usize,
        _: &Context<'_>,
    ) -> rustyline::Result<(usize, Vec<Pair>)> {
        Ok(self.facts.borrow().complete(line.get(..pos).unwrap_or("")))
    }
}

/// A hint: what is shown behind the cursor, and what of it can be taken over.
pub(super) struct Rest {
    shown: String,
    takes: Option<String>,
}

impl Hint for Rest {
    fn display(&self) -> &str {
        &self.shown
    }

    fn completion(&self) -> Option<&str> {
        self.takes.as_deref()
    }
}

impl Hinter for Prompter {
    type Hint = Rest;

    fn hint(&self, line: &str, pos: usize, ctx: &Context<'_>) -> Option<Rest> {
        if line.is_empty()
            || pos < line.len()
            || line.len() > MOST_PAINTED
            || line.contains('\n')
            || self.facts.borrow().quiet
        {
            return None;
        }
        let take = |rest: &str| Some(Rest { shown: safe(rest), takes: Some(rest.to_owned()) });
        if let Some(found) = ctx
            .history()
            .starts_with(line, ctx.history_index().saturating_sub(1), SearchDirection::Reverse)
            .ok()
            .flatten()
        {
            let rest = found.entry.get(line.len()..).unwrap_or("");
            if !rest.is_empty() && !rest.contains('\n') {
                return take(rest);
            }
        }
        let (start, candidates) = self.facts.borrow().complete(line);
        let typed = line.get(start..).unwrap_or("");
        if let ([only], false) = (candidates.as_slice(), typed.is_empty()) {
            return only
                .replacement
                .strip_prefix(typed)
                .filter(|rest| !rest.trim().is_empty())
                .and_then(take);
        }
        let entry = COMMANDS
            .all
            .iter()
            .find(|e| line.strip_prefix(&e.name).is_some_and(|rest| rest.trim().is_empty()))?;
        let gap = if line.ends_with(' ') { "" } else { " " };
        (!entry.usage.is_empty())
            .then(|| Rest { shown: format!("{gap}{}", entry.usage), takes: None })
    }
}

impl Highlighter for Prompter {
    fn highlight<'l>(&self, line: &'l str, _: usize) -> Cow<'l, str> {
        if !self.colour || line.len() > MOST_PAINTED || line.is_empty() {
            return Cow::Borrowed(line);
        }
        Cow::Owned(painted(line, &self.facts.borrow()))
    }

    fn highlight_hint<'h>(&self, hint: &'h str) -> Cow<'h, str> {
        if self.colour { Cow::Owned(Role::Faint.paint(hint)) } else { Cow::Borrowed(hint) }
    }

    fn highlight_char(&self, line: &str, _: usize, kind: CmdKind) -> bool {
        self.colour && kind != CmdKind::MoveCursor && line.len() <= MOST_PAINTED
    }
}

/// A line with its command, part ids and numbers painted; its letters stay the same.
fn painted(line: &str, facts: &Facts) -> String {
    let mut out = String::with_capacity(line.len() + 40);
    let expression = line.trim_start().starts_with('=');
    let part = |c: char| c.is_alphanumeric() || "_-./".contains(c);
    let number = |c: char| c.is_ascii_digit() || c == '.';
    let mut rest = line;
    let mut first = true;
    while let Some(c) = rest.chars().next() {
        let belongs: &dyn Fn(char) -> bool =
            if expression { &|c| c.is_alphanumeric() || c == '_' || c == '.' } else { &part };
        let len = if belongs(c) {
            rest.find(|c| !belongs(c)).unwrap_or(rest.len())
        } else {
            c.len_utf8()
        };
        let (word, after) = rest.split_at(len);
        let role = if first && called(word).is_some() {
            Role::Command
        } else if word.starts_with(|c: char| c.is_ascii_digit()) && word.chars().all(number) {
            Role::Number
        } else if facts.catalogue.as_ref().is_some_and(|cat| cat.part(word).is_some()) {
            Role::Part
        } else {
            Role::Plain
        };
        out.push_str(&role.paint(word));
        first = first && c.is_whitespace();
        rest = after;
    }
    out
}

impl Validator for Prompter {
    fn validate(&self, ctx: &mut ValidationContext<'_>) -> rustyline::Result<ValidationResult> {
        let open = commands(ctx.input()).last().is_some_and(|(_, last)| goes_on(last));
        Ok(if open { ValidationResult::Incomplete } else { ValidationResult::Valid(None) })
    }
}
