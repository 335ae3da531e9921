//! Records of a case: its leads and the board's headers for them, its mounts.

use serde_json::{Map, Value, json};

use super::fields::in_unit;
use super::records::{counted, pieces, products, put};
use super::words::{all_of, first_of};
use crate::intake::plain_text;

/// The rate of a USB port in Gbit/s: as given, or by its generation.
fn usb_rate(low: &str) -> Option<f64> {
    if let Some(rate) = in_unit(low, "Gbit/s").first() {
        return Some(*rate);
    }
    let compact = low.replace(' ', "");
    for (word, rate) in [
        ("gen2x2", 20.0),
        ("gen2×2", 20.0),
        ("gen2", 10.0),
        ("gen1", 5.0),
        ("usb3.0", 5.0),
        ("usb2", 0.48),
    ] {
        if compact.contains(word) {
            return Some(rate);
        }
    }
    None
}

/// Headers of a board, or leads of a case: what each is by the header it has.
pub(crate) fn usb_leads(text: &str, leads: bool) -> Vec<Value> {
    let mut out = Vec::new();
    for piece in pieces(text, &[';', ',', '+', '\n']) {
        let (count, low) = counted(piece);
        let Some(kind) = first_of("headers", &low) else { continue };
        let mut record = Map::new();
        record.insert("kind".to_owned(), json!(kind));
        let usb = kind.starts_with("usb") || kind.starts_with("key");
        if usb {
            put(&mut record, "gbps", usb_rate(&low).map(|r| json!(r)));
        }
        let audio = kind == "audio" && out.iter().any(|r: &Value| r["kind"] == "audio");
        if audio {
            continue;
        }
        if leads && usb {
            let mut left = count;
            let most = if kind == "key_a" { 1 } else { 2 };
            while left > 0 {
                let mut one = record.clone();
                one.insert("ports".to_owned(), json!(left.min(most)));
                out.push(Value::Object(one));
                left -= left.min(most);
            }
        } else {
            let many = if usb { count } else { 1 };
            out.extend(std::iter::repeat_n(Value::Object(record), many as usize));
        }
    }
    out
}

/// Adds what a text says of fans and radiators to the mounts so far. `label` may name the mount.
pub(crate) fn mounts(held: &mut Vec<Map<String, Value>>, label: &str, text: &str) -> bool {
    let label = plain_text(label);
    let own = first_of("mounts", &label);
    let radiator = ["radiator", "radiatoren", "radiateur"].iter().any(|w| label.contains(w));
    let filter = label.contains("filter") || label.contains("filtre");
    let mut any = false;
    if filter {
        for (_, mount) in all_of("mounts", &plain_text(text)) {
            at(held, mount).insert("filter".to_owned(), json!(true));
            any = true;
        }
        return any;
    }
    let mut mount = own;
    for piece in pieces(text, &[';', ',', '\n', '/']) {
        let low = plain_text(piece);
        mount = first_of("mounts", &low).or(mount);
        let Some(mount) = mount else { continue };
        let here = radiator || ["radiator", "radiateur"].iter().any(|w| low.contains(w));
        if here {
            for mm in in_unit(&low, "mm") {
                let key = if mm % 140.0 == 0.0 { "radiator_140_mm" } else { "radiator_120_mm" };
                let record = at(held, mount);
                let most = record.get(key).and_then(Value::as_f64).unwrap_or(0.0).max(mm);
                record.insert(key.to_owned(), json!(most));
                any = true;
            }
            continue;
        }
        any |= fan_places(at(held, mount), &low);
    }
    held.retain(|r| r.len() > 1);
    any
}

fn at<'a>(held: &'a mut Vec<Map<String, Value>>, mount: &str) -> &'a mut Map<String, Value> {
    let found = held.iter().position(|r| r.get("mount").and_then(Value::as_str) == Some(mount));
    let place = found.unwrap_or_else(|| {
        held.push(Map::from_iter([("mount".to_owned(), json!(mount))]));
        held.len() - 1
    });
    // The place is of a record that is there.
    #[allow(clippy::indexing_slicing)]
    &mut held[place]
}

/// `3 × 120 mm or 2 × 140 mm`.
fn fan_places(record: &mut Map<String, Value>, low: &str) -> bool {
    let mut any = false;
    for (count, size, _) in products(low) {
        let key = match size {
            120 => "fans_120",
            140 => "fans_140",
            80 | 92 => "fans_80",
            _ => continue,
        };
        if (1..=6).contains(&count) {
            record.insert(key.to_owned(), json!(count));
            any = true;
        }
    }
    any
}
