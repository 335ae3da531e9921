//! The search itself: depth first over what each line may hold, boxes of builds dropped as soon as
//! rules or bounds allow.
//!
//! Whatever a walk over many builds says, every answer is audited in full as the one build that it
//! is.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::rc::Rc;

use crate::kit::Audit;
use crate::rules::host::PoolGuard;
use crate::rules::loader::BrokenRule;

use super::abstract_eval::Sight;
use super::best::order;
use super::cache::{Dom, Notes, State};
use super::query::{Goal, Keep, Outcome, Quest, SearchProgress};
use super::space::MOST_OPEN;
use super::walk::{BLOCK, Depth, PASS, Track, UNKNOWN};

/// Builds audited before the search starts, so that most ways through the rules are known.
const FIRST_BUILDS: usize = 24;
/// Builds tried to find out where an unknown way leads, each time one is met.
const TRIES: usize = 2;
/// Builds in a row that may teach nothing before a rule is tried less often.
const PATIENCE: u32 = 8;

pub(super) struct Search<'a, 'q> {
    pub(super) quest: &'q Quest<'a>,
    pub(super) notes: Notes,
    /// Rules that may stop a build, and the goals' measures after them.
    pub(super) tracks: Vec<(u16, Track)>,
    pub(super) stoppers: usize,
    /// What an audit of an answer runs.
    all: Vec<u16>,
    weights: Vec<u64>,
    blocks: Vec<u64>,
    pub(super) out: Outcome,
    random: u64,
    halted: bool,
}

type Bits = Rc<[u64]>;

/// What searches of one space found out, for the next search of it.
#[derive(Default)]
pub(crate) struct Memo {
    held: RefCell<Held>,
    /// What is noted is by expression, so none is forgotten meanwhile.
    readers: RefCell<Option<PoolGuard>>,
}

#[derive(Default)]
struct Held {
    notes: Notes,
    tracks: HashMap<u16, Track>,
    /// Rules that broke on each of the first builds; none while nothing was searched.
    faulty: Option<Vec<u16>>,
}

/// Looks for the builds of a space that pass.
pub(crate) fn solve(quest: &Quest<'_>) -> Outcome {
    // What is noted is by expression.
    let readers = quest.kit.inside().0.pool_guard();
    let mut held = quest.memo.map(|memo| memo.held.take()).unwrap_or_default();
    let mut notes = std::mem::take(&mut held.notes);
    let mut state = notes.start(quest.space);
    for (place, only) in quest.fixed.iter().enumerate() {
        if let Some(only) = only {
            notes.narrow(&mut state, place, Rc::from([*only]));
        }
    }
    let open = quest.space.open();
    if quest.space.places.iter().any(|p| p.choices.is_empty()) || open > MOST_OPEN {
        return Outcome { proven: open <= MOST_OPEN, ..Outcome::default() };
    }
    if let Some(memo) = quest.memo {
        memo.readers.borrow_mut().get_or_insert(readers);
    }
    let mut search = Search {
        quest,
        notes,
        tracks: Vec::new(),
        stoppers: 0,
        all: Vec::new(),
        weights: vec![1; quest.space.places.len()],
        blocks: Vec::new(),
        out: Outcome { proven: true, ..Outcome::default() },
        random: 0x9e37_79b9,
        halted: false,
    };
    let runs = quest.kit.script_runs();
    search.prepare(&state, &mut held);
    let everything = search.open_mask();
    let words = search.tracks.len().div_ceil(64);
    search.go(state, vec![0; words].into(), everything, true);
    search.finish(runs, held)
}

