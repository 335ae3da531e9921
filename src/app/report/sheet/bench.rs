//! The bench leaf: the order of work that follows from this build, and what to mind while doing it.

use serde::Serialize;

use super::findings::{Entry, entry};
use super::lanes::{Seats, live_ports};
use super::queries::{Look, listed};
use super::wires::{front_plan, memory_sockets, rows};
use crate::audit::wording::figure;
use crate::build::resolve::Slot;

/// The rule whose words the leaf's own cautions say at more length.
const HANDS: &str = "bench.hands";

/// The leaf.
#[derive(Debug, Serialize)]
pub(super) struct Bench {
    steps: Vec<Step>,
    cautions: Vec<String>,
    notes: Vec<Entry>,
}

/// A step: what to do, and the particulars of this build.
#[derive(Debug, Serialize)]
struct Step {
    title: String,
    lines: Vec<String>,
}

/// Fills it.
pub(super) fn bench(look: &Look<'_>, seats: Option<&Seats>) -> Bench {
    let all = [
        firmware(look),
        on_the_bench(look, seats),
        cooler(look),
        chassis(look),
        leads(look),
        cards(look, seats),
        drives(look, seats),
        power(look),
        first_start(look),
        hand_over(look),
    ];
    let steps = all.into_iter().flatten().filter(|s| !s.lines.is_empty()).collect();
    let notes = look.audited.bench.iter().filter(|m| m.finding.rule != HANDS).map(entry).collect();
    Bench { steps, cautions: cautions(look), notes }
}

fn step(title: &str, lines: Vec<String>) -> Option<Step> {
    Some(Step { title: title.to_owned(), lines })
}

fn cautions(look: &Look<'_>) -> Vec<String> {
    let mut lines =
        vec![
        "The makers' manuals and the rules of the place come before anything on this \
         leaf.".to_owned(),
        "Mains lead out before the box is opened, and a minute's wait after. A supply is never \
         opened: it holds a charge. Work on the mains side is an electrician's.".to_owned(),
        "Wrist strap on, parts in their bags until they are fitted, boards held by their \
         edges.".to_owned(),
        "Push 12 V plugs home until the latch holds, with no sharp bend behind them. A plug half \
         in runs hot.".to_owned(),
        "The board's coin cell is dangerous if swallowed. Keep it from children, and take an old \
         one to where such cells are collected.".to_owned(),
    ];
    if let Some(chassis) = look.first("chassis") {
        if look.is(chassis, "glass") {
            lines.push(format!(
                "{} has a glass panel: lay it flat on something soft, never on tile.",
                look.short(chassis)
            ));
        }
        let kg = look.num(chassis, "kg");
        let lift = look.setting("bench.lift_kg").unwrap_or(15.0);
        let people =
            if kg >= lift { "two people lift it" } else { "it grows heavier with every part" };
        lines.push(format!(
            "{} weighs {} empty: {people}.",
            look.short(chassis),
            figure(kg, "kg", "")
        ));
    }
    lines
}

fn firmware(look: &Look<'_>) -> Option<Step> {
    let (board, processor) = (look.first("board")?, look.first("processor")?);
    let family = look.text(processor, "family");
    let wanted = look
        .records(board, "processors")
        .into_iter()
        .find(|r| r.text("family") == family)
        .map(|r| r.num("firmware"));
    let shipped = look.num(board, "firmware");
    let (name, who) = (look.short(board), look.short(processor));
    let lines = match wanted {
        None => vec![format!("{name} does not list the family of {who}. Stop here and ask.")],
        Some(wanted) if wanted <= shipped => {
            vec![format!(
                "{name} is shipped with firmware {shipped} and runs {who} from {wanted} on: \
                 nothing to write before the first start. Check the number on the box."
            )]
        }
        Some(wanted) if look.is(board, "blind_update") => {
            vec![format!(
                "{name} is shipped with firmware {shipped}; {who} wants {wanted}. Write it first, \
                 with no processor fitted, as its manual says."
            )]
        }
        Some(wanted) => {
            vec![format!(
                "{name} is shipped with firmware {shipped}; {who} wants {wanted}. It must be \
                 written with an older processor in the socket, or by the seller."
            )]
        }
    };
    let first = wanted.is_none_or(|w| w > shipped);
    step(if first { "Firmware first" } else { "Firmware, a look" }, lines)
}

