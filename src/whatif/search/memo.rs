//! What searches of one space found out, kept from one search to the next.

use std::cell::RefCell;
use std::collections::HashMap;

use crate::rules::host::PoolGuard;

use super::cache::Notes;
use super::walk::Track;

/// What searches of one space found out, for the next search of it.
#[derive(Default)]
pub(crate) struct Memo {
    pub(super) held: RefCell<Held>,
    /// What is noted is by expression, so none is forgotten meanwhile.
    pub(super) readers: RefCell<Option<PoolGuard>>,
}

impl Memo {
    /// Rules that broke on each of the first builds.
    pub(crate) fn broken(&self) -> Vec<u16> {
        self.held.borrow().faulty.clone().unwrap_or_default()
    }

    /// A memo for another space of the same list: which rules are broken is known there too.
    pub(crate) fn for_another_space(&self) -> Self {
        let faulty = self.held.borrow().faulty.clone();
        Self { held: RefCell::new(Held { faulty, ..Held::default() }), ..Self::default() }
    }
}

#[derive(Default)]
pub(super) struct Held {
    pub(super) notes: Notes,
    pub(super) tracks: HashMap<u16, Track>,
    /// By place, how often it was to blame: a search that begins again begins there.
    pub(super) weights: Vec<u64>,
    /// Rules that broke on each of the first builds; none while nothing was searched.
    pub(super) faulty: Option<Vec<u16>>,
}
