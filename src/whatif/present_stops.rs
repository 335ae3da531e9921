//! The stops that a build has whatever is chosen for a line, and what a choice adds to them.

use std::collections::{BTreeMap, HashSet};

use crate::kit::Audit;
use crate::level::Level;

/// The stops of a build that any choice is measured against.
pub(crate) struct Measure {
    stops: HashSet<(String, String)>,
    broken: usize,
    open: BTreeMap<(String, Level), usize>,
}

impl Measure {
    /// Takes the stops that stand whatever is chosen.
    pub(crate) fn of(audit: &Audit) -> Self {
        let (stops, broken) = (stops(audit).collect(), audit.broken().len());
        Self { stops, broken, open: audit.open_tally(|_| true) }
    }

    /// The rules that stop a build over and above; a rule that breaks on it counts as one.
    pub(crate) fn over(&self, audit: &Audit) -> Vec<String> {
        let broken = audit.broken().len() > self.broken;
        if !broken && audit.worst() != Some(Level::Stop) {
            return Vec::new();
        }
        let mut rules: Vec<String> =
            stops(audit).filter(|s| !self.stops.contains(s)).map(|(rule, _)| rule).collect();
        if broken {
            rules.push("a broken rule".to_owned());
        }
        rules.dedup();
        rules
    }

    /// The rules that may stop a build over and above, once somebody looks up what nobody said of
    /// the parts on some lines.
    pub(crate) fn left_open(&self, audit: &Audit, of: impl Fn(usize) -> bool) -> Vec<String> {
        let opened = audit.opened_since(&self.open, of).into_iter();
        opened.filter(|(_, level)| *level == Level::Stop).map(|(rule, _)| rule).collect()
    }
}

fn stops(audit: &Audit) -> impl Iterator<Item = (String, String)> {
    audit
        .findings()
        .into_iter()
        .filter(|f| f.level == Level::Stop && f.waived.is_none())
        .map(|f| (f.rule, f.message))
}
