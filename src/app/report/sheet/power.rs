//! Power by consumer against the supply's rating, and the supply's efficiency over its load.

use super::draw::{Pen, Picture, Scale, Table, WIDE, width};
use super::queries::Look;
use crate::audit::wording::figure;
use crate::words::clip;

/// Most consumers drawn one by one.
const MOST: usize = 8;
/// Height of a consumer's row.
const ROW: f64 = 31.0;
/// Right edge of the bars; the figures stand beside them.
const BARS: f64 = WIDE - 68.0;
/// Left and right edge of the drawing.
const EDGES: (f64, f64) = (8.0, WIDE - 8.0);

/// A vertical line over the consumers.
struct Mark {
    at: f64,
    words: String,
    look: &'static str,
}

/// Who draws how much, the largest first.
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
        found.push((
            format!("{} smaller ones together", rest.len()),
            rest.iter().map(|(_, w)| w).sum(),
        ));
    }
    found
}

fn watts(n: f64) -> String {
    figure(n, "W", "")
}

/// The power picture; none without a supply or while a line that draws is open.
pub(super) fn power(look: &Look<'_>) -> Option<Picture> {
    let supply = look.first("supply")?;
    let draw = look.measure("power.sustained_draw")?;
    let peak = look.measure("power.excursion_draw").unwrap_or(draw);
    let rated = look.num(supply, "rated_w");
    let keep = look.setting("power.headroom").unwrap_or(0.25);
    let (carries, promise) = rides(look, rated);
    let consumers = consumers(look);
    let marks = [
        Mark {
            at: rated * (1.0 - keep),
            words: format!("in hand from {}", watts(rated * (1.0 - keep))),
            look: "keep",
        },
        Mark { at: rated, words: format!("rated {}", watts(rated)), look: "rated" },
        Mark { at: carries, words: format!("for 1 ms {}", watts(carries)), look: "carries" },
    ];
    let shapes = stack(&consumers, draw, peak, &marks);
    let mut table = Table::new(
        "Power by consumer and the supply's limits",
        &["What", "Power#", "Of the rating#"],
    );
    let share = |n: f64| format!("{:.0} %", n / rated.max(1.0) * 100.0);
    for (name, w) in &consumers {
        table.row([name.clone(), watts(*w), share(*w)]);
    }
    for (name, w) in [
        ("All at full work", draw),
        ("Processor and card peaking together", peak),
        ("Kept in hand from here on", rated * (1.0 - keep)),
        ("The supply's rating", rated),
        ("What it rides through for 1 ms", carries),
    ] {
        table.row([name.to_owned(), watts(w), share(w)]);
    }
    let desc = format!(
        "Steps from left to right, one a consumer, end at {} for full work. Below, the peak of a \
         millisecond reaches {}. Lines mark {}, from which on the shop keeps power in hand, the \
         rating of {} and {} for a millisecond.",
        watts(draw),
        watts(peak),
        watts(rated * (1.0 - keep)),
        watts(rated),
        watts(carries)
    );
    let title = format!("Power asked of {}", look.short(supply));
    Some(Picture {
        id: "power",
        title,
        desc,
        high: high(consumers.len()),
        shapes,
        table,
        notes: vec![promise],
    })
}

/// What the supply carries for a millisecond, and on what ground.
fn rides(look: &Look<'_>, rated: f64) -> (f64, String) {
    let Some(supply) = look.first("supply") else { return (rated, String::new()) };
    let guide = look.text(supply, "guide");
    if guide == "2.x" {
        let times = look.setting("power.excursion_older_guide").unwrap_or(1.0);
        return (
            rated * times,
            format!(
                "The supply follows guide {guide}, which promises nothing over its rating; the \
                 shop counts on {times} times of it."
            ),
        );
    }
    let wide = look.records(supply, "leads").iter().any(|r| r.text("connector") == "pcie_16");
    let row = if rated > 450.0 && wide { "over_450w" } else { "to_450w" };
    let percent = look.cell("excursion", row, "pct_1ms").and_then(|v| v.as_num()).unwrap_or(100.0);
    (
        rated * percent / 100.0,
        format!(
            "The supply follows guide {guide}, which promises {percent} % of the rating for a \
             millisecond."
        ),
    )
}