impl Search<'_, '_> {
    fn prepare(&mut self, state: &State, held: &mut Held) {
        let quest = self.quest;
        let rules = quest.kit.rules();
        let settings = quest.kit.settings();
        let cheapest: Vec<u32> =
            state.doms.iter().map(|d| d.alive.first().copied().unwrap_or(0)).collect();
        let audit = quest.kit.audit_with(&quest.space.resolved(&cheapest), &quest.rules);
        let mut all = BTreeSet::new();
        for &at in &quest.rules {
            let Some(rule) = rules.rules.get(at as usize) else { continue };
            let choice = settings.choices.get(&*rule.id);
            let silent = rule.unit.is_some() || rule.step.is_some() || rule.flaw.is_some();
            if choice.is_some_and(|c| c.off) || silent {
                continue;
            }
            let chosen = choice.and_then(|c| c.level);
            // A rule may raise what its text does not show, through a helper of a lib file; none
            // shown means any.
            all.insert(at);
            // It is asked of every answer, but what its text does not raise is no ground to look
            // ahead.
            let worst = rule.levels.first().copied();
            if chosen.or(worst).is_some_and(|l| l < quest.level_of(at)) {
                continue;
            }
            let waivable = audit.may_waive(&rule.id);
            let level = Some(quest.level_of(at));
            let known = held.tracks.remove(&at).filter(|t| t.level == level);
            let track = known.unwrap_or_else(|| Track::new(level, chosen, waivable));
            self.tracks.push((at, track));
        }
        self.stoppers = self.tracks.len();
        for goal in &quest.goals {
            if let Goal::Measure { rule, .. } = goal {
                all.insert(*rule);
                let known = held.tracks.remove(rule).filter(|t| t.level.is_none());
                self.tracks.push((*rule, known.unwrap_or_default()));
            }
        }
        self.blocks = vec![0; self.tracks.len()];
        self.all = all.into_iter().collect();
        let faulty = match &held.faulty {
            Some(known) => known.clone(),
            None => self.first_builds(state, &cheapest),
        };
        held.faulty = Some(faulty.clone());
        for at in faulty {
            self.out.left_out.extend(rules.rules.get(at as usize).map(|r| r.id.to_string()));
            self.all.retain(|a| *a != at);
            if let Some(track) = self.tracks.iter().take(self.stoppers).position(|(a, _)| *a == at)
            {
                self.tracks.remove(track);
                self.blocks.remove(track);
                self.stoppers -= 1;
            }
        }
    }

    /// Audits some builds, so that most ways through the rules are known; gives the rules that
    /// broke on each: such a rule is no measure for builds but a fault of its own.
    fn first_builds(&mut self, state: &State, cheapest: &[u32]) -> Vec<u16> {
        let rules = self.quest.kit.rules();
        let mut breaks: BTreeMap<u16, usize> = BTreeMap::new();
        for nth in 0..FIRST_BUILDS {
            let picks = if nth == 0 { cheapest.to_vec() } else { self.any_picks(state) };
            let audit = self.audit(&picks);
            for at in audit.failed().filter_map(|(rule, _)| rules.find(&rule.id)) {
                *breaks.entry(at).or_default() += 1;
            }
        }
        let always = breaks.into_iter().filter(|(_, count)| *count == FIRST_BUILDS);
        always.map(|(at, _)| at).collect()
    }

    pub(super) fn open_mask(&self) -> u64 {
        (0..self.quest.space.places.len()).fold(0, |mask, p| mask | self.notes.mask(p))
    }

    fn any_picks(&mut self, state: &State) -> Vec<u32> {
        let random = &mut self.random;
        let mut below = |n: usize| {
            *random = random
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((*random >> 33) as usize) % n.max(1)
        };
        state.doms.iter().map(|d| d.alive.get(below(d.alive.len())).copied().unwrap_or(0)).collect()
    }

    pub(super) fn audit(&mut self, picks: &[u32]) -> Audit {
        self.out.audits += 1;
        let audit = self.quest.kit.audit_with(&self.quest.space.resolved(picks), &self.all);
        for (rule, problem) in audit.failed() {
            self.out
                .broken
                .entry(rule.id.to_string())
                .or_insert_with(|| BrokenRule::new(rule, problem));
        }
        audit
    }

