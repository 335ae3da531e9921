//! The drift of a build's prices as it is shown: for people, spreadsheets and programs.

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::prices::check::Drift;
use crate::trade::money::Money;

use super::columns::{self, Row, columns};

pub(crate) fn text(look: Look, file: &str, drift: &Drift) -> String {
    let mut rows: Vec<Row> = Vec::new();
    for line in &drift.lines {
        let (now, moved) = match &line.now {
            None => ("gone".to_owned(), "no seller has it".to_owned()),
            Some(now) if *now == line.then => (now.to_string(), String::new()),
            Some(now) => (now.to_string(), signed(now, &line.then)),
        };
        rows.push(vec![
            line.name.to_string(),
            line.then.to_string(),
            format!("on {}", line.quoted_on),
            now,
            moved,
        ]);
    }
    let mut out = look_head(look, &format!("{file}, prices of {}", drift.on));
    out.push_str(&columns(look, &rows, &[1, 3, 4]));
    if drift.lines.is_empty() {
        out.push_str(
            &look.paragraph("No line holds a quote: `dryfit prices quote BUILD` writes them."),
        );
    } else {
        let kept: i64 =
            drift.lines.iter().filter(|l| l.now.is_some()).map(|l| l.then.minor()).sum();
        let kept = Money::from_minor(kept, drift.then.currency());
        let moved =
            if kept == drift.now { "unchanged".to_owned() } else { signed(&drift.now, &kept) };
        let gone = drift.lines.iter().filter(|l| l.now.is_none()).count();
        let gone = if gone > 0 {
            format!("; {} gone, quoted at {}", count(gone, "line"), minus(&drift.then, &kept))
        } else {
            String::new()
        };
        out.push_str(
            &look.paragraph(&format!(
                "Quoted lines: {kept} then, {} now, {moved}{gone}.",
                drift.now
            )),
        );
    }
    if drift.unquoted > 0 && !drift.lines.is_empty() {
        out.push_str(
            &look.paragraph(&format!("Without a quote: {}.", count(drift.unquoted, "line"))),
        );
    }
    out.push_str(&budget_words(look, drift));
    out
}

fn look_head(look: Look, text: &str) -> String {
    look.hanging(text)
}

fn minus(a: &Money, b: &Money) -> Money {
    a.checked_sub(b).unwrap_or(*a)
}

fn signed(now: &Money, then: &Money) -> String {
    let by = minus(now, then);
    if by.is_negative() { by.to_string() } else { format!("+{by}") }
}

fn budget_words(look: Look, drift: &Drift) -> String {
    let Some(budget) = drift.budget else {
        return look.paragraph(&format!("The list comes to {}.", drift.total));
    };
    let code = drift.total.money.currency().code();
    let figure = |n: f64| crate::audit::wording::figure(n, "money", code);
    let Some(over) = drift.over() else {
        return look.paragraph(&format!(
            "The list comes to {}; the budget is {}.",
            drift.total,
            figure(budget)
        ));
    };
    let mut out = look.paragraph(&format!(
        "The list comes to {}; {} over the budget of {}.",
        drift.total,
        figure(over),
        figure(budget)
    ));
    if drift.swaps.is_empty() {
        let tried = if drift.all_tried { "No single swap" } else { "None of the nearest swaps" };
        out.push_str(&look.paragraph(&format!("{tried} puts it back under at the same findings.")));
    } else {
        out.push_str(&look.paragraph("Back under it at the same findings, one swap:"));
        for swap in &drift.swaps {
            let saved = minus(&drift.total.money, &swap.total.money);
            out.push_str(&look.paragraph(&format!(
                "  {} ({}) in place of {}: {saved} less, {} in all",
                swap.to.name, swap.to.id, swap.from.name, swap.total
            )));
        }
    }
    out
}

pub(crate) fn value(file: &str, drift: &Drift) -> Value {
    json!({
        "file": file,
        "on": drift.on.to_string(),
        "currency": drift.total.money.currency().code(),
        "lines": drift.lines.iter().map(|l| json!({
            "part": &*l.part, "quoted": l.then.bare(), "quoted_on": l.quoted_on.to_string(),
            "now": l.now.as_ref().map(Money::bare), "gone": l.now.is_none(),
        })).collect::<Vec<_>>(),
        "unquoted": drift.unquoted,
        "quoted_total": drift.then.bare(),
        "now_total": drift.now.bare(),
        "total": drift.total.money.bare(),
        "shipping": drift.total.shipping.bare(),
        "budget": drift.budget,
        "over": drift.over().map(|o| {
            let digits = usize::from(drift.total.money.currency().minor_digits());
            format!("{o:.digits$}")
        }),
        "swaps": drift.swaps.iter().map(|s| json!({ "from": &*s.from.id, "to": &*s.to.id,
        "total": s.total.money.bare() })).collect::<Vec<_>>(),
    })
}

/// The drift of several builds for spreadsheets: a row a line.
pub(crate) fn csv(builds: &[Value]) -> String {
    let mut rows: Vec<Row> = vec![
        ["file", "part", "quoted", "quoted_on", "now", "currency"].map(str::to_owned).to_vec(),
    ];
    let text = |value: Option<&Value>| value.and_then(Value::as_str).unwrap_or("").to_owned();
    for build in builds {
        for line in build.get("lines").and_then(Value::as_array).into_iter().flatten() {
            rows.push(vec![
                text(build.get("file")),
                text(line.get("part")),
                text(line.get("quoted")),
                text(line.get("quoted_on")),
                text(line.get("now")),
                text(build.get("currency")),
            ]);
        }
    }
    columns::csv(&rows)
}
