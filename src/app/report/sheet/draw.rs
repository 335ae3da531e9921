//! Pictures as plain shapes with places worked out here; the template only writes them down.

use serde::Serialize;
use unicode_width::UnicodeWidthChar as _;

use crate::app::report::escape::inert;

/// Width of every picture, in its own units: narrow enough to stay readable on a phone.
pub(crate) const WIDE: f64 = 420.0;
/// Size of the lettering.
pub(crate) const SIZE: f64 = 13.0;

/// A picture with its words and figures.
#[derive(Debug, Serialize)]
pub(crate) struct Picture {
    pub(crate) id: &'static str,
    pub(crate) title: String,
    /// The same in words, for those who do not see it.
    pub(crate) desc: String,
    /// Height in its own units.
    pub(crate) high: f64,
    /// What is drawn, the lowest first.
    pub(crate) shapes: Vec<Shape>,
    pub(crate) table: Table,
    /// What a reader should know of how it was come by.
    pub(crate) notes: Vec<String>,
}

#[derive(Debug, Serialize)]
#[serde(tag = "is", rename_all = "lowercase")]
pub(crate) enum Shape {
    /// A rectangle.
    Rect { x: f64, y: f64, w: f64, h: f64, look: &'static str },
    /// A line, with a head at its end or none.
    Line { x1: f64, y1: f64, x2: f64, y2: f64, look: &'static str },
    /// Straight lines from point to point.
    Path { d: String, look: &'static str },
    /// Lettering.
    Text { x: f64, y: f64, anchor: &'static str, look: &'static str, text: String },
}

/// Rows and columns.
#[derive(Debug, Default, Serialize)]
pub(crate) struct Table {
    pub(crate) caption: String,
    /// Column heads, and whether a column holds figures.
    pub(crate) head: Vec<Head>,
    pub(crate) rows: Vec<Vec<String>>,
}

#[derive(Debug, Serialize)]
pub(crate) struct Head {
    text: &'static str,
    figures: bool,
}

impl Table {
    /// An empty table; a head that ends in `#` is over figures.
    pub(crate) fn new(caption: &str, heads: &[&'static str]) -> Self {
        let head = heads
            .iter()
            .map(|h| Head { text: h.trim_end_matches('#'), figures: h.ends_with('#') })
            .collect();
        Self { caption: caption.to_owned(), head, rows: Vec::new() }
    }

    /// Adds a row.
    pub(crate) fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.into());
    }
}

/// Collects shapes.
#[derive(Debug, Default)]
pub(crate) struct Pen {
    pub(crate) shapes: Vec<Shape>,
}

impl Pen {
    pub(crate) fn rect(&mut self, (x, y): (f64, f64), (w, h): (f64, f64), look: &'static str) {
        self.shapes.push(Shape::Rect {
            x: round(x),
            y: round(y),
            w: round(w.max(0.0)),
            h: round(h.max(0.0)),
            look,
        });
    }

    pub(crate) fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), look: &'static str) {
        self.shapes.push(Shape::Line {
            x1: round(x1),
            y1: round(y1),
            x2: round(x2),
            y2: round(y2),
            look,
        });
    }

    /// An arrow from one point to another, so broad.
    pub(crate) fn broad(
        &mut self,
        (from, to): ((f64, f64), (f64, f64)),
        broad: f64,
        look: &'static str,
    ) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let long = dx.hypot(dy).max(1.0);
        let (ux, uy) = (dx / long, dy / long);
        let head = (broad * 0.8).clamp(6.0, 14.0);
        let back = (to.0 - ux * head, to.1 - uy * head);
        let aside = |(x, y): (f64, f64), by: f64| (x - uy * by, y + ux * by);
        let (half, wing) = (broad / 2.0, broad / 2.0 + 3.5);
        let points = [
            aside(from, half),
            aside(back, half),
            aside(back, wing),
            to,
            aside(back, -wing),
            aside(back, -half),
            aside(from, -half),
        ];
        self.path(&points, look);
    }

    /// Straight lines from point to point.
    pub(crate) fn path(&mut self, points: &[(f64, f64)], look: &'static str) {
        let steps: Vec<String> =
            points.iter().map(|(x, y)| format!("{} {}", round(*x), round(*y))).collect();
        self.shapes.push(Shape::Path { d: format!("M{}", steps.join("L")), look });
    }

    /// Lettering in a given room; what does not fit is cut.
    pub(crate) fn text(&mut self, (x, y): (f64, f64), anchor: &'static str, text: &str, room: f64) {
        self.letters((x, y), anchor, "", text, room);
    }

    pub(crate) fn letters(
        &mut self,
        (x, y): (f64, f64),
        anchor: &'static str,
        look: &'static str,
        text: &str,
        room: f64,
    ) {
        self.shapes.push(Shape::Text {
            x: round(x),
            y: round(y),
            anchor,
            look,
            text: fit(&inert(text), room),
        });
    }
}

/// A tenth of a unit is finer than any screen.
fn round(n: f64) -> f64 {
    if n.is_finite() { (n * 10.0).round() / 10.0 } else { 0.0 }
}

