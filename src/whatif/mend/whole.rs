//! A list with every line free, and what is asked of the changes of some of its elements.

use crate::level::Level;
use crate::whatif::search::memo::Memo;
use crate::whatif::search::query::{Keep, Quest};
use crate::whatif::search::space::Space;

/// Search nodes within which it is found out whether a cause can do without a line.
const FEW: u64 = 48;
/// Search nodes within which a way is looked for that a builder would rather offer.
const SOME: u64 = 400;

/// What is asked of the changes of some elements.
#[derive(Clone, Copy)]
pub(super) enum Asked<'a> {
    /// The ways that pass and that none of these scores beats, within so many search nodes.
    All(&'a [[f64; 2]], u64),
    /// Whether any change passes these rules, and not for long.
    Any(&'a [u16]),
    /// The way that loses least, and of those the cheapest, where these rules caution of nothing;
    /// not for long.
    Sparing(&'a [(u16, Level)]),
    /// As all, but not for long.
    Some(&'a [[f64; 2]]),
}

impl<'a> Asked<'a> {
    pub(super) fn of<'q>(self, quest: Quest<'q>) -> Quest<'q>
    where
        'a: 'q,
    {
        match self {
            Self::All(held, most_nodes) => Quest { held, most_nodes, ..quest },
            Self::Some(held) => Quest { held, most_nodes: SOME, ..quest },
            Self::Sparing(levels) => {
                let (levels, keep) = (levels.to_vec(), Keep::Best(1));
                Quest { levels, keep, most_nodes: SOME, ..quest }
            }
            Self::Any(rules) => Quest {
                rules: rules.to_vec(),
                goals: Vec::new(),
                keep: Keep::Best(1),
                most_nodes: FEW,
                ..quest
            },
        }
    }
}

/// The list with every line free, in one shape.
pub(super) struct Whole {
    pub(super) space: Space,
    /// By place, the line of the list and which of its choices stands there now; none for a line
    /// that is added.
    pub(super) own: Vec<Option<(usize, u32)>>,
    pub(super) memo: Memo,
    /// The same for searches that hold some rules to their cautions.
    pub(super) spared: Memo,
}

impl Whole {
    /// What searches with such a question found out so far.
    pub(super) fn memo(&self, asked: Asked<'_>) -> &Memo {
        if matches!(asked, Asked::Sparing(_)) { &self.spared } else { &self.memo }
    }

    /// The only choice of each line of the list that is not free.
    pub(super) fn fixed(&self, free: impl Fn(usize) -> bool) -> Vec<Option<u32>> {
        let own = self.own.iter();
        own.map(|own| own.filter(|(line, _)| !free(*line)).map(|(_, choice)| choice)).collect()
    }
}
