//! What a search is asked, and what comes of it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use crate::build::bill::Total;
use crate::kit::{Audit, Kit};
use crate::level::Level;

use super::memo::Memo;
use super::space::Space;

/// What is looked for, the most important first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Goal {
    /// The least money, shipping included.
    Price,
    /// The least loss over the lines.
    Loss,
    /// The most or the least of a measure, by its place among the rules.
    Measure {
        /// Its place.
        rule: u16,
        /// Whether more is better.
        most: bool,
    },
}

/// How many answers are wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Keep {
    /// So many of the best; a goal counts only where those before it are equal.
    Best(usize),
    /// All that no other beats on every goal.
    Front,
    /// All that pass, up to so many.
    All(usize),
}

/// When to stop before the end.
#[derive(Clone, Copy)]
#[non_exhaustive]
pub struct SearchLimits<'a> {
    /// Set from elsewhere, as by Ctrl-C.
    pub halt: &'a AtomicBool,
    /// The latest moment.
    pub until: Option<Instant>,
    /// Told now and then how far the search is.
    pub tell: Option<&'a dyn Fn(SearchProgress)>,
    /// Whether facts that nobody said of a part are taken to fit: an answer may then leave open
    /// what could stop it.
    pub trust_unknown: bool,
    /// Search nodes after which it is found out which parts others dominate; the answers are the
    /// same whenever that is.
    #[doc(hidden)]
    pub dominance_after: u64,
}

/// Nodes after which finding out which parts are dominated takes less than it saves.
const DOMINANCE_AFTER: u64 = 48;

impl<'a> SearchLimits<'a> {
    /// No limit but `halt`: set it from another thread, or never.
    pub fn new(halt: &'a AtomicBool) -> Self {
        Self {
            halt,
            until: None,
            tell: None,
            trust_unknown: false,
            dominance_after: DOMINANCE_AFTER,
        }
    }

    /// The same with half of the time that is left.
    pub(crate) fn half(&self) -> Self {
        let now = Instant::now();
        Self {
            until: self.until.map(|until| now + until.saturating_duration_since(now) / 2),
            ..*self
        }
    }

    /// The same, trusting facts that nobody said or not.
    #[must_use]
    pub fn trusting(self, trust_unknown: bool) -> Self {
        Self { trust_unknown, ..self }
    }

    /// Whether it is time to stop.
    pub(crate) fn over(&self) -> bool {
        self.halt.load(Ordering::Relaxed) || self.until.is_some_and(|until| Instant::now() > until)
    }
}

/// How far a search is.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct SearchProgress {
    /// Boxes looked at.
    pub boxes: u64,
    /// Builds audited.
    pub audits: u64,
    /// Builds found that pass.
    pub found: usize,
}

/// What is asked.
pub(crate) struct Quest<'a> {
    pub(crate) kit: &'a Kit,
    pub(crate) space: &'a Space,
    /// The rules that builds are held to.
    pub(crate) rules: Vec<u16>,
    /// From which level on a finding stops a build.
    pub(crate) level: Level,
    /// Rules that are held to another level than the rest.
    pub(crate) levels: Vec<(u16, Level)>,
    pub(crate) goals: Vec<Goal>,
    pub(crate) keep: Keep,
    /// The only choice that is looked at, by place; a place without one has all of its choices.
    pub(crate) fixed: &'a [Option<u32>],
    pub(crate) limits: SearchLimits<'a>,
    /// Most search nodes that are looked at.
    pub(crate) most_nodes: u64,
    /// Builds of the space that pass, so that only what is better is looked for.
    pub(crate) known: &'a [Found],
    /// Of a front: the goals' scores of builds of other spaces, so that only what none of them
    /// beats is looked for.
    pub(crate) held: &'a [[f64; 2]],
    /// What searches of the same space found out so far.
    pub(crate) memo: Option<&'a Memo>,
}

impl<'a> Quest<'a> {
    /// A question about a whole space, with every rule and nothing known yet.
    pub(crate) fn new(
        kit: &'a Kit,
        space: &'a Space,
        level: Level,
        keep: Keep,
        limits: SearchLimits<'a>,
    ) -> Self {
        Self {
            kit,
            space,
            rules: (0u16..).take(kit.rules().rules.len()).collect(),
            level,
            levels: Vec::new(),
            goals: Vec::new(),
            keep,
            fixed: &[],
            limits,
            most_nodes: u64::MAX,
            known: &[],
            held: &[],
            memo: None,
        }
    }

    /// From which level on a finding of a rule stops a build.
    pub(crate) fn level_of(&self, rule: u16) -> Level {
        self.levels.iter().find(|(at, _)| *at == rule).map_or(self.level, |(_, level)| *level)
    }

    /// The rules that stop a build; a rule that breaks on it stops it too.
    pub(crate) fn stopped_by(&self, audit: &Audit) -> Vec<u16> {
        let rules = self.kit.rules();
        let mut by: Vec<u16> = audit.failed().filter_map(|(r, _)| rules.find(&r.id)).collect();
        if !self.levels.is_empty() || audit.worst().is_some_and(|worst| worst >= self.level) {
            let tally = audit.tally().into_keys();
            by.extend(tally.filter(|(at, l)| *l >= self.level_of(*at)).map(|(at, _)| at));
        }
        if !self.limits.trust_unknown {
            by.extend(self.left_open(audit));
        }
        by.sort_unstable();
        by.dedup();
        by
    }

    /// Rules that a chosen part leaves open: nobody said a fact of it that may stop the build. What
    /// is open through parts that stay is the list's own.
    fn left_open<'q>(&'q self, audit: &'q Audit) -> impl Iterator<Item = u16> + 'q {
        let chosen = |line: usize| {
            self.fixed.get(line).is_none_or(Option::is_none)
                && self.space.places.get(line).is_some_and(|place| place.choices.len() > 1)
        };
        let build = audit.build();
        audit.open_rules().into_iter().filter(|open| !open.waived).filter_map(move |open| {
            let rule = self.kit.rules().find(&open.rule)?;
            let by_choice = open
                .facts
                .iter()
                .any(|fact| build.slot(fact.kind, fact.nth).is_some_and(|slot| chosen(slot.line)));
            (by_choice && open.level >= self.level_of(rule)).then_some(rule)
        })
    }
}

/// A build that passes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Found {
    /// The choice on each line.
    pub(crate) picks: Vec<u32>,
    /// Goods and shipping.
    pub(crate) total: Total,
    /// The goals' values as they are, in their order.
    pub(crate) values: Vec<f64>,
    /// The same with less always better; the last is the price.
    pub(super) score: Vec<f64>,
}

/// The result of a search.
#[derive(Debug, Default)]
pub(crate) struct Outcome {
    /// The best first; for a front in order of its first goal.
    pub(crate) found: Vec<Found>,
    /// Whether nothing was left unseen.
    pub(crate) proven: bool,
    /// Whether builds were left out because what is held elsewhere beats them.
    pub(crate) cut: bool,
    /// The best that the first goal could still reach in what was left unseen.
    pub(crate) bound: Option<f64>,
    /// Boxes looked at.
    pub(crate) boxes: u64,
    /// Builds audited.
    pub(crate) audits: u64,
    /// Scripts run.
    pub(crate) runs: u64,
    /// Rules that stopped something, with how often.
    pub(crate) stopped_by: BTreeMap<String, u64>,
    /// Rules that no build was held to, as they broke on each of the first ones.
    pub(crate) left_out: BTreeSet<String>,
    /// Rules that broke on a build, with the words of the first.
    pub(crate) broken: BTreeMap<String, crate::rules::loader::BrokenRule>,
}
