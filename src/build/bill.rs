//! What a list comes to, taken apart: exact sums in whole smallest units, over the offers of the
//! orders that are chosen.

use std::fmt;

use super::orders::{CartTotal, bought};
use super::resolve::{Resolved, Slot};
use crate::catalogue::kinds::KindId;
use crate::catalogue::market::SellerBid;
use crate::catalogue::roles::BilledAs;
use crate::trade::money::{Currency, Money};

/// Sums over the lines to be bought, in the smallest unit of the build's currency.
#[derive(Debug, Default)]
pub struct Bill {
    /// Decimals of the currency.
    pub digits: u8,
    /// Goods and shipping of the orders.
    pub paid: CartTotal,
    /// Comes back by post.
    pub rebates: i64,
    /// Credit for a later purchase.
    pub credit: i64,
    /// Stated value of what comes with the parts.
    pub bundles: i64,
    /// The same, of what this customer wants.
    pub wanted: i64,
    /// Kinds that are billed as displays.
    pub displays: i64,
    /// Kinds that are billed as extras.
    pub extras: i64,
    /// Lines that nobody offers, and lines whose part is not chosen.
    pub unpriced: u32,
    /// Offers left out for their currency.
    pub left_out: u32,
}

impl Bill {
    /// An amount as a plain number.
    pub fn number(&self, minor: i64) -> f64 {
        minor as f64 / 10f64.powi(i32::from(self.digits))
    }
}

/// What a list comes to: goods and shipping of the cheapest orders, before mail-in rebates. It is
/// worded in the same way everywhere: `at least 982.40 EUR, 12.90 of it shipping`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Total {
    /// Goods and shipping.
    pub money: Money,
    /// How much of it is shipping.
    pub shipping: Money,
    /// Lines to be bought that nobody offers, or whose part is not chosen: they are not in it.
    pub unpriced: u32,
}

impl Total {
    pub(super) fn of(bill: &Bill, currency: Currency) -> Self {
        Self {
            money: Money::from_minor(bill.paid.total(), currency),
            shipping: Money::from_minor(bill.paid.shipping, currency),
            unpriced: bill.unpriced,
        }
    }

    /// The amount in the currency's smallest unit.
    pub fn minor(&self) -> i64 {
        self.money.minor()
    }

    /// How much more it is than another; none where their currencies differ.
    pub fn over(&self, other: &Self) -> Option<Money> {
        self.money.checked_sub(&other.money).ok()
    }
}

impl fmt::Display for Total {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let least = if self.unpriced > 0 { "at least " } else { "" };
        write!(f, "{least}{}", self.money)?;
        match self.shipping.minor() {
            0 => Ok(()),
            _ => write!(f, ", {} of it shipping", self.shipping.bare()),
        }
    }
}

/// Adds a build up; lines that are open count as unpriced.
pub(super) fn bill(build: &Resolved, digits: u8) -> Bill {
    let (paid, taken) = bought(build);
    let mut bill = Bill { digits, paid, ..Bill::default() };
    for slot in build.slots_in_order().filter(|s| !s.owned && !s.included) {
        bill.left_out = bill.left_out.saturating_add(build.facts(slot).left_out);
        bill.unpriced += 1;
    }
    for (slot, bid) in taken {
        bill.unpriced -= 1;
        add(build, &mut bill, slot, bid);
    }
    bill
}

fn add(build: &Resolved, bill: &mut Bill, slot: &Slot, bid: &SellerBid) {
    bill.digits = bid.price.currency().minor_digits();
    let count = slot.count as i64;
    let of = |money: &Option<Money>| money.map_or(0, |m| m.minor().saturating_mul(count));
    let add = |sum: &mut i64, minor: i64| *sum = sum.saturating_add(minor);
    add(&mut bill.rebates, of(&bid.mail_rebate));
    add(&mut bill.credit, of(&bid.credit));
    add(&mut bill.bundles, of(&bid.bundle_value));
    if bid.bundle.as_ref().is_some_and(|b| build.build.bundles.contains(b)) {
        add(&mut bill.wanted, of(&bid.bundle_value));
    }
    let paid = bid.price.minor().saturating_mul(count);
    let kind = slot.part.as_ref().map_or(KindId(u16::MAX), |p| p.kind);
    match build.catalogue.kind(kind).map(|k| k.billed_as).unwrap_or_default() {
        BilledAs::Displays => add(&mut bill.displays, paid),
        BilledAs::Extras => add(&mut bill.extras, paid),
        BilledAs::Pc => {}
    }
}
