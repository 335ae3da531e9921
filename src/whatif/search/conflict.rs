//! Where nothing passes: a smallest set of rules that cannot all be met.
//!
//! Every build violates some rules; a set that no build meets holds at least one of those of each
//! build. So the smallest set that meets every violation seen so far is looked for, and held
//! against all builds: either none meets it, and then it is the answer, or one does, and its
//! violations are the next to be met. Rules that stopped most are tried by themselves first, as one
//! rule is mostly all there is to blame.

use super::query::{Keep, Outcome, Quest};
use super::solve::solve;

/// Most rounds before the set is taken as it is.
const MOST_ROUNDS: usize = 400;

/// A smallest set of rules that no build of the quest meets, by id, and whether it is proven to be
/// smallest.
pub(crate) fn conflict(quest: &Quest<'_>, outcome: &Outcome) -> (Vec<String>, bool) {
    let rules = quest.kit.rules();
    // Any rule may be to blame: one that stopped everything by itself can hide another that would
    // have as well.
    let may = |at: &u16| {
        rules
            .rules
            .get(*at as usize)
            .is_some_and(|r| r.unit.is_none() && !outcome.left_out.contains(&*r.id))
    };
    let suspects: Vec<u16> = quest.rules.iter().copied().filter(may).collect();
    let names = |set: &[u16]| {
        set.iter()
            .filter_map(|at| rules.rules.get(*at as usize))
            .map(|r| r.id.to_string())
            .collect::<Vec<_>>()
    };
    let mut violations: Vec<Vec<u16>> = Vec::new();
    let mut alone = suspects.clone();
    let blame =
        |at: &u16| rules.rules.get(*at as usize).and_then(|r| outcome.stopped_by.get(&*r.id));
    alone.retain(|at| blame(at).is_some());
    alone.sort_by(|a, b| blame(b).cmp(&blame(a)).then(a.cmp(b)));
    let singles = alone.into_iter().map(|rule| vec![rule]);
    let mut tries = singles.map(Some).chain((0..MOST_ROUNDS).map(|_| None));
    while !quest.limits.over()
        && let Some(set) = tries.next()
    {
        let by_itself = set.is_some();
        let set = set.unwrap_or_else(|| smallest(&violations, &suspects));
        if by_itself && violations.iter().any(|v| !v.contains(set.first().unwrap_or(&0))) {
            // A build that was seen meets this rule.
            continue;
        }
        let found = solve(&of_rules(quest, set.clone()));
        let Some(build) = found.found.first() else {
            match found.proven {
                true => return (names(&set), true),
                false => break,
            }
        };
        let audit = quest.kit.audit_with(&quest.space.resolved(&build.picks), &suspects);
        let violated = quest.stopped_by(&audit);
        if violated.is_empty() || set.iter().any(|s| violated.contains(s)) {
            break;
        }
        violations.push(violated);
    }
    thinned(quest, &suspects, &names)
}

/// The same quest of some rules only, for any build that meets them.
fn of_rules<'a>(quest: &Quest<'a>, rules: Vec<u16>) -> Quest<'a> {
    let levels = quest.levels.clone();
    Quest { rules, levels, goals: Vec::new(), keep: Keep::Best(1), ..*quest }
}

/// Takes out what can be spared, one rule after the other: a set of which none can be spared, if
/// not the smallest.
fn thinned(
    quest: &Quest<'_>,
    suspects: &[u16],
    names: &dyn Fn(&[u16]) -> Vec<String>,
) -> (Vec<String>, bool) {
    let mut set = suspects.to_vec();
    for rule in suspects {
        let rest: Vec<u16> = set.iter().copied().filter(|r| r != rule).collect();
        if quest.limits.over() {
            break;
        }
        let found = solve(&of_rules(quest, rest.clone()));
        if found.found.is_empty() && found.proven {
            set = rest;
        }
    }
    (names(&set), false)
}

/// The fewest rules that meet every one of some sets; among as few, the first in order.
fn smallest(sets: &[Vec<u16>], rules: &[u16]) -> Vec<u16> {
    for size in 0..=rules.len() {
        let mut chosen = Vec::new();
        if meet(sets, size, &mut chosen) {
            chosen.sort_unstable();
            return chosen;
        }
    }
    rules.to_vec()
}

/// Whether so many more rules can meet the sets that are not met yet.
fn meet(sets: &[Vec<u16>], left: usize, chosen: &mut Vec<u16>) -> bool {
    let Some(open) =
        sets.iter().filter(|s| !s.iter().any(|r| chosen.contains(r))).min_by_key(|s| s.len())
    else {
        return true;
    };
    if left == 0 {
        return false;
    }
    for rule in open {
        chosen.push(*rule);
        if meet(sets, left - 1, chosen) {
            return true;
        }
        chosen.pop();
    }
    false
}

#[cfg(test)]
#[path = "../../../tests/unit/whatif/search/conflict.rs"]
mod tests;
