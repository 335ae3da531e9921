//! Lanes: which card and module sits where, and which ports are disabled by it.

use super::draw::{Pen, Picture, Table, WIDE};
use super::queries::{Look, Record};
use crate::kit::page_values::Seated;
use crate::words::and;

/// Height of a slot's row.
const ROW: f64 = 36.0;
/// Ports in a row.
const ACROSS: usize = 6;

/// The board's seats and who sits in them.
pub(super) struct Seats {
    pub(super) cards: Vec<(String, String)>,
    pub(super) modules: Vec<(String, String)>,
    pub(super) dark: Vec<(String, String)>,
}

/// Asks the shop's scripts for the seating, so that page and rules agree; none where they cannot
/// tell.
pub(super) fn seats(look: &Look<'_>) -> Option<Seats> {
    look.first("board")?;
    let ask = |call: &str, guest: &str, seat: &str| {
        look.kit.seated(
            &look.build,
            &format!(
                "let out = []; for p in seats::{call}(build).placed \
         {{ out.push([p.{guest}, p.{seat}]); }} out"
            ),
        )
    };
    let words = |all: &[Seated]| {
        all.iter()
            .filter_map(|s| Some((look.record(s.seat)?.text("name"), look.short_at(s.line))))
            .collect::<Vec<_>>()
    };
    let (cards, modules) = (ask("cards", "card", "slot")?, ask("modules", "drive", "socket")?);
    let dark = modules
        .iter()
        .filter_map(|s| look.record(s.seat))
        .flat_map(|r| r.list("disables").into_iter().map(move |port| (port, r.text("name"))))
        .collect();
    Some(Seats { cards: words(&cards), modules: words(&modules), dark })
}

/// The picture; none without a board.
pub(super) fn lanes(look: &Look<'_>, seats: &Seats) -> Option<Picture> {
    let board = look.first("board")?;
    // Where no port is disabled there is nothing to mind.
    if seats.dark.is_empty() {
        return None;
    }
    let mut table = Table::new(
        "Slots, sockets and ports of the motherboard",
        &["Place", "Lanes#", "Gen.#", "From", "Holds"],
    );
    let mut pen = Pen::default();
    let mut y = 4.0;
    for (field, guests) in [("slots", &seats.cards), ("m2", &seats.modules)] {
        for seat in look.records(board, field) {
            let name = seat.text("name");
            let guest = guests.iter().find(|(at, _)| *at == name).map(|(_, who)| who.as_str());
            row(&mut pen, y, &name, seat, guest);
            let holds = guest.map_or_else(|| "empty".to_owned(), ToOwned::to_owned);
            table.row([
                name,
                seat.num("lanes").to_string(),
                seat.num("gen").to_string(),
                seat.text("source"),
                holds,
            ]);
            y += ROW;
        }
    }
    let ports = look.list(board, "sata");
    y = port_grid(&mut pen, y + 4.0, &ports, seats);
    for port in &ports {
        let why = seats
            .dark
            .iter()
            .find(|(dark, _)| dark == port)
            .map(|(_, by)| format!("disabled while {by} is in use"));
        table.row([
            port.clone(),
            "–".to_owned(),
            "–".to_owned(),
            "SATA".to_owned(),
            why.unwrap_or_else(|| "usable".to_owned()),
        ]);
    }
    let dark: Vec<String> =
        seats.dark.iter().map(|(port, by)| format!("{port} (by {by})")).collect();
    let note = format!("Disabled: {}. Plug nothing in there.", and(&dark));
    let ports: Vec<String> = seats.dark.iter().map(|(port, _)| port.clone()).collect();
    let desc = format!("A row a slot or socket, a mark a lane, filled where a part sits. {note}");
    Some(Picture {
        id: "lanes",
        title: format!("{} disables {}", look.short(board), and(&ports)),
        desc,
        high: y,
        shapes: pen.shapes,
        table,
        notes: vec![note],
    })
}

fn row(pen: &mut Pen, y: f64, name: &str, seat: Record<'_>, guest: Option<&str>) {
    pen.text((8.0, y + 13.0), "start", name, 110.0);
    pen.letters(
        (122.0, y + 13.0),
        "start",
        if guest.is_some() { "" } else { "small" },
        guest.unwrap_or("empty"),
        194.0,
    );
    let words = format!("×{} gen {}", seat.num("lanes"), seat.num("gen"));
    pen.letters((WIDE - 8.0, y + 13.0), "end", "small", &words, 92.0);
    for at in 0..(seat.num("lanes") as usize).min(16) {
        pen.rect(
            (8.0 + at as f64 * 11.0, y + 19.0),
            (8.0, 8.0),
            if guest.is_some() { "pip-used" } else { "pip-free" },
        );
    }
}

fn port_grid(pen: &mut Pen, top: f64, ports: &[String], seats: &Seats) -> f64 {
    let mut foot = top;
    let wide = (WIDE - 16.0) / ACROSS as f64;
    for (at, port) in ports.iter().take(24).enumerate() {
        let (x, y) = (8.0 + (at % ACROSS) as f64 * wide, top + (at / ACROSS) as f64 * 46.0);
        let dark = seats.dark.iter().any(|(d, _)| d == port);
        pen.rect((x, y), (wide - 6.0, 38.0), if dark { "pip-short" } else { "pip-free" });
        pen.text((x + wide / 2.0 - 3.0, y + 15.0), "middle", port, wide - 8.0);
        pen.letters(
            (x + wide / 2.0 - 3.0, y + 31.0),
            "middle",
            "small",
            if dark { "disabled" } else { "usable" },
            wide - 8.0,
        );
        foot = y + 46.0;
    }
    foot
}
