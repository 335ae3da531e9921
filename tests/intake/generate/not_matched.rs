//! Rows that name no one part of the catalogue: nearly one of its parts, a part that nobody makes,
//! an open wish, one part or another.

use serde_json::{Value, json};

use super::parts::{Part, is_number, parts, set};
use super::rng::Rng;
use super::row::{Row, blank};
use super::words::{INVENTED, kind_words};

/// A real family with a figure or a variant that the catalogue lacks.
pub(super) fn near(rng: &mut Rng, lang: &str) -> Row {
    loop {
        let part: &'static Part = rng.pick(parts());
        let mut words = part.words.clone();
        let numbers: Vec<usize> = (1..words.len())
            .filter(|i| is_number(&words[*i]) && !words[*i].contains('x'))
            .collect();
        if matches!(part.kind.as_str(), "adapter" | "memory" | "hub") {
            continue;
        }
        if !numbers.is_empty() && rng.chance(60) {
            let at = *rng.pick(&numbers);
            let digits: String = words[at].chars().take_while(char::is_ascii_digit).collect();
            let Ok(n) = digits.parse::<u32>() else { continue };
            let other = match rng.below(4) {
                0 => n + 1 + (n >= 20) as u32 * 9,
                1 => n * 2 + 1,
                2 if n > 30 => n - 10,
                _ => n + 3,
            };
            words[at] = words[at].replacen(&digits, &other.to_string(), 1);
        } else {
            let peer: &Part = rng.pick(parts());
            let extra = peer
                .words
                .iter()
                .skip(1)
                .find(|w| w.len() > 3 && w.chars().all(char::is_alphabetic));
            let Some(extra) = extra.filter(|_| peer.kind == part.kind) else { continue };
            if words.contains(extra)
                || kind_words(&part.kind, "en").iter().any(|k| k.eq_ignore_ascii_case(extra))
                // What such a part is anyway names no other part.
                || extra == "SATA"
                || extra == "modular"
                || extra == "Tower"
            {
                continue;
            }
            words.push(extra.clone());
        }
        let said = set(&words, &part.maker);
        if parts().iter().any(|p| set(&p.words, &p.maker).is_superset(&said)) {
            continue;
        }
        let mut text = words.join(" ");
        if let (true, Some(word)) = (rng.chance(30), kind_words(&part.kind, lang).first()) {
            text = format!("{text} {word}");
        }
        return Row {
            text,
            kind: Some(part.kind.clone()),
            class: "near",
            tags: vec!["near"],
            ..blank()
        };
    }
}

/// A part that nobody makes.
pub(super) fn unknown(rng: &mut Rng, lang: &str) -> Row {
    let name = if rng.chance(50) {
        format!("{} {}", rng.pick(INVENTED), rng.pick(INVENTED))
    } else {
        format!(
            "{} {}{}",
            rng.pick(INVENTED),
            rng.pick(&["Q", "V", "X", "ZR", "N"]),
            1 + rng.below(9)
        )
    };
    let (kind, figures): (&str, &[&str]) = *rng.pick(&[
        ("supply", &["650 W", "850W Gold", "1000 Watt"][..]),
        ("chassis", &["ATX", "white", "mATX"][..]),
        ("storage", &["1 TB", "2TB NVMe"][..]),
        ("graphics", &["8 GB", "16GB"][..]),
        ("display", &["27 inch", "144 Hz", "34\""][..]),
        ("fan", &["120 mm", "140mm PWM"][..]),
        ("cooler", &["240 mm", "AIO"][..]),
        ("board", &["DDR5", "mATX"][..]),
        ("memory", &["32GB (2x16GB) DDR5-6000 CL30", "DDR4"][..]),
    ]);
    let word = rng.pick(kind_words(kind, lang));
    let figure = rng.pick(figures);
    let text = match rng.below(3) {
        0 => format!("{name} {figure} {word}"),
        1 => format!("{word} {name} {figure}"),
        _ => format!("{name} {word}"),
    };
    Row { text, kind: Some(kind.to_owned()), class: "unknown", tags: vec!["invented"], ..blank() }
}

