//! Power at full load as one bar against the power supply's rating and the shop's limit.

use super::draw::{Pen, Picture, Scale, Shape, Table, WIDE, width};
use super::queries::Look;

/// Most consumers drawn one by one.
const MOST: usize = 5;
/// Left and right edge of the drawing.
const EDGES: (f64, f64) = (8.0, WIDE - 8.0);
/// Height of a row of letters.
const ROW: f64 = 17.0;
/// Right edge of the parts' names.
const NAMES: f64 = 250.0;
/// Height of the bar.
const BAR: f64 = 24.0;
/// What the pieces of the bar look like, the largest first.
const TONES: [&str; 3] = ["bar", "bar2", "bar3"];

/// A line over the bar.
#[derive(Clone)]
struct Mark {
    watts: f64,
    words: String,
    look: &'static str,
}

/// Who draws how much, the largest first; small ones together.
fn consumers(look: &Look<'_>) -> Vec<(String, f64)> {
    let mut found: Vec<(String, f64)> = look
        .build
        .all()
        .map(|(_, _, slot)| (look.pieces(slot), look.num(slot, "draw_w") * slot.count))
        .filter(|(_, watts)| *watts > 0.0)
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    if found.len() > MOST + 1 {
        let rest = found.split_off(MOST);
        found.push((format!("{} others", rest.len()), rest.iter().map(|(_, w)| w).sum()));
    }
    found
}

/// What is drawn against what, in watts.
struct Load {
    draw: f64,
    rated: f64,
    /// From here on the shop takes a larger power supply.
    keep: f64,
    /// For a millisecond: what the parts draw, and what the power supply withstands.
    peak: f64,
    carries: f64,
}

/// The power picture; none without a power supply or while a line that draws is open.
pub(super) fn power(look: &Look<'_>) -> Option<Picture> {
    let supply = look.first("supply")?;
    let draw = look.measure("power.sustained_draw")?;
    let rated = look.num(supply, "rated_w");
    let load = Load {
        draw,
        rated,
        keep: rated * (1.0 - look.setting("power.headroom").unwrap_or(0.0)),
        peak: look.measure("power.excursion_draw").unwrap_or(draw),
        carries: look.measure("power.excursion_limit").unwrap_or(rated),
    };
    let watts = |n: f64| look.figure(n, "W");
    let consumers = consumers(look);
    let mark = |watts: f64, words: &str, tone: &'static str| Mark {
        watts,
        words: format!("{words} {}", look.figure(watts, "W")),
        look: tone,
    };
    let marks = [
        mark(load.keep, "shop limit", "keep"),
        mark(rated, "rated", "rated"),
        mark(load.peak, "1 ms peak", "peak-line"),
        mark(load.carries, "1 ms limit", "carries"),
    ];
    let mut table = Table::new("Power by part, and the limits", &["What", "Power#"]);
    let limits = [
        ("All at full load", draw),
        ("Processor and card peaking for 1 ms", load.peak),
        ("Shop limit", load.keep),
        ("Rating", rated),
        ("What the power supply withstands for 1 ms", load.carries),
    ];
    for (name, w) in consumers.iter().map(|(n, w)| (n.as_str(), *w)).chain(limits) {
        table.row([name.to_owned(), watts(w)]);
    }
    let (shapes, high) = bar(look, &consumers, draw, rated, &marks);
    let lines: Vec<String> = marks.iter().map(|m| m.words.clone()).collect();
    Some(Picture {
        id: "power",
        desc: format!(
            "A bar of {} in pieces, one a part, the largest first. Lines mark: {}.",
            watts(draw),
            lines.join(", ")
        ),
        title: conclusion(look, &load),
        high,
        shapes,
        table,
        notes: vec![note(look, &look.short(supply))],
    })
}

/// Whether it is enough, and by how much.
fn conclusion(look: &Look<'_>, load: &Load) -> String {
    let watts = |n: f64| look.figure(n, "W");
    let (draw, rated, keep) = (watts(load.draw), watts(load.rated), watts(load.keep));
    if load.draw > load.rated {
        let over = watts(load.draw - load.rated);
        format!("Power: {draw} at full load, {rated} rated: {over} too much")
    } else if load.draw > load.keep {
        format!("Power: {draw} of {rated} at full load, over the shop limit of {keep}")
    } else if load.peak > load.carries {
        let (peak, carries) = (watts(load.peak), watts(load.carries));
        format!("Power: peaks of {peak}, and the power supply withstands {carries}")
    } else {
        format!("Power: {draw} of {rated} at full load, within the shop limit of {keep}")
    }
}

