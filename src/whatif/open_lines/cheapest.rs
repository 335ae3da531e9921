//! The parts of open lines with which a list passes and comes to the least.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap, HashSet};
use std::sync::Arc;

use super::{Choice, MOST_AUDITS, OpenLine, nothing};
use crate::build::Build;
use crate::build::resolve::Resolved;
use crate::catalogue::Part;
use crate::kit::Kit;
use crate::source::Problem;
use crate::trade::money::Money;
use crate::whatif::present_stops::Measure;
use crate::words::some_of;

/// Looks for the cheapest parts of a build's open lines.
pub(super) struct Search<'a> {
    kit: &'a Kit,
    base: &'a Build,
    measure: Measure,
    audits: usize,
    /// What was found out, by the part on every line.
    known: HashMap<Vec<Option<*const Part>>, Vec<String>>,
}

impl<'a> Search<'a> {
    pub(super) fn new(kit: &'a Kit, base: &'a Build) -> Self {
        let measure = Measure::of(&kit.audit(base));
        Self { kit, base, measure, audits: 0, known: HashMap::new() }
    }

    /// The rules that stop a build, or that may once a fact is looked up.
    fn over(&mut self, build: &Build) -> Vec<String> {
        let parts = build.lines.iter().map(|line| line.part().map(Arc::as_ptr)).collect();
        if let Some(known) = self.known.get(&parts) {
            return known.clone();
        }
        let found = self.audited(build);
        self.known.insert(parts, found.clone());
        found
    }

    fn audited(&mut self, build: &Build) -> Vec<String> {
        self.audits += 1;
        let audit = self.kit.audit(build);
        let mut rules = self.measure.over(&audit);
        let open = |line: usize| self.base.lines.get(line).is_some_and(|l| l.part().is_none());
        rules.extend(self.measure.left_open(&audit, open));
        rules
    }

    /// The same without the lines that no part can fill, which are not to keep the others from
    /// being filled; with the lines that are left, and why the others stay open.
    pub(super) fn without_hopeless(
        &mut self,
        lines: Vec<OpenLine>,
        left: &mut Vec<Problem>,
    ) -> (Vec<OpenLine>, Option<Vec<usize>>) {
        let audits = self.audits;
        let hopeless: Vec<_> = lines.iter().map(|open| self.never_passes(open)).collect();
        let fewer = hopeless.iter().any(Option::is_some);
        let stops = "every part that meets its wants would stop the build";
        let mut rest = Vec::new();
        for (open, rules) in lines.into_iter().zip(hopeless) {
            let Some(rules) = rules else {
                rest.push(open);
                continue;
            };
            let why = format!("{stops} ({})", some_of(rules.iter().map(|r| &**r), 4));
            left.push(nothing(self.kit, self.base, open.line, &why));
        }
        self.audits = 0;
        let chosen = if fewer { self.cheapest(&rest) } else { None };
        if chosen.is_none() {
            let cut = format!("the search was cut short after {MOST_AUDITS} builds");
            let why = if audits.max(self.audits) >= MOST_AUDITS { &*cut } else { stops };
            left.extend(rest.iter().map(|open| nothing(self.kit, self.base, open.line, why)));
        }
        (rest, chosen)
    }

    /// The rules that stop a build with any part of an open line, the others left open; of none
    /// that all name, those of the cheapest. None where a part passes by itself.
    fn never_passes(&mut self, open: &OpenLine) -> Option<Vec<String>> {
        let mut all: Option<Vec<String>> = None;
        let mut first = Vec::new();
        for (part, _) in &open.parts {
            let rules = self.over(&self.base.with_part(open.line, part));
            if rules.is_empty() {
                return None;
            }
            match &mut all {
                Some(all) => all.retain(|rule| rules.contains(rule)),
                None => (first, all) = (rules.clone(), Some(rules)),
            }
        }
        all.map(|all| if all.is_empty() { first } else { all })
    }

    fn cost(&self, lines: &[OpenLine], at: &[usize]) -> i64 {
        let each = |(open, at): (&OpenLine, &usize)| {
            let line = self.base.lines.get(open.line)?;
            let price = open.parts.get(*at)?.1;
            Some(if line.owned { 0 } else { price.minor().saturating_mul(i64::from(line.count)) })
        };
        lines.iter().zip(at).filter_map(each).fold(0, i64::saturating_add)
    }

    /// The build with the choices on its open lines.
    pub(super) fn with(&self, lines: &[OpenLine], at: &[usize]) -> Build {
        let mut build = self.base.clone();
        for (open, at) in lines.iter().zip(at) {
            if let Some((part, _)) = open.parts.get(*at) {
                build = build.with_part(open.line, part);
            }
        }
        build
    }

