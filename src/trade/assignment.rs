//! Which thing gets which place, exactly: leads to headers, fans to sockets, displays to outputs,
//! cards to slots.
//!
//! A *place* holds so much of something: a header one plug, a fan header so many amperes, a row of
//! slots one card each. A *thing* has *ways* to be served; a way takes an amount of one or more
//! places and is worth a list of numbers. Each thing gets one way or none, and no place gives more
//! than it holds. A *setup* stands between: a splitter on a header takes the header once, however
//! many ways go through it.
//!
//! # What is best
//! The first numbers of all ways chosen, added up, decide; then the second, and so on. Of what is
//! still equal, the earlier things and then their earlier ways.
//!
//! # Why the answer is exact
//! Branch and bound. The bound lets each way keep one place only, of those that it takes the one
//! that fewest can share: of the ways that share a place, the k-th largest takes at most a k-th of
//! it, so a place is a row of seats, the k-th open to ways of that size, and what is left is an
//! assignment, solved by `assign` beside it. A setup that is not decided takes its places in parts,
//! a part a way. Where the solution of that breaks no place it is the best of its branch; else the
//! branch is split by a setup made or not, or by a way taken or forbidden, for all pieces alike at
//! once. Steps are limited, and [`Assignment::proven`] says whether the limit was met.

use super::assign::{Gain, LEVELS, assign};

/// Numbers that a way may be worth.
pub const WORTHS: usize = LEVELS - 2;
/// Most pieces in one problem; more are left without a way.
pub const MOST_PIECES: usize = 200;
/// Most ways, setups and places together.
pub const MOST_PARTS: usize = 4_000;
/// Most steps of assignments in one search; above it the best so far is given, not proven.
const MOST_STEPS: usize = 8_000_000;
/// A hair that rounding may take a sum over what a place holds.
pub(super) const HAIR: f64 = 1e-9;

/// An amount of a place.
pub type Take = (usize, f64);

/// A way for a thing to be served.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Way {
    /// What it takes.
    pub takes: Vec<Take>,
    /// The setup that it goes through.
    pub needs: Option<usize>,
    /// What it is worth, to a thousandth; the first number decides.
    pub worth: [f64; WORTHS],
}

/// Things that are alike.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Thing {
    /// Pieces.
    pub count: usize,
    /// What each may do.
    pub ways: Vec<Way>,
}

/// What is to be assigned.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Problem {
    /// How much each place holds.
    pub places: Vec<f64>,
    /// What each setup takes once.
    pub setups: Vec<Vec<Take>>,
    /// The things, pieces of each.
    pub things: Vec<Thing>,
}

/// Who gets what.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Assignment {
    /// For each piece, the things in order and their pieces one after the other: its way, if any.
    pub ways: Vec<Option<usize>>,
    /// Whether no better one exists.
    pub proven: bool,
}

impl Problem {
    /// Whether every place and setup named is there and every number is finite and not negative.
    pub fn is_sound(&self) -> bool {
        let amount = |n: &f64| n.is_finite() && *n >= 0.0;
        let takes =
            |takes: &[Take]| takes.iter().all(|(place, n)| *place < self.places.len() && amount(n));
        self.places.iter().all(amount)
            && self.setups.iter().all(|setup| takes(setup))
            && self.things.iter().flat_map(|thing| &thing.ways).all(|way| {
                takes(&way.takes)
                    && way.needs.is_none_or(|setup| setup < self.setups.len())
                    && way.worth.iter().all(|n| n.is_finite() && n.abs() < 1e12)
            })
    }

