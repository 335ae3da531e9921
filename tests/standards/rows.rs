//! Runs the rows of `checks.toml`, and holds the tables to having a source for each figure.

use std::rc::Rc;
use std::sync::Arc;

use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::cases::Suite;
use dryfit::inside::kit::prompt_eval::Variables;
use dryfit::inside::layer::Layer;
use dryfit::inside::source::Source;
use dryfit::{Build, Kit, Layers};
use jiff::civil::date;

use super::calls::{self, Input, Output};

const CHECKS: &str = include_str!("checks.toml");
const BASES: [&str; 6] = ["read", "secondary", "tool", "computed", "memory", "practice"];

/// What a row wants.
enum Wanted {
    Number { value: f64, within: f64 },
    Text(String),
    NotNumber { value: f64, within: f64 },
    NotText(String),
    Refusal,
}

/// What a row holds to its figure.
enum Subject {
    /// An expression at the prompt.
    Word(String),
    /// A measure, and the rule case that holds the build for it.
    Measure(String, String),
    /// A function of the host.
    Function(String, Vec<Input>),
}

struct Row {
    id: String,
    subject: Subject,
    wanted: Wanted,
}

fn number(value: &toml::Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|n| n as f64))
}

fn maybe_text(table: &toml::Table, key: &str) -> Option<String> {
    table.get(key).and_then(toml::Value::as_str).filter(|t| !t.is_empty()).map(str::to_owned)
}

fn text(table: &toml::Table, key: &str) -> String {
    maybe_text(table, key).unwrap_or_else(|| panic!("a row has no {key}: {table}"))
}

fn wanted(table: &toml::Table) -> Option<Wanted> {
    if table.get("refused").and_then(toml::Value::as_bool) == Some(true) {
        return Some(Wanted::Refusal);
    }
    let within = table.get("within").and_then(number);
    let of = |value: &toml::Value, numbers: fn(f64, f64) -> Wanted, texts: fn(String) -> Wanted| {
        match value.as_str() {
            Some(text) => Some(texts(text.to_owned())),
            None => Some(numbers(number(value)?, within?)),
        }
    };
    match (table.get("expected"), table.get("trap")) {
        (Some(value), None) => {
            of(value, |value, within| Wanted::Number { value, within }, Wanted::Text)
        }
        (None, Some(value)) => {
            of(value, |value, within| Wanted::NotNumber { value, within }, Wanted::NotText)
        }
        _ => None,
    }
}

fn input(value: &toml::Value) -> Input {
    match (number(value), value.as_str()) {
        (Some(number), _) => Input::Number(number),
        (None, Some(text)) => Input::Text(text.to_owned()),
        (None, None) => panic!("an input is neither number nor text: {value}"),
    }
}

/// The row's build as a rule case that asks for the measure, whatever it is.
fn case(table: &toml::Table, id: &str, measure: &str) -> String {
    let mut case = toml::Table::new();
    case.insert("name".to_owned(), id.into());
    for key in ["line", "build", "setting"] {
        if let Some(value) = table.get(key) {
            case.insert(key.to_owned(), value.clone());
        }
    }
    let asked = toml::Table::from_iter([
        ("name".to_owned(), toml::Value::from(measure)),
        ("value".to_owned(), toml::Value::from(0)),
    ]);
    case.insert("measure".to_owned(), toml::Value::Array(vec![asked.into()]));
    let cases = toml::Value::Array(vec![case.into()]);
    toml::Table::from_iter([("case".to_owned(), cases)]).to_string()
}

fn subject(table: &toml::Table, id: &str) -> Subject {
    let keys = ["word", "measure", "function"].map(|key| maybe_text(table, key));
    match keys {
        [Some(word), None, None] => Subject::Word(word),
        [None, Some(measure), None] => {
            let case = case(table, id, &measure);
            Subject::Measure(measure, case)
        }
        [None, None, Some(function)] => {
            let inputs = table.get("inputs").and_then(toml::Value::as_array);
            Subject::Function(function, inputs.into_iter().flatten().map(input).collect())
        }
        _ => panic!("{id}: one of word, measure, function is wanted"),
    }
}

fn row(table: &toml::Table) -> Row {
    let id = text(table, "id");
    text(table, "source");
    assert!(BASES.contains(&text(table, "basis").as_str()), "{id}: unknown basis");
    let Some(wanted) = wanted(table) else {
        panic!("{id}: one of expected, trap, refused is wanted")
    };
    Row { subject: subject(table, &id), id, wanted }
}

fn rows() -> Vec<Row> {
    let Ok(table) = CHECKS.parse::<toml::Table>() else { panic!("checks.toml is not TOML") };
    let rows = table.get("check").and_then(toml::Value::as_array).into_iter().flatten();
    rows.filter_map(toml::Value::as_table).map(row).collect()
}

fn kit() -> Kit {
    Kit::load(&Layers::built_in()).unwrap_or_else(|problems| panic!("{problems:?}"))
}