    /// The choices that pass and with which the whole list comes to the least, shipping included.
    /// They are looked at in order of what they cost by themselves, which is a bound: goods cost no
    /// less in any split into orders, and shipping is never below nothing.
    pub(super) fn cheapest(&mut self, lines: &[OpenLine]) -> Option<Vec<usize>> {
        let first = vec![0; lines.len()];
        let rest = self.goods(&self.with(lines, &first)) - self.cost(lines, &first);
        let mut best: Option<(i64, Vec<usize>)> = None;
        let mut seen = HashSet::from([first.clone()]);
        let mut queue = BinaryHeap::from([Reverse((self.cost(lines, &first), first))]);
        while let Some(Reverse((cost, at))) = queue.pop() {
            if best.as_ref().is_some_and(|(held, _)| rest + cost >= *held) {
                break;
            }
            let build = self.with(lines, &at);
            let total = self.resolved(&build).paid().minor();
            if best.as_ref().is_none_or(|(held, _)| total < *held) {
                if self.audits >= MOST_AUDITS {
                    break;
                }
                if self.over(&build).is_empty() {
                    best = Some((total, at.clone()));
                }
            }
            for step in 0..lines.len() {
                let mut next = at.clone();
                let Some(slot) = next.get_mut(step) else { continue };
                *slot += 1;
                let there = lines.get(step).is_some_and(|open| *slot < open.parts.len());
                if there && seen.insert(next.clone()) {
                    queue.push(Reverse((self.cost(lines, &next), next)));
                }
            }
        }
        best.map(|(_, at)| at)
    }

    fn resolved(&self, build: &Build) -> Resolved {
        Resolved::new(Arc::new(build.clone()), self.kit.catalogue().clone())
    }

    /// What a build's parts cost, each at its best offer.
    fn goods(&self, build: &Build) -> i64 {
        let resolved = self.resolved(build);
        let bought = resolved.all().filter(|(_, _, s)| !s.owned && !s.included);
        let costs = bought.filter_map(|(_, _, slot)| {
            Some(resolved.facts(slot).price?.minor().saturating_mul(slot.count as i64))
        });
        costs.fold(0, i64::saturating_add)
    }

    /// The part with which a list comes to the least, of those on a line that pass and are not the
    /// one chosen; with the price of one and what the list then comes to.
    fn runner_up(
        &mut self,
        settled: &Build,
        open: &OpenLine,
        at: usize,
    ) -> Option<(Arc<Part>, Money, Money)> {
        let line = self.base.lines.get(open.line)?;
        let all = |price: &Money| match line.owned {
            true => 0,
            false => price.minor().saturating_mul(i64::from(line.count)),
        };
        let rest = self.goods(settled) - all(&open.parts.get(at)?.1);
        let mut best: Option<(Arc<Part>, Money, Money)> = None;
        for (_, (part, price)) in open.parts.iter().enumerate().filter(|(nth, _)| *nth != at) {
            if best.as_ref().is_some_and(|(.., held)| rest + all(price) >= held.minor()) {
                break;
            }
            let build = settled.with_part(open.line, part);
            let total = self.resolved(&build).paid().money;
            let better = best.as_ref().is_none_or(|(.., held)| total.minor() < held.minor());
            if better && self.over(&build).is_empty() {
                best = Some((part.clone(), *price, total));
            }
        }
        best
    }

    pub(super) fn choice(&mut self, settled: &Build, open: &OpenLine, at: usize) -> Option<Choice> {
        let line = self.base.lines.get(open.line)?;
        let (part, price) = open.parts.get(at)?.clone();
        let runner_up = self.runner_up(settled, open, at);
        let now = self.resolved(settled).paid().money;
        let difference = runner_up.as_ref().and_then(|(.., then)| then.checked_sub(&now).ok());
        let passed_over = open
            .parts
            .iter()
            .take(at)
            .map(|(other, _)| (other.clone(), self.over(&settled.with_part(open.line, other))))
            .filter(|(_, rules)| !rules.is_empty())
            .collect();
        let cheaper = open.unsold.iter().take_while(|(_, cost)| cost.minor() < price.minor());
        let passes =
            |other: &&Arc<Part>| self.over(&settled.with_part(open.line, other)).is_empty();
        let unsold = cheaper.map(|(other, _)| other).filter(passes).cloned().collect();
        let kind = self.kit.catalogue().kind(line.kind())?;
        Some(Choice {
            line: open.line,
            kind: kind.name.clone(),
            title: kind.title.clone(),
            mount: line.mount.clone(),
            count: line.count,
            part,
            price,
            runner_up: runner_up.map(|(part, price, _)| (part, price)),
            difference,
            passed_over,
            unsold,
        })
    }
}
