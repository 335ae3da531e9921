//! What an unknown part is called: what its row says without what is said of it.

use super::rows::RawRow;
use super::strip::tidy;
use super::words::{plain, words};
use super::{count, price};

/// The name of an unknown part: what the row says, without its count, price and remarks.
pub(super) fn part_name(raw: &RawRow, text: &str) -> String {
    let name = bare_name(text);
    let maker = raw.maker.trim();
    if maker.is_empty() || name.to_lowercase().contains(&maker.to_lowercase()) {
        name
    } else {
        format!("{maker} {name}")
    }
}

/// A row's text without its count, price and remarks.
pub(super) fn bare_name(text: &str) -> String {
    let priced = price::take(text).rest;
    let mut bare = count::take(&priced, &|_| false).map_or(priced.clone(), |(_, rest)| rest);
    // "From the old PC" says whose it is; a single word such as "keep" may be a piece of the name.
    for set in ["owned", "if_there"] {
        for range in words().find(set, &bare).into_iter().rev() {
            if bare.get(range.clone()).is_some_and(|phrase| phrase.contains(' ')) {
                bare.replace_range(range, "|");
            }
        }
    }
    let bare = without_talk(&bare);
    let name = tidy(&bare.replace('|', " ").replace("( )", "").replace("()", ""));
    let name = without_sentence(name.trim_matches(['"', '“', '”', '„']).trim());
    let name = tidy(without_article(name));
    // "Dotterel 712X (or whatever is faster)": without a bracket that lost its end.
    let open =
        name.rfind('(').filter(|at| *at > 0 && !name.get(*at..).is_some_and(|t| t.contains(')')));
    let name = open.and_then(|at| name.get(..at)).map_or(name.clone(), tidy);
    // "Monitor we have (27 inch)": of a name that is one bracket, what stands in it.
    let inside = name.strip_prefix('(').and_then(|name| name.strip_suffix(')'));
    inside.filter(|inside| !inside.contains(['(', ')'])).map(str::to_owned).unwrap_or(name)
}

/// "My old hard disk" is called "old hard disk".
fn without_article(name: &str) -> &str {
    let article = |word: &str| {
        let sets = ["articles", "of_those", "possessives"];
        sets.iter().any(|set| words().has(set, &plain(word)))
    };
    match name.split_once(' ') {
        Some((first, rest)) if article(first) => without_article(rest),
        _ => name,
    }
}

/// Without the clauses and brackets behind the first that speak of somebody: "Stillwater 550, my
/// brother has it (he says 550 W)".
fn without_talk(text: &str) -> String {
    let talks = |clause: &str| {
        let mut said = clause.split_whitespace().map(plain);
        said.any(|w| ["subjects", "possessives"].iter().any(|set| words().has(set, &w)))
    };
    let mut out = String::with_capacity(text.len());
    // Whether the bracket that is open was left out.
    let mut dropped = false;
    let mut from = 0;
    let marks = text.match_indices([',', ';', '(', ')']).map(|(at, _)| at);
    for end in marks.chain([text.len()]) {
        let piece = text.get(from..end).unwrap_or("");
        from = end;
        let clause = piece.trim_start_matches([',', ';', '(', ')']);
        let talk = !out.is_empty() && talks(clause);
        dropped = talk && piece.starts_with('(') || dropped && !piece.starts_with(')');
        if piece.starts_with(')') && !out.contains('(') {
            out.push_str(if talk { "" } else { clause });
        } else if !talk && !dropped {
            out.push_str(piece);
        }
    }
    out
}

/// Of a sentence what stands before its verb, or where that says nothing, what stands behind it:
/// "Old drive goes in as well", "I would take a small hub so that all fans run".
fn without_sentence(name: &str) -> &str {
    let ranges: Vec<(usize, &str)> = name
        .split_whitespace()
        .map(|word| (word.as_ptr() as usize - name.as_ptr() as usize, word))
        .collect();
    let is = |set: &str, word: &str| {
        words().has(set, &plain(word.trim_matches(|c: char| !c.is_alphanumeric())))
    };
    // A name may hold a verb with a capital: "Netloft Keep".
    let verb = |(at, word): &&(usize, &str)| {
        is("verbs", word) && (*at == 0 || word.starts_with(char::is_lowercase))
    };
    let Some(first) = ranges.iter().position(|one| verb(&one)) else { return name };
    let talk = |word: &str| ["subjects", "articles", "verbs"].iter().any(|set| is(set, word));
    let before = ranges.get(..first).unwrap_or(&[]);
    let end = before.iter().rposition(|(_, word)| !talk(word));
    if let Some((at, word)) = end.and_then(|at| before.get(at)) {
        return name.get(..at + word.len()).unwrap_or(name);
    }
    let behind = ranges.get(first..).unwrap_or(&[]);
    let Some(start) = behind.iter().position(|(_, word)| !talk(word)) else { return "" };
    let said = behind.get(start..).unwrap_or(&[]);
    let ends = |(_, word): &(usize, &str)| is("subjects", word) || is("verbs", word);
    let length = said.iter().skip(1).position(ends).map_or(said.len(), |at| at + 1);
    let last = said.get(length - 1);
    let from = said.first().map_or(0, |(at, _)| *at);
    name.get(from..last.map_or(name.len(), |(at, word)| at + word.len())).unwrap_or(name)
}
