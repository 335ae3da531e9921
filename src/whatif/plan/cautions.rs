//! Cautions that a plan may have and is better off without: to be rid of one is worth a little.

use super::{ANSWERS, Plan, Planner};
use crate::level::Level;
use crate::whatif::search::query::{Found, Goal, Keep, Outcome};
use crate::whatif::search::solve::solve;

/// The setting that says which share of the total is paid to be rid of a caution.
pub(crate) const CAUTION_WORTH: (&str, &str) = ("plan", "caution_worth");
/// The same where no layer has the setting.
const WORTH: f64 = 0.01;
/// The same of a brief that tolerates no cautions, where no list is without any.
pub(crate) const REFUSED_WORTH: (&str, &str) = ("plan", "refused_caution_worth");
/// The same where no layer has the setting.
const MUCH_WORTH: f64 = 0.1;

impl Planner<'_> {
    /// What was found, without the cautions that cost little to be rid of: a list that is as good
    /// in every aim but the price, has fewer cautions, and costs little more.
    pub(super) fn sparing(&self, plan: &mut Plan, outcome: Outcome, level: Level) -> Outcome {
        let Some(first) = outcome.found.first().filter(|_| outcome.proven) else { return outcome };
        if level < Level::Stop {
            return outcome;
        }
        let first = first.clone();
        let mut now = first.clone();
        let mut cautions = self.cautioned_by(&now);
        let mut all = cautions.clone();
        while let Some(rule) = all.pop() {
            if self.limits.over() {
                break;
            }
            self.spared.borrow_mut().push(rule);
            let without = solve(&self.quest(level, Keep::Best(1)));
            plan.note(&without);
            let other = without.found.into_iter().next();
            let other = other.filter(|other| without.proven && self.is_little(&first, other));
            let better = other.map(|other| (self.cautioned_by(&other), other));
            match better.filter(|(left, _)| left.len() < cautions.len()) {
                Some((left, other)) => {
                    all.retain(|rule| left.contains(rule));
                    (cautions, now) = (left, other);
                }
                None => drop(self.spared.borrow_mut().pop()),
            }
        }
        self.spared.borrow_mut().reverse();
        if self.spared.borrow().is_empty() {
            return outcome;
        }
        let mut sparing = solve(&self.quest(level, Keep::Best(ANSWERS)));
        plan.note(&sparing);
        sparing.broken.extend(outcome.broken);
        let rules = self.wished.kit.rules();
        let spared = self.spared.borrow();
        let names = spared.iter().filter_map(|at| rules.rules.get(*at as usize));
        plan.spared = names.map(|rule| rule.id.to_string()).collect();
        plan.spared_for = now.total.over(&first.total);
        sparing
    }

    /// The rules that caution of a list, in order.
    fn cautioned_by(&self, found: &Found) -> Vec<u16> {
        let audit = self.wished.kit.audit(&self.space.build(&found.picks));
        let tally = audit.tally().into_keys();
        tally.filter(|(_, level)| *level == Level::Caution).map(|(rule, _)| rule).collect()
    }

    /// Whether a list is as good as another in all but the price, and costs little more.
    fn is_little(&self, first: &Found, other: &Found) -> bool {
        let goals = self.wished.goals.iter().map(|(goal, _)| goal);
        let mut values = goals.zip(first.values.iter().zip(&other.values));
        let ((file, name), usual) = match self.level() {
            Level::Caution => (REFUSED_WORTH, MUCH_WORTH),
            _ => (CAUTION_WORTH, WORTH),
        };
        let share = self.wished.kit.settings().number(file, name).unwrap_or(usual);
        let (cheapest, total) = (first.total.minor() as f64, other.total.minor() as f64);
        values.all(|(goal, (a, b))| *goal == Goal::Price || a == b)
            && total - cheapest <= (cheapest * share).max(0.0)
    }
}