fn on_the_bench(look: &Look<'_>, seats: Option<&Seats>) -> Option<Step> {
    let board = look.first("board")?;
    let mut lines = Vec::new();
    if let Some(processor) = look.first("processor") {
        lines.push(format!(
            "{} into socket {} of {}, without force, mark to mark.",
            look.short(processor),
            look.text(board, "socket"),
            look.short(board)
        ));
    }
    let used: Vec<String> =
        memory_sockets(look).into_iter().filter(|s| s.module.is_some()).map(|s| s.name).collect();
    if !used.is_empty() {
        let kits: Vec<String> = look.slots("memory").iter().map(|s| look.pieces(s)).collect();
        lines.push(format!(
            "{} into {}, counted from the processor. Where the manual says otherwise, it is right.",
            listed(&kits),
            listed(&used)
        ));
    }
    for (socket, drive) in seats.map(|s| s.modules.as_slice()).unwrap_or_default() {
        lines.push(format!("{drive} into {socket}, screw in, film off the pad if there is one."));
    }
    let radios = look
        .slots("network")
        .iter()
        .filter(|s| s.part.is_some() && look.text(s, "interface") == "m2_e")
        .map(|s| look.pieces(s));
    lines.extend(radios.map(|radio| {
        format!(
            "{radio} into the socket of key E, its aerial leads clicked on and led to the rear."
        )
    }));
    step("Board on the bench", lines)
}

fn cooler(look: &Look<'_>) -> Option<Step> {
    let cooler = look.first("cooler")?;
    let name = look.short(cooler);
    let mut lines = Vec::new();
    let paste: Vec<String> = look.slots("paste").iter().map(|s| look.short(s)).collect();
    lines.push(if paste.is_empty() {
        "Paste: what came with the cooler, if it is not on already.".to_owned()
    } else {
        format!("Paste: {}, a pea's worth.", listed(&paste))
    });
    if look.text(cooler, "cooling") == "liquid" {
        let at = cooler
            .mount
            .as_text()
            .map_or_else(|| "a place not given".to_owned(), |m| crate::words::clip(m, 40));
        let flow = cooler
            .flow
            .as_text()
            .map_or_else(String::new, |f| format!(", fans blowing {}", crate::words::clip(f, 20)));
        lines.push(format!(
            "Radiator of {name} at the {at}{flow}: into the chassis before the \
         board, so that nothing falls on it. Block on after."
        ));
        lines.push("The pump must not be the highest point of the loop.".to_owned());
    } else {
        lines.push(format!(
            "{name} on, screws crosswise, its fan in the way of the air through the box."
        ));
    }
    if let Some(header) = header_of(look, "processor") {
        lines.push(format!("Its fan to {header}."));
    }
    if look.num(cooler, "pump_amps") > 0.0
        && let Some(header) = header_of(look, "pump")
    {
        lines.push(format!("Its pump to {header}, at full speed."));
    }
    step("Cooler", lines)
}

fn header_of(look: &Look<'_>, role: &str) -> Option<String> {
    let board = look.first("board")?;
    look.records(board, "fan_headers")
        .iter()
        .find(|h| h.text("role") == role)
        .map(|h| h.text("name"))
}

fn chassis(look: &Look<'_>) -> Option<Step> {
    let chassis = look.first("chassis")?;
    let mut lines = Vec::new();
    if let Some(board) = look.first("board") {
        lines.push(format!(
            "Standoffs for {} in {}: one under each hole, none elsewhere.",
            look.title("board_form", &look.text(board, "form")),
            look.short(chassis)
        ));
    }
    if let Some(supply) = look.first("supply") {
        let long = look.num(supply, "length_mm");
        let cage =
            look.val(chassis, "supply_cage_mm").and_then(crate::catalogue::value::Val::as_num);
        let out =
            if cage.is_some_and(|c| long > c) { ", after the drive cage has come out" } else { "" };
        lines.push(format!(
            "{} in{out}, its fan to where it takes its air ({}).",
            look.short(supply),
            look.text(chassis, "supply_draws")
        ));
    }
    lines.extend(look.slots("fan").iter().filter(|s| s.part.is_some()).map(|s| fan(look, s)));
    let headers = look.first("board").map(|b| look.records(b, "fan_headers")).unwrap_or_default();
    let names: Vec<String> = headers
        .iter()
        .filter(|h| h.text("role") == "chassis")
        .map(|h| {
            format!(
                "{} ({}, {})",
                h.text("name"),
                h.text("control"),
                figure(h.num("amps"), "A", "")
            )
        })
        .collect();
    if !names.is_empty() && !look.slots("fan").is_empty() {
        let hubs: Vec<String> = look
            .slots("hub")
            .iter()
            .filter(|s| s.part.is_some() && look.text(s, "serves") == "fan")
            .map(|s| look.pieces(s))
            .collect();
        let through =
            if hubs.is_empty() { String::new() } else { format!(" or through {}", listed(&hubs)) };
        lines.push(format!("Fans go to {}{through}.", listed(&names)));
    }
    step("Chassis, supply and fans", lines)
}

