//! What changed in a build since the last edition, part by part, with the effect of each on the
//! total. The effects add up to the difference of the totals, exactly.

use super::record::{Entry, Line};

#[derive(Debug)]
pub(super) struct Change {
    pub(super) what: String,
    pub(super) why: String,
    /// By how much the total moved, in smallest units.
    pub(super) effect: i64,
}

/// A part of a build with all its lines together.
struct Held<'e> {
    line: &'e Line,
    count: i64,
    sum: i64,
    priced: bool,
}

/// Lines by part, in their order.
fn held(entry: &Entry) -> Vec<Held<'_>> {
    let mut held: Vec<Held<'_>> = Vec::new();
    for line in &entry.lines {
        let (sum, priced) = (line.sum.unwrap_or(0), line.sum.is_some());
        match held.iter_mut().find(|h| h.line.part == line.part && h.line.owned == line.owned) {
            Some(known) => {
                known.count = known.count.saturating_add(line.count);
                known.sum = known.sum.saturating_add(sum);
                known.priced |= priced;
            }
            None => held.push(Held { line, count: line.count, sum, priced }),
        }
    }
    held
}

/// What changed between two editions of a build; nothing where its currency did.
pub(super) fn changes(was: &Entry, is: &Entry) -> Vec<Change> {
    if was.currency != is.currency {
        return Vec::new();
    }
    let (mut old, new) = (held(was), held(is));
    let mut changes = Vec::new();
    let mut fresh = Vec::new();
    for now in new {
        let same = |h: &Held<'_>| h.line.part == now.line.part && h.line.owned == now.line.owned;
        match old.iter().position(same) {
            Some(at) => changes.extend(moved(is, &old.remove(at), &now)),
            None => fresh.push(now),
        }
    }
    for now in fresh {
        let at = old.iter().position(|h| h.line.kind == now.line.kind);
        changes.push(match at.map(|at| old.remove(at)) {
            Some(before) => Change {
                what: format!("{} for {}", now.line.name, before.line.name),
                why: swapped(is, &before, &now),
                effect: now.sum.saturating_sub(before.sum),
            },
            None => Change {
                what: now.line.name.clone(),
                why: format!("added{}", at_price(is, &now)),
                effect: now.sum,
            },
        });
    }
    for before in old {
        changes.push(Change {
            what: before.line.name.clone(),
            why: "left out".to_owned(),
            effect: before.sum.saturating_neg(),
        });
    }
    let shipping = is.shipping.saturating_sub(was.shipping);
    if shipping != 0 {
        let why = format!("{} before, {} now", was.money(was.shipping), is.money(is.shipping));
        changes.push(Change { what: "Shipping".to_owned(), why, effect: shipping });
    }
    changes
}

/// What happened to a part that stays.
fn moved(is: &Entry, before: &Held<'_>, now: &Held<'_>) -> Option<Change> {
    let effect = now.sum.saturating_sub(before.sum);
    let mut why = Vec::new();
    if before.count != now.count {
        why.push(format!("{} pieces before, {} now", before.count, now.count));
    }
    let price = |h: &Held<'_>| h.line.each.map_or_else(String::new, |each| is.money(each));
    match (before.priced, now.priced) {
        (true, false) => {
            why.push(format!("no seller offers it any more; {} before", price(before)))
        }
        (false, true) => why.push(format!("new offer of {}", priced(is, now))),
        (true, true) if before.line.seller != now.line.seller => {
            why.push(format!(
                "{} at {} before, now {}",
                price(before),
                before.line.seller,
                priced(is, now)
            ));
        }
        (true, true) if before.line.each != now.line.each => {
            let same = before.line.seen_on == now.line.seen_on;
            let seen = now.line.seen_on.as_ref().filter(|_| !same);
            let seen = seen.map_or_else(String::new, |day| format!(" since {day}"));
            why.push(format!("price moved from {} to {}{seen}", price(before), price(now)));
        }
        _ => {}
    }
    if why.is_empty() && effect == 0 {
        return None;
    }
    if why.is_empty() {
        why.push("price moved".to_owned());
    }
    Some(Change { what: now.line.name.clone(), why: why.join("; "), effect })
}

/// Why one part stands in another's place.
fn swapped(is: &Entry, before: &Held<'_>, now: &Held<'_>) -> String {
    let was = match (before.priced, before.line.owned) {
        (_, true) => "the customer's own".to_owned(),
        (true, _) => before.line.sum.map_or_else(String::new, |_| is.money(before.sum)),
        _ => "no offer".to_owned(),
    };
    format!("part swapped; {was} before{}", at_price(is, now))
}

fn at_price(is: &Entry, now: &Held<'_>) -> String {
    if now.priced { format!(", now {}", priced(is, now)) } else { String::new() }
}

fn priced(is: &Entry, of: &Held<'_>) -> String {
    let pieces = if of.count > 1 { " each" } else { "" };
    let each = of.line.each.map_or_else(String::new, |each| is.money(each));
    let seller = &of.line.seller;
    if seller.is_empty() {
        format!("{each}{pieces}")
    } else {
        format!("{each}{pieces} at {seller}")
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/app/edition/changes.rs"]
mod tests;
