//! Rows that ask for nothing: refusals, what is cancelled, totals.

use std::ops::Range;

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::rows::RawRow;
use super::strip::only_spoken;
use super::words::{plain, word_ranges, words};

impl Interpreter<'_> {
    /// Whether a row says that it asks for nothing: "GPU: none", "no graphics card".
    pub(super) fn asks_nothing(&self, raw: &RawRow) -> bool {
        // "Pas de lecteur optique"
        let refused = words().leads("without", &raw.text).and_then(|end| raw.text.get(end..));
        if refused.is_some_and(|rest| self.heading(rest).is_some()) || self.is_title(raw) {
            return true;
        }
        let none = |text: &str| {
            let first = text.split([',', ';', '(', '.']).next().unwrap_or("");
            let found = words().find("none", first).into_iter().next();
            // "We don't need one, I think": nothing is named before the refusal.
            let talk = |i: &Item| i.filler || i.prose;
            let begins = |b: &str| items(self.lexicon, b).iter().all(talk);
            let end = found.filter(|r| first.get(..r.start).is_some_and(begins));
            let behind = end.and_then(|r| first.get(r.end..));
            let says = |i: &Item| !i.is_loose() && !i.filler && !i.prose && !i.fuzzy;
            words().has("none", first.trim())
                || behind.is_some_and(|b| !items(self.lexicon, b).iter().any(says))
        };
        let cell = words().has("none", &plain(&raw.text));
        if cell || !raw.kind.trim().is_empty() && none(&raw.text) {
            return true;
        }
        if self.needs_none(&raw.text) || words().says("elsewhere", &raw.text) {
            return true;
        }
        let Some((_, rest)) = self.label(&raw.text) else {
            let behind = words().find("none", &raw.text).pop();
            let ends = behind.filter(|r| raw.text.get(r.end..).is_some_and(|t| t.len() < 3));
            let before = ends.and_then(|r| raw.text.get(..r.start));
            return before.is_some_and(|kind| self.heading(kind).is_some());
        };
        none(rest)
    }

    /// Whether a row names a kind, no part, and says that none is wanted: "no need for a monitor".
    fn needs_none(&self, text: &str) -> bool {
        let rest = words().without(&["none"], text, "|");
        let list = items(self.lexicon, &rest);
        let bare = |i: &Item| i.filler || i.prose || i.names_kind() && i.number.is_none();
        rest != text && list.iter().any(Item::names_kind) && list.iter().all(bare)
    }

    /// "No licence needed, we have Longshore Home 5": what the customer has in place of it.
    pub(super) fn behind_refusal<'t>(&self, text: &'t str) -> Option<&'t str> {
        let (first, has) = text.split_once([',', ';', '–', '—'])?;
        let named = |text: &str| self.named(&items(self.lexicon, text));
        let refuses = words().says("without", first) || words().says("none", first);
        // "Netloft Seine without window, has a Tarn 650" names another.
        let other = || named(first) && words().leads("without", first).is_none();
        let had = || words().leads("have_verbs", has).is_some() && named(has) && !other();
        // A bare "no" answers a question.
        (refuses && first.trim().contains(' ') && had()).then_some(has.trim_start())
    }

    pub(super) fn cancelled(&self, raw: &RawRow) -> bool {
        let phrases = |text: &str| {
            // "Nicht mehr als 90 €"
            let text = &*words().without(&["limit"], text, "|");
            words().find("cancelled", text).into_iter().any(|r| {
                let phrase = plain(text.get(r).unwrap_or(""));
                // A word that parts are named by says nothing by itself.
                !self.lexicon.names.contains_key(&super::tokens::compact(&phrase))
            })
        };
        // "Einer hinten raus": a fan that blows out is not out.
        let clause = |text: &str| self.without_places(text).unwrap_or_else(|| text.to_owned());
        let text = || raw.text.split(", ").map(clause).collect::<Vec<_>>().join(", ");
        let replaced = !words().says("becomes", &raw.text)
            && !words().says("instead", &raw.text)
            && !raw.text.contains("->")
            && !raw.text.contains('→');
        // "Existing, do not order": it is the customer's.
        let owned = |text: &str| words().says("owned", text);
        // "Replaces Penstock 850": the row stays.
        let instead =
            words().says("instead", &raw.note) && self.named(&items(self.lexicon, &raw.note));
        // "Cancelled, the customer brings his own": what is owned is another.
        let first = raw.note.split([',', ';', '.', '(']).next().unwrap_or("");
        let out = || words().has("cancelled", &plain(first.trim()));
        let mut clauses = raw.note.split([',', ';', '.', '(', '|']);
        let later = clauses.any(|c| words().has("not_now", &plain(c.trim())));
        // "Ich nehme die Tarn 650 nicht"
        let last = raw.text.split_whitespace().next_back().map(plain).unwrap_or_default();
        let taken = words().leads("chooses", &raw.text).is_some();
        (phrases(&raw.note) || later) && (out() || later || !owned(&raw.note)) && !instead
            || taken && words().has("without", last.trim_end_matches(['.', '!']))
            || replaced && phrases(&text()) && !owned(&raw.text)
    }

    /// "Office PC (5 pcs., prices incl. VAT)" heads the list.
    fn is_title(&self, raw: &RawRow) -> bool {
        let inner = raw.text.split_once('(').filter(|_| raw.text.trim_end().ends_with(')'));
        let prices = inner.is_some_and(|(_, inner)| {
            let clauses = inner.split([',', ';']).map(plain);
            clauses.into_iter().any(|c| words().begins("all_prices", &c).is_some())
        });
        prices && !raw.listed && !self.has_something(&raw.text)
    }

    /// Whether a text says that its part is for another day: "later: X", "X, maybe later".
    pub(super) fn put_off(text: &str) -> bool {
        let found = words().find("not_now", text);
        let within = |r: &Range<usize>| found.iter().any(|f| f.start <= r.start && r.end <= f.end);
        let today = || words().find("today", text).iter().any(|r| !within(r));
        let ends = |t: &str| t.trim_start().chars().next().is_none_or(|c| ",;:.()|-–!".contains(c));
        let first = text.find([',', ';', '(', '|']).unwrap_or(text.len());
        let off = |range: &Range<usize>| {
            let before = text.get(..range.start).unwrap_or("");
            let alone = before.trim_end().ends_with([',', ';', '(', ':', '|', '-', '–']);
            ends(text.get(range.end..).unwrap_or("")) && (alone || range.end <= first && !today())
        };
        Self::begins_later(text) || found.iter().any(|r| !since(text, r) && off(r))
    }

    /// Whether a text begins with another day, or a choice: "later: X and Y", "option: X".
    pub(super) fn begins_later(text: &str) -> bool {
        let found = words().find("not_now", text).into_iter().next();
        words().begins("optional", &plain(text)).is_some()
            || found
                .is_some_and(|r| !since(text, &r) && text.get(..r.start).is_some_and(only_spoken))
    }

    pub(super) fn is_total(&self, raw: &RawRow) -> bool {
        // "3 pcs. assembly and test"
        let counted = super::count::take(raw.text.trim(), &|_| false);
        let text = &*counted.map_or_else(|_| raw.text.trim().to_owned(), |(_, rest)| rest);
        let first = word_ranges(text);
        let head = |n: usize| {
            first.get(n - 1).and_then(|last| text.get(first.first()?.start..last.end)).map(plain)
        };
        let total =
            (1..=first.len().min(3)).any(|n| head(n).is_some_and(|p| words().has("totals", &p)));
        let named = |i: &Item| self.names_exactly(i) && !words().has("limit", &i.key);
        let service = words().has("totals", &plain(&raw.kind));
        (total || service || only_sums(text)) && !items(self.lexicon, text).iter().any(named)
    }
}

/// Whether a day is the least that is asked for: "Gen 4 or later".
fn since(text: &str, range: &Range<usize>) -> bool {
    let before = text.get(..range.start).unwrap_or("").trim_end();
    words().find("alternative", before).pop().is_some_and(|r| r.end == before.len())
}

/// Whether a row's words are of sums and shares alone: "inkl. 19 % MwSt.: 131,21 €".
fn only_sums(text: &str) -> bool {
    let priced = super::price::take(text).rest;
    let rest = words().without(&["totals", "tax", "budget", "limit", "about"], &priced, " ");
    let mut left = word_ranges(&rest).into_iter().filter_map(|r| rest.get(r).map(plain));
    let little =
        |word: String| word.chars().all(|c| !c.is_alphabetic()) || words().has("filler", &word);
    rest != priced && left.all(little)
}
