//! Ways that a builder would rather offer than the shortest: one as short that raises no caution,
//! and one with a change more that loses far less. Both are looked for, and not for long: that
//! there is none is not proven.

use super::answer::{MendWay, keep};
use super::changes::WHOLE;
use super::whole::Asked;
use super::{Mend, Mender};
use crate::kit::Audit;
use crate::level::Level;

/// The loss from which a change more is looked at: half of a figure.
const MUCH: i64 = WHOLE / 2;
/// Sets of elements that are looked at with a change more, and search nodes for all of them.
const SETS: usize = 400;
const NODES: u64 = 2_000;
/// Search nodes that the first look at lines dropped and added takes as long as.
const FIRST_LOOK: u64 = 10;

impl Mender<'_> {
    /// Adds such ways to those with the fewest changes; `now` is the audit of the list.
    pub(super) fn kinder(&self, mend: &mut Mend, now: &Audit) {
        let Some(fewest) = mend.ways.first().map(|way| way.changes.len()) else { return };
        let tally = now.tally();
        let levels: Vec<(u16, Level)> = (0u16..)
            .zip(&self.kit.rules().rules)
            .filter(|(at, rule)| rule.unit.is_none() && !tally.contains_key(&(*at, Level::Caution)))
            .map(|(at, _)| (at, Level::Caution))
            .collect();
        let longer = self.longer(mend, fewest + 1, &levels);
        let sparing = self.sparing(mend, &levels);
        longer.into_iter().for_each(|way| keep(mend, way));
        if let Some(way) = sparing {
            mend.spare(way);
        }
    }

    /// The way of the sets that passed which loses least where none of some rules cautions.
    fn sparing(&self, mend: &Mend, levels: &[(u16, Level)]) -> Option<MendWay> {
        let raises = |way: &MendWay| {
            let audit = self.kit.audit(&way.build).tally();
            levels.iter().any(|of| audit.contains_key(of))
        };
        if !raises(mend.ways.first()?) {
            return None;
        }
        let mut best: Option<MendWay> = None;
        for set in self.passed.borrow().iter() {
            self.tried(*set, i64::MAX, Asked::Sparing(levels), |way| {
                if best.as_ref().is_none_or(|held| way.score() < held.score()) {
                    best = Some(way);
                }
            });
        }
        best.filter(|way| !mend.ways.iter().any(|held| held.score() == way.score()))
    }

    /// The way of so many changes that loses least, if it loses less than half of what each
    /// shorter one does; of changes of the same lines rather one where none of some rules cautions.
    fn longer(&self, mend: &Mend, size: usize, levels: &[(u16, Level)]) -> Option<MendWay> {
        let least = mend.ways.iter().map(|way| way.loss).min()?;
        if least < MUCH || !mend.proven {
            return None;
        }
        let half = least / 2;
        let most = [half as f64, f64::NEG_INFINITY];
        let mut held = [most];
        let mut best: Option<(u128, MendWay)> = None;
        let mut nodes = 0;
        let mut sets = self.causes.sets(size, &self.limits);
        // What adds nothing is soon looked at.
        sets.sort_by_key(|set| (set & !self.every_line()).count_ones());
        for set in sets.into_iter().take(SETS) {
            if nodes > NODES {
                break;
            }
            let set = set | self.elements.open();
            if self.caps.iter().any(|rule| self.stops_all(set, *rule)) {
                continue;
            }
            let at = held;
            nodes += self.tried(set, half, Asked::Some(&at), |way| {
                if way.changes.len() == size && way.score() < held[0] {
                    held = [way.score()];
                    best = Some((set, way));
                }
            });
        }
        let (set, mut best) = best?;
        self.tried(set, half, Asked::Sparing(levels), |way| {
            if way.changes.len() == size && way.score() < most {
                best = way;
            }
        });
        Some(best)
    }

    /// What a search finds in each shape of a set of which the dropped lines alone lose no more
    /// than `most_loss`; the search nodes that took.
    fn tried(
        &self,
        set: u128,
        most_loss: i64,
        asked: Asked<'_>,
        mut found: impl FnMut(MendWay),
    ) -> u64 {
        let mut nodes = 0;
        let dropped = |shape: u128| (shape & self.every_line()).count_ones();
        for shape in self.elements.shapes(set) {
            if i64::from(dropped(shape)) * WHOLE > most_loss {
                continue;
            }
            if self.limits.over() {
                break;
            }
            let ways = self.solved(set, shape, asked, |space, outcome| {
                nodes += outcome.boxes + FIRST_LOOK;
                let drafts = outcome.found.iter().map(|found| self.draft(space, found, shape));
                drafts.map(|draft| self.way(&draft)).collect::<Vec<_>>()
            });
            ways.into_iter().flatten().for_each(&mut found);
        }
        nodes
    }
}
