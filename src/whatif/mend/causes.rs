//! What may be changed in a list, and which of it every fix must touch.

use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::sync::Arc;

use super::changes::same;
use super::first_way::Draft;
use super::{MendChange, may_add};
use crate::build::{Build, Line, What};
use crate::catalogue::kinds::KindId;
use crate::catalogue::{Part, unboxed};
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::whatif::search::SearchLimits;
use crate::whatif::search::asked::{Asked, AskedByRule, of_verdict};

/// Fewer pieces that are tried on a line, and more.
const FEWER: u32 = 12;
/// More pieces that are tried on a line.
const MORE: u32 = 2;

/// What may be changed, a bit each: the lines of a list, then kinds of which a line may be added.
pub(super) struct Elements {
    /// The kind of each line.
    lines: Vec<KindId>,
    /// By line, the next one that is the same: of two, the one below goes first.
    twins: Vec<Option<usize>>,
    adds: Vec<KindId>,
    /// Kinds of lines for which a rule asked where they are fitted or which way they blow.
    placed: BTreeSet<KindId>,
    /// What may come in the packaging of each kind.
    brings: Vec<BTreeSet<KindId>>,
    /// Parts that no seller has in stock.
    unsold: HashSet<Arc<str>>,
    mounts: Vec<Arc<str>>,
    /// By line, the parts that meet the wants of one that the list leaves open.
    wished: Vec<Option<HashSet<Arc<str>>>>,
    asked: RefCell<HashMap<u16, AskedByRule>>,
}

fn twins(lines: &[Line]) -> Vec<Option<usize>> {
    let plain = |line: &Line| line.quoted.is_none() && line.stated.is_none();
    let same = |a: &Line, b: &Line| same(a, b) && a.owned == b.owned && plain(a) && plain(b);
    let next = |(at, line)| {
        let mut below = lines.iter().enumerate().skip(at + 1);
        below.find(|(_, other)| same(line, other)).map(|(at, _)| at)
    };
    lines.iter().enumerate().map(next).collect()
}

impl Elements {
    pub(super) fn new(kit: &Kit, build: &Build, audit: &Audit) -> Self {
        let catalogue = kit.catalogue();
        let market = catalogue.market(&build.currency, build.priced_on);
        let mut brings = vec![BTreeSet::new(); catalogue.kinds.len()];
        let mut unsold = HashSet::new();
        let mut adds = BTreeSet::new();
        for part in catalogue.parts() {
            let inside = unboxed(catalogue, part, |_| false);
            if let Some(kinds) = brings.get_mut(part.kind.0 as usize) {
                kinds.extend(inside.iter().map(|(part, _)| part.kind));
            }
            if market.known(catalogue, part).is_none_or(|f| f.sellers <= 0.0 || f.price.is_none()) {
                unsold.insert(part.id.clone());
            } else if may_add(kit, build, part.kind) {
                adds.insert(part.kind);
            }
        }
        let mut asked = Asked::default();
        of_verdict(audit, |_| true, |_, more| asked.join(more));
        let mount = catalogue.table_named("mount");
        Self {
            lines: build.lines.iter().map(Line::kind).collect(),
            twins: twins(&build.lines),
            adds: adds.into_iter().collect(),
            placed: asked.placed,
            brings,
            unsold,
            mounts: mount.map(|t| t.rows.clone()).unwrap_or_default(),
            wished: Vec::new(),
            asked: RefCell::default(),
        }
    }

    /// The same with lines that the list leaves open, each with the parts that meet its wants:
    /// which of them stands there is no change.
    pub(super) fn with_open(self, wished: Vec<Option<HashSet<Arc<str>>>>) -> Self {
        Self { wished, ..self }
    }

    /// The lines that the list leaves open.
    pub(super) fn open(&self) -> u128 {
        let open = self.wished.iter().enumerate().filter(|(_, wished)| wished.is_some());
        open.fold(0, |mask, (at, _)| mask | 1u128 << at)
    }

    /// Whether the list leaves a line open.
    pub(super) fn is_open(&self, line: usize) -> bool {
        self.wished.get(line).is_some_and(Option::is_some)
    }

    pub(super) fn count(&self) -> usize {
        self.lines.len() + self.adds.len()
    }

    /// Whether what was asked may be answered otherwise by other parts of a kind.
    pub(super) fn touched(&self, asked: &Asked, kind: &KindId) -> bool {
        let brings = self.brings.get(kind.0 as usize);
        asked.every
            || asked.kinds.contains(kind)
            || brings.is_some_and(|inside| !inside.is_disjoint(&asked.kinds))
    }

    /// The elements that a verdict rests on which asked of some kinds.
    fn of(&self, asked: &Asked) -> u128 {
        let bits = self.lines.iter().chain(&self.adds).enumerate();
        let touched = bits.filter(|(_, kind)| self.touched(asked, kind));
        touched.fold(0, |mask, (at, _)| mask | 1u128 << at)
    }

