//! Parts that a search need not look at: as many others as answers are wanted may take their place
//! wherever they pass, score no worse, and cost no more.
//!
//! Which figures decide that is read from the rules' trees (`needs`). A tree knows only the ways
//! that some build took, so when a search is over, the parts left out are held to the trees as they
//! are then; where one is no longer dominated, or an answer was refused by what no tree shows, the
//! search goes on with them.

use std::cmp::Ordering;
use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;

use crate::catalogue::value::Val;

use super::cache::State;
use super::needs::{Figure, Needs};
use super::query::{Goal, Keep};
use super::solve::Search;
use super::space::{Choice, Place, Space};

/// Choices of a place from which on dominated ones are looked for at once.
const MANY_CHOICES: usize = 1_000;
/// How often a search goes on with parts that turned out not to be dominated.
const ROUNDS: usize = 4;

/// What is known of dominated parts in one search.
#[derive(Default)]
pub(super) enum Dominated {
    /// Nothing yet.
    #[default]
    NotLooked,
    /// The choices of each place that are kept; none where all are.
    Kept(Vec<Option<Rc<[u32]>>>),
    /// Every choice is looked at.
    Off,
}

impl Search<'_, '_> {
    /// How many others must dominate a part: the number of answers that are wanted.
    fn answers_wanted(&self) -> Option<usize> {
        match self.quest.keep {
            Keep::Best(count) => Some(count.max(1)),
            Keep::Front => Some(1),
            Keep::All(_) => None,
        }
    }

    /// Of a measure that is aimed at: whether more of it is better.
    pub(super) fn aims_most(&self, track: usize) -> Option<bool> {
        let goals = self.quest.goals.iter().filter_map(|goal| match goal {
            Goal::Measure { most, .. } => Some(*most),
            _ => None,
        });
        goals.into_iter().nth(track.checked_sub(self.stoppers)?)
    }

    /// Takes the dominated choices out of a state; the places that lost some, or none when one lost
    /// all.
    pub(super) fn drop_dominated(&mut self, state: &mut State) -> Option<u64> {
        let from = self.quest.limits.dominance_after;
        let many = self.out.boxes > 1 && from < u64::MAX && self.has_many_choices();
        if matches!(self.dominated, Dominated::NotLooked) && (many || self.out.boxes >= from) {
            self.dominated = self.find_dominated().map_or(Dominated::Off, Dominated::Kept);
        }
        let Dominated::Kept(kept) = &self.dominated else { return Some(0) };
        let mut fell = 0;
        for (place, kept) in kept.iter().enumerate() {
            let (Some(kept), Some(dom)) = (kept, state.doms.get(place)) else { continue };
            let left: Vec<u32> =
                dom.alive.iter().copied().filter(|c| kept.binary_search(c).is_ok()).collect();
            if left.is_empty() {
                return None;
            }
            if left.len() < dom.alive.len() {
                self.notes.narrow(state, place, left.into());
                fell |= self.notes.mask(place);
            }
        }
        Some(fell)
    }

    /// Whether some place has so many choices that looking pays from the start.
    fn has_many_choices(&self) -> bool {
        let Some(root) = &self.root else { return false };
        root.doms.iter().any(|dom| dom.alive.len() > MANY_CHOICES)
    }

    /// Whether a choice is dominated, as far as is known.
    pub(super) fn is_dominated(&self, place: usize, choice: u32) -> bool {
        let Dominated::Kept(kept) = &self.dominated else { return false };
        let kept = kept.get(place).and_then(Option::as_ref);
        kept.is_some_and(|kept| kept.binary_search(&choice).is_err())
    }

    /// Goes on with what was left out and should not have been, until nothing is.
    pub(super) fn settle_dominated(&mut self) {
        for round in 0.. {
            let Dominated::Kept(then) = std::mem::take(&mut self.dominated) else { return };
            let Some(root) = self.root.clone().filter(|_| !self.halted) else { return };
            let now = match round < ROUNDS && !self.refused_unseen {
                true => self.find_dominated(),
                false => None,
            };
            let within =
                |then: &[u32], now: &[u32]| now.iter().all(|c| then.binary_search(c).is_ok());
            let still = |then: Option<&[u32]>, now: Option<&[u32]>| {
                then.is_none_or(|then| now.is_some_and(|now| within(then, now)))
            };
            let same = |now: &Vec<Option<Rc<[u32]>>>| {
                then.iter().zip(now).all(|(then, now)| still(then.as_deref(), now.as_deref()))
            };
            if now.as_ref().is_some_and(same) {
                return;
            }
            self.dominated = now.map_or(Dominated::Off, Dominated::Kept);
            self.start(root);
        }
    }

