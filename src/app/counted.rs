//! Numbers with their nouns, and words at the head of a sentence.

/// A number with its noun: `1 caution`, `2 cautions`; `advice` has no plural.
pub(crate) fn count(n: usize, noun: &str) -> String {
    // The word that counts comes first: `2 facts to look up`.
    let (head, rest) = noun.split_at(noun.find(" to ").unwrap_or(noun.len()));
    let plural = if n == 1 || noun == "advice" { "" } else { "s" };
    format!("{n} {head}{plural}{rest}")
}

/// Words that begin a sentence or stand as a heading.
pub(crate) fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}
