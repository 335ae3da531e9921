//! dryfit inside another program: a kiosk that fits a heater, a fan and a supply into a cabinet.
//!
//! Its catalogue and its rules are made in memory, with no file and none of the parts and rules
//! that dryfit carries. Lists come in as JSON, findings and measures go out as JSON:
//!
//! ```text
//! cargo run --no-default-features --example embed < examples/embed/lists.json
//! ```

use std::error::Error;
use std::io::Read as _;

use dryfit::{Build, Finding, Kit, Layer, Layers, Problem, Problems, Source};
use serde_json::{Value, json};

/// What each kind of part has. The unit is shown with every value.
const KINDS: &[(&str, &str)] = &[
    (
        "kinds/supply.toml",
        "kind = \"supply\"\nsingle = true\n\
         [field.rated_w]\ntype = \"number\"\nunit = \"W\"\nmin = 1\nmax = 2000\n",
    ),
    (
        "kinds/load.toml",
        "kind = \"load\"\n\
         [field.draw_w]\ntype = \"number\"\nunit = \"W\"\nmin = 0\nmax = 2000\n",
    ),
];

/// One rule and one measure. A public function with a comment is a rule; with `Unit:` it gives a
/// number.
const RULES: &str = r#"
/// Draw of every load together.
/// Basis: the makers' figures, added up.
/// Unit: W
fn draw(build) { build.sum("draw_w") }

/// The supply carries the loads.
/// Basis: the maker's rating.
/// Remedy: a larger supply, or fewer loads.
fn rating(build) {
    let supply = build.supply;
    if supply == () { return; }
    let draw = measure("draw");
    if draw > supply.rated_w {
        stop("The loads draw {draw}; {supply} is rated {rated}.",
            #{ draw: draw, supply: supply, rated: supply.rated_w });
    }
}
"#;

/// A part as this program's own stock list has it.
struct Stock {
    kind: &'static str,
    code: &'static str,
    name: &'static str,
    field: &'static str,
    watts: f64,
}

const STOCK: &[Stock] = &[
    Stock { kind: "supply", code: "s60", name: "Brae 60", field: "rated_w", watts: 60.0 },
    Stock { kind: "supply", code: "s150", name: "Brae 150", field: "rated_w", watts: 150.0 },
    Stock { kind: "load", code: "heater", name: "Glede heater", field: "draw_w", watts: 80.0 },
    Stock { kind: "load", code: "fan", name: "Glede fan", field: "draw_w", watts: 6.5 },
];

/// The stock list as a layer of the catalogue: for each kind a file of its parts.
fn catalogue() -> Result<Layer, Box<dyn Error>> {
    let mut files: Vec<(String, String)> =
        KINDS.iter().map(|(path, text)| ((*path).to_owned(), (*text).to_owned())).collect();
    for kind in ["supply", "load"] {
        let mut parts = serde_json::Map::from_iter([("kind".to_owned(), json!(kind))]);
        for part in STOCK.iter().filter(|part| part.kind == kind) {
            parts
                .insert(part.code.to_owned(), json!({ "name": part.name, part.field: part.watts }));
        }
        files.push((format!("parts/{kind}.toml"), toml::to_string(&parts)?));
    }
    let files: Vec<(&str, &str)> = files.iter().map(|(p, t)| (p.as_str(), t.as_str())).collect();
    Ok(Layer::from_texts("stock", &files))
}

/// The kit: what every list is audited with. It is made once.
fn kit() -> Result<Kit, Box<dyn Error>> {
    let rules = Layer::from_texts("kiosk", &[("cabinet.rhai", RULES)]);
    Ok(Kit::load(&Layers::new(vec![catalogue()?], vec![rules]))?)
}

/// A list in JSON has the shape of a build file, so it is turned into one and read.
fn read(kit: &Kit, name: &str, list: &Value) -> Result<Build, Problems> {
    let text = toml::to_string(list)
        .map_err(|error| Problem::new(format!("{name} is no parts list: {error}")))?;
    kit.read(&Source::new(name, text), jiff::civil::date(2026, 11, 20))
}

fn finding(found: &Finding) -> Value {
    let pointers = found.pointers.iter().map(|p| json!({ "place": p.place, "value": p.value }));
    json!({
        "rule": found.rule,
        "level": found.level.to_string(),
        "message": found.message,
        "fix": found.remedy,
        "by": found.margin.as_ref().map(|margin| margin.words.clone()),
        "evidence": pointers.collect::<Vec<_>>(),
    })
}

fn problem(problem: &Problem) -> Value {
    json!({ "message": problem.message, "help": problem.help })
}

/// Audits one list; what is wrong with the list itself comes back in the same shape.
fn audit(kit: &Kit, name: &str, list: &Value) -> Value {
    match read(kit, name, list) {
        Err(problems) => {
            json!({ "list": name, "problems": problems.0.iter().map(problem).collect::<Vec<_>>() })
        }
        Ok(build) => {
            let audit = kit.audit(&build);
            let measures = audit.measures().into_iter();
            json!({
                "list": name,
                "code": audit.exit_code(),
                "findings": audit.findings().iter().map(finding).collect::<Vec<_>>(),
                "measures": measures
                    .map(|m| json!({ "id": &*m.id, "value": m.value, "unit": &*m.unit }))
                    .collect::<Vec<_>>(),
            })
        }
    }
}

/// Audits the lists of a JSON object, each under its name, and answers in JSON.
pub(crate) fn answer(lists: &str) -> Result<Value, Box<dyn Error>> {
    let lists: serde_json::Map<String, Value> = serde_json::from_str(lists)?;
    let kit = kit()?;
    Ok(lists.iter().map(|(name, list)| audit(&kit, name, list)).collect())
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut lists = String::new();
    std::io::stdin().read_to_string(&mut lists)?;
    println!("{:#}", answer(&lists)?);
    Ok(())
}
