//! Causes: the fewest lines which, with other parts on them, clear every stop.

use std::rc::Rc;

use crate::audit::explore::{MAX_QUESTIONS, Released};
use crate::audit::finding::{Finding, Settled};
use crate::audit::proofs::{LookedAt, Places};
use crate::audit::verdict::Draft;
use crate::catalogue::kinds::KindId;
use crate::kit::audit::Audit;
use crate::kit::explored::same_finding;
use crate::level::Level;

/// Most stops over which the fewest lines are found by trying every set of lines.
const MAX_EXACT: usize = 20;
/// Most lines in a set that is tried.
const MAX_SET: usize = 5;

/// A line whose change clears findings.
#[derive(Debug, Clone)]
pub struct Blame {
    /// The line, by its place in the list.
    pub line: usize,
    /// The findings that another part there can clear, by their place among those given.
    pub clears: Vec<usize>,
}

/// Which lines are at fault for the stops of an audit.
#[derive(Debug, Clone, Default)]
pub struct Blames {
    /// The fewest lines, the one that clears most first; each stop stands under the first that
    /// clears it.
    pub lines: Vec<Blame>,
    /// Stops that no single line's change clears.
    pub rest: Vec<usize>,
    /// Whether no set of fewer lines does it.
    pub proven: bool,
}

impl Audit {
    /// Which lines are at fault for the stops among `findings`.
    pub fn blames(&self, findings: &[Finding]) -> Blames {
        let stops: Vec<usize> = findings
            .iter()
            .enumerate()
            .filter(|(_, f)| {
                f.level == Level::Stop && f.waived.is_none() && f.settled == Settled::Certain
            })
            .map(|(at, _)| at)
            .collect();
        self.runner.look_at(&self.build);
        let lines = self.parts_by_line();
        let places: Places = lines.iter().map(|(_, slots)| slots.clone()).collect();
        let mut clears: Vec<(usize, Vec<usize>)> =
            lines.iter().map(|(line, _)| (*line, Vec::new())).collect();
        for stop in &stops {
            let Some((rule, draft, _)) = findings.get(*stop).and_then(|f| self.raised(f)) else {
                continue;
            };
            let cleared = self.clearing(rule, &draft, &places);
            for ((_, stops), _) in clears.iter_mut().zip(&*cleared).filter(|(_, clears)| **clears) {
                stops.push(*stop);
            }
        }
        clears.retain(|(_, cleared)| !cleared.is_empty());
        let (clearable, rest): (Vec<usize>, Vec<usize>) =
            stops.iter().partition(|stop| clears.iter().any(|(_, c)| c.contains(stop)));
        let (chosen, proven) = fewest(&clears, &clearable);
        Blames { lines: shared_out(chosen, &clearable), rest, proven }
    }

    /// For each line whether another part there can clear a finding.
    fn clearing(&self, rule: u16, draft: &Draft, lines: &Places) -> Rc<[bool]> {
        let is = |d: &Draft| same_finding(d, draft);
        let known = self.runner.looking(|held, view| held.clearings.find(rule, is, lines, view));
        if let Some(known) = known.flatten() {
            return known;
        }
        let (holds, ends) =
            self.runner.holds_without(rule, is, &Released::default(), MAX_QUESTIONS);
        let mut looked_at = LookedAt::of(&ends);
        let clears = lines.iter().map(|slots| {
            let released = Released { lines: slots.clone(), ..Released::default() };
            // A line that the rule does not look at changes nothing.
            let looks = self
                .with_view(|view, _| ends.looked_at.keys().any(|id| released.lets_go(view, *id)));
            if !looks {
                return !holds;
            }
            let (holds, ends) = self.runner.holds_without(rule, is, &released, MAX_QUESTIONS);
            looked_at.add(&ends);
            !holds
        });
        let clears: Rc<[bool]> = clears.collect();
        self.runner.looking(|held, view| {
            let basis = looked_at.basis(view);
            held.clearings.keep(rule, draft.clone(), lines.clone(), basis, clears.clone());
        });
        clears
    }

