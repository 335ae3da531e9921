//! The feed of editions, as Atom (RFC 4287): one entry an edition, with what changed.

use std::fmt::Write as _;

use super::changes::changes;
use super::record::{Edition, Editions};
use crate::app::report::escape::inert;
use crate::app::report::hash;

/// Most entries of the feed.
const MOST: usize = 24;

fn xml(text: &str) -> String {
    let mut out = String::new();
    for c in inert(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // No character of XML 1.0.
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

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
pub(super) fn feed(title: &str, editions: &Editions) -> String {
    let all = &editions.editions;
    let first = all.first().map_or_else(String::new, |e| e.on.to_string());
    let newest = all.last().map_or_else(String::new, |e| e.on.to_string());
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = write!(
        out,
        "<feed xmlns=\"http://www.w3.org/2005/Atom\">\n<title>{}</title>\n<id>{}</id>\n\
         <updated>{newest}T00:00:00Z</updated>\n<author><name>{}</name></author>\n\
         <link rel=\"alternate\" type=\"text/html\" href=\"index.html\"/>\n\
         <link rel=\"self\" type=\"application/atom+xml\" href=\"feed.xml\"/>\n",
        xml(title),
        urn(&["feed", title, &first]),
        xml(title)
    );
    for (at, edition) in all.iter().enumerate().rev().take(MOST) {
        let before = at.checked_sub(1).and_then(|at| all.get(at));
        let on = edition.on;
        let _ = write!(
            out,
            "<entry>\n<title>Edition of {on}</title>\n<id>{}</id>\n\
             <updated>{on}T00:00:00Z</updated>\n\
             <link rel=\"alternate\" type=\"text/html\" href=\"{on}.html\"/>\n\
             <content type=\"text\">{}</content>\n</entry>\n",
            urn(&["edition", title, &first, &on.to_string()]),
            xml_lines(&summary(before, edition))
        );
    }
    out.push_str("</feed>\n");
    out
}

/// Lines of text, each made harmless.
fn xml_lines(lines: &[String]) -> String {
    lines.iter().map(|l| xml(l)).collect::<Vec<_>>().join("\n")
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
