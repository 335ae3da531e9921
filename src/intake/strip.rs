//! What stands around a part in a row: counts, prices, "already bought", remarks, talk.

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::Meaning;
use super::rows::RawRow;
use super::words::{plain, word_ranges, words};
use super::{count, price};
use crate::source::Problem;

/// Most that a bare number before a name counts.
const MOST_IN_PLURAL: u32 = 12;

/// A row's text with the words around the part taken out.
pub(super) struct Stripped {
    pub(super) text: String,
    pub(super) count: Option<u32>,
    pub(super) price: Option<String>,
    pub(super) currency: Option<String>,
    pub(super) owned: bool,
    pub(super) vague: bool,
    /// What it may cost at the most.
    pub(super) limit: Option<String>,
    pub(super) two_prices: bool,
}

impl Interpreter<'_> {
    pub(super) fn strip(&self, raw: &RawRow, text: &str) -> Result<Stripped, Problem> {
        let bad = |count: String| {
            Problem::new(format!(
                "line {}: a count of {} is no count of parts",
                raw.line,
                crate::words::clip(&count, 20)
            ))
            .help("a row takes 1 to 99 of a part; correct the row and try again")
        };
        let priced = price::take(text);
        let mut rest = without_age(&priced.rest);
        let owned = self.take_phrases("owned", &mut rest)
            | self.says("owned", &raw.note)
            | self.says("owned", &raw.price)
            | self.take_have(&mut rest)
            | words().has("have", &plain(&raw.note));
        // What names a kind and the most that it may cost leaves the part open.
        let named = || items(self.lexicon, &rest).iter().any(|i| self.names_family(i));
        let limited = priced.limit.is_some() && !named();
        let vague = self.take_phrases("vague", &mut rest) || limited;
        let (own, rest) =
            count::take(&rest, &|w| self.lexicon.named_whole(w, &rest)).map_err(bad)?;
        let (own, rest) = match own {
            None => self.plural(raw, text, &rest).map_or((None, rest), |(n, rest)| (Some(n), rest)),
            own => (own, rest),
        };
        let count = match count::of_cell(&raw.count).map_err(bad)? {
            Some(count) => Some(count),
            None => own,
        };
        let cell = price::of_cell(&raw.price);
        let stated = !raw.price.trim().is_empty();
        let currency_cell =
            words().currency(raw.currency.trim()).map(str::to_owned).or_else(|| {
                (raw.currency.trim().len() == 3).then(|| raw.currency.trim().to_uppercase())
            });
        let (price, currency) = match cell {
            Some(amount) => (Some(amount.value), amount.currency.or(currency_cell)),
            None if stated => (None, None),
            None => (priced.price, priced.currency),
        };
        let currency = currency.filter(|_| price.is_some());
        Ok(Stripped {
            text: rest,
            count,
            price,
            currency,
            owned,
            vague,
            limit: priced.limit,
            two_prices: priced.two,
        })
    }

    /// `3 Lull 120 fans`: a bare number before a name counts where the kind behind it is in the
    /// plural; a number alone may as well number the rows.
    ///
    /// Within a row a number before a family's name counts.
    fn plural(&self, raw: &RawRow, whole: &str, text: &str) -> Option<(u32, String)> {
        let (number, rest) = text.trim_start().split_once(' ')?;
        let number = number.parse::<u32>().ok().filter(|n| (2..=MOST_IN_PLURAL).contains(n))?;
        let named = |word: &str| self.lexicon.names.contains_key(&word.to_lowercase());
        let first = rest.split_whitespace().next().unwrap_or("");
        let family = items(self.lexicon, first).iter().any(|i| self.names_family(i));
        if family && named(first) && !raw.text.trim_start().starts_with(whole.trim_start()) {
            return Some((number, rest.to_owned()));
        }
        let last = rest.split_whitespace().last().filter(|word| word.ends_with(['s', 'S']))?;
        let kind = items(self.lexicon, last)
            .iter()
            .any(|i| i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_))));
        (kind && named(first)).then(|| (number, rest.to_owned()))
    }

    /// Takes "(have)" out of a text.
    fn take_have(&self, text: &mut String) -> bool {
        let found = text.match_indices('(').find_map(|(open, _)| {
            let close = text.get(open..)?.find(')')? + open;
            let inner = text.get(open + 1..close)?;
            words().has("have", &plain(inner)).then_some(open..close + 1)
        });
        found.inspect(|range| text.replace_range(range.clone(), "|")).is_some()
    }

    fn says(&self, set: &str, text: &str) -> bool {
        !words().find(set, text).is_empty()
    }

    /// Cuts the phrases of a set out of a text; a word that parts are named by stays.
    fn take_phrases(&self, set: &str, text: &mut String) -> bool {
        let mut any = false;
        for range in words().find(set, text).into_iter().rev() {
            let phrase = plain(text.get(range.clone()).unwrap_or(""));
            let known =
                !phrase.contains(' ') && self.lexicon.knows(&super::tokens::compact(&phrase));
            // "Keep" within a name is a part of it; at the end of a clause it is a word on the
            // part.
            let single = set == "owned" && !phrase.contains(' ');
            let named = || within_clause(text, &range) || is_capital_behind_a_word(text, &range);
            if !(known || single && named()) {
                any = true;
                text.replace_range(range, "|");
            }
        }
        any
    }

    /// Drops remarks: brackets, and clauses behind a mark, that say nothing of the part.
    pub(super) fn without_asides(&self, text: &str) -> String {
        let mut out = text.to_owned();
        for mark in ["//", " # ", " -- "] {
            if let Some((before, after)) = out.split_once(mark)
                && !items(self.lexicon, after)
                    .iter()
                    .any(|i| self.names_family(i) && i.names.iter().any(|(_, s)| *s == 1.0))
            {
                out = before.to_owned();
            }
        }
        for range in words().find("purpose", &out) {
            let behind = out.get(range.end..).unwrap_or("");
            let stop = behind.find([',', ';', '(', ')', '|']).unwrap_or(behind.len());
            let told = behind.get(..stop).unwrap_or("");
            let list = items(self.lexicon, told);
            // One word of a name may be any word; a name has more of them.
            let named = list.iter().any(|i| self.names_family(i))
                && list.iter().filter(|i| !i.names.is_empty()).count() > 1;
            if !named && list.iter().all(|i| i.readings.is_empty()) {
                out.replace_range(range.start..range.end + stop, "|");
                break;
            }
        }
        let mut from = 0;
        while let Some(open) = out.get(from..).and_then(|t| t.find('(')).map(|o| o + from) {
            let close =
                out.get(open..).and_then(|t| t.find(')')).map_or(out.len(), |c| open + c + 1);
            let inner = out.get(open..close).unwrap_or("").to_owned();
            if self.is_aside(&inner) {
                out.replace_range(open..close, "|");
                from = open + 1;
            } else {
                from = close;
            }
        }
        let clauses: Vec<&str> = out
            .split(['|', ';'])
            .flat_map(|c| c.split(", "))
            .flat_map(|c| c.split(" - "))
            .flat_map(|c| c.split(" – "))
            .collect();
        if clauses.len() < 2 {
            return out;
        }
        let kept: Vec<&str> =
            clauses.iter().copied().filter(|c| !c.trim().is_empty() && !self.is_aside(c)).collect();
        if kept.is_empty() { out } else { kept.join(", ") }
    }

    fn is_aside(&self, text: &str) -> bool {
        let list = items(self.lexicon, text);
        let ranges = word_ranges(text);
        let talk = ranges
            .iter()
            .filter(|r| words().has("prose", &plain(text.get((*r).clone()).unwrap_or(""))))
            .count();
        let guessed = |i: &Item| {
            i.fuzzy
                || i.meanings.is_empty()
                    && !i.names.is_empty()
                    && i.names.iter().all(|(_, s)| *s < 0.9)
        };
        let loose = list.iter().filter(|i| i.is_loose() || guessed(i)).count();
        let known = list.iter().filter(|i| !i.is_loose() && !i.filler && !guessed(i)).count();
        let family =
            list.iter().any(|i| self.names_family(i) && i.names.iter().any(|(_, s)| *s == 1.0));
        let strong = list
            .iter()
            .any(|i| !i.meanings.is_empty() || !i.readings.is_empty() || i.pack.is_some());
        if family {
            return false;
        }
        known == 0
            || talk.max(loose) > known
            || talk + loose > 0 && !strong && talk.max(loose) >= known
    }
}

