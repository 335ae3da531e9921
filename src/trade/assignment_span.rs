//! What an assignment may come to while some of its numbers are known as spans only: every one that
//! is the best for some numbers within them.

use super::assign::LEVELS;
use super::assignment::{HAIR, Problem, Take, Thing, Way, gain};

/// Most ways of giving that are looked through.
const MOST_COMBINED: usize = 256;
/// Most that may remain.
const MOST_LEFT: usize = 48;

/// A way for each thing, or none.
pub type Given = Vec<Option<usize>>;

/// Every assignment that may be the best, with each number anywhere from its least to its greatest;
/// none where there are too many to tell, or where a thing has several pieces. `least` and `most`
/// are the same problem with the ends of its numbers.
pub fn possible(least: &Problem, most: &Problem) -> Option<Vec<Given>> {
    let single = |(a, b): (&Thing, &Thing)| a.count == b.count && a.count <= 1;
    if !least.is_sound() || !most.is_sound() || !least.things.iter().zip(&most.things).all(single) {
        return None;
    }
    let mut all: Vec<Given> = vec![Vec::new()];
    for thing in &least.things {
        let ways = (0..thing.ways.len()).map(Some).filter(|_| thing.count > 0);
        let ways: Vec<Option<usize>> = ways.chain([None]).collect();
        if all.len() * ways.len() > MOST_COMBINED {
            return None;
        }
        let with = |given: &Given| {
            let given = given.clone();
            ways.clone().into_iter().map(move |way| [&*given, &[way]].concat())
        };
        all = all.iter().flat_map(with).collect();
    }
    let may: Vec<&Given> = all.iter().filter(|given| fits(least, most, given, HAIR)).collect();
    let sure: Vec<&Given> = all.iter().filter(|given| fits(most, least, given, 0.0)).collect();
    let beaten = |given: &&Given| sure.iter().any(|other| is_better(least, most, other, given));
    let left: Vec<Given> = may.into_iter().filter(|given| !beaten(given)).cloned().collect();
    (left.len() <= MOST_LEFT).then_some(left)
}

/// The ways of a problem that are given.
fn ways<'p>(problem: &'p Problem, given: &Given) -> impl Iterator<Item = &'p Way> {
    let given = problem.things.iter().zip(given.clone());
    given.filter_map(|(thing, way)| thing.ways.get(way?))
}

/// Whether places that hold what one problem says give what another takes.
fn fits(takes: &Problem, holds: &Problem, given: &Given, hair: f64) -> bool {
    let mut room = holds.places.clone();
    let needed = |setup: &usize| ways(takes, given).any(|way| way.needs == Some(*setup));
    let setups = (0..takes.setups.len()).filter(needed).filter_map(|at| takes.setups.get(at));
    let taken: Vec<&Take> =
        setups.chain(ways(takes, given).map(|way| &way.takes)).flatten().collect();
    for (place, amount) in taken {
        if let Some(room) = room.get_mut(*place) {
            *room -= amount - hair;
        }
    }
    room.iter().all(|left| *left >= -hair)
}

/// Whether one is the better of two, whatever the numbers are.
fn is_better(least: &Problem, most: &Problem, one: &Given, other: &Given) -> bool {
    let worth = |problem: &Problem, thing: usize, way: Option<usize>, level: usize| {
        let way = way.and_then(|at| Some((problem.things.get(thing)?.ways.get(at)?, at)));
        way.map_or(0, |(way, at)| gain(way, thing, at).0.get(level).copied().unwrap_or(0))
    };
    for level in 0..LEVELS {
        let pairs = one.iter().zip(other).enumerate().filter(|(_, (a, b))| a != b);
        let ahead = pairs
            .map(|(thing, (a, b))| worth(least, thing, *a, level) - worth(most, thing, *b, level));
        match ahead.sum::<i64>() {
            0 => {}
            ahead => return ahead > 0,
        }
    }
    false
}
