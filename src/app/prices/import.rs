//! What an import of a seller's feed did, in words.

use serde_json::json;

use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::prices::import::Done;

/// The result of an import, in words.
pub fn words(look: Look, feed: &str, done: &Done) -> String {
    let about = json!({ "feed": feed, "rows": done.rows, "added": done.added, "known": done.known,
    "twice": done.twice, "unmatched": done.unmatched, "examples": done.examples,
    "unended": done.unended, "written": done.written });
    Page::new(look).filled("import.txt", "", about)
}
