//! Three sellers and what they ship for, and the least that a build comes to of all their splits.

use std::fmt::Write as _;

use dryfit::inside::build::Build;
use dryfit::inside::kit::Kit;

/// An offer for every part but one widget now and then, of three sellers: one ships for nothing,
/// one never does, and one does from a sum of goods on (`free_from` of the test's catalogue).
pub(crate) fn offers(prices: &[u32]) -> String {
    let mut out = String::from("part,seller,seen_on,price,currency,shipping,stock\n");
    let ids = (0..5).map(|n| format!("widget/w{n}")).chain((0..3).map(|n| format!("box/b{n}")));
    for (id, price) in ids.zip(prices).filter(|(_, p)| **p > 0) {
        for (seller, of, shipping) in SELLERS {
            if price % of != 1 {
                let price = price + u32::from(shipping == 0);
                let _ = writeln!(out, "{id},{seller},2026-11-01,{price}.00,EUR,{shipping}.00,9");
            }
        }
    }
    out
}

/// Sellers, of how many prices they have all but those one over a multiple, and what they ship for.
const SELLERS: [(&str, u32, u32); 3] = [("The Shed", 9, 0), ("Quay", 2, 2), ("Mole", 3, 3)];
/// The goods from which Mole ships for nothing, as the test's catalogue has it.
const MOLE_FREE_FROM: i64 = 1_500;

/// The least that a build comes to, goods and shipping: every way to share its lines out among the
/// sellers is tried. A line without an offer is left out.
pub(crate) fn cheapest(kit: &Kit, build: &Build) -> i64 {
    let mut ways = vec![[(0i64, 0i64); SELLERS.len()]];
    for line in build.lines.iter().filter(|l| !l.owned) {
        let Some(part) = line.part() else { continue };
        let offers = kit.catalogue().offers.history(&part.id);
        if offers.is_empty() {
            continue;
        }
        let mut next = Vec::new();
        for way in &ways {
            for offer in offers {
                let mut way = *way;
                let at = SELLERS.iter().position(|s| *s.0 == *offer.seller).expect("a seller");
                way[at].0 += offer.till().minor() * i64::from(line.count);
                way[at].1 = way[at].1.max(offer.shipping.map_or(0, |m| m.minor()));
                next.push(way);
            }
        }
        next.sort_unstable();
        next.dedup();
        ways = next;
    }
    let cost = |way: [(i64, i64); SELLERS.len()]| -> i64 {
        let free = |at: usize, goods: i64| at == 2 && goods >= MOLE_FREE_FROM;
        let of = |(at, (goods, shipping)): (usize, (i64, i64))| {
            goods + if free(at, goods) { 0 } else { shipping }
        };
        way.into_iter().enumerate().map(of).sum()
    };
    ways.into_iter().map(cost).min().unwrap_or(0)
}
