//! Makes lists as customers write them, and says what each row means. It reads the catalogue's
//! files by itself and shares no code and no word list with the reader of lists.

mod facts;
mod not_matched;
mod parts;
pub(super) mod rng;
mod row;
mod said;
mod spelling;
mod tables;
mod typed;
mod words;
mod writer;

use rng::Rng;
use serde_json::{Value, json};
use tables::{bars, delimited, html};
use typed::typed;
use writer::Writer;

/// A list and its truth.
pub(super) struct List {
    pub name: String,
    pub bytes: Vec<u8>,
    pub truth: Value,
}

/// One list, from its number.
pub(super) fn list(seed: u64) -> List {
    let mut rng = Rng(seed.wrapping_mul(7919) + 17);
    let lang = ["en", "en", "de", "fr"][rng.below(4)];
    let case = [0, 0, 0, 1, 2][rng.below(5)];
    let form = rng.below(6);
    let mut w = Writer { out: String::new(), line: 1, truth: Vec::new() };
    let ending = match form {
        0 | 1 => {
            typed(&mut w, &mut rng, lang, case, form);
            "txt"
        }
        2 => {
            bars(&mut w, &mut rng, lang, case);
            "md"
        }
        3 => {
            html(&mut w, &mut rng, lang, case);
            "html"
        }
        _ => {
            delimited(&mut w, &mut rng, lang, case);
            "csv"
        }
    };
    let mut text = w.out;
    if rng.chance(20) {
        text = text.replace('\n', "\r\n");
    }
    let bytes = match rng.below(12) {
        0 => {
            [0xff, 0xfe].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect()
        }
        1 if text.chars().all(|c| (c as u32) < 256) => text.chars().map(|c| c as u8).collect(),
        2 => [0xef, 0xbb, 0xbf].into_iter().chain(text.bytes()).collect(),
        _ => text.into_bytes(),
    };
    List { name: format!("list-{seed}.{ending}"), bytes, truth: json!({ "rows": w.truth }) }
}
