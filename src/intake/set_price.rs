//! Whether a row's price is that of one or of all: "3 x Lull 120   30" where one costs 9.90.

use super::{Row, sums};
use crate::catalogue::Catalogue;

/// A price of one is taken for possible between the least offer divided by this and the highest
/// times this: what is asked for one and the same part seldom differs by more.
const SPREAD: f64 = 1.6;

/// The least and the highest price that a part was offered for, in a currency where one is said.
fn bounds(catalogue: &Catalogue, id: &str, currency: Option<&str>) -> Option<(f64, f64)> {
    let history = catalogue.offers.history(id).iter().map(crate::catalogue::offers::Offer::till);
    let own = |code: &str| currency.is_none_or(|own| own == code);
    let prices = history.filter(|till| own(till.currency().code())).map(|till| till.to_f64());
    prices.fold(None, |bounds: Option<(f64, f64)>, price| {
        Some(bounds.map_or((price, price), |(low, high)| (low.min(price), high.max(price))))
    })
}

/// Whether a bare number may be what so many of a part cost, by every offer of it: the "7200" of a
/// drive is none. Without an offer any number may be.
pub(super) fn may_be(catalogue: &Catalogue, id: &str, number: f64, count: u32) -> bool {
    bounds(catalogue, id, None).is_none_or(|(low, high)| {
        (low / SPREAD..=high * SPREAD * f64::from(count)).contains(&number)
    })
}

/// Parts a matched row's price among its count, where it is far too much for one by every offer
/// of the part and not for all of them. Without an offer the price stays that of one.
pub(super) fn part(catalogue: &Catalogue, row: &mut Row) {
    let (Some(id), Some(price)) = (&row.part, &row.price) else { return };
    let Ok(amount) = price.parse::<f64>() else { return };
    if row.count < 2 {
        return;
    }
    let Some((low, high)) = bounds(catalogue, id, row.currency.as_deref()) else { return };
    let one = amount / f64::from(row.count);
    if amount > high * SPREAD && (low / SPREAD..=high * SPREAD).contains(&one) {
        let sum = price.clone();
        (row.price, row.uneven_sum) = sums::parted(row.price.take(), true, row.count);
        row.of_all = Some(sum).filter(|_| row.price.is_some());
    }
}
