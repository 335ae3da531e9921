//! Runs the rows of `checks.toml`.

use super::calls::{self, Input, Output};

const CHECKS: &str = include_str!("checks.toml");
const BASES: [&str; 6] = ["read", "secondary", "tool", "computed", "memory", "practice"];

/// What a row wants of its function.
enum Wanted {
    Number { value: f64, within: f64 },
    Text(String),
    NotNumber { value: f64, within: f64 },
    NotText(String),
    Refusal,
}

struct Row {
    id: String,
    function: String,
    inputs: Vec<Input>,
    wanted: Wanted,
}

fn number(value: &toml::Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|n| n as f64))
}

fn text(table: &toml::Table, key: &str) -> String {
    let Some(found) = table.get(key).and_then(toml::Value::as_str).filter(|text| !text.is_empty())
    else {
        panic!("a row has no {key}: {table}");
    };
    found.to_owned()
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

fn row(table: &toml::Table) -> Row {
    let id = text(table, "id");
    text(table, "source");
    assert!(BASES.contains(&text(table, "basis").as_str()), "{id}: unknown basis");
    let inputs = table
        .get("inputs")
        .and_then(toml::Value::as_array)
        .map(|inputs| inputs.iter().map(input).collect());
    let (Some(inputs), Some(wanted)) = (inputs, wanted(table)) else {
        panic!("{id}: inputs and one of expected, trap, refused are wanted")
    };
    Row { function: text(table, "function"), id, inputs, wanted }
}

fn rows() -> Vec<Row> {
    let Ok(table) = CHECKS.parse::<toml::Table>() else { panic!("checks.toml is not TOML") };
    let rows = table.get("check").and_then(toml::Value::as_array).into_iter().flatten();
    rows.filter_map(toml::Value::as_table).map(row).collect()
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
    (!holds).then(|| format!("{}: {} gave {output:?}, wanted {wanted}", row.id, row.function))
}

#[test]
fn every_figure_holds() {
    let failures: Vec<String> = rows()
        .iter()
        .filter_map(|row| failure(row, &calls::call(&row.function, &row.inputs)))
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
