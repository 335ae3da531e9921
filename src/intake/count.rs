//! How many of a part a row asks for.

use std::ops::Range;

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::labels::LABEL_MARKS;
use super::lexicon::NamePart;
use super::rows::RawRow;
use super::words::{cut, plain, word_ranges, words};
use crate::build::read::MAX_COUNT;

/// Most that a bare number beside a word counts.
const MOST_BESIDE: u32 = 12;

/// Takes the count out of a text: `2x `, `(x2)`, `3 pcs`, `pair of`. None where none is said. A
/// word that parts are `named` by is no count.
///
/// # Errors
/// The count as written, when no list asks for so many.
pub(crate) fn take(
    text: &str,
    named: &dyn Fn(&str) -> bool,
) -> Result<(Option<u32>, String), String> {
    // "Sluice 1000 plus a second one": one more than is counted before.
    let more = words().find("once_more", text).pop();
    if let Some(more) = more.filter(|r| !words().says("not_now", text.get(r.end..).unwrap_or(""))) {
        let (count, rest) = take(&cut(text, more, "|"), named)?;
        return Ok((Some(count.unwrap_or(1) + 1), rest));
    }
    let trimmed = behind_lead(text);
    if let Some((count, rest)) = leading(trimmed)? {
        return Ok((Some(count), rest));
    }
    // "Festplatte: zwei Stück Silt", "Disque dur : 2 × Marl".
    let labelled = |mark: &&str| trimmed.split_once(*mark).filter(|(l, _)| is_label(l));
    if let Some((label, behind)) = LABEL_MARKS.iter().find_map(labelled) {
        let behind = behind_lead(behind);
        let found = match leading(behind)? {
            Some(found) => Some(found),
            None => in_words(behind, named),
        };
        if let Some((count, rest)) = found {
            return Ok((Some(count), format!("{label}: {rest}")));
        }
    }
    if let Some((count, rest)) = marked(text)? {
        return Ok((Some(count), rest));
    }
    if let Some((count, rest)) = in_words(trimmed, named) {
        return Ok((Some(count), rest));
    }
    if let Some((count, rest)) = clause(text) {
        return Ok((Some(count), rest));
    }
    Ok((None, text.to_owned()))
}

/// What stands behind "please" and the like.
fn behind_lead(text: &str) -> &str {
    words().leads("leads_on", text).and_then(|end| text.get(end..)).unwrap_or(text).trim_start()
}

/// Whether a text before a colon may be a label: a few words without a figure.
fn is_label(label: &str) -> bool {
    label.chars().count() <= 24
        && label.split_whitespace().count() <= 3
        && !label.chars().any(|c| c.is_ascii_digit())
}

/// The count in a cell of its own.
///
/// # Errors
/// The count as written, when no list asks for so many.
pub(crate) fn of_cell(cell: &str) -> Result<Option<u32>, String> {
    let digits: String =
        cell.chars().skip_while(|c| !c.is_ascii_digit()).take_while(char::is_ascii_digit).collect();
    let behind: String =
        cell.chars().skip_while(|c| !c.is_ascii_digit()).skip_while(char::is_ascii_digit).collect();
    if digits.is_empty() {
        return Ok(words().number(&cell.trim().to_lowercase()));
    }
    let whole = behind.strip_prefix([',', '.']).is_none_or(|d| {
        d.trim_start_matches('0').chars().next().is_none_or(|c| !c.is_ascii_digit())
    });
    if cell.trim_start().starts_with(['-', '−']) || !whole {
        return Err(cell.trim().to_owned());
    }
    bounded(&digits).map(Some)
}

fn bounded(digits: &str) -> Result<u32, String> {
    match digits.parse::<u32>() {
        Ok(n) if (1..=MAX_COUNT).contains(&n) => Ok(n),
        _ => Err(digits.to_owned()),
    }
}

