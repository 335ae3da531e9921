//! Orders: which line is bought from whom, so that goods and shipping together cost least.

use std::sync::Arc;

use jiff::civil::Date;

use super::resolve::{Resolved, Slot};
use crate::catalogue::Catalogue;
use crate::catalogue::offered::{Counted, Stated, offered};
use crate::trade::money::{Currency, Money};
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
    /// Shipping of an order of this alone.
    shipping: Money,
    seller: Arc<str>,
}

/// The goods from which a seller ships for nothing, from table `seller`.
fn free_from(catalogue: &Catalogue, seller: &str, currency: Currency) -> Option<Money> {
    let table = catalogue.table_id("seller").and_then(|id| catalogue.table(id))?;
    let text = table.cell(seller, table.column("free_from")?).as_text()?.clone();
    Money::parse(&text).ok().filter(|m| m.currency() == currency)
}

/// Every bid for a line. A seller that states too few pieces bids only where no other has enough.
fn bids(build: &Resolved, slot: &Slot) -> Vec<OrderLine> {
    let Some(part) = &slot.part else { return Vec::new() };
    let count = slot.count as i64;
    let line = |each: Money, seller: Arc<str>, shipping: Option<Money>| {
        let sum = each.times(count).unwrap_or(each);
        let shipping = shipping.unwrap_or_else(|| Money::zero(each.currency()));
        let (part, name) = (part.id.clone(), part.name.clone());
        OrderLine {
            line: slot.line,
            part,
            name,
            count,
            each,
            sum,
            seen_on: None,
            stock: None,
            instant_off: None,
            mail_rebate: None,
            credit: None,
            bundle: None,
            link: None,
            rate: None,
            shipping,
            seller,
        }
    };
    let stated = build.build.lines.get(slot.line).is_some_and(|l| l.stated.is_some());
    if stated {
        let facts = build.facts(slot);
        return facts
            .price
            .map(|price| line(price, "".into(), facts.shipping))
            .into_iter()
            .collect();
    }
    let offers =
        offered(&build.catalogue, &part.id, &build.build.currency, build.build.priced_on).offers;
    let enough = |o: &&Counted<'_>| o.offer.stock.is_none_or(|n| i64::from(n) >= count);
    let some = |o: &&Counted<'_>| o.offer.stock != Some(0);
    let pool: Vec<&Counted<'_>> =
        match (offers.iter().any(|o| enough(&o)), offers.iter().any(|o| some(&o))) {
            (true, _) => offers.iter().filter(enough).collect(),
            (_, true) => offers.iter().filter(some).collect(),
            _ => offers.iter().collect(),
        };
    pool.into_iter()
        .map(|o| OrderLine {
            seen_on: Some(o.offer.seen_on),
            stock: o.offer.stock,
            instant_off: o.offer.instant_off.filter(|m| m.currency() == o.till.currency()),
            mail_rebate: o.mail_rebate,
            credit: o.credit,
            bundle: o.offer.bundle.as_ref().map(|(part, _)| part.clone()),
            link: o.offer.link.clone(),
            rate: o.rate.clone(),
            ..line(o.till, o.offer.seller.clone(), o.shipping)
        })
        .collect()
}

/// Works the cheapest orders out. Lines left open and lines without an offer are left out.
pub fn orders(build: &Resolved) -> Orders {
    let mut result = Orders { proven: true, ..Orders::default() };
    let mut items: Vec<Vec<OrderLine>> = Vec::new();
    for (_, _, slot) in build.all().filter(|(_, _, s)| !s.owned && !s.included && s.part.is_some())
    {
        let bids = bids(build, slot);
        if bids.is_empty() {
            result.unpriced.push(slot.line);
        } else {
            items.push(bids);
        }
    }
    let mut sellers: Vec<Arc<str>> = items.iter().flatten().map(|b| b.seller.clone()).collect();
    sellers.sort();
    sellers.dedup();
    let Some(currency) = items.iter().flatten().next().map(|b| b.each.currency()) else {
        return result;
    };
    let free: Vec<Option<Money>> =
        sellers.iter().map(|s| free_from(&build.catalogue, s, currency)).collect();
    let bid = |b: &OrderLine| Bid {
        seller: sellers.iter().position(|s| *s == b.seller).unwrap_or(0),
        goods: b.sum.minor(),
        shipping: b.shipping.minor(),
    };
    let order = Order {
        items: items.iter().map(|bids| bids.iter().map(bid).collect()).collect(),
        free_from: free.iter().map(|f| f.map(|m| m.minor())).collect(),
    };
    let Some(split) = cheapest(&order) else { return result };
    result.proven = split.proven;
    for ((seller, shipping), free_from) in sellers.iter().zip(&split.shipping).zip(&free) {
        let mut lines: Vec<OrderLine> = items
            .iter()
            .zip(&split.bids)
            .filter_map(|(bids, at)| bids.get(*at))
            .filter(|b| b.seller == *seller)
            .cloned()
            .collect();
        if lines.is_empty() {
            continue;
        }
        lines.sort_by_key(|l| l.line);
        let goods: i64 = lines.iter().map(|l| l.sum.minor()).sum();
        result.goods += goods;
        result.shipping += shipping;
        result.orders.push(SellerOrder {
            seller: seller.clone(),
            lines,
            goods: Money::from_minor(goods, currency),
            shipping: Money::from_minor(*shipping, currency),
            free_from: *free_from,
        });
    }
    result
}
