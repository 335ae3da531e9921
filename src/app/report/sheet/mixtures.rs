//! Mixtures with another list: price against a measure, and what nothing else beats.

use super::draw::{Picture, Plot, Shape, Table};
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
        high: Plot::HIGH,
        shapes: plot(look, &points, |n| figure(n, unit, currency)),
        table,
        notes,
    })
}

fn plot(look: &Look<'_>, points: &[(&Mixture, f64)], words: impl Fn(f64) -> String) -> Vec<Shape> {
    let place = |(mixture, value): &(&Mixture, f64)| (mixture.total.money.to_f64(), *value);
    let (front, beaten): (Vec<_>, Vec<_>) = points.iter().partition(|(m, _)| m.on_front);
    let front: Vec<(f64, f64)> = front.iter().map(place).collect();
    let beaten: Vec<(f64, f64)> = beaten.iter().map(place).collect();
    let mut plot = Plot::new(&beaten, &front, words);
    for point in front {
        plot.mark(point, 5.0, "point");
    }
    plot.end(|n| look.money(n))
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
