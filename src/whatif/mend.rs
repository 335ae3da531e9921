//! The fewest swaps that clear every stop.

use std::sync::Arc;

use crate::build::{Build, Line, What};
use crate::catalogue::Part;
use crate::kit::Kit;
use crate::level::Level;
use crate::trade::money::{Currency, Money};
use crate::whatif::fit::every_part;
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::query::{Found, Goal, Keep, Limits, Quest};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::{AVOID, MOST_OPEN, Space};

/// How many ways are given.
const WAYS: usize = 5;

/// Ways to clear every stop.
#[non_exhaustive]
pub struct Mend {
    /// Stops that stand now, by rule.
    pub stops: Vec<String>,
    /// The cheapest ways among those with the fewest swaps.
    pub ways: Vec<Way>,
    /// How many swaps each takes.
    pub swaps: usize,
    /// Whether it is proven that fewer swaps do not do, and that none with as few is cheaper.
    pub proven: bool,
    /// Where no swaps help: a smallest set of rules that cannot all be met by swapping.
    pub conflict: Vec<String>,
    /// Whether that set is proven to be smallest.
    pub conflict_smallest: bool,
    /// Rules that broke on every build that was tried first: no build is held to them.
    pub left_out: Vec<String>,
    /// Lines that could be swapped, where they are more than a search takes: nothing was looked for
    /// then.
    pub too_many: Option<usize>,
}

/// A set of swaps.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Way {
    /// Line of the list from 0, the part now, the part then.
    pub swaps: Vec<(usize, Arc<Part>, Arc<Part>)>,
    /// What the list would cost.
    pub total: Money,
    /// What it would cost more, or less when negative.
    pub more: Money,
    /// The build.
    pub build: Build,
}

/// Looks for the fewest swaps that clear every stop of a build. Lines that are open stay out of it,
/// as nothing stands there.
pub fn mend(kit: &Kit, build: &Build, limits: Limits<'_>) -> Mend {
    let mut closed = build.clone();
    closed.lines.retain(|l| matches!(l.what, What::Part(_)));
    // Where the lines that stay stand in the list itself.
    let held: Vec<usize> = build
        .lines
        .iter()
        .enumerate()
        .filter(|(_, l)| matches!(l.what, What::Part(_)))
        .map(|(at, _)| at)
        .collect();
    let audit = kit.audit(&closed);
    let mut mend = Mend {
        stops: audit.stops(Level::Stop),
        ways: Vec::new(),
        swaps: 0,
        proven: true,
        conflict: Vec::new(),
        conflict_smallest: true,
        left_out: Vec::new(),
        too_many: None,
    };
    if mend.stops.is_empty() {
        return mend;
    }
    let space = Space::new(&closed, kit.catalogue(), choices(kit, &closed), true);
    if space.open() > MOST_OPEN {
        (mend.too_many, mend.proven) = (Some(space.open()), false);
        return mend;
    }
    let rules: Vec<u16> = (0u16..).take(kit.rules().rules.len()).collect();
    let quest = |swaps: i64| Quest {
        kit,
        space: &space,
        rules: rules.clone(),
        level: Level::Stop,
        levels: Vec::new(),
        goals: vec![Goal::Price],
        keep: Keep::Best(WAYS),
        limits,
        memo: None,
        under: Some((swaps + 1) * AVOID),
    };
    if let Some(rule) = hopeless(kit, &quest(closed.lines.len() as i64), &mend.stops) {
        mend.conflict = vec![rule];
        return mend;
    }
    for swaps in 1..=closed.lines.len() {
        let outcome = solve(&quest(swaps as i64));
        mend.proven &= outcome.proven;
        mend.left_out = outcome.left_out.iter().cloned().collect();
        if !outcome.found.is_empty() || !outcome.proven {
            mend.swaps = swaps;
            mend.ways = outcome.found.iter().map(|f| way(&space, &held, f)).collect();
            let fewest = mend.ways.iter().map(|w| w.swaps.len()).min().unwrap_or(0);
            mend.ways.retain(|w| w.swaps.len() == fewest);
            mend.swaps = fewest;
            return mend;
        }
        if swaps == closed.lines.len() {
            let ask = Quest { memo: None, under: None, ..quest(0) };
            (mend.conflict, mend.conflict_smallest) = conflict(&ask, &outcome);
        }
    }
    mend
}

/// A rule that stops the list and that no swaps meet even by itself.
fn hopeless(kit: &Kit, quest: &Quest<'_>, stops: &[String]) -> Option<String> {
    let met = |rule: &&String| {
        let rules = kit.rules().find(rule).into_iter().collect();
        let (goals, levels) = (Vec::new(), Vec::new());
        let alone =
            Quest { rules, levels, goals, keep: Keep::Best(1), memo: None, under: None, ..*quest };
        let outcome = solve(&alone);
        !outcome.found.is_empty() || !outcome.proven || !outcome.left_out.is_empty()
    };
    stops.iter().find(|rule| !met(rule)).cloned()
}

/// What may stand on each line: what stands there, and every part that somebody sells.
fn choices(kit: &Kit, build: &Build) -> Vec<Vec<Line>> {
    let market = kit.catalogue().market(&build.currency, build.priced_on);
    let sold = |line: &Line| {
        line.part()
            .and_then(|part| Some(market.known(kit.catalogue(), part)?.sellers > 0.0))
            .unwrap_or(false)
    };
    let own = |line: &Line, held: &Line| matches!((line.part(), held.part()), (Some(a), Some(b)) if a.id == b.id);
    build
        .lines
        .iter()
        .map(|held| {
            every_part(kit, held).into_iter().filter(|line| own(line, held) || sold(line)).collect()
        })
        .collect()
}

fn way(space: &Space, held: &[usize], found: &Found) -> Way {
    let currency = Currency::from_code(&space.base.currency).unwrap_or(Currency::EURO);
    let mut swaps = Vec::new();
    let mut before = 0i64;
    for (line, (place, pick)) in held.iter().zip(space.places.iter().zip(&found.picks)) {
        let now = place.choices.iter().find(|c| c.rank < AVOID);
        let (Some(now), Some(then)) = (now, place.choices.get(*pick as usize)) else { continue };
        before = before.saturating_add(now.cost);
        if now.part.id != then.part.id {
            swaps.push((*line, now.part.clone(), then.part.clone()));
        }
    }
    Way {
        swaps,
        total: Money::from_minor(found.cost, currency),
        more: Money::from_minor(found.cost - before, currency),
        build: space.build(&found.picks),
    }
}
