//! Minimal evidence: the facts that prove a finding by themselves, whatever all else is.

use ahash::AHashSet;

use crate::audit::explore::{End, Ends, MAX_QUESTIONS, Released};
use crate::audit::expr::{BuildWord, Expr, ExprId};
use crate::audit::finding::{Finding, Proof, pointers_at};
use crate::audit::proofs::{Claim, Facts, LookedAt};
use crate::audit::verdict::{Draft, Hole, Verdict};
use crate::kit::audit::Audit;
use crate::kit::explored::{Runner, same_finding};

/// Most facts of one finding that are let go one by one.
const MAX_FACTS: usize = 120;
/// Most questions that a report asks for the evidence of one finding, over all its facts.
#[cfg(feature = "app")]
pub(crate) const MOST_ASKED: usize = 2_000;

impl Runner {
    /// The places that prove a finding: with them as they are, the rule raises it whatever the
    /// others are; and none of them can be spared. None where that takes more questions than
    /// `most` to find.
    fn evidence(&self, rule: u16, draft: &Draft, verdict: &Verdict, most: usize) -> Facts {
        let places = self.places(draft, verdict);
        if places.len() > MAX_FACTS {
            return None;
        }
        let claim = Claim { rule, draft, places: &places, most };
        if let Some(known) = self.looking(|held, view| held.proofs.find(&claim, view)).flatten() {
            return known;
        }
        let mut looked_at = LookedAt::default();
        let facts = self.sought(&claim, &mut looked_at);
        self.looking(|held, view| {
            held.proofs.keep(&claim, looked_at.basis(view), facts.clone());
        });
        facts
    }

    fn sought(&self, claim: &Claim<'_>, looked_at: &mut LookedAt) -> Facts {
        let Claim { rule, draft, places, most } = *claim;
        // Everything else is let go from the start: other ways read what this one did not.
        let mut kept: AHashSet<ExprId> = places.iter().copied().collect();
        let mut asked = 0;
        // What the whole list comes to is no fact that could be let go by itself.
        for place in places.iter().filter(|place| !self.is_total(**place)) {
            // Nobody looked at it while the finding held: without it nothing is otherwise.
            if !kept.remove(place) {
                continue;
            }
            let released = Released { all_but: Some(kept.clone()), ..Released::default() };
            let left = most.saturating_sub(asked).min(MAX_QUESTIONS);
            let is = |d: &Draft| same_finding(d, draft) && texts(d).eq(texts(draft));
            let (holds, ends) = self.holds_without(rule, is, &released, left);
            looked_at.add(&ends);
            if holds {
                kept.retain(|p| ends.looked_at.contains_key(p) || self.is_total(*p));
            } else {
                kept.insert(*place);
            }
            asked += ends.asked;
            if asked >= most {
                return None;
            }
        }
        Some(places.iter().copied().filter(|place| kept.contains(place)).collect())
    }

    fn is_total(&self, place: ExprId) -> bool {
        let state = self.host.state.borrow();
        let expr = state.pool.get(place);
        matches!(expr, Expr::Build(BuildWord::Total | BuildWord::Unpriced))
    }

    /// Whether a rule raises such a finding in every way that is left with places let go, and
    /// the ways that were looked at to know it, with `most` questions.
    pub(super) fn holds_without(
        &self,
        rule: u16,
        is: impl Fn(&Draft) -> bool,
        released: &Released,
        most: usize,
    ) -> (bool, Ends) {
        let mut all = true;
        let mut any = false;
        let ends = self.explore_within(most, rule, false, released.clone(), &mut |end: &End| {
            let here = end.verdict.as_ref().is_some_and(|v| v.drafts.iter().any(&is));
            any |= here;
            all &= here;
            here
        });
        (all && any && ends.waits.is_empty() && !ends.cut_short, ends)
    }

    /// The known places that a finding was reached by: fields of parts first, then what the list
    /// itself says; what was read last comes first.
    fn places(&self, draft: &Draft, verdict: &Verdict) -> Vec<ExprId> {
        let state = self.host.state.borrow();
        let Some(build) = &state.build else { return Vec::new() };
        let asked = verdict.path.get(..draft.asked).unwrap_or(&verdict.path);
        let mut found: Vec<ExprId> = Vec::new();
        let mut stack = Vec::new();
        for step in asked.iter().rev() {
            stack.extend(step.ask.exprs());
            while let Some(id) = stack.pop() {
                match state.pool.get(id) {
                    Expr::Sum(name) => {
                        for (kind, field) in build.catalogue.kinds_with(name) {
                            for nth in (0u16..).take(build.slots(*kind).len()) {
                                stack.extend(state.pool.find(&Expr::Field(*kind, nth, *field)));
                            }
                        }
                    }
                    Expr::Field(..)
                    | Expr::Sub(..)
                    | Expr::Line(..)
                    | Expr::Derived(_)
                    | Expr::Build(_)
                        if !found.contains(&id) =>
                    {
                        found.push(id);
                    }
                    expr => stack.extend(expr.operands()),
                }
            }
        }
        let of_parts = |id: &ExprId| {
            !matches!(state.pool.get(*id), Expr::Field(..) | Expr::Sub(..) | Expr::Derived(_))
        };
        found.sort_by_key(of_parts);
        found
    }
}

/// The texts of a finding that its script wrote: of which kind there are too many, say.
fn texts(draft: &Draft) -> impl Iterator<Item = &Hole> {
    draft.message.holes.iter().map(|(_, hole)| hole).filter(|hole| matches!(hole, Hole::Text(_)))
}

impl Audit {
    /// Every finding in the order of [`Self::findings`], each pointing at the fewest facts that
    /// prove it. It looks into each finding anew, so it takes longer than the findings alone.
    pub fn proven(&self) -> Vec<Finding> {
        self.proven_within(usize::MAX)
    }

    /// The same, with at most so many questions for one finding.
    #[doc(hidden)]
    pub fn proven_within(&self, most: usize) -> Vec<Finding> {
        let mut findings = self.findings();
        self.prove(findings.iter_mut(), most);
        findings
    }

    /// Findings of this audit, each made to point at the fewest facts that prove it; one whose
    /// facts take more than `most` questions to find goes on pointing at what decided it.
    pub(crate) fn prove<'f>(&self, findings: impl Iterator<Item = &'f mut Finding>, most: usize) {
        self.runner.look_at(&self.build);
        for finding in findings {
            let Some((rule, draft, verdict)) = self.raised(finding) else { continue };
            let facts = self.runner.evidence(rule, &draft, &verdict, most);
            let Some(facts) = facts.filter(|facts| !facts.is_empty()) else { continue };
            let proof = Proof { draft: &draft, verdict: &verdict, facts: &facts };
            finding.pointers =
                self.with_view(|view, _| pointers_at(view, &proof, &finding.pointers));
        }
    }
}
