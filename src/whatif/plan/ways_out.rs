//! Where no list meets a brief: the least changes of its wants or its budget that make one
//! possible, and by how much each is missed.

use super::{Plan, PlanWish, Planner};
use crate::build::bill::Total;
use crate::build::brief::{Aim, Brief, Written};
use crate::catalogue::value::Val;
use crate::kit::{Kit, Layers};
use crate::level::Level;
use crate::rules::tokens::{Kind, Token, tokens};
use crate::trade::money::{Currency, Money};
use crate::whatif::brief_rules::BUDGET;
use crate::whatif::search::query::{Found, Goal, Keep, Quest, SearchLimits};
use crate::whatif::search::solve::solve;

/// Changes of a brief that make a list possible; each of them is needed for it.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct PlanWayOut {
    /// The wants and the budget that give way.
    pub of: Vec<PlanWish>,
    /// Where one want gives way that compares a figure: the nearest to it that a list reaches.
    pub reach: Option<PlanReach>,
    /// The total of the cheapest list that does it.
    pub total: Total,
    /// By how much that is over the budget, where it is.
    pub over: Option<Money>,
    /// Whether no smaller change is proven to do.
    pub proven: bool,
}

/// The nearest that a list comes to a want.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct PlanReach {
    /// The figure, as the brief writes it: `build.memory.gb`.
    pub figure: String,
    /// Whether the want is for more of it.
    pub more: bool,
    /// The figure's value in that list.
    pub value: f64,
}

/// The two sides of a want that compares a figure of the build with something else.
struct Compares<'a> {
    figure: &'a str,
    more: bool,
}

impl Planner<'_> {
    /// Looks for changes that make a list possible, among what cannot all be met.
    pub(super) fn ways_out(&self, plan: &mut Plan, level: Level, base: &Kit, layers: &Layers) {
        let may: Vec<PlanWish> = plan.conflict.iter().filter(|w| is_asked(w)).cloned().collect();
        for wish in &may {
            if self.limits.over() {
                plan.ways_out_proven = false;
                return;
            }
            let only = std::slice::from_ref(wish);
            let way = self.way_out(plan, level, only, (base, layers));
            plan.ways_out.extend(way);
        }
        if plan.ways_out.is_empty() {
            self.several_ways_out(plan, level, (base, layers));
        }
    }

    /// Where no single change does: all wants and the budget give way, then each comes back that
    /// can.
    fn several_ways_out(&self, plan: &mut Plan, level: Level, kit: (&Kit, &Layers)) {
        let wants = self.brief.wants.iter().map(|want| PlanWish::Want(want.text.clone()));
        let mut of: Vec<PlanWish> = wants.chain([PlanWish::Budget]).collect();
        if self.without(plan, level, &of).is_none() {
            return;
        }
        let mut at = 0;
        while at < of.len() {
            let mut fewer = of.clone();
            fewer.remove(at);
            match self.without(plan, level, &fewer) {
                Some(_) => of = fewer,
                None => at += 1,
            }
        }
        let way = self.way_out(plan, level, &of, kit);
        plan.ways_out.extend(way);
    }

    /// What comes of letting some wishes go; none where no list is possible then.
    fn way_out(
        &self,
        plan: &mut Plan,
        level: Level,
        of: &[PlanWish],
        (base, layers): (&Kit, &Layers),
    ) -> Option<PlanWayOut> {
        let (found, mut proven) = self.without(plan, level, of)?;
        let mut total = found.total;
        let mut reach = None;
        let wants = of.iter().filter_map(|w| match w {
            PlanWish::Want(text) => Some(text.as_str()),
            _ => None,
        });
        let wants: Vec<&str> = wants.collect();
        if let [want] = *wants
            && let Some(compares) = compared(want)
            && let Some((nearest, sure)) = self.nearest(level, of, &compares, base, layers)
        {
            let value = nearest.values.first().copied().unwrap_or_default();
            let figure = compares.figure.to_owned();
            reach = Some(PlanReach { figure, more: compares.more, value });
            total = nearest.total;
            proven &= sure;
        }
        let over = self.over_budget(&total);
        Some(PlanWayOut { of: of.to_vec(), reach, total, over, proven })
    }

    /// The cheapest list where some wishes give way, and whether it is proven to be.
    fn without(&self, plan: &mut Plan, level: Level, of: &[PlanWish]) -> Option<(Found, bool)> {
        let kept = self.rules_without(of);
        let goals = vec![Goal::Price];
        let quest = Quest { rules: kept, goals, ..self.quest(level, Keep::Best(1)) };
        let outcome = solve(&quest);
        plan.note(&outcome);
        plan.ways_out_proven &= outcome.proven;
        Some((outcome.found.into_iter().next()?, outcome.proven))
    }

    fn rules_without(&self, of: &[PlanWish]) -> Vec<u16> {
        let goes = |at: &u16| {
            let rules = self.wished.kit.rules();
            rules.rules.get(*at as usize).is_some_and(|rule| {
                let asked = self.wished.wants.contains(at) || &*rule.id == BUDGET;
                asked && of.contains(&self.wish(&rule.id))
            })
        };
        self.rules().into_iter().filter(|at| !goes(at)).collect()
    }

    /// The list that comes nearest to a want, where it and the other wishes give way: the want's
    /// figure becomes the first aim.
    fn nearest(
        &self,
        level: Level,
        of: &[PlanWish],
        compares: &Compares<'_>,
        base: &Kit,
        layers: &Layers,
    ) -> Option<(Found, bool)> {
        let gone = |want: &Written| of.contains(&PlanWish::Want(want.text.clone()));
        let span = self.brief.wants.iter().find(|want| gone(want))?.span;
        let mut brief: Brief = self.brief.clone();
        brief.wants.retain(|want| !gone(want));
        let what = Written { text: compares.figure.to_owned(), span };
        brief.aims = vec![Aim { most: compares.more, what }];
        let limits: SearchLimits<'_> = self.limits;
        let planner = Planner::new(base, layers, &brief, limits).ok()?;
        let rules = planner.rules_without(of);
        let outcome = solve(&Quest { rules, ..planner.quest(level, Keep::Best(1)) });
        Some((outcome.found.into_iter().next()?, outcome.proven))
    }

    fn over_budget(&self, total: &Total) -> Option<Money> {
        let build = &self.brief.build;
        let budget = build.field("budget").and_then(Val::as_num)?;
        let currency = Currency::from_code(&build.currency)?;
        let budget = (budget * 10f64.powi(self.space.digits)).round() as i64;
        let over = total.minor().saturating_sub(budget);
        (over > 0).then(|| Money::from_minor(over, currency))
    }
}

