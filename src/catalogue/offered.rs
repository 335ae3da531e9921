//! The offers that count for a part: of a day, in a currency.

use std::sync::Arc;

use jiff::civil::Date;

use super::Catalogue;
use super::offers::Offer;
use super::value::Val;
use crate::trade::money::{Currency, Money, Rate, Rounding};

/// The offers of a part.
#[derive(Debug)]
pub struct Offered<'a> {
    /// Those that count, sellers in order of name.
    pub offers: Vec<Counted<'a>>,
    /// Those in another currency for which no rate is stated.
    pub left_out: u32,
}

/// An offer with its amounts in the currency asked for.
#[derive(Debug, Clone)]
pub struct Counted<'a> {
    /// The offer as its file gives it.
    pub offer: &'a Offer,
    /// What is paid at the till for one.
    pub till: Money,
    /// Shipping for an order of this alone.
    pub shipping: Option<Money>,
    /// Paid back by post.
    pub mail_rebate: Option<Money>,
    /// Credit for a later purchase.
    pub credit: Option<Money>,
    /// Stated value of what comes with it.
    pub bundle_value: Option<Money>,
    /// The rate it was converted at and its day, for an offer in another currency.
    pub rate: Option<Stated>,
}

/// A rate of exchange that the catalogue states: what one of another currency is worth.
#[derive(Debug, Clone)]
pub struct Stated {
    /// The rate.
    pub rate: Rate,
    /// The day it was seen.
    pub on: Date,
}

/// The offers of a part on a day, in a currency.
pub fn offered<'a>(
    catalogue: &'a Catalogue,
    part: &str,
    currency: &Arc<str>,
    day: Date,
) -> Offered<'a> {
    let mut offered = Offered { offers: Vec::new(), left_out: 0 };
    for offer in catalogue.offers.on(part, day) {
        match counted(catalogue, offer, currency, day) {
            Some(counted) => offered.offers.push(counted),
            None => offered.left_out += 1,
        }
    }
    offered
}

fn counted<'a>(
    catalogue: &Catalogue,
    offer: &'a Offer,
    currency: &str,
    day: Date,
) -> Option<Counted<'a>> {
    let own = offer.price.currency().code() == currency;
    let rate =
        if own { None } else { Some(rate(catalogue, offer.price.currency(), currency, day)?) };
    // Rounded once an amount, as a bill in the other currency would be.
    let into = |money: Money| match &rate {
        None => Some(money),
        Some(stated) => stated.rate.worth(&money, Rounding::HalfUp).ok(),
    };
    let opt = |money: &Option<Money>| money.and_then(into);
    let bundle_value = offer.bundle.as_ref().and_then(|(_, value)| opt(value));
    Some(Counted {
        offer,
        till: into(offer.till())?,
        shipping: opt(&offer.shipping),
        mail_rebate: opt(&offer.mail_rebate),
        credit: opt(&offer.credit),
        bundle_value,
        rate,
    })
}

/// What one whole unit of a currency is worth in another on a day; none where the catalogue gives
/// no rate.
pub(crate) fn worth_of_one(
    catalogue: &Catalogue,
    from: Currency,
    to: &str,
    day: Date,
) -> Option<f64> {
    if from.code() == to {
        return Some(1.0);
    }
    rate(catalogue, from, to, day).map(|stated| stated.rate.to_f64())
}

/// The newest rate at or before a day, from table `exchange`.
fn rate(catalogue: &Catalogue, from: Currency, to: &str, day: Date) -> Option<Stated> {
    let table = catalogue.table_named("exchange")?;
    let columns = [
        table.column("from")?,
        table.column("to")?,
        table.column("rate")?,
        table.column("seen_on")?,
    ];
    let mut newest: Option<Stated> = None;
    for row in &table.rows {
        let [Some(of), Some(into), Some(rate), Some(on)] =
            columns.map(|c| table.cell(row, c)).map(Val::as_text)
        else {
            continue;
        };
        let (Ok(rate), Ok(on)) = (Rate::parse(&format!("{rate} {to}")), on.parse::<Date>()) else {
            continue;
        };
        let fits = **of == *from.code() && **into == *to && on <= day && !rate.is_negative();
        if fits && newest.as_ref().is_none_or(|held| held.on <= on) {
            newest = Some(Stated { rate, on });
        }
    }
    newest
}
