//! Prices as people write them: which amount of a row is the price of one.

use std::ops::Range;

use super::digits::number_end;
use super::words::words;

/// An amount in a text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Amount {
    /// Where it is, with its mark.
    pub(crate) range: Range<usize>,
    /// With two decimals and a point: `159.99`.
    pub(crate) value: String,
    /// The currency's code, if its mark is there.
    pub(crate) currency: Option<String>,
}

/// What a row says of its price.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Priced {
    /// The price of one, with two decimals.
    pub(crate) price: Option<String>,
    /// The currency's code.
    pub(crate) currency: Option<String>,
    /// The text without its amounts.
    pub(crate) rest: String,
    /// Two amounts or more of which none is told to be the price.
    pub(crate) torn: Vec<Amount>,
    /// What it may cost at the most.
    pub(crate) limit: Option<String>,
    /// Whether the row says that the price is that of one: "9.90 each", "@ 9.90".
    pub(crate) each: bool,
    /// The sum of several, where no price of one is said: "£165 the set".
    pub(crate) sum: Option<Amount>,
}

/// Whether a cell is a price and nothing else.
pub(crate) fn is_price(cell: &str) -> bool {
    let found = amounts(cell, true);
    match found.as_slice() {
        [one] => {
            let rest = cell.replacen(cell.get(one.range.clone()).unwrap_or(""), "", 1);
            rest.chars().all(|c| !c.is_alphanumeric())
        }
        _ => false,
    }
}

/// The amount of a cell that holds prices only.
pub(crate) fn of_cell(cell: &str) -> Option<Amount> {
    let trimmed = cell.trim();
    if words().has("no_price", &trimmed.to_lowercase()) {
        return None;
    }
    let found = amounts(cell, true);
    found.iter().find(|a| a.currency.is_some()).or(found.first()).cloned()
}

/// Takes the prices out of a row's text.
pub(crate) fn take(text: &str) -> Priced {
    let found = amounts(text, false);
    let mut rest = text.to_owned();
    let mut kept: Vec<(Amount, bool)> = Vec::new();
    let mut end = text.len();
    let (mut most, mut sums) = (None, Vec::new());
    for amount in found.iter().rev() {
        let before = text.get(..amount.range.start).unwrap_or("");
        let after = text.get(amount.range.end..end).unwrap_or("");
        end = amount.range.start;
        let (lead, trail) = (last_words(before), first_words(after));
        let leads = |set: &str| lead.iter().any(|(phrase, _)| words().has(set, phrase));
        let says = |set: &str| {
            let bare = |t: &str| words().has(set, t.strip_prefix('/').unwrap_or(t));
            leads(set) || trail.iter().any(|(phrase, _)| bare(phrase))
        };
        let was = leads("before");
        let together = says("together") || before.trim_end().ends_with('=');
        let mut range = amount.range.clone();
        // `2x 199,00`: the price of one, and the count once more.
        let times = times_before(before);
        range.start = times.filter(|at| *at > 0).unwrap_or(range.start);
        let each = says("each") || times.is_some();
        // "Max. 620": what it may cost is no price.
        let limit = leads("limit");
        if limit {
            most = Some(amount.value.clone());
        }
        if !was && !together && !limit {
            kept.push((amount.clone(), each));
        }
        if together && !was && !limit {
            sums.push(amount.clone());
        }
        with_its_words(&mut range, amount.range.end, &lead, &trail);
        rest.replace_range(range, " \u{3} ");
    }
    kept.reverse();
    let each = kept.iter().find(|(_, each)| *each);
    let one = each.or_else(|| kept.first());
    let distinct = kept.iter().any(|(a, _)| Some(&a.value) != kept.first().map(|(f, _)| &f.value));
    let rest = rest.replace('\u{3}', "|");
    if each.is_none() && distinct {
        let torn = kept.into_iter().map(|(amount, _)| amount).collect();
        return Priced { rest, torn, limit: most, ..Priced::default() };
    }
    let (price, currency) = match one {
        Some((amount, _)) => (Some(amount.value.clone()), amount.currency.clone()),
        None => (None, None),
    };
    let only = sums.pop().filter(|_| sums.is_empty() && price.is_none());
    let each = each.is_some();
    Priced { price, currency, rest, torn: Vec::new(), limit: most, sum: only, each }
}

/// A bare number at the end of a row that may be its price.
pub(crate) struct BareEnd<'t> {
    /// What stands before it.
    pub(crate) before: &'t str,
    /// The amount, with two decimals.
    pub(crate) value: String,
    pub(crate) number: f64,
    /// Whether a word such as "around" says that it is a price.
    pub(crate) said: bool,
    /// Whether only a blank parts it from what stands before.
    pub(crate) joined: bool,
}

