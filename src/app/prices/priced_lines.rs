//! The lines of a list with what each costs as it is ordered, from whom, and where that is to be
//! seen; and the same as Markdown.

use std::sync::Arc;

use jiff::civil::Date;
use serde_json::json;

use crate::app::counted::count;
use crate::app::report::markdown::escaped;
use crate::app::report::texts::filled;
use crate::build::orders::Orders;
use crate::build::resolve::Resolved;
use crate::source::Problem;
use crate::trade::money::{Currency, Money};

#[derive(Debug)]
pub(crate) struct PricedLine {
    /// The kind's word and its title.
    pub(crate) kind: (Arc<str>, String),
    /// The part's id; empty while the line is open.
    pub(crate) part: String,
    /// The part's name.
    pub(crate) name: String,
    pub(crate) count: i64,
    /// One piece; none where nobody offers it, or it is not bought.
    pub(crate) each: Option<Money>,
    /// All pieces.
    pub(crate) sum: Option<Money>,
    pub(crate) seller: String,
    pub(crate) seen_on: Option<Date>,
    pub(crate) link: Option<Arc<str>>,
    pub(crate) owned: bool,
}

/// The lines in the order written; what comes with a part is not told apart.
pub(crate) fn lines(build: &Resolved, orders: &Orders) -> Vec<PricedLine> {
    let mut slots: Vec<_> = build.all().filter(|(_, _, s)| !s.included).collect();
    slots.sort_by_key(|(_, _, slot)| slot.line);
    slots
        .into_iter()
        .map(|(kind, _, slot)| {
            let of = orders.orders.iter().flat_map(|o| o.lines.iter().map(move |l| (o, l)));
            let mut of = of.filter(|(_, l)| !slot.owned && l.line == slot.line);
            let order = of.next();
            let kind = build.catalogue.kind(kind);
            PricedLine {
                kind: kind.map_or_else(
                    || ("".into(), String::new()),
                    |k| (k.name.clone(), k.title.clone()),
                ),
                part: slot.part.as_ref().map_or_else(String::new, |p| p.id.to_string()),
                name: slot
                    .part
                    .as_ref()
                    .map_or_else(|| "left open".to_owned(), |p| p.name.to_string()),
                count: slot.count as i64,
                each: order.map(|(_, l)| l.each),
                sum: order.map(|(_, l)| l.sum),
                seller: order.map_or_else(String::new, |(o, _)| o.seller.to_string()),
                seen_on: order.and_then(|(_, l)| l.seen_on),
                link: order.and_then(|(_, l)| l.link.clone()),
                owned: slot.owned,
            }
        })
        .collect()
}

/// A list as Markdown: a row a line, names as links, sums below.
pub(crate) fn markdown(build: &Resolved) -> Result<String, Problem> {
    let orders = crate::build::orders::orders(build);
    let currency = Currency::or_euro(&build.build.currency);
    let sum = |minor: i64| Money::from_minor(minor, currency).to_string();
    let line = |l: PricedLine| {
        json!({ "kind": l.kind.1, "name": l.name, "count": l.count, "owned": l.owned,
        "link": l.link.as_deref(), "seller": l.seller, "each": l.each.map(|m| m.to_string()),
        "sum": l.sum.map(|m| m.to_string()) })
    };
    let unpriced = orders.unpriced.len();
    let about = json!({
        "title": build.build.title(),
        "lines": lines(build, &orders).into_iter().map(line).collect::<Vec<_>>(),
        "goods": sum(orders.goods),
        "shipping": sum(orders.shipping),
        "total": sum(orders.goods.saturating_add(orders.shipping)),
        "priced_on": build.build.priced_on.to_string(),
        "unpriced": (unpriced > 0).then(|| count(unpriced, "line")),
    });
    filled("priced.txt", escaped, &about).map_err(Problem::new)
}