    pub(super) fn with<T>(
        &mut self,
        track: usize,
        state: &State,
        pin: Option<(usize, u32)>,
        look: impl FnOnce(&mut Track, &crate::audit::memory::Tree, &mut Sight<'_>) -> T,
    ) -> Option<T> {
        let (host, _) = self.quest.kit.inside();
        let held = host.state.borrow();
        let (rule, track) = self.tracks.get_mut(track)?;
        let tree = held.trees.get(*rule as usize)?;
        let mut sight = Sight {
            space: self.quest.space,
            pool: &held.pool,
            settings: &held.settings,
            state,
            pin,
            notes: &mut self.notes,
        };
        Some(look(track, tree, &mut sight))
    }

    pub(super) fn deps(&mut self, track: usize, state: &State) -> u64 {
        self.with(track, state, None, |t, tree, sight| t.deps(tree, sight)).unwrap_or(0)
    }

    fn walk(&mut self, track: usize, state: &State) -> u8 {
        self.with(track, state, None, |t, tree, sight| t.walk(tree, sight, Depth::Mixed, None))
            .unwrap_or(UNKNOWN)
    }

    /// Whether a rule stops every build of a state that has a choice on a place.
    fn all_stopped(&mut self, track: usize, state: &State, place: usize, choice: u32) -> bool {
        self.with(track, state, Some((place, choice)), |t, tree, sight| {
            t.walk(tree, sight, Depth::AllStopped, None)
        }) == Some(BLOCK)
    }

    /// Finds out where unknown ways lead, on a few builds of the state.
    fn find_out(&mut self, track: usize, state: &State) -> u8 {
        let mut mask = self.walk(track, state);
        let Some((rule, waivable)) = self.tracks.get(track).map(|(rule, t)| (*rule, t.waivable))
        else {
            return mask;
        };
        for _ in 0..TRIES {
            let tired = self.tracks.get(track).is_some_and(|(_, t)| t.misses > PATIENCE)
                && !self.out.boxes.is_multiple_of(64);
            if mask & UNKNOWN == 0 || waivable || mask & PASS != 0 || tired {
                break;
            }
            let picks = self.any_picks(state);
            let before = self.quest.kit.nodes_of(rule);
            self.quest.kit.audit_with(&self.quest.space.resolved(&picks), &[rule]);
            self.out.audits += 1;
            let taught = self.quest.kit.nodes_of(rule) != before;
            if let Some((_, track)) = self.tracks.get_mut(track) {
                track.misses = if taught { 0 } else { track.misses + 1 };
            }
            mask = self.walk(track, state);
        }
        mask
    }

    fn go(&mut self, mut state: State, mut entailed: Bits, changed: u64, root: bool) {
        self.out.boxes += 1;
        let many = self.out.boxes > self.quest.most_nodes;
        if many || (self.out.boxes.is_multiple_of(16) && self.over_time()) {
            self.halted = true;
        }
        if self.halted {
            let bound = self.bound(&state, None);
            self.leave(bound.first().copied());
            return;
        }
        if !self.tighten(&mut state, &mut entailed, changed, root) {
            return;
        }
        let Some(place) = self.next_place(&state) else {
            let picks: Vec<u32> = state.doms.iter().map(|d| d.single().unwrap_or(0)).collect();
            self.answer(picks);
            return;
        };
        let mask = self.notes.mask(place);
        for choice in self.in_order(&state, place) {
            let bound = self.bound(&state, Some((place, choice)));
            if self.halted {
                self.leave(bound.first().copied());
                continue;
            }
            if self.beaten(&bound) {
                continue;
            }
            let mut child = state.clone();
            self.notes.narrow(&mut child, place, Rc::from([choice]));
            self.go(child, entailed.clone(), mask, false);
        }
    }

    fn over_time(&self) -> bool {
        let limits = &self.quest.limits;
        if let Some(tell) = limits.tell {
            tell(SearchProgress {
                boxes: self.out.boxes,
                audits: self.out.audits,
                found: self.out.found.len(),
            });
        }
        limits.over()
    }

    fn leave(&mut self, bound: Option<f64>) {
        self.out.proven = false;
        if let Some(bound) = bound {
            self.out.bound = Some(self.out.bound.map_or(bound, |b| b.min(bound)));
        }
    }

    /// Drops what rules and bounds rule out until nothing more falls; false when nothing is left.
    fn tighten(
        &mut self,
        state: &mut State,
        entailed: &mut Bits,
        changed: u64,
        root: bool,
    ) -> bool {
        let mut changed = changed;
        let mut first = root;
        loop {
            let mut fell = 0u64;
            for track in 0..self.stoppers {
                let (word, bit) = (track / 64, 1u64 << (track % 64));
                if entailed.get(word).is_some_and(|w| w & bit != 0) {
                    continue;
                }
                let deps = self.deps(track, state);
                if deps & (changed | fell) == 0 && !first {
                    continue;
                }
                let mask = self.find_out(track, state);
                if mask == BLOCK {
                    self.blame(track, deps);
                    return false;
                }
                if mask == PASS {
                    let mut bits: Vec<u64> = entailed.to_vec();
                    if let Some(word) = bits.get_mut(word) {
                        *word |= bit;
                    }
                    *entailed = bits.into();
                    continue;
                }
                if mask & BLOCK != 0 {
                    match self.sift(track, state) {
                        None => {
                            self.blame(track, deps);
                            return false;
                        }
                        Some(mask) => fell |= mask,
                    }
                }
            }
            match self.sift_by_bound(state) {
                None => return false,
                Some(mask) => fell |= mask,
            }
            if fell == 0 {
                return true;
            }
            changed = fell;
            first = false;
        }
    }

    fn blame(&mut self, track: usize, deps: u64) {
        if let Some(count) = self.blocks.get_mut(track) {
            *count += 1;
        }
        for (place, weight) in self.weights.iter_mut().enumerate() {
            if self.notes.mask(place) & deps != 0 {
                *weight += 1;
            }
        }
    }

    /// Drops each choice with which a rule stops every build of the state; the places that lost
    /// some, or none when one lost all.
    fn sift(&mut self, track: usize, state: &mut State) -> Option<u64> {
        let deps = self.deps(track, state);
        let mut fell = 0;
        for place in 0..self.quest.space.places.len() {
            let mask = self.notes.mask(place);
            let Some(alive) = state.doms.get(place).map(|d| d.alive.clone()) else { continue };
            if mask & deps == 0 || alive.len() < 2 {
                continue;
            }
            let left: Vec<u32> = alive
                .iter()
                .copied()
                .filter(|choice| !self.all_stopped(track, state, place, *choice))
                .collect();
            if left.len() == alive.len() {
                continue;
            }
            if let Some(count) = self.blocks.get_mut(track) {
                *count += 1;
            }
            if left.is_empty() {
                return None;
            }
            self.notes.narrow(state, place, left.into());
            fell |= mask;
        }
        Some(fell)
    }

    /// The open place that is most likely to fail: few choices left, often to blame. What the first
    /// goal rests on comes first, as no bound on a measure tells much before.
    fn next_place(&mut self, state: &State) -> Option<usize> {
        let aimed = match self.quest.goals.first() {
            Some(Goal::Measure { .. }) => self.deps(self.stoppers, state),
            _ => 0,
        };
        let open = state.doms.iter().enumerate().filter(|(_, d)| d.alive.len() > 1);
        let key = |(place, dom): &(usize, &Dom)| {
            let aside = self.notes.mask(*place) & aimed == 0;
            (aside, dom.alive.len() as f64 / self.weights.get(*place).copied().unwrap_or(1) as f64)
        };
        open.min_by(|a, b| {
            key(a).0.cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1)).then(a.0.cmp(&b.0))
        })
        .map(|(place, _)| place)
    }

    /// The choices of a place, the most promising first.
    fn in_order(&mut self, state: &State, place: usize) -> Vec<u32> {
        let Some(alive) = state.doms.get(place).map(|d| d.alive.clone()) else { return Vec::new() };
        let by_price = self.quest.goals.first().is_none_or(|g| *g == Goal::Price);
        if by_price || self.deps(self.stoppers, state) & self.notes.mask(place) == 0 {
            return alive.to_vec();
        }
        let mut scored: Vec<(Vec<f64>, u32)> = alive
            .iter()
            .map(|choice| (self.bound(state, Some((place, *choice))), *choice))
            .collect();
        scored.sort_by(|a, b| order(&a.0, &b.0).then(a.1.cmp(&b.1)));
        scored.into_iter().map(|(_, choice)| choice).collect()
    }

    fn finish(mut self, runs: u64, mut held: Held) -> Outcome {
        if let Keep::All(count) = self.quest.keep
            && self.out.found.len() >= count
        {
            self.out.proven = false;
        }
        let rules = self.quest.kit.rules();
        for ((rule, _), count) in self.tracks.iter().zip(&self.blocks).filter(|(_, c)| **c > 0) {
            if let Some(rule) = rules.rules.get(*rule as usize) {
                *self.out.stopped_by.entry(rule.id.to_string()).or_default() += *count;
            }
        }
        self.out.runs = self.quest.kit.script_runs() - runs;
        if let Some(memo) = self.quest.memo {
            held.notes = self.notes;
            held.tracks.extend(self.tracks);
            memo.held.replace(held);
        }
        self.out
    }
}
