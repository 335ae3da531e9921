//! What the customer pays: the purchase, what the shop earns on it, labour, discount and tax, exact
//! to the coin.
//!
//! Each step is rounded once, half up, to the currency's smallest unit; the steps add up exactly.

use crate::build::orders::Orders;
use crate::build::resolve::Resolved;
use crate::config::{Config, Earned, Shop};
use crate::source::Problem;
use crate::trade::TradeError;
use crate::trade::money::{Currency, Money, Rounding};
use crate::words::some_of;

/// A price, step by step.
#[derive(Debug)]
pub(crate) struct Charge {
    /// What is added or taken off, in order; they add up to `pay`.
    pub(crate) steps: Vec<(String, Money)>,
    pub(crate) pay: Money,
    /// The tax in `pay`, with its name.
    pub(crate) tax: Option<(String, Money)>,
}

/// A per cent as an exact fraction: so many of so many.
fn fraction(percent: f64) -> (i64, i64) {
    let text = format!("{percent}");
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    let units = format!("{whole}{part}").parse().unwrap_or(0);
    let scale = u32::try_from(part.len()).ok().and_then(|n| 10_i64.checked_pow(n));
    (units, scale.unwrap_or(1).saturating_mul(100))
}

/// A share of an amount, in per cent of it.
fn share(of: &Money, percent: f64) -> Result<Money, TradeError> {
    let (units, whole) = fraction(percent);
    of.scaled(units, whole, Rounding::HalfUp)
}

/// What is added to a purchase price.
fn earned(cost: &Money, earned: Earned) -> Result<Money, TradeError> {
    match earned {
        Earned::Markup(percent) => share(cost, percent),
        Earned::Margin(percent) => {
            let (units, whole) = fraction(percent);
            cost.scaled(units, whole - units, Rounding::HalfUp)
        }
    }
}

/// Reckons what the customer pays for a build. A shop without a price of its own passes the
/// purchase on; lines without a price are not in it.
/// Errors: a mark-up of a kind that is none, labour in another currency, or a sum that does not
/// fit.
pub(crate) fn charge(
    config: &Config,
    build: &Resolved,
    orders: &Orders,
) -> Result<Charge, Problem> {
    let shop = &config.shop;
    known_kinds(config, build)?;
    let currency = Currency::or_euro(&build.build.currency);
    let too_large =
        |e: TradeError| Problem::new(format!("the price to pay cannot be reckoned: {e}"));
    let steps = purchase(build, orders, currency).map_err(too_large)?;
    let shipping = Money::from_minor(orders.shipping, currency);
    let goods =
        steps.iter().map(|s| &s.2).try_fold(Money::zero(currency), |sum, m| sum.checked_add(m));
    let goods = goods.map_err(too_large)?;
    if !shop.has_price() {
        let pay = goods.checked_add(&shipping).map_err(too_large)?;
        let mut steps = vec![("Parts".to_owned(), goods)];
        steps.extend((orders.shipping != 0).then(|| ("Shipping".to_owned(), shipping)));
        return Ok(Charge { steps, pay, tax: None });
    }
    let mut sum = Sum { steps: Vec::new(), pay: Money::zero(currency) };
    (|| -> Result<(), TradeError> {
        sum.add("Parts", goods)?;
        sum.add("Shipping", shipping)?;
        let mut discounted = goods;
        for (earned_on, titles, cost) in alike(shop, &steps)? {
            let more = earned(&cost, earned_on)?;
            let of = if titles.len() == steps.len() {
                "parts".to_owned()
            } else {
                some_of(titles.iter().map(String::as_str), 3)
            };
            let words = match earned_on {
                Earned::Markup(percent) => format!("Mark-up on {of}, {percent} %"),
                Earned::Margin(percent) => format!("Margin on {of}, {percent} % of their price"),
            };
            sum.add(&words, more)?;
            discounted = discounted.checked_add(&more)?;
        }
        let off = share(&discounted, shop.discount_percent)?;
        let words = format!("Discount on parts, {} %", shop.discount_percent);
        sum.add(&words, Money::zero(currency).checked_sub(&off)?)
    })()
    .map_err(too_large)?;
    for labour in &shop.labour {
        if labour.price.currency() != currency {
            let (what, price) = (&labour.what, labour.price);
            let message = format!("{what} costs {price}, and this list is in {currency}");
            return Err(Problem::new(message).help("write the price in the list's currency"));
        }
        sum.add(&labour.what, labour.price).map_err(too_large)?;
    }
    let tax = tax(shop, &mut sum).map_err(too_large)?;
    Ok(Charge { steps: sum.steps, pay: sum.pay, tax })
}

