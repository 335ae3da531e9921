//! The open lines of a list that is mended: what stands on them, and what may.

use std::collections::HashSet;
use std::sync::Arc;

use crate::build::{Build, Line, What};
use crate::kit::Kit;
use crate::whatif::open_lines::{as_judged, candidates};

/// Whether a line has a part.
pub(super) fn closed(line: &Line) -> bool {
    line.part().is_some()
}

/// By line, the ids of the parts that meet the wants of one that is open.
pub(super) type Wished = Vec<Option<HashSet<Arc<str>>>>;

/// A build with a part on each open line, what an audit judges it with or else the cheapest that
/// meets its wants.
pub(super) fn filled(kit: &Kit, build: &Build) -> (Build, Wished) {
    let mut filled = as_judged(kit, build).into_owned();
    let mut wished = vec![None; build.lines.len()];
    for (at, line) in build.lines.iter().enumerate() {
        let What::Open { kind, wants } = &line.what else { continue };
        let Ok(found) = candidates(kit, build, at, *kind, wants) else { continue };
        let Some((first, _)) = found.sold.first() else { continue };
        if filled.lines.get(at).is_some_and(|line| !closed(line)) {
            filled = filled.with_part(at, first);
        }
        if let Some(slot) = wished.get_mut(at) {
            *slot = Some(found.sold.iter().map(|(part, _)| part.id.clone()).collect());
        }
    }
    (filled, wished)
}
