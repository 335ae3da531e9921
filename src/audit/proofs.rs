//! Memory of proofs and of explorations: what each rested on, so that a build that is the same
//! there is not proven or explored again.
//!
//! A proof lets places go and looks at others. Kept beside its result are the values of those that
//! it saw as they are, whether something was there where a place was let go, and the number of
//! lines of each kind that it counted. Where all of these are the same, so is the proof.

use std::collections::VecDeque;
use std::rc::Rc;

use ahash::{AHashMap, AHashSet};

use crate::audit::eval::{Seen, View};
use crate::audit::explore::Ends;
use crate::audit::expr::{Expr, ExprId, WEIGHT_BYTES};
use crate::audit::verdict::Draft;
use crate::build::lack::Lack;
use crate::catalogue::kinds::KindId;
use crate::catalogue::value::Val;

/// Most proofs of one rule that are kept; the one that was not asked for longest goes first.
pub(crate) const MOST_OF_RULE: usize = 32;
/// What the proofs of one rule that are kept may weigh, the last one aside.
const MOST_WEIGHT: usize = 2_048;

/// Most explorations of one rule that are kept.
const MOST_WAYS: usize = 8;

/// Every way a rule can end: with facts anywhere in their fields, and with facts as is usual.
#[derive(Debug, Clone)]
pub(crate) struct Ways {
    pub(crate) whole: Rc<Ends>,
    pub(crate) usual: Rc<Ends>,
}

/// Explorations of before, by rule.
#[derive(Debug, Default)]
pub(crate) struct Explorations(AHashMap<u16, VecDeque<HeldWays>>);

#[derive(Debug)]
struct HeldWays {
    /// Of the build, and of the build with what is usual filled in.
    rests_on: Rc<(Basis, Basis)>,
    ways: Ways,
}

impl Explorations {
    /// What those of a rule that rest on a build as it is found, each with what it rests on where
    /// that is filled in.
    pub(crate) fn on(&self, rule: u16, view: View<'_>) -> Vec<(Rc<(Basis, Basis)>, Ways)> {
        let held = self.0.get(&rule).into_iter().flatten();
        held.filter(|known| known.rests_on.0.holds(view))
            .map(|known| (known.rests_on.clone(), known.ways.clone()))
            .collect()
    }

    /// Keeps an exploration.
    pub(crate) fn keep(&mut self, rule: u16, rests_on: (Basis, Basis), ways: Ways) {
        let held = self.0.entry(rule).or_default();
        held.truncate(MOST_WAYS - 1);
        held.push_front(HeldWays { rests_on: Rc::new(rests_on), ways });
    }
}

/// The places that the parts of each line take, those from their packaging included.
pub(crate) type Places = Vec<Vec<(KindId, u16)>>;

/// Which lines clear a finding, as found before, by rule.
#[derive(Debug, Default)]
pub(crate) struct Clearings(AHashMap<u16, VecDeque<HeldClearing>>);

#[derive(Debug)]
struct HeldClearing {
    draft: Draft,
    lines: Places,
    rests_on: Basis,
    clears: Rc<[bool]>,
}

impl Clearings {
    /// For each of these lines whether it clears a finding that is like `draft`, where that is
    /// known of a build that is the same in all that it rests on.
    pub(crate) fn find(
        &self,
        rule: u16,
        is: impl Fn(&Draft) -> bool,
        lines: &Places,
        view: View<'_>,
    ) -> Option<Rc<[bool]>> {
        let mut held = self.0.get(&rule).into_iter().flatten();
        let known = held.find(|h| is(&h.draft) && h.lines == *lines && h.rests_on.holds(view));
        known.map(|known| known.clears.clone())
    }

    /// Keeps what was found.
    pub(crate) fn keep(
        &mut self,
        rule: u16,
        draft: Draft,
        lines: Places,
        rests_on: Basis,
        clears: Rc<[bool]>,
    ) {
        let held = self.0.entry(rule).or_default();
        held.truncate(MOST_WAYS - 1);
        held.push_front(HeldClearing { draft, lines, rests_on, clears });
    }
}

/// A finding to be proven.
pub(crate) struct Claim<'a> {
    /// Its rule.
    pub(crate) rule: u16,
    /// As its script raised it.
    pub(crate) draft: &'a Draft,
    /// The places it was reached by.
    pub(crate) places: &'a [ExprId],
    /// Most questions that its proof may ask.
    pub(crate) most: usize,
}

/// The facts that prove a finding; none where that takes too many questions to find.
pub(crate) type Facts = Option<Rc<[ExprId]>>;

/// Proofs, explorations and clearings of before.
#[derive(Debug, Default)]
pub(crate) struct Remembered {
    pub(crate) proofs: Proofs,
    pub(crate) explorations: Explorations,
    pub(crate) clearings: Clearings,
}

/// Proofs of before.
#[derive(Debug, Default)]
pub(crate) struct Proofs(AHashMap<u16, VecDeque<Held>>);

#[derive(Debug)]
struct Held {
    draft: Draft,
    places: Box<[ExprId]>,
    most: usize,
    rests_on: Basis,
    facts: Facts,
    weight: usize,
}

/// What a proof rests on.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Basis {
    places: Vec<(ExprId, Saw)>,
    lines: Vec<(KindId, Box<[Line]>)>,
}

/// Pieces of a line, by their bits, and whether its part is chosen.
type Line = (u64, bool);

/// What a proof saw of a place.
#[derive(Debug, PartialEq)]
enum Saw {
    /// Its value; unknown where nobody said it.
    Value(Val),
    /// Whether it has one, as the place was let go; none where nobody said it.
    Presence(Option<bool>),
}

