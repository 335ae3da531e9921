//! Headers of a motherboard for fans, pumps and lighting.

use serde_json::{Map, Value, json};

use super::fields::in_unit;
use super::records::{MAX_COUNT, counted, pieces, put};
use super::words::{holds, part_of};

/// Whether a word is a header's name: `CPU_FAN`, `CPU_OPT`, `PUMP1`.
fn is_name(word: &str) -> bool {
    let capital = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_';
    let marked = word.contains(['_', 'F']) || word.ends_with(|c: char| c.is_ascii_digit());
    // `PUMP (PWM, 2 A)`
    let marked = marked || word.len() > 3;
    word.len() > 2
        && marked
        && word.starts_with(|c: char| c.is_ascii_uppercase())
        && word.chars().all(capital)
        && word != "PWM"
}

/// Fan headers of a board.
pub(crate) fn fan_headers(text: &str) -> Vec<Value> {
    let mut out = Vec::new();
    for piece in pieces(text, &[';', ',', '\n']) {
        let (count, low) = counted(piece);
        let role = part_of("fan_roles", &low);
        let mut record = Map::new();
        put(&mut record, "role", role.map(|r| json!(r)));
        let (pwm, dc) = (holds("pwm", &low), holds("dc", &low));
        let control = match (pwm, dc) {
            (true, true) => Some("both"),
            (true, false) => Some("pwm"),
            (false, true) => Some("dc"),
            _ => None,
        };
        put(&mut record, "control", control.map(|c| json!(c)));
        put(&mut record, "amps", in_unit(piece, "A").first().map(|a| json!(a)));
        // "CPU_FAN, SYS_FAN1 to SYS_FAN4 (all 4-pin)": what is said of all.
        if holds("all", &low) {
            for held in out.iter_mut().filter_map(Value::as_object_mut) {
                for key in ["control", "amps"] {
                    let said = record.get(key).filter(|_| !held.contains_key(key)).cloned();
                    put(held, key, said);
                }
            }
        }
        if role.is_none() {
            continue;
        }
        let names = numbered_names(piece);
        for name in &names {
            let mut one = record.clone();
            one.insert("name".to_owned(), json!(name));
            out.push(Value::Object(one));
        }
        let bare = if names.is_empty() { count as usize } else { 0 };
        let more = if names.len() == 1 { count as usize - 1 } else { bare };
        out.extend(std::iter::repeat_n(Value::Object(record), more));
    }
    out
}

/// The names of a piece, those of a range each: `SYS_FAN1 to SYS_FAN4`, `CHA_FAN1/2/3`.
fn numbered_names(piece: &str) -> Vec<String> {
    let text = super::fields::with_dashes(piece);
    let first = |w: &str| w.split(['-', '/']).next().unwrap_or("").to_owned();
    let Some(word) = text.split([' ', '(', ':']).find(|w| is_name(&first(w))) else {
        return Vec::new();
    };
    let stem = first(word).trim_end_matches(|c: char| c.is_ascii_digit()).to_owned();
    let number = |w: &str| w.strip_prefix(&*stem).unwrap_or(w).parse::<u32>().ok();
    let numbers: Option<Vec<u32>> = word.split(['-', '/']).map(number).collect();
    match numbers.as_deref() {
        Some([from, to]) if from < to && to - from < MAX_COUNT && word.contains('-') => {
            (*from..=*to).map(|n| format!("{stem}{n}")).collect()
        }
        Some(all) if all.len() > 1 => all.iter().map(|n| format!("{stem}{n}")).collect(),
        _ => vec![first(word)],
    }
}

/// Lighting headers of a board.
pub(crate) fn lighting_headers(text: &str) -> Vec<Value> {
    let mut out = Vec::new();
    for piece in pieces(text, &[';', ',', '\n']) {
        let (count, low) = counted(piece);
        let Some(kind) = part_of("lighting_plugs", &low) else { continue };
        let mut record = Map::new();
        let name = piece
            .split([' ', '(', ':'])
            .find(|w| w.contains("RGB") && w.ends_with(|c: char| c.is_ascii_digit()));
        put(&mut record, "name", name.map(|n| json!(n)));
        record.insert("kind".to_owned(), json!(kind));
        put(&mut record, "amps", in_unit(piece, "A").first().map(|a| json!(a)));
        out.extend(std::iter::repeat_n(Value::Object(record), count as usize));
    }
    out
}
