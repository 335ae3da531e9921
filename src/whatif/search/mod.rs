//! Builds with choices: what may stand on each line, and the search for those that pass.

mod abstract_eval;
pub(crate) mod asked;
mod best;
mod bounds;
mod cache;
mod classes;
pub(crate) mod conflict;
mod dominance;
pub(crate) mod floor;
pub(crate) mod memo;
mod needs;
pub(crate) mod query;
mod seen;
mod sift;
pub(crate) mod solve;
pub(crate) mod space;
mod sums;
mod totals;
mod walk;

pub use query::{SearchLimits, SearchProgress};

use crate::kit::{Audit, Kit};
use abstract_eval::Sight;
use cache::Notes;
use space::Space;

/// The rules whose way through an audited build asked something of a line with choices, or that
/// gave no verdict: all others say the same whatever is chosen.
pub(crate) fn affected(kit: &Kit, space: &Space, audit: &Audit) -> Vec<u16> {
    let (host, _) = kit.inside();
    let mut notes = Notes::default();
    let state = notes.start(space);
    let held = host.state.borrow();
    let mut sight = Sight {
        space,
        pool: &held.pool,
        settings: &held.settings,
        state: &state,
        pin: None,
        notes: &mut notes,
    };
    let rests = |sight: &mut Sight<'_>, steps: &[crate::audit::ask::Step]| {
        steps.iter().any(|s| sight.ask_deps(&s.ask) != 0)
    };
    let verdicts = audit.verdicts().filter_map(|(at, verdict)| match verdict {
        None => Some(at),
        Some(verdict) => (rests(&mut sight, &verdict.path)
            || verdict.value.is_some_and(|v| sight.deps(v) != 0))
        .then_some(at),
    });
    verdicts.collect()
}
