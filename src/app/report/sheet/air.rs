//! Air through the box: fans, directions, flows and the warmth of each part of it.

use super::draw::{Pen, Picture, Table, WIDE};
use super::queries::Look;
use crate::build::chambers::{Air, Place, Through, Way};

/// The box on the paper: left, top, right, bottom.
const BOX: (f64, f64, f64, f64) = (106.0, 62.0, 306.0, 262.0);
/// Where the front's part begins, and where cards and processor part.
const SPLIT: (f64, f64) = (236.0, 160.0);
/// A flow smaller than this is not drawn; the table has it.
const LEAST: f64 = 1.0;

fn flow(n: f64) -> String {
    let digits = usize::from(n.abs() < 9.95);
    format!("{n:.digits$} m³/h")
}

fn place(place: Place) -> &'static str {
    match place {
        Place::Room => "room",
        Place::Front => "front",
        Place::Cards => "cards",
        Place::Main => "processor",
    }
}

fn named(look: &Look<'_>, way: &Way) -> String {
    match &way.through {
        Through::Fan(kind, nth) if way.pieces > 1 => {
            format!("{} × {}", way.pieces, look.short_at((*kind, *nth)))
        }
        Through::Fan(kind, nth) => look.short_at((*kind, *nth)),
        Through::Panel => "open panel".to_owned(),
        Through::Inside => "inside".to_owned(),
        Through::Card => "card's fans".to_owned(),
        Through::Slots => "empty slots".to_owned(),
        Through::Gaps => "gaps".to_owned(),
        Through::Supply => "supply's fan".to_owned(),
    }
}

/// The air picture; none without a box, with an open line, or where nothing moves the air.
pub(super) fn air(look: &Look<'_>) -> Option<Picture> {
    let air = look.build.air().ok()?.as_ref()?;
    let chassis = look.first("chassis")?;
    let room = look.build_num("room_c").unwrap_or(25.0);
    let mut table = Table::new(
        "Ways of the air, and warmth at full work",
        &["Way", "At", "From", "To", "Flow#"],
    );
    for way in &air.ways {
        let mount = if way.mount.is_empty() { "–" } else { &way.mount };
        table.row([
            named(look, way),
            mount.to_owned(),
            place(way.from).to_owned(),
            place(way.to).to_owned(),
            flow(way.m3h),
        ]);
    }
    let warmth = [
        (Place::Room, 0.0),
        (Place::Front, air.front_rise_k),
        (Place::Cards, air.card_rise_k),
        (Place::Main, air.main_rise_k),
    ];
    let words: Vec<String> = warmth
        .iter()
        .map(|(at, rise)| format!("{} {}", place(*at), celsius(room, *rise)))
        .collect();
    let desc = format!(
        "A box seen from the side, front at the right. It takes in and gives off {} of air. Warmth \
         at full work: {}.",
        flow(air.exchange_m3h),
        words.join(", ")
    );
    let notes = vec![
        format!(
            "Exchange {}; over the room {:.1} Pa around the processor; of the air that the cards \
             draw in, {:.0} % was in the box before.",
            flow(air.exchange_m3h),
            air.pressure_pa,
            air.card_again * 100.0
        ),
        format!("Warmth: {}.", words.join("; ")),
        "Fans at full speed and all parts at full work. The openings' resistances are common \
         practice, no source: compare builds by it, give or take a third."
            .to_owned(),
    ];
    let mut pen = Pen::default();
    frame(&mut pen, room, air);
    outside(&mut pen, air);
    inside(&mut pen, air);
    Some(Picture {
        id: "air",
        title: format!("Air through {}", look.short(chassis)),
        desc,
        high: high(air),
        shapes: pen.shapes,
        table,
        notes,
    })
}

fn celsius(room: f64, rise: f64) -> String {
    if rise.is_finite() { format!("{:.0} °C", room + rise) } else { "still air".to_owned() }
}

fn frame(pen: &mut Pen, room: f64, air: &Air) {
    let (left, top, right, bottom) = BOX;
    pen.rect((left, top), (right - left, bottom - top), "box");
    pen.line((SPLIT.0, top), (SPLIT.0, bottom), "wall");
    pen.line((left, SPLIT.1), (SPLIT.0, SPLIT.1), "wall");
    let mut label = |x: f64, y: f64, name: &str, rise: f64, wide: f64| {
        pen.text((x, y), "middle", name, wide);
        pen.letters((x, y + 17.0), "middle", "figure", &celsius(room, rise), wide);
    };
    label((left + SPLIT.0) / 2.0, top + 30.0, "processor", air.main_rise_k, 120.0);
    label((left + SPLIT.0) / 2.0, bottom - 36.0, "cards", air.card_rise_k, 120.0);
    label((SPLIT.0 + right) / 2.0, bottom - 36.0, "front", air.front_rise_k, 66.0);
    pen.text((6.0, 16.0), "start", &format!("room {room:.0} °C"), 110.0);
}

