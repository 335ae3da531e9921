//! What a rule can raise, its helpers included, and whether it only gives a value.

use std::collections::{HashMap, HashSet};

use crate::level::Level;
use crate::rules::outline::Outline;
use crate::rules::tokens::Kind;

/// The outlines of all rule files and helper files, by the file's stem.
pub(crate) type Outlines<'o, 't> = [(&'o str, &'o Outline<'t>)];

/// A function: its file's place, and its name.
type Called<'t> = (usize, &'t str);

/// What each function raises itself, and which functions it may call.
pub(crate) struct Raises<'t> {
    functions: HashMap<Called<'t>, (Vec<Level>, Vec<Called<'t>>)>,
}

impl<'t> Raises<'t> {
    /// Looks all files through, once.
    pub(crate) fn of(all: &Outlines<'_, 't>) -> Self {
        let named: HashSet<Called<'t>> = (0..)
            .zip(all)
            .flat_map(|(file, (_, outline))| outline.functions.iter().map(move |f| (file, f.name)))
            .collect();
        let mut functions = HashMap::with_capacity(named.len());
        for (file, (_, outline)) in all.iter().enumerate() {
            for function in &outline.functions {
                let (mut raised, mut calls) = (Vec::new(), Vec::new());
                for at in function.tokens.clone().skip(2) {
                    let Some(token) = outline.tokens.get(at) else { continue };
                    // A function may also be called by its name in quotes: `Fn("helper")`.
                    let name = token.quoted().unwrap_or(token.text);
                    let of_lib = outline.is(at, -1, "::").then(|| outline.near(at, -2)).flatten();
                    match (token.kind, of_lib) {
                        (Kind::Name, Some(lib)) => {
                            let lib = all.iter().position(|(stem, _)| *stem == lib.text);
                            calls.extend(lib.map(|lib| (lib, name)));
                        }
                        (Kind::Name | Kind::Text, None) => {
                            raised
                                .extend(Level::by_name(name).filter(|_| token.kind == Kind::Name));
                            calls.push((file, name));
                        }
                        _ => {}
                    }
                }
                calls.retain(|called| named.contains(called));
                // Of two functions of one name and unlike arguments, the first counts.
                functions.entry((file, function.name)).or_insert((raised, calls));
            }
        }
        Self { functions }
    }

    /// Levels of the findings that a function of a file can raise, worst first.
    pub(crate) fn levels(&self, file: usize, function: &str) -> Vec<Level> {
        let mut found: Vec<Level> = Vec::new();
        let mut seen = HashSet::new();
        let mut waiting = vec![(file, function)];
        while let Some(called) = waiting.pop() {
            let Some((raised, calls)) = self.functions.get(&called) else { continue };
            if seen.insert(called) {
                found.extend(raised);
                waiting.extend(calls);
            }
        }
        found.sort_unstable_by(|a, b| b.cmp(a));
        found.dedup();
        found
    }
}

/// Whether a function ends with a value, or returns one.
pub(crate) fn only_gives_a_value(outline: &Outline<'_>, function: &str) -> bool {
    let Some(function) = outline.functions.iter().find(|f| f.name == function) else {
        return false;
    };
    let tokens = outline.tokens.get(function.tokens.clone()).unwrap_or(&[]);
    let last = tokens.iter().rev().find(|t| !t.is("}"));
    let ends = last.is_some_and(|t| !t.is(";") && !t.is("{"));
    let returns = tokens
        .iter()
        .zip(tokens.iter().skip(1))
        .any(|(a, b)| a.word("return") && !b.is(";") && !b.is("}"));
    ends || returns
}

#[cfg(test)]
#[path = "../../tests/unit/rules/raises.rs"]
mod tests;
