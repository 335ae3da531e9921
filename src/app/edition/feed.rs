//! The feed of editions, as Atom (RFC 4287): one entry an edition, with what changed.

use serde_json::json;

use super::changes::changes;
use super::record::{Edition, Editions};
use crate::app::report::hash;
use crate::app::report::texts::{filled, in_xml};
use crate::source::Problem;

/// Most entries of the feed.
const MOST: usize = 24;

/// A name that stays the same for the same words: a UUID of the form that RFC 9562 leaves to its
/// maker (version 8).
fn urn(words: &[&str]) -> String {
    let number = |text: String| {
        text.bytes().fold(0_u64, |n, b| n << 4 | u64::from(b.wrapping_sub(b'a') & 15))
    };
    let first = number(hash(words.iter().copied()));
    let second = number(hash(words.iter().copied().chain(["again"])));
    format!(
        "urn:uuid:{:08x}-{:04x}-8{:03x}-{:04x}-{:012x}",
        first >> 32,
        first >> 16 & 0xffff,
        first & 0xfff,
        second >> 48 & 0x3fff | 0x8000,
        second & 0xffff_ffff_ffff
    )
}

/// The feed of all editions, the newest first.
pub(super) fn feed(title: &str, editions: &Editions) -> Result<String, Problem> {
    let all = &editions.editions;
    let first = all.first().map_or_else(String::new, |e| e.on.to_string());
    let newest = all.iter().enumerate().rev().take(MOST).map(|(at, edition)| {
        let before = at.checked_sub(1).and_then(|at| all.get(at));
        let on = edition.on.to_string();
        json!({ "on": on, "id": urn(&["edition", title, &first, &on]),
        "lines": summary(before, edition) })
    });
    let about = json!({
        "title": title,
        "id": urn(&["feed", title, &first]),
        "newest": all.last().map(|e| e.on.to_string()),
        "editions": newest.collect::<Vec<_>>(),
    });
    filled("feed.txt", in_xml, &about).map_err(Problem::new)
}

/// An edition in lines of text.
fn summary(before: Option<&Edition>, edition: &Edition) -> Vec<String> {
    let mut lines = Vec::new();
    for entry in &edition.builds {
        lines.push(format!("{}: {}, {}", entry.title, entry.verdict, entry.price()));
        let was = before.and_then(|b| b.builds.iter().find(|e| e.name == entry.name));
        for change in was.map(|was| changes(was, entry)).unwrap_or_default() {
            let sign = if change.effect > 0 { "+" } else { "" };
            let effect = entry.money(change.effect);
            lines.push(format!("  {}: {} ({sign}{effect})", change.what, change.why));
        }
    }
    lines
}

#[cfg(test)]
#[path = "../../../tests/unit/app/edition/feed.rs"]
mod tests;
