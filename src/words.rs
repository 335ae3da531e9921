//! Words and names in sentences: the nearest word, a text cut to length, the first of a list.

/// Longest name that is compared with others, in bytes: it takes the product of both lengths.
const MAX_NAME: usize = 200;

/// The candidate that a misspelt word most likely meant, if any is near.
pub(crate) fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    if word.len() > MAX_NAME {
        return None;
    }
    let limit = (word.chars().count() / 3).max(1) + 1;
    let word_low = word.to_lowercase();
    let candidates: Vec<&str> =
        candidates.into_iter().filter(|c| !c.is_empty() && c.len() <= MAX_NAME).collect();
    // `margin` for `margin_percent`: a name without its unit.
    let begins = |c: &str| {
        let rest = c.strip_prefix(&*word_low);
        word_low.len() > 2 && rest.is_some_and(|rest| rest.starts_with('_'))
    };
    let whole = candidates.iter().copied().filter(|c| begins(c)).min_by_key(|c| c.len());
    let near = candidates
        .into_iter()
        .map(|c| (strsim::osa_distance(&word_low, &c.to_lowercase()), c))
        .filter(|(distance, c)| *distance <= limit && *distance < c.chars().count())
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.cmp(b.1)))
        .map(|(_, c)| c);
    near.or(whole)
}

/// Whether a character acts on a terminal or on the order of its neighbours instead of being seen.
#[cfg(feature = "app")]
pub fn acts(c: char) -> bool {
    matches!(
        c,
        '\0'..='\u{1f}'
            | '\u{7f}'..='\u{9f}'
            | '\u{ad}'
            | '\u{61c}'
            | '\u{180e}'
            | '\u{200b}'
            | '\u{200e}'
            | '\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e007f}'
    )
}

/// A text cut to a number of characters, with an ellipsis when cut.
pub(crate) fn clip(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most).chain(std::iter::once('…')).collect()
}

/// Whether a word is one of several, written with a blank between two.
pub(crate) fn is_one_of(words: &str, word: &str) -> bool {
    // Lists are long and few words stand in them.
    words.match_indices(word).any(|(at, _)| {
        let (before, behind) = (&words[..at], &words[at + word.len()..]);
        let ends = |c: Option<char>| c.is_none_or(|c| c == ' ');
        ends(before.chars().next_back()) && ends(behind.chars().next())
    })
}

/// The first few of a list of names, in one line.
pub(crate) fn some_of<'a>(names: impl IntoIterator<Item = &'a str>, most: usize) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    let shown = names.iter().take(most).copied().collect::<Vec<_>>().join(", ");
    if names.len() > most { format!("{shown} and {} more", names.len() - most) } else { shown }
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn and(all: &[String]) -> String {
    match all {
        [most @ .., last] if !most.is_empty() => format!("{} and {last}", most.join(", ")),
        _ => all.concat(),
    }
}

/// A number as people write it in TOML: whole where it is.
pub(crate) fn toml_number(n: f64) -> toml_edit::Value {
    if n.fract() == 0.0 && n.abs() < 1e15 { (n as i64).into() } else { n.into() }
}

/// A name as part of an id: lower-case letters and digits, all else one dash.
pub(crate) fn slug(name: &str) -> String {
    let lower = name.to_lowercase();
    let words = lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty());
    let slug: String = words.collect::<Vec<_>>().join("-").chars().take(60).collect();
    if slug.is_empty() { "part".to_owned() } else { slug.trim_end_matches('-').to_owned() }
}

#[cfg(test)]
#[path = "../tests/unit/words.rs"]
mod tests;
