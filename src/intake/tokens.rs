//! A row's text as words and figures, each with its place.

use std::ops::Range;

use super::words::words;

/// A word, a number or a code.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Token {
    /// Lower case, letters and digits and a decimal point only.
    pub(crate) norm: String,
    /// Where it is in the text, in bytes.
    pub(crate) range: Range<usize>,
    /// A number that stands by itself or begins the token.
    pub(crate) number: Option<f64>,
    /// What the number may be with the unit behind it.
    pub(crate) readings: Vec<Reading>,
    /// Whether the unit is a token of its own, the one behind.
    pub(crate) unit_behind: bool,
    /// `2x16`: a count and what each holds.
    pub(crate) pack: Option<(f64, f64)>,
    /// Whether a full stop shows that the word is cut short.
    pub(crate) cut: bool,
    /// Whether it is joined to the token before by a mark, not a blank.
    pub(crate) joined: bool,
}

/// A figure in the unit that fields declare.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Reading {
    /// The unit, as fields declare it.
    pub(crate) unit: String,
    /// How many of it.
    pub(crate) value: f64,
}

/// A letter without its accent.
pub(crate) fn fold(c: char) -> char {
    match c {
        'à' | 'â' | 'á' | 'å' | 'ä' => 'a',
        'é' | 'è' | 'ê' | 'ë' => 'e',
        'î' | 'ï' | 'í' => 'i',
        'ô' | 'ó' | 'ö' | 'ø' => 'o',
        'û' | 'ù' | 'ú' | 'ü' => 'u',
        'ç' => 'c',
        'µ' | 'μ' => 'u',
        other => other,
    }
}

/// Lower case without accents.
pub(crate) fn folded(text: &str) -> String {
    if text.is_ascii() {
        return text.to_ascii_lowercase();
    }
    text.to_lowercase().replace('ß', "ss").replace('œ', "oe").chars().map(fold).collect()
}

/// Letters and digits only, for phrases that people join and part as they like.
pub(crate) fn compact(text: &str) -> String {
    let mut text = folded(text);
    text.retain(char::is_alphanumeric);
    text
}

/// Words and figures of a text.
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    let chars: Vec<(usize, char)> = text.char_indices().collect();
    let at = |i: usize| chars.get(i).map(|(_, c)| *c);
    let place = |i: usize| chars.get(i).map_or(text.len(), |(p, _)| *p);
    let mut i = 0;
    let mut blank = true;
    while let Some(c) = at(i) {
        if !c.is_alphanumeric() {
            blank |= c.is_whitespace() || matches!(c, '(' | ')' | ',' | ';' | '[' | ']');
            i += 1;
            continue;
        }
        let start = i;
        while let Some(c) = at(i) {
            let digit = |j: usize| at(j).is_some_and(|c| c.is_ascii_digit());
            let decimal = matches!(c, '.' | ',')
                && i > start
                && digit(i - 1)
                && digit(i + 1)
                && lone_number(&chars, start, i);
            // `M.2`, `2×16`.
            let socket = c == '.'
                && i == start + 1
                && matches!(at(start), Some('m' | 'M'))
                && at(i + 1) == Some('2');
            let times = c == '×' && i > start && digit(i - 1) && digit(i + 1);
            let shape = c == ':' && is_shape(text.get(place(start)..).unwrap_or(""));
            if !(c.is_alphanumeric() || decimal || socket || times || shape) {
                break;
            }
            i += 1;
        }
        let raw: String = chars.get(start..i).unwrap_or(&[]).iter().map(|(_, c)| *c).collect();
        let mut token = Token {
            norm: norm(&raw),
            range: place(start)..place(i),
            cut: at(i) == Some('.') && !at(i + 1).is_some_and(char::is_alphanumeric),
            joined: !blank && !out.is_empty(),
            ..Token::default()
        };
        blank = false;
        // `80+` is the name of a certificate.
        if raw == "80" && at(i) == Some('+') {
            token.norm.push_str("plus");
            i += 1;
            token.range.end = place(i);
            out.push(token);
            continue;
        }
        read_figures(&mut token, text.get(place(i)..).unwrap_or(""));
        out.push(token);
    }
    out
}

