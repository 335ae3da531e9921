//! The fewest changes that clear every stop, and among as few those that lose least.
//!
//! What stops a list rests on some of its lines: as long as those stay as they are, it is stopped.
//! Each such set is a cause, and a fix changes something in every cause. So the smallest sets that
//! meet all causes known so far are tried; one that does not do is a new cause, made of what the
//! rules that refused it rest on. A cause is made small before it is kept: each line of it that may
//! change as well without any help leaves it, since the fewer there are in each cause, the fewer
//! sets meet all of them.

mod causes;
mod changes;
mod wished;

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::build::bill::Total;
use crate::build::resolve::Resolved;
use crate::build::{Build, Line};
use crate::catalogue::Part;
use crate::catalogue::kinds::KindId;
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::trade::money::Money;
use crate::whatif::open_lines::as_judged;
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::query::{Found, Goal, Keep, Outcome, Quest, SearchLimits};
use crate::whatif::search::solve::{Memo, solve};
use crate::whatif::search::space::{MOST_OPEN, Space};
use causes::{Causes, Elements};
use changes::applied;
use wished::{closed, filled};

pub use changes::{MendChange, MendLoss, edits};
#[cfg(feature = "app")]
pub(crate) use changes::{losses, part_loss};

/// How many ways are given.
const WAYS: usize = 5;
/// Search nodes within which a cause is made smaller, and some way is looked for.
const SOON: u64 = 2_000;
/// From this many changes on, some way is looked for before the fewest are proven.
const FAR: usize = 3;
/// Most lines and kinds together that may be changed.
pub const MOST_ELEMENTS: usize = 120;

/// Ways to clear every stop.
#[non_exhaustive]
#[derive(Default)]
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
    /// Fewer changes than these are proven not to do.
    pub least: usize,
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
    pub total: Total,
    /// What it would cost more, or less when negative.
    pub more: Money,
    /// The build as an audit judges it, without lines that stay open.
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

/// Looks for the fewest changes that clear every stop of a build. What stands on an open line is no
/// change as long as it meets the wants; one that no part meets stays out.
pub fn mend(kit: &Kit, build: &Build, limits: SearchLimits<'_>) -> Mend {
    let (filled, wished) = filled(kit, build);
    let held: Vec<usize> =
        (0..build.lines.len()).filter(|at| filled.lines.get(*at).is_some_and(closed)).collect();
    let mut all = filled.clone();
    all.lines.retain(closed);
    let audit = kit.audit(&all);
    let mut mend = Mend { stops: audit.stops(Level::Stop), ..nothing() };
    if mend.stops.is_empty() {
        return mend;
    }
    let wished = held.iter().map(|at| wished.get(*at).cloned().flatten()).collect();
    let elements = Elements::new(kit, &all, &audit).with_open(wished);
    if elements.count() > MOST_ELEMENTS {
        (mend.too_many, mend.proven) = (Some(elements.count()), false);
        return mend;
    }
    let causes = Causes::none(&elements);
    let mut mender =
        Mender { kit, closed: &all, held, elements, causes, limits, sold: true, whole: None };
    mender.look_at_all();
    mender.first_causes(&audit);
    mender.search(&mut mend);
    if mend.ways.is_empty() && mend.proven {
        mender.explain(&mut mend);
    }
    if mender.elements.open() != 0 {
        judge(kit, build, &mut mend);
    }
    mend
}

/// What a build comes to.
fn paid(kit: &Kit, build: &Build) -> Total {
    Resolved::new(Arc::new(build.clone()), kit.catalogue().clone()).paid()
}

/// The ways as an audit judges them, which puts the cheapest part that passes on an open line.
fn judge(kit: &Kit, build: &Build, mend: &mut Mend) {
    let before = paid(kit, &as_judged(kit, build));
    for mut way in std::mem::take(&mut mend.ways) {
        way.build = as_judged(kit, &applied(build, &way.changes)).into_owned();
        let audit = kit.audit(&way.build);
        if !audit.stops(Level::Stop).is_empty() {
            mend.proven = false;
            continue;
        }
        way.total = audit.build().paid();
        way.more = way.total.over(&before).unwrap_or(way.more);
        keep(mend, way);
    }
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
    /// None where it is more than one search takes.
    whole: Option<Whole>,
}

/// The list with every line free.
struct Whole {
    space: Space,
    /// The choice on each line that stands there now.
    own: Vec<u32>,
    memo: Memo,
}

