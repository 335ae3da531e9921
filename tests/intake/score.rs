//! Scores rows as read against the truth of a list.

use std::collections::BTreeMap;

use dryfit::inside::intake::{Row, State};
use serde_json::Value;

/// Counts over many lists.
#[derive(Debug, Default)]
pub(super) struct Score {
    /// Per class: rows, and those read right.
    pub classes: BTreeMap<String, (usize, usize)>,
    /// Counts, prices, owned: told and right.
    pub counts: (usize, usize),
    /// See `counts`.
    pub prices: (usize, usize),
    /// See `counts`.
    pub owned: (usize, usize),
    /// Rows matched with the wrong part, of all.
    pub sure_and_wrong: (usize, usize),
    /// What went wrong, in words.
    pub failures: Vec<String>,
}

fn texts(value: &Value) -> Vec<&str> {
    value.as_array().into_iter().flatten().filter_map(Value::as_str).collect()
}

fn number(value: &Value) -> usize {
    value.as_u64().and_then(|n| usize::try_from(n).ok()).unwrap_or(0)
}

/// Scores one list.
pub(super) fn list(score: &mut Score, name: &str, truth: &Value, rows: &[Row]) {
    let truths = truth["rows"].as_array().expect("a truth has rows");
    let mut used = vec![false; rows.len()];
    for one in truths {
        let (from, to) = (number(&one["line"]), number(&one["line_end"]));
        let ignored = one["class"] == "ignored";
        let mine = (0..rows.len()).find(|i| {
            !used[*i]
                && (from..=to).contains(&rows[*i].line)
                && (ignored || rows[*i].state != State::Ignored)
        });
        let mine = mine.or_else(|| {
            (0..rows.len()).find(|i| !used[*i] && (from..=to).contains(&rows[*i].line))
        });
        if let Some(at) = mine {
            used[at] = true;
        }
        row(score, name, one, mine.map(|i| &rows[i]));
    }
    for (row, _) in rows.iter().zip(&used).filter(|(r, used)| !**used && r.state != State::Ignored)
    {
        score.failures.push(format!(
            "{name}:{} a row that is none: {} {:?}",
            row.line,
            row.state.word(),
            row.text
        ));
    }
}

fn row(score: &mut Score, name: &str, truth: &Value, mine: Option<&Row>) {
    let class = truth["class"].as_str().unwrap_or("");
    let states = texts(&truth["states"]);
    let state = mine.map_or("ignored", |r| r.state.word());
    let wrong = mine
        .is_some_and(|r| r.state == State::Matched && r.part.as_deref() != truth["part"].as_str());
    score.sure_and_wrong.0 += 1;
    score.sure_and_wrong.1 += usize::from(wrong);
    let right =
        states.contains(&state) && !wrong && shows(truth, class, mine) && wants(truth, mine);
    let entry = score.classes.entry(class.to_owned()).or_default();
    entry.0 += 1;
    entry.1 += usize::from(right);
    let told = |what: &str| {
        let got = mine.map(|r| {
            format!(
                "{} {:?} {:?} {:?}",
                r.part.as_deref().unwrap_or("-"),
                r.candidates,
                r.wants,
                r.facts
            )
        });
        format!(
            "{name}:{} {what} [{class} {}] {:?} -> {state} {} (truth {} {})",
            truth["line"],
            truth["tags"],
            truth["text"].as_str().unwrap_or(""),
            got.unwrap_or_default(),
            truth["part"],
            truth["candidates"]
        )
    };
    if !right {
        score.failures.push(told(if wrong { "SURE AND WRONG" } else { "state" }));
    }
    let Some(mine) = mine.filter(|_| class != "ignored" && state != "ignored") else { return };
    let count = number(&truth["count"]) == mine.count as usize;
    score.counts.0 += 1;
    score.counts.1 += usize::from(count);
    let one_of = |key: &str, value: &Option<String>| {
        truth[key].as_array().is_none_or(|all| all.iter().any(|v| v.as_str() == value.as_deref()))
    };
    let price = one_of("price", &mine.price) && one_of("currency", &mine.currency);
    score.prices.0 += 1;
    score.prices.1 += usize::from(price);
    let owned = truth["owned"].as_bool() == Some(mine.owned);
    score.owned.0 += 1;
    score.owned.1 += usize::from(owned);
    if !count {
        score.failures.push(told(&format!("count {} for {}", mine.count, truth["count"])));
    }
    if !price {
        score.failures.push(told(&format!(
            "price {:?} {:?} for {} {}",
            mine.price, mine.currency, truth["price"], truth["currency"]
        )));
    }
    if !owned {
        score.failures.push(told(&format!("owned {} for {}", mine.owned, truth["owned"])));
    }
}

/// Whether a question shows what must be among its first three.
fn shows(truth: &Value, class: &str, mine: Option<&Row>) -> bool {
    let Some(mine) = mine.filter(|r| r.state == State::Unsure) else { return true };
    let first: Vec<&str> = mine.candidates.iter().take(3).map(|(id, _)| id.as_str()).collect();
    let fit = texts(&truth["candidates"]);
    match class {
        "either" | "sure" => truth["part"].as_str().is_some_and(|p| first.contains(&p)),
        "ask" if fit.len() <= 3 => fit.iter().all(|id| first.contains(id)),
        "ask" => first.iter().all(|id| fit.contains(id)) && first.len() >= 2,
        _ => true,
    }
}

/// Whether an open row's wants say what they must.
fn wants(truth: &Value, mine: Option<&Row>) -> bool {
    let Some(mine) = mine.filter(|r| r.state == State::Open) else { return true };
    if truth["kind"].as_str() != mine.kind.as_deref() {
        return false;
    }
    truth["wants"].as_array().into_iter().flatten().all(|want| {
        let field = want["field"].as_str().unwrap_or("").replace(' ', "");
        let value = match &want["value"] {
            Value::String(text) => format!("\"{text}\""),
            Value::Bool(true) => "true".to_owned(),
            other => other.to_string(),
        };
        let said = mine.wants.iter().any(|mine| {
            let mine = mine.replace(' ', "");
            texts(&want["op"]).iter().any(|op| mine == format!("{field}{op}{value}"))
                || value == "true" && mine == field
                || mine == format!("{field}.contains({value})")
        });
        said || want["need"] == false
    })
}
