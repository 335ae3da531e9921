//! Numbers with their nouns.

/// A number with its noun: `1 caution`, `2 cautions`; `advice` has no plural.
pub(crate) fn count(n: usize, noun: &str) -> String {
    // The word that counts comes first: `2 facts to look up`.
    let (head, rest) = noun.split_at(noun.find(" to ").unwrap_or(noun.len()));
    let plural = if n == 1 || noun == "advice" { "" } else { "s" };
    format!("{n} {head}{plural}{rest}")
}
