//! The fewest changes that clear every stop, and among as few those that lose least.
//!
//! What stops a list rests on some of its lines: as long as those stay as they are, it is stopped.
//! Each such set is a cause, and a fix changes something in every cause. So the smallest sets that
//! meet all causes known so far are tried; one that does not do is a new cause, made of what the
//! rules that refused it rest on. A cause is made small before it is kept: each line of it that may
//! change as well without any help leaves it, since the fewer there are in each cause, the fewer
//! sets meet all of them.

mod answer;
mod caps;
mod causes;
mod changes;
mod first_way;
mod kinder;
mod whole;
mod wished;

use std::cell::{Cell, OnceCell, RefCell};
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;
use std::sync::Arc;

use crate::build::bill::Total;
use crate::build::resolve::Resolved;
use crate::build::{Build, Line};
use crate::catalogue::kinds::KindId;
use crate::catalogue::ranks::Ranking;
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::whatif::open_lines::as_judged;
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::memo::Memo;
use crate::whatif::search::query::{Found, Goal, Keep, Outcome, Quest, SearchLimits};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::{MOST_OPEN, Place, Space};
use answer::{keep, nothing};
use causes::{Causes, Elements};
use changes::applied;
use first_way::Draft;
use whole::{Asked, Whole};
use wished::{closed, filled};

#[cfg(feature = "app")]
pub(crate) use answer::LITTLE_MORE;
pub use answer::{Mend, MendNearest, MendWay};
pub(crate) use changes::losses;
#[cfg(feature = "app")]
pub(crate) use changes::part_loss;
pub use changes::{MendChange, MendLoss, MendLossWords, edits};

/// Search nodes within which some way is looked for, search after search.
const SOON: [u64; 4] = [40, 80, 160, 320];
/// Search nodes after which some way is looked for before the fewest changes are proven: most lists
/// are mended in fewer. A script that runs takes as long as some nodes.
const EARLY: u64 = 3_000;
const NODES_OF_A_RUN: u64 = 10;
/// Shapes that are looked at before a line is left in a cause untried.
const SHAPES_OF_CAUSE: usize = 2;
/// Shapes of the list of which what was found out is kept.
const MOST_SHAPES: usize = 64;
/// Most lines and kinds together that may be changed.
pub const MOST_ELEMENTS: usize = 120;

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
    let mut mender = Mender {
        kit,
        closed: &all,
        held,
        elements,
        causes,
        limits,
        ranking: build.ranking(kit.catalogue()),
        passed: RefCell::default(),
        sold: true,
        caps: Vec::new(),
        of_the_whole: Vec::new(),
        stoppers: OnceCell::new(),
        wholes: RefCell::default(),
        nodes: Cell::new(0),
    };
    mender.first_causes(&audit);
    mender.search(&mut mend);
    mender.kinder(&mut mend, &audit);
    if mend.ways.is_empty() && mend.proven {
        mender.explain(&mut mend);
    }
    if mender.elements.open() != 0 {
        judge(kit, build, &mut mend);
    }
    mend.offer(kit, &audit);
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
    ranking: Ranking,
    /// Sets of elements of which some change was found that clears every stop.
    passed: RefCell<Vec<u128>>,
    /// Whether parts must be in stock.
    sold: bool,
    /// Rules that stop the list and that neither dropping nor adding lines can clear.
    caps: Vec<u16>,
    /// Those of them that look at every line, as at the total.
    of_the_whole: Vec<u16>,
    stoppers: OnceCell<Vec<u16>>,
    /// By shape, the list with every line free; none where it is more than one search takes.
    wholes: RefCell<HashMap<u128, Option<Rc<Whole>>>>,
    /// Search nodes that the changes of sets took so far.
    nodes: Cell<u64>,
}

