//! What the best build of a box could score, and which choices can be dropped because something
//! better is held already.

use std::rc::Rc;

use super::best::order;
use super::cache::State;
use super::classes::Classes;
use super::query::{Goal, Keep};
use super::solve::Search;
use super::totals::{rough_span, total_span};

impl Search<'_, '_> {
    /// The best that any build of the state could score.
    pub(super) fn bound(&mut self, state: &State, pin: Option<(usize, u32)>) -> Vec<f64> {
        let (cost, _) = total_span(self.quest.space, &mut self.notes, state, pin);
        self.bound_at(cost, state, pin)
    }

    /// Whether no build of the state with a choice pinned is wanted any more.
    fn is_beaten(&mut self, state: &State, pin: Option<(usize, u32)>) -> bool {
        let (rough, _) = rough_span(self.quest.space, &mut self.notes, state, pin);
        let mut bound = self.bound_at(rough, state, pin);
        if self.beaten(&bound) {
            return true;
        }
        let (exact, _) = total_span(self.quest.space, &mut self.notes, state, pin);
        if exact == rough {
            return false;
        }
        for (goal, slot) in self.quest.goals.iter().zip(&mut bound) {
            if *goal == Goal::Price {
                *slot = exact as f64;
            }
        }
        if let Some(last) = bound.last_mut() {
            *last = exact as f64;
        }
        self.beaten(&bound)
    }

    /// The same with what it costs known.
    fn bound_at(&mut self, cost: i64, state: &State, pin: Option<(usize, u32)>) -> Vec<f64> {
        let mut score = Vec::with_capacity(self.quest.goals.len() + 1);
        let mut track = self.stoppers;
        for goal in &self.quest.goals {
            match goal {
                Goal::Price => score.push(cost as f64),
                Goal::Loss => score.push(self.least_loss(state, pin) as f64),
                Goal::Measure { most, .. } => {
                    let (span, unknown) = self
                        .with(track, state, pin, |t, tree, sight| t.value(tree, sight))
                        .unwrap_or((crate::audit::interval::Span::ALL, true));
                    track += 1;
                    score.push(match (unknown, most) {
                        (true, _) => f64::NEG_INFINITY,
                        (false, true) => -span.hi,
                        (false, false) => span.lo,
                    });
                }
            }
        }
        score.push(cost as f64);
        score
    }

    /// The sum of the least that is lost on each place.
    fn least_loss(&self, state: &State, pin: Option<(usize, u32)>) -> i64 {
        let places = self.quest.space.places.iter().zip(&state.doms).enumerate();
        let least = places.map(|(at, (place, dom))| {
            let loss = |choice: &u32| place.choices.get(*choice as usize).map(|c| c.loss);
            match pin {
                Some((pinned, choice)) if pinned == at => loss(&choice),
                _ => dom.alive.iter().filter_map(loss).min(),
            }
        });
        least.flatten().fold(0, i64::saturating_add)
    }

    /// Whether nothing that scores so, or worse, is wanted any more.
    pub(super) fn beaten(&self, bound: &[f64]) -> bool {
        match self.quest.keep {
            Keep::Best(count) => {
                self.out.found.len() >= count
                    && self.out.found.get(count - 1).is_some_and(|last| !less(bound, &last.score))
            }
            Keep::Front => {
                let goals = self.quest.goals.len();
                let (bound, none) = (bound.get(..goals).unwrap_or(bound), f64::INFINITY);
                let beats = |score: &[f64]| {
                    let pairs = bound.iter().enumerate();
                    pairs.into_iter().all(|(at, b)| score.get(at).copied().unwrap_or(none) <= *b)
                };
                if self.out.found.iter().any(|f| beats(&f.score)) {
                    return true;
                }
                let by_others = self.quest.held.iter().any(|score| beats(score));
                self.cut.set(self.cut.get() || by_others);
                by_others
            }
            Keep::All(count) => self.out.found.len() >= count,
        }
    }

