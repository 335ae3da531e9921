//! `assign(things, places)`: which thing gets which place, for scripts.

use std::sync::Arc;

use rhai::{Array, Dynamic, INT, Map};

use crate::audit::ask::{Answer, Ask};
use crate::audit::assigned::{AssignExpr, TakeExpr, ThingExpr, WayExpr};
use crate::audit::expr::{Expr, ExprId};
use crate::rules::host::{Call, Host, Res, say, say_help};
use crate::rules::tracked::type_words;
use crate::rules::word_table::Registrar;
use crate::trade::assignment::{MOST_PARTS, WORTHS};

/// How a script writes a thing.
const THING: &str = "#{ count: 1, ways: [#{ takes: [[place, amount]], worth: [1] }] }";

/// Puts the words that assign into an engine.
pub(crate) fn register(reg: &mut Registrar<'_>) {
    reg.subject = "Assignments";
    reg.word(
        "assign(things, places)",
        "gives each thing one of its ways or none, so that no place gives more than it holds and \
         the ways are worth the most, solved exactly. `places`: how much each holds. A thing: \
         #{ count, ways: [#{ takes: [[place, amount], …], worth: [first, second, …] }] }; the \
         first numbers decide, then the second. Gives for each thing the ways of its pieces that \
         have one, by their place in `ways`",
    );
    reg.word(
        "assign(things, places, setups)",
        "the same with things between, such as splitters: a setup [[place, amount], …] takes its \
         places once, and a way names the one it goes through: #{ takes, worth, needs: setup }",
    );
    reg.two("assign", |host, ctx, things: Array, places: Array| {
        host.assign(ctx, &things, &places, &[])
    });
    reg.three("assign", |host, ctx, things: Array, places: Array, setups: Array| {
        host.assign(ctx, &things, &places, &setups)
    });
}

impl Host {
    fn assign(
        &self,
        ctx: &Call<'_>,
        things: &[Dynamic],
        places: &[Dynamic],
        setups: &[Dynamic],
    ) -> Res<Array> {
        let size = Size { places: places.len(), setups: setups.len() };
        let numbers = places.iter().map(|place| self.amount(place, "a place holds"));
        let taken = setups.iter().map(|setup| self.takes(Some(setup), size));
        let assign = AssignExpr {
            places: numbers.collect::<Res<_>>()?,
            setups: taken.collect::<Res<_>>()?,
            things: things.iter().map(|thing| self.thing(thing, size)).collect::<Res<_>>()?,
        };
        let ways = assign.things.iter().fold(0, |sum, thing| sum + thing.ways.len());
        if ways + places.len() + setups.len() > MOST_PARTS {
            return too_large();
        }
        let problem = assign.problem(|id| self.number(id))?;
        if !problem.is_sound() {
            return say_help(
                "an amount or a worth in this assignment is out of range",
                "amounts are zero or more, worths within 1,000,000,000,000",
            );
        }
        let id = self.expr(Expr::Assign(Arc::new(assign)));
        if self.state.borrow().pool.too_long(id) {
            return too_large();
        }
        let answer = match self.ask(ctx, Ask::Assigned(id)) {
            Ok(answer) => answer,
            Err(_) if self.cut().is_none() => return too_large(),
            Err(cut) => return Err(cut),
        };
        let Answer::Places(given) = answer else { return too_large() };
        let of_thing = given.iter().map(|ways| {
            Dynamic::from(ways.iter().map(|way| Dynamic::from(INT::from(*way))).collect::<Array>())
        });
        Ok(of_thing.collect())
    }

    fn amount(&self, value: &Dynamic, what: &str) -> Res<ExprId> {
        match self.as_num(value) {
            Some(number) => Ok(number.id),
            None => say(format!("{what} a number, and this is {}", type_words(value.type_name()))),
        }
    }

    fn thing(&self, value: &Dynamic, size: Size) -> Res<ThingExpr> {
        let Some(thing) = value.read_lock::<Map>() else {
            return say_help("a thing to be assigned is a map", format!("write {THING}"));
        };
        let count = match thing.get("count") {
            Some(count) => self.amount(count, "the count of a thing is")?,
            None => self.state.borrow_mut().pool.number(1.0),
        };
        let Some(ways) = thing.get("ways").and_then(|ways| ways.read_lock::<Array>()) else {
            return say_help("a thing to be assigned lists its ways", format!("write {THING}"));
        };
        let ways = ways.iter().map(|way| self.way(way, size)).collect::<Res<_>>()?;
        Ok(ThingExpr { count, ways })
    }

    fn way(&self, value: &Dynamic, size: Size) -> Res<WayExpr> {
        let Some(way) = value.read_lock::<Map>() else {
            return say_help("a way of a thing is a map", format!("write {THING}"));
        };
        let worth = way.get("worth").and_then(|worth| worth.read_lock::<Array>());
        let worth = match worth {
            Some(worth) if (1..=WORTHS).contains(&worth.len()) => {
                let numbers = worth.iter().map(|n| self.amount(n, "a way is worth"));
                numbers.collect::<Res<_>>()?
            }
            _ => {
                return say_help(
                    format!("a way is worth a list of one to {WORTHS} numbers"),
                    format!("write {THING}"),
                );
            }
        };
        let needs = match way.get("needs").filter(|needs| !needs.is_unit()) {
            None => None,
            Some(needs) => Some(index(needs, size.setups, "setups")?),
        };
        Ok(WayExpr { takes: self.takes(way.get("takes"), size)?, needs, worth })
    }

    /// Amounts of places: `[[place, amount], …]`.
    fn takes(&self, value: Option<&Dynamic>, size: Size) -> Res<Box<[TakeExpr]>> {
        let Some(value) = value else { return Ok(Box::default()) };
        let wrong = || {
            say_help(
                "what is taken is a list of places with amounts",
                "write [[place, amount], …], a place by its number in `places`",
            )
        };
        let Some(takes) = value.read_lock::<Array>() else { return wrong() };
        let mut found = Vec::with_capacity(takes.len());
        for take in takes.iter() {
            let Some(pair) = take.read_lock::<Array>() else { return wrong() };
            let [place, amount] = pair.as_slice() else { return wrong() };
            let place = index(place, size.places, "places")?;
            found.push((place, self.amount(amount, "what a place gives is")?));
        }
        Ok(found.into())
    }
}

/// How many places and setups there are to name.
#[derive(Debug, Clone, Copy)]
struct Size {
    places: usize,
    setups: usize,
}

fn index(value: &Dynamic, len: usize, of: &str) -> Res<u16> {
    let at = value.as_int().ok().and_then(|at| u16::try_from(at).ok());
    match at.filter(|at| usize::from(*at) < len) {
        Some(at) => Ok(at),
        None => say(format!("`{of}` has {len} entries, counted from 0, and this names another")),
    }
}

fn too_large<T>() -> Res<T> {
    say_help(
        "this assignment is too large to be solved exactly",
        "give things that are alike one entry with a count, and leave out ways that nobody would \
         take",
    )
}
