//! The same twelve rules as a programmer would write them in Rust for this one purpose: a type a
//! kind, no host, no script.

use crate::parts::{self, BUDGET_CENTS, KINDS, List, Part, Value};

/// What was found.
pub struct Finding {
    /// The rule.
    pub rule: &'static str,
    /// `stop` or `caution`.
    pub level: &'static str,
    /// What to say.
    pub text: String,
}

#[derive(Default)]
struct Fields {
    name: String,
    draw_w: f64,
    price_cents: i64,
    rated_w: f64,
    socket: String,
    memory: String,
    bus: String,
    depth_mm: f64,
    card_mm: f64,
    cooler_mm: f64,
    length_mm: f64,
    height_mm: f64,
    radiator_mm: f64,
    moves_m3h: f64,
    m2: f64,
    sata: f64,
    pcie_8: f64,
    top_mm: f64,
    front_mm: f64,
    sockets: Vec<String>,
    leads: Vec<(String, f64, f64)>,
}

/// The parts, typed.
pub struct Typed(Vec<Vec<Fields>>);

/// A build that points at its parts.
pub struct Build<'a> {
    processor: &'a Fields,
    board: &'a Fields,
    chassis: &'a Fields,
    supply: &'a Fields,
    cooler: &'a Fields,
    mount: &'static str,
    memory: Vec<&'a Fields>,
    graphics: Vec<(&'a Fields, f64)>,
    storage: Vec<(&'a Fields, f64)>,
    fan: Vec<(&'a Fields, f64, bool)>,
    lines: Vec<(&'a Fields, f64)>,
}

fn fields(part: &Part) -> Fields {
    let number = |name: &str| {
        part.values.iter().find(|(n, _)| *n == name).map_or(0.0, |_| part.number(name) as f64)
    };
    let word = |name: &str| {
        part.values
            .iter()
            .find(|(n, _)| *n == name && !matches!(part.value(name), Value::Number(_)))
            .map_or("", |_| part.word(name))
    };
    let count = |field: &str, key: &str| match part.values.iter().find(|(n, _)| *n == field) {
        Some((_, Value::Counts(counts))) => {
            counts.iter().find(|(k, _)| *k == key).map_or(0.0, |(_, n)| *n as f64)
        }
        _ => 0.0,
    };
    Fields {
        name: part.name.clone(),
        draw_w: number("draw_w"),
        price_cents: part.price_cents,
        rated_w: number("rated_w"),
        socket: word("socket").to_owned(),
        memory: word("memory").to_owned(),
        bus: word("bus").to_owned(),
        depth_mm: number("depth_mm"),
        card_mm: number("card_mm"),
        cooler_mm: number("cooler_mm"),
        length_mm: number("length_mm"),
        height_mm: number("height_mm"),
        radiator_mm: number("radiator_mm"),
        moves_m3h: number("moves_m3h"),
        m2: number("m2"),
        sata: number("sata"),
        pcie_8: count("power_in", "pcie_8"),
        top_mm: count("radiators", "top"),
        front_mm: count("radiators", "front"),
        sockets: match part.values.iter().find(|(n, _)| *n == "sockets") {
            Some((_, Value::Words(words))) => words.iter().map(|w| (*w).to_owned()).collect(),
            _ => Vec::new(),
        },
        leads: match part.values.iter().find(|(n, _)| *n == "leads") {
            Some((_, Value::Leads(leads))) => leads
                .iter()
                .map(|(c, plugs, count)| ((*c).to_owned(), *plugs as f64, *count as f64))
                .collect(),
            _ => Vec::new(),
        },
    }
}

impl Typed {
    /// Types the parts.
    pub fn new(parts: &[Vec<Part>]) -> Self {
        Self(parts.iter().map(|kind| kind.iter().map(fields).collect()).collect())
    }

    /// A build over them.
    pub fn build(&self, list: &List) -> Build<'_> {
        let part = |line: &parts::Line| &self.0[line.kind][line.part];
        let of =
            |kind: &str| list.lines.iter().filter(|l| KINDS[l.kind] == kind).collect::<Vec<_>>();
        let one = |kind: &str| part(of(kind)[0]);
        let counted =
            |kind: &str| of(kind).into_iter().map(|l| (part(l), l.count as f64)).collect();
        Build {
            processor: one("processor"),
            board: one("board"),
            chassis: one("chassis"),
            supply: one("supply"),
            cooler: one("cooler"),
            mount: of("cooler")[0].mount.expect("a cooler is mounted").0,
            memory: of("memory").into_iter().map(part).collect(),
            graphics: counted("graphics"),
            storage: counted("storage"),
            fan: of("fan")
                .into_iter()
                .map(|l| (part(l), l.count as f64, l.mount.is_some_and(|(_, flow)| flow == "in")))
                .collect(),
            lines: list.lines.iter().map(|l| (part(l), l.count as f64)).collect(),
        }
    }
}

/// Three figures or so, as dryfit rounds.
fn rounded(n: f64) -> String {
    // The sum of nothing is -0.
    let n = n + 0.0;
    let digits = if n.abs() >= 100.0 {
        0
    } else if n.abs() >= 10.0 {
        1
    } else {
        2
    };
    let text = format!("{n:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// All twelve.
pub fn audit(build: &Build<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    power(build, &mut found);
    fit(build, &mut found);
    cooling(build, &mut found);
    counts(build, &mut found);
    found
}

fn power(build: &Build<'_>, found: &mut Vec<Finding>) {
    let supply = build.supply;
    let draw: f64 = build.lines.iter().map(|(part, count)| part.draw_w * count).sum();
    let (asked, rated) = (|| rounded(draw), || rounded(supply.rated_w));
    if draw > supply.rated_w {
        found.push(Finding {
            rule: "headroom",
            level: "stop",
            text: format!("{} W asked of {}, rated {} W", asked(), supply.name, rated()),
        });
    } else if draw > supply.rated_w * 0.8 {
        let text =
            format!("{} W leaves little in hand on {}, rated {} W", asked(), supply.name, rated());
        found.push(Finding { rule: "headroom", level: "caution", text });
    }
    let need: f64 = build.graphics.iter().map(|(card, count)| card.pcie_8 * count).sum();
    let have: f64 = supply
        .leads
        .iter()
        .filter(|(connector, ..)| connector == "pcie_8")
        .map(|(_, plugs, count)| plugs * count)
        .sum();
    if need > have {
        let text =
            format!("{} plugs needed and {} has {}", rounded(need), supply.name, rounded(have));
        found.push(Finding { rule: "leads", level: "stop", text });
    }
}

fn fit(build: &Build<'_>, found: &mut Vec<Finding>) {
    let Build { processor, board, chassis, cooler, .. } = build;
    let mut stop = |rule, text| found.push(Finding { rule, level: "stop", text });
    if processor.socket != board.socket {
        stop(
            "socket",
            format!(
                "{} needs {} and {} has {}",
                processor.name, processor.socket, board.name, board.socket
            ),
        );
    }
    for kit in &build.memory {
        if kit.memory != board.memory {
            stop(
                "generation",
                format!("{} is {} and {} takes {}", kit.name, kit.memory, board.name, board.memory),
            );
        }
    }
    if board.depth_mm > chassis.depth_mm {
        let text = format!(
            "{} is {} mm deep and {} takes {} mm",
            board.name,
            rounded(board.depth_mm),
            chassis.name,
            rounded(chassis.depth_mm)
        );
        stop("board_size", text);
    }
    let room = if cooler.radiator_mm > 0.0 && build.mount == "front" {
        chassis.card_mm - 55.0
    } else {
        chassis.card_mm
    };
    for (card, _) in &build.graphics {
        if card.length_mm > room {
            stop(
                "card_length",
                format!(
                    "{} is {} mm long and {} leaves {} mm",
                    card.name,
                    rounded(card.length_mm),
                    chassis.name,
                    rounded(room)
                ),
            );
        }
    }
    if cooler.radiator_mm == 0.0 && cooler.height_mm > chassis.cooler_mm {
        let text = format!(
            "{} is {} mm high and {} takes {} mm",
            cooler.name,
            rounded(cooler.height_mm),
            chassis.name,
            rounded(chassis.cooler_mm)
        );
        stop("cooler_height", text);
    }
}

fn cooling(build: &Build<'_>, found: &mut Vec<Finding>) {
    let Build { processor, chassis, cooler, mount, .. } = build;
    let mut stop = |rule, text| found.push(Finding { rule, level: "stop", text });
    if !cooler.sockets.contains(&processor.socket) {
        stop("cooler_rating", format!("{} has no kit for {}", cooler.name, processor.socket));
    }
    if cooler.rated_w < processor.draw_w {
        let text = format!(
            "{} gives {} W and {} takes {} W",
            processor.name,
            rounded(processor.draw_w),
            cooler.name,
            rounded(cooler.rated_w)
        );
        stop("cooler_rating", text);
    }
    let room = if *mount == "top" { chassis.top_mm } else { chassis.front_mm };
    if cooler.radiator_mm > room {
        stop(
            "radiator",
            format!(
                "{} asks for {} mm at the {mount} of {}",
                cooler.name,
                rounded(cooler.radiator_mm),
                chassis.name
            ),
        );
    }
    let flow = |inward: bool| {
        build
            .fan
            .iter()
            .filter(|(_, _, inn)| *inn == inward)
            .map(|(fan, count, _)| fan.moves_m3h * count)
            .sum::<f64>()
    };
    if flow(true) * 0.7 < flow(false) {
        found.push(Finding {
            rule: "net_flow",
            level: "caution",
            text: format!("more air goes out of {} than comes in", chassis.name),
        });
    }
}

fn counts(build: &Build<'_>, found: &mut Vec<Finding>) {
    let board = build.board;
    let drives = |flat: bool| {
        build
            .storage
            .iter()
            .filter(|(drive, _)| (drive.bus == "m2") == flat)
            .map(|(_, count)| count)
            .sum::<f64>()
    };
    for (kind, count, sockets) in
        [("flat", drives(true), board.m2), ("cabled", drives(false), board.sata)]
    {
        if count > sockets {
            let text = format!(
                "{} {kind} drives and {} has {} sockets",
                rounded(count),
                board.name,
                rounded(sockets)
            );
            found.push(Finding { rule: "drive_sockets", level: "stop", text });
        }
    }
    let total: i64 = build.lines.iter().map(|(part, count)| part.price_cents * *count as i64).sum();
    if total > BUDGET_CENTS {
        let text = format!(
            "it comes to {}.{:02} EUR and was to cost {}.{:02} EUR",
            total / 100,
            total % 100,
            BUDGET_CENTS / 100,
            BUDGET_CENTS % 100
        );
        found.push(Finding { rule: "price", level: "caution", text });
    }
}
