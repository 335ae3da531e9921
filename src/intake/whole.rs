//! What sentences around the rows say of the whole list: what it may cost, and what it is for.

use std::sync::Arc;

use super::list::currency_of;
use super::strip::is_talk;
use super::words::{plain, word_ranges, words};
use super::{Row, State, price};
use crate::catalogue::Catalogue;
use crate::trade::money::Money;

/// Most words of a first line that heads a list.
const MOST_OF_A_TITLE: usize = 7;

/// The purposes that sentences speak of, in the order of the catalogue's table, each with the first
/// line that does: by its phrases, or by the name that a shop gave it.
pub(super) fn purposes<'c>(catalogue: &'c Catalogue, rows: &[Row]) -> Vec<(usize, &'c str)> {
    let speaks = |row: &Row, purpose: &str| {
        let phrases = words().find(&format!("used_for_{purpose}"), &row.text);
        let named = format!(" {} ", plain(&row.text)).contains(&format!(" for {purpose} "));
        named || phrases.iter().any(|phrase| is_meant(&row.text, phrase))
    };
    let said = |purpose: &'c Arc<str>| {
        let mut talk = rows.iter().filter(|row| row.state == State::Ignored);
        talk.find(|row| speaks(row, purpose)).map(|row| (row.line, &**purpose))
    };
    catalogue.words("purpose").iter().filter_map(said).collect()
}

/// Whether the word before a phrase does not deny it: "no gaming".
fn is_meant(text: &str, phrase: &std::ops::Range<usize>) -> bool {
    let before = text.get(..phrase.start).unwrap_or("");
    let denied = |range| words().has("against", &plain(before.get(range).unwrap_or("")));
    !word_ranges(before).into_iter().rev().take(2).any(denied)
}

/// The line of talk that wishes for a PC that is hardly heard.
pub(super) fn quiet(rows: &[Row]) -> Option<usize> {
    let talk = rows.iter().filter(|row| row.state == State::Ignored);
    let wishes = |row: &&Row| {
        words().find("quiet", &row.text).iter().any(|phrase| is_meant(&row.text, phrase))
    };
    talk.filter(|row| is_talk(&row.text)).find(wishes).map(|row| row.line)
}

/// What a reader would call the list: its mail's subject, else its first line where that heads it,
/// else the one purpose that it has.
pub(super) fn title(catalogue: &Catalogue, rows: &[Row]) -> Option<String> {
    let subject = |row: &Row| {
        let (head, rest) = row.text.split_once(':')?;
        // "Re: AW: Quote" answers the same.
        let answers = |mark: &&str| words().has("mail_heads", &plain(mark));
        let own: Vec<&str> = rest.split(':').skip_while(answers).collect();
        words().has("mail_subject", &plain(head)).then(|| own.join(":").trim().to_owned())
    };
    let head = || {
        let first = &rows.first().filter(|row| row.state == State::Ignored)?.text;
        let bare = first.trim_matches(['#', '*', '=', '_', ' ']);
        let ends =
            bare.ends_with(['.', ',', '!', '?', ';']) || bare.contains([':', '|', '\t', '[']);
        let short = (2..=MOST_OF_A_TITLE).contains(&word_ranges(bare).len());
        let titled = short && !ends && !is_talk(bare) || first.starts_with('#') && !bare.is_empty();
        titled.then(|| bare.to_owned())
    };
    let mut talk = rows.iter().filter(|row| row.state == State::Ignored);
    let told = talk.find_map(subject).filter(|title| !title.is_empty()).or_else(head);
    told.or_else(|| match purposes(catalogue, rows).as_slice() {
        [(_, purpose)] => Some(format!("PC for {purpose}")),
        _ => None,
    })
}

/// What the whole list may cost, and the line that says so: one amount of one sentence that is no
/// row. None where two sentences differ.
pub(crate) fn budget(rows: &[Row]) -> Option<(usize, String)> {
    let currency = currency_of(rows);
    let says = |row: &Row, set: &str| words().says(set, &row.text);
    // "At most 900 together"
    let limited = |row: &Row| says(row, "limit") && says(row, "together");
    let said = |row: &&Row| row.state == State::Ignored && (says(row, "budget") || limited(row));
    let amount = |row: &Row| {
        let labelled = row.text.split_once(':').filter(|(l, _)| words().has("budget", &plain(l)));
        let found = match labelled {
            Some((_, rest)) => price::amounts(rest, true),
            None => price::amounts(&row.text, false),
        };
        let found = if found.is_empty() { bare_budget(&row.text) } else { found };
        let [one] = found.as_slice() else { return None };
        let code = one.currency.as_deref().unwrap_or(&currency);
        Some((row.line, format!("{} {code}", one.value)))
    };
    let all: Vec<(usize, String)> = rows.iter().filter(said).filter_map(amount).collect();
    let first = all.first()?;
    let same = all.iter().all(|(_, amount)| *amount == first.1);
    (same && Money::parse(&first.1).is_ok()).then(|| first.clone())
}

/// "Budget about 1500", "around 1900 all in": the bare number beside the phrase, with nothing of a
/// part between.
fn bare_budget(text: &str) -> Vec<price::Amount> {
    let Some(range) = words().find("budget", text).pop() else { return Vec::new() };
    let apart = |part: std::ops::Range<usize>| {
        let marked = text.get(part).unwrap_or("").split([' ', ':', '~', '(', ')']);
        marked.filter(|w| !w.is_empty()).collect::<Vec<_>>()
    };
    let (before, behind) = (apart(0..range.start), apart(range.end..text.len()));
    let number = |w: &str| w.starts_with(|c: char| c.is_ascii_digit());
    let said = |w: &str| ["about", "limit", "filler"].iter().any(|set| words().has(set, w));
    let beside = |w: &&&str| number(w) || !said(&plain(w));
    let unit = |at: usize| behind.get(at).is_some_and(|w| !words().units(&plain(w)).is_empty());
    let after = behind.iter().find(beside).filter(|w| number(w));
    let after = after.filter(|w| !unit(1 + behind.iter().position(|o| o == *w).unwrap_or(0)));
    let found = after.or_else(|| before.iter().rev().find(beside).filter(|w| number(w)));
    let bare = found.map_or("", |w| w.trim_end_matches([',', '.', '!']));
    let large = |a: &price::Amount| a.value.parse().is_ok_and(|n: f64| n >= 100.0);
    let whole = bare.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '\''));
    let found = if whole { price::amounts(bare, true) } else { Vec::new() };
    found.into_iter().filter(large).collect()
}
