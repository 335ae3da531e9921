//! What a motherboard takes: M.2 sockets, expansion slots, families of processors.

use serde_json::{Map, Value, json};

use super::pages::Statement;
use super::records::{counted, generation, lanes, pieces, put};
use super::words::{find_word, first_of};
use crate::intake::{figures, plain_text};

/// M.2 sockets.
pub(crate) fn m2(text: &str) -> Vec<Value> {
    let mut out: Vec<Map<String, Value>> = Vec::new();
    for sentence in pieces(&text.replace(". ", ";"), &[';', '\n']) {
        let low = plain_text(sentence);
        if switched_off(sentence).is_some() {
            continue;
        }
        let (count, rest) = counted(sentence);
        let sockets = low.contains("key")
            || low.contains("m.2")
            || name_of(sentence).is_some()
            || low.contains("22")
            || low.contains("pcie");
        if !sockets {
            continue;
        }
        let mut record = Map::new();
        put(&mut record, "name", name_of(sentence).map(|n| json!(n)));
        let key = ["m", "b", "e"].into_iter().find(|k| {
            let spelled = [format!("key {k}"), format!("{k}-key"), format!("{k} key")];
            spelled.iter().any(|key| find_word(&rest, key).is_some())
        });
        put(&mut record, "key", key.map(|k| json!(k.to_uppercase())));
        let sizes = [("22110", 110), ("2280", 80), ("2260", 60), ("2242", 42), ("2230", 30)];
        put(
            &mut record,
            "length_mm",
            sizes.iter().find(|(s, _)| low.contains(s)).map(|(_, mm)| json!(mm)),
        );
        put(&mut record, "gen", generation(&rest));
        put(&mut record, "lanes", lanes(&rest).first().map(|n| json!(n)));
        put(&mut record, "source", first_of("sources", &low).map(|s| json!(s)));
        if find_word(&low, "sata").is_some() {
            record.insert("sata".to_owned(), json!(true));
        }
        if ["heatsink", "heat sink", "kühlkörper", "dissipateur"].iter().any(|w| low.contains(w))
        {
            record.insert("heatsink".to_owned(), json!(true));
        }
        if record.len() > 1 || record.contains_key("key") {
            out.extend(std::iter::repeat_n(record, count as usize));
        }
    }
    out.into_iter().map(Value::Object).collect()
}

/// The word of a sentence by which the board calls the socket: `M2_1`, `M2A`.
fn name_of(sentence: &str) -> Option<&str> {
    let mut words = sentence.split([' ', ',', ':', '(']);
    words.find(|w| super::words::named_place(w) == Some("m2"))
}

/// `SATA5 and SATA6 are off when M2_2 is in use`, `SATA 3 and 4 do not work while …`: ports, and
/// the lower-case rest.
fn switched_off(sentence: &str) -> Option<(Vec<String>, String)> {
    let low = plain_text(sentence);
    if !super::words::of("off").any(|w| low.contains(w)) {
        return None;
    }
    let mut ports: Vec<String> = Vec::new();
    // Whether the word before is "SATA", or a number of its list.
    let mut open = false;
    let marks = [' ', ',', '/', '.', '(', ')', '+', '&'];
    for word in low.split(marks).filter(|w| !w.is_empty()) {
        let digits = word.strip_prefix("sata").unwrap_or(word).trim_matches('_');
        let numbered = !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit());
        if numbered && (open || word.starts_with("sata")) {
            ports.push(format!("SATA{digits}"));
        }
        let joins = open && super::words::of("joints").any(|w| w.trim() == word);
        open = word.starts_with("sata") || open && (numbered || joins);
    }
    (!ports.is_empty()).then_some((ports, low))
}

