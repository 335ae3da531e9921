//! What the builds of a box come to at the least and at the most, with the shipping of their
//! orders.
//!
//! Which sellers a build is ordered from decides what shipping costs. So for each mix of sellers
//! the cheapest goods that they have are added up, with what they ship for at the least, or with
//! the goods from which they ship for nothing; the least over all mixes is a bound. A box of one
//! build is split into orders as an audit does it.

use std::sync::Arc;

use crate::build::orders::Cart;
use crate::catalogue::market::Facts;

use super::cache::{Dom, Notes, State};
use super::space::{Choice, Space};

/// Most sellers whose shipping counts in a bound; that of the others is taken for nothing.
const MOST_CHARGING: usize = 4;
/// More than any build comes to; so many of them can be added.
const NONE: i64 = i64::MAX >> 12;

/// Sellers that charge for shipping, and the ways to order from them.
#[derive(Default)]
pub(crate) struct Charging {
    sellers: Vec<Arc<str>>,
    mixes: Vec<Mix>,
    /// What shipping comes to at the most.
    most: i64,
}

/// Some of the sellers that charge, each of which is paid for shipping or ships for nothing.
#[derive(Clone, Copy)]
struct Mix {
    sellers: usize,
    paid: i64,
    /// Goods that those need that ship for nothing.
    goods: i64,
}

/// A seller and what its orders ship for, in the currency's smallest units.
struct Shipper {
    name: Arc<str>,
    bids: usize,
    least: i64,
    most: i64,
    /// Goods from which it ships for nothing.
    free_from: Option<i64>,
}

/// What a choice costs, shipping included or not.
pub(crate) struct Costs {
    /// Goods at the least, by the set of sellers that charge and may be ordered from.
    least: Box<[i64]>,
    /// What an order of this alone comes to at the least.
    alone: i64,
}

/// What the choices of a place that are still looked at cost.
pub(super) struct PlaceCosts {
    least: Box<[i64]>,
    most_goods: i64,
    most_alone: i64,
}

impl Charging {
    /// Finds out which sellers charge, from the bids for every choice and its pieces.
    pub(super) fn new<'a>(bids: impl Iterator<Item = (&'a Facts, i64)>) -> Self {
        let mut sellers: Vec<Shipper> = Vec::new();
        for bid in bids.flat_map(|(facts, count)| facts.bids_for(count).map(|(_, bid)| bid)) {
            let shipping = bid.shipping.map_or(0, |m| m.minor());
            match sellers.iter_mut().find(|s| s.name == bid.seller) {
                Some(seller) => {
                    seller.bids += 1;
                    seller.least = seller.least.min(shipping);
                    seller.most = seller.most.max(shipping);
                }
                None => sellers.push(Shipper {
                    name: bid.seller.clone(),
                    bids: 1,
                    least: shipping,
                    most: shipping,
                    free_from: bid.free_from.map(|m| m.minor()),
                }),
            }
        }
        sellers.retain(|s| s.most > 0 && s.free_from.is_none_or(|from| from > 0));
        let most = sellers.iter().map(|s| s.most).fold(0, i64::saturating_add);
        sellers.retain(|s| s.least > 0);
        sellers.sort_by(|a, b| b.bids.cmp(&a.bids).then_with(|| a.name.cmp(&b.name)));
        sellers.truncate(MOST_CHARGING);
        let mut mixes = vec![Mix { sellers: 0, paid: 0, goods: 0 }];
        for (at, seller) in sellers.iter().enumerate() {
            for held in mixes.clone() {
                let with = Mix { sellers: held.sellers | 1 << at, ..held };
                mixes.push(Mix { paid: held.paid + seller.least, ..with });
                mixes.extend(seller.free_from.map(|from| Mix { goods: held.goods + from, ..with }));
            }
        }
        Self { sellers: sellers.into_iter().map(|s| s.name).collect(), mixes, most }
    }

    /// What a choice costs; nothing where nobody offers it.
    pub(super) fn costs(&self, facts: &Facts, count: i64) -> Costs {
        let mut least = vec![NONE; 1 << self.sellers.len()];
        let (mut alone, mut any) = (NONE, false);
        for (_, bid) in facts.bids_for(count) {
            any = true;
            let goods = bid.price.minor().saturating_mul(count);
            alone = alone.min(goods + bid.shipping.map_or(0, |m| m.minor()));
            let charging = self.sellers.iter().position(|s| *s == bid.seller);
            for (mask, least) in least.iter_mut().enumerate() {
                if charging.is_none_or(|at| mask & 1 << at != 0) {
                    *least = (*least).min(goods);
                }
            }
        }
        if any { Costs { least: least.into(), alone } } else { self.nothing() }
    }

    /// What costs nothing: the customer's own.
    pub(super) fn nothing(&self) -> Costs {
        Costs { least: vec![0; 1 << self.sellers.len()].into(), alone: 0 }
    }
}

impl Costs {
    /// Goods at the least, whoever sells them.
    pub(crate) fn goods(&self) -> i64 {
        self.least.last().copied().unwrap_or(0)
    }
}

impl PlaceCosts {
    fn over<'c>(choices: impl Iterator<Item = &'c Choice>, kinds: usize) -> Self {
        let mut over = Self { least: vec![NONE; kinds].into(), most_goods: 0, most_alone: 0 };
        for choice in choices {
            over.most_goods = over.most_goods.max(choice.costs.goods());
            over.most_alone = over.most_alone.max(choice.costs.alone);
            for (held, least) in over.least.iter_mut().zip(&choice.costs.least) {
                *held = (*held).min(*least);
            }
        }
        over
    }
}

