//! Which lead goes where: front leads to headers, the supply's leads to parts, modules to memory
//! sockets.

use super::draw::{Pen, Picture, Table, WIDE};
use super::queries::{Look, Record};
use crate::kit::page_values::FrontPlan;
use crate::words::and;

/// Height of a row of leads.
const ROW: f64 = 44.0;
/// Inner edges of the two columns of boxes.
const COLUMNS: (f64, f64) = (252.0, 300.0);
/// Most sockets or plugs drawn in a row.
const MOST: usize = 16;

/// The plan of the front leads; none while a line that it looks at is open, or with no board or
/// chassis.
pub(super) fn front_plan(look: &Look<'_>) -> Option<FrontPlan> {
    look.first("chassis")?;
    look.first("board")?;
    look.kit.front_plan(&look.build)
}

fn lead_words(look: &Look<'_>, lead: Record<'_>) -> String {
    let ports = if lead.num("ports") > 1.0 {
        format!(", {} ports", lead.num("ports"))
    } else {
        String::new()
    };
    format!("{} ({}{ports})", lead.text("label"), look.title("header", &lead.text("kind")))
}

/// Why a lead is left over, in words.
fn why(taken: bool) -> &'static str {
    if taken { "its headers serve others" } else { "no header for it" }
}

/// A row of the map: lead, what lies between, header.
pub(super) struct Row {
    pub(super) lead: String,
    pub(super) via: String,
    pub(super) header: Option<String>,
    label: String,
    rate: String,
}

/// The map row by row, leads without a header last, free headers after them.
pub(super) fn rows(look: &Look<'_>, plan: &FrontPlan) -> Vec<Row> {
    let mut rows = Vec::new();
    for placed in &plan.placed {
        let (Some(lead), Some(header)) = (look.record(placed.lead), look.record(placed.header))
        else {
            continue;
        };
        let via = placed.via.map_or_else(String::new, |at| look.short_at(at));
        let rate =
            if placed.gbps > 0.0 { look.figure(placed.gbps, "Gbit/s") } else { "–".to_owned() };
        rows.push(Row {
            lead: lead_words(look, lead),
            via,
            header: Some(header.text("name")),
            label: lead.text("label"),
            rate,
        });
    }
    for (lead, taken) in &plan.unplaced {
        let Some(lead) = look.record(*lead) else { continue };
        rows.push(Row {
            lead: lead_words(look, lead),
            via: why(*taken).to_owned(),
            header: None,
            label: lead.text("label"),
            rate: "–".to_owned(),
        });
    }
    rows
}

/// The wiring map.
pub(super) fn front(look: &Look<'_>) -> Option<Picture> {
    let plan = front_plan(look)?;
    let rows = rows(look, &plan);
    let spare: Vec<String> =
        plan.spare.iter().filter_map(|h| look.record(*h)).map(|h| h.text("name")).collect();
    // Cables that go straight to headers of their own leave nothing to decide.
    if rows.iter().all(|r| r.header.is_some() && r.via.is_empty()) {
        return None;
    }
    let mut table = Table::new(
        "Front cables and the headers they go to",
        &["Cable", "Through", "Header", "Each port#"],
    );
    let mut pen = Pen::default();
    pen.letters((8.0, 14.0), "start", "small", "front cable", 150.0);
    pen.letters((WIDE - 8.0, 14.0), "end", "small", "motherboard header", 150.0);
    for (row, at) in rows.iter().zip(0u16..) {
        let y = 22.0 + f64::from(at) * ROW;
        cable(&mut pen, y, row);
        let via = if row.header.is_none() || !row.via.is_empty() {
            row.via.clone()
        } else {
            "straight".to_owned()
        };
        table.row([
            row.lead.clone(),
            via,
            row.header.clone().unwrap_or_else(|| "none".to_owned()),
            row.rate.clone(),
        ]);
    }
    let free = if spare.is_empty() {
        "No header stays free.".to_owned()
    } else {
        format!("Free: {}.", and(&spare))
    };
    let placed = rows.iter().filter(|r| r.header.is_some()).count();
    let desc = format!("{placed} of {} front cables have a header. {}", rows.len(), free);
    let loose: Vec<String> =
        rows.iter().filter(|r| r.header.is_none()).map(|r| r.label.clone()).collect();
    let title = if loose.is_empty() {
        "Front cables: all have a header, some through an adapter".to_owned()
    } else {
        format!("Front cables: no header for {}", and(&loose))
    };
    let high = 26.0 + rows.len() as f64 * ROW;
    Some(Picture { id: "wiring", title, desc, high, shapes: pen.shapes, table, notes: vec![free] })
}