impl Mender<'_> {
    /// What each stop of the list rests on.
    fn first_causes(&mut self, audit: &Audit) {
        (self.caps, self.of_the_whole) = (Vec::new(), Vec::new());
        let open = self.elements.open();
        let stops = self.elements.stops(audit);
        for (rule, cause) in stops {
            if self.stops_all(open, rule) {
                self.caps.push(rule);
                self.causes.add(self.capped(open, rule));
                if self.elements.are_all(cause) {
                    self.of_the_whole.push(rule);
                }
                continue;
            }
            let cause = self.shrunk(open, cause & !open, &BTreeSet::from([rule]));
            self.causes.add(cause);
        }
    }

    /// Tries every set of elements that meets all causes, the smallest first, until some do.
    fn search(&mut self, mend: &mut Mend) {
        let mut first = None;
        for size in 1..=self.elements.count() {
            mend.least = size;
            while let Some(set) = self.causes.next_set(size, &self.limits) {
                self.nodes.set(self.nodes.get() + 1);
                if first.is_none() && self.nodes.get() > EARLY {
                    let way = self.first_way();
                    if way.is_none() {
                        mend.nearest = self.nearest(&self.cap_names());
                    }
                    first = Some(way);
                }
                let all = set | self.elements.open();
                if let Some(rule) = self.caps.iter().find(|rule| self.stops_all(all, **rule)) {
                    self.causes.add(self.capped(all, *rule));
                    if !self.limits.over() {
                        continue;
                    }
                }
                // Only what it does not beat is looked for.
                if let Some(Some(way)) = &first
                    && way.changes.len() == size
                {
                    keep(mend, way.clone());
                }
                if self.limits.over() {
                    mend.proven = false;
                    let first = first.flatten().filter(|_| mend.ways.is_empty());
                    mend.ways.extend(first);
                    return;
                }
                let early = EARLY.saturating_sub(self.nodes.get()).max(1);
                self.try_set(set, if first.is_none() { early } else { u64::MAX }, mend);
            }
            if self.causes.hopeless() || !mend.ways.is_empty() {
                return;
            }
            if self.limits.over() {
                mend.proven = false;
                return mend.ways.extend(first.flatten());
            }
        }
    }

    /// Looks for the best ways that change nothing but these elements; where that takes more search
    /// nodes than `most`, the set is left to be tried again.
    fn try_set(&mut self, tried: u128, most: u64, mend: &mut Mend) {
        let set = tried | self.elements.open();
        let (mut refused, mut by) = (true, BTreeSet::new());
        for shape in self.elements.shapes(set) {
            if self.limits.over() {
                (mend.proven, refused) = (false, false);
                break;
            }
            let held: Vec<[f64; 2]> = mend.ways.iter().map(MendWay::score).collect();
            let solved = self.solved(set, shape, Asked::All(&held, most), |space, outcome| {
                let took = outcome.boxes + NODES_OF_A_RUN * outcome.runs;
                self.nodes.set(self.nodes.get() + took);
                let drafts = outcome.found.iter().map(|found| self.draft(space, found, shape));
                let ways = drafts.map(|draft| self.way(&draft));
                (ways.collect::<Vec<_>>(), outcome)
            });
            let Some((ways, outcome)) = solved else { continue };
            if outcome.boxes > most {
                return;
            }
            if !ways.is_empty() && !self.passed.borrow().contains(&set) {
                self.passed.borrow_mut().push(set);
            }
            ways.into_iter().for_each(|way| keep(mend, way));
            mend.left_out.extend(outcome.left_out.iter().cloned());
            mend.proven &= outcome.proven;
            refused &= outcome.found.is_empty() && outcome.proven && !outcome.cut;
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
        let most_shapes = self.elements.shapes(free).len().max(SHAPES_OF_CAUSE);
        for line in 0..self.closed.lines.len() {
            let bit = 1u128 << line;
            if cause & bit == 0 || self.limits.over() {
                continue;
            }
            if self.elements.shapes(free | bit).len() > most_shapes {
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
            let solved = self.solved(set, shape, Asked::Any(rules), |_, outcome| outcome);
            let Some(outcome) = solved else { continue };
            if !outcome.found.is_empty() || !outcome.proven {
                return None;
            }
            by.extend(self.stopping(&outcome));
        }
        Some(by)
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
    /// none where there is nothing to add.
    fn solved<T>(
        &self,
        set: u128,
        shape: u128,
        asked: Asked<'_>,
        then: impl FnOnce(&Space, Outcome) -> T,
    ) -> Option<T> {
        if let Some(whole) = self.whole(shape) {
            let fixed = whole.fixed(|line| set & (1u128 << line) != 0);
            let memo = Some(whole.memo(asked));
            let outcome =
                solve(&asked.of(Quest { fixed: &fixed, memo, ..self.quest(&whole.space) }));
            return Some(then(&whole.space, outcome));
        }
        let space = self.space(set, shape)?;
        let outcome = solve(&asked.of(self.quest(&space)));
        Some(then(&space, outcome))
    }

    /// Every line free at once: what is found out about that holds for fewer free lines too.
    fn whole(&self, shape: u128) -> Option<Rc<Whole>> {
        if let Some(known) = self.wholes.borrow().get(&shape) {
            return known.clone();
        }
        let first = if shape == 0 { None } else { self.whole(0) };
        let whole = self.looked_at(shape, first.as_deref()).map(Rc::new);
        let mut wholes = self.wholes.borrow_mut();
        if wholes.len() >= MOST_SHAPES {
            wholes.retain(|shape, _| *shape == 0);
        }
        wholes.insert(shape, whole.clone());
        whole
    }

    fn looked_at(&self, shape: u128, first: Option<&Whole>) -> Option<Whole> {
        let space = self.space(self.every_line(), shape)?;
        if space.open() > MOST_OPEN {
            return None;
        }
        let kept = self.kept(shape);
        let own = |(place, at): (&Place, &usize)| {
            let now = self.closed.lines.get(*at)?;
            let choice = place.choices.iter().position(|c| changes::same(&c.line, now))?;
            Some((*at, u32::try_from(choice).ok()?))
        };
        let own = space.places.iter().zip(&kept).map(own).collect::<Option<Vec<_>>>()?;
        let mut own: Vec<_> = own.into_iter().map(Some).collect();
        own.resize(space.places.len(), None);
        let memo = first.map_or_else(Memo::default, |first| first.memo.for_another_space());
        if first.is_none() {
            // Which rules break on whatever is chosen is found out first, and holds for all.
            solve(&Quest { most_nodes: 0, memo: Some(&memo), ..self.quest(&space) });
        }
        Some(Whole { spared: memo.for_another_space(), space, own, memo })
    }

    fn every_line(&self) -> u128 {
        (0..self.closed.lines.len()).fold(0, |set, at| set | 1u128 << at)
    }

    fn quest<'s>(&'s self, space: &'s Space) -> Quest<'s> {
        let goals = vec![Goal::Loss, Goal::Price];
        Quest { goals, ..Quest::new(self.kit, space, Level::Stop, Keep::Front, self.limits) }
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
            now.map_or(0, |now| changes::loss(&self.ranking, now, line))
        });
        Some(space)
    }

    /// The lines of the list that a space without some begins with.
    fn kept(&self, shape: u128) -> Vec<usize> {
        (0..self.closed.lines.len()).filter(|at| shape & (1u128 << at) == 0).collect()
    }

    /// What a search found in a shape as a draft.
    fn draft(&self, space: &Space, found: &Found, shape: u128) -> Draft {
        let kept = self.kept(shape).into_iter().map(Some).chain(std::iter::repeat(None));
        kept.zip(space.build(&found.picks).lines).collect()
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
        let found = audit.briefs().into_iter().filter(|f| f.level == Level::Stop && !f.waived);
        mend.in_the_way = found.filter(|f| mend.conflict.contains(&f.rule.to_string())).collect();
        mend.nearest = self.nearest(&mend.conflict);
        self.sold = false;
        self.causes = Causes::none(&self.elements);
        self.wholes = RefCell::default();
        self.first_causes(&audit);
        let mut other = nothing();
        match self.of_the_whole.is_empty() {
            true => self.search(&mut other),
            // The fewest changes that meet a cap take long to find, and are not asked for here.
            false => other.ways.extend(self.first_way()),
        }
        if let Some(way) = other.ways.first() {
            mend.unsold = way.changes.iter().filter_map(|c| self.elements.unsold(c)).collect();
        }
    }
}

/// Kinds that may be added: those of which there is none yet, or may be several.
pub(super) fn may_add(kit: &Kit, build: &Build, kind: KindId) -> bool {
    let single = kit.catalogue().kind(kind).is_some_and(|k| k.single);
    !single || build.of_kind(kind).next().is_none()
}
