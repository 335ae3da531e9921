//! Drops the choices with which a rule stops every build that is left.

use std::rc::Rc;

use super::cache::State;
use super::seen::Sifted;
use super::solve::Search;
use super::walk::{BLOCK, Depth};

impl Search<'_, '_> {
    /// Whether a rule stops every build of a state that has a choice on a place.
    fn all_stopped(&mut self, track: usize, state: &State, place: usize, choice: u32) -> bool {
        self.with(track, state, Some((place, choice)), |t, tree, sight| {
            t.walk(tree, sight, Depth::AllStopped, None)
        }) == Some(BLOCK)
    }

    /// Drops each choice with which a rule stops every build of the state; the places that lost
    /// some, or none when one lost all.
    pub(super) fn sift(&mut self, track: usize, state: &mut State) -> Option<u64> {
        let known = self.with(track, state, None, |t, tree, sight| t.sifted(tree, sight));
        let sifted = known.flatten().unwrap_or_else(|| self.sift_anew(track, state));
        if let Some(count) = self.blocks.get_mut(track) {
            *count += sifted.len() as u64;
        }
        let mut fell = 0;
        for (place, left) in sifted.iter() {
            if left.is_empty() {
                return None;
            }
            self.notes.narrow(state, *place, left.clone());
            fell |= self.notes.mask(*place);
        }
        Some(fell)
    }

    /// The places of which a rule drops choices, with those that are left.
    fn sift_anew(&mut self, track: usize, state: &State) -> Sifted {
        let deps = self.deps(track, state);
        let mut under_way = state.clone();
        let mut sifted = Vec::new();
        for place in 0..self.quest.space.places.len() {
            let Some(alive) = under_way.doms.get(place).map(|d| d.alive.clone()) else { continue };
            if self.notes.mask(place) & deps == 0 || alive.len() < 2 {
                continue;
            }
            let stopped =
                |search: &mut Self, c: u32| search.all_stopped(track, &under_way, place, c);
            let left: Rc<[u32]> = match self.classes(track, place) {
                Some(classes) => classes.left(&alive, |choice| stopped(self, choice)),
                None => alive.iter().copied().filter(|c| !stopped(self, *c)).collect(),
            };
            if left.len() == alive.len() {
                continue;
            }
            sifted.push((place, left.clone()));
            if left.is_empty() {
                break;
            }
            self.notes.narrow(&mut under_way, place, left);
        }
        let sifted: Sifted = sifted.into();
        self.with(track, state, None, |t, tree, sight| t.keep_sifted(tree, sight, &sifted));
        sifted
    }
}
