//! Which of the builds that pass are kept: the best few, or those that nothing else beats.

use std::cmp::Ordering;

use crate::kit::Audit;

use super::query::{Found, Goal, Keep};
use super::solve::Search;

impl Search<'_, '_> {
    /// Audits one build in full, and keeps it when it passes and is wanted.
    pub(super) fn answer(&mut self, picks: Vec<u32>) {
        let audit = self.audit(&picks);
        let stopped_by = self.quest.stopped_by(&audit);
        if !stopped_by.is_empty() {
            self.refused_unseen |= !self.is_seen(&audit);
            let rules = self.quest.kit.rules();
            for rule in stopped_by.iter().filter_map(|at| rules.rules.get(*at as usize)) {
                *self.out.stopped_by.entry(rule.id.to_string()).or_default() += 1;
            }
            return;
        }
        let total = audit.build().paid();
        let cost = total.minor();
        let mut values = Vec::new();
        let mut score = Vec::new();
        for goal in &self.quest.goals {
            match goal {
                Goal::Price => {
                    values.push(self.quest.space.money(cost));
                    score.push(cost as f64);
                }
                Goal::Loss => {
                    let loss = self.quest.space.loss(&picks) as f64;
                    values.push(loss);
                    score.push(loss);
                }
                Goal::Measure { rule, most } => {
                    let Some(n) = audit.number_at_worst(*rule, *most) else { return };
                    values.push(n);
                    score.push(if *most { -n } else { n });
                }
            }
        }
        score.push(cost as f64);
        self.keep(Found { picks, total, values, score });
    }

    /// Whether a rule's tree shows why a build is refused.
    fn is_seen(&self, audit: &Audit) -> bool {
        let tracked = self.tracks.iter().take(self.stoppers);
        let tally = audit.tally();
        let stops = |rule: &u16| {
            tally.keys().any(|(at, level)| at == rule && *level >= self.quest.level_of(*rule))
        };
        let breaks = |rule: &u16| {
            let rules = self.quest.kit.rules();
            audit.failed().any(|(r, _)| rules.find(&r.id) == Some(*rule))
        };
        tracked.into_iter().any(|(rule, track)| !track.waivable && (stops(rule) || breaks(rule)))
    }

    /// Keeps a build that passes where it is wanted.
    pub(super) fn keep(&mut self, found: Found) {
        // A search that goes on meets again what it found before.
        if self.beaten(&found.score) || self.out.found.iter().any(|f| f.picks == found.picks) {
            return;
        }
        let goals = self.quest.goals.len();
        if self.quest.keep == Keep::Front {
            let of = |f: &Found| f.score.get(..goals).unwrap_or(&[]).to_vec();
            let new = of(&found);
            self.out.found.retain(|f| !new.iter().zip(of(f)).all(|(n, o)| *n <= o));
        }
        let at = self.out.found.partition_point(|f| order(&f.score, &found.score).is_le());
        self.out.found.insert(at, found);
        if let Keep::Best(count) = self.quest.keep {
            self.out.found.truncate(count);
        }
    }
}

/// Scores in order, the first number that differs deciding.
pub(super) fn order(a: &[f64], b: &[f64]) -> Ordering {
    a.iter().zip(b).map(|(x, y)| x.total_cmp(y)).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
}
