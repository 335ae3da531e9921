//! Which rules are not those of the lowest layer, and how that is said.

use std::sync::Arc;

use crate::app::counted::count;
use crate::rules::chosen::Taken;
use crate::rules::loader::RuleSet;
use crate::words::some_of;

/// Rules of a shop's own: those that come beside the lower layers', those in the place of one, and
/// whole files that give way.
#[derive(Debug, Clone, Default)]
pub struct Layered {
    /// Rules that no lower layer has: id and layer.
    pub added: Vec<(Arc<str>, String)>,
    /// Rules in the place of a lower layer's of the same id: id, layer, lower layer.
    pub replaced: Vec<(Arc<str>, String, String)>,
    /// Whole files that give way to a layer's.
    pub taken: Vec<Taken>,
}

/// Most rules that are named in one sentence.
pub(super) const MOST_NAMED: usize = 12;

impl Layered {
    /// Looks a rule set through.
    pub fn of(rules: &RuleSet) -> Self {
        let mut layered = Self { taken: rules.taken.clone(), ..Self::default() };
        for rule in rules.added() {
            match &rule.over {
                None => layered.added.push((rule.id.clone(), rule.layer.clone())),
                Some(over) => {
                    layered.replaced.push((rule.id.clone(), rule.layer.clone(), over.clone()))
                }
            }
        }
        layered
    }

    /// A sentence each, to stand after "Here".
    pub(super) fn words(&self) -> Vec<String> {
        let mut words = Vec::new();
        let mut layers: Vec<&str> = self.added.iter().map(|(_, layer)| layer.as_str()).collect();
        layers.sort_unstable();
        layers.dedup();
        for layer in layers {
            let own = self.added.iter().filter(|(_, l)| l == layer);
            let ids: Vec<&str> = own.map(|(id, _)| &**id).collect();
            let number = count(ids.len(), "rule");
            words.push(format!("{layer} adds {number}: {}", some_of(ids, MOST_NAMED)));
        }
        for (id, layer, over) in &self.replaced {
            words.push(format!("{id} is the rule of {layer}, in place of the {over} one"));
        }
        words.extend(self.taken.iter().map(taken));
        words
    }
}

/// What a layer took the place of, in words.
pub(crate) fn taken(taken: &Taken) -> String {
    let Taken { file, layer, over, reason } = taken;
    format!("{layer} takes the place of the whole {over} file {file}: {reason}")
}
