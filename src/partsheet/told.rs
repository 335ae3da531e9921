//! Clauses of sentences: where one names several fields, what a few words say by themselves.

use serde_json::json;

use super::clauses::is_count;
use super::fields::in_unit;
use super::pages::Statement;
use super::reader::Reader;
use super::{records, words};
use crate::catalogue::kinds::{Field, FieldType};
use crate::intake::{Fact, plain_text};

/// Most places at which a clause is looked at for two fields.
const MOST_JOINTS: usize = 40;
/// Most words of a clause of a sentence that say something by themselves.
const MOST_SPOKEN: usize = 5;

impl<'a> Reader<'a> {
    /// `7000 MB/s reading and 6000 MB/s writing`, `10 cores / 20 threads`: clauses that each name a
    /// field. In a sentence that is `told` other words join, and the fields need no figure.
    pub(super) fn joined<'t>(&self, clause: &'t str, told: bool) -> Vec<&'t str> {
        let named = |t: &str| {
            let low = plain_text(t);
            self.claimed(&low).filter(|f| match is_count(f) {
                _ if told => true,
                true => self.count_in(f, t).is_some(),
                false => !in_unit(t, &f.unit).is_empty(),
            })
        };
        // "The 5 V and 3.3 V rails give 15 A each" says one thing of both.
        if told && words::holds("all", &plain_text(clause)) {
            return vec![clause];
        }
        let joints = words::of(if told { "told_joints" } else { "field_joints" });
        let mut cuts: Vec<(usize, usize)> = joints
            .flat_map(|joint| clause.match_indices(joint).map(|(at, m)| (at, at + m.len())))
            .filter(|(at, end)| end - at > 1 || !within_word(clause, *at, *end))
            .collect();
        cuts.sort_unstable();
        let mut out = Vec::new();
        let mut from = 0;
        for (at, end) in cuts.into_iter().take(MOST_JOINTS).filter(|(at, _)| *at > 0) {
            let (Some(a), Some(b)) = (clause.get(from..at), clause.get(end..)) else { continue };
            // "Reads at 7,100 MB/s": what is named has its figure behind the joint.
            let given = |f: &Field| f.unit.is_empty() || a.contains(|c: char| c.is_ascii_digit());
            if named(a).zip(named(b)).is_some_and(|(a, b)| a.name != b.name && given(a)) {
                out.push(a);
                from = end;
            }
        }
        out.extend(clause.get(from..));
        out
    }

    /// The field that a clause names; of several under one word that whose unit the clause has.
    pub(super) fn claimed_by(&self, clause: &str) -> Option<&'a Field> {
        let all = self.claiming(&plain_text(clause));
        let measured = |f: &&&Field| !f.unit.is_empty() && !in_unit(clause, &f.unit).is_empty();
        all.iter().find(measured).or(all.first()).copied()
    }

    /// What a few words within a sentence say by themselves: "(dual rank, 288-pin DIMM)".
    pub(super) fn spoken(&mut self, s: &Statement, clause: &str, low: &str) -> bool {
        let refused = words::holds("no", low) || words::holds("not_given", low);
        if refused {
            return false;
        }
        let long = clause.split_whitespace().count() > MOST_SPOKEN;
        let mut any = false;
        for (name, fact) in self.words.said_of(self.kind, clause) {
            let Some((_, field)) = self.kind.field(&name) else { continue };
            let value = match fact {
                Fact::Word(word) => json!(word),
                Fact::Number(n) if field.unit.is_empty() && !field.spelled.is_empty() => json!(n),
                _ => continue,
            };
            let lit = words::has("said_anywhere", &name) && words::holds("lit", low);
            let too_long = long && !words::has("said_anywhere", &name);
            if !lit && !too_long && !self.read.contains_key(&name) {
                any |= self.keep(&name, value, clause, s.line);
            }
        }
        any
    }
}

/// Whether letters stand at once on both sides of a stroke: `MB/s`.
fn within_word(text: &str, at: usize, end: usize) -> bool {
    let letter = |c: Option<char>| c.is_some_and(char::is_alphabetic);
    letter(text.get(..at).and_then(|t| t.chars().next_back()))
        && letter(text.get(end..).and_then(|t| t.chars().next()))
}

/// Of sentences parted by semicolons that which holds a clause.
pub(super) fn sentence_with<'t>(text: &'t str, clause: &'t str) -> &'t str {
    text.split("; ").find(|sentence| sentence.contains(clause)).unwrap_or(clause)
}

/// Whether a clause that names a field gives the one figure of its statement under the label of
/// another: "Heatsink: yes, height 8 mm".
pub(super) fn is_of_label(own: &Field, s: &Statement, fields: &[&Field]) -> bool {
    let alike =
        |f: &&&Field| f.name != own.name && f.unit == own.unit && matches!(f.ty, FieldType::Number);
    !own.unit.is_empty()
        && fields.iter().any(|f| alike(&f))
        && in_unit(&s.text, &own.unit).len() == 1
}

/// The pieces of a sentence before, within and behind its brackets.
pub(super) fn opened(piece: &str) -> Vec<&str> {
    let Some((before, (inner, behind))) =
        piece.split_once('(').and_then(|(b, rest)| Some((b, rest.split_once(')')?)))
    else {
        return vec![piece];
    };
    if behind.trim().is_empty() || records::says_which(before, inner) {
        return vec![piece];
    }
    let mut out = vec![piece, before.trim()];
    out.extend(records::pieces(inner, &[',', ';']));
    out.push(behind.trim());
    out
}

/// A text with a semicolon between its sentences; `max. 120 W` is one.
pub(super) fn sentences(text: &str) -> String {
    let all = crate::intake::sentences(text);
    let bare = |(at, one): (usize, &&str)| {
        let one = one.trim_start();
        (if at + 1 < all.len() { one.strip_suffix('.').unwrap_or(one) } else { one }).to_owned()
    };
    all.iter().enumerate().map(bare).collect::<Vec<_>>().join("; ")
}
