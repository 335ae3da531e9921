//! Clauses of a statement: those of a label that several fields share, those that name a field
//! themselves, words in brackets.

use serde_json::{Value, json};

use super::fields::{in_unit, range, superlative, without_brackets};
use super::pages::Statement;
use super::reader::Reader;
use super::{records, words};
use crate::catalogue::kinds::{Field, FieldType, Words};
use crate::intake::{compact_text, plain_text};

impl<'a> Reader<'a> {
    /// A label that several fields share: each clause goes to the field that it names, or whose
    /// unit or words it has.
    pub(super) fn several(&mut self, fields: &[&'a Field], s: &Statement) -> bool {
        let mut any = false;
        let mut units: Vec<&str> = Vec::new();
        let pieces = records::pieces(&s.text, &[',', ';']);
        for clause in records::clauses(&s.text) {
            // What is in brackets gives no second number in a unit that stands before them.
            if pieces.iter().any(|p| p.starts_with(clause)) {
                units.clear();
            }
            let low = plain_text(clause);
            let claimed = self.claimed(&low).filter(|f| {
                !f.also.iter().any(|w| compact_text(w) == compact_text(&s.label))
                    || fields.len() == 1
            });
            let taken = claimed.is_some_and(|field| self.put(field, s, clause, true));
            any |= taken;
            for field in fields {
                let number = matches!(field.ty, FieldType::Number);
                // A clause that names its field gives no other number; it may give words.
                if taken && (number || claimed.is_some_and(|c| c.name == field.name)) {
                    continue;
                }
                if number && field.unit.is_empty() {
                    any |= self.count_of(field, s, clause);
                    continue;
                }
                let bound = field.name.contains("min") || field.name.contains("max");
                let ranged = bound && range(clause, &field.unit).is_some();
                if number && units.contains(&&*field.unit) && !ranged {
                    continue;
                }
                if self.put(field, s, clause, false) {
                    any = true;
                    units.push(&field.unit);
                }
            }
        }
        any
    }

    /// A number without a unit in a clause: `2 DIMM slots`, `two channels`, `dual channel`.
    pub(super) fn count_of(&mut self, field: &Field, s: &Statement, clause: &str) -> bool {
        let (count, rest) = records::counted(clause);
        let named = field.also.iter().any(|w| words::find_word(&rest, &w.to_lowercase()).is_some());
        let counts = rest != plain_text(clause) && named;
        if counts && (field.min..=field.max).contains(&f64::from(count)) {
            return self.keep(&field.name, json!(count), clause, s.line);
        }
        !field.spelled.is_empty() && self.put(field, s, clause, false)
    }

    /// Clauses that name a field themselves: `+12 V 45.8 A; +5 V 20 A`.
    pub(super) fn clauses(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let text = if s.label.is_empty() { sentences(&s.text) } else { s.text.clone() };
        let pieces = records::clauses(&text);
        if pieces.len() < 2 && !fields.is_empty() {
            return false;
        }
        let mut any = false;
        for clause in pieces {
            let low = plain_text(clause);
            let Some(field) = self.claimed(&low).or_else(|| self.loud(clause)) else { continue };
            let plain = match &field.ty {
                FieldType::Number if field.unit.is_empty() => {
                    let other = fields.iter().all(|f| f.name != field.name);
                    let bracketed = s.text.contains(&format!("({clause})"));
                    any |= other && bracketed && self.count_of(field, s, clause);
                    false
                }
                FieldType::Number => true,
                // Under another label a flag is taken where it is denied, or said and no more.
                FieldType::Flag => {
                    let own = |w: &std::sync::Arc<str>| compact_text(w) == compact_text(clause);
                    fields.is_empty() || words::holds("no", &low) || field.also.iter().any(own)
                }
                FieldType::Text(words) => {
                    !matches!(words, Words::Any) && (fields.is_empty() || &*field.name == "control")
                }
                FieldType::List(_) => fields.is_empty(),
                _ => false,
            };
            if plain
                && fields.iter().all(|f| f.name != field.name)
                && !self.read.contains_key(&*field.name)
            {
                let flag = matches!(field.ty, FieldType::Flag);
                any |= self.put(field, s, clause, flag);
            }
        }
        any
    }

    /// The field for noise, where a clause gives a level and names nothing.
    pub(super) fn loud(&self, clause: &str) -> Option<&'a Field> {
        let mut noise = self.kind.fields.iter().filter(|f| f.unit.contains("dB"));
        let only = noise.next().filter(|_| noise.next().is_none())?;
        let level = !super::fields::in_unit(clause, &only.unit).is_empty();
        (level && only.name.starts_with("noise")).then_some(only)
    }

