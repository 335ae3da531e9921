//! Where a number in a text ends: digits in groups of three, and names' own digits before prices.

use std::ops::Range;

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::words::words;

/// The place behind a number that begins at a place of the text's letters.
pub(super) fn number_end(text: &str, chars: &[(usize, char)], i: usize) -> usize {
    let start = chars.get(i).map_or(text.len(), |(at, _)| *at);
    let mut j = i;
    while let Some((_, c)) = chars.get(j) {
        let next_digit = chars.get(j + 1).is_some_and(|(_, n)| n.is_ascii_digit());
        let three = (1..=3).all(|k| chars.get(j + k).is_some_and(|(_, n)| n.is_ascii_digit()))
            && !chars.get(j + 4).is_some_and(|(_, n)| n.is_ascii_digit());
        let group = !(*c == ' ' && ends_a_name(text, start, j - i))
            && matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\'' | '’')
            && three
            && j - i <= 3;
        if c.is_ascii_digit() || matches!(c, '.' | ',') && next_digit || group {
            j += 1;
        } else {
            break;
        }
    }
    j
}

/// Whether the digits that begin at a place are the last word of a name and a price follows them:
/// "Lull 120 400 EUR" is no 120400, "max 12 500 €" is 12500.
fn ends_a_name(text: &str, start: usize, digits: usize) -> bool {
    let before = text.get(..start).unwrap_or("").trim_end_matches(' ');
    let word = before.rsplit(|c: char| !c.is_alphabetic()).next().unwrap_or("");
    let low = word.to_lowercase();
    let told = ["limit", "budget", "totals", "about", "at_price", "each", "together"];
    let known = told.iter().any(|set| words().has(set, &low)) || words().currency(word).is_some();
    let named = digits == 3 || digits == 2 && word.starts_with(char::is_uppercase);
    !word.is_empty() && named && !known
}

/// Where a text limits something by a bare number: "max 350" may be of its price or its length.
fn bare_limits(text: &str) -> Vec<Range<usize>> {
    let found = words().find("limit", text).into_iter().filter_map(|range| {
        let rest = text.get(range.end..)?.trim_start();
        let after = rest.trim_start_matches(|c: char| c.is_ascii_digit());
        let ends = after.trim_start().chars().next().is_none_or(|c| ",;.|)".contains(c));
        (after.len() < rest.len() && ends).then_some(range.start..text.len() - after.len())
    });
    found.collect()
}

/// Without the number by which a shop or maker files an article: `Art.-Nr. 448-120`.
pub(super) fn without_article_number(text: &str) -> String {
    let mut out = text.to_owned();
    for range in words().find("article_number", text).into_iter().rev() {
        let behind = text.get(range.end..).unwrap_or("");
        let start = behind.trim_start_matches([' ', ':', '.', '#']);
        let code = start.find([' ', ',', ';', ')', '|']).unwrap_or(start.len());
        let digits = start.get(..code).unwrap_or("").chars().filter(char::is_ascii_digit).count();
        // "Art 2" may be of a kind; a shop's numbers are longer.
        let short = text.get(range.clone()).is_some_and(|word| word.len() <= 3);
        if digits >= if short { 4 } else { 1 } {
            out.replace_range(range.start..text.len() - start.len() + code, "|");
        }
    }
    out
}

impl Interpreter<'_> {
    /// Cuts limits by bare numbers out of a text; "Catspaw Max 120" has none.
    pub(super) fn take_limits(&self, text: &mut String) -> bool {
        let found = bare_limits(text);
        let list = items(self.lexicon, text);
        let mut any = false;
        for range in found.into_iter().rev() {
            let own = list.iter().filter(|i| range.contains(&i.range.start) && !i.is_figure());
            let own: Vec<u32> =
                own.filter(|i| i.number.is_none()).flat_map(|i| self.parts_of(i)).collect();
            let beside = |i: &&Item| i.range.end <= range.start && self.names_family(i);
            let named = list
                .iter()
                .filter(beside)
                .flat_map(|i| self.parts_of(i))
                .any(|part| own.contains(&part));
            if !named {
                any = true;
                text.replace_range(range, "|");
            }
        }
        any
    }
}
