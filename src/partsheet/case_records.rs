//! Records of a case: its leads and the board's headers for them, its mounts.

use serde_json::{Map, Value, json};

use super::fields::in_unit;
use super::records::{before, counted, pieces, products, put};
use super::words::{all_of, first_of, holds};
use crate::intake::plain_text;

/// The rate of a USB port in Gbit/s: as given, or by its generation.
fn usb_rate(low: &str) -> Option<f64> {
    if let Some(rate) = in_unit(low, "Gbit/s").first() {
        return Some(*rate);
    }
    let compact = low.replace(' ', "");
    super::words::pairs_of("usb_rates")
        .find(|(word, _)| compact.contains(word))
        .and_then(|(_, rate)| rate.parse().ok())
}

/// Headers of a board, or leads of a case: what each is by the header it has.
pub(crate) fn usb_leads(text: &str, leads: bool) -> Vec<Value> {
    let mut out = Vec::new();
    for piece in pieces(text, &[';', ',', '+', '\n']) {
        let (count, low) = counted(piece);
        // "USB 5 Gbps": a plug that the rate tells.
        let bare = || low.starts_with("usb ").then(|| usb_rate(&low)).flatten();
        let told = || bare().filter(|rate| *rate >= 5.0).map(|_| "usb3_20");
        // "USB 3.2 Gen 2 Type-C" is a plug of its own, whatever it is as fast as.
        let all = all_of("headers", &low);
        let keyed = all.iter().map(|(_, kind)| *kind).find(|kind| kind.starts_with("key"));
        let said = keyed.or(all.first().map(|(_, kind)| *kind));
        let Some(kind) = said.or_else(told) else { continue };
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
            let most = if kind == "key_a" { 1 } else { 2 };
            for used in (0..count).step_by(most) {
                record.insert("ports".to_owned(), json!((count - used).min(most as u32)));
                out.push(Value::Object(record.clone()));
            }
        } else {
            let many = if usb { count } else { 1 };
            let ports = before(&low, "port_nouns").filter(|n| usb && n % many == 0);
            put(&mut record, "ports", ports.map(|n| json!(n / many)));
            out.extend(std::iter::repeat_n(Value::Object(record), many as usize));
        }
    }
    out
}

/// Adds what a text says of fans and radiators to the mounts so far. `label` may name the mount.
pub(crate) fn mounts(held: &mut Vec<Map<String, Value>>, label: &str, text: &str) -> bool {
    let label = plain_text(label);
    let radiator = label.contains("radiat");
    if label.contains("filt") {
        return filtered_at(held, text);
    }
    let mut mount = first_of("mounts", &label);
    let mut last = None;
    // "Radiators: 360 mm in front, 280 mm at the top": all of the sentence is of radiators.
    let text = &*super::told::sentences(text);
    let of_radiators = |sentence: &str| {
        let head = plain_text(sentence.split_once(':').map_or("", |(head, _)| head));
        head.contains("radiat") && first_of("mounts", &head).is_none()
    };
    // "Dust filters in front and at the bottom are washable."
    let of_filters = |sentence: &&str| {
        let low = plain_text(sentence);
        low.contains("filt") && in_unit(&low, "mm").is_empty()
    };
    let (filtered, sentences): (Vec<&str>, Vec<&str>) =
        pieces(text, &[';', '\n']).into_iter().partition(of_filters);
    let mut any = filtered.into_iter().fold(false, |any, one| any | filtered_at(held, one));
    let parted = sentences.into_iter().flat_map(|sentence| {
        let all = of_radiators(sentence);
        mount_pieces(sentence).into_iter().map(move |piece| (piece, all))
    });
    for (piece, all) in parted {
        let low = plain_text(piece);
        mount = first_of("mounts", &low).or(mount);
        let Some(mount) = mount else { continue };
        let place = at(held, mount);
        any |= if radiator || all || low.contains("radiat") {
            radiators_at(place, &low)
        } else {
            fans_at(place, low, &mut last)
        };
    }
    held.retain(|r| r.len() > 1);
    any
}

/// Notes a filter at each place that a text names.
fn filtered_at(held: &mut Vec<Map<String, Value>>, text: &str) -> bool {
    let places = all_of("mounts", &plain_text(text));
    for (_, mount) in &places {
        at(held, mount).insert("filter".to_owned(), json!(true));
    }
    !places.is_empty()
}

