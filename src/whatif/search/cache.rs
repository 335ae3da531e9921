//! What was worked out in one search, and which choices are still looked at.

use std::cell::Cell;
use std::rc::Rc;

use ahash::AHashMap;

use crate::build::resolve::Resolved;
use crate::catalogue::value::Val;

use super::space::Space;
use super::totals::{CostSums, PlaceCosts};
use crate::audit::interval::{Hull, Span};

/// Most choices whose stamps are known; past it they are forgotten.
const MOST_STAMPED: usize = 1_000_000;

/// Most builds of which the total is kept.
const MOST_TOTALS: usize = 20_000;

/// The choices of a place that are still looked at.
#[derive(Clone)]
pub(crate) struct Dom {
    pub(crate) alive: Rc<[u32]>,
    /// Two of the same stamp are the same.
    pub(super) stamp: u32,
}

/// Every place with what may still stand there.
#[derive(Clone)]
pub(crate) struct State {
    pub(crate) doms: Vec<Dom>,
    pub(super) stamp: u32,
}

/// What was worked out in one search, by expression.
#[derive(Default)]
pub(crate) struct Notes {
    pub(super) next_stamp: u32,
    /// The stamps of choices looked at before, by place, so that they are known again.
    stamps: AHashMap<(usize, Rc<[u32]>), u32>,
    /// Choices that `stamps` holds.
    stamped: usize,
    /// By place, its bit in masks; none for one that has no choice.
    bits: Vec<Option<u32>>,
    /// By bit, the place.
    places: Vec<usize>,
    pub(super) deps: Vec<Option<u64>>,
    pub(super) fixed: Vec<Option<Hull>>,
    pub(super) columns: Vec<Option<Rc<Column>>>,
    pub(super) spans: Vec<(u32, Hull)>,
    pub(super) whole: Vec<(u32, Hull)>,
    pub(super) shares: Vec<Option<Rc<Shares>>>,
    pub(super) partial: Option<(u32, Option<Rc<Resolved>>)>,
    place_costs: Vec<(u32, Rc<PlaceCosts>)>,
    /// What all places but one cost, for a state.
    pub(super) rest: Option<(u32, usize, CostSums)>,
    /// What whole builds come to, by the choice on each place.
    totals: AHashMap<Box<[u32]>, Option<i64>>,
}

/// What an expression that rests on one place is worth, by the place's choices.
pub(super) enum Column {
    /// Numbers; not a number where there is none.
    Nums(Vec<f64>),
    /// Other values.
    Vals(Vec<Val>),
    /// Not to be known by the choice alone.
    Any,
}

/// What each choice adds to a sum, by place; nothing for a place that adds nothing.
pub(super) struct Shares(pub(super) Vec<Share>);

/// What the choices of a place add, and what they add over those last looked at.
pub(super) struct Share {
    pub(super) by_choice: Vec<f64>,
    /// What each choice is made of, where a share is not one number without rounding.
    pub(super) terms: Vec<Box<[f64]>>,
    pub(super) over: Cell<(u32, Span)>,
}

impl Dom {
    /// Two of the same stamp are the same.
    pub(crate) fn stamp(&self) -> u32 {
        self.stamp
    }

    /// The only choice left.
    pub(crate) fn single(&self) -> Option<u32> {
        match &*self.alive {
            [one] => Some(*one),
            _ => None,
        }
    }
}

impl Notes {
    /// Every choice of every place.
    pub(crate) fn start(&mut self, space: &Space) -> State {
        let choosy = space.places.iter().enumerate().filter(|(_, p)| p.choices.len() > 1);
        self.places = choosy.map(|(at, _)| at).collect();
        self.bits = vec![None; space.places.len()];
        for (at, bit) in self.places.iter().zip(0u32..) {
            if let Some(slot) = self.bits.get_mut(*at) {
                *slot = Some(bit);
            }
        }
        let doms = space
            .places
            .iter()
            .enumerate()
            .map(|(at, p)| self.dom(at, (0u32..).take(p.choices.len()).collect()))
            .collect();
        State { doms, stamp: self.stamp() }
    }

    fn stamp(&mut self) -> u32 {
        self.next_stamp += 1;
        self.next_stamp
    }

    fn dom(&mut self, place: usize, alive: Rc<[u32]>) -> Dom {
        let key = (place, alive.clone());
        if let Some(stamp) = self.stamps.get(&key) {
            return Dom { alive, stamp: *stamp };
        }
        if self.stamped > MOST_STAMPED {
            self.stamps.clear();
            self.stamped = 0;
        }
        let stamp = self.stamp();
        self.stamped += alive.len();
        self.stamps.insert(key, stamp);
        Dom { alive, stamp }
    }

    /// The same state with other choices for one place.
    pub(crate) fn narrow(&mut self, state: &mut State, place: usize, alive: Rc<[u32]>) {
        let dom = self.dom(place, alive);
        if let Some(slot) = state.doms.get_mut(place) {
            *slot = dom;
        }
        state.stamp = self.stamp();
    }

    /// What the choices of a place that are still looked at cost, worked out once for each set.
    pub(super) fn place_costs(
        &mut self,
        place: usize,
        dom: &Dom,
        costs: impl FnOnce() -> PlaceCosts,
    ) -> Rc<PlaceCosts> {
        match self.place_costs.get(place) {
            Some((stamp, held)) if *stamp == dom.stamp => return held.clone(),
            _ => {}
        }
        let new = (dom.stamp, Rc::new(costs()));
        if self.place_costs.len() <= place {
            self.place_costs.resize(place + 1, (0, new.1.clone()));
        }
        if let Some(slot) = self.place_costs.get_mut(place) {
            *slot = new.clone();
        }
        new.1
    }

    /// What a whole build comes to, worked out once.
    pub(super) fn whole_total(
        &mut self,
        picks: Box<[u32]>,
        total: impl FnOnce(&[u32]) -> Option<i64>,
    ) -> Option<i64> {
        if let Some(known) = self.totals.get(&picks) {
            return *known;
        }
        if self.totals.len() >= MOST_TOTALS {
            self.totals.clear();
        }
        let total = total(&picks);
        self.totals.insert(picks, total);
        total
    }

    /// The mask of a place; nothing for one that has no choice.
    pub(crate) fn mask(&self, place: usize) -> u64 {
        self.bits.get(place).copied().flatten().map_or(0, |b| 1u64 << b)
    }

    /// The place of the lowest bit of a mask.
    pub(crate) fn place_of(&self, mask: u64) -> Option<usize> {
        self.places.get(mask.trailing_zeros() as usize).copied()
    }
}