    pub(super) fn sift_by_bound(&mut self, state: &mut State) -> Option<u64> {
        let nothing_yet = self.out.found.is_empty() && self.quest.held.is_empty();
        if nothing_yet {
            return Some(0);
        }
        if self.is_beaten(state, None) {
            return None;
        }
        if matches!(self.quest.keep, Keep::All(_)) {
            return Some(0);
        }
        let mut concerned = 0u64;
        if self.quest.goals.first() == Some(&Goal::Price) || self.quest.keep == Keep::Front {
            concerned = self.open_mask();
        }
        for track in self.stoppers..self.tracks.len() {
            concerned |= self.deps(track, state);
        }
        let mut fell = 0;
        for place in 0..self.quest.space.places.len() {
            let mask = self.notes.mask(place);
            let Some(alive) = state.doms.get(place).map(|d| d.alive.clone()) else { continue };
            if mask & concerned == 0 || alive.len() < 2 {
                continue;
            }
            let left = self.unbeaten(state, place, &alive);
            if left.len() < alive.len() {
                if left.is_empty() {
                    return None;
                }
                self.notes.narrow(state, place, left.into());
                fell |= mask;
            }
        }
        Some(fell)
    }
}

impl Search<'_, '_> {
    /// The choices of a place with which something better than what is held may still be found.
    fn unbeaten(&mut self, state: &State, place: usize, alive: &[u32]) -> Vec<u32> {
        if self.only_cost_counts(state, place) {
            let count = alive.partition_point(|c| !self.is_beaten(state, Some((place, *c))));
            return alive.get(..count).unwrap_or(alive).to_vec();
        }
        let mut open: Vec<u32> = alive.to_vec();
        let mut better: Vec<u32> = Vec::new();
        if let (Some(last), Some(classes)) = (self.last_held(), self.order_of(place)) {
            // Those that come first reach more than what is held, the last ones less.
            open.sort_by_key(|c| (classes.of(*c), *c));
            let mut first = |c: &u32| {
                let bound = self.bound_at(0, state, Some((place, *c)));
                bound.first().copied().unwrap_or(f64::NEG_INFINITY)
            };
            let from = open.partition_point(|c| first(c) < last);
            let to = open.partition_point(|c| first(c) <= last);
            open.truncate(to.max(from));
            better = open.drain(..from).collect();
        }
        open.retain(|c| !self.is_beaten(state, Some((place, *c))));
        better.extend(open);
        better.sort_unstable();
        better
    }

    /// The choices of a place, the most promising first.
    pub(super) fn in_order(&mut self, state: &State, place: usize) -> Vec<u32> {
        let Some(alive) = state.doms.get(place).map(|d| d.alive.clone()) else { return Vec::new() };
        let loss = |choice: &u32| {
            let place = self.quest.space.places.get(place);
            place.and_then(|p| p.choices.get(*choice as usize)).map_or(0, |c| c.loss)
        };
        if self.quest.goals.first() == Some(&Goal::Loss) {
            let mut all = alive.to_vec();
            all.sort_by_key(loss);
            return all;
        }
        let by_price = self.quest.goals.first().is_none_or(|g| *g == Goal::Price);
        if by_price || self.deps(self.stoppers, state) & self.notes.mask(place) == 0 {
            return alive.to_vec();
        }
        if let Some(classes) = self.order_of(place) {
            let mut all = alive.to_vec();
            all.sort_by_key(|choice| (classes.of(*choice), *choice));
            return all;
        }
        let mut scored: Vec<(Vec<f64>, u32)> = alive
            .iter()
            .map(|choice| (self.bound(state, Some((place, *choice))), *choice))
            .collect();
        scored.sort_by(|a, b| order(&a.0, &b.0).then(a.1.cmp(&b.1)));
        scored.into_iter().map(|(_, choice)| choice).collect()
    }

    /// Whether the choices of a place differ in what they cost and in nothing else that is aimed
    /// at, and those that cost less come first.
    pub(super) fn only_cost_counts(&mut self, state: &State, place: usize) -> bool {
        let mask = self.notes.mask(place);
        self.quest.space.ships_for_nothing()
            && !self.quest.goals.contains(&Goal::Loss)
            && (self.stoppers..self.tracks.len()).all(|track| self.deps(track, state) & mask == 0)
    }

    /// What the last of the answers scores on the first goal, where there are as many as wanted.
    pub(super) fn last_held(&self) -> Option<f64> {
        let Keep::Best(count) = self.quest.keep else { return None };
        self.out.found.get(count.checked_sub(1)?)?.score.first().copied()
    }

    /// The order of a place's choices in a measure that is aimed at first, the best first.
    pub(super) fn order_of(&mut self, place: usize) -> Option<Rc<Classes>> {
        match self.quest.goals.first() {
            Some(Goal::Measure { .. }) => self.classes(self.stoppers, place),
            _ => None,
        }
        .filter(|classes| classes.is_one_run())
    }
}

fn less(a: &[f64], b: &[f64]) -> bool {
    order(a, b).is_lt()
}
