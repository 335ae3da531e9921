//! What the best build of a box could score, and which choices can be dropped because something
//! better is held already.

use super::best::order;
use super::cache::State;
use super::query::{Goal, Keep};
use super::solve::Search;
use super::totals::total_span;

impl Search<'_, '_> {
    /// The best that any build of the state could score.
    pub(super) fn bound(&mut self, state: &State, pin: Option<(usize, u32)>) -> Vec<f64> {
        let (cost, _) = total_span(self.quest.space, &mut self.notes, state, pin);
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
                self.out.found.iter().any(|f| {
                    bound
                        .iter()
                        .enumerate()
                        .all(|(at, b)| f.score.get(at).copied().unwrap_or(none) <= *b)
                })
            }
            Keep::All(count) => self.out.found.len() >= count,
        }
    }

    pub(super) fn sift_by_bound(&mut self, state: &mut State) -> Option<u64> {
        let nothing_yet = self.out.found.is_empty();
        if nothing_yet {
            return Some(0);
        }
        let bound = self.bound(state, None);
        if self.beaten(&bound) {
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
            let left: Vec<u32> = alive
                .iter()
                .copied()
                .filter(|choice| {
                    let bound = self.bound(state, Some((place, *choice)));
                    !self.beaten(&bound)
                })
                .collect();
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

fn less(a: &[f64], b: &[f64]) -> bool {
    order(a, b).is_lt()
}
