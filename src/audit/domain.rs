//! What a place can hold while nobody said what it holds: all that its field allows, or what it
//! commonly holds.

use std::rc::Rc;
use std::sync::Arc;

use crate::audit::derived::DERIVED;
use crate::audit::eval::View;
use crate::audit::explore::PART_WORDS;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord};
use crate::audit::interval::{Hull, Span};
use crate::build::fields::BUILD_FIELDS;
use crate::build::lack::{Fact, Lack};
use crate::catalogue::declared::{RATE_MAX, Takes};
use crate::catalogue::kinds::{Field, FieldType, KindId, UsualValue, Words};
use crate::catalogue::value::Val;

/// Whether nobody said what a field of a part is.
pub(crate) fn is_unknown(
    view: View<'_>,
    kind: KindId,
    nth: u16,
    field: u16,
    sub: Option<(u16, u16)>,
) -> bool {
    let part = view.build.slot(kind, nth).and_then(|s| s.part.as_ref());
    let value = part.and_then(|p| p.values.get(field as usize));
    match (value, sub) {
        (Some(Val::Unknown), _) => true,
        (Some(Val::Records(records)), Some((index, sub))) => records
            .get(index as usize)
            .and_then(|r| r.get(sub as usize))
            .is_some_and(Val::is_unknown),
        _ => false,
    }
}

/// Whether a word of a line goes with its part.
pub(crate) fn of_the_part(word: LineWord) -> bool {
    PART_WORDS.contains(&word)
}

/// What an undecided place can hold.
pub(crate) fn of(view: View<'_>, id: ExprId, usual: bool) -> Hull {
    match view.pool.get(id) {
        Expr::Field(kind, nth, field) => {
            let fact = Fact { kind: *kind, nth: *nth, field: *field, sub: None };
            of_fact(view, fact, usual)
        }
        Expr::Sub(kind, nth, field, index, sub) => {
            let sub = Some((*index, *sub));
            of_fact(view, Fact { kind: *kind, nth: *nth, field: *field, sub }, usual)
        }
        Expr::Line(_, _, word) => of_line_word(view, *word),
        Expr::Build(BuildWord::Field(at)) => of_build_field(view, *at),
        Expr::Build(_) => Hull::Num(Span { lo: 0.0, hi: 1e12, gap: false }),
        Expr::Derived(at) if usual => of_figure(view, *at),
        _ => Hull::Num(Span::ALL),
    }
}

/// A figure of the host at the low end, in the middle and at the high end of what its unknown
/// inputs commonly are: an assumption, never certain.
fn of_figure(view: View<'_>, at: u16) -> Hull {
    let Some(derived) = DERIVED.get(at as usize) else { return Hull::Num(Span::ALL) };
    let mut span: Option<Span> = None;
    for share in [0.0, 0.5, 1.0] {
        match (derived.run)(&view.build.as_usual(share)) {
            Ok(n) => span = Some(span.map_or_else(|| Span::one(n), |s| s.join(Span::one(n)))),
            Err(_) => return Hull::Num(Span::ALL),
        }
    }
    Hull::Num(span.unwrap_or(Span::ALL))
}

fn of_fact(view: View<'_>, fact: Fact, usual: bool) -> Hull {
    let Some(field) = fact.schema(view.build) else { return Hull::Any };
    if usual && let Some(hull) = of_usual(view, fact, field) {
        return hull;
    }
    let absent = field.may_lack().then_some(Val::Absent);
    match &field.ty {
        FieldType::Number => {
            Hull::Num(Span { lo: field.min, hi: field.max, gap: absent.is_some() })
        }
        FieldType::Flag => {
            [Val::Flag(true), Val::Flag(false)].into_iter().chain(absent).collect_hull()
        }
        FieldType::Text(words) => match words_of(view, words) {
            Some(words) => words.into_iter().map(Val::Text).chain(absent).collect_hull(),
            None => Hull::Any,
        },
        FieldType::List(_) | FieldType::Counts(_) | FieldType::Records(_) => Hull::Any,
    }
}

