//! Holds assignments to trying every way on random boards, and where places hold whole things and
//! nothing stands between, to an independent matching library.

use dryfit::inside::trade::assignment::{Assignment, Problem, Thing, WORTHS, Way};
use dryfit::inside::trade::assignment_span::possible;
use pathfinding::matrix::Matrix;
use pathfinding::prelude::kuhn_munkres;

/// Numbers from a fixed start.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides
    }

    /// Tenths from 0 to 1, whole numbers at times: amperes, shares, plugs.
    fn amount(&mut self) -> f64 {
        if self.roll(2) == 0 { 1.0 } else { (1 + self.roll(10)) as f64 / 10.0 }
    }

    fn takes(&mut self, places: usize, most: usize) -> Vec<(usize, f64)> {
        (0..self.roll(most + 1)).map(|_| (self.roll(places), self.amount())).collect()
    }

    fn worth(&mut self) -> [f64; WORTHS] {
        let mut worth = [0.0; WORTHS];
        worth[0] = self.roll(3) as f64;
        worth[1] = self.roll(4) as f64 - 1.0;
        worth[2] = self.roll(1000) as f64 / 1000.0;
        worth
    }

    fn problem(&mut self) -> Problem {
        let places: Vec<f64> = (0..1 + self.roll(4)).map(|_| self.amount() * 2.0).collect();
        let setups: Vec<_> = (0..self.roll(3)).map(|_| self.takes(places.len(), 2)).collect();
        let things = (0..1 + self.roll(3)).map(|_| {
            let ways = (0..self.roll(4)).map(|_| {
                let needs =
                    (!setups.is_empty() && self.roll(3) == 0).then(|| self.roll(setups.len()));
                Way { takes: self.takes(places.len(), 2), needs, worth: self.worth() }
            });
            let ways = ways.collect();
            Thing { count: 1 + self.roll(2), ways }
        });
        let things = things.collect();
        Problem { places, setups, things }
    }
}

/// A worth in thousandths, the first number first.
type Sum = [i64; WORTHS];

fn sum(one: Sum, way: &Way) -> Sum {
    let mut total = one;
    total.iter_mut().zip(way.worth).for_each(|(a, b)| *a += (b * 1000.0).round() as i64);
    total
}

fn takes(room: &[f64], takes: &[(usize, f64)]) -> Option<Vec<f64>> {
    let mut room = room.to_vec();
    takes.iter().for_each(|(place, amount)| room[*place] -= amount);
    room.iter().all(|left| *left > -1e-9).then_some(room)
}

/// The best that the pieces from one on can get, by trying everything.
fn best_from(problem: &Problem, pieces: &[usize], room: &[f64], made: &[bool], held: Sum) -> Sum {
    let Some((thing, rest)) = pieces.split_first() else { return held };
    let mut best = best_from(problem, rest, room, made, held);
    for way in &problem.things[*thing].ways {
        let mut made = made.to_vec();
        let mut room = Some(room.to_vec());
        if let Some(setup) = way.needs.filter(|setup| !made[*setup]) {
            made[setup] = true;
            room = room.and_then(|room| takes(&room, &problem.setups[setup]));
        }
        if let Some(room) = room.and_then(|room| takes(&room, &way.takes)) {
            best = best.max(best_from(problem, rest, &room, &made, sum(held, way)));
        }
    }
    best
}

fn pieces(problem: &Problem) -> Vec<usize> {
    let things = problem.things.iter().enumerate();
    things.flat_map(|(at, thing)| std::iter::repeat_n(at, thing.count)).collect()
}

/// What a solution is worth, if it takes no more than there is.
fn worth_of(problem: &Problem, found: &Assignment) -> Option<Sum> {
    let mut room = problem.places.clone();
    let mut made = vec![false; problem.setups.len()];
    let mut held = [0; WORTHS];
    for (thing, way) in pieces(problem).iter().zip(&found.ways) {
        let Some(way) = way.map(|way| &problem.things[*thing].ways[way]) else { continue };
        if let Some(setup) = way.needs.filter(|setup| !made[*setup]) {
            made[setup] = true;
            room = takes(&room, &problem.setups[setup])?;
        }
        room = takes(&room, &way.takes)?;
        held = sum(held, way);
    }
    Some(held)
}

