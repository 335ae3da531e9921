//! The fewest changes that clear every stop, and among as few those that lose least.
//!
//! What stops a list rests on some of its lines: as long as those stay as they are, it is stopped.
//! Each such set is a cause, and a fix changes something in every cause. So the smallest sets that
//! meet all causes known so far are tried; one that does not do is a new cause, made of what the
//! rules that refused it rest on.

mod causes;
mod changes;

use std::sync::Arc;

use crate::build::{Build, Line};
use crate::catalogue::Part;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::level::Level;
use crate::trade::money::{Currency, Money};
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::query::{Found, Goal, Keep, Outcome, Quest, SearchLimits};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::Space;
use causes::{Causes, Elements};

pub use changes::{MendChange, MendLoss, edits};

/// How many ways are given.
const WAYS: usize = 5;
/// Most lines and kinds together that may be changed.
pub const MOST_ELEMENTS: usize = 120;

/// Ways to clear every stop.
#[non_exhaustive]
pub struct Mend {
    /// Stops that stand now, by rule.
    pub stops: Vec<String>,
    /// Of the ways with the fewest changes those that no other beats in loss and price at once, the
    /// least loss first.
    pub ways: Vec<MendWay>,
    /// Whether it is proven that fewer changes do not do, and that none as few lose less, or as
    /// little for less money.
    pub proven: bool,
    /// Where no changes help: a set of rules that cannot all be met.
    pub conflict: Vec<String>,
    /// Whether that set is proven to be smallest.
    pub conflict_smallest: bool,
    /// Parts that no seller has in stock and that would clear the stops where nothing else does.
    pub unsold: Vec<Arc<Part>>,
    /// Rules that broke on every build that was tried first: no build is held to them.
    pub left_out: Vec<String>,
    /// Lines and kinds that could be changed, where they are more than a search takes: nothing was
    /// looked for then.
    pub too_many: Option<usize>,
}

/// A set of changes that clears every stop.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct MendWay {
    /// What is changed.
    pub changes: Vec<MendChange>,
    /// What is lost, in percent points over all ranks of the kinds.
    pub loss: i64,
    /// What the list would cost.
    pub total: Money,
    /// What it would cost more, or less when negative.
    pub more: Money,
    /// The build, without lines that are open.
    pub build: Build,
}

impl MendWay {
    fn key(&self) -> (usize, i64, i64) {
        (self.changes.len(), self.loss, self.total.minor())
    }

    /// Whether another way is at least as good in everything, and better in something.
    fn beaten_by(&self, other: &Self) -> bool {
        let (a, b) = (self.key(), other.key());
        b.0 <= a.0 && b.1 <= a.1 && b.2 <= a.2 && a != b
    }
}

/// Looks for the fewest changes that clear every stop of a build. Lines that are open stay out of
/// it, as nothing stands there.
pub fn mend(kit: &Kit, build: &Build, limits: SearchLimits<'_>) -> Mend {
    let mut closed = build.clone();
    closed.lines.retain(Elements::closed);
    let audit = kit.audit(&closed);
    let mut mend = Mend { stops: audit.stops(Level::Stop), ..nothing() };
    if mend.stops.is_empty() {
        return mend;
    }
    let elements = Elements::new(kit, &closed, &audit);
    if elements.count() > MOST_ELEMENTS {
        (mend.too_many, mend.proven) = (Some(elements.count()), false);
        return mend;
    }
    // Where the lines that stay stand in the list itself.
    let lines = build.lines.iter().enumerate().filter(|(_, l)| Elements::closed(l));
    let held = lines.map(|(at, _)| at).collect();
    let causes = Causes::of(&elements, &audit);
    let mut mender = Mender { kit, closed: &closed, held, elements, causes, limits, sold: true };
    mender.search(&mut mend);
    if mend.ways.is_empty() && mend.proven {
        mender.explain(&mut mend);
    }
    mend
}

struct Mender<'a> {
    kit: &'a Kit,
    closed: &'a Build,
    held: Vec<usize>,
    elements: Elements,
    causes: Causes,
    limits: SearchLimits<'a>,
    /// Whether parts must be in stock.
    sold: bool,
}

