//! What stands around a part in a row: counts, prices, "already bought", remarks, talk.

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::Meaning;
use super::price::Priced;
use super::rows::RawRow;
use super::segments::to_clause_end;
use super::tokens::Token;
use super::words::{cut, plain, word_ranges, words};
use super::{count, packs, price, sums};
use crate::build::read::MAX_COUNT;
use crate::source::Problem;

/// A row's text with the words around the part taken out.
#[derive(Default)]
pub(super) struct Stripped {
    pub(super) text: String,
    pub(super) count: Option<u32>,
    pub(super) price: Option<String>,
    pub(super) currency: Option<String>,
    pub(super) owned: bool,
    pub(super) vague: bool,
    /// What it may cost at the most.
    pub(super) limit: Option<String>,
    /// Whether it limits something by a number of which it does not say what it is.
    pub(super) limited: bool,
    pub(super) two_prices: bool,
    /// Whether the row or its column says that the price is that of one.
    pub(super) priced_each: bool,
    /// The sum of several that does not come out even.
    pub(super) uneven_sum: Option<String>,
}

impl Interpreter<'_> {
    /// "Gale 8 (or something around 250 euros)": without what may come instead, which is no part
    /// and whose price is not the row's.
    pub(super) fn without_loose_choice(&self, text: &str) -> String {
        let loose = words().find("alternative", text).into_iter().find_map(|range| {
            let behind = text.get(range.end..)?;
            let clause = super::segments::to_clause_end(behind);
            let amount = !super::price::amounts(clause, false).is_empty();
            let vague = words().says("vague", clause);
            let named = self.named(&items(self.lexicon, text.get(..range.start)?));
            let loose = amount && vague && named && !self.named(&items(self.lexicon, clause));
            loose.then_some(range.start..range.end + clause.len())
        });
        loose.map_or_else(|| text.to_owned(), |range| cut(text, range, ""))
    }

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
        let mut rest = without_sum_of_sizes(&without_age(&priced.rest));
        let seen = words().says("seen", text);
        let owned = self.take_phrases("owned", &mut rest)
            | claims(&raw.note)
            | words().has("kept", &plain(&raw.note))
            | raw.owned
            | words().says("owned", &raw.price)
            | self.take_have(&mut rest)
            | words().has("have", &plain(&raw.note))
            | self.is_old(self.label(text).map_or(text, |(_, rest)| rest))
            | already_there(text)
            | has(text)
            | self.is_mine(text);
        let owned = owned && !(seen && priced.price.is_some());
        // What names a kind and the most that it may cost leaves the part open.
        let limited = self.take_limits(&mut rest);
        let named = items(self.lexicon, &rest).iter().any(|i| self.names_family(i));
        let open = (limited || priced.limit.is_some()) && !named;
        let vague = self.take_phrases("vague", &mut rest) || open;
        let (pack, without) = packs::pack(&rest).unwrap_or((1, rest.clone()));
        let (own, without) =
            count::take(&without, &|w| self.lexicon.named_whole(w, &rest)).map_err(bad)?;
        // Packs of three are counted, or one is.
        let rest = if pack > 1 || own.is_some() { without } else { rest };
        let own = if pack > 1 && own.is_none() { Some(1) } else { own };
        let (own, rest) = match own {
            None => self.plural(raw, text, &rest).map_or((None, rest), |(n, rest)| (Some(n), rest)),
            own => (own, rest),
        };
        let count = match count::of_cell(&raw.count).map_err(bad)? {
            Some(count) => Some(count),
            None => own,
        };
        let count = match count.map(|n| n.saturating_mul(pack)) {
            Some(all) if all > MAX_COUNT => return Err(bad(all.to_string())),
            all => all,
        };
        let asked = count.unwrap_or(1);
        let costs = self.cost(raw, &priced, asked);
        let limit = priced.limit;
        Ok(Stripped { text: rest, count, owned, vague, limit, limited, ..costs })
    }

    /// Whether a text begins with whose or how old its part is: "my", "old". A name may begin so.
    fn is_old(&self, text: &str) -> bool {
        let low = plain(text);
        let first = low.split(' ').next().unwrap_or("");
        let list = || items(self.lexicon, text);
        let named = |word| !self.lexicon.names.contains_key(word);
        let other = || list().iter().any(|i| self.names_proper(i) && self.names_exactly(i));
        words().begins("old_own", &low).is_some()
            && (named(first) || other() || !text.contains(|c: char| c.is_ascii_digit()))
    }

    /// Whether a part of a kind has the word in its name that an item may be.
    fn is_of_kind(&self, item: &Item, kind: u16) -> bool {
        self.words_of(item, 0.85).any(|word| word.kinds.contains(&kind))
    }

    /// "I move my Gannet Fetch 8 over": whose a part is stands at once before its name. "A cooler
    /// for my Dotterel 508" and "a cable to connect my Offing 27" are of another.
    pub(super) fn is_mine(&self, text: &str) -> bool {
        let text = self.label(text).map_or(text, |(_, rest)| rest);
        words().find("mine", text).into_iter().any(|range| {
            let list = items(self.lexicon, text.get(range.end..).unwrap_or(""));
            let before = text.get(..range.start).unwrap_or("").trim_end();
            let last = plain(before.rsplit(' ').next().unwrap_or(""));
            let sets = ["bare_purpose", "beside", "instead"];
            let other = |i: &Item| {
                let of_kind = |kind| list.first().is_some_and(|own| self.is_of_kind(own, kind));
                self.names_family(i) || i.kind().is_some_and(|kind| !of_kind(kind))
            };
            let of_other = sets.iter().any(|set| words().has(set, &last))
                || items(self.lexicon, before).iter().any(other);
            !of_other && list.first().is_some_and(|i| self.names_proper(i) && i.is_exact())
        })
    }

    /// What one costs, by the price's cell or the row's words.
    fn cost(&self, raw: &RawRow, priced: &Priced, count: u32) -> Stripped {
        let cell = price::of_cell(&raw.price);
        let stated = !raw.price.trim().is_empty();
        let code = raw.currency.trim();
        let spelled = || (code.len() == 3).then(|| code.to_uppercase());
        let currency_cell = words().currency(code).map(str::to_owned).or_else(spelled);
        let (price, currency) = match cell {
            Some(amount) => (Some(amount.value), amount.currency.or(currency_cell)),
            None if stated => (None, None),
            None => (priced.price.clone(), priced.currency.clone()),
        };
        let one = sums::one_of(&priced.torn, count);
        let two_prices = !priced.torn.is_empty() && one.is_none() && !stated;
        let (price, currency) = match one.filter(|_| price.is_none() && !stated) {
            Some(one) => (Some(one.value), one.currency),
            None => (price, currency),
        };
        // "54 € for all three" in a column of prices, or in the row.
        let sum = priced.sum.as_ref().filter(|_| price.is_none() && !stated);
        // "3er-Pack | 24,90": what the pack costs.
        let packed = packs::pack(&raw.count).is_some();
        let summed = packed || raw.summed || words().says("together", &raw.price) || sum.is_some();
        let (price, currency) = match sum {
            Some(sum) => (Some(sum.value.clone()), sum.currency.clone()),
            None => (price, currency),
        };
        let priced_each =
            raw.priced_each || priced.each || words().says("each", &raw.price) || summed;
        let (price, uneven_sum) = sums::parted(price, summed, count);
        let currency = currency.filter(|_| price.is_some());
        Stripped { price, currency, two_prices, priced_each, uneven_sum, ..Stripped::default() }
    }

    /// Takes "(have)" out of a text, and ", have" off its end or from before a bracket.
    fn take_have(&self, text: &mut String) -> bool {
        // "Keyboard – have", "the keyboard she has", "monitor we have (27 inch)", "printer stays"
        let clause = |end: &usize| text.get(..*end).unwrap_or("").trim_end_matches(FILL);
        let last = |bare: &str| {
            let ends = |set| words().find(set, bare).pop().filter(|r| r.end == bare.len());
            let (last, kept) =
                ends("kept").map(|r| (r, true)).or(ends("have").map(|r| (r, false)))?;
            let before = bare.get(..last.start).filter(|before| !before.is_empty())?;
            let marked = before.trim_end().ends_with([',', '|', ';', '-', '–', '—']);
            let said = kept || marked || bare.get(last.clone())?.contains(' ');
            let name = kept && is_capital_behind_a_word(bare, &last);
            (said && !name && !is_not_there(bare, &last)).then_some(last)
        };
        // "Monitor stays, 27 inch"
        let clauses = text.match_indices([',', ';', ':']).map(|(at, _)| at);
        let kept = |range: &std::ops::Range<usize>| {
            text.get(range.clone()).is_some_and(|said| words().says("kept", said))
        };
        let ends = [Some(text.len()), text.find(" (")].into_iter().flatten();
        let ends = ends.map(|end| (end, false)).chain(clauses.map(|end| (end, true)));
        let said = ends.into_iter().find_map(|(end, within)| {
            // "Printer stays, Dotterel 606P" goes on with another, "monitor stays, Offing 27" not.
            let behind = items(self.lexicon, text.get(end + 1..).unwrap_or(""));
            let kind = items(self.lexicon, clause(&end)).iter().find_map(Item::kind);
            let of_it = |i: &Item| kind.is_some_and(|kind| self.is_of_kind(i, kind));
            let name = behind.first().is_some_and(of_it)
                && behind.iter().all(|i| !i.prose && !i.is_loose());
            let goes_on = || self.named(&behind) && !name;
            let kept = |range: &_| !within || kept(range) && !goes_on();
            let range = last(clause(&end)).filter(kept)?;
            Some((range, end))
        });
        if let Some((range, end)) = said {
            text.replace_range(range.start..end, "|");
            return true;
        }
        let found = text.match_indices('(').find_map(|(open, _)| {
            let close = text.get(open..)?.find(')')? + open;
            let inner = text.get(open + 1..close)?;
            words().has("have", &plain(inner)).then_some(open..close + 1)
        });
        found.inspect(|range| text.replace_range(range.clone(), "|")).is_some()
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
            let not_there = || set == "owned" && is_not_there(text, &range);
            if !(known || single && named() || not_there()) {
                any = true;
                text.replace_range(range, "|");
            }
        }
        any
    }

    /// Without what the part is for: "for the system", "for games".
    pub(super) fn without_purpose(&self, text: &str) -> String {
        let mut out = without_reasons(text);
        let text = &*out.clone();
        let of = |set, bare| words().find(set, text).into_iter().map(move |range| (range, bare));
        for (range, bare) in of("purpose", false).chain(of("bare_purpose", true)) {
            let behind = text.get(range.end..).unwrap_or("");
            let told = to_clause_end(behind);
            let list = items(self.lexicon, told);
            // One word of a name may be any word; a name has more of them.
            // "A cooler for my Dotterel 508" is no processor.
            let own = text.get(range.clone()).is_some_and(|said| words().says("mine", said));
            let named = !(own && range.start > 0)
                && list.iter().any(|i| self.names_family(i))
                && list.iter().filter(|i| !i.names.is_empty()).count() > 1;
            // "For mATX" says something of the part, and "for 90" what it costs.
            let of_it = |i: &Item| {
                !i.readings.is_empty()
                    || bare && i.number.is_some()
                    || bare && i.meanings.iter().any(|m| matches!(m, Meaning::Value { .. }))
            };
            let label = words().has("labels", &plain(told));
            // "For the data two Marl 20 TB"
            let first = told.trim_start().split(' ').next().filter(|_| named).unwrap_or("");
            if words().has("labels", &plain(first)) {
                let length = told.len() - told.trim_start().len() + first.len();
                out.replace_range(range.start..range.end + length, "|");
                break;
            }
            if label || !told.trim().is_empty() && !named && !list.iter().any(of_it) {
                out.replace_range(range.start..range.end + told.len(), "|");
                break;
            }
        }
        out
    }

    /// Drops remarks: brackets, and clauses behind a mark, that say nothing of the part.
    pub(super) fn without_asides(&self, text: &str) -> String {
        let mut out = text.to_owned();
        for mark in ["//", " # ", " -- "] {
            let Some((before, after)) = out.split_once(mark) else { continue };
            let list = items(self.lexicon, after);
            // "// second hand is fine" is no Offing Fine: a name has more words, or stands alone.
            let names = list.iter().filter(|i| !i.names.is_empty()).count();
            let named = list.iter().any(|i| self.names_exactly(i)) && (names > 1 || list.len() < 3);
            if !named && words().leads("alternative", after).is_none() {
                out = before.to_owned();
            }
        }
        out = self.without_purpose(&out);
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
            .flat_map(|c| c.split(" · "))
            .collect();
        if clauses.len() < 2 {
            return out;
        }
        let kept: Vec<&str> =
            clauses.iter().copied().filter(|c| !c.trim().is_empty() && !self.is_aside(c)).collect();
        if kept.is_empty() { out } else { kept.join(", ") }
    }

    fn is_aside(&self, text: &str) -> bool {
        // "(not the Holm C!)" says which is not meant, as does "the Quick is overkill".
        let bare = plain(text.trim_start_matches(['(', ' ']));
        // "Tarn 650, otherwise | 650 W gold": what stands behind it is a choice.
        if words().has("alternative", bare.trim_matches([' ', ',', ';'])) {
            return false;
        }
        let refused = is_talk(text) && words().says("faults", text);
        let not_there = words().says("owned", text) && !claims(text);
        if refused || not_there || words().begins("not_that", &bare).is_some() {
            return true;
        }
        let list = items(self.lexicon, text);
        // "(or 2x16 to save a few quid?)"
        let choice = words().leads("alternative", &bare).is_some();
        let which = |i: &Item| i.pack.is_some() || i.number.is_some() || !i.readings.is_empty();
        if choice && list.iter().any(which) {
            return false;
        }
        let ranges = word_ranges(text);
        // "The one with 12 GB" says something; its small words say nothing against that.
        let spoken = |r: &std::ops::Range<usize>| {
            let word = plain(text.get(r.clone()).unwrap_or(""));
            words().has("prose", &word) && !words().has("filler", &word)
        };
        let talk = ranges.iter().filter(|r| spoken(r)).count();
        let guessed = |i: &Item| {
            i.fuzzy
                || i.meanings.is_empty()
                    && !i.names.is_empty()
                    && i.names.iter().all(|(_, s)| *s < 0.9)
        };
        let loose = list.iter().filter(|i| i.is_loose() || guessed(i)).count();
        let known = list.iter().filter(|i| !i.is_loose() && !i.filler && !guessed(i)).count();
        let family = list.iter().any(|i| self.names_exactly(i));
        let strong = list.iter().any(|i| !i.meanings.is_empty() || i.is_figure());
        // "4800 is enough" says which.
        let rate = list.iter().any(|i| i.number.is_some_and(|n| n >= 1600.0));
        if family || (strong || rate) && loose == 0 && talk <= 2 {
            return false;
        }
        // "Lange Bauform (22110)": a figure or a value is no talk, whatever stands beside it.
        let most = if strong && talk == 0 { 3 * known } else { known };
        known == 0
            || talk.max(loose) > most
            || talk + loose > 0 && !strong && talk.max(loose) >= known
    }
}