    /// What a statement says under a field's label, but for the clauses that name another field of
    /// the same unit.
    pub(super) fn own_clauses(&self, field: &Field, s: &Statement) -> String {
        if !matches!(field.ty, FieldType::Number) || field.unit.is_empty() {
            return s.text.clone();
        }
        let other = |clause: &&str| {
            let claimed = self.claimed(&plain_text(clause));
            claimed.is_some_and(|f| f.name != field.name && f.unit == field.unit)
        };
        // "5.3 W operating, 3.4 W idle": the draw is the first.
        let idle = |clause: &&str| {
            let low = plain_text(clause);
            words::holds("idle", &low) && !field.also.iter().any(|w| words::holds("idle", w))
        };
        // What is in brackets counts where nothing before them does.
        let outside = without_brackets(&s.text);
        let told = !superlative(field) && !in_unit(&outside, &field.unit).is_empty();
        let text = if told { &outside } else { &s.text };
        let kept: Vec<&str> =
            records::clauses(text).into_iter().filter(|c| !other(c) && !idle(c)).collect();
        let all = records::clauses(&s.text).len();
        if kept.is_empty() || kept.len() == all { s.text.clone() } else { kept.join("; ") }
    }

    /// `7 + 2 vertical`: the openings for a card that stands upright.
    pub(super) fn upright(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let named = fields.iter().any(|f| &*f.name == "slots");
        if !named || self.kind.field("upright_slots").is_none() {
            return false;
        }
        let low = plain_text(&s.text);
        let behind = low.split_once('+').map_or("", |(_, rest)| rest.trim_start());
        let digits: String = behind.chars().take_while(char::is_ascii_digit).collect();
        let count = digits.parse::<u32>().ok().filter(|_| behind.contains("verti"));
        count.is_some_and(|n| self.keep("upright_slots", json!(n), &s.text, s.line))
    }

    /// `140 mm (SFX / SFX-L)`: words in brackets that only one field has.
    pub(super) fn bracketed(&mut self, s: &Statement) -> bool {
        let inner = s.text.split_once('(').and_then(|(_, rest)| rest.split_once(')'));
        let Some((inner, _)) = inner else { return false };
        let low = plain_text(inner);
        let mut found: Vec<(&str, Value)> = Vec::new();
        for field in &self.kind.fields {
            let FieldType::List(allowed) = &field.ty else { continue };
            let pieces = low.split([',', '/']).map(str::trim);
            let values: Vec<Vec<String>> = pieces
                .map(|p| super::fields::values_in(self.catalogue, field, allowed, p))
                .collect();
            let words = low.split_whitespace().filter(|w| *w != "/").count();
            if words == values.len() && values.iter().all(|v| v.len() == 1) {
                let mut all = values.concat();
                all.sort();
                found.push((&field.name, json!(all)));
            }
        }
        match found.as_slice() {
            [(field, value)] if !self.read.contains_key(*field) => {
                self.keep(field, value.clone(), inner, s.line)
            }
            _ => false,
        }
    }

    /// `PCIe 4.0 x16` gives the generation and the lanes.
    pub(super) fn link(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let named = |name: &str| fields.iter().any(|f| &*f.name == name);
        let (gen_field, lanes_field) = (self.kind.field("gen"), self.kind.field("lanes"));
        let low = plain_text(&s.text);
        let linked = named("gen") || named("interface") && low.contains("pci");
        if gen_field.is_none() || lanes_field.is_none() || !linked {
            return false;
        }
        let mut any = false;
        if let Some(generation) = records::generation(&low).filter(|_| !named("gen")) {
            any |= self.keep("gen", generation, &s.text, s.line);
        }
        if let [wired] = records::lanes(&low).as_slice() {
            any |= self.keep("lanes", json!(wired), &s.text, s.line);
        }
        any
    }
}

/// A text with a semicolon at the end of each sentence; `max. 120 W` is one.
fn sentences(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for piece in text.split_inclusive(". ") {
        let word = piece.trim_end_matches(['.', ' ']).rsplit(' ').next().unwrap_or("");
        match piece
            .strip_suffix(". ")
            .filter(|_| word.chars().count() > 4 || word.contains(|c: char| c.is_ascii_digit()))
        {
            Some(sentence) => out.extend([sentence, "; "]),
            None => out.push_str(piece),
        }
    }
    out
}
