//! Which answers a question can have for a build with choices.

use crate::audit::ask::{Answer, Ask};
use crate::catalogue::value::Val;

use super::abstract_eval::{MOST_PAIRS, Sight};
use super::interval::{Hull, Span};

/// Answers that are possible.
pub(crate) const NO: u8 = 1;
/// Answers that are possible.
pub(crate) const YES: u8 = 2;
/// The script cannot go on: a number that it compares is none.
pub(crate) const BREAK: u8 = 4;

/// Which answers are possible.
#[derive(Debug, Clone)]
pub(crate) enum Possible {
    /// Of a question with yes and no.
    Bits(u8),
    /// One of these.
    These(Vec<Answer>),
    /// Any.
    Any,
}

impl Sight<'_> {
    /// Which answers a question can have.
    pub(crate) fn answers(&mut self, ask: &Ask) -> Possible {
        let both = Possible::Bits(NO | YES);
        let one = |yes: bool| if yes { YES } else { NO };
        match ask {
            Ask::Has(kind, nth) | Ask::Chosen(kind, nth) => {
                let own = self.own(*kind).len();
                match (own > *nth as usize, self.boxed(*kind)) {
                    (true, _) => Possible::Bits(YES),
                    (false, Some(boxed)) => Possible::Bits(one(own + boxed.len() > *nth as usize)),
                    (false, None) => both,
                }
            }
            Ask::Lines(kind) => match self.boxed(*kind) {
                Some(boxed) => Possible::These(vec![Answer::Count(
                    (self.own(*kind).len() + boxed.len()) as u32,
                )]),
                None => Possible::Any,
            },
            Ask::Present(e) => Possible::Bits(match self.hull(*e) {
                Hull::Num(span) => {
                    (if span.gap { NO } else { 0 }) | (if span.is_empty() { 0 } else { YES })
                }
                Hull::Vals(vals) => vals.iter().fold(0, |bits, v| bits | one(!v.is_absent())),
                Hull::Any => NO | YES,
            }),
            Ask::Truth(e) => Possible::Bits(match self.hull(*e) {
                Hull::Vals(vals) => {
                    vals.iter().fold(0, |bits, v| bits | one(*v == Val::Flag(true)))
                }
                Hull::Num(_) => NO,
                Hull::Any => NO | YES,
            }),
            Ask::Less(a, b) => Possible::Bits(less(self.span(*a), self.span(*b), true)),
            Ask::LessEqual(a, b) => Possible::Bits(less(self.span(*a), self.span(*b), false)),
            Ask::Equal(a, b) => Possible::Bits(equal(&self.hull(*a), &self.hull(*b))),
            Ask::Contains(list, word) => match (self.hull(*list), self.hull(*word)) {
                (Hull::Vals(lists), Hull::Vals(words))
                    if lists.len() * words.len() <= MOST_PAIRS =>
                {
                    let pairs = lists.iter().flat_map(|l| words.iter().map(move |w| (l, w)));
                    Possible::Bits(
                        pairs.fold(0, |bits, (list, word)| bits | one(contains(list, word))),
                    )
                }
                _ => both,
            },
            Ask::Len(e) => match self.hull(*e) {
                Hull::Vals(vals) => {
                    let mut lens: Vec<Answer> =
                        vals.iter().map(|v| Answer::Count(length(v) as u32)).collect();
                    lens.dedup();
                    Possible::These(lens)
                }
                _ => Possible::Any,
            },
            Ask::Value(e) => match self.hull(*e) {
                Hull::Vals(vals) => {
                    Possible::These(vals.iter().cloned().map(Answer::Value).collect())
                }
                Hull::Num(span) => span
                    .single()
                    .map_or(Possible::Any, |n| Possible::These(vec![Answer::Value(Val::Num(n))])),
                Hull::Any => Possible::Any,
            },
        }
    }
}

fn contains(list: &Val, word: &Val) -> bool {
    match (list, word) {
        (Val::List(words), Val::Text(word)) => words.iter().any(|w| w == word),
        (counts @ Val::Counts(_), Val::Text(word)) => counts.count_of(word) > 0.0,
        _ => false,
    }
}

fn length(val: &Val) -> usize {
    match val {
        Val::List(words) => words.len(),
        Val::Records(records) => records.len(),
        Val::Counts(pairs) => pairs.len(),
        _ => 0,
    }
}

fn less(a: Span, b: Span, strictly: bool) -> u8 {
    let mut bits = if a.gap || b.gap { BREAK } else { 0 };
    if a.is_empty() || b.is_empty() {
        return BREAK;
    }
    let holds = |x: f64, y: f64| if strictly { x < y } else { x <= y };
    if holds(a.lo, b.hi) {
        bits |= YES;
    }
    if !holds(a.hi, b.lo) {
        bits |= NO;
    }
    bits
}

fn equal(a: &Hull, b: &Hull) -> u8 {
    match (a, b) {
        (Hull::Num(a), Hull::Num(b)) => {
            // What is absent on both sides is the same; what is not finite on one side only is not.
            let meet = !a.is_empty() && !b.is_empty() && a.lo <= b.hi && b.lo <= a.hi;
            let yes = meet || (a.gap && b.gap);
            let only = a.single().is_some() && a.single() == b.single();
            (if yes { YES } else { 0 }) | (if only { 0 } else { NO })
        }
        (Hull::Vals(a), Hull::Vals(b)) if a.len() * b.len() <= MOST_PAIRS => {
            let yes = a.iter().any(|x| b.contains(x));
            let only = a.len() == 1 && b.len() == 1 && yes;
            (if yes { YES } else { 0 }) | (if only { 0 } else { NO })
        }
        _ => NO | YES,
    }
}