/// The bare number that may be a row's price, behind a blank, a comma, a dash or a word such as
/// "around", or in a column of its own.
pub(crate) fn bare_end(text: &str, column: bool) -> Option<BareEnd<'_>> {
    let mut trimmed = text.trim_end_matches([' ', '|', '.', ')']);
    // "around 70 each", "70 on sale this week"
    let mut each = false;
    for set in ["offered", "each"] {
        if let Some(said) = words().find(set, trimmed).pop().filter(|r| r.end == trimmed.len()) {
            trimmed = trimmed.get(..said.start)?.trim_end();
            each = set == "each";
        }
    }
    let start = trimmed
        .rfind(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')))
        .map(|at| at + 1)?;
    let digits = trimmed.get(start..)?;
    let gap = trimmed.get(..start)?;
    let before = gap.trim_end_matches([' ', '\t']);
    if before.len() == start && !gap.ends_with(['~', '≈']) || digits.starts_with(['.', ',']) {
        return None;
    }
    let (value, _) = value_of(digits)?;
    let number: f64 = value.parse().ok().filter(|n| (5.0..100_000.0).contains(n))?;
    let about = words().find("about", before).pop().filter(|r| r.end == before.len());
    let said = each || about.is_some() || gap.ends_with(['~', '≈']);
    let before = before.get(..about.map_or(before.len(), |r| r.start))?.trim_end();
    let marks = [' ', ',', '-', '–', '—', '(', '~', '≈', '=', '?'];
    let bare = before.trim_end_matches(marks);
    let joined = !(said || column || bare.len() < before.len());
    Some(BareEnd { before: bare, value, number, said, joined })
}

/// One to three words beside an amount, and where each begins, or how long it is.
type Beside = Vec<(String, usize)>;

/// The words that go with an amount go too.
fn with_its_words(range: &mut Range<usize>, end: usize, lead: &Beside, trail: &Beside) {
    let known = |sets: &[&str], phrase: &str| {
        !phrase.is_empty() && sets.iter().any(|s| words().has(s, phrase))
    };
    let before = ["each", "together", "before", "at_price", "at_each", "limit"];
    if let Some((_, start)) = lead.iter().rev().find(|(phrase, _)| known(&before, phrase)) {
        range.start = *start;
    }
    let bare = |phrase: &str| phrase.strip_prefix('/').unwrap_or(phrase).to_owned();
    let behind = |(phrase, _): &&(String, usize)| known(&["each", "together"], &bare(phrase));
    if let Some((_, length)) = trail.iter().rev().find(behind) {
        range.end = end + length;
    }
}

/// Where the count begins that stands at once before an amount: `2x 199,00`.
fn times_before(before: &str) -> Option<usize> {
    let trimmed = before.trim_end();
    let number = trimmed.strip_suffix(['x', '×', '*'])?.trim_end();
    let digits = number.trim_end_matches(|c: char| c.is_ascii_digit());
    let count = number.len() - digits.len();
    ((1..=2).contains(&count) && !digits.ends_with(char::is_alphanumeric)).then_some(digits.len())
}

/// The last one to three words of a text, and where each begins.
fn last_words(text: &str) -> Beside {
    let trimmed =
        text.trim_end_matches(|c: char| c.is_whitespace() || matches!(c, ':' | '(' | '~'));
    let ranges = split_words(trimmed);
    let starts = ranges.iter().rev().take(3).map(|r| r.start);
    starts.map(|start| (trimmed.get(start..).unwrap_or("").to_lowercase(), start)).collect()
}

/// The first one to three words of a text, and how long each is from the text's start.
fn first_words(text: &str) -> Beside {
    let ranges = split_words(text);
    let Some(first) = ranges.first() else { return Vec::new() };
    // Only what follows at once goes with the amount.
    let gap = text.get(..first.start).unwrap_or("");
    if gap.contains([',', ';', '&', '+', '|']) || gap.chars().count() > 3 {
        return Vec::new();
    }
    let ends = ranges.iter().take(3).map(|r| r.end);
    ends.map(|end| (text.get(first.start..end).unwrap_or("").to_lowercase(), end)).collect()
}

fn split_words(text: &str) -> Vec<Range<usize>> {
    let mut out: Vec<Range<usize>> = Vec::new();
    let mut start = None;
    for (at, c) in text.char_indices().chain([(text.len(), ' ')]) {
        let inside = !c.is_whitespace() && !matches!(c, ',' | ';' | '(' | ')' | '|' | ':' | '.');
        match (inside, start) {
            (true, None) => start = Some(at),
            (false, Some(from)) => {
                out.push(from..at);
                start = None;
            }
            _ => {}
        }
    }
    out
}