/// Room below the box only where something moves there.
fn high(air: &Air) -> f64 {
    let at = |mount: &str| side(air, mount, true).1.max(side(air, mount, false).1) > LEAST;
    BOX.3 + if at("bottom") { 46.0 } else { 10.0 } + if at("side") { 24.0 } else { 0.0 }
}

/// What goes in and out at one side.
fn side(air: &Air, mount: &str, inward: bool) -> (u32, f64) {
    let ours = |w: &&Way| match w.through {
        Through::Fan(..) | Through::Panel => w.mount == mount,
        Through::Slots | Through::Gaps | Through::Supply => mount == "rear",
        Through::Inside | Through::Card => false,
    };
    let toward = |w: &&Way| if inward { w.from == Place::Room } else { w.to == Place::Room };
    let found = air.ways.iter().filter(ours).filter(toward);
    found.fold((0, 0.0), |(fans, sum), w| {
        (fans + if matches!(w.through, Through::Fan(..)) { w.pieces } else { 0 }, sum + w.m3h)
    })
}

fn outside(pen: &mut Pen, air: &Air) {
    let (left, top, right, bottom) = BOX;
    let middle = (left + SPLIT.0) / 2.0;
    for (inward, step) in [(true, 0.0), (false, 1.0)] {
        let word = if inward { "in" } else { "out" };
        let mut say = |mount: &str,
                       at: (f64, f64),
                       anchor: &'static str,
                       arrow: ((f64, f64), (f64, f64)),
                       room: f64| {
            let (fans, sum) = side(air, mount, inward);
            if sum < LEAST {
                return;
            }
            let (from, to) = if inward { arrow } else { (arrow.1, arrow.0) };
            pen.arrow(from, to);
            let who = match fans {
                0 => format!("{word}, open"),
                1 => format!("{word}, 1 fan"),
                n => format!("{word}, {n} fans"),
            };
            pen.text(at, anchor, &who, room);
            pen.letters((at.0, at.1 + 15.0), anchor, "figure", &flow(sum), room);
        };
        let y = top + 40.0 + step * 90.0;
        say(
            "front",
            (right + 26.0, y + 2.0),
            "start",
            ((right + 22.0, y), (right - 14.0, y)),
            WIDE - right - 28.0,
        );
        say(
            "rear",
            (left - 26.0, y + 2.0),
            "end",
            ((left - 22.0, y), (left + 14.0, y)),
            left - 28.0,
        );
        let x = middle - 62.0 + step * 130.0;
        say("top", (x + 8.0, 26.0), "start", ((x, 22.0), (x, top + 8.0)), 108.0);
        say(
            "bottom",
            (x + 8.0, bottom + 26.0),
            "start",
            ((x, bottom + 38.0), (x, bottom - 8.0)),
            108.0,
        );
    }
    let (fans, sum_in) = side(air, "side", true);
    let (more, sum_out) = side(air, "side", false);
    if sum_in + sum_out > LEAST {
        pen.text(
            (6.0, high(air) - 8.0),
            "start",
            &format!("side: {} fans, in {}, out {}", fans + more, flow(sum_in), flow(sum_out)),
            WIDE - 12.0,
        );
    }
}

fn inside(pen: &mut Pen, air: &Air) {
    let between = |a: Place, b: Place| {
        air.ways.iter().filter(|w| w.from == a && w.to == b).map(|w| w.m3h).sum::<f64>()
    };
    let mut say = |a: Place,
                   b: Place,
                   from: (f64, f64),
                   to: (f64, f64),
                   label: (f64, f64),
                   anchor: &'static str| {
        let net = between(a, b) - between(b, a);
        if net.abs() < LEAST {
            return;
        }
        let (from, to) = if net > 0.0 { (from, to) } else { (to, from) };
        pen.arrow(from, to);
        pen.letters(label, anchor, "small", &flow(net.abs()), 90.0);
    };
    let y = SPLIT.1;
    say(
        Place::Front,
        Place::Main,
        (SPLIT.0 + 14.0, y - 26.0),
        (SPLIT.0 - 14.0, y - 26.0),
        (SPLIT.0 - 18.0, y - 22.0),
        "end",
    );
    say(
        Place::Front,
        Place::Cards,
        (SPLIT.0 + 14.0, y + 26.0),
        (SPLIT.0 - 14.0, y + 26.0),
        (SPLIT.0 - 18.0, y + 31.0),
        "end",
    );
    say(
        Place::Cards,
        Place::Main,
        (BOX.0 + 22.0, y + 16.0),
        (BOX.0 + 22.0, y - 16.0),
        (BOX.0 + 30.0, y + 14.0),
        "start",
    );
}
