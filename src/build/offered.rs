//! The offers that count for a part: of the pricing day, in the currency of the build.

use std::sync::Arc;

use jiff::civil::Date;

use crate::catalogue::Catalogue;
use crate::catalogue::offers::Offer;
use crate::catalogue::value::Val;
use crate::trade::money::{Currency, Money, Rate, Rounding};

/// The offers of a part.
#[derive(Debug)]
pub struct Offered<'a> {
    /// Those that count, sellers in order of name.
    pub offers: Vec<Counted<'a>>,
    /// Those in another currency for which no rate is stated.
    pub left_out: u32,
}

/// An offer with its amounts in the build's currency.
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
pub fn offered<'a>(catalogue: &'a Catalogue, part: &str, currency: &Arc<str>, day: Date) -> Offered<'a> {
    let mut offered = Offered { offers: Vec::new(), left_out: 0 };
    for offer in catalogue.offers.on(part, day) {
        match counted(catalogue, offer, currency, day) {
            Some(counted) => offered.offers.push(counted),
            None => offered.left_out += 1,
        }
    }
    offered
}

/// Sellers of a part that a quick look tells apart.
const QUICK: usize = 8;

/// The lowest price at the till among the offers of [`offered`], by the rule that what is in stock comes first; it allocates nothing, as every
/// sum of every build asks for it. None where a quick look does not tell: another currency, or very many sellers.
pub(crate) fn cheapest(catalogue: &Catalogue, part: &str, currency: &str, day: Date) -> Option<Option<Money>> {
    let mut sellers = [""; QUICK];
    let mut best: Option<(bool, Money)> = None;
    let mut seen = 0;
    // From the newest back: the first of a seller is the one that counts.
    for offer in catalogue.offers.history(part).iter().rev().filter(|o| o.seen_on <= day) {
        if sellers.iter().take(seen).any(|s| *s == &*offer.seller) {
            continue;
        }
        if offer.price.currency().code() != currency {
            return None;
        }
        *sellers.get_mut(seen)? = &offer.seller;
        seen += 1;
        let (gone, till) = (offer.stock == Some(0), offer.till());
        if best.is_none_or(|(worse, held)| (gone, till.minor()) < (worse, held.minor())) {
            best = Some((gone, till));
        }
    }
    Some(best.map(|(_, till)| till))
}

fn counted<'a>(catalogue: &Catalogue, offer: &'a Offer, currency: &str, day: Date) -> Option<Counted<'a>> {
    let own = offer.price.currency().code() == currency;
    let rate = if own { None } else { Some(rate(catalogue, offer.price.currency(), currency, day)?) };
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

/// The newest rate at or before a day, from table `exchange`.
fn rate(catalogue: &Catalogue, from: Currency, to: &str, day: Date) -> Option<Stated> {
    let table = catalogue.table_id("exchange").and_then(|id| catalogue.table(id))?;
    let columns = [table.column("from")?, table.column("to")?, table.column("rate")?, table.column("seen_on")?];
    let mut newest: Option<Stated> = None;
    for row in &table.rows {
        let [Some(of), Some(into), Some(rate), Some(on)] = columns.map(|c| table.cell(row, c)).map(Val::as_text) else { continue };
        let (Ok(rate), Ok(on)) = (Rate::parse(&format!("{rate} {to}")), on.parse::<Date>()) else { continue };
        let fits = **of == *from.code() && **into == *to && on <= day && !rate.is_negative();
        if fits && newest.as_ref().is_none_or(|held| held.on <= on) {
            newest = Some(Stated { rate, on });
        }
    }
    newest
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::cheapest;
    use crate::build::Build;
    use crate::build::resolve::Facts;
    use crate::catalogue::Catalogue;
    use crate::layer::Layer;
    use crate::source::Source;

    #[test]
    fn the_quick_price_is_the_price_of_the_offers_in_full() {
        let catalogue = Catalogue::load(&[Layer::built_in_catalogue()]).expect("it loads");
        let mut quick = 0;
        for (currency, day) in [("EUR", date(2026, 6, 30)), ("EUR", date(2026, 9, 1)), ("EUR", date(2026, 11, 20)), ("SEK", date(2026, 11, 20))] {
            let text = format!("budget = \"1.00 {currency}\"\npriced_on = {day}\n[[line]]\npart = \"supply/tarn-650\"\n");
            let build = Build::parse(&Source::new("list", text), &catalogue, day).expect("it reads");
            for part in &catalogue.parts {
                if let Some(price) = cheapest(&catalogue, &part.id, &build.currency, day) {
                    assert_eq!(price, Facts::of(&build, &catalogue, part).price, "{} on {day}", part.id);
                    quick += usize::from(price.is_some());
                }
            }
        }
        assert!(quick > 500, "{quick} prices were quick");
    }
}
