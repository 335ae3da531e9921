//! Narrowing: once an answer is taken, the places it looks at keep only what gives it.

use std::rc::Rc;

use super::{Explorer, finite, under_names};
use crate::audit::ask::{Answer, Ask};
use crate::audit::eval::View;
use crate::audit::expr::ExprId;
use crate::audit::interval::{Hull, Span};
use crate::audit::linear::Linear;
use crate::audit::ranges::contains;
use crate::catalogue::value::Val;

impl Explorer {
    /// Keeps only what gives the answer that is taken.
    pub(super) fn narrow(&mut self, view: View<'_>, ask: &Ask, answer: &Answer) {
        let yes = *answer == Answer::Bool(true);
        match ask {
            Ask::Less(a, b) => self.narrow_order(view, *a, *b, yes, true),
            Ask::LessEqual(a, b) => self.narrow_order(view, *a, *b, yes, false),
            Ask::Equal(a, b) => self.narrow_equal(view, *a, *b, yes),
            Ask::Truth(e) => self.keep(view, *e, |v| (*v == Val::Flag(true)) == yes),
            Ask::Contains(list, word) => {
                let (lists, words) = (self.hull(view, *list), self.hull(view, *word));
                if let Hull::Vals(lists) = &lists
                    && let [list] = &**lists
                {
                    self.keep(view, *word, |w| contains(list, w) == yes);
                }
                if let Hull::Vals(words) = &words
                    && let [word] = &**words
                {
                    self.keep(view, *list, |l| contains(l, word) == yes);
                }
            }
            Ask::Present(e) => self.narrow_present(view, *e, yes),
            _ => {}
        }
    }

    fn narrow_present(&mut self, view: View<'_>, id: ExprId, yes: bool) {
        if !self.is_undecided(view, id) {
            return;
        }
        let now = match (self.hull(view, id), yes) {
            (Hull::Num(span), true) => Hull::Num(Span { gap: false, ..span }),
            (Hull::Vals(vals), true) => {
                Hull::Vals(vals.iter().filter(|v| !v.is_absent()).cloned().collect())
            }
            (other, true) => other,
            (_, false) => Hull::val(&Val::Absent),
        };
        self.domains.insert(id, now);
    }

    /// Keeps the values of an undecided place that pass.
    fn keep(&mut self, view: View<'_>, id: ExprId, passes: impl Fn(&Val) -> bool) {
        let id = under_names(view, id);
        if !self.is_undecided(view, id) {
            return;
        }
        if let Hull::Vals(vals) = self.hull(view, id) {
            let left: Rc<[Val]> = vals.iter().filter(|v| passes(v)).cloned().collect();
            self.impossible |= left.is_empty();
            self.domains.insert(id, Hull::Vals(left));
        }
    }

    fn narrow_equal(&mut self, view: View<'_>, a: ExprId, b: ExprId, yes: bool) {
        let hulls = (self.hull(view, a), self.hull(view, b));
        match hulls {
            (Hull::Num(_), Hull::Num(_)) => {
                if yes {
                    self.narrow_order(view, a, b, true, false);
                    self.narrow_order(view, b, a, true, false);
                }
            }
            (x, y) => {
                if let Hull::Vals(vals) = &y
                    && (yes || vals.len() == 1)
                {
                    self.keep(view, a, |v| vals.contains(v) == yes);
                }
                if let Hull::Vals(vals) = &x
                    && (yes || vals.len() == 1)
                {
                    self.keep(view, b, |v| vals.contains(v) == yes);
                }
            }
        }
    }

    /// Keeps what makes `a < b` (or `a <= b`) hold or fail.
    fn narrow_order(&mut self, view: View<'_>, a: ExprId, b: ExprId, yes: bool, strict: bool) {
        // What fails is the other way about: not a < b is b <= a.
        let (a, b, strict) = if yes { (a, b, strict) } else { (b, a, !strict) };
        let (ua, ub) = (under_names(view, a), under_names(view, b));
        let (sa, sb) = (self.hull(view, a).span(), self.hull(view, b).span());
        let exact = self.is_undecided(view, ua) || self.is_undecided(view, ub);
        if exact {
            let below = |n: f64| if strict { n.next_down() } else { n };
            let above = |n: f64| if strict { n.next_up() } else { n };
            if self.is_undecided(view, ua) {
                self.cut(view, ua, f64::NEG_INFINITY, below(sb.hi));
            }
            if self.is_undecided(view, ub) {
                self.cut(view, ub, above(sa.lo), f64::INFINITY);
            }
        }
        let sum = self.linear(view, a, b);
        self.narrow_sum(view, &sum);
    }

    /// Keeps what makes a weighted sum at most zero.
    fn narrow_sum(&mut self, view: View<'_>, sum: &Linear) {
        let spans: Vec<(ExprId, f64, Span)> =
            sum.terms.iter().map(|(id, w)| (*id, *w, self.hull(view, *id).span())).collect();
        let spread: f64 =
            spans.iter().map(|(_, w, s)| w.abs() * finite(s.lo.abs().max(s.hi.abs()))).sum();
        let slack = sum.slack(spread);
        if let Some((shape, scale)) = sum.shape().filter(|(shape, _)| shape.len() > 1) {
            let bound = (slack - sum.constant) / scale;
            let held = self.sums.entry(shape).or_insert(Span { gap: false, ..Span::ALL });
            if scale > 0.0 {
                held.hi = held.hi.min(bound);
            } else {
                held.lo = held.lo.max(bound);
            }
        }
        let least = |w: f64, s: &Span| if w > 0.0 { w * s.lo } else { w * s.hi };
        for (at, (id, weight, _)) in spans.iter().enumerate() {
            if !self.is_undecided(view, *id) {
                continue;
            }
            let others: f64 = spans
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != at)
                .map(|(_, (_, w, s))| least(*w, s))
                .sum();
            let bound = (slack - sum.constant - others) / weight;
            if bound.is_finite() {
                if *weight > 0.0 {
                    self.cut(view, *id, f64::NEG_INFINITY, bound);
                } else {
                    self.cut(view, *id, bound, f64::INFINITY);
                }
            }
        }
    }

    /// Cuts the numbers of an undecided place to those from `lo` to `hi`.
    fn cut(&mut self, view: View<'_>, id: ExprId, lo: f64, hi: f64) {
        if let Hull::Num(span) = self.hull(view, id) {
            let now = Span { lo: span.lo.max(lo), hi: span.hi.min(hi), gap: false };
            self.impossible |= now.is_empty();
            self.domains.insert(id, Hull::Num(now));
        }
    }
}
