//! Orders: which line is bought from whom, so that goods and shipping together cost least.

use std::sync::Arc;

use jiff::civil::Date;

use super::resolve::{Resolved, Slot};
use crate::catalogue::market::{Facts, SellerBid};
use crate::catalogue::offered::{Counted, Stated, offered};
use crate::trade::money::Money;
use crate::trade::split::{Bid, Order, cheapest};

/// The cheapest way to order a build.
#[derive(Debug, Clone, Default)]
pub struct Orders {
    /// One order a seller, sellers in order of name.
    pub orders: Vec<SellerOrder>,
    /// Lines that nobody offers, by their place in the build.
    pub unpriced: Vec<usize>,
    /// Goods over all orders, in smallest units.
    pub goods: i64,
    /// Shipping over all orders, in smallest units.
    pub shipping: i64,
    /// Whether no cheaper split exists.
    pub proven: bool,
}

/// What is bought from one seller.
#[derive(Debug, Clone)]
pub struct SellerOrder {
    /// Who; empty where a rule case states a price and no seller.
    pub seller: Arc<str>,
    /// What, in the order of the build.
    pub lines: Vec<OrderLine>,
    /// Goods at the till.
    pub goods: Money,
    /// Shipping.
    pub shipping: Money,
    /// Goods from which the seller ships for nothing, if stated.
    pub free_from: Option<Money>,
}

/// One line of an order.
#[derive(Debug, Clone)]
pub struct OrderLine {
    /// Its place among the lines of the build.
    pub line: usize,
    /// The part's id.
    pub part: Arc<str>,
    /// The part's name.
    pub name: Arc<str>,
    /// Pieces.
    pub count: i64,
    /// One, at the till.
    pub each: Money,
    /// All of them.
    pub sum: Money,
    /// The day the offer was seen.
    pub seen_on: Option<Date>,
    /// Pieces the seller has, where stated.
    pub stock: Option<u32>,
    /// Taken off at the till, for one.
    pub instant_off: Option<Money>,
    /// Comes back by post, for one.
    pub mail_rebate: Option<Money>,
    /// Credit for a later purchase, for one.
    pub credit: Option<Money>,
    /// What comes with it.
    pub bundle: Option<Arc<str>>,
    /// Where the offer is to be seen.
    pub link: Option<Arc<str>>,
    /// The rate it was converted at.
    pub rate: Option<Stated>,
}

/// What is to be bought, line by line, with what each seller takes for it.
#[derive(Default)]
pub(crate) struct Cart<'a> {
    sellers: Vec<(&'a str, Option<i64>)>,
    items: Vec<Vec<(Bid, &'a SellerBid)>>,
}

/// What a cart comes to, in smallest units.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CartTotal {
    /// Goods over all orders.
    pub goods: i64,
    /// Shipping over all orders.
    pub shipping: i64,
    /// How many orders.
    pub orders: usize,
    /// Whether no cheaper split exists.
    pub proven: bool,
}

impl CartTotal {
    /// Goods and shipping.
    pub fn total(&self) -> i64 {
        self.goods.saturating_add(self.shipping)
    }
}

impl<'a> Cart<'a> {
    /// Adds a line; whether anybody offers it.
    pub(crate) fn add(&mut self, facts: &'a Facts, count: i64) -> bool {
        let mut bids = Vec::with_capacity(facts.bids.len());
        for (_, of) in facts.bids_for(count) {
            let known = self.sellers.iter().position(|(name, _)| *name == &*of.seller);
            let seller = known.unwrap_or_else(|| {
                self.sellers.push((&of.seller, of.free_from.map(|m| m.minor())));
                self.sellers.len() - 1
            });
            let goods = of.price.minor().saturating_mul(count);
            bids.push((Bid { seller, goods, shipping: of.shipping.map_or(0, |m| m.minor()) }, of));
        }
        let any = !bids.is_empty();
        if any {
            self.items.push(bids);
        }
        any
    }

    /// The cheapest split: the bid taken for each line that was added and has one, the shipping by
    /// seller, and what it comes to.
    fn split(&self) -> (Vec<&'a SellerBid>, Vec<(&'a str, i64)>, CartTotal) {
        let order = Order {
            items: self
                .items
                .iter()
                .map(|bids| bids.iter().map(|(bid, _)| *bid).collect())
                .collect(),
            free_from: self.sellers.iter().map(|(_, from)| *from).collect(),
        };
        let Some(split) = cheapest(&order) else { return Default::default() };
        let taken: Vec<&(Bid, &SellerBid)> =
            self.items.iter().zip(&split.bids).filter_map(|(bids, at)| bids.get(*at)).collect();
        let mut used: Vec<usize> = taken.iter().map(|(bid, _)| bid.seller).collect();
        used.sort_unstable();
        used.dedup();
        let total = CartTotal {
            goods: taken.iter().map(|(bid, _)| bid.goods).sum(),
            shipping: split.shipping.iter().sum(),
            orders: used.len(),
            proven: split.proven,
        };
        let shipping = used
            .iter()
            .filter_map(|at| Some((self.sellers.get(*at)?.0, split.shipping.get(*at).copied()?)));
        (taken.iter().map(|(_, of)| *of).collect(), shipping.collect(), total)
    }

    /// Whether nothing is to be bought that somebody offers.
    pub(crate) fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// What the cheapest split comes to.
    pub(crate) fn total(&self) -> CartTotal {
        self.split().2
    }
}

