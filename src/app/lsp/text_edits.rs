//! The replacements that make one text of another, as the editor counts places.

use lsp_types::TextEdit;

use super::positions::{Encoding, Lines};
use crate::app::replacements::{self, Replacement};

pub(crate) fn between(old: &str, new: &str, encoding: Encoding) -> Vec<TextEdit> {
    of(old, &replacements::between(old, new), encoding)
}

pub(crate) fn of(text: &str, all: &[Replacement], encoding: Encoding) -> Vec<TextEdit> {
    let lines = Lines::of(text);
    let edit = |one: &Replacement| TextEdit {
        range: lines.range(text, one.span, encoding),
        new_text: one.text.clone(),
    };
    all.iter().map(edit).collect()
}

#[cfg(test)]
#[path = "../../../tests/unit/app/lsp/text_edits.rs"]
mod tests;