/// Whether a text begins with "has" and asks for nothing.
fn has(text: &str) -> bool {
    words().leads("have_verbs", text).is_some() && !words().says("to_get", text)
}

/// Whether a clause behind the first begins with "already" and names no amount: "Netloft Hush,
/// already on the shelf"; or any ends in it that says who has it: "I have a Lade 1000 already".
fn already_there(text: &str) -> bool {
    let clauses = text.split([',', ';', '(', '–', '—', '|']).flat_map(|c| c.split(" - "));
    clauses.enumerate().any(|(at, clause)| {
        let mut said = clause.split_whitespace();
        let already =
            |word: Option<&str>| word.is_some_and(|w| words().has("already_begins", &plain(w)));
        let more = said.clone().count() > 1;
        let has = || words().says("have", clause);
        more && (at > 0 && already(said.next()) || already(said.next_back()) && has())
            && price::amounts(clause, false).is_empty()
    })
}

/// Without "ships in 2 days" and "because of the 10 gig network": when a part comes and why tells
/// it from no other.
fn without_reasons(text: &str) -> String {
    let mut out = text.to_owned();
    for set in ["comes_in", "because"] {
        for range in words().find(set, &out.clone()).into_iter().rev() {
            let told = out.get(range.end..).map_or(0, |behind| to_clause_end(behind).len());
            out.replace_range(range.start..range.end + told, "|");
        }
    }
    out
}

