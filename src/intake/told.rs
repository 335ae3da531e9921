//! Parts that a sentence asks for: "a PC with a Dotterel 506P, a Kerf P1M and a Weir 1000".

use super::interpret::Interpreter;
use super::items::items;
use super::matching::Found;
use super::rows::RawRow;
use super::strip::is_talk;
use super::words::{plain, words};
use super::{Row, State};
use crate::source::Problem;

impl Interpreter<'_> {
    /// The rows of a sentence that asks for parts of two kinds or more, each named beyond doubt.
    /// None for a row of a list, and for a sentence that compares, refuses or asks back.
    ///
    /// # Errors
    /// A count that no list has.
    pub(super) fn told(&self, raw: &RawRow) -> Result<Option<Vec<Row>>, Problem> {
        let says = |set: &str| !words().find(set, &raw.text).is_empty();
        if raw.listed || !is_talk(&raw.text) {
            return Ok(None);
        }
        let owned = says("owned");
        let asks = says("asking") || !self.marked && !raw.text.trim_end().ends_with('?');
        if says("against") || !(owned || asks) {
            return Ok(None);
        }
        let mut rows = Vec::new();
        let mut kinds = Vec::new();
        for clause in clauses(&raw.text) {
            let stripped = self.strip(raw, clause)?;
            let list = items(self.lexicon, &stripped.text);
            let exact = list
                .iter()
                .any(|i| self.names_family(i) && i.names.iter().any(|(_, sure)| *sure == 1.0));
            let found = if exact { self.find(raw, &list) } else { Found::Nothing };
            // One word of a name among others of a sentence asks for nothing.
            let weak =
                |f: &Found| matches!(f, Found::Unsure(all) if all.iter().all(|c| c.score < 0.6));
            let found = if weak(&found) { Found::Nothing } else { found };
            let Some(kind) = self.kind_found(&found) else { continue };
            if !kinds.contains(&kind) {
                kinds.push(kind);
            }
            let mut row = self.row(raw, clause, stripped, found, &list);
            row.owned |= owned && !says("asking");
            rows.push(row);
        }
        let sure = rows.iter().filter(|r| r.state == State::Matched).count();
        Ok((kinds.len() >= 2 && sure >= 2).then_some(rows))
    }
}

/// The clauses of a sentence: between commas, and at the words that join parts.
fn clauses(text: &str) -> Vec<&str> {
    let mut cuts: Vec<(usize, usize)> = Vec::new();
    for mark in [", ", "; ", ". ", ": ", " + ", " & "] {
        cuts.extend(text.match_indices(mark).map(|(at, m)| (at, at + m.len())));
    }
    for set in ["joining", "beside"] {
        cuts.extend(words().find(set, text).into_iter().map(|r| (r.start, r.end)));
    }
    cuts.sort_unstable();
    let mut out = Vec::new();
    let mut from = 0;
    for (start, end) in cuts.into_iter().chain([(text.len(), text.len())]) {
        if let Some(clause) = text.get(from..start).filter(|c| !c.trim().is_empty()) {
            let bare = clause.trim().trim_end_matches('.');
            out.push(bare);
        }
        from = from.max(end);
    }
    out.retain(|c| !plain(c).is_empty());
    out
}
