//! What a list comes to, taken apart: exact sums in whole smallest units.

use std::cell::OnceCell;

use super::orders::{self, Orders};
use super::resolve::{Resolved, Slot};
use crate::catalogue::kinds::KindId;
use crate::catalogue::roles::BilledAs;

/// Sums over the lines to be bought, in the smallest unit of the build's currency.
#[derive(Debug, Default)]
pub struct Bill {
    /// Decimals of the currency.
    pub digits: u8,
    /// At the till.
    pub till: i64,
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
    /// Offers left out for their currency.
    pub left_out: u32,
    orders: OnceCell<Orders>,
}

impl Bill {
    /// An amount as a plain number.
    pub fn number(&self, minor: i64) -> f64 {
        minor as f64 / 10f64.powi(i32::from(self.digits))
    }

    /// The cheapest way to order it all, worked out when first asked.
    pub fn orders(&self, build: &Resolved) -> &Orders {
        self.orders.get_or_init(|| orders::orders(build))
    }
}

/// Adds a build up.
pub(super) fn bill(build: &Resolved) -> Bill {
    let mut bill = Bill { digits: 2, ..Bill::default() };
    for (kind, _, slot) in build.all().filter(|(_, _, s)| !s.owned && !s.included) {
        add(build, &mut bill, kind, slot);
    }
    bill
}

fn add(build: &Resolved, bill: &mut Bill, kind: KindId, slot: &Slot) {
    let facts = build.facts(slot);
    bill.left_out = bill.left_out.saturating_add(facts.left_out);
    let Some(price) = &facts.price else { return };
    bill.digits = price.currency().minor_digits();
    let count = slot.count as i64;
    let of = |money: &Option<crate::trade::money::Money>| {
        money.as_ref().map_or(0, |m| m.minor().saturating_mul(count))
    };
    let add = |sum: &mut i64, minor: i64| *sum = sum.saturating_add(minor);
    let paid = price.minor().saturating_mul(count);
    add(&mut bill.till, paid);
    add(&mut bill.rebates, of(&facts.mail_rebate));
    add(&mut bill.credit, of(&facts.credit));
    add(&mut bill.bundles, of(&facts.bundle_value));
    if facts.bundle.as_ref().is_some_and(|b| build.build.bundles.contains(b)) {
        add(&mut bill.wanted, of(&facts.bundle_value));
    }
    match build.catalogue.kind(kind).map(|k| k.billed_as).unwrap_or_default() {
        BilledAs::Displays => add(&mut bill.displays, paid),
        BilledAs::Extras => add(&mut bill.extras, paid),
        BilledAs::Pc => {}
    }
}
