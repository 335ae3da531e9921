//! Air through the case: what fans and openings move at each side, and how warm it gets inside.

use super::draw::{Pen, Picture, Table, WIDE};
use super::queries::Look;
use crate::build::chambers::{Air, Place, Through};

/// Left and right side of the case on the paper, and where the front's part begins.
const SIDES: (f64, f64, f64) = (150.0, 272.0, 226.0);
/// Height of a label of two lines at a side.
const ROW: f64 = 38.0;
/// Room for letters beside the case.
const BESIDE: f64 = 110.0;
/// Room for letters above and below it.
const ABOVE: f64 = 130.0;
/// Height of a label above or below it.
const STEP: f64 = 34.0;
/// Widest arrow.
const BROAD: f64 = 16.0;
/// A flow smaller than this is none.
const LEAST: f64 = 0.05;

/// What goes through one side in one way: an arrow of the picture and a row of its table.
struct Stream {
    side: String,
    who: String,
    is_fan: bool,
    inward: bool,
    m3h: f64,
    pieces: u32,
}

/// All air in and out, by side.
fn streams(air: &Air) -> Vec<Stream> {
    let mut streams: Vec<Stream> = Vec::new();
    for way in &air.ways {
        let inward = way.from == Place::Room;
        if !inward && way.to != Place::Room || way.m3h < LEAST {
            continue;
        }
        let (side, who, is_fan) = match &way.through {
            Through::Fan(..) => (way.mount.as_str(), "", true),
            Through::Panel => (way.mount.as_str(), "open panel", false),
            Through::Slots => ("rear", "empty slots", false),
            Through::Gaps => ("rear", "gaps", false),
            Through::Supply => ("rear", "power supply", true),
            Through::Inside | Through::Card => continue,
        };
        let pieces = if matches!(way.through, Through::Fan(..)) { way.pieces } else { 0 };
        let same = |s: &&mut Stream| {
            s.side == side && s.who == who && s.inward == inward && s.is_fan == is_fan
        };
        match streams.iter_mut().find(same) {
            Some(stream) => {
                stream.m3h += way.m3h;
                stream.pieces += pieces;
            }
            None => streams.push(Stream {
                side: side.to_owned(),
                who: who.to_owned(),
                is_fan,
                inward,
                m3h: way.m3h,
                pieces,
            }),
        }
    }
    for stream in streams.iter_mut().filter(|s| s.who.is_empty()) {
        stream.who =
            if stream.pieces == 1 { "1 fan".to_owned() } else { format!("{} fans", stream.pieces) };
    }
    streams
}

/// The air picture; none without a case, with an open line, or where nothing moves the air.
pub(super) fn air(look: &Look<'_>) -> Option<Picture> {
    let air = look.build.air().ok()?.as_ref()?;
    let chassis = look.first("chassis")?;
    let streams = streams(air);
    let room = look.build_num("room_c").unwrap_or(25.0);
    let mut table = Table::new("Air in and out at full load", &["Through", "Side", "Way", "Flow#"]);
    for stream in &streams {
        table.row([
            stream.who.clone(),
            stream.side.clone(),
            way(stream).to_owned(),
            look.figure(stream.m3h, "m³/h"),
        ]);
    }
    let title = conclusion(look);
    let warmth = [
        ("around the processor", air.main_rise_k),
        ("around the cards", air.card_rise_k),
        ("behind the front", air.front_rise_k),
    ]
    .map(|(at, rise)| format!("{at} {}", celsius(look, room, rise)));
    let mut pen = Pen::default();
    let high = draw(&mut pen, look, air, &streams, room);
    let exchange = look.figure(air.exchange_m3h, "m³/h");
    Some(Picture {
        id: "air",
        title,
        desc: format!(
            "{} from its left side, the front at the right. It exchanges {exchange} with the room. \
             At full load: {}.",
            look.short(chassis),
            warmth.join(", ")
        ),
        high,
        shapes: pen.shapes,
        table,
        notes: vec![format!(
            "Seen from the left. Blue: fans; grey: openings; the wider the arrow, the more air. \
             The case exchanges {exchange} at full load in a room of {}. Estimates, give or take a \
             third, to compare builds by.",
            look.figure(room, "°C")
        )],
    })
}

/// How much the inside warms, against the shop's limit.
fn conclusion(look: &Look<'_>) -> String {
    let Some(rise) = look.measure("chambers.main_rise") else {
        return "Air: nothing moves it around the processor".to_owned();
    };
    let words = look.figure(rise, "K");
    match look.setting("airflow.rise_k") {
        Some(most) if rise > most => format!(
            "Air: the inside warms by {words} at full load, over the shop limit of {}",
            look.figure(most, "K")
        ),
        Some(most) => format!(
            "Air: the inside warms by {words} at full load, within the shop limit of {}",
            look.figure(most, "K")
        ),
        None => format!("Air: the inside warms by {words} at full load"),
    }
}

fn way(stream: &Stream) -> &'static str {
    if stream.inward { "in" } else { "out" }
}

fn celsius(look: &Look<'_>, room: f64, rise: f64) -> String {
    if rise.is_finite() {
        look.figure((room + rise).round(), "°C")
    } else {
        "still air".to_owned()
    }
}

