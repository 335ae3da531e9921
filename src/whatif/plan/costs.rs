//! What each wish of a brief and each policy of the shop costs: one is let go at a time. What a
//! rule of the pack stops does not work, so that is not for sale.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::{Plan, PlanWish, Planner};
use crate::build::Line;
use crate::catalogue::Part;
use crate::level::Level;
use crate::trade::money::Money;
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
    /// Of a caution of the best: the cheapest part whose adding is rid of it, if one is.
    pub adds: Option<PlanAdd>,
}

/// A part that is added to a plan.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct PlanAdd {
    /// The part.
    pub part: Arc<Part>,
    /// Where it is fitted.
    pub mount: Option<Arc<str>>,
    /// Which way it blows.
    pub flow: Option<Arc<str>>,
    /// What the list costs more.
    pub more: Money,
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
            plan.costs.push(PlanCost { of, gain, proven: without.proven, swaps, adds: None });
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
                adds: self.added(best, id),
            });
        }
    }

    /// The cheapest part whose adding clears the cautions of a rule and raises none: of the kinds
    /// that the rule names, of which a list may have several.
    fn added(&self, best: &Found, rule: u16) -> Option<PlanAdd> {
        let kit = &self.wished.kit;
        let (catalogue, build) = (kit.catalogue(), self.space.build(&best.picks));
        let rules = kit.rules();
        let names = rules.rules.get(rule as usize)?;
        let before = kit.audit(&build).tally();
        let market = catalogue.market(&build.currency, build.priced_on);
        let sold = |part: &Arc<Part>| {
            let facts = market.known(catalogue, part);
            facts.is_some_and(|f| f.sellers > 0.0 && f.price.is_some())
        };
        let kinds = catalogue.kinds.iter().filter(|kind| !kind.single && names.names(&kind.name));
        let kinds = kinds.filter_map(|kind| catalogue.kind_called(&kind.name));
        let parts = kinds.flat_map(|kind| catalogue.parts_of(kind)).filter(|part| sold(part));
        let mut cheapest: Option<PlanAdd> = None;
        for part in parts {
            for line in self.fitted(part) {
                if self.limits.over() {
                    return cheapest;
                }
                let mut with = build.clone();
                with.lines.push(line.clone());
                let audit = kit.audit(&with);
                let after = audit.tally();
                let raised = |(of, n): (&(u16, Level), &usize)| {
                    of.1 >= Level::Caution && before.get(of).is_none_or(|held| n > held)
                };
                if after.contains_key(&(rule, Level::Caution)) || after.iter().any(raised) {
                    continue;
                }
                let Some(more) = audit.build().paid().over(&best.total) else { continue };
                if cheapest.as_ref().is_none_or(|held| more.minor() < held.more.minor()) {
                    let (part, mount, flow) = (part.clone(), line.mount, line.flow);
                    cheapest = Some(PlanAdd { part, mount, flow, more });
                }
            }
        }
        cheapest
    }

    /// A line with a part, in each place that it may have, blowing as is usual there.
    fn fitted(&self, part: &Arc<Part>) -> Vec<Line> {
        let (catalogue, line) = (self.wished.kit.catalogue(), Line::of(part.clone(), 1));
        let mounts = catalogue.table_named("mount").map(|t| t.rows.clone()).unwrap_or_default();
        let places = mounts.into_iter().filter_map(|mount| {
            let flow = Some(catalogue.usual_flow(part.kind, &mount)?.clone());
            Some(Line { mount: Some(mount), flow, ..line.clone() })
        });
        let places: Vec<Line> = places.collect();
        if places.is_empty() { vec![line] } else { places }
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