fn of_usual(view: View<'_>, fact: Fact, field: &Field) -> Option<Hull> {
    let usual = field.usual.as_ref()?;
    if let UsualValue::Value(value) = &usual.what {
        return Some(Hull::val(value));
    }
    let number = |name: &str| {
        let part = view.build.slot(fact.kind, fact.nth)?.part.as_ref()?;
        let (at, _) = view.build.catalogue.kind(fact.kind)?.field(name)?;
        part.values.get(at as usize)?.as_num()
    };
    let (lo, hi) = usual.span(field, number)?;
    Some(Hull::Num(Span { lo, hi, gap: false }))
}

fn words_of(view: View<'_>, words: &Words) -> Option<Vec<Arc<str>>> {
    match words {
        Words::Any => None,
        words => Some(view.build.catalogue.words_of(words).to_vec()),
    }
}

fn of_line_word(view: View<'_>, word: LineWord) -> Hull {
    let number = |lo: f64, hi: f64, gap: bool| Hull::Num(Span { lo, hi, gap });
    match word {
        LineWord::Count => number(1.0, 99.0, false),
        LineWord::FlowUsual | LineWord::Owned | LineWord::Included => {
            [Val::Flag(true), Val::Flag(false)].into_iter().collect_hull()
        }
        LineWord::Mount => view
            .build
            .catalogue
            .words("mount")
            .iter()
            .cloned()
            .map(Val::Text)
            .chain([Val::Absent])
            .collect_hull(),
        LineWord::Flow => ["in", "out"]
            .into_iter()
            .map(|w| Val::Text(w.into()))
            .chain([Val::Absent])
            .collect_hull(),
        LineWord::PartId => Hull::Any,
        LineWord::Sellers | LineWord::Stock => number(0.0, 1e9, true),
        LineWord::SupportDays => number(-1e6, 1e6, true),
        _ => number(0.0, 1e9, true),
    }
}

fn of_build_field(view: View<'_>, at: u8) -> Hull {
    let Some(field) = BUILD_FIELDS.get(at as usize) else { return Hull::Any };
    let gap = field.default.is_none();
    match field.takes {
        Takes::Rows(table) => view
            .build
            .catalogue
            .words(table)
            .iter()
            .cloned()
            .map(Val::Text)
            .chain(gap.then_some(Val::Absent))
            .collect_hull(),
        Takes::Number(lo, hi) => Hull::Num(Span { lo, hi, gap }),
        Takes::Money | Takes::Rate => Hull::Num(Span { lo: 0.0, hi: RATE_MAX, gap }),
        _ => Hull::Any,
    }
}

/// The facts under an undecided place that somebody could look up.
pub(crate) fn facts_of(view: View<'_>, id: ExprId) -> Vec<Fact> {
    match view.pool.get(id) {
        Expr::Field(kind, nth, field) => {
            let (kind, nth, field) = (*kind, *nth, *field);
            let inner = view
                .build
                .slot(kind, nth)
                .and_then(|s| s.part.as_ref())
                .and_then(|p| p.values.get(field as usize));
            // A list of records that is there, with gaps inside: the gaps are what is missing.
            match inner {
                Some(Val::Records(records)) => {
                    let gaps = records.iter().zip(0u16..).flat_map(|(record, index)| {
                        let unknown = record.iter().zip(0u16..).filter(|(v, _)| v.is_unknown());
                        unknown.map(move |(_, sub)| (index, sub))
                    });
                    gaps.map(|sub| Fact { kind, nth, field, sub: Some(sub) }).collect()
                }
                _ => vec![Fact { kind, nth, field, sub: None }],
            }
        }
        Expr::Sub(kind, nth, field, index, sub) => {
            let (kind, nth, field, sub) = (*kind, *nth, *field, Some((*index, *sub)));
            vec![Fact { kind, nth, field, sub }]
        }
        Expr::Derived(_) => match view.number(id) {
            Err(Lack::Fact(fact)) => vec![fact],
            _ => Vec::new(),
        },
        _ => Vec::new(),
    }
}

/// Whether a place is this very fact, and not something that is worked out from it.
pub(crate) fn is_fact(view: View<'_>, id: ExprId, fact: Fact) -> bool {
    let direct = matches!(view.pool.get(id), Expr::Field(..) | Expr::Sub(..));
    direct && facts_of(view, id) == [fact]
}

/// Values as what a place can hold.
trait CollectHull: Iterator<Item = Val> + Sized {
    fn collect_hull(self) -> Hull {
        let vals: Rc<[Val]> = self.collect();
        Hull::Vals(vals)
    }
}

impl<I: Iterator<Item = Val>> CollectHull for I {}