/// Whether a text begins with the shape of a screen: `16:10`.
fn is_shape(text: &str) -> bool {
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == ':')).unwrap_or(text.len());
    words().has("filler", text.get(..end).unwrap_or(""))
}

/// Whether the characters from `start` to `end` are digits and at most one mark.
fn lone_number(chars: &[(usize, char)], start: usize, end: usize) -> bool {
    chars.get(start..end).is_some_and(|s| s.iter().all(|(_, c)| c.is_ascii_digit()))
}

fn norm(raw: &str) -> String {
    folded(raw).replace(',', ".").replace('×', "x").replace("m.2", "m2")
}

/// Splits digits from what follows them and asks what unit that is.
fn read_figures(token: &mut Token, behind: &str) {
    let low = token.norm.clone();
    let digits = low.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(low.len());
    let (number, rest) = low.split_at(digits);
    let Ok(value) = number.trim_end_matches('.').parse::<f64>() else {
        // `cl30`, `c30`.
        if let Some(clocks) = low.strip_prefix("cl").or_else(|| low.strip_prefix('c'))
            && let Ok(value) = clocks.parse::<f64>()
        {
            token.readings.push(Reading { unit: "clocks".to_owned(), value });
        }
        return;
    };
    if rest.is_empty() {
        token.number = Some(value);
        let (unit, own) = unit_after(behind);
        token.unit_behind = own && !unit.is_empty();
        push_units(token, value, &unit);
        return;
    }
    if let Some(each) = rest.strip_prefix('x') {
        let end = each.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(each.len());
        let (each, unit) = each.split_at(end);
        if let Ok(each) = each.parse::<f64>() {
            token.pack = Some((value, each));
            if unit.is_empty() {
                token.unit_behind = units_of(&unit_after(behind).0).any(|(u, _)| u == "GB");
            }
            return;
        }
    }
    // `7000MB/s` goes on behind its letters.
    let per = ["/s", "/h", "/min"].into_iter().find(|per| behind.starts_with(per)).unwrap_or("");
    push_units(token, value, &format!("{rest}{per}"));
}

/// The unit that begins the text behind a number: `W`, ` Watt`, `"`, `-inch`, ` GB/s`. And whether
/// it is made of letters, so that it is the next token.
fn unit_after(behind: &str) -> (String, bool) {
    let text = behind.strip_prefix(['-', '\u{a0}', '\u{202f}', ' ']).unwrap_or(behind);
    let text = text.trim_start_matches([' ', '\u{a0}']);
    for mark in ["''", "\"", "″", "”", "“", "’’"] {
        if text.starts_with(mark) {
            return ("\"".to_owned(), false);
        }
    }
    let end = text
        .find(|c: char| !(c.is_alphanumeric() || matches!(c, '/' | '°' | '³')))
        .unwrap_or(text.len());
    let word = folded(text.get(..end).unwrap_or(""));
    let after = text.get(end..).unwrap_or("");
    // `2280 M.2` is no length, and `312 in stock` and `550 in it` neither.
    let socket = after.starts_with('.') && after.chars().nth(1).is_some_and(|c| c.is_ascii_digit());
    let next = after.trim_start().split(|c: char| !c.is_alphanumeric()).next().unwrap_or("");
    let next = next.to_lowercase();
    if socket || word == "in" && (next == "stock" || words().has("prose", &next)) {
        return (String::new(), false);
    }
    if words().units(&word).is_empty() {
        // `W/mK` is one unit; `12V/5V` is two.
        let first = word.split('/').next().unwrap_or("").to_owned();
        return (first, true);
    }
    (word, true)
}

fn units_of(word: &str) -> impl Iterator<Item = (&str, f64)> {
    words().units(word).iter().map(|(unit, factor)| (unit.as_str(), *factor))
}

fn push_units(token: &mut Token, value: f64, word: &str) {
    for (unit, factor) in units_of(word) {
        token.readings.push(Reading { unit: unit.to_owned(), value: value * factor });
    }
}

#[cfg(test)]
#[path = "../../tests/unit/intake/tokens.rs"]
mod tests;
