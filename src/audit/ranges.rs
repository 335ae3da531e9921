//! Which answers a question can have while places may hold one of several values.

use crate::audit::ask::{Answer, Ask};
use crate::audit::expr::ExprId;
use crate::audit::interval::{Hull, Span};
use crate::catalogue::kinds::KindId;
use crate::catalogue::tables::Table;
use crate::catalogue::value::Val;

/// Most pairs of values that are compared one by one before both answers are thought possible.
const MOST_PAIRS: usize = 20_000;

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

/// A build of which not everything is decided: what its expressions can come to.
pub(crate) trait Ranges {
    /// What an expression can come to.
    fn hull(&mut self, id: ExprId) -> Hull;

    /// How many lines of a kind there are: those of the list, and those that come with other
    /// parts, where that is known.
    fn lines(&self, kind: KindId) -> (usize, Option<usize>);

    /// Who may get what in an assignment; none where too much is open to tell.
    fn assigned(&mut self, id: ExprId) -> Option<Vec<Answer>>;

    /// What one number less another can come to, where more is known of it than of each by itself.
    fn difference(&mut self, _a: ExprId, _b: ExprId) -> Option<Span> {
        None
    }

    /// What a number can come to.
    fn span(&mut self, id: ExprId) -> Span {
        self.hull(id).span()
    }

    /// Which answers a question can have.
    fn answers(&mut self, ask: &Ask) -> Possible {
        match ask {
            Ask::Has(kind, nth) | Ask::Chosen(kind, nth) => {
                Possible::Bits(match self.lines(*kind) {
                    (own, _) if own > *nth as usize => YES,
                    (own, Some(boxed)) => one(own + boxed > *nth as usize),
                    (_, None) => NO | YES,
                })
            }
            Ask::Lines(kind) => match self.lines(*kind) {
                (own, Some(boxed)) => Possible::These(vec![Answer::Count((own + boxed) as u32)]),
                _ => Possible::Any,
            },
            Ask::Present(e) => Possible::Bits(present(&self.hull(*e))),
            Ask::Truth(e) => Possible::Bits(match self.hull(*e) {
                Hull::Vals(vals) => {
                    vals.iter().fold(0, |bits, v| bits | one(*v == Val::Flag(true)))
                }
                Hull::Num(_) => NO,
                Hull::Any => NO | YES,
            }),
            Ask::Less(a, b) => Possible::Bits(self.less(*a, *b, true)),
            Ask::LessEqual(a, b) => Possible::Bits(self.less(*a, *b, false)),
            Ask::Equal(a, b) => Possible::Bits(match self.difference(*a, *b) {
                Some(span) => equal(&Hull::Num(span), &Hull::Num(Span::one(0.0))),
                None => equal(&self.hull(*a), &self.hull(*b)),
            }),
            Ask::Contains(list, word) => {
                Possible::Bits(contained(&self.hull(*list), &self.hull(*word)))
            }
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
            Ask::Assigned(e) => match self.assigned(*e) {
                Some(answers) => Possible::These(answers),
                None => Possible::Any,
            },
        }
    }

    /// Whether one number can be less than another.
    fn less(&mut self, a: ExprId, b: ExprId, strictly: bool) -> u8 {
        match self.difference(a, b) {
            Some(span) => less(span, Span::one(0.0), strictly),
            None => less(self.span(a), self.span(b), strictly),
        }
    }
}

fn one(yes: bool) -> u8 {
    if yes { YES } else { NO }
}

fn present(hull: &Hull) -> u8 {
    match hull {
        Hull::Num(span) => {
            (if span.gap { NO } else { 0 }) | (if span.is_empty() { 0 } else { YES })
        }
        Hull::Vals(vals) => vals.iter().fold(0, |bits, v| bits | one(!v.is_absent())),
        Hull::Any => NO | YES,
    }
}

/// What a cell of a table can be, where its row can be one of several.
pub(crate) fn cell(table: Option<&Table>, column: u16, rows: &Hull) -> Hull {
    match (table, rows) {
        (Some(table), Hull::Vals(rows)) => {
            let absent = Val::Absent;
            let cell = |row: &Val| row.as_text().map_or(&absent, |row| table.cell(row, column));
            Hull::of(rows.iter().map(cell))
        }
        (_, Hull::Num(_)) => Hull::val(&Val::Absent),
        _ => Hull::Any,
    }
}

/// What the count of a word can be; none where it can be any.
pub(crate) fn count_of(counts: &Hull, key: &Hull) -> Option<Hull> {
    let (Hull::Vals(counts), Hull::Vals(keys)) = (counts, key) else { return None };
    if counts.len() * keys.len() > MOST_PAIRS {
        return None;
    }
    let mut span: Option<Span> = None;
    for (counts, key) in counts.iter().flat_map(|c| keys.iter().map(move |k| (c, k))) {
        let n = match (counts, key) {
            (Val::Absent, _) => f64::NAN,
            (counts, Val::Text(key)) => counts.count_of(key),
            _ => f64::NAN,
        };
        span = Some(span.map_or_else(|| Span::one(n), |s| s.join(Span::one(n))));
    }
    Some(span.map_or(Hull::Any, Hull::Num))
}

fn contained(list: &Hull, word: &Hull) -> u8 {
    match (list, word) {
        (Hull::Vals(lists), Hull::Vals(words)) if lists.len() * words.len() <= MOST_PAIRS => {
            let pairs = lists.iter().flat_map(|l| words.iter().map(move |w| (l, w)));
            pairs.fold(0, |bits, (list, word)| bits | one(contains(list, word)))
        }
        _ => NO | YES,
    }
}

pub(crate) fn contains(list: &Val, word: &Val) -> bool {
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
