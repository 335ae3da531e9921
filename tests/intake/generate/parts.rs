//! The parts as the catalogue's own files have them.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use toml::Table;

/// A part as the catalogue's file has it.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub(super) id: String,
    pub(super) kind: String,
    pub(super) maker: String,
    /// The words of its name, a unit joined to its number.
    pub(super) words: Vec<String>,
    pub(super) table: Table,
}

pub(super) fn parts() -> &'static [Part] {
    static PARTS: OnceLock<Vec<Part>> = OnceLock::new();
    PARTS.get_or_init(|| {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/catalogue/parts");
        let mut files: Vec<_> =
            std::fs::read_dir(folder).expect("parts").map(|f| f.expect("a file").path()).collect();
        files.sort();
        let mut out = Vec::new();
        for file in files {
            let table: Table =
                std::fs::read_to_string(&file).expect("a text").parse().expect("TOML");
            let kind = table["kind"].as_str().expect("a kind").to_owned();
            for (id, part) in table.iter().filter_map(|(id, p)| Some((id, p.as_table()?))) {
                let text =
                    |key: &str| part.get(key).and_then(|v| v.as_str()).unwrap_or("").to_owned();
                out.push(Part {
                    id: format!("{kind}/{id}"),
                    kind: kind.clone(),
                    maker: text("maker"),
                    words: words_of(&text("name")),
                    table: part.clone(),
                });
            }
        }
        out
    })
}

fn words_of(name: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for word in name.replace(',', "").split_whitespace() {
        let unit = ["GB", "TB", "g", "m", "V"].contains(&word);
        match out
            .last_mut()
            .filter(|w| unit && w.chars().last().is_some_and(|c| c.is_ascii_digit()))
        {
            Some(number) => *number = format!("{number} {word}"),
            None => out.push(word.to_owned()),
        }
    }
    out
}

pub(super) fn is_number(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit())
}

pub(super) fn set(words: &[String], maker: &str) -> BTreeSet<String> {
    words
        .iter()
        .filter(|w| !maker.split(' ').any(|m| m == w.as_str()))
        .map(|w| w.to_lowercase())
        .collect()
}

pub(super) fn num(part: &Part, key: &str) -> Option<f64> {
    let value = part.table.get(key)?;
    value.as_float().or(value.as_integer().map(|n| n as f64))
}

pub(super) fn text_of<'a>(part: &'a Part, key: &str) -> &'a str {
    part.table.get(key).and_then(|v| v.as_str()).unwrap_or("")
}
