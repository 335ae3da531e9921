//! What no change of some lines can clear: rules that stop a list with the least that those lines
//! may come to, whatever else goes or is added.
//!
//! A line more only adds to a sum of what is never less than nothing, and to the total. So what
//! such a figure comes to over the lines that stay, each at its least, is a bound for every list,
//! and a rule that compares it with a cap is answered once for all of them.

use crate::audit::ask::Answer;
use crate::audit::expr::{BuildWord, Expr, ExprId};
use crate::audit::interval::{Hull, Span};
use crate::audit::memory::{Stands, Tree};
use crate::audit::ranges::Ranges;
use crate::catalogue::kinds::KindId;
use crate::catalogue::value::Val;

use super::abstract_eval::{Sight, span_over};
use super::memo::Held;
use super::needs::next;
use super::query::Quest;
use super::totals::least_goods;
use super::walk::{BLOCK, Track};

/// What sums of numbers may be off by, as a share of them.
const ROUNDING: f64 = 1e-12;

/// Whether a rule stops every list that some lines of a searched space can become: those that are
/// not fixed hold any choice, those of `goes` may be dropped as long as one of their kind stays,
/// and lines of any kind may be added. False where that is not known.
pub(crate) fn stops_all(quest: &Quest<'_>, goes: &[bool], rule: u16) -> bool {
    let Some(memo) = quest.memo else { return false };
    let mut held = memo.held.borrow_mut();
    let Held { notes, tracks, .. } = &mut *held;
    let Some(track) = tracks.get_mut(&rule).filter(|track| track.level.is_some()) else {
        return false;
    };
    let mut state = notes.start(quest.space);
    for (place, only) in quest.fixed.iter().enumerate() {
        if let Some(only) = only {
            notes.narrow(&mut state, place, std::rc::Rc::from([*only]));
        }
    }
    let (host, _) = quest.kit.inside();
    let known = host.state.borrow();
    let Some(tree) = known.trees.get(rule as usize) else { return false };
    let sight = Sight {
        space: quest.space,
        pool: &known.pool,
        settings: &known.settings,
        state: &state,
        pin: None,
        notes,
    };
    Floor { sight, goes }.ends_in_stops(track, tree)
}

/// What is known of every list that some lines can become.
struct Floor<'a> {
    sight: Sight<'a>,
    goes: &'a [bool],
}

impl Floor<'_> {
    /// Whether every way that a list may take through a rule's questions ends in a stop.
    fn ends_in_stops(&mut self, track: &mut Track, tree: &Tree) -> bool {
        track.keep_step(tree);
        let mut open = vec![0u32];
        let mut met = std::collections::HashSet::new();
        while let Some(at) = open.pop() {
            if !met.insert(at) {
                continue;
            }
            match tree.node(at) {
                None => return false,
                Some(Stands::Leaf(verdict)) => {
                    if track.end(at, verdict) != BLOCK {
                        return false;
                    }
                }
                Some(node @ Stands::Ask { ask, .. }) => {
                    // Where a way is not known the next node is none.
                    next(node, &self.answers(ask), |to| open.push(to));
                }
            }
        }
        true
    }

    fn may_go(&self, place: usize) -> bool {
        self.goes.get(place).copied().unwrap_or_default()
    }

    /// Whether the first lines of a kind, up to one of them, stay where they are.
    fn stays(&self, kind: KindId, nth: u16) -> bool {
        let first = self.sight.own(kind).get(..=nth as usize);
        first.is_some_and(|first| !first.iter().any(|place| self.may_go(*place)))
    }

    /// The least that a sum can come to; any number where something in it may be below nothing.
    fn sum(&mut self, id: ExprId) -> Span {
        if !self.is_never_negative(id) {
            return Span::ALL;
        }
        let shares = self.sight.shares(id);
        let least = |place: &usize| {
            let (share, dom) = (shares.0.get(*place), self.sight.state.doms.get(*place));
            match (share, dom) {
                (Some(share), Some(dom)) if !share.by_choice.is_empty() => {
                    span_over(&share.by_choice, &dom.alive).lo
                }
                _ => 0.0,
            }
        };
        let mut sum = 0.0;
        for places in &self.sight.space.own {
            let stay = places.iter().filter(|place| !self.may_go(**place));
            sum += match stay.clone().next() {
                Some(_) => stay.map(least).sum::<f64>(),
                None if places.is_empty() => 0.0,
                None => places.iter().map(least).fold(f64::INFINITY, f64::min),
            };
        }
        // No choice with a number: whether a list has the sum at all is for a search to find out.
        match sum.is_finite() {
            true => Span { lo: sum * (1.0 - ROUNDING), hi: f64::INFINITY, gap: true },
            false => Span::ALL,
        }
    }

    /// Whether no part of the catalogue takes anything from a sum.
    fn is_never_negative(&self, id: ExprId) -> bool {
        let Expr::Sum(name) = self.sight.pool.get(id) else { return true };
        let catalogue = &self.sight.space.catalogue;
        catalogue.kinds_with(name).iter().all(|(kind, field)| {
            let value = |val: Option<&Val>| val.and_then(Val::as_num).unwrap_or(0.0);
            let mut parts = catalogue.parts_of(*kind);
            parts.all(|part| value(part.values.get(*field as usize)) >= 0.0)
        })
    }
}

impl Ranges for Floor<'_> {
    fn hull(&mut self, id: ExprId) -> Hull {
        let pool = self.sight.pool;
        match pool.get(id) {
            Expr::Const(_)
            | Expr::Word(_)
            | Expr::Setting(_)
            | Expr::Build(BuildWord::Field(_)) => self.sight.hull(id),
            Expr::Field(kind, nth, _) | Expr::Sub(kind, nth, ..) | Expr::Line(kind, nth, _)
                if self.stays(*kind, *nth) =>
            {
                self.sight.hull(id)
            }
            Expr::Measure(_, inner) => self.hull(*inner),
            Expr::Bin(op, a, b) => {
                let (a, b) = (self.span(*a), self.span(*b));
                Hull::Num(Span::apply(*op, a, b))
            }
            Expr::Un(op, a) => Hull::Num(Span::un(*op, self.span(*a))),
            Expr::Sum(_) | Expr::Pieces(_) => Hull::Num(self.sum(id)),
            Expr::Build(BuildWord::Total) => {
                let Sight { space, state, notes, .. } = &mut self.sight;
                let goods = least_goods(space, notes, state, self.goes);
                Hull::Num(Span { lo: space.money(goods), hi: f64::INFINITY, gap: false })
            }
            _ => Hull::Any,
        }
    }

    fn lines(&self, kind: KindId) -> (usize, Option<usize>) {
        let own = self.sight.own(kind);
        let stay = own.iter().filter(|place| !self.may_go(**place)).count();
        (stay.max(usize::from(!own.is_empty())), None)
    }

    fn assigned(&mut self, _id: ExprId) -> Option<Vec<Answer>> {
        None
    }
}