#[test]
fn assignments_equal_trying_every_way() {
    let mut dice = Dice(18);
    let mut through = 0;
    for round in 0..5_000 {
        let problem = dice.problem();
        let found = problem.solve();
        assert!(found.proven && problem.is_sound(), "board {round}");
        let made = vec![false; problem.setups.len()];
        let best = best_from(&problem, &pieces(&problem), &problem.places, &made, [0; WORTHS]);
        assert_eq!(worth_of(&problem, &found), Some(best), "board {round}: {problem:?}");
        through += usize::from(found.ways.iter().flatten().count() > 1);
    }
    assert!(through > 1_000, "boards with something to assign: {through}");
}

/// Raises some numbers of a problem, each by an amount of its own.
fn raised(dice: &mut Dice, problem: &Problem) -> Problem {
    let mut raised = problem.clone();
    let mut raise = |n: &mut f64| {
        if dice.roll(4) == 0 {
            *n += dice.amount();
        }
    };
    raised.places.iter_mut().for_each(&mut raise);
    raised.setups.iter_mut().flatten().for_each(|(_, amount)| raise(amount));
    for way in raised.things.iter_mut().flat_map(|thing| &mut thing.ways) {
        way.takes.iter_mut().for_each(|(_, amount)| raise(amount));
        way.worth.iter_mut().for_each(&mut raise);
    }
    raised
}

/// A problem between two, number by number.
fn between(dice: &mut Dice, least: &Problem, most: &Problem) -> Problem {
    let mut made = least.clone();
    let mut mix = |n: &mut f64, most: f64| *n += (most - *n) * dice.roll(5) as f64 / 4.0;
    made.places.iter_mut().zip(&most.places).for_each(|(n, most)| mix(n, *most));
    let setups = made.setups.iter_mut().flatten().zip(most.setups.iter().flatten());
    setups.for_each(|(n, most)| mix(&mut n.1, most.1));
    let ways = most.things.iter().flat_map(|thing| &thing.ways);
    for (way, most) in made.things.iter_mut().flat_map(|thing| &mut thing.ways).zip(ways) {
        way.takes.iter_mut().zip(&most.takes).for_each(|(n, most)| mix(&mut n.1, most.1));
        way.worth.iter_mut().zip(most.worth).for_each(|(n, most)| mix(n, most));
    }
    made
}

#[test]
fn what_may_be_assigned_holds_what_is_assigned_whatever_the_numbers_are() {
    let mut dice = Dice(23);
    let (mut told, mut few) = (0, 0);
    for board in 0..2_000 {
        let mut least = dice.problem();
        least.things.iter_mut().for_each(|thing| thing.count = 1);
        let most = raised(&mut dice, &least);
        let Some(all) = possible(&least, &most) else { continue };
        told += 1;
        few += usize::from(all.len() < 3);
        for _ in 0..6 {
            let one = between(&mut dice, &least, &most);
            let found = one.solve();
            assert!(all.contains(&found.ways), "board {board}: {found:?} of {all:?}: {one:?}");
        }
        if least == most {
            assert_eq!(all.len(), 1, "board {board}: {least:?}");
        }
    }
    assert!(told > 1_000 && few * 2 > told, "{told} told, {few} with one or two ways");
}

#[test]
fn assignments_agree_with_an_independent_matching() {
    let mut dice = Dice(81);
    for round in 0..500 {
        let (rows, columns) = (1 + dice.roll(8), 9 + dice.roll(4));
        let worths = Matrix::from_fn(rows, columns, |_| 1 + dice.roll(1000) as i64);
        let way = |row: usize, column: usize| {
            let mut worth = [0.0; WORTHS];
            worth[0] = worths[(row, column)] as f64;
            Way { takes: vec![(column, 1.0)], needs: None, worth }
        };
        let thing =
            |row: usize| Thing { count: 1, ways: (0..columns).map(|c| way(row, c)).collect() };
        let problem = Problem {
            places: vec![1.0; columns],
            setups: Vec::new(),
            things: (0..rows).map(thing).collect(),
        };
        let found = worth_of(&problem, &problem.solve()).map(|worth| worth[0] / 1000);
        assert_eq!(found, Some(kuhn_munkres(&worths).0), "board {round}");
    }
}