/// Whether a brief asks for it, so that it can give way.
fn is_asked(wish: &PlanWish) -> bool {
    matches!(wish, PlanWish::Want(_) | PlanWish::Budget)
}

/// What a want compares, where it is one comparison and nothing else, with a figure of the build on
/// one side only.
fn compared(want: &str) -> Option<Compares<'_>> {
    let tokens = tokens(want);
    let mut depth = 0usize;
    let mut found: Option<&Token<'_>> = None;
    for token in tokens.iter().filter(|token| token.kind == Kind::Sign) {
        match token.text {
            "(" | "[" | "{" | "#{" | "?[" => depth += 1,
            ")" | "]" | "}" => depth = depth.saturating_sub(1),
            "<" | ">" | "<=" | ">=" if depth == 0 && found.is_none() => found = Some(token),
            sign if depth == 0 && sign.contains(['<', '>', '=', '!', '&', '|', '?', ';']) => {
                return None;
            }
            _ => {}
        }
    }
    let sign = found?;
    let more = sign.text.starts_with('>');
    let of_the_build = |left: bool| {
        let side = tokens.iter().filter(|t| (t.span.start() < sign.span.start()) == left);
        side.into_iter().any(|token| token.word("build"))
    };
    let left = want.get(..sign.span.start())?.trim();
    let right = want.get(sign.span.end()..)?.trim();
    match (of_the_build(true), of_the_build(false)) {
        (true, false) => Some(Compares { figure: left, more }),
        (false, true) => Some(Compares { figure: right, more: !more }),
        _ => None,
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/whatif/plan/ways_out.rs"]
mod tests;
