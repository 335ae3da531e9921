//! The shopping list: what is bought from whom, so that goods and shipping together cost least,
//! with dates and terms.

use serde::Serialize;
use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::build::orders::{OrderLine, Orders, SellerOrder, orders};
use crate::build::resolve::Resolved;
use crate::catalogue::value::Val;
use crate::trade::money::Money;

use super::columns::{Row, columns, csv};

/// One seller's order as it is shown.
#[derive(Debug, Serialize)]
pub(crate) struct OrderWords {
    pub(crate) seller: String,
    pub(crate) rows: Vec<LineWords>,
    pub(crate) goods: String,
    pub(crate) shipping: String,
    pub(crate) terms: String,
    pub(crate) returns: String,
}

/// One part of an order as it is shown.
#[derive(Debug, Serialize)]
pub(crate) struct LineWords {
    pub(crate) pieces: i64,
    pub(crate) name: String,
    pub(crate) each: String,
    pub(crate) sum: String,
    pub(crate) notes: String,
}

/// Lines of one part become one: who orders counts pieces, not places in a build.
fn together(lines: Vec<OrderLine>) -> Vec<OrderLine> {
    let mut merged: Vec<OrderLine> = Vec::new();
    for line in lines {
        match merged.iter_mut().find(|m| m.part == line.part && m.each == line.each) {
            Some(held) if held.sum.checked_add(&line.sum).is_ok() => {
                held.count += line.count;
                held.sum = held.sum.checked_add(&line.sum).unwrap_or(held.sum);
            }
            _ => merged.push(line),
        }
    }
    merged
}

/// The list in one of three forms; all from the same orders.
pub(crate) struct Shopping<'a> {
    build: &'a Resolved,
    orders: Orders,
}

impl<'a> Shopping<'a> {
    /// Works the orders of a build out.
    pub(crate) fn new(build: &'a Resolved) -> Self {
        let mut orders = orders(build);
        for order in &mut orders.orders {
            order.lines = together(std::mem::take(&mut order.lines));
        }
        Self { build, orders }
    }

    fn total(&self) -> Option<(Money, Money)> {
        let currency = self.orders.orders.first()?.goods.currency();
        Some((
            Money::from_minor(self.orders.goods, currency),
            Money::from_minor(self.orders.shipping, currency),
        ))
    }

    fn unpriced(&self) -> Vec<String> {
        let names = self
            .build
            .all()
            .filter(|(_, _, s)| !s.included && self.orders.unpriced.contains(&s.line));
        names
            .filter_map(|(_, _, s)| s.part.as_ref().map(|p| format!("{} ({})", p.name, p.id)))
            .collect()
    }

    fn returns(&self, seller: &str) -> Option<String> {
        let table = self.build.catalogue.table_named("seller")?;
        match table.cell(seller, table.column("returns")?) {
            Val::Text(text) => Some(text.to_string()),
            _ => None,
        }
    }

    pub(crate) fn text(&self, look: Look) -> String {
        let mut out = String::new();
        for order in self.words() {
            out.push_str(&look.hanging(&order.seller));
            let mut rows: Vec<Row> = order
                .rows
                .into_iter()
                .map(|r| vec![format!("{:>4} ×", r.pieces), r.name, r.each, r.sum, r.notes])
                .collect();
            rows.push(vec![
                String::new(),
                "  goods".to_owned(),
                String::new(),
                order.goods,
                String::new(),
            ]);
            rows.push(vec![
                String::new(),
                "  shipping".to_owned(),
                String::new(),
                order.shipping,
                order.terms,
            ]);
            out.push_str(&columns(look, &rows, &[2, 3]));
            if !order.returns.is_empty() {
                out.push_str(&look.noted("Returns:", &order.returns));
            }
            out.push('\n');
        }
        for name in self.unpriced() {
            out.push_str(&look.noted("No offer:", &name));
        }
        if let Some(closing) = self.closing() {
            out.push_str(&look.hanging(&closing));
        } else {
            out.push_str("Nothing is to be bought.\n");
        }
        out
    }

    /// The sum of all orders, and whether a cheaper split can exist; none where nothing is bought.
    pub(crate) fn closing(&self) -> Option<String> {
        let (goods, shipping) = self.total()?;
        let sum =
            goods.checked_add(&shipping).map_or_else(|_| goods.to_string(), |m| m.to_string());
        let sure = if self.orders.proven {
            "no split over these sellers is cheaper"
        } else {
            "the search was cut short; a cheaper split may exist"
        };
        let (orders, day) = (count(self.orders.orders.len(), "order"), self.build.build.priced_on);
        Some(format!(
            "{orders}: {goods} of goods, {shipping} shipping, {sum} in all; {sure}. Prices of \
             {day}."
        ))
    }

    pub(crate) fn words(&self) -> Vec<OrderWords> {
        let words = |order: &SellerOrder| OrderWords {
            seller: order.seller.to_string(),
            rows: order.lines.iter().map(line_words).collect(),
            goods: order.goods.to_string(),
            shipping: order.shipping.to_string(),
            terms: self.shipping_terms(order),
            returns: self.returns(&order.seller).unwrap_or_default(),
        };
        self.orders.orders.iter().map(words).collect()
    }

