//! Rules that hold a figure of the whole list to a cap: which lines must change for it, found
//! without a search, and the cheapest list where no change is enough.

use super::Mender;
use super::answer::MendNearest;
use crate::level::Level;
use crate::whatif::search::floor::stops_all;
use crate::whatif::search::query::{Goal, Keep, Quest};
use crate::whatif::search::solve::solve;

/// Search nodes within which the cheapest list is looked for.
const NEAREST_NODES: u64 = 1_000;

impl Mender<'_> {
    /// Whether a rule stops the list whatever some lines become and whatever else is added.
    pub(super) fn stops_all(&self, free: u128, rule: u16) -> bool {
        let Some(whole) = self.whole(0) else { return false };
        let is_free = |line: usize| free & (1u128 << line) != 0;
        let fixed = whole.fixed(is_free);
        let lines = 0..self.closed.lines.len();
        let goes: Vec<bool> = lines.map(|at| is_free(at) && self.elements.may_go(at)).collect();
        let memo = Some(&whole.memo);
        stops_all(&Quest { fixed: &fixed, memo, ..self.quest(&whole.space) }, &goes, rule)
    }

    /// The lines of which one must change, where a rule stops whatever `free` becomes: those that
    /// could save least leave first, so that few are left.
    pub(super) fn capped(&self, mut free: u128, rule: u16) -> u128 {
        let Some(whole) = self.whole(0) else { return 0 };
        let mut lines: Vec<(i64, usize)> = Vec::new();
        for (place, own) in whole.space.places.iter().zip(&whole.own) {
            let Some((line, choice)) = own else { continue };
            let goods = |at: usize| place.choices.get(at).map_or(0, |c| c.costs.goods());
            lines.push((goods(*choice as usize) - goods(0), *line));
        }
        lines.sort_unstable();
        let mut cause = self.every_line() & !free;
        for (_, line) in lines {
            let bit = 1u128 << line;
            if cause & bit != 0 && self.stops_all(free | bit, rule) {
                (free, cause) = (free | bit, cause & !bit);
            }
        }
        cause
    }

    /// The names of the rules that hold the whole list to a cap.
    pub(super) fn cap_names(&self) -> Vec<String> {
        let rules = &self.kit.rules().rules;
        let of = self.of_the_whole.iter().filter_map(|at| rules.get(*at as usize));
        of.map(|rule| rule.id.to_string()).collect()
    }

    /// The cheapest list of these lines that meets all rules but some, as far as it is found soon.
    pub(super) fn nearest(&self, without: &[String]) -> Option<MendNearest> {
        let whole = self.whole(0).filter(|_| !without.is_empty())?;
        let all = self.quest(&whole.space);
        let gone: Vec<u16> = without.iter().filter_map(|id| self.kit.rules().find(id)).collect();
        let rules = all.rules.iter().copied().filter(|rule| !gone.contains(rule)).collect();
        let outcome = solve(&Quest {
            rules,
            goals: vec![Goal::Price],
            keep: Keep::Best(1),
            most_nodes: NEAREST_NODES,
            memo: Some(&whole.memo),
            ..all
        });
        let found = outcome.found.first()?;
        let audit = self.kit.audit(&whole.space.build(&found.picks));
        let stops = audit.briefs().into_iter().filter(|f| f.level == Level::Stop && !f.waived);
        let findings = stops.filter(|f| without.iter().any(|id| **id == *f.rule)).collect();
        let (total, proven) = (found.total, outcome.proven);
        Some(MendNearest { without: without.to_vec(), total, proven, findings })
    }
}
