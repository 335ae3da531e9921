//! Lists that dryfit wrote itself: JSON whose objects name parts.

use serde_json::Value;

use super::named;
use super::rows::RawRow;
use super::{Fact, MAX_ROWS, Row, State};
use crate::build::read::MAX_COUNT;
use crate::catalogue::Catalogue;
use crate::source::Problem;

/// The rows of `dryfit intake --format json`, as they were understood. None for other texts.
///
/// # Errors
/// It is another answer of dryfit, which holds no list, or one with rows that none writes.
pub(crate) fn own(catalogue: &Catalogue, text: &str) -> Option<Result<Vec<Row>, Problem>> {
    let start = text.trim_start();
    let document: Value =
        start.starts_with('{').then(|| serde_json::from_str(start).ok()).flatten()?;
    let format = document.get("format")?.as_str()?;
    let name = format.strip_prefix("dryfit-")?;
    match name {
        "orders" => None,
        "intake" => Some(understood(catalogue, &document)),
        other => Some(Err(Problem::new(format!(
            "this is what `dryfit {}` answered, not a list",
            crate::words::clip(other, 20)
        ))
        .help("give the list that it was about"))),
    }
}

fn understood(catalogue: &Catalogue, document: &Value) -> Result<Vec<Row>, Problem> {
    let rows = document["rows"].as_array().map(Vec::as_slice).unwrap_or_default();
    if rows.len() > MAX_ROWS {
        let message = format!("the list has {} rows; {MAX_ROWS} is the most", rows.len());
        return Err(Problem::new(message).help("no parts list is so long: cut it"));
    }
    let read = |(at, row): (usize, &Value)| {
        written(catalogue, row).ok_or_else(|| {
            Problem::new(format!("row {} of the list is none that `dryfit intake` writes", at + 1))
                .help("correct the row, or paste the customer's own words")
        })
    };
    rows.iter().enumerate().map(read).collect()
}

/// One row; None where a value is none that a row has, or a part is not in the catalogue.
fn written(catalogue: &Catalogue, row: &Value) -> Option<Row> {
    let text = |key: &str| row[key].as_str().map(str::to_owned);
    let states = [State::Matched, State::Unsure, State::Open, State::Unknown, State::Ignored];
    let state = states.into_iter().find(|s| row["state"] == s.word())?;
    let known = |id: &String| catalogue.part(id).is_some();
    let kind = text("kind").filter(|k| catalogue.kind_id(k).is_some());
    let part = text("part").filter(known);
    if state == State::Matched && part.is_none() || state == State::Open && kind.is_none() {
        return None;
    }
    let fact = |value: &Value| match value {
        Value::Number(number) => number.as_f64().map(Fact::Number),
        Value::String(word) => Some(Fact::Word(word.clone())),
        Value::Bool(true) => Some(Fact::Yes),
        _ => None,
    };
    let facts = row["facts"].as_object().into_iter().flatten();
    let wants = row["wants"].as_array().into_iter().flatten();
    let candidates = row["candidates"].as_array().into_iter().flatten();
    let count = row["count"].as_u64().and_then(|n| u32::try_from(n).ok()).unwrap_or(1);
    Some(Row {
        line: usize::try_from(row["line"].as_u64()?).ok()?,
        text: text("text")?,
        state,
        part,
        kind,
        count: Some(count).filter(|n| (1..=MAX_COUNT).contains(n))?,
        price: text("price").filter(|p| super::price::value_of(p).is_some()),
        currency: text("currency"),
        owned: row["owned"] == true,
        mount: text("mount").filter(|m| catalogue.words("mount").iter().any(|w| **w == **m)),
        flow: text("flow").filter(|f| matches!(&**f, "in" | "out")),
        wants: wants.filter_map(|w| w.as_str().map(str::to_owned)).collect(),
        name: text("name"),
        facts: facts.filter_map(|(name, value)| Some((name.clone(), fact(value)?))).collect(),
        candidates: candidates
            .filter_map(|c| Some((c["part"].as_str()?.to_owned(), c["score"].as_f64()?)))
            .filter(|(id, _)| known(id))
            .collect(),
        note: text("note"),
        ..Row::default()
    })
}

/// Rows of a JSON document: the objects that name a part. None where it is no JSON.
pub(crate) fn rows(text: &str, is_kind: &dyn Fn(&str) -> bool) -> Option<Vec<RawRow>> {
    let start = text.trim_start().strip_prefix('\u{feff}').unwrap_or(text.trim_start());
    let document = serde_json::from_str(start).ok().filter(|_| start.starts_with(['{', '[']))?;
    Some(named::of_json(&document, start, is_kind))
}
