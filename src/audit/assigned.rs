//! An assignment as a rule asks for it: the problem's shape, its numbers as expressions.

use crate::audit::ask::Answer;
use crate::audit::expr::ExprId;
use crate::audit::interval::Span;
use crate::trade::assignment::{Problem, Take, Thing, WORTHS, Way};
use crate::trade::assignment_span::possible;

/// An amount of a place.
pub(crate) type TakeExpr = (u16, ExprId);

/// A way for a thing to be served.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct WayExpr {
    /// What it takes.
    pub(crate) takes: Box<[TakeExpr]>,
    /// The setup that it goes through.
    pub(crate) needs: Option<u16>,
    /// What it is worth.
    pub(crate) worth: Box<[ExprId]>,
}

/// Things that are alike.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct ThingExpr {
    /// Pieces.
    pub(crate) count: ExprId,
    /// What each may do.
    pub(crate) ways: Box<[WayExpr]>,
}

/// Which thing gets which place; solved by [`crate::trade::assignment`].
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct AssignExpr {
    /// How much each place holds.
    pub(crate) places: Box<[ExprId]>,
    /// What each setup takes once.
    pub(crate) setups: Box<[Box<[TakeExpr]>]>,
    /// The things.
    pub(crate) things: Box<[ThingExpr]>,
}

/// Most pieces of one thing that are looked at: more find no place on any board.
const MOST_ALIKE: f64 = 32.0;

/// Beyond what any number of an assignment is.
const ANY: f64 = 1e9;

impl AssignExpr {
    /// Every expression that it rests on.
    pub(crate) fn exprs(&self) -> impl Iterator<Item = ExprId> {
        let setups = self.setups.iter().flatten().map(|(_, amount)| *amount);
        let ways = self.things.iter().flat_map(|thing| &thing.ways);
        let of_ways = ways.flat_map(|way| {
            way.takes.iter().map(|(_, amount)| *amount).chain(way.worth.iter().copied())
        });
        let counts = self.things.iter().map(|thing| thing.count);
        self.places.iter().copied().chain(setups).chain(counts).chain(of_ways)
    }

    /// The problem in numbers, without pieces that find no place.
    pub(crate) fn problem<E>(
        &self,
        number: impl FnMut(ExprId) -> Result<f64, E>,
    ) -> Result<Problem, E> {
        let mut problem = self.numbers(number)?;
        problem.leave_out_hopeless();
        Ok(problem)
    }

    fn numbers<E>(&self, mut number: impl FnMut(ExprId) -> Result<f64, E>) -> Result<Problem, E> {
        let mut problem = Problem::default();
        for place in &self.places {
            problem.places.push(number(*place)?);
        }
        for setup in &self.setups {
            problem.setups.push(takes(setup, &mut number)?);
        }
        for thing in &self.things {
            let count = number(thing.count)?;
            let mut ways = Vec::with_capacity(thing.ways.len());
            for way in &thing.ways {
                let mut worth = [0.0; WORTHS];
                for (slot, id) in worth.iter_mut().zip(&way.worth) {
                    *slot = number(*id)?;
                }
                let needs = way.needs.map(usize::from);
                ways.push(Way { takes: takes(&way.takes, &mut number)?, needs, worth });
            }
            problem.things.push(Thing { count: count.clamp(0.0, MOST_ALIKE) as usize, ways });
        }
        Ok(problem)
    }

    /// Every answer that may be given while its numbers are spans; none where there are too many
    /// to tell.
    pub(crate) fn possible(&self, mut span: impl FnMut(ExprId) -> Span) -> Option<Vec<Answer>> {
        // A number that there may not be is one that the rule breaks without: any, where there is.
        let mut ends = |end: fn(Span) -> f64| {
            let number = |id| Some(span(id)).filter(|s| !s.is_empty()).map(end).ok_or(());
            let mut problem = self.numbers(number).ok()?;
            problem.keep_within(ANY);
            Some(problem)
        };
        let (least, most) = (ends(|span| span.lo)?, ends(|span| span.hi)?);
        let all = possible(&least, &most)?;
        let answer = |given: Vec<Option<usize>>| {
            let way = |way: Option<usize>| way.and_then(|way| u16::try_from(way).ok());
            Answer::Places(given.into_iter().map(|at| way(at).into_iter().collect()).collect())
        };
        Some(all.into_iter().map(answer).collect())
    }
}

fn takes<E>(
    takes: &[TakeExpr],
    number: &mut impl FnMut(ExprId) -> Result<f64, E>,
) -> Result<Vec<Take>, E> {
    takes.iter().map(|(place, amount)| Ok((usize::from(*place), number(*amount)?))).collect()
}

/// The best assignment as an answer; none where there is none or it was not proven.
pub(crate) fn answer(problem: &Problem) -> Option<Answer> {
    let found = Some(problem).filter(|problem| problem.is_sound()).map(Problem::solve)?;
    let mut ways = found.ways.iter();
    let of_thing = problem.things.iter().map(|thing| {
        let ways = ways.by_ref().take(thing.count).flatten();
        ways.filter_map(|way| u16::try_from(*way).ok()).collect()
    });
    let given = of_thing.collect();
    found.proven.then_some(Answer::Places(given))
}
