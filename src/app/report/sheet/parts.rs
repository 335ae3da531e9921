//! The parts with counts, sellers and prices as they are ordered, and how the orders come to more
//! or less than the audit's total.

use serde::Serialize;

use super::queries::{Look, NAME, SHORT};
use crate::app::counted::count;
use crate::app::prices::shopping::{Shopping, short_of};
use crate::build::What;
use crate::build::orders::{OrderLine, Orders};
use crate::build::resolve::Slot;
use crate::catalogue::want_words::want_words;
use crate::trade::money::Money;
use crate::words::clip;

/// The parts table and the orders.
#[derive(Debug, Serialize)]
pub(super) struct Parts {
    rows: Vec<Row>,
    /// What the orders come to, goods and shipping, row by row.
    sums: Vec<(&'static str, String)>,
    unpriced: String,
    sellers: Vec<Seller>,
    /// Whether the orders could come to less.
    sure: &'static str,
}

#[derive(Debug, Serialize)]
struct Row {
    pieces: String,
    kind: String,
    name: String,
    maker: String,
    fitted: String,
    status: String,
    /// Who sells it, when that was seen, and what is short: each kept in one piece.
    seller: Vec<String>,
    each: String,
    sum: String,
}

#[derive(Debug, Serialize)]
struct Seller {
    name: String,
    pieces: String,
    goods: String,
    shipping: String,
    terms: String,
}

/// Lines in the order written, what came in a box below the part it came with.
pub(super) fn parts(look: &Look<'_>, orders: &Orders) -> Parts {
    let mut slots: Vec<(&Slot, u16)> =
        look.build.all().map(|(kind, _, slot)| (slot, kind.0)).collect();
    slots.sort_by_key(|(slot, kind)| (slot.line, slot.included, *kind));
    let rows = slots.iter().map(|(slot, kind)| row(look, orders, slot, *kind)).collect();
    let currency = orders.orders.first().map(|o| o.goods.currency());
    let sums = currency.map_or_else(Vec::new, |currency| {
        let sum = |minor: i64| look.amount(&Money::from_minor(minor, currency));
        vec![
            ("Goods", sum(orders.goods)),
            ("Shipping", sum(orders.shipping)),
            ("Total", sum(orders.goods.saturating_add(orders.shipping))),
        ]
    });
    Parts {
        rows,
        sums,
        unpriced: match look.audited.unpriced {
            0 => String::new(),
            n => count(n, "line"),
        },
        sellers: sellers(look),
        sure: sure(orders),
    }
}

/// The order of a line; none where it is not bought.
fn ordered<'o>(orders: &'o Orders, slot: &Slot) -> Option<(&'o str, &'o OrderLine)> {
    if slot.owned || slot.included {
        return None;
    }
    let of = orders.orders.iter().flat_map(|o| o.lines.iter().map(move |l| (&*o.seller, l)));
    let mut of = of.filter(|(_, line)| line.line == slot.line);
    of.find(|(_, line)| slot.part.as_ref().is_some_and(|p| p.id == line.part))
}

fn row(look: &Look<'_>, orders: &Orders, slot: &Slot, kind: u16) -> Row {
    let title =
        look.build.catalogue.kinds.get(kind as usize).map_or_else(String::new, |k| k.title.clone());
    let word = |v: &crate::catalogue::value::Val| v.as_text().map(|t| clip(t, 40));
    let fitted = [word(&slot.mount), word(&slot.flow).map(|f| format!("blowing {f}"))]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(", ");
    let bought = ordered(orders, slot);
    let status = match (&slot.part, slot.owned, slot.included) {
        (None, ..) => wants(look, slot),
        (_, true, _) => "the customer's own".to_owned(),
        (_, _, true) => "included with its part".to_owned(),
        _ if bought.is_none() => "no offer".to_owned(),
        _ => String::new(),
    };
    let seller = bought.map_or_else(Vec::new, |(seller, line)| {
        let seen = line.seen_on.map(|day| format!("seen {}", look.day(day)));
        let words = [Some(clip(seller, SHORT)), seen].into_iter().flatten().chain(short_of(line));
        words.filter(|w| !w.is_empty()).collect()
    });
    let name = slot.part.as_ref().map_or_else(|| "left open".to_owned(), |p| clip(&p.name, NAME));
    let amount = |of: fn(&OrderLine) -> &Money| {
        bought.map_or_else(String::new, |(_, line)| bare(&look.amount(of(line))))
    };
    Row {
        pieces: slot.count.to_string(),
        kind: title,
        name,
        maker: look.text(slot, "maker"),
        fitted,
        status,
        seller,
        each: amount(|l| &l.each),
        sum: amount(|l| &l.sum),
    }
}

/// An amount without its currency.
fn bare(amount: &str) -> String {
    amount.rsplit_once(' ').map_or(amount, |(number, _)| number).to_owned()
}

fn wants(look: &Look<'_>, slot: &Slot) -> String {
    match look.build.build.lines.get(slot.line).map(|l| &l.what) {
        Some(What::Open { kind, wants, .. }) if !wants.is_empty() => {
            let kind = look.build.catalogue.kind(*kind);
            let wants = wants.iter().filter_map(|(want, _)| Some(want_words(kind?, want)));
            format!("wants {}", clip(&wants.collect::<Vec<_>>().join(", "), NAME))
        }
        _ => String::new(),
    }
}

/// The orders by seller, with their terms.
fn sellers(look: &Look<'_>) -> Vec<Seller> {
    let words = Shopping::new(&look.build);
    let shown = words.words();
    shown
        .into_iter()
        .map(|order| {
            let pieces: i64 = order.rows.iter().map(|r| r.pieces).sum();
            let returns = (!order.returns.is_empty()).then(|| format!("returns {}", order.returns));
            let terms: Vec<String> =
                [order.terms].into_iter().filter(|t| !t.is_empty()).chain(returns).collect();
            Seller {
                name: clip(&order.seller, SHORT),
                pieces: pieces.to_string(),
                goods: look.written(&order.goods),
                shipping: look.written(&order.shipping),
                terms: clip(&terms.join("; "), NAME),
            }
        })
        .collect()
}

/// Whether the orders could come to less.
fn sure(orders: &Orders) -> &'static str {
    match (orders.orders.is_empty(), orders.proven) {
        (true, _) => "",
        (_, true) => "No other split over these sellers is cheaper.",
        _ => "The search was cut short; a cheaper split may exist.",
    }
}