/// The lines that are to be bought and have a part.
fn to_buy(build: &Resolved) -> impl Iterator<Item = &Slot> {
    let bought = |s: &&Slot| !s.owned && !s.included && s.part.is_some();
    build.slots_in_order().filter(bought)
}

/// What a build comes to, and whose bid is taken for each of its lines that somebody offers.
pub(super) fn bought(build: &Resolved) -> (CartTotal, Vec<(&Slot, &SellerBid)>) {
    let mut cart = Cart::default();
    let slots: Vec<&Slot> =
        to_buy(build).filter(|s| cart.add(build.facts(s), s.count as i64)).collect();
    let (taken, _, total) = cart.split();
    (total, slots.into_iter().zip(taken).collect())
}

/// What each line of a build costs as it is ordered, all its pieces together; none for one that is
/// not bought, or that nobody offers.
pub fn line_costs(build: &Resolved) -> Vec<Option<Money>> {
    let mut costs = vec![None; build.build.lines.len()];
    for (slot, bid) in bought(build).1 {
        if let Some(cost) = costs.get_mut(slot.line) {
            *cost = bid.price.times(slot.count as i64).ok();
        }
    }
    costs
}

/// A line of an order, with what its offer says beside the price.
fn line(build: &Resolved, slot: &Slot, bid: &SellerBid) -> OrderLine {
    let count = slot.count as i64;
    let (part, name) = slot
        .part
        .as_ref()
        .map_or_else(|| ("".into(), "".into()), |p| (p.id.clone(), p.name.clone()));
    let offers = offered(&build.catalogue, &part, &build.build.currency, build.build.priced_on);
    let stated = build.build.lines.get(slot.line).is_some_and(|l| l.stated.is_some());
    let own = |o: &&Counted<'_>| !stated && o.offer.seller == bid.seller;
    let offer = offers.offers.iter().find(own);
    OrderLine {
        line: slot.line,
        part,
        name,
        count,
        each: bid.price,
        sum: bid.price.times(count).unwrap_or(bid.price),
        seen_on: offer.map(|o| o.offer.seen_on),
        stock: bid.stock,
        instant_off: offer
            .and_then(|o| o.offer.instant_off)
            .filter(|m| m.currency() == bid.price.currency()),
        mail_rebate: bid.mail_rebate,
        credit: bid.credit,
        bundle: bid.bundle.clone(),
        link: offer.and_then(|o| o.offer.link.clone()),
        rate: offer.and_then(|o| o.rate.clone()),
    }
}

/// Works the cheapest orders out. Lines left open and lines without an offer are left out.
pub fn orders(build: &Resolved) -> Orders {
    let mut cart = Cart::default();
    let (offered, unpriced): (Vec<&Slot>, Vec<&Slot>) =
        to_buy(build).partition(|slot| cart.add(build.facts(slot), slot.count as i64));
    let (taken, mut shipping, total) = cart.split();
    shipping.sort_unstable();
    let mut result = Orders {
        orders: Vec::new(),
        unpriced: unpriced.iter().map(|slot| slot.line).collect(),
        goods: total.goods,
        shipping: total.shipping,
        proven: total.proven || taken.is_empty(),
    };
    let Some(currency) = taken.first().map(|b| b.price.currency()) else { return result };
    for (seller, cost) in shipping {
        let own: Vec<(&Slot, &SellerBid)> = offered
            .iter()
            .copied()
            .zip(taken.iter().copied())
            .filter(|(_, bid)| *bid.seller == *seller)
            .collect();
        let Some((_, first)) = own.first() else { continue };
        let (seller, free_from) = (first.seller.clone(), first.free_from);
        let mut lines: Vec<OrderLine> =
            own.iter().map(|(slot, bid)| line(build, slot, bid)).collect();
        lines.sort_by_key(|l| l.line);
        let goods = lines.iter().map(|l| l.sum.minor()).sum();
        result.orders.push(SellerOrder {
            seller,
            lines,
            goods: Money::from_minor(goods, currency),
            shipping: Money::from_minor(cost, currency),
            free_from,
        });
    }
    result
}