/// Of "2x48 GB so 192 GB in all" the kit: what all of it comes to is no size of one.
fn without_sum_of_sizes(text: &str) -> String {
    for range in words().find("in_all", text) {
        let before = text.get(..range.start).unwrap_or("").trim_end();
        let number = before.trim_end_matches(char::is_alphabetic);
        let unit = before.get(number.len()..).unwrap_or("");
        let number = number.trim_end().trim_end_matches(|c: char| c.is_ascii_digit());
        let digits =
            before.get(number.len()..).is_some_and(|t| t.starts_with(|c: char| c.is_ascii_digit()));
        let sized = |i: &Token| i.pack.is_some() || i.readings.iter().any(|r| r.unit == "GB");
        let is_sum = digits && super::units_of(unit).iter().any(|u| u == "GB");
        if is_sum && super::tokens::tokens(number).iter().any(sized) {
            let rest = text.get(range.end..).unwrap_or("");
            let so =
                words().find("so_many", number).pop().filter(|r| r.end == number.trim_end().len());
            let kept = number.get(..so.map_or(number.len(), |r| r.start)).unwrap_or("");
            return format!("{kept}|{rest}");
        }
    }
    text.to_owned()
}

/// What may stand between a claim and the end of its clause.
const FILL: [char; 4] = [' ', '.', '|', ')'];

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