/// `2x Lull`, `2 × Lull`, `-1 x Lull`, `2 Stk. Lull`; not `2x16 GB`.
fn leading(text: &str) -> Result<Option<(u32, String)>, String> {
    let minus = text.starts_with(['-', '−']);
    let body = text.trim_start_matches(['-', '−', '(', '[']);
    let digits = body.chars().take_while(char::is_ascii_digit).count();
    if digits == 0 || digits > 12 {
        // `x2 Lull`
        let after = text.strip_prefix(['x', '×', 'X']).map(str::trim_start);
        let Some(after) = after else { return Ok(None) };
        let digits = after.chars().take_while(char::is_ascii_digit).count();
        let (number, rest) = after.split_at(digits);
        if digits == 0 || digits > 2 || !rest.starts_with([' ', ':']) {
            return Ok(None);
        }
        return Ok(Some((bounded(number)?, rest.trim_start_matches([' ', ':']).to_owned())));
    }
    let (number, rest) = body.split_at(digits);
    let gap = rest.trim_start();
    let Some(after) = gap.strip_prefix(['x', 'X', '×', '*', '✕']) else {
        return pieces(number, gap);
    };
    let after = after.trim_start_matches([')', ']', ':', '.']);
    let next = after.trim_start();
    // `2560x1440`: points of a screen, whatever stands around them.
    let more = next.chars().take_while(char::is_ascii_digit).count();
    if digits >= 3 && more >= 3 {
        return Ok(None);
    }
    if next.starts_with(|c: char| c.is_ascii_digit())
        && pack_ahead(next, after.starts_with(' '), number != "1")
    {
        return Ok(None);
    }
    if next.is_empty() {
        return Ok(None);
    }
    let count = if minus { Err(format!("-{number}")) } else { bounded(number) }?;
    Ok(Some((count, next.to_owned())))
}

/// Whether what stands behind `2 x` makes a pack of modules of it: `16 GB`, `16GB DDR5`.
pub(super) fn pack_ahead(next: &str, spaced: bool, several: bool) -> bool {
    let digits = next.chars().take_while(|c| c.is_ascii_digit()).count();
    let rest = next.get(digits..).unwrap_or("").trim_start().to_lowercase();
    let small = next.get(..digits).and_then(|d| d.parse::<u32>().ok()).is_some_and(|n| n <= 256);
    let gigabytes = ["gb", "go", "gib"].iter().any(|u| rest.starts_with(u));
    let memory = ["ddr", "dimm", "ram"].iter().any(|w| rest.contains(w));
    small
        && (gigabytes && (!spaced || memory && several)
            || !spaced && !rest.starts_with(|c: char| c.is_alphabetic()))
}

/// `2 pcs Lull`, `2 Stück Lull`, `2er Pack`, `3-pack`.
fn pieces(number: &str, rest: &str) -> Result<Option<(u32, String)>, String> {
    let low = rest.to_lowercase();
    let Some(length) = words().begins("pieces", &low) else { return Ok(None) };
    match rest.get(length..).filter(|after| after.starts_with([' ', ':', '\t', ','])) {
        Some(after) => {
            let rest = after.trim_start_matches([' ', ':', '\t', ',']);
            Ok(Some((bounded(number)?, without_pieces(rest).to_owned())))
        }
        None => Ok(None),
    }
}

/// `Stück Silt 4 TB`, `sticks of Kelp`: without the word for pieces.
fn without_pieces(text: &str) -> &str {
    let found = words().begins("pieces", &text.to_lowercase());
    let behind = found.and_then(|length| text.get(length..)).filter(|t| t.starts_with(' '));
    behind.map_or(text, str::trim_start)
}

