//! Changes of a list that clear its stops, and what each loses.

use std::sync::Arc;

use crate::build::{Build, Line};
use crate::catalogue::Part;
use crate::catalogue::ranks::{Rank, Ranking};
use crate::whatif::edit::{Edit, NewLine, Word};

/// What the loss of a whole part counts, in percent points.
pub(super) const WHOLE: i64 = 100;

/// One change of a list; lines count from 0.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum MendChange {
    /// Another part on a line.
    Swap {
        /// The line.
        line: usize,
        /// The part now.
        from: Arc<Part>,
        /// The part then.
        to: Arc<Part>,
        /// In what the new one is worse.
        losses: Vec<MendLoss>,
    },
    /// More or fewer pieces on a line.
    Count {
        /// The line.
        line: usize,
        /// Its part.
        part: Arc<Part>,
        /// Pieces now.
        from: u32,
        /// Pieces then.
        to: u32,
    },
    /// A line fitted elsewhere, or turned.
    Place {
        /// The line.
        line: usize,
        /// Its part.
        part: Arc<Part>,
        /// Where it is fitted then.
        mount: Option<Arc<str>>,
        /// Which way it blows then.
        flow: Option<Arc<str>>,
    },
    /// A line taken out.
    Drop {
        /// The line.
        line: usize,
        /// Its part.
        part: Arc<Part>,
    },
    /// A line added.
    Add {
        /// Its part.
        part: Arc<Part>,
        /// Where it is fitted.
        mount: Option<Arc<str>>,
        /// Which way it blows.
        flow: Option<Arc<str>>,
    },
}

/// A figure in which a part is worse than the one before it.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct MendLoss {
    /// The figure, as the kind ranks by it.
    pub name: Arc<str>,
    /// What people call it.
    pub words: Arc<str>,
    /// How its loss is worded.
    pub worded: MendLossWords,
    /// Its unit; empty for a product.
    pub unit: Arc<str>,
    /// The figure now.
    pub from: f64,
    /// The figure then; none where the part does not say.
    pub to: Option<f64>,
}

/// How the loss of a figure is worded.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum MendLossWords {
    /// By how much less it has: the unit says of what.
    Figure,
    /// The figure's name first, as its unit does not say enough.
    Named,
    /// How many fewer there are.
    Counted,
    /// That there is none.
    Flag,
}

impl MendChange {
    /// An added line.
    pub(super) fn add(line: &Line) -> Option<Self> {
        let (mount, flow) = (line.mount.clone(), line.flow.clone());
        Some(Self::Add { part: line.part()?.clone(), mount, flow })
    }
}

/// A build with some changes made.
pub(super) fn applied(build: &Build, changes: &[MendChange]) -> Build {
    let mut next = build.clone();
    let mut drops = Vec::new();
    for change in changes {
        let at = match change {
            MendChange::Swap { line, to, .. } => {
                next = next.with_part(*line, to);
                continue;
            }
            MendChange::Add { part, mount, flow } => {
                let (mount, flow) = (mount.clone(), flow.clone());
                next.lines.push(Line { mount, flow, ..Line::of(part.clone(), 1) });
                continue;
            }
            MendChange::Drop { line, .. } => {
                drops.push(*line);
                continue;
            }
            MendChange::Count { line, .. } | MendChange::Place { line, .. } => *line,
        };
        match (next.lines.get_mut(at), change) {
            (Some(line), MendChange::Count { to, .. }) => line.count = *to,
            (Some(line), MendChange::Place { mount, flow, .. }) => {
                (line.mount, line.flow) = (mount.clone(), flow.clone());
            }
            _ => {}
        }
    }
    let mut at = 0..;
    next.lines.retain(|_| at.next().is_none_or(|at| !drops.contains(&at)));
    next
}

