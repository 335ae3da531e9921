//! What `mend` answers: the ways that no other beats, and which of them a builder would offer.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::changes::{MendChange, WHOLE};
use crate::audit::finding::Brief as Finding;
use crate::build::Build;
use crate::build::bill::Total;
use crate::catalogue::Part;
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::trade::money::Money;

/// The setting that says how much more than the least a way may lose and still be offered, in
/// shares of a figure.
pub(crate) const LITTLE_MORE: (&str, &str) = ("mend", "little_more");
/// The same where no layer has the setting.
const LITTLE: f64 = 0.1;
/// Ways to clear every stop.
#[non_exhaustive]
#[derive(Default)]
pub struct Mend {
    /// Stops that stand now, by rule.
    pub stops: Vec<String>,
    /// Of the ways with the fewest changes those that no other beats in loss and price at once, the
    /// least loss first; beside them one that raises no caution where all of those do, and one of a
    /// change more that loses less than half as much. Those that a builder would offer come first.
    pub ways: Vec<MendWay>,
    /// Whether it is proven that fewer changes do not do, and that none as few lose less, or as
    /// little for less money.
    pub proven: bool,
    /// Where no changes help: a set of rules that cannot all be met.
    pub conflict: Vec<String>,
    /// Whether that set is proven to be smallest.
    pub conflict_smallest: bool,
    /// What these rules find on the list now.
    pub in_the_way: Vec<Finding>,
    /// Where no way was found: the cheapest list of the same lines that only these rules stop.
    pub nearest: Option<MendNearest>,
    /// Parts that no seller has in stock and that would clear the stops where nothing else does.
    pub unsold: Vec<Arc<Part>>,
    /// Rules that broke on every build that was tried first: no build is held to them.
    pub left_out: Vec<String>,
    /// Fewer changes than these are proven not to do.
    pub least: usize,
    /// Lines and kinds that could be changed, where they are more than a search takes: nothing was
    /// looked for then.
    pub too_many: Option<usize>,
}

/// The cheapest list of the same lines that meets all rules but some.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct MendNearest {
    /// Those rules.
    pub without: Vec<String>,
    /// What the list costs.
    pub total: Total,
    /// Whether it is proven that none costs less.
    pub proven: bool,
    /// What those rules find on it.
    pub findings: Vec<Finding>,
}

/// A set of changes that clears every stop.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct MendWay {
    /// What is changed.
    pub changes: Vec<MendChange>,
    /// What is lost, in percent points over all ranks of the kinds.
    pub loss: i64,
    /// Whether it is given because it raises no caution, though another beats it in loss and price.
    pub sparing: bool,
    /// Rules whose cautions the list gets more of, in the order of their ids.
    pub raises: Vec<String>,
    /// Whether a builder would offer it: it loses little more than the way that loses least, raises
    /// less than each of those that do, or is the first that costs no more than the list.
    pub offered: bool,
    /// What the list would cost.
    pub total: Total,
    /// What it would cost more, or less when negative.
    pub more: Money,
    /// The build as an audit judges it, without lines that stay open.
    pub build: Build,
}

impl Mend {
    /// Says of each way what it raises, and whether it is offered; `now` is the audit of the list.
    pub(super) fn offer(&mut self, kit: &Kit, now: &Audit) {
        let before = cautions(now);
        for way in &mut self.ways {
            let more = cautions(&kit.audit(&way.build)).into_iter();
            let more = more.filter(|(rule, n)| before.get(rule).is_none_or(|held| n > held));
            way.raises = more.map(|(rule, _)| rule).collect();
        }
        let share = kit.settings().number(LITTLE_MORE.0, LITTLE_MORE.1).unwrap_or(LITTLE);
        // The first is always offered, and so is what takes more changes to lose less.
        let least = self.ways.first().map_or(0, |way| way.loss);
        let (mut raised, mut saved) = (usize::MAX, false);
        for way in &mut self.ways {
            let little = (way.loss - least) as f64 <= (share * WHOLE as f64).max(0.0);
            // Far more is lost than any caution is worth.
            let fewer = way.raises.len() < raised && way.loss - least < WHOLE;
            // Where the first costs more than the list, one that does not is worth a word.
            let saves = !saved && way.more.minor() <= 0 && way.loss - least < WHOLE / 2;
            way.offered = little || fewer || saves || way.sparing;
            saved |= way.offered && way.more.minor() <= 0;
            raised = raised.min(way.raises.len());
        }
        // The numbers of those that are shown are those of all.
        self.ways.sort_by_key(|way| !way.offered);
    }
}

impl Mend {
    /// Adds a way that raises no caution, in its place.
    pub(super) fn spare(&mut self, way: MendWay) {
        let at = self.ways.partition_point(|w| w.key() <= way.key());
        self.ways.insert(at, MendWay { sparing: true, ..way });
    }
}

/// The cautions of a list by rule, and how many there are of each.
fn cautions(audit: &Audit) -> BTreeMap<String, usize> {
    let mut found = BTreeMap::new();
    for brief in audit.briefs().iter().filter(|b| b.level == Level::Caution && !b.waived) {
        *found.entry(brief.rule.to_string()).or_default() += 1;
    }
    found
}

impl MendWay {
    fn key(&self) -> (usize, i64, i64) {
        (self.changes.len(), self.loss, self.total.minor())
    }

    /// Loss and price as a search counts them.
    pub(super) fn score(&self) -> [f64; 2] {
        [self.loss as f64, self.total.minor() as f64]
    }

    /// Whether another way is at least as good in everything, and better in something.
    fn beaten_by(&self, other: &Self) -> bool {
        let (a, b) = (self.key(), other.key());
        b.0 <= a.0 && b.1 <= a.1 && b.2 <= a.2 && a != b
    }
}

/// Keeps a way that no other beats, the best first.
pub(super) fn keep(mend: &mut Mend, way: MendWay) {
    if mend.ways.iter().any(|w| way.beaten_by(w) || way.key() == w.key()) && !way.sparing {
        return;
    }
    mend.ways.retain(|w| w.sparing || !w.beaten_by(&way));
    let at = mend.ways.partition_point(|w| w.key() <= way.key());
    mend.ways.insert(at, way);
}

/// What is known before anything was looked at: as nothing is claimed, all of it is proven.
pub(super) fn nothing() -> Mend {
    let (proven, conflict_smallest) = (true, true);
    Mend { proven, conflict_smallest, ..Mend::default() }
}
