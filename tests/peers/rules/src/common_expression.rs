//! The rules as programs of the Common Expression Language, compiled once; a build's values are
//! bound beforehand.
//!
//! The language has no sums, so the host gives it one; a message is only made where its test holds.

use std::collections::HashMap;
use std::sync::Arc;

use cel::objects::{Key, Map};
use cel::{Context, Env, Program, Value};

use crate::parts::{self, BUDGET_CENTS, KINDS, List, Part};

/// Each rule gives its finding, or the empty text; where it may raise several, a list.
const RULES: &[&str] = &[
    r#"[sum(drawing.map(l, l.count * l.part.draw_w))].map(draw, draw > supply.rated_w
        ? "headroom stop " + string(draw) + " W asked of " + supply.name + ", rated " + string(supply.rated_w) + " W"
        : double(draw) > double(supply.rated_w) * 0.8
        ? "headroom caution " + string(draw) + " W leaves little in hand on " + supply.name + ", rated " + string(supply.rated_w) + " W" : "")"#,
    r#"processor.socket != board.socket ? "socket stop " + processor.name + " needs " + processor.socket + " and " + board.name + " has " + board.socket : """#,
    r#"memory.filter(l, l.part.memory != board.memory).map(l, "generation stop " + l.part.name + " is " + l.part.memory + " and " + board.name + " takes " + board.memory)"#,
    r#"board.depth_mm > chassis.depth_mm ? "board_size stop " + board.name + " is " + string(board.depth_mm) + " mm deep and " + chassis.name + " takes " + string(chassis.depth_mm) + " mm" : """#,
    r#"[chassis.card_mm - (cooler.radiator_mm > 0 && mount == "front" ? 55 : 0)].map(room, graphics[0].part.length_mm > room
        ? "card_length stop " + graphics[0].part.name + " is " + string(graphics[0].part.length_mm) + " mm long and " + chassis.name + " leaves " + string(room) + " mm" : "")"#,
    r#"cooler.radiator_mm == 0 && cooler.height_mm > chassis.cooler_mm ? "cooler_height stop " + cooler.name + " is " + string(cooler.height_mm) + " mm high and " + chassis.name + " takes " + string(chassis.cooler_mm) + " mm" : """#,
    r#"!(processor.socket in cooler.sockets) ? "cooler_rating stop " + cooler.name + " has no kit for " + processor.socket : """#,
    r#"cooler.rated_w < processor.draw_w ? "cooler_rating stop " + processor.name + " gives " + string(processor.draw_w) + " W and " + cooler.name + " takes " + string(cooler.rated_w) + " W" : """#,
    r#"cooler.radiator_mm > 0 && cooler.radiator_mm > chassis.radiators[mount] ? "radiator stop " + cooler.name + " asks for " + string(cooler.radiator_mm) + " mm at the " + mount + " of " + chassis.name : """#,
    r#"[[sum(graphics.map(l, l.count * l.part.power_in.pcie_8)), sum(supply.leads.filter(l, l.connector == "pcie_8").map(l, l.plugs * l.count))]].map(n, n[0] > n[1]
        ? "leads stop " + string(n[0]) + " plugs needed and " + supply.name + " has " + string(n[1]) : "")"#,
    r#"[sum(storage.filter(l, l.part.bus == "m2").map(l, l.count))].map(n, n > board.m2 ? "drive_sockets stop " + string(n) + " flat drives and " + board.name + " has " + string(board.m2) + " sockets" : "")"#,
    r#"[sum(storage.filter(l, l.part.bus != "m2").map(l, l.count))].map(n, n > board.sata ? "drive_sockets stop " + string(n) + " cabled drives and " + board.name + " has " + string(board.sata) + " sockets" : "")"#,
    r#"double(sum(fan.filter(l, l.flow == "in").map(l, l.count * l.part.moves_m3h))) * 0.7 < double(sum(fan.filter(l, l.flow != "in").map(l, l.count * l.part.moves_m3h)))
        ? "net_flow caution more air goes out of " + chassis.name + " than comes in" : """#,
    r#"[sum(lines.map(l, l.count * l.part.price_cents))].map(n, n > budget_cents
        ? "price caution it comes to " + string(n / 100) + (n % 100 < 10 ? ".0" : ".") + string(n % 100) + " EUR and was to cost 4500.00 EUR" : "")"#,
];

/// The compiled rules.
pub struct Expressions {
    env: Arc<Env>,
    programs: Vec<Program>,
    parts: Vec<Vec<Value>>,
}

/// A build bound to names.
pub type Input = Context<'static, 'static>;

fn object(pairs: Vec<(&str, Value)>) -> Value {
    let map: HashMap<Key, Value> =
        pairs.into_iter().map(|(name, value)| (Key::from(name.to_owned()), value)).collect();
    Value::Map(Map { map: Arc::new(map) })
}

fn value(value: &parts::Value) -> Value {
    match value {
        parts::Value::Number(n) => Value::Int(*n),
        parts::Value::Word(word) => Value::from(*word),
        parts::Value::Words(words) => {
            Value::from(words.iter().map(|w| Value::from(*w)).collect::<Vec<_>>())
        }
        parts::Value::Counts(counts) => {
            object(counts.iter().map(|(name, n)| (*name, Value::Int(*n))).collect())
        }
        parts::Value::Leads(leads) => {
            let lead = |(connector, plugs, count): &(&str, i64, i64)| {
                object(vec![
                    ("connector", Value::from(*connector)),
                    ("plugs", Value::Int(*plugs)),
                    ("count", Value::Int(*count)),
                ])
            };
            Value::from(leads.iter().map(lead).collect::<Vec<_>>())
        }
    }
}

fn part(part: &Part) -> Value {
    let mut pairs: Vec<(&str, Value)> =
        part.values.iter().map(|(name, v)| (*name, value(v))).collect();
    pairs.extend([
        ("name", Value::from(part.name.as_str())),
        ("price_cents", Value::Int(part.price_cents)),
    ]);
    object(pairs)
}

fn sum(all: Arc<Vec<Value>>) -> i64 {
    all.iter().map(|v| if let Value::Int(n) = v { *n } else { 0 }).sum()
}

impl Expressions {
    /// Compiles the rules.
    pub fn new(parts: &[Vec<Part>]) -> Self {
        let env = Arc::new(Env::stdlib());
        let programs = RULES
            .iter()
            .map(|rule| env.compile(rule).unwrap_or_else(|e| panic!("{rule}: {e}")))
            .collect();
        Self {
            env,
            programs,
            parts: parts.iter().map(|kind| kind.iter().map(part).collect()).collect(),
        }
    }

    /// A build as the programs take it.
    pub fn input(&self, list: &List) -> Input {
        let mut context = Context::with_env(self.env.clone());
        context.add_function("sum", sum).expect("the name is free");
        let lines: Vec<(&str, Value)> =
            list.lines.iter().map(|line| (KINDS[line.kind], self.line(line))).collect();
        let of = |kinds: &[&str]| {
            Value::from(
                lines
                    .iter()
                    .filter(|(k, _)| kinds.is_empty() || kinds.contains(k))
                    .map(|(_, v)| v.clone())
                    .collect::<Vec<_>>(),
            )
        };
        context.add_variable_from_value("lines", of(&[]));
        context.add_variable_from_value(
            "drawing",
            of(&["processor", "board", "memory", "graphics", "storage", "cooler", "fan"]),
        );
        context.add_variable_from_value("budget_cents", BUDGET_CENTS);
        for kind in ["memory", "graphics", "storage", "fan"] {
            context.add_variable_from_value(kind, of(&[kind]));
        }
        for line in &list.lines {
            let kind = KINDS[line.kind];
            if ["processor", "board", "chassis", "supply", "cooler"].contains(&kind) {
                context.add_variable_from_value(kind, self.parts[line.kind][line.part].clone());
            }
            if let ("cooler", Some((mount, _))) = (kind, line.mount) {
                context.add_variable_from_value("mount", mount);
            }
        }
        context
    }

    fn line(&self, line: &parts::Line) -> Value {
        let mut pairs = vec![
            ("count", Value::Int(line.count)),
            ("part", self.parts[line.kind][line.part].clone()),
        ];
        if let Some((mount, flow)) = line.mount {
            pairs.extend([("mount", Value::from(mount)), ("flow", Value::from(flow))]);
        }
        object(pairs)
    }

    /// What the rules find: a text or a list of texts a rule.
    pub fn audit(&self, input: &Input) -> Vec<Value> {
        self.programs.iter().map(|program| program.execute(input).expect("the rules run")).collect()
    }
}

/// The findings as texts.
pub fn texts(found: &[Value]) -> Vec<String> {
    let flat = found.iter().flat_map(|v| match v {
        Value::List(all) => all.to_vec(),
        one => vec![one.clone()],
    });
    flat.filter_map(|v| match v {
        Value::String(text) if !text.is_empty() => Some(text.to_string()),
        _ => None,
    })
    .collect()
}
