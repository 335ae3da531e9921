//! Words of specification pages, by what they mean: read once from `words.toml`.

use std::collections::HashMap;
use std::sync::OnceLock;

use toml::{Table, Value};

use crate::catalogue::kinds::{Field, Kind};
use crate::intake::{plain_text, umlauts_spelled};

fn table() -> &'static Table {
    static WORDS: OnceLock<Table> = OnceLock::new();
    // A test reads the file, so that a mistake in it cannot ship.
    WORDS.get_or_init(|| include_str!("words.toml").parse().unwrap_or_default())
}

fn list(value: Option<&Value>) -> impl Iterator<Item = &str> {
    value.and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str)
}

/// A page's text with the umlauts of words that a kind, or this file, spells with them: "Luefter"
/// as "Lüfter".
pub(super) fn with_umlauts(kind: &Kind, text: &str) -> String {
    let file = table().values().flat_map(|v| match v {
        Value::Table(group) => group.values().collect::<Vec<_>>(),
        other => vec![other],
    });
    let fields = kind.fields.iter();
    let own = fields.flat_map(|f| f.also.iter().chain(f.spelled.iter().flat_map(|(_, all)| all)));
    let all = kind.also.iter().chain(own).map(|w| &**w).chain(file.flat_map(|v| list(Some(v))));
    let letters = |c: char| !c.is_alphabetic();
    let marked: HashMap<String, &str> = all
        .flat_map(|phrase| phrase.split(letters))
        .filter_map(|word| Some((umlauts_spelled(word), word)).filter(|(s, _)| s != word))
        .collect();
    let mut out = String::with_capacity(text.len());
    for piece in text.split_inclusive(letters) {
        let word = piece.trim_end_matches(letters);
        match marked.get(&word.to_lowercase()) {
            Some(spelled) => {
                let mut letters = spelled.chars();
                let first = letters.next().into_iter();
                let capital = word.starts_with(char::is_uppercase);
                out.extend(
                    first.flat_map(|c| if capital { c.to_uppercase().collect() } else { vec![c] }),
                );
                out.push_str(letters.as_str());
                out.push_str(piece.get(word.len()..).unwrap_or(""));
            }
            None => out.push_str(piece),
        }
    }
    out
}

/// Whether a set holds a phrase.
pub(crate) fn has(set: &str, phrase: &str) -> bool {
    let phrase = plain_text(phrase);
    list(table().get(set)).any(|w| w == phrase)
}

/// The words of a set.
pub(crate) fn of(set: &str) -> impl Iterator<Item = &'static str> {
    list(table().get(set))
}

/// Whether a text holds a phrase of a set, by whole words.
pub(crate) fn holds(set: &str, text: &str) -> bool {
    list(table().get(set)).any(|w| find_word(text, w).is_some())
}

/// The key of a group whose words a text holds first; the longest word at one place.
pub(crate) fn first_of(group: &str, text: &str) -> Option<&'static str> {
    all_of(group, text).into_iter().next().map(|(_, key)| key)
}

/// The key of a group whose words a text holds within its own: `SYS_FAN1` holds "sys". The groups
/// stand in the file in the order in which they are asked.
pub(crate) fn part_of(group: &str, text: &str) -> Option<&'static str> {
    let mut groups = table().get(group).and_then(Value::as_table).into_iter().flatten();
    groups.find(|(_, words)| list(Some(words)).any(|w| text.contains(w))).map(|(key, _)| &**key)
}

/// Every key of a group that a text holds, by where, the longest word at one place only.
pub(crate) fn all_of(group: &str, text: &str) -> Vec<(usize, &'static str)> {
    let mut found: Vec<(usize, usize, &'static str)> = Vec::new();
    for (key, words) in table().get(group).and_then(Value::as_table).into_iter().flatten() {
        for word in list(Some(words)) {
            let mut from = 0;
            while let Some(at) =
                text.get(from..).and_then(|t| find_word(t, word)).map(|at| at + from)
            {
                found.push((at, at + word.len(), key.as_str()));
                from = at + word.len().max(1);
            }
        }
    }
    found.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.cmp(&a.1)));
    let mut out: Vec<(usize, &'static str)> = Vec::new();
    let mut end = 0;
    for (start, stop, key) in found {
        if start >= end {
            out.push((start, key));
            end = stop;
        }
    }
    out
}

/// The field of records whose places are called so: `M2A`, `M2_1`, `PCIEX16_1`, `Slot 1`.
pub(crate) fn named_place(label: &str) -> Option<&'static str> {
    let low = plain_text(label);
    let groups = table().get("places").and_then(Value::as_table).into_iter().flatten();
    let named = |word: &str| {
        let rest = low.strip_prefix(word)?;
        let short = rest.chars().all(|c| c.is_alphanumeric() || matches!(c, '_' | '-' | ' '));
        let numbered = rest.contains(|c: char| c.is_ascii_digit()) || rest.chars().count() == 1;
        (short && numbered && rest.chars().count() <= 6).then_some(())
    };
    let mut found = groups.filter(|(_, words)| list(Some(words)).any(|w| named(w).is_some()));
    found.next().map(|(field, _)| field.as_str())
}

/// Spellings and what each stands for, in the order of the file.
pub(crate) fn pairs_of(group: &str) -> impl Iterator<Item = (&'static str, &'static str)> {
    let group = table().get(group).and_then(Value::as_array).into_iter().flatten();
    group.filter_map(|pair| {
        let [spelled, unit] = pair.as_array()?.as_slice() else { return None };
        Some((spelled.as_str()?, unit.as_str()?))
    })
}

/// The set of words that a clause has which gives a field's value among several, if it has one: by
/// the field's name or by what it means.
pub(crate) fn wanted(field: &Field) -> Option<&'static str> {
    [&field.meaning, &*field.name].into_iter().find_map(|key| set_for("wanted", key))
}

/// The set of words of which one in a text leaves a field's value open.
pub(crate) fn doubted(field: &str) -> Option<&'static str> {
    set_for("doubted", field)
}

fn set_for(group: &str, key: &str) -> Option<&'static str> {
    table().get(group).and_then(|group| group.get(key)).and_then(Value::as_str)
}

/// A number written as a word.
pub(crate) fn number(word: &str) -> Option<u32> {
    let word = plain_text(word);
    let numbers = table().get("numbers").and_then(Value::as_table)?;
    numbers
        .iter()
        .find(|(_, words)| list(Some(words)).any(|w| w == word))
        .and_then(|(n, _)| n.parse().ok())
}

/// Where a lower-case text holds a word, not within a longer one.
pub(crate) fn find_word(text: &str, word: &str) -> Option<usize> {
    let mut from = 0;
    while let Some(at) = text.get(from..)?.find(word).map(|at| at + from) {
        let before = text.get(..at).and_then(|t| t.chars().next_back());
        let after = text.get(at + word.len()..).and_then(|t| t.chars().next());
        let word_start = word.chars().next().is_some_and(char::is_alphanumeric);
        let word_end = word.chars().next_back().is_some_and(char::is_alphanumeric);
        let free = |c: Option<char>, edge: bool| {
            !edge || c.is_none_or(|c| !c.is_alphanumeric() && c != '_')
        };
        if free(before, word_start) && free(after, word_end) {
            return Some(at);
        }
        from = at + word.len().max(1);
    }
    None
}

#[cfg(test)]
#[path = "../../tests/unit/partsheet/words.rs"]
mod tests;
