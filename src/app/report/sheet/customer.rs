//! The customer's leaf: what it costs to run, what was signed off, what to mind.

use serde::Serialize;

use super::findings::{Entry, entry, is_for_office};
use super::queries::Look;
use crate::audit::wording::figure;
use crate::level::Level;
use crate::words::clip;

/// The leaf.
#[derive(Debug, Serialize)]
pub(super) struct Customer {
    /// Name and figure of what it costs.
    running: Vec<(String, String)>,
    ground: String,
    waived: Vec<Entry>,
    mind: Vec<Entry>,
    warranty: Vec<(String, String)>,
    own: Vec<String>,
}

/// Fills it.
pub(super) fn customer(look: &Look<'_>) -> Customer {
    let mind = [Level::Stop, Level::Caution, Level::Advice]
        .into_iter()
        .flat_map(|level| look.audited.at(level))
        .filter(|m| !is_for_office(look, m))
        .map(entry);
    let own =
        look.build.all().filter(|(_, _, s)| s.owned && !s.included).map(|(_, _, s)| look.pieces(s));
    Customer {
        running: running(look),
        ground: ground(look),
        waived: look.audited.waived().map(entry).collect(),
        mind: mind.collect(),
        warranty: warranty(look),
        own: own.collect(),
    }
}

fn running(look: &Look<'_>) -> Vec<(String, String)> {
    let mut rows = vec![("To buy, on the pricing day".to_owned(), look.money(look.audited.total))];
    let mut add =
        |words: &str, value: Option<String>| rows.extend(value.map(|v| (words.to_owned(), v)));
    let measure = |id: &str, unit: &str| look.measure(id).map(|n| figure(n, unit, ""));
    add("From the wall at full work, without the display", measure("power.wall_draw", "W"));
    add("Electricity of a year", measure("power.yearly_energy", "kWh"));
    add("What that costs a year", look.measure("power.yearly_cost").map(|n| look.money(n)));
    if let (Some(cost), Some(years)) = (look.measure("power.yearly_cost"), look.build_num("years"))
    {
        add(&format!("Electricity over {years} years"), Some(look.money(cost * years)));
        add(
            &format!("To buy and to run for {years} years"),
            Some(look.money(cost * years + look.audited.total)),
        );
    }
    add("Sound at full work, at 1 m", measure("airflow.noise", "dB(A)"));
    rows
}

fn ground(look: &Look<'_>) -> String {
    let (Some(hours), Some(tariff)) =
        (look.build_num("hours_per_day"), look.build_num("electricity"))
    else {
        return "Hours of use or the price of electricity are not given, so there is no yearly \
         bill."
            .to_owned();
    };
    let days = look.build_num("days_per_year").unwrap_or(250.0);
    // A shop's own rules may reckon without it.
    let share = look.setting("power.mean_share").map_or_else(String::new, |share| {
        format!(", at {:.0} % of full work on average", share * 100.0)
    });
    format!(
        "Reckoned for {hours} hours on {days} days{share}, display included, with electricity at \
         {} a kilowatt-hour. The supply's efficiency is the least its grade promises, so the bill \
         should be no higher.",
        look.money(tariff)
    )
}

fn warranty(look: &Look<'_>) -> Vec<(String, String)> {
    let bought = look.build.all().filter(|(_, _, s)| !s.owned && !s.included && s.part.is_some());
    let mut rows: Vec<(f64, String)> = bought
        .map(|(_, _, s)| (look.num(s, "warranty_years"), look.short(s)))
        .filter(|(years, _)| *years > 0.0)
        .collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    let mut grouped: Vec<(f64, Vec<String>)> = Vec::new();
    for (years, name) in rows {
        match grouped.last_mut() {
            Some((held, names)) if *held == years => names.push(name),
            _ => grouped.push((years, vec![name])),
        }
    }
    grouped
        .into_iter()
        .map(|(years, names)| {
            (
                figure(years, if years == 1.0 { "year" } else { "years" }, ""),
                clip(&super::queries::listed(&names), 900),
            )
        })
        .collect()
}
