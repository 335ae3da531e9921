//! Quotes: the price and the day of each line, written into the build.

use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::source::Problem;
use crate::whatif::edit::{self, Edit, Word};

use crate::whatif::open_lines::Choice;

/// A build with quotes.
#[derive(Debug)]
pub struct Quoted {
    /// Its text.
    pub text: String,
    /// How many lines hold a quote.
    pub lines: usize,
    /// Names of parts that are to be bought and that nobody offers.
    pub missing: Vec<String>,
}

/// Writes a quote on every line that is bought and has an offer. A line that is not bought, or that
/// nobody offers, loses the quote it had.
/// Errors: the text cannot be edited without loss.
pub fn quoted(build: &Resolved) -> Result<Quoted, Problem> {
    let mut edits = Vec::new();
    let (mut lines, mut missing) = (0, Vec::new());
    for (_, _, slot) in build.all().filter(|(_, _, s)| !s.included) {
        let price = build.facts(slot).price.filter(|_| !slot.owned && slot.part.is_some());
        let value = price.map(|price| {
            Word::Plain(format!("{{ price = \"{price}\", on = {} }}", build.build.priced_on))
        });
        lines += usize::from(value.is_some());
        let name = slot
            .part
            .as_ref()
            .filter(|_| !slot.owned && value.is_none())
            .map(|p| p.name.to_string());
        missing.extend(name.filter(|n| !missing.contains(n)));
        edits.push((slot.line, Edit::Key { line: slot.line, key: "quoted", value }));
    }
    edits.sort_by_key(|(line, _)| *line);
    let edits: Vec<Edit> = edits.into_iter().map(|(_, edit)| edit).collect();
    Ok(Quoted { text: edit::apply(&build.build.source.text, &edits)?, lines, missing })
}

/// The build's text with the choices in place of the wishes.
/// Errors: the text cannot be edited without loss.
pub fn pinned(build: &Build, choices: &[Choice]) -> Result<String, Problem> {
    let open =
        |c: &&Choice| build.lines.get(c.line).is_some_and(|l| matches!(l.what, What::Open { .. }));
    let mut edits = Vec::new();
    for choice in choices.iter().filter(open) {
        edits.push(Edit::Part { line: choice.line, part: choice.part.id.to_string() });
    }
    edit::apply(&build.source.text, &edits)
}