/// The largest radiators of a piece of text, by the fans that they are made for.
fn radiators_at(place: &mut Map<String, Value>, low: &str) -> bool {
    let sizes = radiators(low);
    for mm in &sizes {
        let key = if mm % 140.0 == 0.0 { "radiator_140_mm" } else { "radiator_120_mm" };
        let most = place.get(key).and_then(Value::as_f64).unwrap_or(0.0).max(*mm);
        place.insert(key.to_owned(), json!(most));
    }
    !sizes.is_empty()
}

/// The fans that a piece of text has at a place. `last` is the count it or an earlier piece gave.
fn fans_at(place: &mut Map<String, Value>, low: String, last: &mut Option<u32>) -> bool {
    let bare = super::fields::without_brackets(&low);
    // "Two 140s, one included": the place is for two.
    if holds("fitted", &bare) && place.keys().any(|key| key.starts_with("fans_")) {
        return false;
    }
    let low = counted_sizes(if in_unit(&bare, "mm").is_empty() { &low } else { &bare });
    let mut any = fan_places(place, &low);
    // `1x 140 mm / 120 mm`: as many of the other size.
    if let (false, Some(count)) = (any, *last)
        && let [size] = in_unit(&low, "mm").as_slice()
        && let Some(key) = fans_of(*size as u32)
    {
        place.insert(key.to_owned(), json!(count));
        any = true;
    }
    *last = products(&low).last().map(|(count, _, _)| *count).or(*last);
    any
}

/// What a text says of one place after another; `360/280 mm` is one.
fn mount_pieces(text: &str) -> Vec<&str> {
    let bare = |p: &str| p.trim().chars().all(|c| c.is_ascii_digit());
    pieces(text, &[';', ',', '\n'])
        .into_iter()
        .flat_map(|p| {
            let two = super::words::of("joints").filter_map(|joint| p.split_once(joint));
            let mut two = two.filter(|(a, b)| are_two_places(a, b));
            two.next().map_or_else(|| vec![p], |(a, b)| vec![a, b])
        })
        .flat_map(|p| {
            let sides: Vec<&str> = p.split('/').collect();
            let joined = sides.iter().any(|s| bare(s) || s.ends_with(|c: char| c.is_ascii_digit()));
            if joined { vec![p] } else { sides }
        })
        .collect()
}

/// "Three in the front" and "one at the rear", "three fans" or "a radiator".
fn are_two_places(left: &str, right: &str) -> bool {
    let (a, b) = (plain_text(left), plain_text(right));
    let placed = |t: &str| first_of("mounts", t).is_some();
    let radiator = |t: &str| t.contains("radiat");
    placed(&a) && placed(&b) || radiator(&a) != radiator(&b) && !in_unit(&b, "mm").is_empty()
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

/// The radiators that a text names, with their unit or without: `360/280 mm`.
fn radiators(low: &str) -> Vec<f64> {
    let numbers = low.split(|c: char| !c.is_ascii_digit()).filter_map(|n| n.parse().ok());
    numbers.filter(|mm| super::measures::RADIATORS_MM.contains(mm)).collect()
}

/// The field for fans of a size.
fn fans_of(mm: u32) -> Option<&'static str> {
    match mm {
        120 => Some("fans_120"),
        140 => Some("fans_140"),
        80 | 92 => Some("fans_80"),
        180 | 200 => Some("fans_200"),
        _ => None,
    }
}

/// `three 120 mm` as `3x120 mm`.
pub(super) fn counted_sizes(low: &str) -> String {
    let words: Vec<&str> = low.split(' ').collect();
    let mut out: Vec<String> = Vec::new();
    for (at, word) in words.iter().enumerate() {
        let size = words.get(at + 1).is_some_and(|w| w.starts_with(|c: char| c.is_ascii_digit()));
        match super::words::number(word).filter(|_| size) {
            Some(count) => out.push(format!("{count} x")),
            None => out.push((*word).to_owned()),
        }
    }
    out.join(" ")
}

/// `3 × 120 mm or 2 × 140 mm`.
fn fan_places(record: &mut Map<String, Value>, low: &str) -> bool {
    let mut any = false;
    for (count, size, rest) in products(low) {
        // "1x 120/140 mm": as many of either size.
        let other = rest.trim_start().strip_prefix('/').map_or("", str::trim_start);
        let other = other.split(|c: char| !c.is_ascii_digit()).next().and_then(|n| n.parse().ok());
        for key in [Some(size), other].into_iter().flatten().filter_map(fans_of) {
            if (1..=6).contains(&count) {
                record.insert(key.to_owned(), json!(count));
                any = true;
            }
        }
    }
    any
}
