//! Sums over the lines of a build with choices: what each place adds at the least and at the most.

use std::cell::Cell;
use std::rc::Rc;

use crate::audit::exact_sum::ExactSum;
use crate::audit::expr::{Expr, ExprId};
use crate::audit::interval::Span;
use crate::catalogue::Part;
use crate::catalogue::value::Val;

use super::abstract_eval::{Sight, put, span_over};
use super::cache::{Dom, Share, Shares};
use super::space::{Choice, Place};
use super::totals::total_span;

impl Sight<'_> {
    /// A sum over places, each adding what its choices add at the least and at the most.
    ///
    /// The ends are added as an audit adds, without loss, so that no order of adding matters.
    pub(super) fn sum(&mut self, id: ExprId) -> Span {
        let shares = self.shares(id);
        let (mut lo, mut hi, mut gap) = (ExactSum::default(), ExactSum::default(), false);
        // By how much the shares of open places may be off, as one number each.
        let mut slack = 0.0;
        for (place, share) in shares.0.iter().enumerate().filter(|(_, s)| !s.by_choice.is_empty()) {
            let chosen = match self.pin {
                Some((pinned, at)) if pinned == place => Some(at),
                _ if share.terms.is_empty() => None,
                _ => self.state.doms.get(place).and_then(Dom::single),
            };
            let span = match chosen {
                Some(at) => share.by_choice.get(at as usize).map_or(Span::NONE, |n| Span::one(*n)),
                None => self.share(place, share),
            };
            if span.is_empty() {
                return Span::NONE;
            }
            gap |= span.gap;
            match chosen.and_then(|at| share.terms.get(at as usize)) {
                Some(terms) => terms.iter().for_each(|n| {
                    lo.add(*n);
                    hi.add(*n);
                }),
                None => {
                    lo.add(span.lo);
                    hi.add(span.hi);
                    if !share.terms.is_empty() {
                        slack += span.lo.abs().max(span.hi.abs()) * f64::EPSILON;
                    }
                }
            }
        }
        let (mut lo, mut hi) = (lo.total(), hi.total());
        if slack > 0.0 {
            lo = (lo - slack).next_down().next_down();
            hi = (hi + slack).next_up().next_up();
        }
        if !lo.is_finite() || !hi.is_finite() {
            return Span::ALL;
        }
        Span { lo, hi, gap }
    }

    /// What the build comes to, goods and shipping.
    pub(super) fn total(&mut self) -> Span {
        let (lo, hi) = total_span(self.space, self.notes, self.state, self.pin);
        Span { lo: self.space.money(lo), hi: self.space.money(hi), gap: false }
    }

    fn share(&self, place: usize, share: &Share) -> Span {
        let Some(dom) = self.state.doms.get(place) else { return Span::NONE };
        let (held, span) = share.over.get();
        if held == dom.stamp {
            return span;
        }
        let span = span_over(&share.by_choice, &dom.alive);
        share.over.set((dom.stamp, span));
        span
    }

    pub(super) fn shares(&mut self, id: ExprId) -> Rc<Shares> {
        if let Some(Some(shares)) = self.notes.shares.get(id.at()) {
            return shares.clone();
        }
        let expr = self.pool.get(id);
        let catalogue = &self.space.catalogue;
        let add = |part: &Part, count: f64| match expr {
            Expr::Sum(name) => match catalogue.kind(part.kind).and_then(|k| k.by_name.get(name)) {
                None => 0.0,
                Some(at) => part
                    .values
                    .get(*at as usize)
                    .and_then(Val::as_num)
                    .map_or(f64::NAN, |n| n * count),
            },
            Expr::Pieces(kind) if part.kind == *kind => count,
            _ => 0.0,
        };
        let terms = |choice: &Choice| -> Box<[f64]> {
            match expr {
                Expr::Build(_) => [f64::from(u8::from(!choice.priced))].into(),
                _ => std::iter::once(add(&choice.part, f64::from(choice.line.count)))
                    .chain(choice.boxed.iter().map(|b| add(&b.part, b.count)))
                    .collect(),
            }
        };
        let share = |place: &Place| {
            let terms: Vec<Box<[f64]>> = place.choices.iter().map(terms).collect();
            let sums: Vec<ExactSum> = terms
                .iter()
                .map(|terms| {
                    let mut sum = ExactSum::default();
                    terms.iter().for_each(|n| sum.add(*n));
                    sum
                })
                .collect();
            let by_choice: Vec<f64> = sums.iter().map(ExactSum::total).collect();
            let nothing = terms.iter().flatten().all(|n| *n == 0.0);
            let single = |t: &[f64]| t.iter().filter(|n| **n != 0.0).count() < 2;
            let whole = sums.iter().zip(&terms).all(|(sum, t)| sum.is_exact() || single(t));
            Share {
                by_choice: if nothing { Vec::new() } else { by_choice },
                terms: if whole { Vec::new() } else { terms },
                over: Cell::new((0, Span::NONE)),
            }
        };
        let shares = Rc::new(Shares(self.space.places.iter().map(share).collect()));
        put(&mut self.notes.shares, id, shares.clone());
        shares
    }
}
