//! What people decided before: a row's words, and the part that was meant. Kept in the shop's
//! `catalogue/aliases.toml`.

use std::collections::BTreeMap;

use super::tokens::folded;
use crate::catalogue::Catalogue;
use crate::source::{Problem, Source};
use crate::words::clip;

/// Most aliases that are kept.
const MAX_ALIASES: usize = 20_000;

/// Words of customers and the parts they mean.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Aliases {
    words: BTreeMap<String, String>,
}

impl Aliases {
    /// Reads an aliases file: `"their words" = "kind/part"` under `[alias]`.
    ///
    /// # Errors
    /// It is no TOML, or holds anything else.
    pub fn parse(source: &Source) -> Result<Self, Problem> {
        let table: toml::Table = source.text.parse().map_err(|e: toml::de::Error| {
            Problem::new(format!("{} is not valid TOML: {}", source.name, e.message()))
        })?;
        let mut words = BTreeMap::new();
        for (key, value) in table.get("alias").and_then(toml::Value::as_table).into_iter().flatten()
        {
            let part = value.as_str().ok_or_else(|| {
                Problem::new(format!(
                    "{}: the part of \"{}\" must be a text",
                    source.name,
                    clip(key, 60)
                ))
                .help("write \"their words\" = \"kind/part\"")
            })?;
            words.insert(key_of(key), part.to_owned());
        }
        Ok(Self { words })
    }

    /// The part that these words mean.
    #[must_use]
    pub fn get(&self, text: &str) -> Option<&str> {
        self.words.get(&key_of(text)).map(String::as_str)
    }

    /// Remembers a decision.
    pub fn add(&mut self, text: &str, part: &str) {
        if self.words.len() < MAX_ALIASES {
            self.words.insert(key_of(text), part.to_owned());
        }
    }

    /// The words and their parts, in order.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.words.iter().map(|(w, p)| (w.as_str(), p.as_str()))
    }

    /// Words whose part is no longer in the catalogue.
    pub fn stale<'a>(
        &'a self,
        catalogue: &'a Catalogue,
    ) -> impl Iterator<Item = (&'a str, &'a str)> {
        self.iter().filter(|(_, part)| catalogue.part(part).is_none())
    }

    /// The file's text.
    #[must_use]
    pub fn written(&self) -> String {
        let mut table = toml_edit::Table::new();
        for (words, part) in self.iter() {
            table.insert(words, toml_edit::value(part));
        }
        let mut document = toml_edit::DocumentMut::new();
        document.insert("alias", toml_edit::Item::Table(table));
        format!(
            "# What customers wrote, and the part of ours that they meant. `dryfit intake` adds to \
             it.\n{document}"
        )
    }
}

/// Words for comparing: case, accents, blanks and marks at the ends do not count.
fn key_of(text: &str) -> String {
    let words: Vec<String> = text.split_whitespace().map(folded).collect();
    words.join(" ").trim_matches([',', ';', '-', '.', ':']).trim().to_owned()
}
