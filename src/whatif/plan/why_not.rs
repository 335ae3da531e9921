//! Why a part is not in a plan's answer: which wish or rule keeps it out, or what it would cost.

use std::sync::Arc;

use super::{Plan, PlanAnswer, PlanWish, Planner};
use crate::build::What;
use crate::build::brief::Brief;
use crate::catalogue::Part;
use crate::kit::{Kit, Layers};
use crate::level::Level;
use crate::source::{Problem, Problems};
use crate::whatif::open_lines::unmet_wants;
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::query::{Found, Keep, Quest, SearchLimits};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::Space;

/// Why a part is not in a plan's answer.
#[non_exhaustive]
pub enum WhyNot {
    /// It is.
    InAnswer,
    /// The brief has no open line of its kind.
    NoLine,
    /// It does not meet wants of the open line itself.
    Unmet(Vec<String>),
    /// No seller has it in stock on the pricing day.
    NoSeller,
    /// These cannot be met with it, and whether no smaller set is to blame.
    Refused(Vec<PlanWish>, bool),
    /// The best list with it is worse in this goal by so much, or as good when nothing; whether
    /// that is proven.
    Worse {
        /// Which goal.
        goal: usize,
        /// By how much.
        by: f64,
        /// Whether that is proven.
        proven: bool,
        /// The best list with it.
        with: Box<PlanAnswer>,
        /// What else differs: the part now, the part then.
        swaps: Vec<(Arc<Part>, Arc<Part>)>,
    },
    /// The search was ended before it could be said.
    Unfinished,
}

/// Says why a part is not in the answer to a brief.
pub fn why_not(
    base: &Kit,
    layers: &Layers,
    brief: &Brief,
    part: &str,
    limits: SearchLimits<'_>,
) -> Result<WhyNot, Problems> {
    let Some(part) = base.catalogue().part(part) else {
        let ids = base.catalogue().parts().map(|p| &*p.id);
        return Err(Problem::new(format!("there is no part {part} in the catalogue"))
            .suggest(part, ids)
            .into());
    };
    Planner::new(base, layers, brief, limits)?.why_not(part)
}

impl Planner<'_> {
    fn why_not(&self, part: &Arc<Part>) -> Result<WhyNot, Problems> {
        let lines = &self.brief.build.lines;
        let open = |at: &usize| {
            lines
                .get(*at)
                .is_some_and(|l| l.kind() == part.kind && matches!(l.what, What::Open { .. }))
        };
        let open: Vec<usize> = (0..lines.len()).filter(open).collect();
        let Some(first) = open.first() else { return Ok(WhyNot::NoLine) };
        let stands = |at: &&usize| {
            let place = self.space.places.get(**at);
            place.is_some_and(|p| p.choices.iter().any(|c| c.part.id == part.id))
        };
        if !open.iter().any(|at| stands(&at)) {
            let unmet = unmet_wants(&self.wished.kit, &self.brief.build, *first, part)?;
            return Ok(if unmet.is_empty() { WhyNot::NoSeller } else { WhyNot::Unmet(unmet) });
        }
        if !self.empty.is_empty() {
            return Err(Problems(self.empty.clone()));
        }
        let mut plan = self.nothing_yet();
        let (now, level) = self.solve_best(&mut plan);
        self.wants_answered(&now)?;
        let places: Vec<usize> = open.iter().filter(stands).copied().collect();
        self.with_part(part, &places, &plan, now.found.first(), level)
    }

    /// Why the best answers that hold the part, on each of its lines, are not the answer.
    fn with_part(
        &self,
        part: &Arc<Part>,
        places: &[usize],
        plan: &Plan,
        best: Option<&Found>,
        level: Level,
    ) -> Result<WhyNot, Problems> {
        let mut refused = None;
        let mut worse = None;
        for at in places {
            let choices = self.space.places.iter().enumerate().map(|(place, held)| {
                let all = held.choices.iter().map(|c| c.line.clone());
                all.filter(|l| place != *at || l.part().is_some_and(|p| p.id == part.id)).collect()
            });
            let space =
                Space::new(&self.brief.build, self.wished.kit.catalogue(), choices.collect());
            let quest = Quest { space: &space, memo: None, ..self.quest(level, Keep::Best(1)) };
            let outcome = solve(&quest);
            let Some(found) = outcome.found.first() else {
                if outcome.proven && refused.is_none() {
                    let (rules, smallest) =
                        conflict(&Quest { goals: Vec::new(), ..quest }, &outcome);
                    let wishes = rules.iter().map(|r| self.wish(r)).collect();
                    refused = Some(WhyNot::Refused(wishes, smallest));
                }
                continue;
            };
            let with = self.answer(&space, found);
            let Some(best) = best else { continue };
            let (goal, gain) = self.gain(best, found).unwrap_or((0, 0.0));
            let now = self.answer(&self.space, best);
            if now.parts.iter().any(|(p, ..)| p.id == part.id) {
                return Ok(WhyNot::InAnswer);
            }
            let pairs = now.parts.iter().zip(&with.parts).filter(|(a, b)| a.0.id != b.0.id);
            let swaps = pairs.map(|(a, b)| (a.0.clone(), b.0.clone())).collect();
            let proven = outcome.proven && plan.proven;
            let new = WhyNot::Worse { goal, by: -gain, proven, with: Box::new(with), swaps };
            let better = match &worse {
                Some(WhyNot::Worse { goal: g, by, .. }) => (goal, -gain) < (*g, *by),
                _ => true,
            };
            if better {
                worse = Some(new);
            }
        }
        Ok(worse.or(refused).unwrap_or(WhyNot::Unfinished))
    }
}