    /// Brings every number within what an assignment takes: amounts from nothing up, worths either
    /// way.
    pub(crate) fn keep_within(&mut self, most: f64) {
        let ways = self.things.iter_mut().flat_map(|thing| &mut thing.ways);
        let (mut takes, mut worths) = (Vec::new(), Vec::new());
        for way in ways {
            takes.push(&mut way.takes);
            worths.extend(&mut way.worth);
        }
        let takes = takes.into_iter().chain(&mut self.setups).flatten().map(|(_, amount)| amount);
        takes.chain(&mut self.places).for_each(|amount| *amount = amount.clamp(0.0, most));
        worths.into_iter().for_each(|worth| *worth = worth.clamp(-most, most));
    }

    /// Takes out pieces that find no place however the others move: of a thing no more can be
    /// served than the places that its ways take have parts for.
    pub fn leave_out_hopeless(&mut self) {
        for thing in &mut self.things {
            let mut least: Vec<Option<f64>> = vec![None; self.places.len()];
            let free = thing.ways.iter().any(|way| way.takes.iter().all(|(_, n)| *n <= 0.0));
            for (place, amount) in thing.ways.iter().flat_map(|way| &way.takes) {
                if let Some(least) = least.get_mut(*place).filter(|_| *amount > 0.0) {
                    *least = Some(least.map_or(*amount, |held| held.min(*amount)));
                }
            }
            let parts = least.iter().zip(&self.places);
            let most = parts.filter_map(|(least, holds)| Some((holds + HAIR) / (*least)?));
            let most = most.map(f64::floor).fold(0.0, |sum, parts| sum + parts);
            if !free {
                thing.count = thing.count.min(most.clamp(0.0, 1e6) as usize);
            }
        }
    }

    /// The same problem with no way or setup naming a place twice.
    fn with_each_place_once(&self) -> Self {
        let mut problem = self.clone();
        let ways = problem.things.iter_mut().flat_map(|thing| &mut thing.ways);
        let takes = ways.map(|way| &mut way.takes).chain(&mut problem.setups);
        takes.for_each(|takes| {
            takes.sort_by_key(|(place, _)| *place);
            takes.dedup_by(|more, first| {
                let same = more.0 == first.0;
                first.1 += if same { more.1 } else { 0.0 };
                same
            });
        });
        problem
    }

    /// Finds the best assignment.
    pub fn solve(&self) -> Assignment {
        let problem = self.with_each_place_once();
        let mut search = Search::new(&problem);
        search.branch();
        let ways = search.best.1.clone();
        Assignment { ways, proven: search.left > 0 && search.pieces.len() <= MOST_PIECES }
    }
}

/// What a way is worth, with the order of things and ways last.
pub(super) fn gain(way: &Way, thing: usize, at: usize) -> Gain {
    let mut levels = [0; LEVELS];
    for (level, worth) in levels.iter_mut().zip(way.worth) {
        *level = (worth * 1000.0).round() as i64;
    }
    let rank = |at: usize| i64::try_from(at).map_or(0, |at| -at);
    let [.., first, second] = &mut levels;
    (*first, *second) = (rank(thing), rank(at));
    Gain(levels)
}

/// What is known of a setup while the search goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Setup {
    Undecided,
    Made,
    Left,
}

/// Branch and bound over pieces and setups.
struct Search<'a> {
    problem: &'a Problem,
    /// The thing that each piece is one of.
    pieces: Vec<usize>,
    /// What each place still holds.
    room: Vec<f64>,
    setups: Vec<Setup>,
    /// The way that a piece was given.
    given: Vec<Option<usize>>,
    /// Ways forbidden to the pieces of a thing that have none yet.
    forbidden: Vec<Vec<bool>>,
    /// Seats of a setup's own places, for the part of its takes that one way bears.
    share: Vec<f64>,
    best: (Gain, Vec<Option<usize>>),
    left: usize,
}

/// The answer of the bound: a way for each piece that has none, and what that is worth.
struct Bound {
    gain: Gain,
    ways: Vec<Option<usize>>,
}

