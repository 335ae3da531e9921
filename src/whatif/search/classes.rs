//! The parts of a place as one rule sees them: parts of a class are the same to it, and of some
//! classes it is known that none is better for it than the one before. So a rule is asked about a
//! few parts and not about each.

use std::collections::BTreeMap;
use std::ops::Range;
use std::rc::Rc;

use super::cache::State;
use super::needs::{Figure, Need, Needs};
use super::solve::Search;

/// Fewer choices are asked about one by one.
const FROM_CHOICES: usize = 48;

/// The choices of a place by class.
pub(super) struct Classes {
    of: Vec<u32>,
    /// Classes of which none is better than the one before it.
    runs: Vec<Range<usize>>,
}

/// The classes of one rule by place, and how large its tree was when they were found.
#[derive(Default)]
pub(super) struct ByPlace {
    size: usize,
    last_size: usize,
    places: Vec<Option<Rc<Classes>>>,
}

impl ByPlace {
    fn of(&self, place: usize) -> Option<Rc<Classes>> {
        self.places.get(place).cloned().flatten()
    }
}

impl Classes {
    /// Sorts choices into classes; none where hardly two are in one and none are in order.
    fn new(figures: &[Figure], count: usize) -> Option<Self> {
        let ordered = figures.iter().filter(|f| f.need != Need::Same).count() == 1;
        let mut runs: BTreeMap<Vec<u64>, Vec<(f64, u32)>> = BTreeMap::new();
        for choice in (0u32..).take(count) {
            let (mut key, mut place) = (Vec::with_capacity(figures.len()), 0.0);
            for figure in figures {
                match figure.of(choice) {
                    (same, Some(less)) if ordered => {
                        key.push(same);
                        place = less;
                    }
                    (same, less) => key.push(less.map_or(same, f64::to_bits)),
                }
            }
            runs.entry(key).or_default().push((place, choice));
        }
        if runs.len() * 4 > count * 3 {
            return None;
        }
        let mut classes = Self { of: vec![0; count], runs: Vec::with_capacity(runs.len()) };
        let mut next = 0;
        for run in runs.values_mut() {
            run.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let start = next;
            let mut held = None;
            for (n, choice) in run {
                next += usize::from(held.is_some_and(|held: f64| held != *n));
                held = Some(*n);
                if let Some(slot) = classes.of.get_mut(*choice as usize) {
                    *slot = next as u32;
                }
            }
            next += 1;
            classes.runs.push(start..next);
        }
        Some(classes)
    }

    /// The class of a choice; in the only run there is a lower one is no worse.
    pub(super) fn of(&self, choice: u32) -> u32 {
        self.of.get(choice as usize).copied().unwrap_or(0)
    }

    /// Whether all classes are in one order.
    pub(super) fn is_one_run(&self) -> bool {
        self.runs.len() == 1
    }

    /// The choices that are not stopped, where what is no better than one that is stopped is too.
    pub(super) fn left(&self, alive: &[u32], mut stopped: impl FnMut(u32) -> bool) -> Rc<[u32]> {
        const NONE: u32 = u32::MAX;
        let mut one_of = vec![NONE; self.runs.last().map_or(0, |run| run.end)];
        for choice in alive {
            if let Some(slot) = one_of.get_mut(self.of(*choice) as usize) {
                *slot = *choice;
            }
        }
        for run in &self.runs {
            let Some(run) = one_of.get_mut(run.clone()) else { continue };
            let here: Vec<usize> = (0..run.len()).filter(|at| run[*at] != NONE).collect();
            let from = here.partition_point(|at| !run.get(*at).is_some_and(|one| stopped(*one)));
            for at in here.get(from..).unwrap_or(&[]) {
                run[*at] = NONE;
            }
        }
        let is_left = |choice: &u32| one_of.get(self.of(*choice) as usize) != Some(&NONE);
        alive.iter().copied().filter(is_left).collect()
    }
}

impl Search<'_, '_> {
    /// The classes of a place as a rule sees it, where it is worth it and the rule's tree stands
    /// still.
    pub(super) fn classes(&mut self, track: usize, place: usize) -> Option<Rc<Classes>> {
        let count = self.quest.space.places.get(place)?.choices.len();
        if count < FROM_CHOICES {
            return None;
        }
        let whole = self.whole.clone()?;
        let (size, known) = self.with(track, &whole, None, |t, tree, _| {
            t.keep_step(tree);
            let known = t.classes.size == tree.len();
            let still = std::mem::replace(&mut t.classes.last_size, tree.len()) == tree.len();
            (still.then_some(tree.len()), known.then(|| t.classes.of(place)))
        })?;
        if let Some(known) = known {
            return known;
        }
        let places = self.sort_into_classes(track, &whole)?;
        let found = places.get(place).cloned().flatten();
        let by_place = ByPlace { size: size?, last_size: size?, places };
        if let Some((_, track)) = self.tracks.get_mut(track) {
            track.classes = by_place;
        }
        found
    }

    /// The classes of every place as a rule sees it.
    fn sort_into_classes(
        &mut self,
        track: usize,
        whole: &State,
    ) -> Option<Vec<Option<Rc<Classes>>>> {
        let space = self.quest.space;
        let most = self.aims_most(track);
        self.with(track, whole, None, |t, tree, sight| {
            let mut needs = Needs::new(space.places.len());
            match most {
                Some(most) => needs.goal(tree, sight, most),
                None => needs.rule(t, tree, sight),
            }
            let by_cost = needs.looks_at_total();
            let places = space.places.iter().enumerate().map(|(at, place)| {
                let mut figures = needs.of(at, sight)?;
                if by_cost {
                    if !space.ships_for_nothing() {
                        return None;
                    }
                    let values = place.choices.iter().map(|c| c.costs.goods() as f64).collect();
                    figures.push(Figure { values, need: Need::NotMore });
                }
                Classes::new(&figures, place.choices.len()).map(Rc::new)
            });
            places.collect()
        })
    }
}
