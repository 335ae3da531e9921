//! The customer's leaf: what they get, what it costs, what to decide, how long the price holds. No
//! seller and no purchase price is on it.

use jiff::ToSpan as _;
use serde::Serialize;

use super::findings::is_for_office;
use super::queries::{self, Look, NAME, SENTENCE};
use crate::app::counted::capitalised;
use crate::app::prices::charge::Charge;
use crate::app::report::Merged;
use crate::build::orders::Orders;
use crate::kit::Ruling;
use crate::level::Level;
use crate::words::{and, clip};

/// Kinds with a row of their own; the others share one, as the leaf is one page.
const ROWS: usize = 12;
/// Most notes that ask nothing of the customer.
const NOTES: usize = 4;

#[derive(Debug, Serialize)]
pub(super) struct Customer {
    /// Whether it can be signed: nothing stops the build and no fact is missing.
    is_offer: bool,
    /// Why not.
    held_up: &'static str,
    /// Kind, parts and warranty.
    gets: Vec<(String, String, String)>,
    /// Name and amount.
    costs: Vec<(String, String)>,
    over: Option<(String, String)>,
    ground: String,
    decide: Vec<Decision>,
    agreed: Vec<String>,
    notes: Vec<String>,
    validity: String,
}

/// What the customer is to decide, and the choices.
#[derive(Debug, Serialize)]
struct Decision {
    message: String,
    choices: Vec<String>,
}

pub(super) fn customer(look: &Look<'_>, charge: &Charge, orders: &Orders) -> Customer {
    let private = private(look, orders);
    let shown = |m: &&Merged| {
        let message = &m.finding.message;
        !is_for_office(look, m) && !private.iter().any(|p| message.contains(p.as_str()))
    };
    let message = |m: &Merged| clip(&m.finding.message, SENTENCE);
    let (is_offer, held_up) = match look.audited.ruling {
        Ruling::Build | Ruling::Care
            if look.audited.open.is_empty() && look.audited.unpriced > 0 =>
        {
            (false, "This is not an offer yet: we still have to find a price for some parts.")
        }
        Ruling::Build | Ruling::Care if look.audited.open.is_empty() => (true, ""),
        Ruling::Open | Ruling::Build | Ruling::Care => {
            (false, "This is not an offer yet: we still have to look something up.")
        }
        _ => (
            false,
            "This is not an offer yet: these parts do not work together as listed. What there is \
             to decide comes with a list that does.",
        ),
    };
    // Of a list that is still to change, nothing is to be decided.
    let changes = look.audited.at(Level::Stop).next().is_some();
    let shown = |m: &&Merged| !changes && shown(m);
    Customer {
        is_offer,
        held_up,
        gets: gets(look),
        costs: costs(look, charge, is_offer),
        over: over(look, charge),
        ground: ground(look),
        decide: look
            .audited
            .at(Level::Caution)
            .filter(shown)
            .map(|m| Decision { message: message(m), choices: choices(look, m) })
            .collect(),
        agreed: look.audited.waived().filter(shown).map(message).collect(),
        notes: look
            .audited
            .wishes
            .iter()
            .filter(|(_, wish)| !private.iter().any(|p| wish.contains(p.as_str())))
            .map(|(title, wish)| clip(&format!("You asked of the {title}: {wish}"), SENTENCE))
            .chain(look.audited.at(Level::Advice).filter(shown).take(NOTES).map(message))
            .collect(),
        validity: validity(look),
    }
}

/// What must not be read here: who sells to the shop, and at what price where the shop has its own.
fn private(look: &Look<'_>, orders: &Orders) -> Vec<String> {
    let mut private: Vec<String> = Vec::new();
    for (_, _, slot) in look.build.all() {
        let Some(part) = &slot.part else { continue };
        let offers = look.build.catalogue.offers.history(&part.id);
        private.extend(offers.iter().map(|o| o.seller.to_string()));
    }
    if look.shop.has_price() {
        for line in orders.orders.iter().flat_map(|o| &o.lines) {
            private.extend([line.each.to_string(), line.sum.to_string()]);
        }
        private.push(look.audited.money(look.audited.total));
    }
    private.retain(|p| !p.trim().is_empty());
    private.sort();
    private.dedup();
    private
}

/// A kind's title, the names of its parts with their pieces, and their warranties in years.
type Row = (String, Vec<(String, f64)>, Vec<f64>);