/// Amounts of money in a text. Without a currency's mark a number is one only if `bare`, or if it
/// has two decimals and no unit.
pub(crate) fn amounts(text: &str, bare: bool) -> Vec<Amount> {
    let chars: Vec<(usize, char)> = text.char_indices().collect();
    let mut out = Vec::new();
    let mut i = 0;
    while let Some((start, c)) = chars.get(i).copied() {
        let inside = i > 0
            && chars
                .get(i - 1)
                .is_some_and(|(_, p)| p.is_alphanumeric() && !is_mark_end(text, start));
        if !c.is_ascii_digit() || inside {
            i += 1;
            continue;
        }
        let j = number_end(text, &chars, i);
        let end = chars.get(j).map_or(text.len(), |(p, _)| *p);
        let number = text.get(start..end).unwrap_or("");
        let (end, dash) = whole_mark(text, end);
        let before = mark_before(text, start);
        // In "Qty: 1 € 549.00" the mark is that of the amount behind it.
        let ahead = |at: usize| !number.contains(['.', ',']) && decimals_ahead(text, at);
        let after = if before.is_some() { None } else { mark_after(text, end) };
        let cents = after.as_ref().and_then(|(at, _)| cents_behind(text, *at));
        let after = after.filter(|(at, _)| !ahead(*at));
        let marked = before.is_some() || after.is_some();
        let (split, after) = match (cents, after) {
            // `5€95` and `24 euro 90`.
            (Some((digits, to)), Some((_, code))) if !number.contains(['.', ',']) => {
                (Some(format!("{number}.{digits}")), Some((to, code)))
            }
            (_, after) => (None, after),
        };
        if let Some((value, decimals)) = value_of(split.as_deref().unwrap_or(number)) {
            let plain =
                decimals == 2 && !text.get(end..).is_some_and(has_unit) && stands_last(text, end);
            if marked
                || bare
                || plain
                || dash
                || leads_to_price(text, start, end) && closes(text, end)
            {
                let from = before.as_ref().map_or(start, |(at, _)| *at);
                let to = after.as_ref().map_or(end, |(at, _)| *at);
                let currency = before.or(after).map(|(_, code)| code);
                out.push(Amount { range: from..to, value, currency });
            }
        }
        i = j.max(i + 1);
        while chars
            .get(i)
            .is_some_and(|(p, _)| out.last().is_some_and(|a: &Amount| *p < a.range.end))
        {
            i += 1;
        }
    }
    out
}

/// Whether what stands beside a number says that it is a price: `@ 89`, `at 89 each`.
fn leads_to_price(text: &str, start: usize, end: usize) -> bool {
    let lead = last_words(text.get(..start).unwrap_or(""));
    let leads = |set| lead.iter().any(|(phrase, _)| words().has(set, phrase));
    let each = || {
        let trail = first_words(text.get(end..).unwrap_or(""));
        trail.iter().any(|(phrase, _)| words().has("each", phrase))
    };
    leads("at_price") || leads("at_each") && each()
}

/// Whether no unit and no word of the part follows a number.
fn closes(text: &str, end: usize) -> bool {
    let after = text.get(end..).unwrap_or("");
    !has_unit(after)
        && (stands_last(text, end)
            || !after.trim_start().starts_with(char::is_alphanumeric)
            || super::sums::offered(after))
}

fn is_mark_end(text: &str, at: usize) -> bool {
    text.get(..at).is_some_and(|t| {
        let word: String = t
            .chars()
            .rev()
            .take_while(|c| c.is_alphabetic())
            .collect::<Vec<_>>()
            .into_iter()
            .rev()
            .collect();
        words().currency(&word).is_some()
    })
}

/// Two digits at once behind a mark, and nothing of a number or word behind them; where they end.
fn cents_behind(text: &str, at: usize) -> Option<(String, usize)> {
    let after = text.get(at..)?;
    // `24 euro 90`; `198 € 90` only where nothing else follows.
    let spelled = text.get(..at)?.ends_with(char::is_alphabetic);
    let alone = after
        .trim_end_matches([' ', '|'])
        .get(3..)
        .is_none_or(|t| t.starts_with(')') || t.is_empty());
    let gap = usize::from(after.starts_with(' ') && (spelled || alone));
    let digits = after.get(gap..gap + 2).filter(|d| d.chars().all(|c| c.is_ascii_digit()))?;
    let next = after.get(gap + 2..)?.chars().next();
    let ends = next.is_none_or(|c| !c.is_alphanumeric() && !matches!(c, '.' | '"'));
    (ends && stands_last(text, at + gap + 2)).then(|| (digits.to_owned(), at + gap + 2))
}

/// `159,-` and `159.–`.
fn whole_mark(text: &str, end: usize) -> (usize, bool) {
    for mark in [",-", ",–", ",—", ".-", ".–", ".—"] {
        if text.get(end..).is_some_and(|t| t.starts_with(mark)) {
            return (end + mark.len(), true);
        }
    }
    (end, false)
}