    /// The lines of the list with the places that their parts take, those from their packaging
    /// included.
    fn parts_by_line(&self) -> Vec<(usize, Vec<(KindId, u16)>)> {
        let mut lines: Vec<(usize, Vec<(KindId, u16)>)> = Vec::new();
        for (kind, nth, slot) in self.build.all().filter(|(.., s)| s.part.is_some()) {
            match lines.iter_mut().find(|(line, _)| *line == slot.line) {
                Some((_, slots)) => slots.push((kind, nth)),
                None => lines.push((slot.line, vec![(kind, nth)])),
            }
        }
        lines.sort_by_key(|(line, _)| *line);
        lines
    }
}

/// The fewest lines that clear all of them, ties to those that clear most, and whether that is
/// proven.
fn fewest(clears: &[(usize, Vec<usize>)], stops: &[usize]) -> (Vec<(usize, Vec<usize>)>, bool) {
    if stops.len() <= MAX_EXACT {
        for size in 1..=MAX_SET.min(clears.len()) {
            let mut best: Option<(usize, Vec<usize>)> = None;
            each_set(clears.len(), size, &mut |set| {
                let all = stops.iter().all(|stop| {
                    set.iter().any(|at| clears.get(*at).is_some_and(|(_, c)| c.contains(stop)))
                });
                let weight =
                    set.iter().filter_map(|at| clears.get(*at)).map(|(_, c)| c.len()).sum();
                if all && best.as_ref().is_none_or(|(w, _)| *w < weight) {
                    best = Some((weight, set.to_vec()));
                }
            });
            if let Some((_, set)) = best {
                return (set.into_iter().filter_map(|at| clears.get(at).cloned()).collect(), true);
            }
        }
    }
    let mut left = stops.to_vec();
    let mut chosen = Vec::new();
    while !left.is_empty() {
        let count = |c: &[usize]| c.iter().filter(|s| left.contains(s)).count();
        let Some(best) = clears.iter().max_by_key(|(line, c)| (count(c), usize::MAX - line)) else {
            break;
        };
        if count(&best.1) == 0 {
            break;
        }
        left.retain(|stop| !best.1.contains(stop));
        chosen.push(best.clone());
    }
    (chosen, stops.is_empty())
}

/// Calls with every set of so many of the first `count` numbers.
fn each_set(count: usize, size: usize, call: &mut dyn FnMut(&[usize])) {
    let mut set: Vec<usize> = (0..size).collect();
    loop {
        call(&set);
        let Some(at) =
            (0..size).rev().find(|at| set.get(*at).is_some_and(|n| n + size < count + at))
        else {
            return;
        };
        let from = set.get(at).copied().unwrap_or(0) + 1;
        for (slot, n) in set.iter_mut().skip(at).zip(from..) {
            *slot = n;
        }
    }
}

/// The lines, the one that clears most first, each stop under the first that clears it.
fn shared_out(mut chosen: Vec<(usize, Vec<usize>)>, stops: &[usize]) -> Vec<Blame> {
    let mut left = stops.to_vec();
    let mut blames = Vec::new();
    while !chosen.is_empty() {
        let count = |c: &[usize]| c.iter().filter(|s| left.contains(s)).count();
        let best = chosen
            .iter()
            .enumerate()
            .max_by_key(|(_, (line, c))| (count(c), usize::MAX - line))
            .map_or(0, |(at, _)| at);
        let (line, clears) = chosen.remove(best);
        let clears: Vec<usize> = clears.into_iter().filter(|s| left.contains(s)).collect();
        left.retain(|stop| !clears.contains(stop));
        if !clears.is_empty() {
            blames.push(Blame { line, clears });
        }
    }
    blames
}

#[cfg(test)]
#[path = "../../tests/unit/kit/cause.rs"]
mod tests;