fn high(rows: usize) -> f64 {
    62.0 + (rows as f64 + 2.0) * ROW + 4.0
}

fn stack(
    consumers: &[(String, f64)],
    draw: f64,
    peak: f64,
    marks: &[Mark],
) -> Vec<super::draw::Shape> {
    let most = marks.iter().map(|m| m.at).fold(draw.max(peak), f64::max) * 1.03;
    let scale = Scale::new((0.0, most), (EDGES.0, BARS));
    let mut pen = Pen::default();
    let foot = high(consumers.len()) - 4.0;
    let mut order: Vec<&Mark> = marks.iter().collect();
    // The rightmost line starts highest, so that no line runs through the words of another.
    order.sort_by(|a, b| b.at.total_cmp(&a.at));
    for (mark, y) in order.iter().zip([13.0, 30.0, 47.0]) {
        let x = scale.at(mark.at);
        pen.line((x, y - 10.0), (x, foot), mark.look);
        let room = x - EDGES.0 - 6.0;
        if room >= width(&mark.words) {
            pen.text((x - 5.0, y), "end", &mark.words, room);
        } else {
            pen.text((x + 5.0, y), "start", &mark.words, EDGES.1 - x - 6.0);
        }
    }
    let mut sum = 0.0;
    let mut y = 62.0;
    let row = |pen: &mut Pen, y: f64, name: &str, (from, to): (f64, f64), look: &'static str| {
        let number = watts(to - from);
        pen.text((EDGES.0, y + 12.0), "start", name, BARS - EDGES.0);
        pen.letters((EDGES.1, y + 12.0), "end", "figure", &number, EDGES.1 - BARS);
        pen.rect((scale.at(from), y + 17.0), ((scale.at(to) - scale.at(from)).max(1.0), 8.0), look);
    };
    for (at, (name, w)) in consumers.iter().enumerate() {
        row(&mut pen, y, name, (sum, sum + w), if at % 2 == 0 { "bar" } else { "bar2" });
        sum += w;
        y += ROW;
    }
    row(&mut pen, y, "all at full work", (0.0, draw), "sum");
    row(&mut pen, y + ROW, "processor and card peaking for 1 ms", (0.0, peak), "peak");
    pen.shapes
}

/// A working point of the supply.
struct Point {
    letter: &'static str,
    name: String,
    load: f64,
    efficiency: f64,
}

/// The efficiency picture; none without a supply, or where the shop's rules cannot tell.
pub(super) fn efficiency(look: &Look<'_>) -> Option<Picture> {
    let supply = look.first("supply")?;
    let (draw, rated) = (look.measure("power.sustained_draw")?, look.num(supply, "rated_w"));
    let grade = look.text(supply, "grade");
    let at = |share: f64| {
        // Lower-case letters, digits, - and _ only: the grade is a row of a table.
        let safe = grade.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '-');
        safe.then(|| {
            look.kit.reckon(
                &look.build,
                &format!("grade::efficiency(\"{grade}\", {share:.6}, build.mains_v)"),
            )
        })
        .flatten()
        .filter(|e| *e > 0.0)
    };
    let (rest, usual) = (look.setting("power.rest_share")?, look.setting("power.mean_share")?);
    let points: Vec<Point> = [
        ("A", format!("at rest, {:.0} % of full", rest * 100.0), rest),
        ("B", format!("usual, {:.0} % of full", usual * 100.0), usual),
        ("C", "full work".to_owned(), 1.0),
    ]
    .into_iter()
    .filter_map(|(letter, name, of)| {
        Some(Point { letter, name, load: draw * of, efficiency: at(draw * of / rated)? })
    })
    .collect();
    if points.len() < 3 {
        return None;
    }
    let curve: Vec<(f64, f64)> = [0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0]
        .iter()
        .filter_map(|s| Some((*s, at(*s)?)))
        .collect();
    let table = efficiency_table(&points, &curve, rated);
    let desc = points
        .iter()
        .map(|p| {
            format!(
                "{}, {}: {:.0} % of the rating at {:.1} % efficiency.",
                p.letter,
                p.name,
                p.load / rated * 100.0,
                p.efficiency * 100.0
            )
        })
        .collect::<Vec<_>>()
        .join(" ");
    let note = format!(
        "Grade {}, at {} V. The grade's points are minima, so what the wall gives is an upper \
         bound; between them straight lines. That a machine at rest draws {:.0} % of full work is \
         a setting of the shop, `power.rest_share`.",
        clip(&grade, 20),
        look.build_num("mains_v").unwrap_or(230.0),
        rest * 100.0
    );
    Some(Picture {
        id: "efficiency",
        title: "Efficiency of the supply over its load".to_owned(),
        desc,
        high: 214.0,
        shapes: plot(&curve, &points, rated),
        table,
        notes: vec![note],
    })
}