/// What a customer wants of a part: its kind, in words, and as fields.
fn wanted(rng: &mut Rng) -> (&'static str, String, Vec<Value>) {
    let want = |field: &str, op: &[&str], value: Value| json!({ "field": field, "op": op, "value": value, "need": true });
    let at_least = &[">=", "=="][..];
    match rng.below(7) {
        0 => {
            let (gb, ddr) = (*rng.pick(&[16, 32, 64]), *rng.pick(&["ddr4", "ddr5"]));
            (
                "memory",
                format!("{gb} GB {}", ddr.to_uppercase()),
                vec![
                    want("memory_kind", &["=="], json!(ddr)),
                    want("modules*module_gb", at_least, json!(gb)),
                ],
            )
        }
        1 => {
            let tb = *rng.pick(&[1, 2, 4]);
            (
                "storage",
                format!("{tb} TB NVMe"),
                vec![
                    want("gb", at_least, json!(tb * 1000)),
                    want("interface", &["=="], json!("nvme")),
                ],
            )
        }
        2 => {
            let w = *rng.pick(&[550, 650, 750, 850]);
            (
                "supply",
                format!("{w} W Gold"),
                vec![want("rated_w", at_least, json!(w)), want("grade", &["=="], json!("gold"))],
            )
        }
        3 => ("graphics", "passive".to_owned(), vec![want("cooling", &["=="], json!("passive"))]),
        4 => {
            let mm = *rng.pick(&[120, 140]);
            (
                "fan",
                format!("{mm} mm PWM"),
                vec![want("size_mm", &["=="], json!(mm)), want("control", &["=="], json!("pwm"))],
            )
        }
        5 => {
            let gb = *rng.pick(&[8, 12, 16]);
            ("graphics", format!("{gb} GB"), vec![want("memory_gb", at_least, json!(gb))])
        }
        _ => {
            let hz = *rng.pick(&[75, 144]);
            (
                "display",
                format!("27 inch {hz} Hz"),
                vec![
                    want("diagonal_in", &["==", ">="], json!(27)),
                    want("refresh_hz", at_least, json!(hz)),
                ],
            )
        }
    }
}

/// A row that leaves the part open.
pub(super) fn open(rng: &mut Rng, lang: &str) -> Row {
    let (kind, body, wants) = wanted(rng);
    let word = kind_words(kind, lang)[0];
    let text = match (lang, rng.below(4)) {
        ("de", 0) => format!("irgendein {body} {word}"),
        ("de", 1) => format!("günstiges {word} {body}, Marke egal"),
        ("de", 2) => format!("{word} {body}, beliebig"),
        ("de", _) => format!("{body} {word}, das billigste"),
        ("fr", 0) => format!("n'importe quel {word} {body}"),
        ("fr", 1) => format!("{word} {body} pas cher"),
        ("fr", 2) => format!("{word} {body}, peu importe la marque"),
        ("fr", _) => format!("{word} {body}, le moins cher"),
        (_, 0) => format!("any {body} {word}"),
        (_, 1) => format!("some {body} {word}, brand does not matter"),
        (_, 2) => format!("{body} {word}, cheapest"),
        _ => format!("cheap {word} with {body}"),
    };
    Row { text, kind: Some(kind.to_owned()), class: "open", wants, tags: vec!["vague"], ..blank() }
}

pub(super) fn alternatives(rng: &mut Rng, lang: &str) -> Row {
    let part: &'static Part = rng.pick(parts());
    let peers: Vec<&Part> = parts()
        .iter()
        .filter(|p| p.kind == part.kind && p.id != part.id && p.words[0] != part.words[0])
        .collect();
    if peers.is_empty()
        || matches!(part.kind.as_str(), "adapter" | "input" | "hub" | "sound" | "memory")
    {
        return alternatives(rng, lang);
    }
    let other = *rng.pick(&peers);
    let or = match lang {
        "de" => *rng.pick(&["oder", "bzw."]),
        "fr" => "ou",
        _ => *rng.pick(&["or", "or maybe"]),
    };
    let text = format!("{} {or} {}", part.words.join(" "), other.words.join(" "));
    Row {
        text,
        class: "ask",
        kind: Some(part.kind.clone()),
        fits: vec![part.id.clone(), other.id.clone()],
        tags: vec!["alternatives"],
        ..blank()
    }
}