/// `(x2)`, `x2`, `×2`, `2x` at the end, `(2)`, `qty 2`, `(2 pcs)`, wherever it stands.
fn marked(text: &str) -> Result<Option<(u32, String)>, String> {
    let chars: Vec<(usize, char)> = text.char_indices().collect();
    for (i, (at, c)) in chars.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|i| chars.get(i)).map(|(_, c)| *c);
        let open = before
            .is_none_or(|c| c.is_whitespace() || matches!(c, '(' | '[' | ',' | ';' | ':' | '|'));
        // `PCIe x16` and `PCIe 4.0 x4` say how wide a card or slot is.
        let lanes = matches!(c, 'x' | 'X' | '×') && text.get(..*at).is_some_and(names_a_bus);
        if !open || lanes {
            continue;
        }
        let rest = text.get(*at..).unwrap_or("");
        let Some((digits, length)) = count_here(rest, *c) else { continue };
        let behind = text.get(at + length..).unwrap_or("");
        let closed = behind.chars().next().is_none_or(|c| {
            c.is_whitespace() || matches!(c, ')' | ']' | ',' | ';' | '|' | '.' | ':')
        });
        // `X2` within a name is no count; at the end, or in brackets, it is.
        let last = behind
            .trim_start_matches([' ', '|'])
            .chars()
            .next()
            .is_none_or(|c| matches!(c, ',' | ';' | ')' | ']' | '('));
        // `2 x 16 GB` is a kit of two.
        let sized = ["gb", "go", "gib", "tb"]
            .iter()
            .any(|unit| behind.trim_start().to_lowercase().starts_with(unit));
        if !closed || sized || *c == 'X' && !last {
            continue;
        }
        let mut out = text.get(..*at).unwrap_or("").to_owned();
        let mut tail = behind;
        if let (true, Some(inner)) = (out.ends_with(['(', '[']), behind.strip_prefix([')', ']'])) {
            out.pop();
            tail = inner;
        }
        out.push('|');
        out.push_str(tail);
        let count = if digits.starts_with(['-', '−']) { Err(digits) } else { bounded(&digits) }?;
        return Ok(Some((count, out)));
    }
    Ok(None)
}

/// Whether a text ends in the name of a bus, with its generation or without.
fn names_a_bus(text: &str) -> bool {
    let mut words = text.split_whitespace().rev().take(2);
    words.any(|word| ["pci", "gen"].iter().any(|bus| word.to_lowercase().starts_with(bus)))
}

/// The digits of a count that begins here, and how long it is.
fn count_here(rest: &str, first: char) -> Option<(String, usize)> {
    let digits_of = |t: &str| t.chars().take_while(char::is_ascii_digit).collect::<String>();
    if matches!(first, 'x' | 'X' | '×' | '*') {
        let after = rest.get(first.len_utf8()..)?;
        let gap = after.len() - after.trim_start_matches(' ').len();
        let minus = after.trim_start().starts_with('-');
        let digits = digits_of(after.get(gap + usize::from(minus)..)?);
        let fit = !digits.is_empty() && (digits.len() <= 2 || digits.len() > 4) && gap <= 1;
        return fit.then(|| {
            (
                format!("{}{digits}", if minus { "-" } else { "" }),
                first.len_utf8() + gap + usize::from(minus) + digits.len(),
            )
        });
    }
    let low: String = rest.chars().take(24).collect::<String>().to_lowercase();
    if let Some(length) = words().begins("count_labels", &low) {
        let after = low.get(length..)?;
        let body = after.trim_start_matches([':', ' ', '=', '.']);
        let minus = body.starts_with('-');
        let digits = digits_of(body.trim_start_matches('-'));
        let length = length + (after.len() - body.len()) + usize::from(minus) + digits.len();
        return (!digits.is_empty())
            .then(|| (format!("{}{digits}", if minus { "-" } else { "" }), length));
    }
    if first.is_ascii_digit() {
        let digits = digits_of(rest);
        let after = rest.get(digits.len()..)?;
        let gap = after.len() - after.trim_start_matches(' ').len();
        let body = after.get(gap..)?.to_lowercase();
        if let Some(length) = words().begins("counted", &body) {
            let behind = body.get(length..)?;
            let ends = behind.chars().next().is_none_or(|c| {
                matches!(c, ')' | ']' | ',' | ';' | '|')
                    || c.is_whitespace() && behind.trim_start().is_empty()
            });
            let ends = ends || length > 2 && behind.starts_with(' ');
            if ends && digits.len() <= 2 {
                return Some((digits.clone(), digits.len() + gap + length));
            }
        }
    }
    None
}

/// `…, quantity two`, `…, four kits in all`, `…, 3 unidades`, `(so two)`: a clause behind the part
/// that is a number and words for pieces. Digits need such a word.
fn clause(text: &str) -> Option<(u32, String)> {
    let marks = |c: char| matches!(c, ',' | ';' | '(' | ')' | '|' | '.');
    let mut from = text.find(marks)? + 1;
    while let Some(rest) = text.get(from..) {
        let end = rest.find(marks).unwrap_or(rest.len());
        let inner = rest.get(..end)?;
        if let Some(count) = only_counted(inner) {
            return Some((count, format!("{}|{}", text.get(..from - 1)?, rest.get(end..)?)));
        }
        from += end + rest.get(end..)?.chars().next().map_or(1, char::len_utf8);
    }
    None
}

