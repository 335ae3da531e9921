//! Numbers with their nouns.

/// A number with its noun: `1 caution`, `2 cautions`; `advice` has no plural.
pub(crate) fn count(n: usize, noun: &str) -> String {
    let plural = if n == 1 || noun == "advice" { "" } else { "s" };
    format!("{n} {noun}{plural}")
}
