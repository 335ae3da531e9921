//! The search itself: depth first over what each line may hold, boxes of builds dropped as soon as
//! rules or bounds allow.
//!
//! Whatever a walk over many builds says, every answer is audited in full as the one build that it
//! is.

use std::cell::Cell;
use std::collections::BTreeSet;
use std::rc::Rc;

use crate::kit::Audit;
use crate::rules::loader::BrokenRule;

use super::abstract_eval::Sight;
use super::cache::{Dom, Notes, State};
use super::dominance::Dominated;
use super::memo::Held;
use super::query::{Goal, Keep, Outcome, Quest, SearchProgress};
use super::space::MOST_OPEN;
use super::walk::{BLOCK, PASS, Track, UNKNOWN};

/// Builds audited before the search starts, to find out which rules break on whatever is chosen.
const FIRST_BUILDS: usize = 24;
/// Of these, builds audited by every rule where no node is searched after.
const WHOLE_BUILDS: usize = 4;
/// Builds tried to find out where an unknown way leads, each time one is met.
const TRIES: usize = 2;
/// Builds in a row that may leave it open before a rule is tried less often: a script runs for
/// each.
const PATIENCE: u32 = 8;
/// Builds left, as far as a rule sees them, of which one is always tried: it decides.
const FEW_LEFT: usize = 4;

pub(super) struct Search<'a, 'q> {
    pub(super) quest: &'q Quest<'a>,
    pub(super) notes: Notes,
    /// Rules that may stop a build, and the goals' measures after them.
    pub(super) tracks: Vec<(u16, Track)>,
    pub(super) stoppers: usize,
    /// What an audit of an answer runs.
    all: Vec<u16>,
    weights: Vec<u64>,
    pub(super) blocks: Vec<u64>,
    pub(super) out: Outcome,
    random: u64,
    pub(super) halted: bool,
    /// Every choice of every place.
    pub(super) whole: Option<State>,
    /// What was left of all choices before the first was made.
    pub(super) root: Option<State>,
    pub(super) dominated: Dominated,
    /// Whether an answer was refused by what no tree shows.
    pub(super) refused_unseen: bool,
    /// Whether builds of other spaces beat some of these.
    pub(super) cut: Cell<bool>,
}

type Bits = Rc<[u64]>;

/// Looks for the builds of a space that pass.
pub(crate) fn solve(quest: &Quest<'_>) -> Outcome {
    // What is noted is by expression.
    let readers = quest.kit.inside().0.pool_guard();
    let mut held = quest.memo.map(|memo| memo.held.take()).unwrap_or_default();
    let mut notes = std::mem::take(&mut held.notes);
    let mut state = notes.start(quest.space);
    let whole = Some(state.clone());
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
        weights: std::mem::take(&mut held.weights),
        blocks: Vec::new(),
        out: Outcome { proven: true, ..Outcome::default() },
        random: 0x9e37_79b9,
        halted: false,
        whole,
        root: None,
        dominated: Dominated::default(),
        refused_unseen: false,
        cut: Cell::new(false),
    };
    search.weights.resize(quest.space.places.len(), 1);
    let runs = quest.kit.script_runs();
    search.prepare(&state, &mut held);
    quest.known.iter().cloned().for_each(|found| search.keep(found));
    search.start(state);
    search.settle_dominated();
    search.finish(runs, held)
}

