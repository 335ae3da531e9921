//! Sums of places: a comparison of two expressions as one weighted sum against zero, so that what
//! both sides share cancels.

use std::collections::BTreeMap;

use crate::audit::expr::{Expr, ExprId, Op, Pool, UnOp};

/// A weighted sum of expressions that are no sums themselves, and a constant.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Linear {
    /// Weights, none of them zero.
    pub(crate) terms: BTreeMap<ExprId, f64>,
    /// What is added.
    pub(crate) constant: f64,
    /// The sum of all magnitudes that went into it: what rounding is measured by.
    pub(crate) size: f64,
}

impl Linear {
    /// One expression less another. `known` gives the number of an expression that rests on no
    /// undecided place; `parts` takes a sum over lines apart into weighted places and the rest.
    pub(crate) fn difference(
        pool: &Pool,
        a: ExprId,
        b: ExprId,
        look: &mut dyn FnMut(ExprId) -> Term,
    ) -> Self {
        let mut sum = Self::default();
        sum.add(pool, a, 1.0, look);
        sum.add(pool, b, -1.0, look);
        sum.terms.retain(|_, weight| *weight != 0.0);
        sum
    }

    fn add(&mut self, pool: &Pool, id: ExprId, weight: f64, look: &mut dyn FnMut(ExprId) -> Term) {
        match look(id) {
            Term::Known(n) => {
                self.constant += weight * n;
                self.size += (weight * n).abs();
                return;
            }
            Term::Sum(parts, rest) => {
                self.constant += weight * rest;
                self.size += (weight * rest).abs();
                for (place, times) in parts {
                    self.term(place, weight * times);
                }
                return;
            }
            Term::Place => {}
        }
        match pool.get(id) {
            Expr::Measure(_, inner) => self.add(pool, *inner, weight, look),
            Expr::Bin(Op::Add, a, b) => {
                self.add(pool, *a, weight, look);
                self.add(pool, *b, weight, look);
            }
            Expr::Bin(Op::Sub, a, b) => {
                self.add(pool, *a, weight, look);
                self.add(pool, *b, -weight, look);
            }
            Expr::Bin(Op::Mul, a, b) => match (look(*a), look(*b)) {
                (Term::Known(n), _) => self.add(pool, *b, weight * n, look),
                (_, Term::Known(n)) => self.add(pool, *a, weight * n, look),
                _ => self.term(id, weight),
            },
            Expr::Bin(Op::Div, a, b) => match look(*b) {
                Term::Known(n) if n != 0.0 => self.add(pool, *a, weight / n, look),
                _ => self.term(id, weight),
            },
            Expr::Un(UnOp::Neg, a) => self.add(pool, *a, -weight, look),
            _ => self.term(id, weight),
        }
    }

    fn term(&mut self, id: ExprId, weight: f64) {
        *self.terms.entry(id).or_default() += weight;
    }

    /// The same sum without its constant, scaled so that its first weight is one, and the scale.
    pub(crate) fn shape(&self) -> Option<(Vec<(ExprId, u64)>, f64)> {
        let scale = *self.terms.values().next()?;
        let shape = self.terms.iter().map(|(id, w)| (*id, (w / scale).to_bits())).collect();
        Some((shape, scale))
    }

    /// How far rounding may lead astray.
    pub(crate) fn slack(&self, spread: f64) -> f64 {
        (self.size + spread) * 1e-12 + 1e-300
    }
}

/// What an expression is to a sum.
pub(crate) enum Term {
    /// A number that rests on nothing undecided.
    Known(f64),
    /// A sum over lines: undecided places with their weights, and the rest.
    Sum(Vec<(ExprId, f64)>, f64),
    /// Something undecided.
    Place,
}
