//! What the builds of a box come to at the least and at the most, with the shipping of their
//! orders.
//!
//! Which sellers a build is ordered from decides what shipping costs. So for each mix of sellers
//! the cheapest goods that they have are added up, with what they ship for at the least, or with
//! the goods from which they ship for nothing; the least over all mixes is a bound. A box of one
//! build is split into orders as an audit does it.

use std::rc::Rc;
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
/// be.
pub(super) fn total_span(
    space: &Space,
    notes: &mut Notes,
    state: &State,
    pin: Option<(usize, u32)>,
) -> (i64, i64) {
    let pinned = |at: usize| pin.filter(|(place, _)| *place == at).map(|(_, choice)| choice);
    let one = |at: usize| pinned(at).or_else(|| state.doms.get(at).and_then(Dom::single));
    if let Some(total) = space.exact_total(one) {
        return (total, total);
    }
    let kinds = 1 << space.charging.sellers.len();
    let mut least = vec![0i64; kinds];
    let (mut goods, mut alone) = (0i64, 0i64);
    for (at, (place, dom)) in space.places.iter().zip(&state.doms).enumerate() {
        let costs = match pinned(at) {
            Some(choice) => {
                let only = place.choices.get(choice as usize).into_iter();
                Rc::new(PlaceCosts::over(only, kinds))
            }
            None => notes.place_costs(at, dom, || {
                let alive = dom.alive.iter().filter_map(|c| place.choices.get(*c as usize));
                PlaceCosts::over(alive, kinds)
            }),
        };
        least.iter_mut().zip(&costs.least).for_each(|(sum, n)| *sum = sum.saturating_add(*n));
        goods = goods.saturating_add(costs.most_goods);
        alone = alone.saturating_add(costs.most_alone);
    }
    let of = |mix: &Mix| {
        let goods = least.get(mix.sellers).copied().unwrap_or(0);
        goods.max(mix.goods).saturating_add(mix.paid)
    };
    let lowest = space.charging.mixes.iter().map(of).min().unwrap_or(0);
    (lowest, goods.saturating_add(space.charging.most).min(alone).max(lowest))
}
