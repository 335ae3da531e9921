//! What the sellers say of each part on a day, in a currency: worked out once for all builds of
//! that day.

use std::sync::{Arc, OnceLock, PoisonError};

use jiff::civil::Date;

use super::offered::{Counted, Offered, offered};
use super::{Catalogue, Part};
use crate::source::{Source, Span};
use crate::trade::money::{Currency, Money};

/// What the offers say of a part on a day.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Price of one at the till, in the currency asked for.
    pub price: Option<Money>,
    /// What comes back by post for one.
    pub mail_rebate: Option<Money>,
    /// Credit for a later purchase that comes with one.
    pub credit: Option<Money>,
    /// What comes with one.
    pub bundle: Option<Arc<str>>,
    /// Its stated value.
    pub bundle_value: Option<Money>,
    /// Shipping of an order of this alone.
    pub shipping: Option<Money>,
    /// Offers in another currency for which no rate is stated: they do not count.
    pub left_out: u32,
    /// Pieces in stock over all sellers that state it.
    pub stock: Option<f64>,
    /// Sellers that have it or do not say.
    pub sellers: f64,
    /// Days since the chosen offer was seen.
    pub age_days: Option<f64>,
    /// Where the chosen offer is written.
    pub place: Option<(Arc<Source>, Span)>,
    /// What each seller takes, sellers in order of name.
    pub bids: Vec<SellerBid>,
}

/// What one seller takes for a part, in the currency asked for.
#[derive(Debug, Clone)]
pub struct SellerBid {
    /// Who; empty where a list states a price and no seller.
    pub seller: Arc<str>,
    /// Price of one at the till.
    pub price: Money,
    /// Shipping of an order of this alone.
    pub shipping: Option<Money>,
    /// Goods in one order from which the seller ships for nothing.
    pub free_from: Option<Money>,
    /// Pieces the seller has, where stated.
    pub stock: Option<u32>,
    /// What comes back by post for one.
    pub mail_rebate: Option<Money>,
    /// Credit for a later purchase that comes with one.
    pub credit: Option<Money>,
    /// What comes with one.
    pub bundle: Option<Arc<str>>,
    /// Its stated value.
    pub bundle_value: Option<Money>,
}

impl SellerBid {
    fn of(catalogue: &Catalogue, offer: &Counted<'_>) -> Self {
        let free_from = free_from(catalogue, &offer.offer.seller);
        Self {
            seller: offer.offer.seller.clone(),
            price: offer.till,
            shipping: offer.shipping,
            free_from: free_from.filter(|m| m.currency() == offer.till.currency()),
            stock: offer.offer.stock,
            mail_rebate: offer.mail_rebate,
            credit: offer.credit,
            bundle: offer.offer.bundle.as_ref().map(|(part, _)| part.clone()),
            bundle_value: offer.bundle_value,
        }
    }
}

/// The goods from which a seller ships for nothing, from table `seller`.
fn free_from(catalogue: &Catalogue, seller: &str) -> Option<Money> {
    let table = catalogue.table_named("seller")?;
    Money::parse(table.cell(seller, table.column("free_from")?).as_text()?).ok()
}

impl Facts {
    /// The bids for so many pieces, by their places. A seller that states too few pieces bids only
    /// where no other has enough, and one that has none only where all have none.
    pub fn bids_for(&self, count: i64) -> impl Iterator<Item = (usize, &SellerBid)> {
        let enough = move |b: &SellerBid| b.stock.is_none_or(|n| i64::from(n) >= count);
        let some = |b: &SellerBid| b.stock != Some(0);
        let (any_enough, any_some) = (self.bids.iter().any(enough), self.bids.iter().any(some));
        self.bids.iter().enumerate().filter(move |(_, bid)| match (any_enough, any_some) {
            (true, _) => enough(bid),
            (_, true) => some(bid),
            _ => true,
        })
    }

    fn of(catalogue: &Catalogue, part: &str, currency: &Arc<str>, day: Date) -> Self {
        let Offered { offers, left_out } = offered(catalogue, part, currency, day);
        let open = offers.iter().filter(|o| o.offer.stock != Some(0)).count();
        let pool = offers.iter().filter(|o| open == 0 || o.offer.stock != Some(0));
        let best = pool.min_by_key(|o| (o.till.minor(), o.offer.seller.clone()));
        Self {
            price: best.map(|o| o.till),
            mail_rebate: best.and_then(|o| o.mail_rebate),
            credit: best.and_then(|o| o.credit),
            bundle: best.and_then(|o| o.offer.bundle.as_ref().map(|(part, _)| part.clone())),
            bundle_value: best.and_then(|o| o.bundle_value),
            shipping: best.and_then(|o| o.shipping),
            left_out,
            stock: offers.iter().filter_map(|o| o.offer.stock).map(f64::from).reduce(|a, b| a + b),
            sellers: open as f64,
            age_days: best.map(|o| days_between(o.offer.seen_on, day)),
            place: best.map(|o| o.offer.place()),
            bids: offers.iter().map(|o| SellerBid::of(catalogue, o)).collect(),
        }
    }
}

/// The offers of a day in a currency, looked at part by part as they are asked for.
#[derive(Debug)]
pub struct Market {
    currency: Arc<str>,
    day: Date,
    /// Decimals of the currency's smallest unit.
    digits: u8,
    /// Which catalogue's.
    catalogue: u32,
    /// By the part's place in the catalogue.
    facts: Box<[OnceLock<Box<Facts>>]>,
}

/// Markets that a catalogue keeps: every build of a session is of the same one as a rule, and two
/// lists that are mixed of two.
const KEPT: usize = 4;

impl Market {
    /// Decimals of the currency's smallest unit.
    pub(crate) fn digits(&self) -> u8 {
        self.digits
    }

    /// What the offers say of a part of the catalogue; none for one that is not of it, such as a
    /// rule case writes.
    pub fn known(&self, catalogue: &Catalogue, part: &Part) -> Option<&Facts> {
        if part.place.catalogue != self.catalogue {
            return None;
        }
        Some(
            self.facts
                .get(part.place.at as usize)?
                .get_or_init(|| Box::new(self.facts(catalogue, part))),
        )
    }

    /// What the offers say of a part's id, worked out anew.
    pub fn facts(&self, catalogue: &Catalogue, part: &Part) -> Facts {
        Facts::of(catalogue, &part.id, &self.currency, self.day)
    }
}

impl Catalogue {
    /// The offers of a day in a currency.
    pub fn market(&self, currency: &Arc<str>, day: Date) -> Arc<Market> {
        // What a thread that panicked left is whole all the same: only the list changes under the
        // lock.
        let mut markets = self.markets.lock().unwrap_or_else(PoisonError::into_inner);
        let market = match markets.iter().position(|m| m.day == day && m.currency == *currency) {
            Some(at) => markets.remove(at),
            None => self.new_market(currency, day),
        };
        markets.insert(0, market.clone());
        markets.truncate(KEPT);
        market
    }

    fn new_market(&self, currency: &Arc<str>, day: Date) -> Arc<Market> {
        Arc::new(Market {
            currency: currency.clone(),
            day,
            digits: Currency::from_code(currency).map_or(2, Currency::minor_digits),
            catalogue: self.number,
            facts: self.slots.iter().map(|_| OnceLock::new()).collect(),
        })
    }
}

/// Days from a day to another.
pub(crate) fn days_between(from: Date, to: Date) -> f64 {
    from.until(to).map_or(0.0, |span| f64::from(span.get_days()))
}

#[cfg(test)]
#[path = "../../tests/unit/catalogue/market.rs"]
mod tests;