impl Mender<'_> {
    /// Tries every set of elements that meets all causes, the smallest first, until some do.
    fn search(&mut self, mend: &mut Mend) {
        for size in 1..=self.elements.count() {
            while let Some(set) = self.causes.next_set(size) {
                if self.limits.over() {
                    mend.proven = false;
                    return;
                }
                self.try_set(set, mend);
            }
            if self.causes.hopeless() || !mend.ways.is_empty() {
                return;
            }
        }
    }

    /// Looks for the best ways that change nothing but these elements.
    fn try_set(&mut self, set: u128, mend: &mut Mend) {
        let mut reach = Some(0);
        for shape in self.elements.shapes(set) {
            let Some(space) = self.space(set, shape) else { continue };
            let outcome = solve(&self.quest(&space));
            mend.left_out.extend(outcome.left_out.iter().cloned());
            mend.proven &= outcome.proven;
            for found in &outcome.found {
                let way = self.way(&space, found, shape);
                self.keep(mend, way);
            }
            let refused = outcome.found.is_empty() && outcome.proven;
            reach = reach.filter(|_| refused).map(|reach| reach | self.reach(&outcome));
        }
        mend.left_out.sort();
        mend.left_out.dedup();
        match reach {
            // What the rules that refused it rest on, but for what was free, is a cause.
            Some(reach) => self.causes.add(reach & !set),
            None => self.causes.done(set),
        }
    }

    /// The elements that the rules of a search that found nothing rest on.
    fn reach(&self, outcome: &Outcome) -> u128 {
        let rules = self.kit.rules();
        let blamed = outcome.stopped_by.keys().filter_map(|id| rules.find(id));
        blamed.fold(0, |mask, rule| mask | self.elements.reach(self.kit, rule))
    }

    fn keep(&self, mend: &mut Mend, way: MendWay) {
        if mend.ways.iter().any(|w| way.beaten_by(w) || way.key() == w.key()) {
            return;
        }
        mend.ways.retain(|w| !w.beaten_by(&way));
        let at = mend.ways.partition_point(|w| w.key() <= way.key());
        mend.ways.insert(at, way);
        mend.ways.truncate(WAYS);
    }

    fn quest<'s>(&'s self, space: &'s Space) -> Quest<'s> {
        Quest {
            kit: self.kit,
            space,
            rules: (0u16..).take(self.kit.rules().rules.len()).collect(),
            level: Level::Stop,
            levels: Vec::new(),
            goals: vec![Goal::Loss, Goal::Price],
            keep: Keep::Front,
            limits: self.limits,
            memo: None,
        }
    }

    /// The build with some lines free, and lines dropped and added as a shape says; none where
    /// there is nothing to add.
    fn space(&self, set: u128, shape: u128) -> Option<Space> {
        let mut base = self.closed.clone();
        base.lines.clear();
        let mut choices = Vec::new();
        let kept = self.kept(shape);
        for at in &kept {
            let line = self.closed.lines.get(*at)?;
            base.lines.push(line.clone());
            choices.push(match set & (1u128 << at) {
                0 => Vec::new(),
                _ => self.elements.variants(self.kit, line, self.sold),
            });
        }
        for kind in self.elements.added(shape) {
            let new = self.elements.new_lines(self.kit, self.closed, kind, self.sold);
            base.lines.push(new.first()?.clone());
            choices.push(new);
        }
        let mut space = Space::new(&base, self.kit.catalogue(), choices);
        space.weigh(|place, line| {
            let now = kept.get(place).and_then(|at| self.closed.lines.get(*at));
            now.map_or(0, |now| changes::loss(self.kit.catalogue(), now, line))
        });
        Some(space)
    }

    /// The lines of the list that a space without some begins with.
    fn kept(&self, shape: u128) -> Vec<usize> {
        (0..self.closed.lines.len()).filter(|at| shape & (1u128 << at) == 0).collect()
    }

    fn way(&self, space: &Space, found: &Found, shape: u128) -> MendWay {
        let currency = Currency::from_code(&space.base.currency).unwrap_or(Currency::EURO);
        let build = space.build(&found.picks);
        let kept = self.kept(shape);
        let mut changes = Vec::new();
        let mut loss = 0;
        for (place, at) in kept.iter().enumerate() {
            let (Some(now), Some(then)) = (self.closed.lines.get(*at), build.lines.get(place))
            else {
                continue;
            };
            let line = self.held.get(*at).copied().unwrap_or(*at);
            changes.extend(changes::change(self.kit.catalogue(), line, now, then));
            loss += changes::loss(self.kit.catalogue(), now, then);
        }
        for (at, line) in self.closed.lines.iter().enumerate() {
            if let (true, Some(part)) = (shape & (1u128 << at) != 0, line.part()) {
                let line = self.held.get(at).copied().unwrap_or(at);
                changes.push(MendChange::Drop { line, part: part.clone() });
                loss += changes::WHOLE;
            }
        }
        changes.extend(build.lines.iter().skip(kept.len()).filter_map(MendChange::add));
        let before = Space::new(self.closed, self.kit.catalogue(), Vec::new());
        let before = before.cost(&vec![0; self.closed.lines.len()]);
        MendWay {
            changes,
            loss,
            total: Money::from_minor(found.cost, currency),
            more: Money::from_minor(found.cost - before, currency),
            build,
        }
    }

    /// Where nothing helps: which rules cannot all be met, or which parts out of stock would do.
    fn explain(&mut self, mend: &mut Mend) {
        let all: Vec<Vec<Line>> = (0..self.closed.lines.len())
            .map(|at| {
                let line = self.closed.lines.get(at);
                line.map_or_else(Vec::new, |l| self.elements.variants(self.kit, l, true))
            })
            .collect();
        let space = Space::new(self.closed, self.kit.catalogue(), all);
        let quest = Quest { goals: Vec::new(), keep: Keep::Best(1), ..self.quest(&space) };
        let outcome = solve(&quest);
        if outcome.found.is_empty() && outcome.proven {
            (mend.conflict, mend.conflict_smallest) = conflict(&quest, &outcome);
        }
        let audit = self.kit.audit(self.closed);
        self.sold = false;
        self.causes = Causes::of(&self.elements, &audit);
        let mut other = nothing();
        self.search(&mut other);
        if let Some(way) = other.ways.first() {
            mend.unsold = way.changes.iter().filter_map(|c| self.elements.unsold(c)).collect();
        }
    }
}

fn nothing() -> Mend {
    Mend {
        stops: Vec::new(),
        ways: Vec::new(),
        proven: true,
        conflict: Vec::new(),
        conflict_smallest: true,
        unsold: Vec::new(),
        left_out: Vec::new(),
        too_many: None,
    }
}

/// Kinds that may be added: those of which there is none yet, or may be several.
pub(super) fn may_add(kit: &Kit, build: &Build, kind: KindId) -> bool {
    let single = kit.catalogue().kind(kind).is_some_and(|k| k.single);
    !single || build.of_kind(kind).next().is_none()
}