fn mark_before(text: &str, start: usize) -> Option<(usize, String)> {
    let before = text.get(..start)?;
    let trimmed = before.trim_end_matches([' ', '\u{a0}', '\u{202f}']);
    if before.len() - trimmed.len() > 4 {
        return None;
    }
    let last = trimmed.chars().next_back()?;
    let word: String = if last.is_alphabetic() || last == '.' {
        let back: Vec<char> =
            trimmed.chars().rev().take_while(|c| c.is_alphabetic() || *c == '.').collect();
        back.into_iter().rev().collect()
    } else {
        last.to_string()
    };
    let code = words().currency(&word)?;
    // "euro 5" counts, but the mark of the amount before does not.
    let at = trimmed.len() - word.len();
    let earlier = trimmed.get(..at).unwrap_or("").trim_end();
    let number = earlier.rsplit(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ','))).next();
    let own = trimmed.len() == before.len() && earlier.len() < at;
    let taken = !own
        && earlier.ends_with(|c: char| c.is_ascii_digit())
        && !(number.is_some_and(|n| !n.contains(['.', ','])) && decimals_ahead(text, start));
    (!taken).then(|| (at, code.to_owned()))
}

fn mark_after(text: &str, end: usize) -> Option<(usize, String)> {
    let after = text.get(end..)?;
    let trimmed = after.trim_start_matches([' ', '\u{a0}', '\u{202f}']);
    if after.len() - trimmed.len() > 4 {
        return None;
    }
    // In "Swash 6 £90" the mark is that of what stands at once behind it.
    let next = trimmed.chars().nth(1).is_some_and(|c| c.is_ascii_digit());
    if next && trimmed.len() < after.len() {
        return None;
    }
    let letters: String = trimmed.chars().take_while(|c| c.is_alphabetic()).collect();
    let word = if letters.is_empty() { trimmed.chars().take(1).collect() } else { letters };
    let code = words().currency(&word)?;
    Some((end + (after.len() - trimmed.len()) + word.len(), code.to_owned()))
}

/// Whether a number with two decimals follows at once.
fn decimals_ahead(text: &str, at: usize) -> bool {
    let after = text.get(at..).unwrap_or("").trim_start_matches([' ', '\u{a0}', '\u{202f}']);
    let end = after.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')));
    let number = after.get(..end.unwrap_or(after.len())).unwrap_or("").trim_end_matches(['.', ',']);
    value_of(number).is_some_and(|(_, decimals)| decimals == 2)
        && after.starts_with(|c: char| c.is_ascii_digit())
}

/// Whether nothing of the part follows: the end, a mark, or a word such as "each".
fn stands_last(text: &str, end: usize) -> bool {
    let after = text.get(end..).unwrap_or("");
    let first = after.trim_start().chars().next();
    let trail = first_words(after);
    let known = |set: &str| trail.iter().any(|(phrase, _)| words().has(set, phrase));
    let ends = after.strip_prefix('.').is_some_and(|t| t.is_empty() || t.starts_with(' '));
    ends || first.is_none_or(|c| matches!(c, ',' | ';' | '(' | ')' | '|' | '/'))
        || known("each")
        || known("together")
}

fn has_unit(after: &str) -> bool {
    let text = after.trim_start();
    let word: String = text.chars().take_while(|c| c.is_alphanumeric() || *c == '/').collect();
    !word.is_empty() && !words().units(&word.to_lowercase()).is_empty()
        || text.starts_with(['"', '″', '%'])
        || text.starts_with("''")
}

/// A number as `159.99`, and how many decimals it was given with.
pub(crate) fn value_of(number: &str) -> Option<(String, usize)> {
    let bare: String =
        number.chars().filter(|c| c.is_ascii_digit() || matches!(c, '.' | ',')).collect();
    if bare.len() > 15 {
        return None;
    }
    let last = bare.rfind(['.', ',']);
    let marks = bare.matches(['.', ',']).count();
    let (whole, cents) = match last {
        None => (bare.clone(), String::new()),
        Some(at) => {
            let behind = bare.get(at + 1..)?.to_owned();
            let mark = bare.chars().nth(at)?;
            let same = bare.matches(mark).count();
            // Three digits behind the only mark, or behind one of several alike: thousands.
            if same > 1 || behind.len() == 3 && marks == 1 {
                (bare.clone(), String::new())
            } else {
                (bare.get(..at)?.to_owned(), behind)
            }
        }
    };
    let whole: String = whole.chars().filter(char::is_ascii_digit).collect();
    let whole = whole.trim_start_matches('0');
    if cents.len() > 2 {
        return None;
    }
    let whole = if whole.is_empty() { "0" } else { whole };
    Some((format!("{whole}.{cents:0<2}"), cents.len()))
}

#[cfg(test)]
#[path = "../../tests/unit/intake/price.rs"]
mod tests;