fn efficiency_table(points: &[Point], curve: &[(f64, f64)], rated: f64) -> Table {
    let mut table = Table::new(
        "Efficiency at three kinds of work",
        &["Work", "Given#", "Of rating#", "Efficiency#", "From the wall#"],
    );
    let named =
        points.iter().map(|p| (format!("{} {}", p.letter, p.name), p.load / rated, p.efficiency));
    let between =
        curve.iter().map(|(share, efficiency)| ("on the curve".to_owned(), *share, *efficiency));
    for (name, share, efficiency) in named.chain(between) {
        let given = share * rated;
        table.row([
            name,
            watts(given),
            format!("{:.0} %", share * 100.0),
            format!("{:.1} %", efficiency * 100.0),
            watts(given / efficiency),
        ]);
    }
    table
}

fn plot(curve: &[(f64, f64)], points: &[Point], rated: f64) -> Vec<super::draw::Shape> {
    let mut pen = Pen::default();
    let low = curve.iter().map(|c| c.1).fold(0.9, f64::min).min(0.9);
    let low = (low * 10.0).floor() / 10.0;
    let most = points.iter().map(|p| p.load / rated).fold(1.0, f64::max);
    let (x, y) =
        (Scale::new((0.0, most), (52.0, EDGES.1 - 20.0)), Scale::new((low, 1.0), (180.0, 62.0)));
    let mut percent = (low * 10.0) as i32;
    while percent <= 10 {
        let at = f64::from(percent) / 10.0;
        pen.line((52.0, y.at(at)), (EDGES.1 - 20.0, y.at(at)), "rule");
        pen.text((46.0, y.at(at) + 4.0), "end", &format!("{} %", percent * 10), 46.0);
        percent += 1;
    }
    let step = [0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 50.0, 100.0]
        .into_iter()
        .find(|s| most / s <= 5.0)
        .unwrap_or(1_000.0);
    for share in (0u16..=5).map(|n| f64::from(n) * step).filter(|share| *share <= most) {
        pen.line((x.at(share), 180.0), (x.at(share), 185.0), "rule");
        pen.text((x.at(share), 199.0), "middle", &format!("{:.0} %", share * 100.0), 60.0);
    }
    pen.path(&curve.iter().map(|(share, e)| (x.at(*share), y.at(*e))).collect::<Vec<_>>(), "curve");
    // Names in steps, the leftmost highest: three points close together still have room, and no
    // line runs through a name.
    for (point, row) in points.iter().zip([18.0, 35.0, 52.0]) {
        let (px, py) = (x.at(point.load / rated), y.at(point.efficiency));
        pen.line((px, row - 9.0), (px, py), "lead");
        pen.rect((px - 3.0, py - 3.0), (6.0, 6.0), "point");
        let words = format!("{} {:.1} %", point.letter, point.efficiency * 100.0);
        if px + width(&words) + 6.0 < EDGES.1 {
            pen.text((px + 5.0, row), "start", &words, 200.0);
        } else {
            pen.text((px - 5.0, row), "end", &words, 200.0);
        }
    }
    pen.shapes
}
