//! The rules in Rego, compiled once for the interpreter's virtual machine; a build is its input,
//! made beforehand.

use regorus::languages::rego::compiler::Compiler;
use regorus::rvm::vm::RegoVM;
use regorus::{Engine, Rc, Value};

use crate::parts::{self, BUDGET_CENTS, KINDS, List, Part};

const ENTRY: &str = "data.fit.findings";

/// The machine with the rules loaded.
pub struct Rego {
    vm: RegoVM,
    /// Every part as a value, by kind: builds share them.
    parts: Vec<Vec<Value>>,
}

fn object(pairs: Vec<(&str, Value)>) -> Value {
    Value::from(
        pairs
            .into_iter()
            .map(|(name, value)| (Value::from(name), value))
            .collect::<std::collections::BTreeMap<_, _>>(),
    )
}

fn value(value: &parts::Value) -> Value {
    match value {
        parts::Value::Number(n) => Value::from(*n),
        parts::Value::Word(word) => Value::from(*word),
        parts::Value::Words(words) => {
            Value::from(words.iter().map(|w| Value::from(*w)).collect::<Vec<_>>())
        }
        parts::Value::Counts(counts) => {
            object(counts.iter().map(|(name, n)| (*name, Value::from(*n))).collect())
        }
        parts::Value::Leads(leads) => {
            let lead = |(connector, plugs, count): &(&str, i64, i64)| {
                object(vec![
                    ("connector", Value::from(*connector)),
                    ("plugs", Value::from(*plugs)),
                    ("count", Value::from(*count)),
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
        ("price_cents", Value::from(part.price_cents)),
    ]);
    object(pairs)
}

impl Rego {
    /// Compiles the rules.
    pub fn new(parts: &[Vec<Part>]) -> Self {
        let mut engine = Engine::new();
        engine
            .add_policy("rules.rego".to_owned(), include_str!("rules.rego").to_owned())
            .expect("the rules parse");
        let policy = engine.compile_with_entrypoint(&Rc::from(ENTRY)).expect("the rules compile");
        let program =
            Compiler::compile_from_policy(&policy, &[ENTRY]).expect("they compile for the machine");
        let mut vm = RegoVM::new();
        vm.load_program(program);
        Self { vm, parts: parts.iter().map(|kind| kind.iter().map(part).collect()).collect() }
    }

    /// A build as the machine takes it.
    pub fn input(&self, list: &List) -> Value {
        let lines: Vec<(usize, Value)> =
            list.lines.iter().map(|line| (line.kind, self.line(line))).collect();
        let of = |kind: &str| {
            lines
                .iter()
                .filter(|(k, _)| KINDS[*k] == kind)
                .map(|(_, v)| v.clone())
                .collect::<Vec<_>>()
        };
        let draws = |kind: usize| {
            self.parts[kind][0].as_object().is_ok_and(|o| o.contains_key(&Value::from("draw_w")))
        };
        let mut pairs = vec![
            ("lines", Value::from(lines.iter().map(|(_, v)| v.clone()).collect::<Vec<_>>())),
            (
                "drawing",
                Value::from(
                    lines
                        .iter()
                        .filter(|(k, _)| draws(*k))
                        .map(|(_, v)| v.clone())
                        .collect::<Vec<_>>(),
                ),
            ),
            ("budget_cents", Value::from(BUDGET_CENTS)),
        ];
        for kind in ["memory", "graphics", "storage", "fan"] {
            pairs.push((kind, Value::from(of(kind))));
        }
        for line in &list.lines {
            let kind = KINDS[line.kind];
            if ["processor", "board", "chassis", "supply", "cooler"].contains(&kind) {
                pairs.push((kind, self.parts[line.kind][line.part].clone()));
            }
            if let ("cooler", Some((mount, _))) = (kind, line.mount) {
                pairs.push(("mount", Value::from(mount)));
            }
        }
        object(pairs)
    }

    fn line(&self, line: &parts::Line) -> Value {
        let mut pairs = vec![
            ("count", Value::from(line.count)),
            ("part", self.parts[line.kind][line.part].clone()),
        ];
        if let Some((mount, flow)) = line.mount {
            pairs.extend([("mount", Value::from(mount)), ("flow", Value::from(flow))]);
        }
        object(pairs)
    }

    /// What the rules find.
    pub fn audit(&mut self, input: &Value) -> Value {
        self.vm.set_input(input.clone());
        self.vm.execute().expect("the rules run")
    }
}

/// The findings as texts.
pub fn texts(found: &Value) -> Vec<String> {
    found
        .as_set()
        .expect("it is a set")
        .iter()
        .map(|v| v.as_string().expect("it is a text").to_string())
        .collect()
}