/// What they get, by kind in the order of the list; what came with a part is not told apart.
fn gets(look: &Look<'_>) -> Vec<(String, String, String)> {
    let mut rows: Vec<Row> = Vec::new();
    let mut slots: Vec<_> = look.build.all().filter(|(_, _, s)| !s.included).collect();
    slots.sort_by_key(|(_, _, slot)| slot.line);
    for (kind, _, slot) in slots {
        let title = look.build.catalogue.kind(kind).map_or_else(String::new, |k| k.title.clone());
        let mut name = look.short(slot);
        if slot.owned {
            name.push_str(" (your own)");
        }
        let years = look.num(slot, "warranty_years");
        let at = rows.iter().position(|(held, ..)| *held == title).unwrap_or_else(|| {
            rows.push((title, Vec::new(), Vec::new()));
            rows.len() - 1
        });
        if let Some((_, names, warranties)) = rows.get_mut(at) {
            // The same part on two lines, as fans at front and rear, is told once.
            match names.iter_mut().find(|(held, _)| *held == name) {
                Some((_, count)) => *count += slot.count,
                None => names.push((name, slot.count)),
            }
            if years > 0.0 && !slot.owned {
                warranties.push(years);
            }
        }
    }
    let also = rows.split_off(rows.len().min(ROWS));
    if !also.is_empty() {
        let (names, years) = also.into_iter().fold((Vec::new(), Vec::new()), |mut all, row| {
            all.0.extend(row.1);
            all.1.extend(row.2);
            all
        });
        rows.push(("also".to_owned(), names, years));
    }
    rows.into_iter()
        .map(|(title, names, years)| {
            let names: Vec<String> =
                names.iter().map(|(name, count)| queries::pieces(name, *count)).collect();
            (capitalised(&title), clip(&and(&names), 4 * NAME), warranty(&years))
        })
        .collect()
}

/// `3 years`, or `2 to 5 years` where the parts differ.
fn warranty(years: &[f64]) -> String {
    let least = years.iter().copied().fold(f64::INFINITY, f64::min);
    let most = years.iter().copied().fold(0.0, f64::max);
    match (years.is_empty(), least == most) {
        (true, _) => String::new(),
        (_, true) if most == 1.0 => "1 year".to_owned(),
        (_, true) => format!("{most} years"),
        _ => format!("{least} to {most} years"),
    }
}

fn costs(look: &Look<'_>, charge: &Charge, is_offer: bool) -> Vec<(String, String)> {
    let title = match look.audited.unpriced {
        1.. => "Price so far",
        _ if is_offer => "Price to pay",
        _ => "Price as listed",
    };
    let mut rows = vec![(title.to_owned(), look.amount(&charge.pay))];
    if let Some((name, tax)) = &charge.tax {
        rows.push((format!("of which {name}"), look.amount(tax)));
    }
    if let (Some(energy), Some(cost)) =
        (look.measure("power.yearly_energy"), look.measure("power.yearly_cost"))
    {
        let words = format!("Electricity for a year, about {}", look.figure(energy, "kWh"));
        rows.push((words, look.money(cost)));
    }
    rows
}

/// What it costs over the years it is to serve.
fn over(look: &Look<'_>, charge: &Charge) -> Option<(String, String)> {
    if look.audited.unpriced > 0 {
        return None;
    }
    let years = look.build_num("years")?;
    let cost = look
        .measure("power.years_cost")
        .or_else(|| Some(look.measure("power.yearly_cost")? * years))?;
    let words = format!("Price and electricity over {years} years");
    Some((words, look.money(charge.pay.to_f64() + cost)))
}

fn ground(look: &Look<'_>) -> String {
    let mut words = Vec::new();
    if look.audited.unpriced > 0 {
        words.push("Some parts have no price yet: the price will be higher.".to_owned());
    }
    let (hours, tariff) = (look.build_num("hours_per_day"), look.build_num("electricity"));
    if let (Some(hours), Some(tariff)) = (hours, tariff) {
        let days = look.build_num("days_per_year").unwrap_or(250.0);
        words.push(format!(
            "Electricity for {hours} hours on {days} days a year, monitor included, at {} a kWh.",
            look.figure(tariff, "money")
        ));
    }
    if let Some(noise) = look.measure("airflow.noise") {
        let noise = look.figure(noise, "dB(A)");
        words.push(format!("At full load the PC makes {noise} of noise at 1 m."));
    }
    words.join(" ")
}

/// What the customer may choose: to take it so, or what the rule offers, else another part of
/// those that are not the customer's own.
fn choices(look: &Look<'_>, merged: &Merged) -> Vec<String> {
    let rules = look.kit.rules();
    if let Some(rule) = rules.rule(&merged.finding.rule).filter(|rule| !rule.offer.is_empty()) {
        return vec!["fine with us".to_owned(), format!("please offer {}", rule.offer)];
    }
    let own = |id: &str| {
        let mut lines = look.build.build.lines.iter();
        lines.any(|line| line.owned && line.part().is_some_and(|part| &*part.id == id))
    };
    let mut titles: Vec<String> = Vec::new();
    for id in merged.finding.subjects.iter().filter(|id| !own(id)) {
        let part = look.build.catalogue.part(id);
        let kind = part.and_then(|p| look.build.catalogue.kind(p.kind));
        if let Some(kind) = kind.filter(|k| !titles.contains(&k.title)) {
            titles.push(kind.title.clone());
        }
    }
    titles.truncate(2);
    let other = match titles.as_slice() {
        [] => "please offer something else".to_owned(),
        titles => format!("please offer another {}", titles.join(" or ")),
    };
    vec!["fine with us".to_owned(), other]
}

/// How long the price holds.
fn validity(look: &Look<'_>) -> String {
    let priced = look.build.build.priced_on;
    let until =
        look.shop.valid_days.and_then(|days| priced.checked_add(i64::from(days).days()).ok());
    match until {
        Some(until) => format!("Prices of {}, good until {}", look.day(priced), look.day(until)),
        None => format!("Prices of {}", look.day(priced)),
    }
}