/// What the explorations of one proof looked at.
#[derive(Debug, Default)]
pub(crate) struct LookedAt {
    as_is: AHashSet<ExprId>,
    let_go: AHashSet<ExprId>,
    kinds: AHashSet<KindId>,
}

impl LookedAt {
    /// What one exploration looked at.
    pub(crate) fn of(ends: &Ends) -> Self {
        let mut looked_at = Self::default();
        looked_at.add(ends);
        looked_at
    }

    /// Adds what an exploration looked at.
    pub(crate) fn add(&mut self, ends: &Ends) {
        for (id, as_is) in &ends.looked_at {
            if *as_is { &mut self.as_is } else { &mut self.let_go }.insert(*id);
        }
        self.kinds.extend(ends.counted.iter().copied());
    }

    /// What a proof rests on that looked at this, as a build has it.
    pub(crate) fn basis(&self, view: View<'_>) -> Basis {
        let holds_value = |id: &&ExprId| is_read(view.pool.get(**id));
        let as_is = self.as_is.iter().filter(holds_value);
        let let_go = self.let_go.iter().filter(|id| !self.as_is.contains(*id));
        let places = as_is
            .map(|id| (*id, Saw::Value(value(view, *id))))
            .chain(let_go.filter(holds_value).map(|id| (*id, Saw::Presence(presence(view, *id)))));
        let lines = self.kinds.iter().map(|kind| (*kind, lines(view, *kind).collect()));
        Basis { places: places.collect(), lines: lines.collect() }
    }
}

impl Basis {
    /// What it weighs among what is remembered.
    fn weight(&self) -> usize {
        let value = |(_, saw): &(ExprId, Saw)| match saw {
            Saw::Value(value) => value.bytes(),
            Saw::Presence(_) => 0,
        };
        let lines = |(_, lines): &(KindId, Box<[Line]>)| size_of_val(&**lines);
        let bytes = size_of_val(&*self.places)
            + self.places.iter().map(value).sum::<usize>()
            + self.lines.iter().map(lines).sum::<usize>();
        bytes / WEIGHT_BYTES
    }

    /// Whether a build is the same in all of it.
    pub(crate) fn holds(&self, view: View<'_>) -> bool {
        self.lines.iter().all(|(kind, held)| held.iter().copied().eq(lines(view, *kind)))
            && self.places.iter().all(|(id, saw)| match saw {
                Saw::Value(held) => *held == value(view, *id),
                Saw::Presence(held) => *held == presence(view, *id),
            })
    }
}

/// Whether an expression reads the build itself, and not through others that it is made of.
fn is_read(expr: &Expr) -> bool {
    match expr {
        Expr::Field(..)
        | Expr::Sub(..)
        | Expr::Line(..)
        | Expr::Build(_)
        | Expr::Pieces(_)
        | Expr::Derived(_) => true,
        // A sum reads fields, which are looked at each, of lines, which are counted.
        Expr::Sum(_)
        | Expr::Const(_)
        | Expr::Word(_)
        | Expr::Setting(_)
        | Expr::KeyOf(..)
        | Expr::Cell(..)
        | Expr::Measure(..)
        | Expr::Bin(..)
        | Expr::Un(..)
        | Expr::Func(..)
        | Expr::Assign(_) => false,
    }
}

fn value(view: View<'_>, id: ExprId) -> Val {
    view.see(id).map_or(Val::Unknown, Seen::keep)
}

fn presence(view: View<'_>, id: ExprId) -> Option<bool> {
    match view.see(id) {
        Ok(seen) => Some(seen != Seen::Absent),
        Err(Lack::Fact(_)) => None,
        Err(Lack::Open(..)) => Some(false),
    }
}

fn lines(view: View<'_>, kind: KindId) -> impl Iterator<Item = Line> {
    view.build.slots(kind).iter().map(|slot| (slot.count.to_bits(), slot.part.is_some()))
}

impl Proofs {
    /// The facts that an earlier proof of the same claim found, on a build that is the same in all
    /// that it rests on.
    pub(crate) fn find(&mut self, claim: &Claim<'_>, view: View<'_>) -> Option<Facts> {
        let held = self.0.get_mut(&claim.rule)?;
        let at = held.iter().position(|known| {
            known.most == claim.most
                && *known.places == *claim.places
                && known.draft == *claim.draft
                && known.rests_on.holds(view)
        })?;
        let known = held.remove(at)?;
        let facts = known.facts.clone();
        held.push_front(known);
        Some(facts)
    }

    /// Keeps a proof.
    pub(crate) fn keep(&mut self, claim: &Claim<'_>, rests_on: Basis, facts: Facts) {
        let held = self.0.entry(claim.rule).or_default();
        let mut room = MOST_WEIGHT;
        let fits = |known: &&Held| {
            let left = room.checked_sub(known.weight);
            room = left.unwrap_or(0);
            left.is_some()
        };
        let kept = held.iter().take(MOST_OF_RULE - 1).take_while(fits).count();
        held.truncate(kept);
        let Claim { draft, places, most, .. } = *claim;
        let lists = places.len() + facts.as_ref().map_or(0, |facts| facts.len());
        let weight = draft.weight()
            + rests_on.weight()
            + (size_of::<Held>() + lists * size_of::<ExprId>()) / WEIGHT_BYTES;
        let (draft, places) = (draft.clone(), places.into());
        held.push_front(Held { draft, places, most, rests_on, facts, weight });
    }

    /// How many are kept.
    pub(crate) fn len(&self) -> usize {
        self.0.values().map(VecDeque::len).sum()
    }
}