impl<'a> Search<'a> {
    fn new(problem: &'a Problem) -> Self {
        let things = problem.things.iter().enumerate();
        let pieces: Vec<usize> =
            things.flat_map(|(at, thing)| std::iter::repeat_n(at, thing.count)).collect();
        let mut search = Self {
            problem,
            room: problem.places.clone(),
            setups: vec![Setup::Undecided; problem.setups.len()],
            given: vec![None; pieces.len()],
            forbidden: problem.things.iter().map(|t| vec![false; t.ways.len()]).collect(),
            share: vec![1.0; problem.setups.len()],
            best: (Gain::default(), vec![None; pieces.len()]),
            left: MOST_STEPS,
            pieces,
        };
        search.share = (0..problem.setups.len()).map(|setup| search.share_of(setup)).collect();
        search
    }

    /// The part of a setup's takes that each of its ways bears: one over the most ways that its
    /// tightest place can serve.
    fn share_of(&self, setup: usize) -> f64 {
        let ways = self.problem.things.iter().flat_map(|thing| &thing.ways);
        let through: Vec<&Way> = ways.filter(|way| way.needs == Some(setup)).collect();
        let most = (0..self.problem.places.len())
            .filter_map(|place| {
                let amounts = through.iter().map(|way| taken(&way.takes, place));
                let least = amounts.fold(f64::INFINITY, f64::min);
                (least > 0.0)
                    .then(|| (self.problem.places.get(place).unwrap_or(&0.0) + HAIR) / least)
            })
            .fold(self.pieces.len().max(1) as f64, f64::min);
        most.floor().max(1.0).recip()
    }