    /// The choices of each place that are kept at the root; none where nothing is dominated.
    fn find_dominated(&mut self) -> Option<Vec<Option<Rc<[u32]>>>> {
        let wanted = self.answers_wanted()?;
        let root = self.root.clone()?;
        let places = &self.quest.space.places;
        let mut needs = Needs::new(places.len());
        for track in 0..self.tracks.len() {
            let most = self.aims_most(track);
            self.with(track, &root, None, |t, tree, sight| match most {
                Some(most) => needs.goal(tree, sight, most),
                None => needs.rule(t, tree, sight),
            })?;
        }
        let freight = Freight::of(self.quest.space);
        let mut all = Vec::new();
        for (at, place) in places.iter().enumerate() {
            let alive = root.doms.get(at)?.alive.clone();
            let figures = match alive.len() > wanted {
                true => self.with(0, &root, None, |_, _, sight| needs.of(at, sight)).flatten(),
                false => None,
            };
            let kept = figures.map(|f| {
                Compared { space: self.quest.space, place, figures: &f, freight: &freight }
                    .kept(&alive, wanted)
            });
            all.push(kept.filter(|kept| kept.len() < alive.len()).map(Rc::from));
        }
        all.iter().any(Option::is_some).then_some(all)
    }
}

/// The dearest shipping of each seller's bids.
struct Freight(HashMap<Arc<str>, i64>);

impl Freight {
    fn of(space: &Space) -> Self {
        let mut dearest = HashMap::new();
        for choice in space.places.iter().flat_map(|p| &p.choices).filter(|c| !c.line.owned) {
            for (_, bid) in choice.facts(space).bids_for(i64::from(choice.line.count)) {
                let held: &mut i64 = dearest.entry(bid.seller.clone()).or_default();
                *held = (*held).max(bid.shipping.map_or(0, |m| m.minor()));
            }
        }
        Self(dearest)
    }
}

/// What one seller takes for all pieces of a choice.
struct Bid {
    seller: Arc<str>,
    goods: i64,
    shipping: i64,
    has_free: bool,
}

/// The choices of one place, side by side.
struct Compared<'a> {
    space: &'a Space,
    place: &'a Place,
    figures: &'a [Figure],
    freight: &'a Freight,
}

/// A choice with what decides; less of a figure is better.
struct Row {
    choice: u32,
    goods: i64,
    figures: Box<[f64]>,
    bids: Vec<Bid>,
}

impl Compared<'_> {
    /// The choices that fewer than so many others dominate, in order.
    fn kept(&self, alive: &[u32], wanted: usize) -> Vec<u32> {
        let mut groups: HashMap<Vec<u64>, Vec<Row>> = HashMap::new();
        let mut kept = Vec::new();
        for at in alive {
            let Some(choice) = self.place.choices.get(*at as usize) else { continue };
            if choice.part.values.iter().any(|v| matches!(v, Val::Unknown)) {
                // What nobody knows of it may let it pass or not.
                kept.push(*at);
                continue;
            }
            let (key, row) = self.row(*at, choice);
            groups.entry(key).or_default().push(row);
        }
        for rows in groups.values_mut() {
            // What dominates another stands before it.
            rows.sort_by(|a, b| {
                let figures = a.figures.iter().zip(&b.figures).map(|(a, b)| a.total_cmp(b));
                let figures = figures.fold(Ordering::Equal, Ordering::then);
                a.goods.cmp(&b.goods).then(figures).then(a.choice.cmp(&b.choice))
            });
            let mut better: Vec<&Row> = Vec::new();
            for row in rows.iter() {
                let over = better.iter().filter(|held| self.dominates(held, row));
                if over.take(wanted).count() < wanted {
                    better.push(row);
                }
            }
            kept.extend(better.iter().map(|row| row.choice));
        }
        kept.sort_unstable();
        kept
    }

    /// What must be the same for one choice to dominate another, and the rest.
    fn row(&self, at: u32, choice: &Choice) -> (Vec<u64>, Row) {
        let mut key = vec![u64::from(choice.line.owned), u64::from(choice.priced)];
        let mut figures = vec![choice.loss as f64];
        for figure in self.figures {
            let (same, less) = figure.of(at);
            key.push(same);
            figures.push(less.unwrap_or(0.0));
        }
        let count = i64::from(choice.line.count);
        let bids = choice.facts(self.space).bids_for(count).map(|(_, bid)| Bid {
            seller: bid.seller.clone(),
            goods: bid.price.minor().saturating_mul(count),
            shipping: bid.shipping.map_or(0, |m| m.minor()),
            has_free: bid.free_from.is_some(),
        });
        let bids = if choice.line.owned { Vec::new() } else { bids.collect() };
        (key, Row { choice: at, goods: choice.costs.goods(), figures: figures.into(), bids })
    }

    fn dominates(&self, one: &Row, other: &Row) -> bool {
        one.figures.iter().zip(&other.figures).all(|(a, b)| a <= b)
            && other.bids.iter().all(|dear| one.bids.iter().any(|bid| self.is_cheaper(bid, dear)))
    }

    /// Whether a bid can take another's place in any order, which then costs no more: goods that
    /// cost less may miss the sum from which a seller ships for nothing.
    fn is_cheaper(&self, bid: &Bid, dear: &Bid) -> bool {
        let less = dear.goods - bid.goods;
        let lost = if bid.has_free { self.freight.0.get(&bid.seller).copied() } else { None };
        bid.seller == dear.seller
            && bid.shipping <= dear.shipping
            && (less == 0 || less > 0 && less >= lost.unwrap_or(0))
    }
}