/// The number of a clause that says no more than how many.
fn only_counted(clause: &str) -> Option<u32> {
    let before = plain(clause);
    let sets = ["together", "counted", "pieces", "count_labels", "so_many"];
    let low = words().without(&sets, &before, " ");
    let mut left = low.split_whitespace();
    let number = left.next().filter(|_| left.next().is_none())?;
    let worded = low.trim() != before.trim();
    let digits = number.parse().ok().filter(|_| worded);
    words().number(number).or(digits).filter(|n| (2..=MAX_COUNT).contains(n))
}

/// `pair of`, `two`, `zwei`, `3er`.
fn in_words(text: &str, named: &dyn Fn(&str) -> bool) -> Option<(u32, String)> {
    let ranges = super::words::word_ranges(text);
    // "The four Marls": no count stands in the article.
    let article = ranges.first().and_then(|r| text.get(r.clone())).map(plain);
    let led =
        article.is_some_and(|w| words().has("possessives", &w) || words().has("of_those", &w));
    let ranges = ranges.get(usize::from(led)..)?;
    let from = ranges.first().filter(|_| led).map_or(0, |r| r.start);
    for n in (1..=ranges.len().min(4)).rev() {
        let end = ranges.get(n - 1)?.end;
        let phrase = text.get(from..end)?.to_lowercase();
        // "one" and "un" say little; "a pair" is a count.
        if let Some(count) = words().number(&phrase).filter(|c| *c > 1 && !named(&phrase)) {
            let rest = text.get(end..)?.trim_start();
            return Some((count, without_pieces(rest).to_owned()));
        }
    }
    let low = text.to_lowercase();
    for mark in [" of them", " davon", " d'entre eux"] {
        let Some(end) = low.find(mark).filter(|_| low.len() == text.len()) else { continue };
        let start = low.get(..end)?.rfind(' ').map_or(0, |at| at + 1);
        let count = low.get(start..end).and_then(|w| words().number(w).or_else(|| w.parse().ok()));
        if let Some(count) = count.filter(|c| (2..=MAX_COUNT).contains(c)) {
            let behind = text.get(end + mark.len()..)?;
            return Some((count, format!("{}|{behind}", text.get(..start)?)));
        }
    }
    None
}

/// The count at once before a phrase, "2x front", with where it stands, and whether nothing else
/// stands before it in its clause.
pub(super) fn before(text: &str, phrase: &Range<usize>) -> Option<(u32, Range<usize>, bool)> {
    let before = text.get(..phrase.start)?;
    let range = word_ranges(before).pop()?;
    let between = before.get(range.end..)?;
    let count = spoken(before.get(range.clone())?)?;
    let clause = before.get(..range.start)?.trim_end();
    let alone = clause.is_empty() || clause.ends_with([',', '(', ':', ';', '-', '–', '|', '[']);
    between.chars().all(|c| c == ' ' || c == '×').then_some((count, range, alone))
}

/// A small count in digits or in words: "2x", "two". "Lull 120 front" has no 120 fans.
pub(super) fn spoken(word: &str) -> Option<u32> {
    let word = plain(word);
    let digits = word.trim_end_matches(['x', '×']);
    let count = digits.parse().ok().or_else(|| words().number(&word))?;
    (1..=MOST_BESIDE).contains(&count).then_some(count)
}