    fn way(&self, piece: usize, way: usize) -> Option<&'a Way> {
        let thing = *self.pieces.get(piece)?;
        self.problem.things.get(thing)?.ways.get(way)
    }

    fn ways_of(&self, thing: usize) -> &'a [Way] {
        self.problem.things.get(thing).map_or(&[], |thing| &thing.ways)
    }

    fn setup(&self, setup: usize) -> Setup {
        self.setups.get(setup).copied().unwrap_or(Setup::Left)
    }

    fn fits(&self, takes: &[Take]) -> bool {
        takes
            .iter()
            .all(|(place, amount)| self.room.get(*place).is_some_and(|room| amount - HAIR <= *room))
    }

    /// Whether a way can be had by itself.
    fn is_open(&self, thing: usize, at: usize, way: &Way) -> bool {
        let forbidden = self.forbidden.get(thing).and_then(|ways| ways.get(at));
        forbidden == Some(&false)
            && self.fits(&way.takes)
            && way.needs.is_none_or(|setup| match self.setup(setup) {
                Setup::Made => true,
                Setup::Left => false,
                Setup::Undecided => self.fits(self.setup_takes(setup)),
            })
    }

    fn setup_takes(&self, setup: usize) -> &'a [Take] {
        self.problem.setups.get(setup).map_or(&[], |takes| takes)
    }

    /// The place that fewest ways of this size can share, and the part of it that the way takes.
    fn tightest(&self, way: &Way) -> Option<Take> {
        let undecided = way.needs.filter(|s| self.setup(*s) == Setup::Undecided);
        let shared = undecided.into_iter().flat_map(|setup| {
            let share = self.share.get(setup).copied().unwrap_or(1.0);
            self.setup_takes(setup).iter().map(move |(place, n)| (*place, n * share))
        });
        let part = |(place, amount): Take| {
            let room = self.room.get(place).copied().unwrap_or(0.0) + HAIR;
            (amount > 0.0).then(|| (place, amount / room))
        };
        way.takes.iter().copied().chain(shared).filter_map(part).max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Goes on from here, as long as it may beat the best so far.
    fn branch(&mut self) {
        if self.left == 0 {
            return;
        }
        let bound = self.bound();
        let held = self.held();
        if held + bound.gain <= self.best.0 {
            return;
        }
        if let Some(setup) = self.setup_to_decide(&bound) {
            return self.branch_setup(setup);
        }
        match self.way_to_decide(&bound) {
            Some((piece, way)) => self.branch_way(piece, way),
            None => {
                let ways = self.given.iter().zip(&bound.ways).map(|(given, way)| given.or(*way));
                self.best = (held + bound.gain, ways.collect());
            }
        }
    }

    /// What the pieces that have a way are worth.
    fn held(&self) -> Gain {
        let pieces = self.given.iter().enumerate();
        let gains = pieces.filter_map(|(piece, way)| self.gain(piece, (*way)?));
        gains.fold(Gain::default(), |sum, gain| sum + gain)
    }

    fn gain(&self, piece: usize, way: usize) -> Option<Gain> {
        Some(gain(self.way(piece, way)?, *self.pieces.get(piece)?, way))
    }

    /// A setup that the bound goes through without its having been made.
    fn setup_to_decide(&self, bound: &Bound) -> Option<usize> {
        let pieces = bound.ways.iter().enumerate();
        let needed = pieces.filter_map(|(piece, way)| self.way(piece, (*way)?)?.needs);
        needed.filter(|setup| self.setup(*setup) == Setup::Undecided).min()
    }

    /// Of the ways that the bound chose, one that breaks a place with the others.
    fn way_to_decide(&self, bound: &Bound) -> Option<(usize, usize)> {
        let mut asked = vec![0.0; self.room.len()];
        let chosen: Vec<(usize, usize)> = bound
            .ways
            .iter()
            .enumerate()
            .filter_map(|(piece, way)| Some((piece, (*way)?)))
            .collect();
        for (piece, way) in &chosen {
            for (place, amount) in self.way(*piece, *way).map_or(&[][..], |way| &way.takes) {
                if let Some(sum) = asked.get_mut(*place) {
                    *sum += amount;
                }
            }
        }
        let broken = asked.iter().zip(&self.room).position(|(asked, room)| asked - HAIR > *room)?;
        let amount = |&&(piece, way): &&(usize, usize)| {
            self.way(piece, way).map_or(0.0, |way| taken(&way.takes, broken))
        };
        chosen.iter().rev().max_by(|a, b| amount(a).total_cmp(&amount(b))).copied()
    }

    fn branch_setup(&mut self, setup: usize) {
        let takes = self.setup_takes(setup);
        self.decide(setup, Setup::Made);
        self.take(takes, 1.0);
        self.branch();
        self.take(takes, -1.0);
        self.decide(setup, Setup::Left);
        self.branch();
        self.decide(setup, Setup::Undecided);
    }

    fn decide(&mut self, setup: usize, state: Setup) {
        if let Some(slot) = self.setups.get_mut(setup) {
            *slot = state;
        }
    }

    /// A piece takes the way; or no piece of its thing that has none yet does.
    fn branch_way(&mut self, piece: usize, way: usize) {
        let (Some(chosen), Some(thing)) = (self.way(piece, way), self.pieces.get(piece).copied())
        else {
            return;
        };
        self.give(piece, Some(way));
        self.take(&chosen.takes, 1.0);
        self.branch();
        self.take(&chosen.takes, -1.0);
        self.give(piece, None);
        self.forbid(thing, way, true);
        self.branch();
        self.forbid(thing, way, false);
    }

    fn give(&mut self, piece: usize, way: Option<usize>) {
        if let Some(slot) = self.given.get_mut(piece) {
            *slot = way;
        }
    }

    fn forbid(&mut self, thing: usize, way: usize, forbidden: bool) {
        if let Some(slot) = self.forbidden.get_mut(thing).and_then(|ways| ways.get_mut(way)) {
            *slot = forbidden;
        }
    }

    fn take(&mut self, takes: &[Take], times: f64) {
        for (place, amount) in takes {
            if let Some(room) = self.room.get_mut(*place) {
                *room -= amount * times;
            }
        }
    }

    /// At least as good as the best that the pieces without a way can still get.
    fn bound(&mut self) -> Bound {
        let waiting: Vec<usize> = (0..self.pieces.len().min(MOST_PIECES))
            .filter(|p| self.given.get(*p) == Some(&None))
            .collect();
        let seats = self.seats(waiting.len());
        let things = 0..self.problem.things.len();
        let best: Vec<Vec<Option<(Gain, usize)>>> = things
            .map(|thing| {
                let offers = self.offers(thing);
                // After the seats, what needs no place at all.
                let seats = seats.iter().map(Some).chain([None]);
                seats.map(|seat| best_offer(&offers, seat)).collect()
            })
            .collect();
        // A last column a row stands for ways that take no place at all.
        let columns = seats.len() + waiting.len();
        let of = |row: usize, column: usize| {
            let best = best.get(*self.pieces.get(*waiting.get(row)?)?)?;
            match column.checked_sub(seats.len()) {
                None => *best.get(column)?,
                Some(own) if own == row => *best.last()?,
                Some(_) => None,
            }
        };
        let steps = waiting.len().saturating_pow(2).saturating_mul(waiting.len() + columns);
        self.left = self.left.saturating_sub(steps + 1);
        let held = assign(waiting.len(), columns, |row, column| of(row, column).map(|(g, _)| g));
        let mut bound = Bound { gain: Gain::default(), ways: vec![None; self.pieces.len()] };
        for (row, column) in held.iter().enumerate() {
            let found = column.and_then(|column| of(row, column));
            let slot = waiting.get(row).and_then(|piece| bound.ways.get_mut(*piece));
            if let (Some((gain, way)), Some(slot)) = (found, slot) {
                bound.gain = bound.gain + gain;
                *slot = Some(way);
            }
        }
        bound
    }

    /// The seats of each place: as many as its smallest way fits into it, and no more than rows.
    fn seats(&self, rows: usize) -> Vec<Seat> {
        let mut least = vec![f64::INFINITY; self.room.len()];
        for thing in 0..self.problem.things.len() {
            for offer in self.offers(thing) {
                let Some((place, part)) = offer.part else { continue };
                if let Some(least) = least.get_mut(place) {
                    *least = least.min(part);
                }
            }
        }
        let seats = |(place, least): (usize, &f64)| {
            let count = least.recip().min(rows as f64) as usize;
            (1..=count).map(move |nth| Seat { place, most: (nth as f64).recip() })
        };
        least.iter().enumerate().filter(|(_, least)| least.is_finite()).flat_map(seats).collect()
    }

    fn offers(&self, thing: usize) -> Vec<Offer> {
        let open = self.ways_of(thing).iter().enumerate();
        open.filter(|(at, way)| self.is_open(thing, *at, way))
            .map(|(at, way)| Offer {
                way: at,
                gain: gain(way, thing, at),
                part: self.tightest(way),
            })
            .collect()
    }
}

/// A part of a place that one way may take.
struct Seat {
    place: usize,
    /// The largest part that a way here takes.
    most: f64,
}

/// A way that can be had, with its tightest place and the part of it that it takes.
struct Offer {
    way: usize,
    gain: Gain,
    part: Option<Take>,
}

/// The best way to sit in a seat; with no seat, the best that needs none.
fn best_offer(offers: &[Offer], seat: Option<&Seat>) -> Option<(Gain, usize)> {
    let sits = |offer: &&Offer| match (offer.part, seat) {
        (None, None) => true,
        (Some((place, part)), Some(seat)) => place == seat.place && part <= seat.most + HAIR,
        _ => false,
    };
    offers.iter().filter(sits).map(|offer| (offer.gain, offer.way)).max_by_key(|(gain, _)| *gain)
}

fn taken(takes: &[Take], place: usize) -> f64 {
    takes.iter().filter(|(at, _)| *at == place).map(|(_, amount)| amount).sum()
}

#[cfg(test)]
#[path = "../../tests/unit/trade/assignment.rs"]
mod tests;
