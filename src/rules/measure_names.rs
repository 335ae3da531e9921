//! What reports call measures, and which measure a name means.

use std::collections::HashMap;
use std::sync::Arc;

use crate::rules::loader::Rule;
#[cfg(feature = "app")]
use crate::rules::loader::RuleSet;

/// Gives measures of one name their ids for it.
pub(super) fn tell_apart(rules: &mut [Rule]) {
    let mut named: HashMap<Arc<str>, usize> = HashMap::new();
    for rule in rules.iter().filter(|rule| rule.unit.is_some()) {
        *named.entry(rule.name.clone()).or_default() += 1;
    }
    for rule in rules.iter_mut().filter(|rule| named.get(&rule.name).is_some_and(|n| *n > 1)) {
        rule.name = rule.id.clone();
    }
}

#[cfg(feature = "app")]
impl RuleSet {
    /// The measures that may be meant by a name: the one of that id, else those whose id ends so or
    /// that reports call so.
    pub(crate) fn measures_called(&self, name: &str) -> Vec<u16> {
        let measures = || self.rules.iter().zip(0u16..).filter(|(rule, _)| rule.unit.is_some());
        let fitting = |fits: &dyn Fn(&Rule) -> bool| -> Vec<u16> {
            measures().filter(|(rule, _)| fits(rule)).map(|(_, at)| at).collect()
        };
        let exact = fitting(&|rule| *rule.id == *name);
        if !exact.is_empty() {
            return exact;
        }
        let low = name.to_lowercase();
        fitting(&|rule| rule.function == name || rule.name.to_lowercase() == low)
    }
}