impl Mender<'_> {
    /// What each stop of the list rests on.
    fn first_causes(&mut self, audit: &Audit) {
        let open = self.elements.open();
        for (rule, cause) in self.elements.stops(audit) {
            let cause = self.shrunk(open, cause & !open, &BTreeSet::from([rule]));
            self.causes.add(cause);
        }
    }

    /// Tries every set of elements that meets all causes, the smallest first, until some do.
    fn search(&mut self, mend: &mut Mend) {
        let mut first = None;
        for size in 1..=self.elements.count() {
            mend.least = size;
            while let Some(set) = self.causes.next_set(size) {
                if size >= FAR && first.is_none() {
                    first = Some(self.any_way());
                }
                if self.limits.over() {
                    mend.proven = false;
                    let first = first.flatten().filter(|_| mend.ways.is_empty());
                    mend.ways.extend(first);
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
    fn try_set(&mut self, tried: u128, mend: &mut Mend) {
        let set = tried | self.elements.open();
        let (mut refused, mut by) = (true, BTreeSet::new());
        for shape in self.elements.shapes(set) {
            if self.limits.over() {
                (mend.proven, refused) = (false, false);
                break;
            }
            let solved = self.solved(set, shape, None, |space, outcome| {
                let ways = outcome.found.iter().map(|found| self.way(space, found, shape));
                (ways.collect::<Vec<_>>(), outcome)
            });
            let Some((ways, outcome)) = solved else { continue };
            ways.into_iter().for_each(|way| keep(mend, way));
            mend.left_out.extend(outcome.left_out.iter().cloned());
            mend.proven &= outcome.proven;
            refused &= outcome.found.is_empty() && outcome.proven;
            by.extend(self.stopping(&outcome));
        }
        mend.left_out.sort();
        mend.left_out.dedup();
        if refused {
            let cause = self.shrunk(set, self.reach(&by) & !set, &by);
            self.causes.add(cause);
        } else {
            self.causes.done(tried);
        }
    }

    /// A cause of which lines that may change as well without any help are taken out: `by` are the
    /// rules that refuse every change of `free` alone.
    fn shrunk(&self, mut free: u128, mut cause: u128, by: &BTreeSet<u16>) -> u128 {
        let rules: Vec<u16> = by.iter().copied().collect();
        for line in 0..self.closed.lines.len() {
            let bit = 1u128 << line;
            if cause & bit == 0 || self.limits.over() {
                continue;
            }
            let Some(by) = self.refused_by(free | bit, &rules) else { continue };
            let smaller = self.reach(&by) & !(free | bit);
            // What a verdict asked on its way may be less than all that its rule ever asked.
            if smaller.count_ones() < cause.count_ones() {
                (free, cause) = (free | bit, smaller);
            }
        }
        cause
    }

    /// The rules among some that together refuse every change of these elements; none where a
    /// change passes them, or that is not found out soon.
    fn refused_by(&self, set: u128, rules: &[u16]) -> Option<BTreeSet<u16>> {
        let mut by = BTreeSet::new();
        for shape in self.elements.shapes(set) {
            if self.limits.over() {
                return None;
            }
            let solved = self.solved(set, shape, Some(rules), |_, outcome| outcome);
            let Some(outcome) = solved else { continue };
            if !outcome.found.is_empty() || !outcome.proven {
                return None;
            }
            by.extend(self.stopping(&outcome));
        }
        Some(by)
    }

    /// Some way, however many changes it takes: one that is found soon, with every change taken
    /// back that is not needed.
    fn any_way(&self) -> Option<MendWay> {
        let whole = self.whole.as_ref()?;
        let space = &whole.space;
        let memo = Some(&whole.memo);
        let quest = Quest { keep: Keep::Best(1), most_nodes: SOON, memo, ..self.quest(space) };
        let mut found = solve(&quest).found.into_iter().next()?;
        for (at, own) in whole.own.iter().enumerate() {
            let mut picks = found.picks.clone();
            *picks.get_mut(at)? = *own;
            if quest.stopped_by(&self.kit.audit(&space.build(&picks))).is_empty() {
                found.picks = picks;
            }
        }
        found.total = space.total(&found.picks);
        Some(self.way(space, &found, 0))
    }

    fn stopping(&self, outcome: &Outcome) -> Vec<u16> {
        let rules = self.kit.rules();
        outcome.stopped_by.keys().filter_map(|id| rules.find(id)).collect()
    }

    /// The elements that some rules rest on, whatever is chosen.
    fn reach(&self, by: &BTreeSet<u16>) -> u128 {
        by.iter().fold(0, |mask, rule| mask | self.elements.reach(self.kit, *rule))
    }

    /// Searches what may be made of some elements, with lines dropped and added as a shape says;
    /// none where there is nothing to add. With some rules named, whether any build passes those is
    /// all that is asked, and not for long.
    fn solved<T>(
        &self,
        set: u128,
        shape: u128,
        rules: Option<&[u16]>,
        then: impl FnOnce(&Space, Outcome) -> T,
    ) -> Option<T> {
        let ask = |quest| match rules {
            None => quest,
            Some(rules) => Quest {
                rules: rules.to_vec(),
                goals: Vec::new(),
                keep: Keep::Best(1),
                most_nodes: SOON,
                ..quest
            },
        };
        if let (0, Some(whole)) = (shape, &self.whole) {
            let free = |at: usize| set & (1u128 << at) != 0;
            let fixed: Vec<Option<u32>> =
                whole.own.iter().enumerate().map(|(at, own)| (!free(at)).then_some(*own)).collect();
            let memo = Some(&whole.memo);
            let outcome = solve(&ask(Quest { fixed: &fixed, memo, ..self.quest(&whole.space) }));
            return Some(then(&whole.space, outcome));
        }
        let space = self.space(set, shape)?;
        let outcome = solve(&ask(self.quest(&space)));
        Some(then(&space, outcome))
    }

    /// Every line free at once: what is found out about that holds for fewer free lines too.
    fn look_at_all(&mut self) {
        let every = self.every_line();
        self.whole =
            self.space(every, 0).filter(|space| space.open() <= MOST_OPEN).and_then(|space| {
                let lines = space.places.iter().zip(&self.closed.lines);
                let own = lines.map(|(place, now)| {
                    place
                        .choices
                        .iter()
                        .position(|c| changes::same(&c.line, now))
                        .map(|at| at as u32)
                });
                Some(Whole { own: own.collect::<Option<_>>()?, space, memo: Memo::default() })
            });
        if let Some(whole) = &self.whole {
            // Which rules break on whatever is chosen is found out first, and holds for all.
            let memo = Some(&whole.memo);
            solve(&Quest { most_nodes: 0, memo, ..self.quest(&whole.space) });
        }
    }

    fn every_line(&self) -> u128 {
        (0..self.closed.lines.len()).fold(0, |set, at| set | 1u128 << at)
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
            fixed: &[],
            most_nodes: u64::MAX,
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
                _ => self.elements.variants(self.kit, *at, line, self.sold),
            });
        }
        for kind in self.elements.added(shape) {
            let new = self.elements.new_lines(self.kit, self.closed, kind, self.sold);
            base.lines.push(new.first()?.clone());
            choices.push(new);
        }
        let mut space = Space::new(&base, self.kit.catalogue(), choices);
        space.weigh(|place, line| {
            let at = kept.get(place).filter(|at| !self.elements.is_open(**at));
            let now = at.and_then(|at| self.closed.lines.get(*at));
            now.map_or(0, |now| changes::loss(self.kit.catalogue(), now, line))
        });
        Some(space)
    }

    /// The lines of the list that a space without some begins with.
    fn kept(&self, shape: u128) -> Vec<usize> {
        (0..self.closed.lines.len()).filter(|at| shape & (1u128 << at) == 0).collect()
    }

    fn way(&self, space: &Space, found: &Found, shape: u128) -> MendWay {
        let build = space.build(&found.picks);
        let kept = self.kept(shape);
        let mut changes = Vec::new();
        let mut loss = 0;
        for (place, at) in kept.iter().enumerate().filter(|(_, at)| !self.elements.is_open(**at)) {
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
        let before = paid(self.kit, self.closed);
        MendWay {
            changes,
            loss,
            total: found.total,
            more: found.total.over(&before).unwrap_or(found.total.money),
            build,
        }
    }

    /// Where nothing helps: which rules cannot all be met, or which parts out of stock would do.
    fn explain(&mut self, mend: &mut Mend) {
        let all: Vec<Vec<Line>> = (0..self.closed.lines.len())
            .map(|at| {
                let line = self.closed.lines.get(at);
                line.map_or_else(Vec::new, |l| self.elements.variants(self.kit, at, l, true))
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
        self.causes = Causes::none(&self.elements);
        self.look_at_all();
        self.first_causes(&audit);
        let mut other = nothing();
        self.search(&mut other);
        if let Some(way) = other.ways.first() {
            mend.unsold = way.changes.iter().filter_map(|c| self.elements.unsold(c)).collect();
        }
    }
}

/// Keeps a way that no other beats, the best first.
fn keep(mend: &mut Mend, way: MendWay) {
    if mend.ways.iter().any(|w| way.beaten_by(w) || way.key() == w.key()) {
        return;
    }
    mend.ways.retain(|w| !w.beaten_by(&way));
    let at = mend.ways.partition_point(|w| w.key() <= way.key());
    mend.ways.insert(at, way);
    mend.ways.truncate(WAYS);
}

/// What is known before anything was looked at: as nothing is claimed, all of it is proven.
fn nothing() -> Mend {
    let (proven, conflict_smallest) = (true, true);
    Mend { proven, conflict_smallest, ..Mend::default() }
}

/// Kinds that may be added: those of which there is none yet, or may be several.
pub(super) fn may_add(kit: &Kit, build: &Build, kind: KindId) -> bool {
    let single = kit.catalogue().kind(kind).is_some_and(|k| k.single);
    !single || build.of_kind(kind).next().is_none()
}
