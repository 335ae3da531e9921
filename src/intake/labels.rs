//! What stands before a part in its row: a label, a word that joins, and the part it stands for.

use std::collections::BTreeSet;

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::{Lexicon, Meaning};
use super::rows::RawRow;
use super::words::{plain, word_ranges, words};

/// What stands between a row's label and its part.
pub(super) const LABEL_MARKS: &[&str] =
    &[":", "? ", ". ", "=", " – ", " — ", " - ", " = ", " | ", "→", "->", "=>", "➜"];

/// What stands behind an answer that begins a text: one that a mark ends, or a word that only
/// leads on.
fn answered(text: &str) -> Option<&str> {
    let ranges = word_ranges(text);
    (1..=ranges.len().min(4)).rev().find_map(|n| {
        let end = ranges.get(n - 1)?.end;
        let phrase = plain(text.get(ranges.first()?.start..end)?);
        let rest = text.get(end..)?;
        let behind = rest.trim_start_matches([',', '.', '!', ':', ';', ' ']);
        let marked = rest.starts_with([',', '.', '!', ';']) && words().has("agrees", &phrase);
        let leads = || ["leads_on", "chooses"].iter().any(|set| words().has(set, &phrase));
        (marked || leads()).then_some(behind)
    })
}

/// The kind whose shortest word begins so: "Geh." is the case, not its fan.
pub(super) fn kind_cut_short(lexicon: &Lexicon, word: &str) -> Option<u16> {
    let found = lexicon.phrases.iter().filter(|(phrase, _)| phrase.starts_with(word));
    let kinds = found.flat_map(|(phrase, meanings)| {
        meanings.iter().filter_map(|m| match m {
            Meaning::Kind(kind) => Some((phrase.len(), *kind)),
            _ => None,
        })
    });
    let mut shortest = kinds.collect::<BTreeSet<_>>().into_iter();
    let (length, kind) = shortest.next()?;
    shortest.next().is_none_or(|(other, _)| other != length).then_some(kind)
}

/// "Board Kerf P1M will do, right?": a row without the word that asks for a nod.
pub(super) fn without_tag(raw: &RawRow) -> Option<RawRow> {
    let asked = raw.text.trim_end().strip_suffix('?')?.trim_end();
    let tag = words().find("tags", asked).pop().filter(|r| r.end == asked.len() && r.start > 0)?;
    let text = asked.get(..tag.start)?.trim_end_matches([' ', ',']).to_owned();
    Some(RawRow { text, ..raw.clone() })
}

