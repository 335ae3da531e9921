//! Which fields of a kind a label, or a word within a clause, names.

use std::sync::Arc;

use super::reader::Reader;
use super::words;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::intake::{compact_text, plain_text};

/// A kind with the words of its fields as labels are held to them, made once for all that is read.
pub(super) struct Labels<'a> {
    pub(super) kind: &'a Kind,
    /// Names and words in compact form, field by field.
    whole: Vec<(String, &'a Field)>,
    /// Words longer than two letters, with one spelling of rails.
    parts: Vec<(String, &'a Field)>,
}

impl<'a> Labels<'a> {
    pub(super) fn of(kind: &'a Kind) -> Self {
        let words = |f: &'a Field| f.also.iter().map(move |word| (word, f));
        let named = |f: &'a Field| std::iter::once((&f.name, f)).chain(words(f));
        let long = |(word, _): &(&Arc<str>, &Field)| word.chars().count() > 2;
        let whole = kind.fields.iter().flat_map(named);
        let parts = kind.fields.iter().flat_map(words).filter(long);
        Self {
            kind,
            whole: whole.map(|(word, f)| (compact_text(word), f)).collect(),
            parts: parts.map(|(word, f)| (even(&word.to_lowercase()), f)).collect(),
        }
    }
}

impl<'a> Reader<'a> {
    /// The fields that a label names.
    pub(super) fn labelled(&self, label: &str) -> Vec<&'a Field> {
        let bare = label.split(['(', '[']).next().unwrap_or(label).trim();
        let bare = bare
            .rsplit_once('/')
            .filter(|(_, unit)| !crate::intake::units_of(unit).is_empty())
            .map_or(bare, |(l, _)| l);
        let (whole, key) = (compact_text(label), compact_text(bare));
        if let Some(field) = self.map.labels.get(&whole).or_else(|| self.map.labels.get(&key)) {
            return self.kind.field(field).map(|(_, f)| f).into_iter().collect();
        }
        let exact = self.called(&[&key, &whole]);
        if !exact.is_empty() || words::has("headings", bare) {
            return exact;
        }
        // "Default (SPD)": the brackets say of what.
        let inner = label.split_once('(').map_or("", |(_, rest)| rest.trim_end_matches(')'));
        let inner = self.called(&[&compact_text(inner)]);
        if !inner.is_empty() {
            return inner;
        }
        let low = plain_text(bare);
        let mut claiming = self.claiming(&low);
        // "Inches", "Watts": what alone has that unit.
        if claiming.is_empty() {
            let units = crate::intake::units_of(bare);
            let own = |f: &&Field| units.iter().any(|u| **u == *f.unit);
            claiming = self.kind.fields.iter().filter(own).collect();
            claiming.truncate(if claiming.len() == 1 { 1 } else { 0 });
        }
        // "Model range" is no model, "chipset cooling" no chipset.
        let ends = |w: &Arc<str>| low.ends_with(&w.to_lowercase());
        claiming.retain(|f| !f.is_free_text() || f.also.iter().any(ends));
        // "12V-2x6" of a power supply is a plug, and no rail of 12 V.
        if self.kind.field("leads").is_some() && words::first_of("connectors", &low).is_some() {
            claiming.retain(|f| matches!(f.ty, FieldType::Records(_)));
        }
        claiming
    }

    /// The fields that one of these words, as compact text, is a whole label of.
    pub(super) fn called(&self, keys: &[&str]) -> Vec<&'a Field> {
        let own = self.labels.whole.iter().filter(|(word, _)| keys.contains(&&**word));
        let mut fields: Vec<&Field> = own.map(|(_, field)| *field).collect();
        fields.dedup_by(|a, b| std::ptr::eq(*a, *b));
        fields
    }

    /// The field whose longest label a text holds.
    pub(super) fn claimed(&self, low: &str) -> Option<&'a Field> {
        self.claiming(low).into_iter().next()
    }

    /// The fields that share the longest label which a text holds.
    pub(super) fn claiming(&self, low: &str) -> Vec<&'a Field> {
        let low = even(low);
        let mut best: (&str, Vec<&Field>) = ("", Vec::new());
        for (word, field) in &self.labels.parts {
            // "Power 3.3 V + 5 V" is of the rails.
            let rank = |w: &str| (w.contains("v+"), w.len());
            if rank(word) < rank(best.0) || words::find_word(&low, word).is_none() {
                continue;
            }
            if rank(word) > rank(best.0) {
                best = (word, vec![field]);
            } else if word == best.0 {
                best.1.push(field);
            }
        }
        best.1
    }

    /// The one field that a label names by any of its words and whose unit a text has.
    pub(super) fn of_unit_in(&self, label: &str, text: &str) -> Option<&'a Field> {
        let fits = |f: &&Field| {
            super::reader::is_measured(f)
                && !super::fields::in_unit(text, &f.unit).is_empty()
                && f.also.iter().any(|w| {
                    w.chars().count() > 2 && words::find_word(label, &w.to_lowercase()).is_some()
                })
        };
        let mut all = self.kind.fields.iter().filter(fits);
        all.next().filter(|_| all.next().is_none())
    }

    /// Whether a label is that of a field.
    pub(super) fn knows_label(&self, label: &str) -> bool {
        !self.labelled(label).is_empty()
    }
}

/// A text with one spelling of rails: a decimal comma as a point, `3.3 V + 5 V` as `3.3v+5v`.
pub(super) fn even(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let at = |at: Option<usize>| at.and_then(|at| chars.get(at)).copied().unwrap_or(' ');
    let digit = |i: Option<usize>| at(i).is_ascii_digit();
    let mut out = String::with_capacity(text.len());
    for (i, c) in chars.iter().enumerate() {
        let (before, next) = (i.checked_sub(1), Some(i + 1));
        let volts = digit(before) && at(next) == 'v' && !at(Some(i + 2)).is_alphanumeric();
        let joins = matches!(at(before), '+' | '&') || matches!(at(next), '+' | '&');
        match c {
            ',' if digit(before) && digit(next) => out.push('.'),
            ' ' if volts || joins && i > 0 => {}
            c => out.push(*c),
        }
    }
    out
}