    /// The kinds that may be added of those that were asked about.
    pub(super) fn may_add(&self, asked: &Asked) -> impl Iterator<Item = KindId> {
        self.adds.iter().filter(|kind| self.touched(asked, kind)).copied()
    }

    /// What is dropped and added in a draft.
    pub(super) fn shape_of(&self, draft: &Draft) -> u128 {
        let lines = 0..self.lines.len();
        let gone = lines.filter(|at| !draft.iter().any(|(from, _)| *from == Some(*at)));
        let new = draft.iter().filter(|(from, _)| from.is_none());
        let added = new.filter_map(|(_, line)| {
            self.adds.iter().position(|kind| *kind == line.kind()).map(|at| self.lines.len() + at)
        });
        gone.chain(added).fold(0, |mask, at| mask | 1u128 << at)
    }

    /// The rules that stop a list, each with the elements that its verdict rests on.
    pub(super) fn stops(&self, audit: &Audit) -> Vec<(u16, u128)> {
        let stops = audit.tally();
        let stopped = |rule: u16| stops.contains_key(&(rule, Level::Stop));
        let mut all = Vec::new();
        of_verdict(audit, stopped, |rule, asked| all.push((rule, self.of(&asked))));
        all
    }

    /// The elements that a rule rests on, whatever is chosen.
    pub(super) fn reach(&self, kit: &Kit, rule: u16) -> u128 {
        self.of(self.asked.borrow_mut().entry(rule).or_default().now(kit, rule))
    }

    /// Every choice of what is dropped and what is added among some elements: a line goes only
    /// where another of its kind stays.
    pub(super) fn shapes(&self, set: u128) -> Vec<u128> {
        let lines = self.lines.len();
        let bits: Vec<usize> = (0..self.count())
            .filter(|at| set & (1u128 << at) != 0)
            .filter(|at| *at >= lines || self.may_go(*at))
            .collect();
        let shape = |choice: usize| {
            bits.iter().enumerate().fold(0u128, |mask, (nth, at)| {
                if choice & (1 << nth) != 0 { mask | 1u128 << at } else { mask }
            })
        };
        let stays = |mask: &u128| {
            let gone = |kind: KindId| {
                let of_kind = self.lines.iter().enumerate().filter(|(_, k)| **k == kind);
                of_kind.clone().count() > 0 && of_kind.clone().all(|(at, _)| mask & (1 << at) != 0)
            };
            let goes = |at: usize| mask & (1u128 << at) != 0;
            let mut twins = self.twins.iter().enumerate();
            twins.all(|(at, twin)| !goes(at) || twin.is_none_or(goes))
                && !self.lines.iter().any(|kind| gone(*kind))
        };
        (0..1usize << bits.len().min(12)).map(shape).filter(stays).collect()
    }

    /// Whether some elements are all there are.
    pub(super) fn are_all(&self, some: u128) -> bool {
        (0..self.count()).all(|at| some & (1u128 << at) != 0)
    }

    /// Whether a line may be dropped, as others of its kind may stay.
    pub(super) fn may_go(&self, line: usize) -> bool {
        self.of_kind(line) > 1 && !self.is_open(line)
    }

    fn of_kind(&self, line: usize) -> usize {
        let kind = self.lines.get(line);
        self.lines.iter().filter(|k| Some(*k) == kind).count()
    }

    /// The kinds of which a shape adds a line.
    pub(super) fn added(&self, shape: u128) -> impl Iterator<Item = KindId> {
        let bit = move |nth: usize| shape & (1u128 << (self.lines.len() + nth)) != 0;
        self.adds.iter().enumerate().filter(move |(nth, _)| bit(*nth)).map(|(_, kind)| *kind)
    }

    fn may_buy(&self, part: &Part, sold: bool) -> bool {
        !sold || !self.unsold.contains(&part.id)
    }

    /// What may stand on a line, itself first: another part, more or fewer pieces, another place.
    pub(super) fn variants(&self, kit: &Kit, at: usize, line: &Line, sold: bool) -> Vec<Line> {
        let mut all = vec![line.clone()];
        let Some(own) = line.part() else { return all };
        let parts = kit.catalogue().parts_of(line.kind());
        if let Some(Some(wished)) = self.wished.get(at) {
            let others = parts.filter(|p| p.id != own.id && wished.contains(&p.id));
            all.extend(others.map(|part| Line { what: What::Part(part.clone()), ..line.clone() }));
            return all;
        }
        let others = parts.filter(|p| p.id != own.id && self.may_buy(p, sold));
        all.extend(others.map(|part| line.with_part(part)));
        let fewest = line.count.saturating_sub(FEWER).max(1);
        let counts = (fewest..=line.count.saturating_add(MORE)).filter(|n| *n != line.count);
        // The customer has as many as there are.
        let counts = counts.filter(|n| !line.owned || *n < line.count);
        all.extend(counts.map(|count| Line { count, ..line.clone() }));
        if self.placed.contains(&line.kind()) || line.mount.is_some() || line.flow.is_some() {
            let same = |new: &Line| new.mount == line.mount && new.flow == line.flow;
            all.extend(self.places(line).into_iter().filter(|new| !same(new)));
        }
        all
    }

