//! Invented parts by chance: twelve kinds, the same in every run, in the forms that the contestants
//! take.

use std::fmt::Write as _;

/// The kinds.
pub const KINDS: [&str; 12] = [
    "processor",
    "board",
    "memory",
    "graphics",
    "storage",
    "supply",
    "cooler",
    "chassis",
    "fan",
    "display",
    "os",
    "sound",
];

/// A small generator of random numbers.
pub struct Random(pub u64);

impl Random {
    /// A number from 0 to below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n.max(1)
    }

    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }
}

/// A value of a part.
#[derive(Debug, Clone)]
pub enum Value {
    /// A whole number in the unit its name ends with.
    Number(i64),
    /// A word.
    Word(&'static str),
    /// Words.
    Words(Vec<&'static str>),
    /// How many of each.
    Counts(Vec<(&'static str, i64)>),
    /// Leads of a supply: connector, plugs on each, how many.
    Leads(Vec<(&'static str, i64, i64)>),
}

/// A part.
#[derive(Debug, Clone)]
pub struct Part {
    /// `kind/name`.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Price of one at the till, in cents.
    pub price_cents: i64,
    /// Its fields in the order of its kind.
    pub values: Vec<(&'static str, Value)>,
}

impl Part {
    /// A number of the part.
    pub fn number(&self, name: &str) -> i64 {
        match self.value(name) {
            Value::Number(n) => *n,
            _ => panic!("{name} is no number"),
        }
    }

    /// A word of the part.
    pub fn word(&self, name: &str) -> &'static str {
        match self.value(name) {
            Value::Word(word) => word,
            _ => panic!("{name} is no word"),
        }
    }

    /// Any value of the part.
    pub fn value(&self, name: &str) -> &Value {
        self.values
            .iter()
            .find(|(n, _)| *n == name)
            .map(|(_, v)| v)
            .expect("the kind has the field")
    }
}

/// So many parts of every kind, in the order of [`KINDS`].
pub fn parts(each: usize, seed: u64) -> Vec<Vec<Part>> {
    let mut random = Random(seed);
    KINDS.iter().map(|kind| (0..each).map(|at| part(kind, at, &mut random)).collect()).collect()
}

fn part(kind: &str, at: usize, random: &mut Random) -> Part {
    const SOCKETS: [&str; 3] = ["reef", "shoal", "skerry"];
    const MEMORY: [&str; 2] = ["m4", "m5"];
    const RADIATORS: [i64; 4] = [0, 240, 280, 360];
    let mut number =
        |from: usize, to: usize| Value::Number((from + random.below(to - from)) as i64);
    let values = match kind {
        "processor" => vec![("draw_w", number(35, 250))],
        "board" => vec![
            ("draw_w", number(10, 40)),
            ("depth_mm", number(170, 305)),
            ("m2", number(1, 4)),
            ("sata", number(1, 6)),
        ],
        "memory" => vec![("draw_w", number(3, 12))],
        "graphics" => vec![
            ("draw_w", number(50, 400)),
            ("length_mm", number(160, 350)),
            ("power_in", Value::Counts(vec![("pcie_8", random.below(4) as i64)])),
        ],
        "storage" => vec![("draw_w", number(2, 12))],
        "supply" => vec![("rated_w", number(350, 1200)), ("leads", Value::Leads(leads(random)))],
        "cooler" => {
            vec![
                ("draw_w", number(1, 15)),
                ("height_mm", number(40, 175)),
                ("rated_w", number(80, 320)),
                ("radiator_mm", Value::Number(random.of(&RADIATORS))),
            ]
        }
        "chassis" => vec![
            ("depth_mm", number(180, 330)),
            ("card_mm", number(220, 420)),
            ("cooler_mm", number(60, 185)),
            (
                "radiators",
                Value::Counts(vec![
                    ("top", random.of(&RADIATORS)),
                    ("front", random.of(&RADIATORS)),
                ]),
            ),
        ],
        "fan" => vec![("draw_w", number(1, 6)), ("moves_m3h", number(40, 160))],
        _ => vec![("weight_g", number(100, 9000))],
    };
    let mut values = values;
    match kind {
        "processor" => values.push(("socket", Value::Word(random.of(&SOCKETS)))),
        "board" => values.extend([
            ("socket", Value::Word(random.of(&SOCKETS))),
            ("memory", Value::Word(random.of(&MEMORY))),
        ]),
        "memory" => values.push(("memory", Value::Word(random.of(&MEMORY)))),
        "storage" => values.push(("bus", Value::Word(random.of(&["m2", "sata"])))),
        "cooler" => {
            let left_out = random.below(4);
            values.push((
                "sockets",
                Value::Words(
                    SOCKETS
                        .iter()
                        .enumerate()
                        .filter(|(nth, _)| *nth != left_out)
                        .map(|(_, s)| *s)
                        .collect(),
                ),
            ));
        }
        _ => {}
    }
    Part {
        id: format!("{kind}/p{at}"),
        name: format!("Kelpie {kind} {at}"),
        price_cents: 900 + random.below(60_000) as i64,
        values,
    }
}

fn leads(random: &mut Random) -> Vec<(&'static str, i64, i64)> {
    let mut leads = vec![("atx_24", 1, 1), ("eps_8", 1, 1 + random.below(2) as i64)];
    for _ in 0..random.below(3) {
        leads.push(("pcie_8", 1 + random.below(2) as i64, 1 + random.below(2) as i64));
    }
    leads.push(("sata", 3, 1 + random.below(2) as i64));
    leads
}

/// Kinds, parts and offers as dryfit reads them: path in the catalogue and text.
pub fn texts(parts: &[Vec<Part>]) -> Vec<(String, String)> {
    let mut files = Vec::new();
    let mut offers = "part,seller,seen_on,price,currency,shipping,stock\n".to_owned();
    for (kind, parts) in KINDS.iter().zip(parts) {
        let mut schema = format!("kind = \"{kind}\"\n");
        for (name, value) in &parts[0].values {
            let _ =
                writeln!(schema, "[field.{name}]\ntype = \"{}\"\nrequired = true", type_of(value));
            if let Some((_, unit)) = [("_w", "W"), ("_mm", "mm"), ("_g", "g"), ("_m3h", "m³/h")]
                .iter()
                .find(|(end, _)| name.ends_with(end))
            {
                let _ = writeln!(schema, "unit = \"{unit}\"");
            }
            if matches!(value, Value::Leads(_)) {
                for (sub, ty) in [("connector", "text"), ("plugs", "number"), ("count", "number")] {
                    let _ = writeln!(
                        schema,
                        "[field.{name}.field.{sub}]\ntype = \"{ty}\"\nrequired = true"
                    );
                }
            }
        }
        files.push((format!("kinds/{kind}.toml"), schema));
        let mut text = format!("kind = \"{kind}\"\n");
        for part in parts {
            let _ = writeln!(
                text,
                "[{}]\nname = \"{}\"",
                part.id.trim_start_matches(kind).trim_start_matches('/'),
                part.name
            );
            for (name, value) in &part.values {
                let _ = writeln!(text, "{name} = {}", toml(value));
            }
            let _ = writeln!(
                offers,
                "{},The Shed,2026-11-01,{}.{:02},EUR,0.00,5",
                part.id,
                part.price_cents / 100,
                part.price_cents % 100
            );
        }
        files.push((format!("parts/{kind}.toml"), text));
    }
    files.push(("offers/all.csv".to_owned(), offers));
    files
}

fn type_of(value: &Value) -> &'static str {
    match value {
        Value::Number(_) => "number",
        Value::Word(_) => "text",
        Value::Words(_) => "list",
        Value::Counts(_) => "counts",
        Value::Leads(_) => "records",
    }
}

fn toml(value: &Value) -> String {
    match value {
        Value::Number(n) => n.to_string(),
        Value::Word(word) => format!("\"{word}\""),
        Value::Words(words) => format!("{words:?}"),
        Value::Counts(counts) => format!(
            "{{ {} }}",
            counts.iter().map(|(name, n)| format!("{name} = {n}")).collect::<Vec<_>>().join(", ")
        ),
        Value::Leads(leads) => {
            let rows: Vec<String> = leads
                .iter()
                .map(|(c, plugs, count)| {
                    format!("{{ connector = \"{c}\", plugs = {plugs}, count = {count} }}")
                })
                .collect();
            format!("[{}]", rows.join(", "))
        }
    }
}

/// A line of a build: which kind, which part of it, how many, and where it is fitted.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    /// Place in [`KINDS`].
    pub kind: usize,
    /// Place among the parts of the kind.
    pub part: usize,
    /// Pieces.
    pub count: i64,
    /// Where it is fitted and which way it blows.
    pub mount: Option<(&'static str, &'static str)>,
}

/// A random build of thirteen lines or so.
#[derive(Debug, Clone)]
pub struct List {
    /// Its lines.
    pub lines: Vec<Line>,
}

/// What the customer would spend, in cents.
pub const BUDGET_CENTS: i64 = 450_000;

/// A random list.
pub fn list(parts: &[Vec<Part>], random: &mut Random) -> List {
    let mut lines = Vec::with_capacity(14);
    let mut push = |name: &str, random: &mut Random, count: i64, mount| {
        let kind = KINDS.iter().position(|k| *k == name).expect("it is a kind");
        let mut part = random.below(parts[kind].len());
        // No part stands on two lines: a set of findings would tell of it once only.
        while lines.iter().any(|l: &Line| l.kind == kind && l.part == part) {
            part = (part + 1) % parts[kind].len();
        }
        lines.push(Line { kind, part, count, mount });
    };
    for kind in ["processor", "board", "chassis", "supply", "display", "os", "sound"] {
        push(kind, random, 1, None);
    }
    let mount = random.of(&[("top", "out"), ("front", "in")]);
    push("cooler", random, 1, Some(mount));
    for kind in ["memory", "storage"] {
        for _ in 0..=random.below(2) {
            let count = 1 + random.below(2) as i64;
            push(kind, random, count, None);
        }
    }
    push("graphics", random, 1, None);
    for mount in [("front", "in"), ("rear", "out")] {
        let count = 1 + random.below(3) as i64;
        push("fan", random, count, Some(mount));
    }
    List { lines }
}