fn fan(look: &Look<'_>, slot: &Slot) -> String {
    let at = slot.mount.as_text().map_or_else(
        || "at a place not given".to_owned(),
        |m| format!("at the {}", crate::words::clip(m, 40)),
    );
    let flow = slot.flow.as_text().map_or_else(
        || ", direction not given".to_owned(),
        |f| format!(", blowing {}", crate::words::clip(f, 20)),
    );
    format!("{} {at}{flow}; {}.", look.pieces(slot), figure(look.num(slot, "amps"), "A each", ""))
}

fn leads(look: &Look<'_>) -> Option<Step> {
    let plan = front_plan(look)?;
    let words = rows(look, &plan).into_iter().map(|row| match (row.header, row.via.is_empty()) {
        (Some(header), true) => format!("{} to {header}.", row.lead),
        (Some(header), false) => format!("{} through {} to {header}.", row.lead, row.via),
        (None, _) => format!("{}: left off, {}. Tie it back.", row.lead, row.via),
    });
    step("Board in, front leads on", words.collect())
}

fn cards(look: &Look<'_>, seats: Option<&Seats>) -> Option<Step> {
    let long = look.setting("bench.long_card_mm").unwrap_or(300.0);
    let mut lines: Vec<String> = seats?
        .cards
        .iter()
        .map(|(slot, card)| format!("{card} into {slot}, latch shut, bracket screwed."))
        .collect();
    for card in look
        .slots("graphics")
        .iter()
        .filter(|s| s.part.is_some() && look.num(s, "length_mm") >= long)
    {
        lines.push(format!(
            "{} is {} long: hold it up with a brace, and send it apart from the box.",
            look.short(card),
            figure(look.num(card, "length_mm"), "mm", "")
        ));
    }
    step("Cards", lines)
}

fn drives(look: &Look<'_>, seats: Option<&Seats>) -> Option<Step> {
    let on_leads: Vec<&Slot> = look
        .slots("storage")
        .iter()
        .filter(|s| s.part.is_some() && look.text(s, "form") != "m2")
        .collect();
    if on_leads.is_empty() {
        return None;
    }
    let mut lines: Vec<String> = on_leads
        .iter()
        .map(|s| {
            format!(
                "{} into a bay{}.",
                look.pieces(s),
                if s.owned {
                    ", the customer's own: copy it before anything is written"
                } else {
                    ""
                }
            )
        })
        .collect();
    if let Some(seats) = seats {
        lines.push(format!("Ports alive: {}.", listed(&live_ports(look, seats))));
        if !seats.dark.is_empty() {
            let dark: Vec<String> =
                seats.dark.iter().map(|(port, by)| format!("{port} (by {by})")).collect();
            lines.push(format!("Dark, so nothing goes in: {}.", listed(&dark)));
        }
    }
    step("Drives on leads", lines)
}

fn power(look: &Look<'_>) -> Option<Step> {
    look.first("supply")?;
    let table = super::wires::supply(look)?.table;
    let lines: Vec<String> = table
        .rows
        .iter()
        .filter_map(|r| Some((r.first()?, r.get(1)?)))
        .filter(|(_, to)| *to != "–")
        .map(|(plug, to)| format!("{plug} to {to}."))
        .collect();
    step("Power leads", lines)
}

fn first_start(look: &Look<'_>) -> Option<Step> {
    let mut lines = vec![
        "Look over every plug, then mains in. Box open, hands and leads out of the fans."
            .to_owned(),
    ];
    if let Some(gb) = look.measure("memory.capacity") {
        lines.push(format!("Firmware set-up shows {} of memory.", figure(gb, "GB", "")));
    }
    if let (Some(starts), Some(runs)) =
        (look.measure("memory.fallback_rate"), look.measure("memory.running_rate"))
        && runs > starts
    {
        lines.push(format!(
            "Memory starts at {}: switch its profile on for {}.",
            figure(starts, "MT/s", ""),
            figure(runs, "MT/s", "")
        ));
    }
    lines.push(
        "Every fan turns, and turns the way the list says. A strip of paper shows it.".to_owned(),
    );
    step("First start", lines)
}

fn hand_over(look: &Look<'_>) -> Option<Step> {
    let mut lines = Vec::new();
    if let Some(os) = look.first("os") {
        lines.push(format!("{} on, updates drawn, licence noted.", look.short(os)));
    }
    for (id, what, unit) in
        [("heat.processor_temp", "Processor", "°C"), ("heat.graphics_temp", "Graphics card", "°C")]
    {
        if let Some(value) = look.measure(id) {
            let doubt = look.setting("heat.doubt_k").unwrap_or(8.0);
            lines.push(format!(
                "{what} at full work for an hour: about {} in a room of {:.0} °C, give or take \
                 {doubt} K.",
                figure(value, unit, ""),
                look.build_num("room_c").unwrap_or(25.0)
            ));
        }
    }
    lines.push("What was found goes on this leaf, and a copy with the machine.".to_owned());
    step("Test and hand over", lines)
}
