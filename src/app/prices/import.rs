//! What an import of a seller's feed did, in words.

use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::prices::import::Done;

/// The result of an import, in words.
pub fn words(look: Look, feed: &str, done: &Done) -> String {
    let mut out = look.paragraph(&format!("{feed}: {}", count(done.rows as usize, "row")));
    let tally = [
        (done.added, "new"),
        (done.known, "known already"),
        (done.twice, "written twice in the feed"),
        (done.unmatched, "of parts not in the catalogue"),
    ];
    for (n, what) in tally.iter().filter(|(n, _)| *n > 0) {
        out.push_str(&look.paragraph(&format!("{n} {what}")));
    }
    for (line, code, near) in &done.examples {
        let near = near.as_ref().map_or_else(String::new, |n| format!(", near {n}"));
        out.push_str(&look.paragraph(&format!("  line {line}: {code}{near}")));
    }
    if done.unmatched > done.examples.len() as u64 {
        out.push_str(
            &look.paragraph(&format!("  and {} more", done.unmatched - done.examples.len() as u64)),
        );
    }
    if done.unended {
        out.push_str(&look.paragraph(
            "The last row does not end its line: if the feed was cut \
         short there, its last figure is wrong.",
        ));
    }
    out.push_str(&look.paragraph(&match &done.written {
        Some(path) => format!("Written to {path}."),
        None if done.added == 0 => "Nothing to write.".to_owned(),
        None => "A dry run: nothing is written; `--write` writes.".to_owned(),
    }));
    out
}