    /// A line in every place and either way.
    fn places(&self, line: &Line) -> Vec<Line> {
        let flows: Vec<Option<Arc<str>>> = match line.flow {
            Some(_) => vec![Some("in".into()), Some("out".into())],
            None => vec![None],
        };
        let mounts = self.mounts.iter().map(|m| Some(m.clone()));
        mounts
            .flat_map(|mount| flows.iter().map(move |flow| (mount.clone(), flow.clone())))
            .map(|(mount, flow)| Line { mount, flow, ..line.clone() })
            .collect()
    }

    /// What a new line of a kind may hold.
    pub(super) fn new_lines(
        &self,
        kit: &Kit,
        build: &Build,
        kind: KindId,
        sold: bool,
    ) -> Vec<Line> {
        let like = build.lines.iter().find(|l| l.kind() == kind);
        let parts = kit.catalogue().parts_of(kind).filter(|p| self.may_buy(p, sold));
        let lines = parts.map(|part| Line::of(part.clone(), 1));
        match like.filter(|l| l.mount.is_some() || l.flow.is_some()) {
            None => lines.collect(),
            Some(like) => lines
                .map(|line| Line { flow: like.flow.clone(), ..line })
                .flat_map(|line| self.places(&line))
                .collect(),
        }
    }

    /// The part of a change that no seller has in stock.
    pub(super) fn unsold(&self, change: &MendChange) -> Option<Arc<Part>> {
        let part = match change {
            MendChange::Swap { to, .. } => to,
            MendChange::Add { part, .. } => part,
            _ => return None,
        };
        self.unsold.contains(&part.id).then(|| part.clone())
    }
}

/// Sets of elements of which every fix changes one at least.
pub(super) struct Causes {
    causes: Vec<u128>,
    /// Sets that were tried and gave no cause.
    done: HashSet<u128>,
    elements: usize,
    /// Lines that the list leaves open: they are free in every set.
    open: u128,
}

impl Causes {
    pub(super) fn none(elements: &Elements) -> Self {
        let (elements, open) = (elements.count(), elements.open());
        Self { causes: Vec::new(), done: HashSet::new(), elements, open }
    }

    pub(super) fn add(&mut self, cause: u128) {
        if self.causes.iter().any(|held| held & cause == *held) {
            return;
        }
        self.causes.retain(|held| cause & held != cause);
        self.causes.push(cause);
        self.causes.sort_by_key(|c| (c.count_ones(), *c));
    }

    pub(super) fn done(&mut self, set: u128) {
        self.done.insert(set);
    }

    /// Whether no change of anything meets some cause.
    pub(super) fn hopeless(&self) -> bool {
        self.causes.contains(&0)
    }

    /// A set of so many elements that meets every cause and was not tried; none too once the time
    /// is over.
    pub(super) fn next_set(&self, size: usize, limits: &SearchLimits<'_>) -> Option<u128> {
        self.meet(0, size, &mut || limits.over())
    }

    /// Every set of so many elements that meets all causes.
    pub(super) fn sets(&self, size: usize, limits: &SearchLimits<'_>) -> Vec<u128> {
        let mut held = Self { done: HashSet::new(), causes: self.causes.clone(), ..*self };
        let mut all = Vec::new();
        while let Some(set) = held.next_set(size, limits) {
            held.done.insert(set);
            all.push(set);
        }
        all
    }

    fn meet(&self, set: u128, left: usize, over: &mut dyn FnMut() -> bool) -> Option<u128> {
        let open = self.causes.iter().find(|cause| *cause & set == 0);
        let from = match open {
            Some(cause) => *cause,
            None if left == 0 => return (!self.done.contains(&set)).then_some(set),
            // All are met: anything else may be changed besides, the elements in order.
            None => u128::MAX.checked_shl(128 - set.leading_zeros()).unwrap_or(0),
        };
        if left == 0 || left > 1 && over() {
            return None;
        }
        let bits = (0..self.elements).filter(|at| from & (1u128 << at) != 0);
        bits.filter(|at| (set | self.open) & (1u128 << at) == 0)
            .find_map(|at| self.meet(set | 1u128 << at, left - 1, over))
    }
}
