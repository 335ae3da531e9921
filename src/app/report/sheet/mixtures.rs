//! Mixtures with another list: price against a measure, and what nothing else beats.

use super::draw::{Pen, Picture, Scale, Shape, Table, WIDE};
use super::queries::Look;
use crate::audit::wording::figure;
use crate::build::{Line, What};
use crate::whatif::mix::{Difference, Mix, Mixture};
use crate::words::clip;

/// Most rows of the table.
const MOST_ROWS: usize = 24;
/// Longest name of a part in the table.
const NAME: usize = 40;

/// Mixtures of the build with another list, with what they are weighed by.
pub struct Mixed<'a> {
    pub mix: &'a Mix,
    /// The other list's name.
    pub other: &'a str,
    /// The measure's title, and its unit.
    pub measure: (&'a str, &'a str),
}

/// The picture; none where nothing that passes has the measure.
pub(super) fn mixtures(look: &Look<'_>, mixed: &Mixed<'_>) -> Option<Picture> {
    let (title, unit) = mixed.measure;
    let points: Vec<(&Mixture, f64)> =
        mixed.mix.passing.iter().filter_map(|m| Some((m, m.value?))).collect();
    let front: Vec<(&Mixture, f64)> = points.iter().copied().filter(|(m, _)| m.on_front).collect();
    if front.is_empty() {
        return None;
    }
    let currency = &look.build.build.currency;
    let mut table = Table::new(
        "What no other mixture beats",
        &["No.", "Price#", "Measure#", "From the other list"],
    );
    for (at, (mixture, value)) in front.iter().take(MOST_ROWS).enumerate() {
        table.row([
            (at + 1).to_string(),
            look.money(mixture.total.money.to_f64()),
            figure(*value, unit, currency),
            taken(mixed.mix, mixture),
        ]);
    }
    let other = clip(mixed.other, NAME);
    let count = match mixed.mix.counted {
        true => format!("{} of {} mixtures pass", mixed.mix.passing.len(), mixed.mix.count),
        false => format!("of {} mixtures", mixed.mix.count),
    };
    let (first, last) = (front.first()?, front.last()?);
    let desc = format!(
        "Mixtures with {other}: {count}; {} of them nothing else beats, from {} with {} to {} with \
         {}.",
        front.len(),
        look.money(first.0.total.money.to_f64()),
        figure(first.1, unit, currency),
        look.money(last.0.total.money.to_f64()),
        figure(last.1, unit, currency)
    );
    let mut notes = vec![format!("Upwards: {title}")];
    if front.len() > MOST_ROWS {
        notes.push(format!("and {} more that nothing beats", front.len() - MOST_ROWS));
    }
    if !mixed.mix.complete {
        notes.push("The search was ended early; other mixtures may pass.".to_owned());
    }
    Some(Picture {
        id: "mixtures",
        title: format!("Mixtures with {other}"),
        desc,
        high: 210.0,
        shapes: plot(look, &points, &front, |n| figure(n, unit, currency)),
        table,
        notes,
    })
}

fn plot(
    look: &Look<'_>,
    points: &[(&Mixture, f64)],
    front: &[(&Mixture, f64)],
    words: impl Fn(f64) -> String,
) -> Vec<Shape> {
    let mut pen = Pen::default();
    let ends = |of: &dyn Fn(&(&Mixture, f64)) -> f64| {
        let (low, high) = points
            .iter()
            .map(of)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), n| (l.min(n), h.max(n)));
        let pad = ((high - low) * 0.08).max(high.abs() * 0.01).max(1e-6);
        (low, high, pad)
    };
    let (left, right, wide) = ends(&|p| p.0.total.money.to_f64());
    let (low, high, tall) = ends(&|p| p.1);
    let x = Scale::new((left - wide, right + wide), (104.0, WIDE - 16.0));
    let y = Scale::new((low - tall, high + tall), (168.0, 18.0));
    let marks = if high > low { vec![low, high] } else { vec![low] };
    for at in marks {
        pen.line((100.0, y.at(at)), (WIDE - 8.0, y.at(at)), "rule");
        pen.text((94.0, y.at(at) + 4.0), "end", &words(at), 92.0);
    }
    let place = |p: &(&Mixture, f64)| (x.at(p.0.total.money.to_f64()), y.at(p.1));
    for point in points.iter().filter(|(m, _)| !m.on_front) {
        let (px, py) = place(point);
        pen.rect((px - 1.5, py - 1.5), (3.0, 3.0), "rule");
    }
    // Nothing lies between two mixtures, so the line goes in steps: for this much money, this much
    // and no more.
    let mut steps: Vec<(f64, f64)> = Vec::new();
    for here in front.iter().map(place) {
        steps.extend(steps.last().map(|before| (here.0, before.1)));
        steps.push(here);
    }
    pen.path(&steps, "curve");
    for point in front {
        let (px, py) = place(point);
        pen.rect((px - 2.5, py - 2.5), (5.0, 5.0), "point");
    }
    pen.text((100.0, 196.0), "start", &look.money(left), 120.0);
    if right > left {
        pen.text((WIDE - 8.0, 196.0), "end", &look.money(right), 120.0);
    }
    pen.shapes
}

/// What a mixture takes from the other list, in words.
fn taken(mix: &Mix, mixture: &Mixture) -> String {
    let taken: Vec<&Difference> = mix
        .differences
        .iter()
        .enumerate()
        .filter(|(at, _)| mixture.taken & (1 << at) != 0)
        .map(|(_, d)| d)
        .collect();
    match (taken.len(), mix.differences.len()) {
        (0, _) => "nothing".to_owned(),
        (a, b) if a == b => "everything in which they differ".to_owned(),
        _ => taken
            .iter()
            .map(|d| d.theirs.as_ref().map_or_else(|| without(d), part))
            .collect::<Vec<_>>()
            .join(", "),
    }
}

fn without(difference: &Difference) -> String {
    difference.ours.as_ref().map_or_else(String::new, |line| format!("no {}", part(line)))
}

fn part(line: &Line) -> String {
    match &line.what {
        What::Part(part) => clip(&part.name, NAME),
        What::Open { .. } => "an open line".to_owned(),
    }
}