impl Interpreter<'_> {
    /// `3 Lull 120 fans`: a bare number before a name counts where the kind behind it is in the
    /// plural; a number alone may as well number the rows.
    ///
    /// Within a row a number before a family's name counts.
    pub(super) fn plural(&self, raw: &RawRow, whole: &str, text: &str) -> Option<(u32, String)> {
        // "Fans: 2 Netloft 140"
        let labelled = |mark: &&str| {
            let (label, behind) = text.split_once(*mark)?;
            self.heading(label).map(|_| (label, behind))
        };
        if let Some((label, behind)) = LABEL_MARKS.iter().find_map(labelled) {
            let (number, rest) = behind.trim_start().split_once(' ')?;
            let number = number.parse().ok().filter(|n| (2..=MOST_BESIDE).contains(n))?;
            let first = rest.split_whitespace().next().unwrap_or("");
            let first = items(self.lexicon, first);
            // "Fans: 2 extra, quiet ones"
            let wished = !first.is_empty() && first.iter().all(|i| i.filler);
            let family = first.iter().any(|i| self.names_family(i));
            let counts = family || wished || self.kind_and_name(rest);
            return counts.then(|| (number, format!("{label}: {rest}")));
        }
        let (first, rest) = text.trim_start().split_once(' ')?;
        let Ok(number) = first.parse::<u32>() else { return self.before_name(text) };
        if !(1..=MAX_COUNT).contains(&number) {
            return None;
        }
        if self.kind_and_name(rest) && !self.numbered {
            return Some((number, rest.to_owned()));
        }
        let named = |word: &str| self.lexicon.names.contains_key(&word.to_lowercase());
        let first = rest.split_whitespace().next().unwrap_or("");
        let item = items(self.lexicon, first);
        let family = item.iter().any(|i| self.names_family(i));
        // "3 Lüfter vorne"
        let of_kind = !self.numbered && item.iter().all(|i| i.names_kind() && !i.fuzzy);
        let within = !raw.text.trim_start().starts_with(whole.trim_start());
        let few = number <= MOST_BESIDE;
        if few && of_kind || few && family && named(first) && (within || !self.numbered) {
            return Some((number, rest.to_owned()));
        }
        // "3 extra 120mm fans, quiet ones"
        let judged = self.without_purpose(rest);
        let clause = judged.split([',', ';', '(', '|']).next().unwrap_or("");
        let last = clause.split_whitespace().last().filter(|word| word.ends_with(['s', 'S']))?;
        let kind = items(self.lexicon, last).iter().any(|i| i.names_kind());
        let beside = |word: &str| {
            let known = |set: &&str| words().has(set, &plain(word));
            let item = items(self.lexicon, word);
            word.starts_with(|c: char| c.is_ascii_digit())
                || item.iter().any(Item::names_kind)
                || ["filler", "vague", "wishes", "labels"].iter().any(known)
        };
        let mut before = clause.split_whitespace().filter(|word| *word != last);
        let open = !self.numbered && before.all(beside);
        (kind && (named(first) || open)).then(|| (number, rest.to_owned()))
    }

    /// "For the data two Marl 20 TB": a number in words at once before the first name.
    fn before_name(&self, text: &str) -> Option<(u32, String)> {
        let ranges = word_ranges(text);
        let word = |at: usize| text.get(ranges.get(at)?.clone());
        let family =
            |w: &str| items(self.lexicon, w).iter().any(|i| self.names_proper(i) && i.is_exact());
        let name = (0..ranges.len()).find(|at| word(*at).is_some_and(family))?;
        let article = |at: &usize| word(*at).is_some_and(|w| words().has("of_those", &plain(w)));
        let number = (0..name).rev().find(|at| !article(at))?;
        // "The ten way one": a number of the name itself.
        let id = |at: usize| self.lexicon.names.get(&plain(word(at)?));
        let pair = id(number).zip(id(name)).filter(|_| number + 1 == name);
        let own = |(a, b): (&u32, &u32)| {
            let two = |w: &[NamePart]| w.iter().map(|p| p.word).eq([*a, *b]);
            self.lexicon.parts.iter().any(|part| part.name.windows(2).any(two))
        };
        if pair.is_some_and(own) {
            return None;
        }
        let count = words().number(&plain(word(number)?)).filter(|n| *n > 1)?;
        Some((count, cut(text, ranges.get(number)?.clone(), "")))
    }

    /// "Lüfter Lull 140 mm": a kind, then a name of it.
    fn kind_and_name(&self, text: &str) -> bool {
        let list = items(self.lexicon, text);
        let exact = |i: &Item| self.names_exactly(i);
        matches!(list.as_slice(), [of, name, ..]
            if of.names_kind() && !self.names_family(of) && exact(name))
    }
}

#[cfg(test)]
#[path = "../../tests/unit/intake/count.rs"]
mod tests;
