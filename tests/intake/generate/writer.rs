//! Writes the text of a list line by line, and beside it what each row means.

use serde_json::{Value, json};

use super::rng::Rng;
use super::row::Row;

pub(super) struct Writer {
    pub(super) out: String,
    pub(super) line: usize,
    pub(super) truth: Vec<Value>,
}

impl Writer {
    pub(super) fn put(&mut self, text: &str, rows: &[(&Row, Option<&str>)]) {
        let end = self.line + text.matches('\n').count();
        for (row, currency) in rows {
            let priced = row.price.as_ref().filter(|_| currency.is_some());
            let states: &[&str] = match row.class {
                "sure" => &["matched"],
                "either" => &["matched", "unsure"],
                "ask" => &["unsure"],
                "near" => &["unknown", "unsure"],
                "unknown" => &["unknown"],
                "open" => &["open"],
                _ => &["ignored"],
            };
            self.truth.push(json!({
                "line": self.line, "line_end": end, "text": row.text, "class": row.class, "states": states, "kind": row.kind,
                "part": row.part, "candidates": row.fits, "count": row.count, "price": [priced],
                "currency": [priced.map(|_| currency.unwrap_or("EUR"))], "owned": row.owned, "wants": row.wants, "tags": row.tags,
            }));
        }
        self.out.push_str(text);
        self.out.push('\n');
        self.line = end + 1;
    }
}

pub(super) fn cased(text: &str, case: usize) -> String {
    match case {
        1 => text.to_uppercase(),
        2 => text.to_lowercase(),
        _ => text.to_owned(),
    }
}

/// A price as written in a country.
pub(super) fn money(price: &str, lang: &str, rng: &mut Rng, marked: bool) -> String {
    let (whole, cents) = price.split_once('.').expect("a price has cents");
    let long = whole.len() > 3;
    let grouped = |mark: &str| {
        if long {
            format!("{}{mark}{}", &whole[..whole.len() - 3], &whole[whole.len() - 3..])
        } else {
            whole.to_owned()
        }
    };
    let number = match lang {
        "de" if cents == "00" && rng.chance(30) => format!("{},-", grouped(".")),
        "de" => format!("{},{cents}", grouped(".")),
        "fr" => format!("{},{cents}", grouped(if rng.chance(50) { " " } else { "\u{a0}" })),
        _ => format!("{}.{cents}", grouped(",")),
    };
    if !marked {
        return number;
    }
    match lang {
        "en" => rng
            .pick(&[
                format!("€{number}"),
                format!("{number} EUR"),
                format!("EUR {number}"),
                format!("{number}€"),
            ])
            .clone(),
        _ => rng
            .pick(&[
                format!("{number} €"),
                format!("{number}€"),
                format!("{number} EUR"),
                format!("{number} Euro"),
            ])
            .clone(),
    }
}