/// What is earned alike on several kinds: how, on which, and what they cost together.
type Alike = (Earned, Vec<String>, Money);

fn alike(shop: &Shop, steps: &[(String, String, Money)]) -> Result<Vec<Alike>, TradeError> {
    let mut alike: Vec<Alike> = Vec::new();
    for (kind, title, cost) in steps {
        let Some(earned) = shop.earned(kind) else { continue };
        match alike.iter_mut().find(|(held, ..)| *held == earned) {
            Some((_, titles, sum)) => {
                titles.push(title.clone());
                *sum = sum.checked_add(cost)?;
            }
            None => alike.push((earned, vec![title.clone()], *cost)),
        }
    }
    Ok(alike)
}

/// Steps with what they come to.
struct Sum {
    steps: Vec<(String, Money)>,
    pay: Money,
}

impl Sum {
    fn add(&mut self, what: &str, amount: Money) -> Result<(), TradeError> {
        self.pay = self.pay.checked_add(&amount)?;
        if amount.minor() != 0 {
            self.steps.push((what.to_owned(), amount));
        }
        Ok(())
    }
}

/// Adds the tax, or finds what of the sum it is.
fn tax(shop: &Shop, sum: &mut Sum) -> Result<Option<(String, Money)>, TradeError> {
    let Some(tax) = &shop.tax else { return Ok(None) };
    let (units, whole) = fraction(tax.percent);
    let name = format!("{} {} %", tax.name, tax.percent);
    if tax.included {
        let held = sum.pay.scaled(units, whole + units, Rounding::HalfUp)?;
        return Ok(Some((name, held)));
    }
    let more = share(&sum.pay, tax.percent)?;
    sum.add(&name, more)?;
    Ok(Some((name, more)))
}

/// What the lines to be bought cost by kind, as they are ordered: its name, its title, the amount.
fn purchase(
    build: &Resolved,
    orders: &Orders,
    currency: Currency,
) -> Result<Vec<(String, String, Money)>, TradeError> {
    let mut by_kind: Vec<(String, String, Money)> = Vec::new();
    for line in orders.orders.iter().flat_map(|o| &o.lines) {
        let kind = build.build.lines.get(line.line).map(|l| l.kind());
        let Some(kind) = kind.and_then(|kind| build.catalogue.kind(kind)) else { continue };
        match by_kind.iter_mut().find(|(name, ..)| *name == *kind.name) {
            Some((.., held)) => *held = held.checked_add(&line.sum)?,
            None => by_kind.push((
                kind.name.to_string(),
                kind.title.clone(),
                Money::zero(currency).checked_add(&line.sum)?,
            )),
        }
    }
    Ok(by_kind)
}

/// Refuses a mark-up of a kind that is none: it would pass in silence.
fn known_kinds(config: &Config, build: &Resolved) -> Result<(), Problem> {
    let shop = &config.shop;
    for (key, of) in [("markup_percent", &shop.markup), ("margin_percent", &shop.margin)] {
        for (kind, _) in &of.by_kind {
            if build.catalogue.kind_id(kind).is_some() {
                continue;
            }
            let mut problem = Problem::new(format!("there is no kind `{kind}`"));
            let path = format!("shop.{key}.{kind}");
            if let Some(entry) = config.entries.iter().find(|e| e.key == path) {
                problem = problem.at(&entry.place.source, entry.place.span, "of this kind");
            }
            let kinds = build.catalogue.kinds.iter().map(|k| &*k.name);
            return Err(problem.suggest(kind, kinds));
        }
    }
    Ok(())
}

#[cfg(test)]
#[path = "../../../tests/unit/app/prices/charge.rs"]
mod tests;