/// Whether a text says that the customer has something.
pub(super) fn claims(text: &str) -> bool {
    words().find("owned", text).iter().any(|range| !is_not_there(text, range))
}

/// Of "you can have it used" and "if they have it": an offer, and not yet the customer's; of "the
/// old one is from 2009": told of, and not taken over.
fn is_not_there(text: &str, range: &std::ops::Range<usize>) -> bool {
    // "A case that stays quiet"
    let stays = text.get(range.clone()).is_some_and(|said| words().says("kept", said));
    let behind = text.get(range.end..).map(plain).unwrap_or_default();
    let before = text.get(..range.start).map(plain).unwrap_or_default();
    let wish = |word: Option<&str>| word.is_some_and(|word| words().has("wishes", word));
    stays && (wish(behind.split(' ').next()) || wish(before.rsplit(' ').next()))
        // "If you have it"
        || before.rsplit(' ').take(2).any(|word| words().has("offers", word))
        || words().begins("of_the_old", &behind).is_some()
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

/// One blank between words, no marks at the ends.
pub(super) fn tidy(text: &str) -> String {
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    // What a price left behind in brackets: "(my cousin sells it, )".
    let left = [(" ,", ","), (", )", ")"), (" )", ")"), ("( ", "("), ("(, ", "("), ("()", "")];
    let joined = left.into_iter().fold(joined, |text, (mark, clean)| text.replace(mark, clean));
    joined.trim_matches([' ', ',', ';', '-', '–', '|', ':', '&', '+']).trim().to_owned()
}

/// Whether a text has small words only.
pub(super) fn only_spoken(text: &str) -> bool {
    let small = |w: &str| ["prose", "filler"].iter().any(|set| words().has(set, w));
    word_ranges(text).into_iter().all(|r| text.get(r).is_some_and(|w| small(&plain(w))))
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
