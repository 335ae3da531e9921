//! What stands before each line of a chat or of a list with counts in brackets.

use std::borrow::Cow;
use std::collections::HashMap;

use super::words::{plain, words};

/// Longest prefix of a chat's line, in bytes.
const MAX_PREFIX: usize = 60;

/// The text without its chat prefixes, and with `(2) ` as a count or a number, line by line.
pub(crate) fn without_prefixes<'t>(text: &'t str, is_kind: &dyn Fn(&str) -> bool) -> Cow<'t, str> {
    let filled = text.lines().filter(|l| !l.trim().is_empty()).count();
    let mut said: HashMap<&str, usize> = HashMap::new();
    for name in text.lines().filter_map(speaker) {
        *said.entry(name).or_default() += 1;
    }
    said.retain(|name, times| *times > 1 && !is_kind(name));
    let of_several = |l: &str| {
        speaker(l).filter(|n| said.len() > 1 && said.contains_key(n)).map(|n| n.len() + 2)
    };
    let prefix = |l: &str| chat_prefix(l).or_else(|| of_several(l));
    let chat = text.lines().filter(|l| prefix(l).is_some()).count();
    if chat >= 2 && chat * 10 >= filled * 6 {
        let lines: Vec<&str> =
            text.split('\n').map(|l| prefix(l).and_then(|at| l.get(at..)).unwrap_or(l)).collect();
        return Cow::Owned(lines.join("\n"));
    }
    let numbers: Vec<u32> =
        text.lines().filter_map(|l| bracketed(l.trim_start())).map(|(n, _)| n).collect();
    if numbers.len() < 2 {
        return Cow::Borrowed(text);
    }
    // 1, 2, 3 number the rows; anything else counts what they ask for.
    let numbered = numbers.iter().zip(1..).all(|(n, at)| *n == at);
    let lines: Vec<String> = text
        .split('\n')
        .map(|l| match bracketed(l.trim_start()) {
            Some((n, rest)) if numbered => format!("{n}) {rest}"),
            Some((n, rest)) => format!("- {n}x {rest}"),
            None => l.to_owned(),
        })
        .collect();
    Cow::Owned(lines.join("\n"))
}

/// `(2) Lull 120`: the number, and what follows.
fn bracketed(line: &str) -> Option<(u32, &str)> {
    let (number, rest) = line.strip_prefix('(')?.split_once(')')?;
    let digits = (1..=2).contains(&number.len()) && number.chars().all(|c| c.is_ascii_digit());
    (digits && rest.starts_with(' ')).then(|| number.parse().ok().map(|n| (n, rest.trim())))?
}

/// Who says a line: "Maud: Kerf P4".
fn speaker(line: &str) -> Option<&str> {
    let (name, _) = line.split_once(": ")?;
    let known = || words().has("labels", &plain(name)) || words().has("mail_heads", &plain(name));
    (is_name(name) && name.split(' ').count() <= 2 && !known()).then_some(name)
}

/// Where the message begins of `[14:02] Maud: …`, `14:02 - Maud: …`, `<Maud> …`.
fn chat_prefix(line: &str) -> Option<usize> {
    if let Some((name, _)) = line.strip_prefix('<').and_then(|l| l.split_once("> ")) {
        return is_name(name).then(|| name.len() + 3);
    }
    let end = line.find(": ")? + 2;
    let prefix = line.get(..end).filter(|p| p.len() <= MAX_PREFIX)?;
    let open = prefix.trim_start_matches('[');
    let clock = open.find(|c: char| c.is_ascii_digit()).filter(|at| *at < 30)?;
    let behind = open.get(clock..)?;
    let stamp = behind
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, ':' | '.' | ',' | '/' | '-' | ' ')))
        .unwrap_or(behind.len());
    let timed = behind.get(..stamp)?.split([' ', ',']).any(is_time);
    let name = behind.get(stamp..)?.trim_start_matches(['A', 'P', 'M', ']', ' ', '-', '–']);
    (timed && is_name(name.trim_end_matches([':', ' ']))).then_some(end)
}

fn is_time(word: &str) -> bool {
    let parts: Vec<&str> = word.trim_matches(['-', '/', '.']).split(':').collect();
    (2..=3).contains(&parts.len())
        && parts.iter().all(|p| (1..=2).contains(&p.len()) && p.chars().all(|c| c.is_ascii_digit()))
}

fn is_name(text: &str) -> bool {
    let count = text.chars().count();
    // People put pictures into their names; marks of a keyboard but these are no part of one.
    let fits =
        |c: char| c.is_alphabetic() || !c.is_ascii() || matches!(c, ' ' | '.' | '_' | '\'' | '-');
    (1..=24).contains(&count) && text.chars().all(fits) && text.contains(char::is_alphabetic)
}

#[cfg(test)]
#[path = "../../tests/unit/intake/prefixes.rs"]
mod tests;