/// The power supply's name, and its efficiency in one sentence.
fn note(look: &Look<'_>, supply: &str) -> String {
    let (wall, waste) = (look.measure("power.wall_draw"), look.measure("power.waste_heat"));
    match (wall, waste) {
        (Some(wall), Some(waste)) => format!(
            "{supply}. At full load it takes {} from the wall and turns {} of it into heat.",
            look.figure(wall, "W"),
            look.figure(waste, "W")
        ),
        _ => format!("{supply}."),
    }
}

fn bar(
    look: &Look<'_>,
    consumers: &[(String, f64)],
    draw: f64,
    rated: f64,
    marks: &[Mark],
) -> (Vec<Shape>, f64) {
    let most = marks.iter().map(|m| m.watts).fold(draw, f64::max).max(1.0) * 1.02;
    let scale = Scale::new((0.0, most), EDGES);
    let mut pen = Pen::default();
    let top = ROW * marks.len() as f64 + 6.0;
    let room = scale.at(rated) - EDGES.0;
    pen.rect((EDGES.0, top), (room, BAR), "room");
    let mut sum = 0.0;
    for (at, (_, w)) in consumers.iter().enumerate() {
        let (from, to) = (scale.at(sum), scale.at(sum + w));
        pen.rect((from, top + 3.0), (to - from, BAR - 6.0), tone(at));
        sum += w;
    }
    if draw > rated {
        let from = scale.at(rated);
        pen.rect((from, top + 3.0), (scale.at(draw) - from, BAR - 6.0), "excess");
    }
    for mark in placed(marks, scale) {
        let x = scale.at(mark.mark.watts);
        pen.line((x, mark.y + 3.0), (x, top + BAR + 3.0), mark.mark.look);
        let anchor = if mark.ends { "end" } else { "start" };
        pen.text((mark.x, mark.y), anchor, &mark.mark.words, width(&mark.mark.words));
    }
    let legend = top + BAR + 12.0;
    for (at, (name, w)) in consumers.iter().enumerate() {
        let (x, y) = (EDGES.0, legend + at as f64 * ROW);
        pen.rect((x, y + 2.0), (11.0, 11.0), tone(at));
        pen.text((x + 17.0, y + 12.0), "start", name, NAMES - x - 25.0);
        pen.letters((NAMES + 64.0, y + 12.0), "end", "figure", &look.figure(*w, "W"), 64.0);
    }
    (pen.shapes, legend + consumers.len() as f64 * ROW + 4.0)
}

fn tone(at: usize) -> &'static str {
    TONES.get(at % TONES.len()).copied().unwrap_or("bar")
}

/// A mark with the place of its words.
struct Placed<'m> {
    mark: &'m Mark,
    x: f64,
    y: f64,
    ends: bool,
}

/// Gives each mark a row of its own, so that no line runs through another's words: tries rows and
/// sides until none does.
fn placed(marks: &[Mark], scale: Scale) -> Vec<Placed<'_>> {
    let count = marks.len();
    let orders = permutations(count);
    for order in &orders {
        for sides in 0_u32..1 << count {
            let found: Option<Vec<Placed<'_>>> = order
                .iter()
                .enumerate()
                .map(|(row, at)| {
                    let mark = marks.get(*at)?;
                    let (x, wide) = (scale.at(mark.watts), width(&mark.words));
                    let ends = sides & (1 << row) != 0;
                    let fits = if ends { x - wide >= EDGES.0 } else { x + wide <= EDGES.1 };
                    let y = ROW * (row as f64 + 1.0) - 3.0;
                    fits.then_some(Placed {
                        mark,
                        x: if ends { x + 2.0 } else { x - 2.0 },
                        y,
                        ends,
                    })
                })
                .collect();
            if let Some(found) = found.filter(|f| is_clear(f, scale)) {
                return found;
            }
        }
    }
    Vec::new()
}

/// Whether no line, which runs down from its own row, crosses words in a row below.
fn is_clear(placed: &[Placed<'_>], scale: Scale) -> bool {
    placed.iter().enumerate().all(|(row, upper)| {
        let x = scale.at(upper.mark.watts);
        placed.iter().skip(row + 1).all(|lower| {
            let wide = width(&lower.mark.words);
            let (from, to) =
                if lower.ends { (lower.x - wide, lower.x) } else { (lower.x, lower.x + wide) };
            x < from - 2.0 || x > to + 2.0
        })
    })
}

/// Every order of so many things.
fn permutations(count: usize) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for next in 0..count {
        all = all
            .into_iter()
            .flat_map(|held: Vec<usize>| {
                (0..=held.len()).map(move |at| {
                    let mut longer = held.clone();
                    longer.insert(at, next);
                    longer
                })
            })
            .collect();
    }
    all
}

#[cfg(test)]
#[path = "../../../../tests/unit/app/report/sheet/power.rs"]
mod tests;
