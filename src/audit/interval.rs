//! What an expression can come to while some lines are open: an interval of numbers, or a few
//! values.
//!
//! Every operation here encloses what the same operation gives on single values: addition,
//! multiplication and their like are rounded the same way at the ends of an interval as inside it,
//! so no widening is needed where each step is monotone.

use std::rc::Rc;

use crate::audit::expr::{Op, UnOp};
use crate::catalogue::value::Val;

/// Most values that are told apart before anything is thought possible.
pub(crate) const MOST_VALUES: usize = 512;

/// Numbers from `lo` to `hi`; none when `lo` is the greater. With `gap` there may be no finite
/// number at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub(crate) lo: f64,
    pub(crate) hi: f64,
    pub(crate) gap: bool,
}

/// What an expression can come to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Hull {
    /// A number in a span.
    Num(Span),
    /// One of these values, each once.
    Vals(Rc<[Val]>),
    /// Anything.
    Any,
}

impl Span {
    pub(crate) const NONE: Self = Self { lo: f64::INFINITY, hi: f64::NEG_INFINITY, gap: true };
    pub(crate) const ALL: Self = Self { lo: f64::NEG_INFINITY, hi: f64::INFINITY, gap: true };

    /// One number, or the gap when it is not finite.
    pub(crate) fn one(n: f64) -> Self {
        if n.is_finite() { Self { lo: n, hi: n, gap: false } } else { Self::NONE }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.lo > self.hi
    }

    /// The number, when it is a single one.
    pub(crate) fn single(&self) -> Option<f64> {
        (self.lo == self.hi && !self.gap).then_some(self.lo)
    }

    pub(crate) fn join(self, other: Self) -> Self {
        Self { lo: self.lo.min(other.lo), hi: self.hi.max(other.hi), gap: self.gap || other.gap }
    }

    /// The hull of ends worked out one by one; an end that is no number stands for anything.
    fn of_ends(ends: &[f64], gap: bool) -> Self {
        if ends.iter().any(|e| e.is_nan()) {
            return Self::ALL;
        }
        let lo = ends.iter().copied().fold(f64::INFINITY, f64::min);
        let hi = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self { lo, hi, gap }
    }

    /// Two numbers made one.
    pub(crate) fn apply(op: Op, a: Self, b: Self) -> Self {
        let gap = a.gap || b.gap;
        if a.is_empty() || b.is_empty() {
            return Self::NONE;
        }
        if let (Some(x), Some(y)) = (a.single(), b.single()) {
            return Self::one(op.apply(x, y));
        }
        match op {
            Op::Add => Self { lo: a.lo + b.lo, hi: a.hi + b.hi, gap },
            Op::Sub => Self { lo: a.lo - b.hi, hi: a.hi - b.lo, gap },
            Op::Mul => Self::of_ends(&[a.lo * b.lo, a.lo * b.hi, a.hi * b.lo, a.hi * b.hi], gap),
            Op::Div if b.lo > 0.0 || b.hi < 0.0 => {
                Self::of_ends(&[a.lo / b.lo, a.lo / b.hi, a.hi / b.lo, a.hi / b.hi], gap)
            }
            Op::Min => Self { lo: a.lo.min(b.lo), hi: a.hi.min(b.hi), gap },
            Op::Max => Self { lo: a.lo.max(b.lo), hi: a.hi.max(b.hi), gap },
            // Rising or falling in each over positive bases; the library's power is exact to a last
            // digit or so.
            Op::Pow if a.lo > 0.0 => {
                let ends = Self::of_ends(
                    &[a.lo.powf(b.lo), a.lo.powf(b.hi), a.hi.powf(b.lo), a.hi.powf(b.hi)],
                    gap,
                );
                let slack = |n: f64| n.abs() * 1e-12 + 1e-300;
                Self { lo: ends.lo - slack(ends.lo), hi: ends.hi + slack(ends.hi), gap }
            }
            Op::Div | Op::Rem | Op::Pow => Self::ALL,
        }
        .checked()
    }

    /// One number changed.
    pub(crate) fn un(op: UnOp, a: Self) -> Self {
        if a.is_empty() {
            return Self::NONE;
        }
        match op {
            UnOp::Neg => Self { lo: -a.hi, hi: -a.lo, gap: a.gap },
            UnOp::Abs if a.lo >= 0.0 => a,
            UnOp::Abs if a.hi <= 0.0 => Self { lo: -a.hi, hi: -a.lo, gap: a.gap },
            UnOp::Abs => Self { lo: 0.0, hi: a.hi.max(-a.lo), gap: a.gap },
            UnOp::Floor | UnOp::Ceil | UnOp::Round => {
                Self { lo: op.apply(a.lo), hi: op.apply(a.hi), gap: a.gap }
            }
            UnOp::Sqrt if a.hi < 0.0 => Self::NONE,
            UnOp::Sqrt => {
                Self { lo: a.lo.max(0.0).sqrt(), hi: a.hi.sqrt(), gap: a.gap || a.lo < 0.0 }
            }
        }
        .checked()
    }

    /// An end that ran over any bound may stand for no finite number.
    fn checked(self) -> Self {
        Self { gap: self.gap || !self.lo.is_finite() || !self.hi.is_finite(), ..self }
    }
}

impl Hull {
    /// A single value.
    pub(crate) fn val(val: &Val) -> Self {
        match val {
            Val::Num(n) => Self::Num(Span::one(*n)),
            Val::Unknown => Self::Any,
            other => Self::Vals(Rc::from([other.clone()])),
        }
    }

    /// One of several values.
    pub(crate) fn of<'a>(vals: impl Iterator<Item = &'a Val>) -> Self {
        let mut span: Option<Span> = None;
        let mut held: Vec<&Val> = Vec::new();
        let mut seen = std::collections::HashSet::new();
        for val in vals {
            match val {
                Val::Unknown => return Self::Any,
                Val::Num(n) => {
                    span = Some(span.map_or_else(|| Span::one(*n), |s| s.join(Span::one(*n))))
                }
                other => {
                    if seen.insert(other) {
                        held.push(other);
                    }
                    if held.len() > MOST_VALUES {
                        return Self::Any;
                    }
                }
            }
        }
        match (span, held.as_slice()) {
            (None, _) => Self::Vals(held.into_iter().cloned().collect()),
            (Some(span), []) => Self::Num(span),
            (Some(span), [Val::Absent]) => Self::Num(Span { gap: true, ..span }),
            _ => Self::Any,
        }
    }

    /// The numbers it can be.
    pub(crate) fn span(&self) -> Span {
        match self {
            Self::Num(span) => *span,
            // A text or an absence is no number, and a question about its size is one that no rule
            // gets an answer to.
            Self::Vals(_) => Span::NONE,
            Self::Any => Span::ALL,
        }
    }
}

#[cfg(test)]
#[path = "../../tests/unit/audit/interval.rs"]
mod tests;
