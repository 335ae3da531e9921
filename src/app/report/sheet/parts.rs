//! The parts with counts, sellers and prices.

use serde::Serialize;

use super::queries::{Look, NAME};
use crate::app::counted::count;
use crate::build::What;
use crate::build::resolve::Slot;
use crate::words::clip;

/// The parts table.
#[derive(Debug, Serialize)]
pub(super) struct Parts {
    rows: Vec<Row>,
    total: String,
    unpriced: String,
}

#[derive(Debug, Serialize)]
struct Row {
    pieces: String,
    kind: String,
    name: String,
    maker: String,
    fitted: String,
    status: String,
    seller: String,
    each: String,
    sum: String,
}

/// Lines in the order written, what came in a box below the part it came with.
pub(super) fn parts(look: &Look<'_>) -> Parts {
    let mut slots: Vec<(&Slot, u16)> =
        look.build.all().map(|(kind, _, slot)| (slot, kind.0)).collect();
    slots.sort_by_key(|(slot, kind)| (slot.line, slot.included, *kind));
    Parts {
        rows: slots.into_iter().map(|(slot, kind)| row(look, slot, kind)).collect(),
        total: look.money(look.audited.total),
        unpriced: if look.audited.unpriced == 0 {
            String::new()
        } else {
            count(look.audited.unpriced, "line")
        },
    }
}

fn row(look: &Look<'_>, slot: &Slot, kind: u16) -> Row {
    let facts = look.build.facts(slot);
    let title =
        look.build.catalogue.kinds.get(kind as usize).map_or_else(String::new, |k| k.title.clone());
    let word = |v: &crate::catalogue::value::Val| v.as_text().map(|t| clip(t, 40));
    let fitted = [word(&slot.mount), word(&slot.flow).map(|f| format!("blowing {f}"))]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(", ");
    let status = match (&slot.part, slot.owned, slot.included) {
        (None, ..) => wants(look, slot),
        (_, true, _) => "the customer's own".to_owned(),
        (_, _, true) => "in the box".to_owned(),
        _ if facts.price.is_none() => "no offer".to_owned(),
        _ => String::new(),
    };
    let bought = !slot.owned && !slot.included;
    let digits = crate::trade::money::digits(&look.build.build.currency);
    let price = facts.price.filter(|_| bought).map(|p| p.to_f64());
    let seller = facts
        .place
        .as_ref()
        .filter(|_| bought)
        .and_then(|place| seller(look, slot, place))
        .unwrap_or_default();
    let name = slot.part.as_ref().map_or_else(|| "left open".to_owned(), |p| clip(&p.name, NAME));
    Row {
        pieces: slot.count.to_string(),
        kind: title,
        name,
        maker: look.text(slot, "maker"),
        fitted,
        status,
        seller,
        each: price.map_or_else(String::new, |p| format!("{p:.digits$}")),
        sum: price.map_or_else(String::new, |p| format!("{:.digits$}", p * slot.count)),
    }
}

fn wants(look: &Look<'_>, slot: &Slot) -> String {
    match look.build.build.lines.get(slot.line).map(|l| &l.what) {
        Some(What::Open { wants, .. }) if !wants.is_empty() => {
            format!(
                "wants {}",
                clip(&wants.iter().map(|(w, _)| w.as_str()).collect::<Vec<_>>().join("; "), NAME)
            )
        }
        _ => String::new(),
    }
}

/// Who makes the chosen offer, and when it was seen.
fn seller(
    look: &Look<'_>,
    slot: &Slot,
    place: &(std::sync::Arc<crate::source::Source>, crate::source::Span),
) -> Option<String> {
    let part = slot.part.as_ref()?;
    let offers = look.build.catalogue.offers.history(&part.id);
    let offer = offers
        .iter()
        .find(|o| o.place.1 == place.1 && std::sync::Arc::ptr_eq(&o.place.0, &place.0))?;
    Some(format!("{}, seen {}", clip(&offer.seller, 60), offer.seen_on))
}
