//! The replacements that make one text of another. What stays is not touched: on a line that has
//! another in its place, only the words that differ are replaced.

use similar::{Algorithm, DiffOp, capture_diff_slices};

use crate::source::Span;

/// A run of bytes of a text and what stands there instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replacement {
    /// The bytes that go; none where text is put in.
    pub span: Span,
    pub text: String,
}

/// The replacements from one text to another, in order of place; none touches another.
pub(crate) fn between(old: &str, new: &str) -> Vec<Replacement> {
    let before: Vec<&str> = old.split_inclusive('\n').collect();
    let after: Vec<&str> = new.split_inclusive('\n').collect();
    let mut starts = vec![0];
    for line in &before {
        starts.push(starts.last().copied().unwrap_or(0) + line.len());
    }
    let start_of = |line: usize| starts.get(line).copied().unwrap_or(old.len());
    let mut all = Vec::new();
    for op in capture_diff_slices(Algorithm::Myers, &before, &after) {
        if matches!(op, DiffOp::Equal { .. }) {
            continue;
        }
        let (gone, come) = (op.old_range(), op.new_range());
        let (from, to) = (start_of(gone.start), start_of(gone.end));
        let (was, is) = (before.get(gone.clone()), after.get(come));
        let (was, is) = (was.unwrap_or(&[]), is.unwrap_or(&[]));
        if was.len() == is.len() {
            let pairs = was.iter().zip(is).zip(gone);
            all.extend(pairs.map(|((was, is), line)| words(start_of(line), was, is)));
        } else {
            all.push(Replacement { span: Span::new(from, to), text: is.concat() });
        }
    }
    all
}

/// The words of a line that differ, as one replacement.
fn words(start: usize, was: &str, is: &str) -> Replacement {
    let same = |(a, b): &(char, char)| a == b;
    let common: usize =
        was.chars().zip(is.chars()).take_while(same).map(|(c, _)| c.len_utf8()).sum();
    let head = split(common, false, |at| inside(was, at) || inside(is, at), was);
    let (was, is) = (was.get(head..).unwrap_or(""), is.get(head..).unwrap_or(""));
    let pairs = was.chars().rev().zip(is.chars().rev());
    let common: usize = pairs.take_while(same).map(|(c, _)| c.len_utf8()).sum();
    let (long, short) = (was.len(), is.len());
    let within = |end: usize| inside(was, end) || inside(is, (short + end).saturating_sub(long));
    let end = split(long - common, true, within, was);
    let text = is.get(..(short + end).saturating_sub(long)).unwrap_or("").to_owned();
    Replacement { span: Span::new(start + head, start + head + end), text }
}

/// The nearest place, before or after one, that no word goes over.
fn split(mut at: usize, forward: bool, within: impl Fn(usize) -> bool, text: &str) -> usize {
    while within(at) {
        let next = match forward {
            true => text.get(at..).and_then(|rest| rest.chars().next()),
            false => text.get(..at).and_then(|rest| rest.chars().next_back()),
        };
        let Some(next) = next else { break };
        at = if forward { at + next.len_utf8() } else { at - next.len_utf8() };
    }
    at
}

/// Whether a word, or a line's end of two characters, goes over a place.
fn inside(text: &str, at: usize) -> bool {
    let before = text.get(..at).and_then(|t| t.chars().next_back());
    let after = text.get(at..).and_then(|t| t.chars().next());
    let of_word = |c: char| c.is_alphanumeric() || "_-./:+".contains(c);
    match (before, after) {
        (Some('\r'), Some('\n')) => true,
        (Some(a), Some(b)) => of_word(a) && of_word(b),
        _ => false,
    }
}

#[cfg(test)]
pub(crate) fn applied(text: &str, replacements: &[Replacement]) -> String {
    let mut out = text.to_owned();
    for one in replacements.iter().rev() {
        out.replace_range(one.span.start()..one.span.end(), &one.text);
    }
    out
}

#[cfg(test)]
#[path = "../../tests/unit/app/replacements.rs"]
mod tests;
