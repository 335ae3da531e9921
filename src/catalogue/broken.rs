//! Parts that cannot be read: left out by name, so that they hurt only the lists that use them.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use super::unread::Slot;
use crate::source::Problem;

/// Parts left out of a catalogue for one reason.
#[derive(Debug, Clone)]
pub struct Broken {
    /// Ids of the parts; of a file whose kind is not known, the bare names.
    pub parts: Vec<Arc<str>>,
    /// What is wrong, each with its place; never empty.
    pub problems: Vec<Problem>,
}

/// What was left out of a catalogue while it was read.
#[derive(Debug, Default)]
pub(super) struct BrokenParts {
    groups: Vec<Broken>,
    /// Every id and bare name left out.
    names: HashSet<Arc<str>>,
}

impl BrokenParts {
    /// Leaves parts out for one reason.
    pub(super) fn add(&mut self, parts: Vec<Arc<str>>, problems: Vec<Problem>) {
        self.names.extend(parts.iter().cloned());
        self.groups.push(Broken { parts, problems });
    }

    /// Whether a part is left out.
    pub(super) fn holds(&self, id: &str) -> bool {
        self.names.contains(id) || bare(id).is_some_and(|name| self.names.contains(name))
    }

    /// Takes a part back in, which an upper layer gives whole.
    pub(super) fn replace(&mut self, id: &str) {
        if !self.names.remove(id) {
            return;
        }
        for group in &mut self.groups {
            group.parts.retain(|part| **part != *id);
        }
        self.groups.retain(|group| !group.parts.is_empty());
    }

    /// Whether nothing is left out.
    pub(super) fn is_empty(&self) -> bool {
        self.groups.is_empty()
    }

    /// The groups, as the catalogue keeps them.
    pub(super) fn into_groups(self) -> Vec<Broken> {
        self.groups
    }
}

/// The part of an id after its kind.
fn bare(id: &str) -> Option<&str> {
    id.split_once('/').map(|(_, name)| name)
}

/// The reason why a part is left out, among those there are.
pub(super) fn reason<'b>(broken: &'b [Broken], id: &str) -> Option<&'b Broken> {
    let named = |name: &str| broken.iter().find(|b| b.parts.iter().any(|p| **p == *name));
    named(id).or_else(|| named(bare(id)?))
}

/// The parts that are left, each with its new place, and where each stands by its id.
pub(super) fn without(
    slots: Vec<Slot>,
    broken: &BrokenParts,
) -> (Vec<Slot>, HashMap<Arc<str>, usize>) {
    let mut kept: Vec<Slot> = Vec::with_capacity(slots.len());
    let mut ids = HashMap::with_capacity(slots.len());
    for slot in slots.into_iter().filter(|slot| !broken.holds(&slot.id)) {
        let at = kept.len();
        ids.insert(slot.id.clone(), at);
        kept.push(slot.moved(u32::try_from(at).unwrap_or(u32::MAX)));
    }
    (kept, ids)
}