impl Interpreter<'_> {
    /// A row's label, which names its kind, and what follows it: `PSU: Tarn 550`, `PSU – Tarn 550`.
    pub(super) fn label<'t>(&self, text: &'t str) -> Option<(&'t str, &'t str)> {
        LABEL_MARKS.iter().find_map(|mark| {
            let (label, rest) = text.split_once(mark)?;
            let labels = !rest.trim().is_empty() && self.heading(label).is_some();
            labels.then_some((label, rest))
        })
    }

    /// "Fans 3x Lull 140" as "Fans: 3x Lull 140": a kind, and at once how many.
    pub(super) fn with_label_mark(&self, text: &str) -> String {
        let gaps = text.match_indices(' ').take(3);
        let counts = |rest: &str| {
            let after = rest.trim_start_matches(|c: char| c.is_ascii_digit());
            let times = after.trim_start().strip_prefix(['x', 'X', '×']);
            // "Fans 2 Doldrum 120"
            let named = || {
                let name = after.strip_prefix(' ').and_then(|t| t.split(' ').next());
                rest.len() - after.len() < 3
                    && name.is_some_and(|n| {
                        n.len() > 3 && items(self.lexicon, n).iter().any(|i| self.names_exactly(i))
                    })
            };
            after.len() < rest.len() && (times.is_some_and(|t| t.starts_with(' ')) || named())
        };
        let labels = |at: &usize| {
            let rest = text.get(at + 1..).unwrap_or("");
            let label = text.get(..*at).unwrap_or("");
            let bare = label.ends_with(char::is_alphanumeric);
            counts(rest) && bare && self.heading(label).is_some()
        };
        match gaps.map(|(at, _)| at).find(labels) {
            Some(at) => {
                format!("{}:{}", text.get(..at).unwrap_or(""), text.get(at..).unwrap_or(""))
            }
            None => text.to_owned(),
        }
    }

    /// "SSD 2: Shingle 4000", "Boot SSD: Lade 1000": the label without what tells it from another.
    pub(super) fn without_number(&self, text: &str) -> String {
        let Some((label, _)) = self.label(text) else { return text.to_owned() };
        if self.catalogue.kind_called(label.trim()).is_some() {
            return text.to_owned();
        }
        let digits = |w: &str| w.trim_start_matches('#').chars().all(|c| c.is_ascii_digit());
        let kept: Vec<&str> = label
            .split_whitespace()
            .filter(|w| {
                self.heading(w).is_some() || !digits(w) && !words().has("labels", &plain(w))
            })
            .collect();
        if kept.is_empty() || self.heading(&kept.join(" ")).is_none() {
            return text.to_owned();
        }
        format!("{}{}", kept.join(" "), text.get(label.trim_end().len()..).unwrap_or(""))
    }

    /// "Boot: Lade 1000", "Archive – 4x Marl 16 TB": without a label that names no kind of part.
    pub(super) fn without_label<'t>(&self, text: &'t str) -> &'t str {
        let behind = LABEL_MARKS.iter().find_map(|mark| {
            let (label, rest) = text.split_once(mark)?;
            let known = words().has("labels", &plain(label.trim()));
            let list = items(self.lexicon, label);
            let short = list.len() <= 3 && label.len() < 40 && !label.contains('(');
            let names = list.iter().any(|i| i.is_exact() || i.number.is_some() || i.is_maker());
            let heads = self.heading(label).is_some();
            let named = || self.named(&items(self.lexicon, rest));
            // "Monitor I have: Offing 27"
            let said = |set: &&str| words().find(set, label).into_iter();
            let mut had = ["owned", "have"].iter().flat_map(said);
            let had = had.any(|r| label.get(r).is_some_and(|claim| claim.contains(' ')));
            let gets = words().has("to_get", &plain(label.trim()));
            (gets || !heads && !had && (known || *mark == ":" && short && !names) && named())
                .then_some(rest)
        });
        behind.map_or(text, str::trim_start)
    }

    /// "Windows: no, rather Samphire Desk 9": without the refusal, where a part is named behind it.
    pub(super) fn without_refusal<'t>(&self, text: &'t str) -> &'t str {
        let rest = self.label(text).map_or(text, |(_, rest)| rest);
        let refused = rest.split_once([',', ';']).filter(|(first, behind)| {
            words().has("none", &plain(first.trim())) && self.named(&items(self.lexicon, behind))
        });
        refused.map_or(text, |(_, behind)| behind.trim_start())
    }

    /// "Plus 3 Lull 120 fans" goes on with the list.
    pub(super) fn without_joint<'t>(&self, text: &'t str) -> &'t str {
        let bare = text.trim_start();
        let Some((first, rest)) = bare.split_once(' ') else { return text };
        let first = plain(first.trim_end_matches([',', ':']));
        // "And" is a word of "keyboard and mouse", and begins no name.
        let named = self.lexicon.names.contains_key(&first) && !words().has("filler", &first);
        let joins = words().has("joining", &first) && !named;
        if joins { rest } else { text }
    }

    /// "Great, plus a Lade 500", "ok then: Lull 120": without what answers somebody else, where
    /// something is named behind it.
    pub(super) fn without_answer<'t>(&self, text: &'t str) -> &'t str {
        let mut rest = text.trim_start();
        while let Some(behind) = answered(rest).filter(|behind| self.has_something(behind)) {
            rest = self.without_joint(behind);
        }
        rest
    }

    /// Without the kinds that head several parts: `Case / PSU: Netloft Hush / Tarn 850 Gold`.
    pub(super) fn without_kinds<'t>(&self, text: &'t str) -> &'t str {
        let Some((label, rest)) = self.label(text) else { return text };
        let several = items(self.lexicon, label).iter().filter(|i| i.names_kind()).count() > 1;
        if several && label.contains(['/', '+', '&']) { rest } else { text }
    }

    pub(super) fn has_something(&self, text: &str) -> bool {
        items(self.lexicon, text).iter().any(|i| self.names_family(i) || i.names_kind())
    }

    pub(super) fn named(&self, list: &[Item]) -> bool {
        list.iter().any(|i| self.names_family(i))
    }
}
