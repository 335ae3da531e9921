//! Lists of named values, as JSON and YAML have them: an object or a map for each part.

use serde_json::Value;

use super::rows::{Cells, RawRow, of_table};
use super::words::words;

/// Most keys of one object that are read.
const MAX_KEYS: usize = 64;

/// One part's names and values, and the line that it begins on.
type Named = (usize, Vec<(String, String)>);

/// The rows of a document of other programs: the objects that name a part.
pub(crate) fn of_json(document: &Value, text: &str, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    let mut found = Vec::new();
    collect(document, &mut found, is_kind);
    // The objects come in the order of the text: each is on the line of its first value.
    let (mut from, mut at_line) = (0, 1);
    for (line, named) in &mut found {
        let first = named.first().map(|(_, value)| value.as_str()).unwrap_or("");
        let quoted = serde_json::to_string(first).unwrap_or_default();
        if let Some(gap) = text.get(from..).and_then(|t| t.find(&quoted).and_then(|at| t.get(..at)))
        {
            at_line += gap.matches('\n').count();
            from += gap.len() + quoted.len();
        }
        *line = at_line;
    }
    table(found, is_kind)
}

fn collect(value: &Value, into: &mut Vec<Named>, is_kind: &dyn Fn(&str) -> bool) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| collect(item, into, is_kind)),
        Value::Object(map) => {
            let before = into.len();
            for (key, value) in map {
                match plain(value) {
                    // {"cpu": "Dotterel 508"}
                    Some(text) if is_kind(&spaced(key)) => {
                        let pair =
                            vec![("part".to_owned(), text), ("kind".to_owned(), spaced(key))];
                        into.push((1, pair));
                    }
                    _ => {
                        let first = into.len();
                        collect(value, into, is_kind);
                        // {"gpu": {"name": "Gale 12"}}: the key says its kind.
                        for (_, named) in into.iter_mut().skip(first) {
                            let told = named.iter().any(|(k, _)| words().column(k) == Some("kind"));
                            if is_kind(&spaced(key)) && !told {
                                named.push(("kind".to_owned(), spaced(key)));
                            }
                        }
                    }
                }
            }
            // What holds parts is a list with a name of its own.
            let own = own_values(map);
            if into.len() == before && names_a_part(&own) {
                into.push((1, own));
            }
        }
        _ => {}
    }
}

fn plain(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Number(number) => Some(number.to_string()),
        Value::Bool(flag) => Some(if *flag { "yes" } else { "no" }.to_owned()),
        _ => None,
    }
}

/// The names and values of an object; a price may be an object of an amount and a currency.
fn own_values(map: &serde_json::Map<String, Value>) -> Vec<(String, String)> {
    let mut own = Vec::new();
    for (key, value) in map.iter().take(MAX_KEYS) {
        let key = spaced(key);
        if let Some(text) = plain(value) {
            own.push((key, text));
        } else if let (Value::Object(inner), Some("price" | "sum")) = (value, words().column(&key))
        {
            let amount = ["amount", "value"].into_iter().find_map(|k| plain(inner.get(k)?));
            own.extend(amount.map(|amount| (key, amount)));
            let currency = inner.get("currency").and_then(plain);
            own.extend(currency.map(|code| ("currency".to_owned(), code)));
        }
    }
    own
}

/// `unitPrice` and `unit_price` as words.
fn spaced(key: &str) -> String {
    let mut out = String::with_capacity(key.len() + 2);
    let mut small = false;
    for c in key.chars() {
        if small && c.is_uppercase() {
            out.push(' ');
        }
        small = c.is_lowercase();
        out.push(if matches!(c, '_' | '-') { ' ' } else { c });
    }
    out.to_lowercase()
}

/// Whether one of the names is that of a part's, and another says more of it.
fn names_a_part(named: &[(String, String)]) -> bool {
    let column = |(key, value): &&(String, String)| {
        (!value.trim().is_empty()).then(|| words().column(key)).flatten()
    };
    let known: Vec<&str> = named.iter().filter_map(|n| column(&n)).collect();
    known.contains(&"part") && known.len() > 1
}

/// The maps of a YAML list, `- name: Lull 120` with its other keys below it. None where the text
/// has fewer than two that name a part.
pub(crate) fn of_yaml(text: &str, is_kind: &dyn Fn(&str) -> bool) -> Option<Vec<RawRow>> {
    let mut found: Vec<Named> = Vec::new();
    let mut open: Option<usize> = None;
    for (at, whole) in text.lines().enumerate() {
        let line = whole.split(" #").next().unwrap_or("").trim_end();
        let indent = line.len() - line.trim_start().len();
        let body = line.trim_start();
        let begun = body.strip_prefix("- ");
        let pair = |t: &str| {
            let (key, value) = t.split_once(':')?;
            let word = key.chars().all(|c| c.is_alphanumeric() || matches!(c, '_' | '-' | ' '));
            let value = value.strip_prefix(' ').or(value.is_empty().then_some(""))?;
            let value = value.trim().trim_matches(['"', '\'']).to_owned();
            (word && words().column(&spaced(key)).is_some()).then(|| (spaced(key), value))
        };
        match (begun.map(str::trim_start), open) {
            (Some(first), _) => {
                open = None;
                if let Some(pair) = pair(first) {
                    found.push((at + 1, vec![pair]));
                    open = Some(indent + 1);
                }
            }
            (None, Some(level)) if indent >= level => {
                if let (Some(pair), Some((_, named))) = (pair(body), found.last_mut()) {
                    named.push(pair);
                }
            }
            _ => open = None,
        }
    }
    found.retain(|(_, named)| names_a_part(named));
    (found.len() > 1).then(|| table(found, is_kind))
}

/// The rows of a table whose columns are all the names.
fn table(found: Vec<Named>, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    let mut heads: Vec<String> = Vec::new();
    let mut others: Vec<String> = Vec::new();
    for (key, _) in found.iter().flat_map(|(_, named)| named) {
        let list = if words().column(key).is_some() { &mut heads } else { &mut others };
        if !list.contains(key) && list.len() < MAX_KEYS {
            list.push(key.clone());
        }
    }
    // A row of heads is one of which most are known.
    others.truncate(heads.len());
    heads.extend(others);
    let mut cells = vec![Cells { line: 1, cells: heads.clone(), ..Cells::default() }];
    for (line, named) in found {
        let value = |head: &String| {
            named.iter().find(|(key, _)| key == head).map_or_else(String::new, |(_, v)| v.clone())
        };
        let cells_of = heads.iter().map(value).collect();
        cells.push(Cells { line, cells: cells_of, ..Cells::default() });
    }
    of_table(cells, is_kind).into_iter().filter(|row| !row.columns).collect()
}