/// A front cable at the left, the header that it goes to at the right.
fn cable(pen: &mut Pen, y: f64, row: &Row) {
    pen.rect((8.0, y), (COLUMNS.0 - 8.0, 26.0), "lead-box");
    pen.text((14.0, y + 17.0), "start", &row.label, COLUMNS.0 - 18.0);
    let mut via = row.via.clone();
    if let Some(header) = &row.header {
        pen.line((COLUMNS.0, y + 13.0), (COLUMNS.1, y + 13.0), "wire");
        pen.rect((COLUMNS.1, y), (WIDE - 8.0 - COLUMNS.1, 26.0), "header-box");
        pen.text((WIDE - 14.0, y + 17.0), "end", header, WIDE - 20.0 - COLUMNS.1);
        if via.is_empty() {
            return;
        }
        via = format!("through {via}");
    } else {
        pen.line((COLUMNS.0, y + 13.0), (COLUMNS.0 + 24.0, y + 13.0), "loose");
    }
    pen.letters((WIDE - 14.0, y + 39.0), "end", "small", &via, WIDE - 30.0);
}

/// A kind of plug: who wants it and how many there are.
struct Plug {
    title: String,
    wanted: Vec<(String, f64)>,
    given: f64,
}

fn plugs(look: &Look<'_>) -> Vec<Plug> {
    let Some(table) = look.build.catalogue.table_named("connector") else { return Vec::new() };
    let mut found = Vec::new();
    for row in &table.rows {
        let mut wanted: Vec<(String, f64)> = Vec::new();
        for (_, _, slot) in look.build.all() {
            let each = look.count_of(slot, "power_in", row);
            let drive = &**row == "sata" && slot.part.is_some() && is_sata_power(look, slot);
            let n = (each + f64::from(u8::from(drive))) * slot.count;
            if n > 0.0 {
                wanted.push((look.pieces(slot), n));
            }
        }
        let leads = look.first("supply").map(|s| look.records(s, "leads")).unwrap_or_default();
        let given = leads
            .iter()
            .filter(|l| l.text("connector") == **row)
            .fold(0.0, |sum, l| sum + l.num("plugs") * l.num("count"));
        if given > 0.0 || !wanted.is_empty() {
            found.push(Plug { title: look.title("connector", row), wanted, given });
        }
    }
    found
}

/// A drive on a lead takes a SATA power plug; one on the board does not.
fn is_sata_power(look: &Look<'_>, slot: &crate::build::resolve::Slot) -> bool {
    look.val(slot, "media").is_some() && look.text(slot, "form") != "m2"
}

/// A row of plugs: filled for one in use, hollow for one left, hatched for one that is not there.
fn plug_row(pen: &mut Pen, y: f64, plug: &Plug, wanted: f64) {
    pen.text((8.0, y + 14.0), "start", &plug.title, 140.0);
    for at in 0..(plug.given.max(wanted) as usize).min(MOST) {
        let look = match (at < wanted as usize, at < plug.given as usize) {
            (true, true) => "pip-used",
            (true, false) => "pip-short",
            _ => "pip-free",
        };
        pen.rect((152.0 + at as f64 * 12.0, y + 4.0), (9.0, 11.0), look);
    }
    let words = format!("{wanted} of {}", plug.given);
    pen.letters((WIDE - 8.0, y + 14.0), "end", "figure", &words, 64.0);
}

