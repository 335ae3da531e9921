//! Lists that dryfit wrote itself: JSON whose objects name parts.

use serde_json::Value;

use super::rows::RawRow;

/// Rows of a JSON document: each object that names a part, in order. None where it is no JSON.
pub(crate) fn rows(text: &str) -> Option<Vec<RawRow>> {
    let start = text.trim_start();
    if !start.starts_with(['{', '[']) {
        return None;
    }
    let document: Value = serde_json::from_str(start).ok()?;
    let mut found = Vec::new();
    collect(&document, &mut found);
    // The objects come in the order of the text: each is on the line of its own `"part"`.
    let mut lines =
        text.lines().zip(1_usize..).filter(|(l, _)| l.contains("\"part\"")).map(|(_, n)| n);
    for row in &mut found {
        row.line = lines.next().unwrap_or(1);
    }
    found.retain(|row| !row.text.is_empty());
    Some(found)
}

fn collect(value: &Value, into: &mut Vec<RawRow>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| collect(item, into)),
        Value::Object(map) => {
            if let Some(part) = map.get("part") {
                let of = |keys: &[&str]| {
                    let found = keys.iter().find_map(|k| map.get(*k).filter(|v| !v.is_null()));
                    found.map_or_else(String::new, |v| {
                        v.as_str().map_or(v.to_string(), str::to_owned)
                    })
                };
                let owned = map.get("owned").and_then(Value::as_bool) == Some(true);
                into.push(RawRow {
                    text: part.as_str().map_or_else(|| of(&["name", "text"]), str::to_owned),
                    count: of(&["count"]),
                    price: of(&["each", "price"]),
                    currency: of(&["currency"]),
                    note: if owned { "owned".to_owned() } else { String::new() },
                    listed: true,
                    ..RawRow::default()
                });
            } else {
                // What may be meant is not what is asked for.
                let inner = map.iter().filter(|(key, _)| *key != "candidates");
                inner.for_each(|(_, item)| collect(item, into));
            }
        }
        _ => {}
    }
}
