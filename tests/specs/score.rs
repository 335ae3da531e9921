//! Scores imported parts against the truth of a page or a feed.

use dryfit::inside::partsheet::Imported;
use serde_json::Value;

/// Counts over many sources.
#[derive(Debug, Default)]
pub(super) struct Score {
    /// Facts that a careful reader finds, those read right, those read wrong.
    pub facts: usize,
    /// See `facts`.
    pub right: usize,
    /// See `facts`.
    pub wrong: usize,
    /// Fields given that the source leaves open.
    pub invented: usize,
    /// What went wrong, in words.
    pub failures: Vec<String>,
}

fn near(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within.max(1e-6 * a.abs())
}

/// Whether a value is what the truth says.
fn is(truth: &Value, mine: &Value) -> bool {
    if let Some(any) = truth.get("any_of").and_then(Value::as_array) {
        return any.iter().any(|one| is(one, mine));
    }
    if let Some(about) = truth.get("about").and_then(Value::as_f64) {
        return mine
            .as_f64()
            .is_some_and(|n| near(n, about, truth["within"].as_f64().unwrap_or(0.0)));
    }
    if let Some(count) = truth
        .get("count")
        .and_then(Value::as_u64)
        .filter(|_| truth.as_object().is_some_and(|o| o.len() == 1))
    {
        return mine.as_array().is_some_and(|a| a.len() as u64 == count)
            || mine.as_u64() == Some(count);
    }
    if let Some(records) = truth.get("records").and_then(Value::as_array) {
        return records_are(truth, records, mine);
    }
    match (truth, mine) {
        (Value::Number(a), Value::Number(b)) => {
            near(a.as_f64().unwrap_or(0.0), b.as_f64().unwrap_or(1.0), 0.0)
        }
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().all(|x| b.iter().any(|y| is(x, y)))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(k, x)| b.get(k).is_some_and(|y| is(x, y)))
        }
        (a, b) => a == b,
    }
}

/// Each record that the truth asks for is met by one of its own; what counts for several counts so.
fn records_are(truth: &Value, asked: &[Value], mine: &Value) -> bool {
    let mut own: Vec<Value> = Vec::new();
    for record in mine.as_array().into_iter().flatten() {
        let many = if truth["unit"] == "count" { record["count"].as_u64().unwrap_or(1) } else { 1 };
        own.extend(std::iter::repeat_n(record.clone(), usize::try_from(many).unwrap_or(1)));
    }
    let extra = truth.get("extra_ok").and_then(Value::as_array).cloned().unwrap_or_default();
    let forbidden: Vec<&str> =
        truth["inside_not"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    if own.iter().any(|r| forbidden.iter().any(|f| r.get(*f).is_some())) {
        return false;
    }
    for one in asked {
        let meets = |r: &Value| {
            one.as_object().into_iter().flatten().all(|(key, value)| match value.get("absent") {
                Some(_) => r.get(key).is_none(),
                None => r.get(key).is_some_and(|v| is(value, v)) || key == "count",
            })
        };
        match own.iter().position(meets) {
            Some(at) => {
                own.remove(at);
            }
            None => return false,
        }
    }
    let more = |e: &Value, left: &Value| {
        e.as_object().into_iter().flatten().all(|(key, value)| left.get(key) == Some(value))
    };
    own.iter().all(|left| extra.iter().any(|e| more(e, left)))
}

/// Scores the parts of one source.
pub(super) fn source(score: &mut Score, name: &str, truth: &Value, parts: &[Imported]) {
    for one in truth["parts"].as_array().into_iter().flatten() {
        let names: Vec<String> = one["names"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
            .map(str::to_lowercase)
            .collect();
        let mine = parts.iter().find(|p| names.contains(&p.name.to_lowercase()));
        let Some(mine) = mine else {
            score.facts += one["must"].as_object().map_or(0, |m| m.len());
            score.failures.push(format!(
                "{name}: no part {names:?}; there are {:?}",
                parts.iter().map(|p| &p.name).collect::<Vec<_>>()
            ));
            continue;
        };
        for (field, fact) in one["must"].as_object().into_iter().flatten() {
            score.facts += 1;
            let read = mine.fields.iter().find(|(n, _)| n == field).map(|(_, r)| r);
            match read {
                Some(read) if is(&fact["is"], &read.value) => score.right += 1,
                Some(read) => {
                    score.wrong += 1;
                    score.failures.push(format!(
                        "{name} {names:?} WRONG {field}: {} for {} ({})",
                        read.value, fact["is"], fact["from"]
                    ));
                }
                None => score.failures.push(format!(
                    "{name} {names:?} not read {field}: {} ({})",
                    fact["is"], fact["from"]
                )),
            }
        }
        for (field, read) in &mine.fields {
            let allowed = one["must"].get(field).is_some() || one["may"].get(field).is_some();
            if !allowed {
                score.invented += 1;
                score.failures.push(format!(
                    "{name} {names:?} INVENTED {field}: {} from {:?}",
                    read.value, read.from
                ));
            }
        }
    }
}