/// Without "2 years old": an age tells no part from another.
fn without_age(text: &str) -> String {
    let mut out = text.to_owned();
    for range in words().find("age", text).into_iter().rev() {
        let before = text.get(..range.start).unwrap_or("").trim_end();
        let number =
            before.trim_end_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
        if number.len() < before.len() {
            out.replace_range(number.len()..range.end, "|");
        }
    }
    out
}

/// Whether words of the same clause stand on both sides.
fn within_clause(text: &str, range: &std::ops::Range<usize>) -> bool {
    let inside = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '.');
    inside(text.get(..range.start).and_then(|t| t.trim_end().chars().next_back()))
        && inside(text.get(range.end..).and_then(|t| t.trim_start().chars().next()))
}

/// Whether a word has a capital and stands behind another with no mark between: "Netloft Keep".
fn is_capital_behind_a_word(text: &str, range: &std::ops::Range<usize>) -> bool {
    let before = text.get(..range.start).and_then(|t| t.trim_end().chars().next_back());
    let first = text.get(range.clone()).and_then(|t| t.chars().next());
    before.is_some_and(char::is_alphanumeric) && first.is_some_and(char::is_uppercase)
}

/// The name of an unknown part: what the row says, without its count, price and remarks.
pub(super) fn part_name(raw: &RawRow, text: &str) -> String {
    let priced = price::take(text).rest;
    let mut bare = count::take(&priced, &|_| false).map_or(priced.clone(), |(_, rest)| rest);
    // "From the old PC" says whose it is; a single word such as "keep" may be a piece of the name.
    for range in words().find("owned", &bare).into_iter().rev() {
        if bare.get(range.clone()).is_some_and(|phrase| phrase.contains(' ')) {
            bare.replace_range(range, "|");
        }
    }
    let name = tidy(&bare.replace('|', " ").replace("( )", "").replace("()", ""))
        .trim_matches(['"', '“', '”', '„'])
        .trim()
        .to_owned();
    let maker = raw.maker.trim();
    if maker.is_empty() || name.to_lowercase().contains(&maker.to_lowercase()) {
        name
    } else {
        format!("{maker} {name}")
    }
}

/// One blank between words, no marks at the ends.
pub(super) fn tidy(text: &str) -> String {
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ").replace(" ,", ",");
    joined.trim_matches([' ', ',', ';', '-', '–', '|', ':', '&', '+']).trim().to_owned()
}

/// Whether a line is talk: a sentence, a question, a greeting.
pub(super) fn is_talk(text: &str) -> bool {
    let ranges = word_ranges(text);
    let count = ranges.len();
    let talk = ranges
        .iter()
        .filter(|r| words().has("prose", &plain(text.get((*r).clone()).unwrap_or(""))))
        .count();
    let trimmed = text.trim_end();
    let ends = trimmed.ends_with(['?', '!']) || trimmed.ends_with('.') && count > 4;
    if count <= 2 {
        return talk == count || trimmed.ends_with(['?', '!']);
    }
    talk * 3 >= count || ends && talk * 6 >= count
}