/// The sockets of a board, each with the ports that a sentence says are off while it is used.
pub(super) fn with_disabled(sockets: &mut Value, statements: &[Statement]) {
    let all = statements.iter().map(|s| s.text.replace(". ", ";")).collect::<Vec<_>>().join(";");
    for sentence in pieces(&all, &[';', '\n']) {
        let Some((ports, told)) = switched_off(sentence) else { continue };
        for record in sockets.as_array_mut().into_iter().flatten().filter_map(Value::as_object_mut)
        {
            let name = record.get("name").and_then(Value::as_str).map(str::to_lowercase);
            if name.is_some_and(|name| told.contains(&name)) {
                record.insert("disables".to_owned(), json!(ports));
            }
        }
    }
}

/// What a text says of one slot after another: "PCIe 4.0 x16, runs at x4, from the chipset" is
/// one.
fn slot_pieces(text: &str) -> Vec<&str> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for piece in pieces(text, &[';', ',', '\n']) {
        let low = plain_text(piece);
        let own = low.contains("pcie") || counted(piece).1 != low;
        let said = super::words::holds("wired", &low)
            || super::words::holds("mechanical", &low)
            || first_of("sources", &low).is_some() && lanes(&low).is_empty();
        let start = piece.as_ptr() as usize - text.as_ptr() as usize;
        match out.last_mut().filter(|_| !own && said) {
            Some((_, end)) => *end = start + piece.len(),
            None => out.push((start, start + piece.len())),
        }
    }
    out.into_iter().filter_map(|(from, to)| text.get(from..to)).collect()
}

/// Expansion slots of a board.
pub(crate) fn slots(text: &str) -> Vec<Value> {
    let mut out = Vec::new();
    for piece in slot_pieces(text) {
        let (count, rest) = counted(piece);
        // "PCIe 5.0 x16 (2 slots)"
        let inner = super::measures::bracketed(piece);
        let (inside, noun) = counted(&inner);
        let said = inside > 1 && count == 1 && rest == plain_text(piece);
        let count = if said && super::words::has("slot_nouns", &noun) { inside } else { count };
        let widths = lanes(&rest);
        let (Some(size), Some(wired)) = (widths.iter().max(), widths.iter().min()) else {
            continue;
        };
        let mut record = Map::new();
        let name = piece
            .split([' ', ':', '('])
            .find(|w| w.starts_with("PCIE") && super::words::named_place(w) == Some("slots"));
        put(&mut record, "name", name.map(|n| json!(n)));
        record.insert("size".to_owned(), json!(size));
        record.insert("lanes".to_owned(), json!(wired));
        put(&mut record, "gen", generation(&rest));
        put(&mut record, "source", first_of("sources", &rest).map(|s| json!(s)));
        out.extend(std::iter::repeat_n(Value::Object(record), count as usize));
    }
    out
}

/// `Whimbrel 3 (from BIOS 2.4), Dotterel 5`: families, and the firmware where it is said.
pub(crate) fn families(text: &str) -> Vec<Value> {
    let mut out: Vec<Value> = Vec::new();
    let named = |word: &str| {
        word.chars().count() > 3
            && word.starts_with(char::is_uppercase)
            && word.chars().skip(1).all(char::is_lowercase)
            && !super::words::has("no_family", word)
    };
    let words: Vec<&str> =
        text.split([' ', ',', ';', '/', '\n', '(', ')']).filter(|w| !w.is_empty()).collect();
    for pair in words.windows(2) {
        let [word, number] = pair else { continue };
        let short = number.len() <= 2 && number.chars().all(|c| c.is_ascii_digit());
        if !named(word) || !short {
            continue;
        }
        let family = format!("{word} {number}");
        if out.iter().any(|held| held["family"] == family) {
            continue;
        }
        let mut record = Map::new();
        // The firmware stands behind its family, before the next.
        let version = text.match_indices(&family).find_map(|(at, _)| {
            let behind = text.get(at + family.len()..)?.split([',', ';', ')']).next()?;
            let (before, version) = behind.split_once("BIOS")?;
            let other = before.split(' ').any(named);
            figures(version).into_iter().find_map(|f| f.number).filter(|_| !other)
        });
        put(&mut record, "firmware", version.map(|v| json!(v)));
        record.insert("family".to_owned(), json!(family));
        out.push(Value::Object(record));
    }
    out
}
