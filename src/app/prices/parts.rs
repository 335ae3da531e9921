//! A list of parts as it is shown: for people, spreadsheets and programs.

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::kit::filters::FilterValue;
use crate::prices::parts::{List, Listed};
use crate::words::clip;

use super::columns::{self, Row, amount, columns};

/// Numbers get as many decimals as the one that needs most, so that they stand under one another:
/// four at the most, two from a hundred on.
fn key_words(list: &[&Listed]) -> Vec<String> {
    let decimals = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => {
            let text = if n.abs() >= 100.0 { format!("{n:.2}") } else { format!("{n:.4}") };
            text.trim_end_matches('0').split_once('.').map_or(0, |(_, d)| d.len())
        }
        _ => 0,
    };
    // One decimal is mostly half of an amount of money.
    let most = match list.iter().map(|l| decimals(&l.key)).max() {
        Some(1) => 2,
        most => most.unwrap_or(0),
    };
    let words = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => format!("{n:.most$}"),
        Some(FilterValue::Text(text)) => text.clone(),
        Some(FilterValue::Flag(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(FilterValue::Absent) => "not given".to_owned(),
        None => String::new(),
    };
    list.iter().map(|l| words(&l.key)).collect()
}

/// What stands over the key: a measure's name, or the expression as far as there is room.
fn heading(by: &str) -> String {
    clip(by.strip_prefix("measure(\"").and_then(|m| m.strip_suffix("\")")).unwrap_or(by), 24)
}

/// The list for people. Without `all`, parts that would stop the build are only counted; where
/// there is no room, names give way to ids.
pub(crate) fn text(look: Look, list: &List, all: bool) -> String {
    let shown: Vec<&Listed> =
        list.parts.iter().filter(|l| all || l.stopped_by.is_empty()).collect();
    // Sorted by price, the key would say the price twice.
    let by = list.by.as_deref().filter(|by| *by != "price");
    let in_build = shown.iter().any(|l| l.more.is_some() || l.held);
    let stopped = shown.iter().any(|l| !l.stopped_by.is_empty());
    let mut rows = vec![
        ["part", "name", "price", "change", &by.map_or_else(String::new, heading), ""]
            .map(str::to_owned),
    ];
    for (l, key) in shown.iter().zip(key_words(&shown)) {
        let price = l.price.map_or_else(|| "no offer".to_owned(), |p| p.to_string());
        let change = match (&l.more, l.held) {
            (_, true) => "in this build".to_owned(),
            (Some(more), _) if more.is_negative() => more.to_string(),
            (Some(more), _) => format!("+{more}"),
            (None, _) => String::new(),
        };
        let stop = if l.stopped_by.is_empty() {
            String::new()
        } else {
            format!("stopped by {}", l.stopped_by.join(", "))
        };
        rows.push([l.part.id.to_string(), l.part.name.to_string(), price, change, key, stop]);
    }
    let laid = |names: bool| {
        let kept = [true, names, true, in_build, by.is_some(), stopped];
        let right: Vec<usize> = (2..5)
            .filter(|at| kept.get(*at) == Some(&true))
            .map(|at| kept.iter().take(at).filter(|k| **k).count())
            .collect();
        let cut = |row: &[String; 6]| {
            row.iter().zip(kept).filter(|(_, kept)| *kept).map(|(cell, _)| cell.clone()).collect()
        };
        columns(look, &rows.iter().map(cut).collect::<Vec<Row>>(), &right)
    };
    let mut out = String::new();
    if !shown.is_empty() {
        let full = laid(true);
        let fits = full.lines().count() == rows.len();
        out = if fits { full } else { laid(false) } + "\n";
    }
    let hidden = list.parts.len() - shown.len();
    let more = if hidden > 0 {
        format!("; {hidden} more would stop the build, --all lists them")
    } else {
        String::new()
    };
    out.push_str(&look.hanging(&format!(
        "{}{more}. Prices of {}.",
        count(shown.len(), "part"),
        list.priced_on
    )));
    out
}

/// The list for spreadsheets.
pub(crate) fn csv(list: &List) -> String {
    let mut rows: Vec<Row> = vec![
        ["part", "name", "price", "currency", "more", "key", "stopped_by"]
            .map(str::to_owned)
            .to_vec(),
    ];
    let all: Vec<&Listed> = list.parts.iter().collect();
    for (l, key) in list.parts.iter().zip(key_words(&all)) {
        let (price, code) =
            l.price.map_or_else(Default::default, |p| (amount(&p), p.currency().code().to_owned()));
        let more = l.more.as_ref().map_or_else(String::new, amount);
        rows.push(vec![
            l.part.id.to_string(),
            l.part.name.to_string(),
            price,
            code,
            more,
            key,
            l.stopped_by.join(" "),
        ]);
    }
    columns::csv(&rows)
}

/// The list for programs: format `dryfit-parts`, version 1.
pub(crate) fn json(list: &List) -> Value {
    let key = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => json!(n),
        Some(FilterValue::Text(text)) => json!(text),
        Some(FilterValue::Flag(flag)) => json!(flag),
        Some(FilterValue::Absent) | None => Value::Null,
    };
    let one = |l: &Listed| {
        json!({
            "part": &*l.part.id, "name": &*l.part.name, "price": l.price.as_ref().map(amount),
            "key": key(&l.key),
            "held": l.held, "more": l.more.as_ref().map(amount), "stopped_by": l.stopped_by,
        })
    };
    let parts: Vec<Value> = list.parts.iter().map(one).collect();
    json!({ "format": "dryfit-parts", "version": 1, "priced_on": list.priced_on.to_string(),
    "by": list.by, "parts": parts })
}
