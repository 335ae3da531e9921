//! The chart of an edition: index against price, with the front over all mixtures.

use crate::app::report::sheet::draw::{Picture, Plot, Shape, Table, WIDE, width};
use crate::audit::wording::figure;

/// Builds of one purpose, whose indexes can be compared.
pub(super) struct Group {
    pub(super) purpose: String,
    pub(super) currency: String,
    /// Number on the page, title, price and index.
    pub(super) builds: Vec<(usize, String, f64, f64)>,
    /// Price and index of mixtures that nothing stops.
    pub(super) mixtures: Vec<(f64, f64)>,
    /// What was not mixed, and why.
    pub(super) notes: Vec<String>,
}

impl Group {
    /// Price and index of builds and mixtures.
    fn points(&self) -> Vec<(f64, f64)> {
        let builds = self.builds.iter().map(|(_, _, price, index)| (*price, *index));
        builds.chain(self.mixtures.iter().copied()).collect()
    }

    /// What nothing beats, the cheapest first.
    fn front(&self) -> Vec<(f64, f64)> {
        let mut all = self.points();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)));
        let mut front: Vec<(f64, f64)> = Vec::new();
        for point in all {
            if front.last().is_none_or(|best| point.1 > best.1) {
                front.push(point);
            }
        }
        front
    }

    /// The picture; none with fewer than two builds.
    pub(super) fn picture(&self, id: &'static str) -> Option<Picture> {
        if self.builds.len() < 2 {
            return None;
        }
        let money = |n: f64| figure(n, "money", &self.currency);
        let mut table = Table::new("Index and price of the builds", &["Build", "Price#", "Index#"]);
        for (number, title, price, index) in &self.builds {
            table.row([format!("{number} {title}"), money(*price), figure(*index, "", "")]);
        }
        let front = self.front();
        let beaten: Vec<String> = self
            .builds
            .iter()
            .filter(|(_, _, price, index)| {
                front.iter().any(|(p, i)| p <= price && i >= index && (p < price || i > index))
            })
            .map(|(number, ..)| number.to_string())
            .collect();
        let purpose =
            if self.purpose.is_empty() { String::new() } else { format!(" for {}", self.purpose) };
        let title = match beaten.as_slice() {
            [] => format!("Index against price{purpose}: no mixture beats these builds"),
            beaten => format!(
                "Index against price{purpose}: a mixture or another build beats {}",
                beaten.join(", ")
            ),
        };
        let mut notes = vec![format!(
            "Upwards: performance index; to the right: the total, shipping included. The line is \
             what nothing beats, over the builds and {} mixtures of them that nothing stops.",
            self.mixtures.len()
        )];
        notes.extend(self.notes.iter().cloned());
        Some(Picture {
            id,
            desc: format!("{} builds and the line of what nothing beats.", self.builds.len()),
            title,
            high: Plot::HIGH,
            shapes: self.plot(&front, money),
            table,
            notes,
        })
    }

    fn plot(&self, front: &[(f64, f64)], money: impl Fn(f64) -> String) -> Vec<Shape> {
        let mut plot = Plot::new(&self.points(), front, |n| figure(n, "", ""));
        let mut taken: Vec<(f64, f64, f64)> = Vec::new();
        for (number, _, price, index) in &self.builds {
            let (px, py) = plot.place((*price, *index));
            plot.mark((*price, *index), 7.0, "point");
            let words = number.to_string();
            let long = width(&words) + 2.0;
            let spots = [(8.0, -6.0), (8.0, 14.0), (-8.0 - long, -6.0), (-8.0 - long, 14.0)];
            let free = spots.iter().map(|(dx, dy)| (px + dx, py + dy)).find(|(sx, sy)| {
                *sx > Plot::LEFT
                    && *sx + long < WIDE - 4.0
                    && taken.iter().all(|(tx, ty, tl)| {
                        sx + long < *tx || tx + tl < *sx || (sy - ty).abs() > 14.0
                    })
            });
            if let Some((sx, sy)) = free {
                taken.push((sx, sy, long));
                plot.pen.letters((sx, sy), "start", "figure", &words, long);
            }
        }
        plot.end(money)
    }
}
