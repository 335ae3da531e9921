//! The drift of a build's prices as it is shown: for people, spreadsheets and programs.

use serde_json::{Value, json};

use crate::app::report::json::join;
use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::prices::check::{Drift, Swap};
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
    let kept: i64 = drift.lines.iter().filter(|l| l.now.is_some()).map(|l| l.then.minor()).sum();
    let kept = Money::from_minor(kept, drift.then.currency());
    let swap = |swap: &Swap| {
        json!({ "to": &*swap.to.name, "id": &*swap.to.id, "from": &*swap.from.name,
        "saved": minus(&drift.total.money, &swap.total.money).to_string(),
        "paid": swap.total.to_string() })
    };
    let mut page = Page::new(look);
    let about = json!({
        "rows": page.keep(columns(look, &rows, &[1, 3, 4])),
        "kept": kept.to_string(),
        "now": drift.now.to_string(),
        "moved": (kept != drift.now).then(|| signed(&drift.now, &kept)),
        "gone": drift.lines.iter().filter(|l| l.now.is_none()).count(),
        "gone_then": minus(&drift.then, &kept).to_string(),
        "paid": drift.total.to_string(),
        "over_by": drift.over(),
        "swapped": drift.swaps.iter().map(swap).collect::<Vec<_>>(),
        "all_tried": drift.all_tried,
    });
    let code = drift.total.money.currency().code();
    page.filled("drift.txt", code, join(value(file, drift), about))
}

fn minus(a: &Money, b: &Money) -> Money {
    a.checked_sub(b).unwrap_or(*a)
}

fn signed(now: &Money, then: &Money) -> String {
    let by = minus(now, then);
    if by.is_negative() { by.to_string() } else { format!("+{by}") }
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