/// Plugs of the supply against those that the parts want.
pub(super) fn supply(look: &Look<'_>) -> Option<Picture> {
    let supply = look.first("supply")?;
    let plugs = plugs(look);
    let mut table = Table::new(
        "Plugs of the power supply and the parts that need them",
        &["Plug", "Goes to", "Needed#", "There#", "Left#"],
    );
    let mut pen = Pen::default();
    let mut y = 6.0;
    let mut short = Vec::new();
    for plug in &plugs {
        let wanted = plug.wanted.iter().fold(0.0, |sum, (_, n)| sum + n);
        let to: Vec<String> = plug
            .wanted
            .iter()
            .map(|(name, n)| if *n > 1.0 { format!("{name} ({n} plugs)") } else { name.clone() })
            .collect();
        table.row([
            plug.title.clone(),
            if to.is_empty() { "–".to_owned() } else { and(&to) },
            wanted.to_string(),
            plug.given.to_string(),
            (plug.given - wanted).to_string(),
        ]);
        plug_row(&mut pen, y, plug, wanted);
        if wanted > plug.given {
            short.push(plug.title.clone());
        }
        y += 24.0;
    }
    // Plugs that suffice leave nothing to decide.
    if short.is_empty() {
        return None;
    }
    let lack = format!("Too few without an adapter: {}.", and(&short));
    let desc = format!(
        "A row a kind of plug, a mark a plug: filled for one in use, hollow for one left. {lack}"
    );
    let notes = vec![
        "Adapters are not counted here. Use only the cables that came with this power supply; \
         another's may fit and be wired otherwise."
            .to_owned(),
    ];
    Some(Picture {
        id: "plugs",
        title: format!("{} has too few plugs: {}", look.short(supply), and(&short)),
        desc,
        high: y + 4.0,
        shapes: pen.shapes,
        table,
        notes,
    })
}

/// A memory socket: its name here, and what goes in.
pub(super) struct Socket {
    pub(super) name: String,
    pub(super) module: Option<String>,
}

/// Memory sockets in the order they lie, filled as is common: the far socket of each channel first.
/// No source; the board's manual governs.
pub(super) fn memory_sockets(look: &Look<'_>) -> Vec<Socket> {
    let Some(board) = look.first("board") else { return Vec::new() };
    let all = (look.num(board, "memory_slots") as usize).min(MOST);
    let channels = (look.num(board, "channels") as usize).clamp(1, all.max(1));
    let each = (all / channels).max(1);
    let mut modules: Vec<String> = Vec::new();
    for kit in look.slots("memory") {
        let n = (look.num(kit, "modules") * kit.count) as usize;
        modules.extend(std::iter::repeat_n(look.short(kit), n.min(MOST)));
    }
    let name = |at: usize| {
        format!(
            "{}{}",
            char::from(b'A' + u8::try_from(at / each).unwrap_or(0).min(25)),
            at % each + 1
        )
    };
    let mut sockets: Vec<Socket> =
        (0..all).map(|at| Socket { name: name(at), module: None }).collect();
    let order = (0..each)
        .rev()
        .flat_map(|within| (0..channels).map(move |channel| channel * each + within));
    for (at, module) in order.zip(modules) {
        if let Some(socket) = sockets.get_mut(at) {
            socket.module = Some(module);
        }
    }
    sockets
}

pub(super) fn memory(look: &Look<'_>) -> Option<Picture> {
    let sockets = memory_sockets(look);
    let used: Vec<String> =
        sockets.iter().filter(|s| s.module.is_some()).map(|s| s.name.clone()).collect();
    // Where every socket is filled there is no choice.
    if used.is_empty() || used.len() == sockets.len() {
        return None;
    }
    let mut pen = Pen::default();
    pen.rect((8.0, 22.0), (88.0, 88.0), "box");
    pen.text((52.0, 70.0), "middle", "processor", 84.0);
    let step = ((WIDE - 120.0) / sockets.len() as f64).min(40.0);
    let mut table = Table::new("Memory sockets counted from the processor", &["Socket", "Module"]);
    for (socket, at) in sockets.iter().zip(0u16..) {
        let x = 116.0 + f64::from(at) * step;
        pen.rect(
            (x, 10.0),
            (step * 0.55, 112.0),
            if socket.module.is_some() { "pip-used" } else { "pip-free" },
        );
        pen.text((x + step * 0.28, 138.0), "middle", &socket.name, step);
        table.row([
            socket.name.clone(),
            socket.module.clone().unwrap_or_else(|| "empty".to_owned()),
        ]);
    }
    let desc = format!("Sockets to fill: {}. The others stay empty.", and(&used));
    let rate = look
        .measure("memory.running_rate")
        .map(|r| format!(" They run at {}.", look.figure(r, "MT/s")));
    let notes = vec![format!(
        "Letter for the channel, number for the place in it, counted from the processor; common \
         practice, no source. Where the board's manual says otherwise, it is right.{}",
        rate.unwrap_or_default()
    )];
    Some(Picture {
        id: "memory",
        title: format!("Memory goes into {}", and(&used)),
        desc,
        high: 146.0,
        shapes: pen.shapes,
        table,
        notes,
    })
}
