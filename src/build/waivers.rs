//! Findings signed off: how a waiver is written, what it covers, and what is odd about one.

use std::sync::Arc;

use super::Waiver;
use crate::catalogue::declared::{Declared, Reading, Row, Takes, key, needed};
use crate::catalogue::field_reader::sound;
use crate::source::{Problems, Source};

/// A finding signed off.
pub(crate) const WAIVER: Declared = Declared {
    of: "a waiver",
    keys: &[
        needed("rule", Takes::Text, "the rule's id"),
        needed(
            "subject",
            Takes::Text,
            "the part or kind of line it is about, such as \"supply/tarn-650\" or \"memory\"; \
             \"build\" for the list as a whole",
        ),
        needed("reason", Takes::Text, "why it may stay"),
        needed("by", Takes::Text, "initials of who signed it off"),
        needed("until", Takes::Day, "the last day on which it counts"),
    ],
};
/// A file of them.
pub(crate) const WAIVERS: Declared = Declared {
    of: "a file of waivers",
    keys: &[key(WAIVE, Takes::Tables(&WAIVER), "the findings signed off, each under `[[waive]]`")],
};
const WAIVE: &str = "waive";
/// The subject of a finding that is about the list as a whole.
pub const WHOLE_BUILD: &str = "build";

/// Reads a shop's `waivers.toml`.
pub(crate) fn read_file(source: &Arc<Source>, problems: &mut Problems) -> Vec<Waiver> {
    let Some(parsed) = sound(source, problems) else { return Vec::new() };
    let mut reading = Reading { source, catalogue: None, problems };
    let whole = parsed.span().into();
    read_all(&WAIVERS.check(parsed.get_ref(), whole, &mut reading), &mut reading)
}

/// Reads the waivers of a build or of a file of them.
pub(crate) fn read_all(row: &Row<'_, '_>, reading: &mut Reading<'_>) -> Vec<Waiver> {
    let mut read = |item| {
        let row = WAIVER.row(item, reading)?;
        let text = |key: &str| row.text(key).filter(|t| !t.is_empty()).map(str::to_owned);
        Some(Waiver {
            rule: text("rule")?,
            subject: Some(text("subject")?),
            reason: text("reason")?,
            by: text("by")?,
            until: row.day("until")?,
            span: row.whole,
            source: reading.source.clone(),
        })
    };
    row.items(WAIVE).iter().filter_map(&mut read).collect()
}

impl Waiver {
    /// Whether it is about one of these parts, or about the list as a whole.
    pub fn is_about(&self, subjects: &[String]) -> bool {
        match self.subject.as_deref() {
            None | Some(WHOLE_BUILD) => true,
            Some(subject) => {
                subjects.iter().any(|id| id == subject || id.split('/').next() == Some(subject))
            }
        }
    }
}
