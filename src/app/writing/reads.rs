//! What rules read, by name, out of what was traced.

use std::collections::BTreeSet;

use crate::audit::ask::Ask;
use crate::audit::place::{kind_name, spots};
use crate::cases::expectations::bare;
use crate::kit::{Audit, Outcome};

/// The places that a rule or measure looked at in an audit: `supply.rated_w`, `setting
/// power.headroom`, a kind's name for its lines.
pub(crate) fn reads(audit: &Audit, id: &str) -> BTreeSet<String> {
    let mut places = BTreeSet::new();
    let Some(verdict) = audit
        .outcomes()
        .find(|(r, _)| *r.id == *id)
        .and_then(|(_, o)| if let Outcome::Known(v) = o { Some(v) } else { None })
    else {
        return places;
    };
    audit.with_view(|view, _| {
        let mut found = Vec::new();
        for step in verdict.path.iter() {
            match &step.ask {
                Ask::Has(kind, _) | Ask::Chosen(kind, _) | Ask::Lines(kind) => {
                    places.insert(kind_name(view, *kind).to_owned());
                }
                ask => ask.exprs().for_each(|e| spots(view, e, &mut found)),
            }
        }
        verdict.value.into_iter().for_each(|e| spots(view, e, &mut found));
        places.extend(found.into_iter().map(|spot| bare(&spot.place)).filter(|p| !p.is_empty()));
    });
    // `supply` says no more than `supply.rated_w` does.
    let covered: Vec<String> = places
        .iter()
        .filter(|p| {
            places
                .iter()
                .any(|q| q.strip_prefix(p.as_str()).is_some_and(|rest| rest.starts_with('.')))
        })
        .cloned()
        .collect();
    places.retain(|p| !covered.contains(p));
    places
}