/// Width of a letter as a share of the size, on the wide side, as the reader's font is not known.
fn em(c: char) -> f64 {
    match c {
        'i' | 'l' | 'j' | 't' | 'f' | 'I' | '.' | ',' | '\'' | ':' | ';' | '!' | '|' | ' '
        | '(' | ')' | '[' | ']' => 0.4,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '—' | '…' => 1.05,
        'A'..='Z' => 0.78,
        c if c.is_ascii() => 0.62,
        c if c.width() == Some(1) => 0.85,
        c => c.width().unwrap_or(0) as f64 * 0.6,
    }
}

/// Width of a text in units, on the wide side.
pub(crate) fn width(text: &str) -> f64 {
    text.chars().map(em).sum::<f64>() * SIZE
}

/// Leaves out marks that pile up over one letter: two are enough for any writing, and more run
/// through the lines above.
pub(crate) fn settled(text: &str) -> String {
    let mut marks = 0;
    let keep = |c: &char| {
        marks = if c.width() == Some(0) { marks + 1 } else { 0 };
        marks <= 2
    };
    text.chars().filter(keep).collect()
}

/// Cuts a text to a room, with a sign that it was cut.
pub(crate) fn fit(text: &str, room: f64) -> String {
    let text = settled(text);
    if width(&text) <= room {
        return text;
    }
    let mut used = em('…') * SIZE;
    let mut out: String = text
        .chars()
        .take_while(|c| {
            used += em(*c) * SIZE;
            used <= room
        })
        .collect();
    out.push('…');
    out
}

/// A scale from figures to units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    low: f64,
    span: f64,
    from: f64,
    long: f64,
}

impl Scale {
    pub(crate) fn new((low, high): (f64, f64), (from, to): (f64, f64)) -> Self {
        Self { low, span: (high - low).max(1e-9), from, long: to - from }
    }

    pub(crate) fn at(self, n: f64) -> f64 {
        self.from + (n - self.low) / self.span * self.long
    }
}

/// Price against a measure: points, and the line through those that nothing beats.
pub(crate) struct Plot {
    pub(crate) pen: Pen,
    x: Scale,
    y: Scale,
    prices: (f64, f64),
}

impl Plot {
    pub(crate) const HIGH: f64 = 210.0;
    pub(crate) const LEFT: f64 = 100.0;

    /// Draws beaten points small and the line of the others, which come the cheapest first.
    pub(crate) fn new(
        beaten: &[(f64, f64)],
        front: &[(f64, f64)],
        words: impl Fn(f64) -> String,
    ) -> Self {
        let ends = |of: fn(&(f64, f64)) -> f64| {
            let all = beaten.iter().chain(front).map(of);
            let first = (f64::INFINITY, f64::NEG_INFINITY);
            let (low, high) = all.fold(first, |(low, high), n| (low.min(n), high.max(n)));
            let pad = ((high - low) * 0.08).max(high.abs() * 0.01).max(1e-6);
            ((low, high), (low - pad, high + pad))
        };
        let (prices, across) = ends(|p| p.0);
        let ((low, high), upwards) = ends(|p| p.1);
        let x = Scale::new(across, (Self::LEFT + 4.0, WIDE - 16.0));
        let y = Scale::new(upwards, (168.0, 18.0));
        let mut plot = Self { pen: Pen::default(), x, y, prices };
        for at in if high > low { vec![low, high] } else { vec![low] } {
            plot.pen.line((Self::LEFT, y.at(at)), (WIDE - 8.0, y.at(at)), "rule");
            plot.pen.text((Self::LEFT - 6.0, y.at(at) + 4.0), "end", &words(at), 92.0);
        }
        for point in beaten {
            plot.mark(*point, 3.0, "rule");
        }
        // Nothing lies between two points, so the line goes in steps: for this much money, this
        // much and no more.
        let mut steps: Vec<(f64, f64)> = Vec::new();
        for here in front.iter().map(|point| plot.place(*point)) {
            steps.extend(steps.last().map(|before| (here.0, before.1)));
            steps.push(here);
        }
        plot.pen.path(&steps, "curve");
        plot
    }

    pub(crate) fn place(&self, (price, value): (f64, f64)) -> (f64, f64) {
        (self.x.at(price), self.y.at(value))
    }

    /// A square of a size at a point.
    pub(crate) fn mark(&mut self, point: (f64, f64), size: f64, look: &'static str) {
        let (x, y) = self.place(point);
        self.pen.rect((x - size / 2.0, y - size / 2.0), (size, size), look);
    }

    /// Writes the lowest and the highest price below.
    pub(crate) fn end(mut self, money: impl Fn(f64) -> String) -> Vec<Shape> {
        let (left, right) = self.prices;
        self.pen.text((Self::LEFT, 196.0), "start", &money(left), 120.0);
        if right > left {
            self.pen.text((WIDE - 8.0, 196.0), "end", &money(right), 120.0);
        }
        self.pen.shapes
    }
}

#[cfg(test)]
#[path = "../../../../tests/unit/app/report/sheet/draw.rs"]
mod tests;
