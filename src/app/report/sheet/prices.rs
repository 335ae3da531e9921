//! What the whole would have cost on earlier days.

use jiff::civil::Date;
use jiff::{Span, ToSpan as _};

use super::draw::{Pen, Picture, Scale, Table, WIDE};
use super::queries::Look;
use crate::build::resolve::Slot;

/// Days between two looks back.
const STEP: i64 = 14;
/// Most looks back.
const MOST: i64 = 13;

/// Price at the till on a day of every line to be bought; none where a line had no offer yet.
fn total(look: &Look<'_>, bought: &[&Slot], day: Date) -> Option<f64> {
    let currency = &*look.build.build.currency;
    let mut minor: i64 = 0;
    let mut digits = 2;
    for slot in bought {
        let part = slot.part.as_ref()?;
        let offers: Vec<_> = look
            .build
            .catalogue
            .offers
            .on(&part.id, day)
            .into_iter()
            .filter(|o| o.price.currency().code() == currency)
            .collect();
        let open: Vec<_> = offers.iter().copied().filter(|o| o.stock != Some(0)).collect();
        let pool = if open.is_empty() { &offers } else { &open };
        let best = pool.iter().map(|o| o.till()).min_by_key(|p| p.minor())?;
        digits = best.currency().minor_digits();
        minor = minor.checked_add(best.minor().checked_mul(slot.count as i64)?)?;
    }
    Some(minor as f64 / 10f64.powi(i32::from(digits)))
}

/// The picture; none where fewer than three days can be told.
pub(super) fn prices(look: &Look<'_>) -> Option<Picture> {
    let today = look.build.build.priced_on;
    let bought: Vec<&Slot> = look
        .build
        .all()
        .map(|(_, _, s)| s)
        .filter(|s| {
            !s.owned && !s.included && s.part.is_some() && look.build.facts(s).price.is_some()
        })
        .collect();
    if bought.is_empty() {
        return None;
    }
    let days: Vec<Date> =
        (0..=MOST).rev().filter_map(|n| today.checked_sub(back(n)?).ok()).collect();
    let points: Vec<(Date, f64)> =
        days.into_iter().filter_map(|day| Some((day, total(look, &bought, day)?))).collect();
    if points.len() < 3 {
        return None;
    }
    let mut table = Table::new("The total on earlier days", &["Day", "Total#", "Against today#"]);
    let now = points.last().map_or(0.0, |p| p.1);
    for (day, sum) in &points {
        let gap = *sum - now;
        let against = if gap.abs() < 0.005 { "–".to_owned() } else { format!("{gap:+.2}") };
        table.row([day.to_string(), look.money(*sum), against]);
    }
    let low = points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.1).fold(0.0, f64::max);
    let desc = format!(
        "From {} to {}, between {} and {}; on the pricing day {}.",
        points.first().map_or(today, |p| p.0),
        today,
        look.money(low),
        look.money(high),
        look.money(now)
    );
    let note = format!(
        "The best offer of each line on each day, for the {} lines that have one today; before {} \
         some had none.",
        bought.len(),
        points.first().map_or(today, |p| p.0)
    );
    Some(Picture {
        id: "prices",
        title: "What the whole cost on earlier days".to_owned(),
        desc,
        high: 178.0,
        shapes: plot(look, &points, (low, high)),
        table,
        notes: vec![note],
    })
}

fn back(steps: i64) -> Option<Span> {
    0.days().try_days(steps * STEP).ok()
}

fn plot(
    look: &Look<'_>,
    points: &[(Date, f64)],
    (low, high): (f64, f64),
) -> Vec<super::draw::Shape> {
    let mut pen = Pen::default();
    let pad = (high - low).max(high * 0.02) * 0.25;
    let (x, y) = (
        Scale::new((0.0, (points.len() - 1) as f64), (104.0, WIDE - 16.0)),
        Scale::new((low - pad, high + pad), (140.0, 20.0)),
    );
    let middle = f64::midpoint(low, high);
    for at in if high - low > pad { vec![low, middle, high] } else { vec![middle] } {
        pen.line((100.0, y.at(at)), (WIDE - 8.0, y.at(at)), "rule");
        pen.text((94.0, y.at(at) + 4.0), "end", &look.money(at), 92.0);
    }
    pen.path(
        &points.iter().enumerate().map(|(at, p)| (x.at(at as f64), y.at(p.1))).collect::<Vec<_>>(),
        "curve",
    );
    for (at, point) in points.iter().enumerate() {
        pen.rect((x.at(at as f64) - 2.5, y.at(point.1) - 2.5), (5.0, 5.0), "point");
    }
    for (at, anchor) in [(0, "start"), (points.len() - 1, "end")] {
        if let Some(point) = points.get(at) {
            let px = if at == 0 { 100.0 } else { WIDE - 8.0 };
            pen.text((px, 166.0), anchor, &point.0.to_string(), 120.0);
        }
    }
    pen.shapes
}