impl Space {
    /// Whether no seller charges for shipping.
    pub(super) fn ships_for_nothing(&self) -> bool {
        self.charging.most == 0
    }

    /// What a build comes to, goods and shipping; none where the split into orders is not proven,
    /// or a choice is missing.
    pub(super) fn exact_total(&self, pick: impl Fn(usize) -> Option<u32>) -> Option<i64> {
        let mut cart = Cart::default();
        for (at, place) in self.places.iter().enumerate() {
            let choice = place.choices.get(pick(at)? as usize)?;
            if !choice.line.owned {
                cart.add(choice.facts(self), i64::from(choice.line.count));
            }
        }
        let total = cart.total();
        (total.proven || cart.is_empty()).then(|| total.total())
    }
}

/// What the builds of a state come to at the least and at the most, with a choice pinned if need
/// be; exactly where nothing is left to choose.
pub(super) fn total_span(
    space: &Space,
    notes: &mut Notes,
    state: &State,
    pin: Option<(usize, u32)>,
) -> (i64, i64) {
    let pinned = |at: usize| pin.filter(|(place, _)| *place == at).map(|(_, choice)| choice);
    let one = |at: usize| pinned(at).or_else(|| state.doms.get(at).and_then(Dom::single));
    let picks: Option<Box<[u32]>> = (0..space.places.len()).map(one).collect();
    let exact = |picks: &[u32]| space.exact_total(|at| picks.get(at).copied());
    if let Some(total) = picks.and_then(|picks| notes.whole_total(picks, exact)) {
        return (total, total);
    }
    rough_span(space, notes, state, pin)
}

/// The same without splitting a whole build into orders, which takes longest.
pub(super) fn rough_span(
    space: &Space,
    notes: &mut Notes,
    state: &State,
    pin: Option<(usize, u32)>,
) -> (i64, i64) {
    if let Some((place, choice)) = pin
        && let Some(choice) = space.places.get(place).and_then(|p| p.choices.get(choice as usize))
    {
        let stamp = state.stamp;
        let held = notes.rest.take().filter(|(at, of, _)| (*at, *of) == (stamp, place));
        let rest = held.map_or_else(|| sums(space, notes, state, Some(place)), |(.., rest)| rest);
        let costs = &choice.costs;
        let span = rest.span(space, |mask| costs.least.get(mask).copied().unwrap_or(0), costs);
        notes.rest = Some((stamp, place, rest));
        return span;
    }
    let rest = sums(space, notes, state, None);
    rest.span(space, |_| 0, &Costs { least: Box::default(), alone: 0 })
}

/// What places cost together: goods at the least by set of sellers, goods at the most, and orders
/// of each alone.
pub(super) struct CostSums {
    least: Vec<i64>,
    goods: i64,
    alone: i64,
}

impl CostSums {
    /// The least and the most that these come to with one choice more.
    fn span(&self, space: &Space, more: impl Fn(usize) -> i64, of: &Costs) -> (i64, i64) {
        let goods = self.goods.saturating_add(of.goods());
        let alone = self.alone.saturating_add(of.alone);
        let of = |mix: &Mix| {
            let held = self.least.get(mix.sellers).copied().unwrap_or(0);
            held.saturating_add(more(mix.sellers)).max(mix.goods).saturating_add(mix.paid)
        };
        let lowest = space.charging.mixes.iter().map(of).min().unwrap_or(0);
        (lowest, goods.saturating_add(space.charging.most).min(alone).max(lowest))
    }
}

/// What the goods of places come to at the least, where those of `goes` may be dropped as long as
/// one of their kind stays; in the currency's smallest unit.
pub(super) fn least_goods(space: &Space, notes: &mut Notes, state: &State, goes: &[bool]) -> i64 {
    let kinds = 1 << space.charging.sellers.len();
    let mut goods = |at: usize| {
        let (Some(place), Some(dom)) = (space.places.get(at), state.doms.get(at)) else { return 0 };
        let costs = notes.place_costs(at, dom, || {
            let alive = dom.alive.iter().filter_map(|c| place.choices.get(*c as usize));
            PlaceCosts::over(alive, kinds)
        });
        costs.least.last().copied().unwrap_or(0)
    };
    let may_go = |at: &usize| goes.get(*at).copied().unwrap_or_default();
    let mut least = 0i64;
    for places in &space.own {
        let stay: Vec<usize> = places.iter().copied().filter(|at| !may_go(at)).collect();
        let of_kind = match stay.is_empty() {
            true => places.iter().map(|at| goods(*at)).min().unwrap_or(0),
            false => stay.into_iter().map(&mut goods).fold(0, i64::saturating_add),
        };
        least = least.saturating_add(of_kind);
    }
    least
}

/// What all places but one cost.
fn sums(space: &Space, notes: &mut Notes, state: &State, but: Option<usize>) -> CostSums {
    let kinds = 1 << space.charging.sellers.len();
    let mut sums = CostSums { least: vec![0i64; kinds], goods: 0, alone: 0 };
    let places = space.places.iter().zip(&state.doms).enumerate();
    for (at, (place, dom)) in places.filter(|(at, _)| Some(*at) != but) {
        let costs = notes.place_costs(at, dom, || {
            let alive = dom.alive.iter().filter_map(|c| place.choices.get(*c as usize));
            PlaceCosts::over(alive, kinds)
        });
        sums.least.iter_mut().zip(&costs.least).for_each(|(s, n)| *s = s.saturating_add(*n));
        sums.goods = sums.goods.saturating_add(costs.most_goods);
        sums.alone = sums.alone.saturating_add(costs.most_alone);
    }
    sums
}
