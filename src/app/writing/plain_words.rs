//! Words that messages do not use, and what to write instead.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

/// The list, a word or phrase with what to write instead.
#[derive(Debug, Default, Deserialize)]
struct PlainWords {
    words: BTreeMap<String, String>,
    phrases: BTreeMap<String, String>,
    trade: BTreeMap<String, String>,
}

static LIST: OnceLock<PlainWords> = OnceLock::new();

/// The words and phrases of the list that a text uses, each with what to write instead; `prose`
/// where single words count too.
pub fn found(text: &str, prose: bool) -> Vec<(String, String)> {
    // A list that cannot be read would let everything pass: a test finds it out.
    let list =
        LIST.get_or_init(|| toml::from_str(include_str!("plain_words.toml")).unwrap_or_default());
    let text = bare(list, text);
    let pair = |(word, instead): (&String, &String)| (word.clone(), instead.clone());
    let phrases = list.phrases.iter().filter(|(phrase, _)| text.contains(phrase.as_str()));
    let mut found: Vec<_> = phrases.map(pair).collect();
    if prose {
        let words = text.split(|c: char| !(c.is_alphanumeric() || c == '-'));
        found.extend(words.filter_map(|word| list.words.get_key_value(word)).map(pair));
    }
    found
}

/// A text without ids, names in braces and quoted code.
fn bare(list: &PlainWords, text: &str) -> String {
    let mut out = String::new();
    let mut hidden = None;
    for c in text.chars() {
        match (hidden, c) {
            (None, '{') => hidden = Some('}'),
            (None, '`') => hidden = Some('`'),
            (Some(end), c) if c == end => hidden = None,
            (None, c) => out.push(c),
            _ => {}
        }
    }
    let mut text = out.to_lowercase();
    for phrase in list.trade.keys() {
        text = text.replace(phrase, "");
    }
    let id = |word: &str| {
        word.contains('_')
            || word.contains('/')
            || word.trim_end_matches('.').contains('.')
            || word.starts_with("--")
    };
    text.split_whitespace()
        .scan("", |before, word| {
            // `table header`, `build box`: a name follows.
            let named = *before == "table";
            *before = word;
            Some(if named || id(word) { "" } else { word })
        })
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
#[path = "../../../tests/unit/app/writing/plain_words.rs"]
mod tests;