impl Search<'_, '_> {
    fn prepare(&mut self, state: &State, held: &mut Held) {
        let quest = self.quest;
        let rules = quest.kit.rules();
        let settings = quest.kit.settings();
        let cheapest: Vec<u32> =
            state.doms.iter().map(|d| d.alive.first().copied().unwrap_or(0)).collect();
        // No rule runs: what may be waived is the list's and the shop's, whatever is chosen.
        let audit = quest.kit.audit_with(&quest.space.resolved(&cheapest), &[]);
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
            let worst = rule.levels().first().copied();
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
    /// broke on each: such a rule is no measure for builds but a fault of its own. Where that is
    /// all that is wanted, a rule that passed once is not asked any more.
    fn first_builds(&mut self, state: &State, cheapest: &[u32]) -> Vec<u16> {
        let whole = if self.quest.most_nodes == 0 { WHOLE_BUILDS } else { FIRST_BUILDS };
        let mut suspects = self.all.clone();
        for nth in 0..FIRST_BUILDS {
            let picks = if nth == 0 { cheapest.to_vec() } else { self.any_picks(state) };
            let audit = match nth < whole {
                true => self.audit(&picks),
                false => self.audit_by(&picks, &suspects),
            };
            let rules = self.quest.kit.rules();
            let broken: BTreeSet<u16> =
                audit.failed().filter_map(|(rule, _)| rules.find(&rule.id)).collect();
            suspects.retain(|rule| broken.contains(rule));
            if suspects.is_empty() && nth + 1 >= whole {
                break;
            }
        }
        suspects
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
        let all = std::mem::take(&mut self.all);
        let audit = self.audit_by(picks, &all);
        self.all = all;
        audit
    }

    fn audit_by(&mut self, picks: &[u32], rules: &[u16]) -> Audit {
        self.out.audits += 1;
        let audit = self.quest.kit.audit_with(&self.quest.space.resolved(picks), rules);
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
        self.with(track, state, None, |t, tree, sight| t.mixed(tree, sight)).unwrap_or(UNKNOWN)
    }

    /// Finds out where unknown ways lead, on a few builds of the state.
    fn find_out(&mut self, track: usize, state: &State) -> u8 {
        let mut mask = self.walk(track, state);
        let Some((rule, waivable)) = self.tracks.get(track).map(|(rule, t)| (*rule, t.waivable))
        else {
            return mask;
        };
        let decided = |mask: u8| mask & UNKNOWN == 0 || mask & PASS != 0;
        for _ in 0..TRIES {
            if decided(mask) || waivable || self.tired_of(track, state) {
                break;
            }
            let picks = self.any_picks(state);
            self.quest.kit.audit_with(&self.quest.space.resolved(&picks), &[rule]);
            self.out.audits += 1;
            mask = self.walk(track, state);
            if let Some((_, track)) = self.tracks.get_mut(track) {
                track.misses = if decided(mask) { 0 } else { track.misses + 1 };
            }
        }
        mask
    }

    /// Whether the builds tried of late did not decide what a rule says of a state, and one more
    /// would hardly.
    fn tired_of(&mut self, track: usize, state: &State) -> bool {
        let tired = self.tracks.get(track).is_some_and(|(_, t)| t.misses > PATIENCE);
        if !tired || self.out.boxes.is_multiple_of(64) {
            return false;
        }
        let deps = self.deps(track, state);
        let left = state.doms.iter().enumerate().filter(|(at, _)| self.notes.mask(*at) & deps != 0);
        let left = left.map(|(_, dom)| dom.alive.len());
        left.fold(1usize, usize::saturating_mul) > FEW_LEFT
    }

    /// Searches a state in which nothing is known to hold yet.
    pub(super) fn start(&mut self, state: State) {
        let everything = self.open_mask();
        let words = self.tracks.len().div_ceil(64);
        self.root = None;
        self.go(state, vec![0; words].into(), everything, true);
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
        let Some(fell) = self.drop_dominated(&mut state) else { return };
        if !self.tighten(&mut state, &mut entailed, changed | fell, root) {
            return;
        }
        if root {
            self.root = Some(state.clone());
        }
        let Some(place) = self.next_place(&state) else {
            let picks: Vec<u32> = state.doms.iter().map(|d| d.single().unwrap_or(0)).collect();
            self.answer(picks);
            return;
        };
        let mask = self.notes.mask(place);
        // What follows one that reaches too little reaches no more.
        let in_order = match self.quest.goals.first() {
            Some(Goal::Measure { .. }) => self.order_of(place).is_some(),
            _ => self.only_cost_counts(&state, place),
        };
        for choice in self.in_order(&state, place) {
            let bound = self.bound(&state, Some((place, choice)));
            if self.halted {
                self.leave(bound.first().copied());
                continue;
            }
            if self.beaten(&bound) {
                if in_order && self.last_held().is_some_and(|last| bound.first() > Some(&last)) {
                    break;
                }
                continue;
            }
            if self.is_dominated(place, choice) {
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
        self.out.cut = self.cut.get();
        self.out.runs = self.quest.kit.script_runs() - runs;
        if let Some(memo) = self.quest.memo {
            held.notes = self.notes;
            held.weights = self.weights;
            held.tracks.extend(self.tracks);
            memo.held.replace(held);
        }
        self.out
    }
}
