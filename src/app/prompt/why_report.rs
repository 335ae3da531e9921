//! What the prompt shows for `why`.

use serde_json::{Value, json};

use crate::app::report::page::Page;
use crate::app::report::why_json;
use crate::audit::finding::{Finding, MAX_POINTERS};
use crate::whatif::why::{MOST_SHOWN, Question, Said, Why};

/// Most questions shown unless all are asked for.
const MOST_STEPS: usize = 24;
/// Most findings whose proof is shown.
pub(super) const MOST_PROVED: usize = 3;
/// Most parts of a line shown when all are asked for.
const MOST_PARTS: usize = 40;

/// Writes why a rule says what it says.
pub(super) fn why(page: &mut Page, proofs: &[Finding], why: &Why, currency: &str, all: bool) {
    let document = why_json::why(why);
    page.fill("why_said.txt", currency, json!({ "why": document }));
    if let Said::Broken(problem) = &why.said {
        page.problem(problem);
    }
    let (from, to) = if all { (0, why.steps.len()) } else { shown(&why.steps) };
    let about = json!({
        "why": document,
        "proofs": proofs.iter().filter_map(proof).collect::<Vec<_>>(),
        "several": proofs.len() > 1,
        "from": from,
        "to": to,
        "most": if all { MOST_PARTS } else { MOST_SHOWN },
    });
    page.fill("why.txt", currency, about);
}

/// The facts that prove a finding; none where they are too many to name.
fn proof(finding: &Finding) -> Option<Value> {
    let facts = finding.pointers.iter().map(|p| format!("{} is {}", p.place, p.value));
    let facts: Vec<String> = facts.collect();
    let few = (1..MAX_POINTERS).contains(&facts.len());
    few.then(|| json!({ "message": finding.message, "facts": facts }))
}

/// The questions that are shown: what was decided on is kept, and what led there, as the last
/// questions count most.
fn shown(steps: &[Question]) -> (usize, usize) {
    if steps.len() <= MOST_STEPS {
        return (0, steps.len());
    }
    let deciding = steps.iter().position(|s| s.decides).unwrap_or(steps.len() - 1);
    let from = (steps.len() - MOST_STEPS).min(deciding.saturating_sub(4));
    (from, steps.len().min(from + MOST_STEPS))
}