/// Draws it all; gives the height.
fn draw(pen: &mut Pen, look: &Look<'_>, air: &Air, streams: &[Stream], room: f64) -> f64 {
    let of = |side: &str| streams.iter().filter(|s| s.side == side).collect::<Vec<_>>();
    let (rear, front) = (of("rear"), of("front"));
    let (above, below) = (of("top"), of("bottom"));
    let top = deep(above.len());
    let rows = rear.len().max(front.len());
    let foot = top + (rows as f64 * ROW + 30.0).max(160.0);
    let broadest = streams.iter().map(|s| s.m3h).fold(1.0, f64::max);
    let broad = |s: &Stream| (s.m3h / broadest * BROAD).max(1.5);
    case(pen, look, air, (top, foot), room);
    for (side, all) in [(SIDES.0, rear), (SIDES.1, front)] {
        for (at, stream) in all.into_iter().enumerate() {
            let y = top + 40.0 + at as f64 * ROW;
            let sign = if side == SIDES.0 { -1.0 } else { 1.0 };
            let (outer, inner) = ((side + sign * 34.0, y), (side - sign * 8.0, y));
            pen.broad(ends(stream, outer, inner), broad(stream), tone(stream));
            let anchor = if sign < 0.0 { "end" } else { "start" };
            label(pen, look, stream, (side + sign * 38.0, y - 4.0), anchor, BESIDE);
        }
    }
    for (edge, sign, all) in [(top, -1.0, above), (foot, 1.0, below)] {
        let count = all.len();
        let step = (SIDES.2 - SIDES.0) / count.max(1) as f64;
        for (at, stream) in all.into_iter().enumerate() {
            let x = SIDES.0 + step * (at as f64 + 0.5);
            // The outer ones are nearest, so that no arrow runs through the words of another.
            let far = STEP * (at.min(count - 1 - at) as f64 + 1.0);
            pen.broad(
                ends(stream, (x, edge + sign * far), (x, edge - sign * 8.0)),
                broad(stream),
                tone(stream),
            );
            let y = if sign < 0.0 { edge - far + 8.0 } else { edge + far - 14.0 };
            let left = at < count / 2;
            let (x, anchor) = if left { (x - 12.0, "end") } else { (x + 12.0, "start") };
            label(pen, look, stream, (x, y), anchor, ABOVE);
        }
    }
    let below = streams.iter().filter(|s| s.side == "bottom").count();
    let mut high = foot + deep(below);
    // Other sides have no place on a drawing from the side.
    let known = ["rear", "front", "top", "bottom"];
    for stream in streams.iter().filter(|s| !known.contains(&s.side.as_str())) {
        high += 16.0;
        let flow = look.figure(stream.m3h, "m³/h");
        let words = format!("{}: {} {} {flow}", stream.side, stream.who, way(stream));
        pen.text((8.0, high - 4.0), "start", &words, WIDE - 16.0);
    }
    high
}

/// Room above or below the case for so many arrows.
fn deep(count: usize) -> f64 {
    if count == 0 { 8.0 } else { STEP * count.div_ceil(2) as f64 + 10.0 }
}

fn ends(stream: &Stream, outer: (f64, f64), inner: (f64, f64)) -> ((f64, f64), (f64, f64)) {
    if stream.inward { (outer, inner) } else { (inner, outer) }
}

fn tone(stream: &Stream) -> &'static str {
    if stream.is_fan { "fan" } else { "leak" }
}

fn label(
    pen: &mut Pen,
    look: &Look<'_>,
    stream: &Stream,
    (x, y): (f64, f64),
    anchor: &'static str,
    room: f64,
) {
    pen.text((x, y), anchor, &stream.who, room);
    let flow = format!("{} {}", way(stream), look.figure(stream.m3h, "m³/h"));
    pen.letters((x, y + 15.0), anchor, "figure", &flow, room);
}

/// The case with the names of its sides and the warmth in each part of it.
fn case(pen: &mut Pen, look: &Look<'_>, air: &Air, (top, foot): (f64, f64), room: f64) {
    let (left, right, split) = SIDES;
    pen.rect((left, top), (right - left, foot - top), "box");
    let middle = f64::midpoint(top, foot) + 6.0;
    pen.line((split, top), (split, foot), "wall");
    pen.line((left, middle), (split, middle), "wall");
    pen.letters((left - 38.0, top + 12.0), "end", "small", "REAR", 60.0);
    pen.letters((right + 38.0, top + 12.0), "start", "small", "FRONT", 60.0);
    let half = f64::midpoint(left, split);
    let mut zone = |x: f64, y: f64, name: &str, rise: f64, wide: f64| {
        pen.text((x, y), "middle", name, wide);
        pen.letters((x, y + 16.0), "middle", "figure", &celsius(look, room, rise), wide);
    };
    zone(half, f64::midpoint(top, middle) - 2.0, "processor", air.main_rise_k, 78.0);
    zone(half, f64::midpoint(middle, foot) - 2.0, "cards", air.card_rise_k, 78.0);
    zone(f64::midpoint(split, right), middle, "front", air.front_rise_k, 46.0);
}
