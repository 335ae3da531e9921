//! What each wish of a brief and each policy of the shop costs: one is let go at a time. What a
//! rule of the pack stops does not work, so that is not for sale.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::{Plan, PlanWish, Planner};
use crate::catalogue::Part;
use crate::level::Level;
use crate::whatif::brief_rules::BUDGET;
use crate::whatif::search::query::{Found, Keep, Outcome, Quest};
use crate::whatif::search::solve::solve;

/// What a wish or a policy costs.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct PlanCost {
    /// What is let go; for a caution of the best that is to be gone, what is insisted on.
    pub of: PlanWish,
    /// Which goal moves, and by how much; none where no list at all is without this caution.
    pub gain: Option<(usize, f64)>,
    /// Whether that is proven; else it is this much at least, or not known.
    pub proven: bool,
    /// Parts that would stand there instead: the part now, the part then.
    pub swaps: Vec<(Arc<Part>, Arc<Part>)>,
}

impl Planner<'_> {
    /// Looks for the costs until the time is over.
    pub(super) fn costs(&self, plan: &mut Plan, level: Level, best: &Found, outcome: &Outcome) {
        if plan.cautioned {
            self.cautions(plan, best);
        }
        for (of, quest) in self.relaxed(level, outcome) {
            if self.limits.over() || !plan.proven {
                plan.costs_proven = false;
                break;
            }
            let known = std::slice::from_ref(best);
            let without = solve(&Quest { known, ..quest });
            plan.note(&without);
            plan.costs_proven &= without.proven;
            let Some(other) = without.found.first() else { continue };
            let Some((goal, gain)) = self.gain(best, other).filter(|(_, gain)| *gain > 0.0) else {
                continue;
            };
            let (gain, swaps) = (Some((goal, gain)), self.swaps(best, other));
            plan.costs.push(PlanCost { of, gain, proven: without.proven, swaps });
        }
        let key = |c: &PlanCost| c.gain.unwrap_or_default();
        plan.costs.sort_by(|a, b| key(a).0.cmp(&key(b).0).then(key(b).1.total_cmp(&key(a).1)));
    }

    /// What can be let go, each with the search that does without.
    fn relaxed(&self, level: Level, outcome: &Outcome) -> Vec<(PlanWish, Quest<'_>)> {
        let rules = self.wished.kit.rules();
        let mut ids: Vec<u16> = self.wished.wants.clone();
        ids.extend(rules.find(BUDGET));
        let mut blamed: Vec<(&String, &u64)> = outcome.stopped_by.iter().collect();
        blamed.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        ids.extend(blamed.iter().filter_map(|(rule, _)| rules.find(rule)));
        let mut seen = BTreeSet::new();
        ids.retain(|id| seen.insert(*id));
        let mut relaxed = Vec::new();
        for id in ids {
            let Some(rule) =
                rules.rules.get(id as usize).filter(|r| outcome.stopped_by.contains_key(&*r.id))
            else {
                continue;
            };
            let quest = self.quest(level, Keep::Best(1));
            let wish = self.wish(&rule.id);
            let shops_own = rule.layer != self.lowest || rule.counts_as.is_some();
            if shops_own {
                let kept = self.rules().into_iter().filter(|r| *r != id).collect();
                relaxed.push((wish, Quest { rules: kept, ..quest }));
            } else if level == Level::Caution && rule.levels().contains(&Level::Caution) {
                // That cautions are refused is the shop's choice; that a stop is one is not.
                let wish = PlanWish::NoCaution(rule.id.to_string());
                relaxed.push((wish, Quest { levels: vec![(id, Level::Stop)], ..quest }));
            }
        }
        relaxed
    }

    /// What it costs to be rid of each caution of the best.
    fn cautions(&self, plan: &mut Plan, best: &Found) {
        let rules = self.wished.kit.rules();
        let remains = plan.best.first().map(|b| b.remains.clone()).unwrap_or_default();
        let mut seen = BTreeSet::new();
        for found in remains.iter().filter(|f| f.level == Level::Caution) {
            let Some(id) = rules.find(&found.rule).filter(|id| seen.insert(*id)) else { continue };
            let mut quest = self.quest(Level::Stop, Keep::Best(1));
            quest.levels.push((id, Level::Caution));
            let without = solve(&quest);
            plan.note(&without);
            let other = without.found.first();
            plan.cautions.push(PlanCost {
                of: PlanWish::NoCaution(found.rule.to_string()),
                gain: other.map(|o| self.gain(best, o).unwrap_or((0, 0.0))),
                proven: without.proven,
                swaps: other.map(|o| self.swaps(best, o)).unwrap_or_default(),
            });
        }
    }

    pub(super) fn swaps(&self, now: &Found, then: &Found) -> Vec<(Arc<Part>, Arc<Part>)> {
        let picks = self.space.places.iter().zip(now.picks.iter().zip(&then.picks));
        let pairs = picks.filter_map(|(place, (a, b))| {
            let part = |at: &u32| place.choices.get(*at as usize).map(|c| c.part.clone());
            Some((part(a)?, part(b)?))
        });
        pairs.filter(|(a, b)| a.id != b.id).collect()
    }
}
