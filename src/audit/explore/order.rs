//! In which order a rule comes to undecided facts: some matter only once another is known.

use std::collections::{BTreeMap, BTreeSet};

use crate::build::lack::Fact;

/// The facts that a rule comes to, over the ways it takes.
#[derive(Debug, Default)]
pub(super) struct Order {
    /// On the way that is being taken.
    met: Vec<Fact>,
    /// The ways taken to their end.
    ways: usize,
    /// On how many of them each fact was met, and one of its part that was always met before.
    on_ways: BTreeMap<Fact, (usize, Option<Fact>)>,
}

impl Order {
    /// Makes ready for the next way.
    pub(super) fn start(&mut self) {
        self.met.clear();
    }

    /// Puts down facts that turn the rule here, behind those of their part that turned it before.
    pub(super) fn meet(&mut self, facts: &[Fact]) {
        for fact in facts {
            let of_part = |met: &&Fact| (met.kind, met.nth) == (fact.kind, fact.nth);
            let before = self.met.iter().find(|met| of_part(met) && !facts.contains(met)).copied();
            let (_, after) = self.on_ways.entry(*fact).or_insert((0, before));
            *after = after.and(before);
        }
        self.met.extend(facts);
    }

    /// Counts a way that the rule took to its end.
    pub(super) fn end(&mut self) {
        let met: BTreeSet<Fact> = self.met.drain(..).collect();
        self.ways += 1;
        for fact in met {
            self.on_ways.entry(fact).or_default().0 += 1;
        }
    }

    /// The facts that were met on some ways only, each with the one that was met before.
    pub(super) fn after(self) -> BTreeMap<Fact, Fact> {
        let sometimes = |(fact, (met, before)): (Fact, (usize, Option<Fact>))| {
            Some((fact, before.filter(|_| met < self.ways)?))
        };
        self.on_ways.into_iter().filter_map(sometimes).collect()
    }
}