/// The edits that make some changes, lines that go last and from the bottom up, so that numbers
/// hold.
pub fn edits(changes: &[MendChange]) -> Vec<Edit> {
    let mut edits = Vec::new();
    let mut drops = Vec::new();
    for change in changes {
        match change {
            MendChange::Swap { line, to, .. } => {
                edits.push(Edit::Part { line: *line, part: to.id.to_string() });
            }
            MendChange::Count { line, to, .. } => {
                let value = Some(Word::Plain(to.to_string()));
                edits.push(Edit::Key { line: *line, key: "count", value });
            }
            MendChange::Place { line, mount, flow, .. } => {
                for (key, value) in [("mount", mount), ("flow", flow)] {
                    let value = value.as_ref().map(|v| Word::Text(v.to_string()));
                    edits.push(Edit::Key { line: *line, key, value });
                }
            }
            MendChange::Drop { line, .. } => drops.push(*line),
            MendChange::Add { part, mount, flow } => edits.push(Edit::Add(NewLine {
                part: part.id.to_string(),
                mount: mount.as_ref().map(|m| m.to_string()),
                flow: flow.as_ref().map(|f| f.to_string()),
                ..NewLine::default()
            })),
        }
    }
    drops.sort_unstable();
    edits.extend(drops.into_iter().rev().map(|line| Edit::Drop { line }));
    edits
}

/// What differs between a line and what stands in its place.
pub(super) fn change(ranking: &Ranking, at: usize, now: &Line, then: &Line) -> Option<MendChange> {
    let (from, to) = (now.part()?.clone(), then.part()?.clone());
    if from.id != to.id {
        let losses = losses(ranking.ranks(from.kind), &from, &to);
        return Some(MendChange::Swap { line: at, from, to, losses });
    }
    if now.count != then.count {
        return Some(MendChange::Count { line: at, part: to, from: now.count, to: then.count });
    }
    let (mount, flow) = (then.mount.clone(), then.flow.clone());
    (mount != now.mount || flow != now.flow).then_some(MendChange::Place {
        line: at,
        part: to,
        mount,
        flow,
    })
}

/// Whether two lines hold the same part in the same way.
pub(super) fn same(a: &Line, b: &Line) -> bool {
    let part = |line: &Line| line.part().map(|p| p.id.clone());
    part(a) == part(b) && a.count == b.count && a.mount == b.mount && a.flow == b.flow
}

/// In what a part is worse than another of its kind.
pub(crate) fn losses(ranks: &[Rank], from: &Part, to: &Part) -> Vec<MendLoss> {
    let lost = ranks.iter().filter(|rank| rank.loss(from, to) > 0.0);
    lost.filter_map(|rank| {
        let worded = match rank {
            rank if rank.is_flag => MendLossWords::Flag,
            rank if rank.is_index() || (rank.is_called && !rank.unit.is_empty()) => {
                MendLossWords::Named
            }
            rank if rank.unit.is_empty() => MendLossWords::Counted,
            _ => MendLossWords::Figure,
        };
        let (name, words, unit) = (rank.name.clone(), rank.words.clone(), rank.unit.clone());
        Some(MendLoss { name, words, worded, unit, from: rank.of(from)?, to: rank.of(to) })
    })
    .collect()
}

/// What a line loses by what stands in its place, in percent points: each rank's share by itself.
pub(super) fn loss(ranking: &Ranking, now: &Line, then: &Line) -> i64 {
    let (Some(from), Some(to)) = (now.part(), then.part()) else { return 0 };
    if from.id == to.id {
        let gone = f64::from(now.count.saturating_sub(then.count));
        return percent(gone / f64::from(now.count.max(1)));
    }
    part_loss(ranking.ranks(from.kind), from, to)
}

/// What is lost by a part in place of another of its kind, in percent points.
pub(crate) fn part_loss(ranks: &[Rank], from: &Part, to: &Part) -> i64 {
    ranks.iter().map(|rank| percent(rank.loss(from, to))).sum()
}

fn percent(share: f64) -> i64 {
    (share * WHOLE as f64).ceil() as i64
}
