//! What an expression can come to, with the undecided places as they are narrowed now.

use super::{Explorer, finite};
use crate::audit::ask::Answer;
use crate::audit::domain;
use crate::audit::eval::View;
use crate::audit::expr::{Expr, ExprId};
use crate::audit::functions::FUNCTIONS;
use crate::audit::interval::{Hull, Span};
use crate::audit::linear::Linear;
use crate::audit::ranges::{Ranges, cell, count_of};
use crate::catalogue::kinds::KindId;

impl Explorer {
    /// What an expression can come to, with the places as they are narrowed now.
    pub(crate) fn hull(&mut self, view: View<'_>, id: ExprId) -> Hull {
        if self.is_undecided(view, id) {
            if let Some(held) = self.domains.get(&id) {
                return held.clone();
            }
            let first = self.first_hull(view, id);
            self.domains.insert(id, first.clone());
            return first;
        }
        if !self.rests_on_undecided(view, id) {
            return match view.pool.get(id) {
                Expr::Bin(..) | Expr::Un(..) | Expr::Sum(_) | Expr::Func(..) => {
                    view.number(id).map_or(Hull::Any, |n| Hull::Num(Span::one(n)))
                }
                _ => view.see(id).map_or(Hull::Any, |seen| Hull::val(&seen.keep())),
            };
        }
        self.composite(view, id)
    }

    fn first_hull(&self, view: View<'_>, id: ExprId) -> Hull {
        domain::of(view, id, self.usual)
    }

    fn composite(&mut self, view: View<'_>, id: ExprId) -> Hull {
        match view.pool.get(id).clone() {
            Expr::Measure(_, inner) => self.hull(view, inner),
            Expr::Bin(op, a, b) => {
                let (x, y) = (self.hull(view, a).span(), self.hull(view, b).span());
                let span = Span::apply(op, x, y);
                match self.held_sum(view, id) {
                    Some(held) => Hull::Num(meet(span, held)),
                    None => Hull::Num(span),
                }
            }
            Expr::Un(op, a) => Hull::Num(Span::un(op, self.hull(view, a).span())),
            Expr::Func(at, args) => {
                let spans: Vec<Span> = args.iter().map(|a| self.hull(view, *a).span()).collect();
                Hull::Num(function_span(at, &spans))
            }
            Expr::Sum(name) => {
                let mut sum = Span::one(0.0);
                for (place, count) in self.addends(view, &name) {
                    let each = self.hull(view, place).span();
                    sum = Span::apply(
                        crate::audit::expr::Op::Add,
                        sum,
                        Span::apply(crate::audit::expr::Op::Mul, each, Span::one(count)),
                    );
                }
                Hull::Num(loosened(sum))
            }
            Expr::KeyOf(counts, key) => {
                // Counts that nobody said: any number of each word.
                let any = Hull::Num(Span { lo: 0.0, hi: 1e6, gap: false });
                count_of(&self.hull(view, counts), &self.hull(view, key)).unwrap_or(any)
            }
            Expr::Cell(table, column, row) => {
                cell(view.build.catalogue.table(table), column, &self.hull(view, row))
            }
            _ => Hull::Any,
        }
    }

    /// What is known of a sum as a whole, from comparisons answered on this way.
    fn held_sum(&mut self, view: View<'_>, id: ExprId) -> Option<Span> {
        if self.sums.is_empty() {
            return None;
        }
        let zero = view.pool.find(&Expr::Const(0.0f64.to_bits()))?;
        let sum = self.linear(view, id, zero);
        self.bound(&sum)
    }

    fn bound(&self, sum: &Linear) -> Option<Span> {
        let (shape, scale) = sum.shape().filter(|(shape, _)| shape.len() > 1)?;
        let held = self.sums.get(&shape)?;
        let (x, y) = (held.lo * scale + sum.constant, held.hi * scale + sum.constant);
        Some(Span { lo: x.min(y), hi: x.max(y), gap: false })
    }
}

/// A look at the build while a rule is explored.
pub(super) struct Look<'a, 'e> {
    pub(super) view: View<'a>,
    pub(super) explorer: &'e mut Explorer,
}

impl Ranges for Look<'_, '_> {
    fn hull(&mut self, id: ExprId) -> Hull {
        self.explorer.hull(self.view, id)
    }

    fn assigned(&mut self, id: ExprId) -> Option<Vec<Answer>> {
        let pool = self.view.pool;
        if let Ok(known) = pool.assigned(id, |id| self.span(id).single().ok_or(())) {
            return known.map(|answer| vec![answer]);
        }
        let Expr::Assign(assign) = pool.get(id) else { return None };
        // A proof that lets known facts go asks for no more than that something else may be.
        let unknown = self.explorer.released.is_nothing();
        unknown.then(|| assign.possible(|id| self.span(id))).flatten()
    }

    fn lines(&self, kind: KindId) -> (usize, Option<usize>) {
        (self.view.build.slots(kind).len(), Some(0))
    }

    fn difference(&mut self, a: ExprId, b: ExprId) -> Option<Span> {
        let (view, explorer) = (self.view, &mut *self.explorer);
        let (mut left, mut right) = (Vec::new(), Vec::new());
        explorer.undecided_under(view, a, &mut left);
        explorer.undecided_under(view, b, &mut right);
        let shared = left.iter().any(|id| right.contains(id));
        if !shared && explorer.sums.is_empty() {
            return None;
        }
        let sum = explorer.linear(view, a, b);
        let mut span = Span::one(sum.constant);
        let mut spread = 0.0;
        for (id, weight) in &sum.terms {
            let each = explorer.hull(view, *id).span();
            if each.gap || each.is_empty() {
                return None;
            }
            spread += weight.abs() * finite(each.lo.abs().max(each.hi.abs()));
            let ends = (each.lo * weight, each.hi * weight);
            span.lo += ends.0.min(ends.1);
            span.hi += ends.0.max(ends.1);
        }
        if span.lo.is_nan() || span.hi.is_nan() {
            return None;
        }
        let slack = sum.slack(spread);
        let span = Span { lo: span.lo - slack, hi: span.hi + slack, gap: false };
        Some(explorer.bound(&sum).map_or(span, |held| meet(span, held)))
    }
}

fn meet(a: Span, b: Span) -> Span {
    Span { lo: a.lo.max(b.lo), hi: a.hi.min(b.hi), gap: a.gap }
}

/// A little wider: the sum is added here in another way than the build's own.
fn loosened(span: Span) -> Span {
    let slack = |n: f64| if span.single().is_some() { 0.0 } else { n.abs() * 1e-12 };
    Span { lo: span.lo - slack(span.lo), hi: span.hi + slack(span.hi), gap: span.gap }
}

/// The arithmetic of the trade is asked at the ends and the middle of what its arguments can be;
/// between them nothing is promised, so the span is opened to all numbers where they differ.
fn function_span(at: u16, args: &[Span]) -> Span {
    let singles: Vec<f64> = args.iter().filter_map(Span::single).collect();
    match FUNCTIONS.get(at as usize) {
        Some(function) if singles.len() == args.len() => Span::one((function.run)(&singles)),
        _ => Span { gap: false, ..Span::ALL },
    }
}