    fn shipping_terms(&self, order: &SellerOrder) -> String {
        match &order.free_from {
            Some(from) if from.minor() == 0 => "always free".to_owned(),
            Some(from) if order.goods >= *from => format!("free from {from}"),
            Some(from) => format!(
                "free from {from}, {} short",
                from.checked_sub(&order.goods).map_or_else(|_| String::new(), |m| m.to_string())
            ),
            None => String::new(),
        }
    }

    /// For spreadsheets: a row a line, shipping as a row of its own.
    pub(crate) fn csv(&self) -> String {
        let head = [
            "seller", "part", "name", "count", "each", "sum", "currency", "seen_on", "stock",
            "terms", "link",
        ];
        let mut rows: Vec<Row> = vec![head.map(str::to_owned).to_vec()];
        for order in &self.orders.orders {
            let code = order.goods.currency().code().to_owned();
            for line in &order.lines {
                rows.push(vec![
                    order.seller.to_string(),
                    line.part.to_string(),
                    line.name.to_string(),
                    line.count.to_string(),
                    line.each.bare(),
                    line.sum.bare(),
                    code.clone(),
                    line.seen_on.map_or_else(String::new, |d| d.to_string()),
                    line.stock.map_or_else(String::new, |n| n.to_string()),
                    terms(line),
                    line.link.as_deref().unwrap_or("").to_owned(),
                ]);
            }
            let mut shipping = vec![String::new(); head.len()];
            for (at, text) in [
                (0, order.seller.to_string()),
                (2, "shipping".to_owned()),
                (5, order.shipping.bare()),
                (6, code),
                (9, self.shipping_terms(order)),
            ] {
                if let Some(cell) = shipping.get_mut(at) {
                    *cell = text;
                }
            }
            rows.push(shipping);
        }
        csv(&rows)
    }

    /// For programs: format `dryfit-orders`, version 1. Amounts are texts, since they are exact.
    pub(crate) fn json(&self) -> Value {
        let totals = self.total();
        json!({
            "format": "dryfit-orders",
            "version": 1,
            "priced_on": self.build.build.priced_on.to_string(),
            "currency": &*self.build.build.currency,
            "proven": self.orders.proven,
            "goods": totals.as_ref().map(|(goods, _)| goods.bare()),
            "shipping": totals.as_ref().map(|(_, shipping)| shipping.bare()),
            "total": totals.and_then(|(goods,
            shipping)| goods.checked_add(&shipping).ok()).map(|m| m.bare()),
            "unpriced": self.unpriced(),
            "orders": self.orders.orders.iter().map(|o| json!({
                "seller": &*o.seller,
                "goods": o.goods.bare(),
                "shipping": o.shipping.bare(),
                "free_from": o.free_from.as_ref().map(Money::bare),
                "lines": o.lines.iter().map(|l| json!({
                    "part": &*l.part, "name": &*l.name, "count": l.count, "each": l.each.bare(),
                    "sum": l.sum.bare(),
                    "seen_on": l.seen_on.map(|d| d.to_string()), "stock": l.stock,
                    "mail_rebate": l.mail_rebate.as_ref().map(Money::bare),
                    "credit": l.credit.as_ref().map(Money::bare), "bundle": l.bundle.as_deref(),
                    "link": l.link.as_deref(),
                })).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
        })
    }
}

/// What says that a seller has too few.
pub(crate) fn short_of(line: &OrderLine) -> Option<String> {
    match line.stock? {
        0 => Some("out of stock".to_owned()),
        n => (i64::from(n) < line.count).then(|| format!("only {n} in stock")),
    }
}

fn line_words(line: &OrderLine) -> LineWords {
    let each = if line.count == 1 { String::new() } else { format!("at {}", line.each) };
    let mut notes: Vec<String> = line.seen_on.iter().map(|d| format!("seen {d}")).collect();
    notes.extend(short_of(line));
    let terms = terms(line);
    if !terms.is_empty() {
        notes.push(terms);
    }
    LineWords {
        pieces: line.count,
        name: line.name.to_string(),
        each,
        sum: line.sum.to_string(),
        notes: notes.join("; "),
    }
}

/// What hangs on an offer, in words.
fn terms(line: &OrderLine) -> String {
    let mut words = Vec::new();
    let mut note = |money: &Option<Money>, what: &str| {
        words.extend(money.as_ref().map(|m| format!("{m} {what}")))
    };
    note(&line.instant_off, "off the purchase price, taken off here");
    note(&line.mail_rebate, "mail-in rebate");
    note(&line.credit, "credit");
    words.extend(line.bundle.as_ref().map(|b| format!("comes with {b}")));
    words.extend(line.rate.as_ref().map(|r| format!("converted at {} of {}", r.rate, r.on)));
    words.join(", ")
}
