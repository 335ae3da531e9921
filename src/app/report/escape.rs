//! Text made safe to show: whatever would move a cursor, hide letters or turn their order round
//! becomes a visible stand-in.

use unicode_width::{UnicodeWidthChar as _, UnicodeWidthStr as _};

/// Stands in for a character that must not reach a terminal.
pub const STAND_IN: char = '\u{fffd}';

pub use crate::words::acts;

/// The text in one line, with tabs and line ends as spaces and nothing in it that acts.
pub fn inert(text: &str) -> String {
    text.chars()
        .map(|c| if matches!(c, '\t' | '\n' | '\r') { ' ' } else { inert_char(c) })
        .collect()
}

/// A character, or its stand-in.
pub fn inert_char(c: char) -> char {
    if acts(c) { STAND_IN } else { c }
}

/// JSON text with every acting character escaped: inside strings, the only place where they can
/// stand, that changes nothing but the looks.
pub fn inert_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c != '\n' && acts(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            out.push(c);
        }
    }
    out
}

/// Columns a text takes on a terminal.
pub fn width(text: &str) -> usize {
    text.width()
}

/// Breaks a text into lines of a width; a word longer than a line is cut.
pub fn wrap(text: &str, most: usize) -> Vec<String> {
    wrap_from(text, 0, most)
}

/// The same, with some columns of the first line taken already.
fn wrap_from(text: &str, taken: usize, most: usize) -> Vec<String> {
    let most = most.max(8);
    let mut lines = vec![String::new()];
    let mut used = taken;
    for word in words_of(text, most) {
        let wide = width(word);
        let gap = usize::from(lines.last().is_some_and(|l| !l.is_empty()));
        if used > 0 && used + gap + wide > most && (wide <= most || used + gap >= most) {
            lines.push(String::new());
            used = 0;
        }
        let Some(line) = lines.last_mut() else { break };
        if !line.is_empty() {
            line.push(' ');
            used += 1;
        }
        if wide <= most {
            line.push_str(word);
            used += wide;
        } else {
            used = cut_word(word, most, used, &mut lines);
        }
    }
    lines
}

/// Longest word that stays with the number before it, so that a unit does: `104 °C`.
const UNIT_COLUMNS: usize = 6;

/// The words of a text; a number and its unit are one, where a line has room for both.
fn words_of(text: &str, most: usize) -> impl Iterator<Item = &str> {
    let mut rest = text.trim_matches(' ');
    std::iter::from_fn(move || {
        let (word, behind) = rest.split_once(' ').unwrap_or((rest, ""));
        if word.is_empty() {
            return None;
        }
        let number = word.ends_with(|c: char| c.is_ascii_digit())
            && word.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'));
        let is_unit = |w: &&str| {
            let starts = w.starts_with(|c: char| c.is_alphabetic() || matches!(c, '°' | '%' | 'µ'));
            starts && width(w) <= UNIT_COLUMNS
        };
        let unit = behind.split(' ').next().filter(is_unit);
        let both = word.len() + 1 + unit.map_or(0, str::len);
        let glued = rest.get(..both).filter(|t| number && unit.is_some() && width(t) * 2 <= most);
        let taken = glued.unwrap_or(word);
        rest = rest.get(taken.len()..).unwrap_or("").trim_start_matches(' ');
        Some(taken)
    })
}

fn cut_word(word: &str, most: usize, mut used: usize, lines: &mut Vec<String>) -> usize {
    for c in word.chars() {
        let wide = c.width().unwrap_or(0);
        if used + wide > most {
            lines.push(String::new());
            used = 0;
        }
        if let Some(line) = lines.last_mut() {
            line.push(c);
        }
        used += wide;
    }
    used
}

/// Wraps a text with one indent for the first line and another for the rest.
pub fn indented(text: &str, first: &str, rest: &str, most: usize) -> String {
    let room = most.saturating_sub(width(rest));
    let lines = wrap_from(text, width(first).saturating_sub(width(rest)).min(room), room);
    let mut out = String::new();
    for (at, line) in lines.iter().enumerate() {
        out.push_str(if at == 0 { first } else { rest });
        out.push_str(line);
        out.push('\n');
    }
    out
}

#[cfg(test)]
#[path = "../../../tests/unit/app/report/escape.rs"]
mod tests;
