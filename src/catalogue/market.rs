//! What the sellers say of each part on a day, in a currency: worked out once for all builds of
//! that day.

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, OnceLock, PoisonError};

use jiff::civil::Date;

use super::offered::{Offered, offered};
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
}

impl Facts {
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
            place: best.map(|o| o.offer.place.clone()),
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
    /// Prices alone, beside one another: every sum of every build asks for them. In the currency's
    /// smallest unit.
    prices: Box<[AtomicI64]>,
}

/// A price not looked up yet.
const UNSEEN: i64 = i64::MIN;
/// No price.
const UNPRICED: i64 = i64::MIN + 1;

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

    /// The price of one at the till in the currency's smallest unit, none where there is no offer;
    /// nothing is known of a part that is not of the catalogue.
    pub(crate) fn price(&self, catalogue: &Catalogue, part: &Part) -> Option<Option<i64>> {
        if part.place.catalogue != self.catalogue {
            return None;
        }
        let held = self.prices.get(part.place.at as usize)?;
        let mut minor = held.load(Ordering::Relaxed);
        if minor == UNSEEN {
            minor = self.known(catalogue, part)?.price.map_or(UNPRICED, |price| price.minor());
            held.store(minor, Ordering::Relaxed);
        }
        Some((minor != UNPRICED).then_some(minor))
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
            facts: self.parts.iter().map(|_| OnceLock::new()).collect(),
            prices: self.parts.iter().map(|_| AtomicI64::new(UNSEEN)).collect(),
        })
    }
}

/// Days from a day to another.
pub(crate) fn days_between(from: Date, to: Date) -> f64 {
    from.until(to).map_or(0.0, |span| f64::from(span.get_days()))
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::KEPT;
    use crate::catalogue::Catalogue;
    use crate::layer::Layer;

    fn catalogue() -> Catalogue {
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("it loads")
    }

    #[test]
    fn the_price_beside_the_others_is_that_of_the_offers_in_full() {
        let catalogue = catalogue();
        let mut priced = 0;
        for (currency, day) in [
            ("EUR", date(2026, 6, 30)),
            ("EUR", date(2026, 9, 1)),
            ("EUR", date(2026, 11, 20)),
            ("SEK", date(2026, 11, 20)),
        ] {
            let market = catalogue.market(&currency.into(), day);
            for part in &catalogue.parts {
                let full = market.facts(&catalogue, part).price;
                // The first look works it out, the second finds it.
                for _ in 0..2 {
                    assert_eq!(
                        market.price(&catalogue, part),
                        Some(full.map(|price| price.minor())),
                        "{} on {day} in {currency}",
                        part.id
                    );
                }
                assert_eq!(market.known(&catalogue, part).and_then(|facts| facts.price), full);
                priced += usize::from(full.is_some());
            }
        }
        assert!(priced > 500, "{priced} prices");
    }

    #[test]
    fn a_part_of_another_catalogue_is_not_taken_for_one_of_the_same_number() {
        let (one, other) = (catalogue(), catalogue());
        let market = one.market(&"EUR".into(), date(2026, 11, 20));
        for (own, strange) in one.parts.iter().zip(&other.parts) {
            assert!(market.known(&one, own).is_some());
            assert!(market.known(&one, strange).is_none() && market.price(&one, strange).is_none());
        }
    }

    #[test]
    fn the_markets_asked_for_last_are_kept() {
        let catalogue = catalogue();
        let at = |day: i8| catalogue.market(&"EUR".into(), date(2026, 11, day));
        let first = at(1);
        (2..=KEPT as i8).for_each(|day| drop(at(day)));
        assert!(std::sync::Arc::ptr_eq(&first, &at(1)), "it is among the last");
        (2..=KEPT as i8 + 1).for_each(|day| drop(at(day)));
        assert!(!std::sync::Arc::ptr_eq(&first, &at(1)), "others were asked for since");
    }
}