/// What an expression gives at the prompt, which rounds what it shows and prints what it is asked
/// to.
fn at_the_prompt(kit: &Kit, build: &Rc<Resolved>, word: &str) -> Output {
    let exact = format!("print(({word}).to_float()); ()");
    match kit.evaluate(build, &mut Variables::default(), &exact) {
        Ok(evaluated) => {
            let printed = evaluated.log.first().map_or("", String::as_str);
            printed.parse().map_or(Output::Refused(printed.to_owned()), Output::Number)
        }
        Err(problem) => Output::Refused(problem.message),
    }
}

fn measured(kit: &Kit, measure: &str, case: &str) -> Output {
    let file = ("outside.cases.toml".to_owned(), Source::new("outside.cases.toml", case));
    let label = "outside checks".to_owned();
    let layer = Layer { label, files: vec![file], alone: false, replaces: Vec::new() };
    let suite = Suite::read(&layer, None, kit.catalogue(), &kit.rules(), &kit.settings());
    let [case] = suite.cases.as_slice() else { panic!("{measure}: {:?}", suite.problems) };
    let value = case.run(kit, |audit| {
        let measures = audit.measures();
        measures.iter().find(|m| *m.id == *measure).and_then(|m| m.value)
    });
    value.map_or_else(|| Output::Refused("no answer".to_owned()), Output::Number)
}

/// What is wrong with a row's result, if anything.
fn failure(row: &Row, output: &Output) -> Option<String> {
    let holds = match (&row.wanted, output) {
        (Wanted::Number { value, within }, Output::Number(found)) => {
            (found - value).abs() <= *within
        }
        (Wanted::NotNumber { value, within }, Output::Number(found)) => {
            (found - value).abs() > *within
        }
        (Wanted::Text(text), Output::Text(found)) => text == found,
        (Wanted::NotText(text), Output::Text(found)) => text != found,
        (Wanted::Refusal, Output::Refused(_)) => true,
        _ => false,
    };
    let wanted = match &row.wanted {
        Wanted::Number { value, within } => format!("{value} within {within}"),
        Wanted::NotNumber { value, within } => format!("anything but {value} within {within}"),
        Wanted::Text(text) => text.clone(),
        Wanted::NotText(text) => format!("anything but {text}"),
        Wanted::Refusal => "a refusal".to_owned(),
    };
    (!holds).then(|| format!("{}: gave {output:?}, wanted {wanted}", row.id))
}

#[test]
fn every_figure_holds() {
    let kit = kit();
    let list = Source::new("fan.toml", "[[line]]\npart = \"fan/lull-120\"\n");
    let build = Build::parse(&list, kit.catalogue(), date(2026, 11, 20));
    let build = Arc::new(build.unwrap_or_else(|problems| panic!("{problems:?}")));
    let build = Rc::new(Resolved::new(build, kit.catalogue().clone()));
    let failures: Vec<String> = rows()
        .iter()
        .filter_map(|row| {
            let output = match &row.subject {
                Subject::Word(word) => at_the_prompt(&kit, &build, word),
                Subject::Measure(measure, case) => measured(&kit, measure, case),
                Subject::Function(function, inputs) => calls::call(function, inputs),
            };
            failure(row, &output)
        })
        .collect();
    assert!(failures.is_empty(), "{} failed:\n{}", failures.len(), failures.join("\n"));
}

#[test]
fn the_list_is_whole() {
    let rows = rows();
    assert!(rows.len() >= 80, "{}", rows.len());
    let mut ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    ids.sort_unstable();
    ids.windows(2).for_each(|pair| assert_ne!(pair.first(), pair.last(), "an id is used twice"));
    let traps = rows
        .iter()
        .filter(|row| {
            matches!(row.wanted, Wanted::NotNumber { .. } | Wanted::NotText(_) | Wanted::Refusal)
        })
        .count();
    assert!(traps >= 20, "{traps}");
}

/// Figures of a table without a check: none may be without a source, its row's or its table's.
fn without_source(name: &str, table: &toml::Table) -> Vec<String> {
    let whole = maybe_text(table, "source");
    let rows = table.get("row").and_then(toml::Value::as_table).into_iter().flatten();
    let mut found = Vec::new();
    for (key, row) in rows {
        let Some(row) = row.as_table() else { continue };
        let cited = maybe_text(row, "source").or_else(|| whole.clone()).is_some();
        for (column, _) in row.iter().filter(|(_, value)| number(value).is_some()) {
            let cell = format!("table(\"{name}\", \"{key}\", \"{column}\")");
            if !cited && !CHECKS.contains(&cell.replace('"', "\\\"")) {
                found.push(cell);
            }
        }
    }
    found
}

#[test]
fn every_figure_of_a_table_has_a_check_or_a_source() {
    let layer = Layer::built_in_catalogue();
    let tables = layer.files.iter().filter(|(below, _)| below.starts_with("tables/"));
    let mut read = 0;
    for (below, source) in tables {
        let Ok(table) = source.text.parse::<toml::Table>() else { panic!("{below}") };
        assert_eq!(without_source(&text(&table, "table"), &table), Vec::<String>::new());
        read += 1;
    }
    assert!(read >= 10, "{read} tables were read");
    let bare: toml::Table = toml::toml! { [row.a]
    mm = 1 };
    assert_eq!(without_source("t", &bare).len(), 1);
}
