//! What a rule said of choices that it is asked about again: searches of one space, one after the
//! other, mostly differ in lines that a rule does not look at.

use std::rc::Rc;

use ahash::AHashMap;

use super::abstract_eval::Sight;
use super::walk::{Depth, Track, UNKNOWN};
use crate::audit::memory::Tree;

/// Most that is kept of one rule, in stamps and choices.
const MOST_KEPT: usize = 60_000;

/// Places of which choices are dropped, with those that are left; none where all are dropped, and
/// that place is the last.
pub(super) type Sifted = Rc<[(usize, Rc<[u32]>)]>;

/// What a rule said, by the stamps of the choices that it looks at.
#[derive(Default)]
pub(super) struct Seen {
    said: AHashMap<Box<[u32]>, Said>,
    kept: usize,
}

/// What was found out, and how large the rule's tree was then.
#[derive(Default)]
struct Said {
    mask: Option<(usize, u8)>,
    sifted: Option<(usize, Sifted)>,
}

impl Seen {
    fn slot(&mut self, key: Box<[u32]>, more: usize) -> &mut Said {
        if self.kept > MOST_KEPT {
            *self = Self::default();
        }
        self.kept += key.len() + more;
        self.said.entry(key).or_default()
    }
}

impl Track {
    /// The stamps of what the rule looks at.
    fn key(&mut self, tree: &Tree, sight: &mut Sight<'_>) -> Box<[u32]> {
        let deps = self.deps(tree, sight);
        let doms = sight.state.doms.iter().enumerate();
        let looked_at = doms.filter(|(at, _)| sight.notes.mask(*at) & deps != 0);
        looked_at.map(|(_, dom)| dom.stamp()).collect()
    }

    /// Whether builds of the state are stopped, pass, or both. What is known to the end stays so
    /// however much the tree grows.
    pub(super) fn mixed(&mut self, tree: &Tree, sight: &mut Sight<'_>) -> u8 {
        let key = self.key(tree, sight);
        let known = self.seen.said.get(&key).and_then(|said| said.mask);
        if let Some((size, mask)) = known
            && (mask & UNKNOWN == 0 || size == tree.len())
        {
            return mask;
        }
        let mask = self.walk(tree, sight, Depth::Mixed, None);
        self.seen.slot(key, 2).mask = Some((tree.len(), mask));
        mask
    }

    /// What is left of the choices of a state, if that was found out with the tree as it is.
    pub(super) fn sifted(&mut self, tree: &Tree, sight: &mut Sight<'_>) -> Option<Sifted> {
        let key = self.key(tree, sight);
        let (size, sifted) = self.seen.said.get(&key)?.sifted.as_ref()?;
        (*size == tree.len()).then(|| sifted.clone())
    }

    /// Keeps what is left of the choices of a state.
    pub(super) fn keep_sifted(&mut self, tree: &Tree, sight: &mut Sight<'_>, sifted: &Sifted) {
        let key = self.key(tree, sight);
        let more = sifted.iter().map(|(_, left)| left.len() + 2).sum();
        self.seen.slot(key, more).sifted = Some((tree.len(), sifted.clone()));
    }
}
