//! What a rule reaches, its helpers included: levels that it raises, names that it reads; and
//! whether it only gives a value.

use std::collections::{BTreeSet, HashMap, HashSet};

use crate::level::Level;
use crate::rules::outline::Outline;
use crate::rules::tokens::Kind;

/// The outlines of all rule files and helper files, by the file's stem.
pub(crate) type Outlines<'o, 't> = [(&'o str, &'o Outline<'t>)];

/// A function: its file's place, and its name.
type Called<'t> = (usize, &'t str);

/// What stands in one function.
#[derive(Default)]
struct Body<'t> {
    raised: Vec<Level>,
    /// Names after a point, and texts in quotes that follow the bracket of a call after a point.
    read: Vec<&'t str>,
    /// Those, and all other texts in quotes.
    named: Vec<&'t str>,
    /// Functions that it may call.
    calls: Vec<Called<'t>>,
}

/// What stands in each function.
pub(crate) struct Bodies<'t> {
    functions: HashMap<Called<'t>, Body<'t>>,
}

/// What a function reaches.
#[derive(Default)]
pub(crate) struct Reach {
    /// Levels of the findings that it can raise, worst first.
    pub(crate) levels: Vec<Level>,
    /// The fields that it reads, among other words: `cooler.height_mm`, `build.sum("draw_w")`.
    pub(crate) read: BTreeSet<String>,
    /// The kinds that it names, among other words: `"sata"` in quotes may be no field.
    pub(crate) named: BTreeSet<String>,
}

impl<'t> Bodies<'t> {
    /// Looks all files through, once.
    pub(crate) fn of(all: &Outlines<'_, 't>) -> Self {
        let known: HashSet<Called<'t>> = (0..)
            .zip(all)
            .flat_map(|(file, (_, outline))| outline.functions.iter().map(move |f| (file, f.name)))
            .collect();
        let mut functions = HashMap::with_capacity(known.len());
        for (file, (_, outline)) in all.iter().enumerate() {
            for function in &outline.functions {
                let mut body = Body::default();
                for at in function.tokens.clone().skip(2) {
                    let Some(token) = outline.tokens.get(at) else { continue };
                    // A function may also be called by its name in quotes: `Fn("helper")`.
                    let name = token.quoted().unwrap_or(token.text);
                    let of_lib = outline.is(at, -1, "::").then(|| outline.near(at, -2)).flatten();
                    let asked = outline.is(at, -1, "(") && outline.is(at, -3, ".");
                    if outline.is(at, -1, ".") || token.kind == Kind::Text && asked {
                        body.read.push(name);
                        body.named.push(name);
                    } else if token.kind == Kind::Text {
                        body.named.push(name);
                    }
                    // No field or key is a function of its name: `#{ socket: seat.socket }`.
                    let field = outline.is(at, -1, ".") || outline.is(at, -1, "?.");
                    let field = field && !outline.is(at, 1, "(") || outline.is(at, 1, ":");
                    match (token.kind, of_lib) {
                        _ if field => {}
                        (Kind::Name, Some(lib)) => {
                            let lib = all.iter().position(|(stem, _)| *stem == lib.text);
                            body.calls.extend(lib.map(|lib| (lib, name)));
                        }
                        (Kind::Name | Kind::Text, None) => {
                            let level = Level::by_name(name).filter(|_| token.kind == Kind::Name);
                            body.raised.extend(level);
                            body.calls.push((file, name));
                        }
                        _ => {}
                    }
                }
                body.calls.retain(|called| known.contains(called));
                // Of two functions of one name and unlike arguments, the first counts.
                functions.entry((file, function.name)).or_insert(body);
            }
        }
        Self { functions }
    }

    /// What a function of a file reaches.
    pub(crate) fn reach(&self, file: usize, function: &str) -> Reach {
        let mut reach = Reach::default();
        let mut seen = HashSet::new();
        let mut waiting = vec![(file, function)];
        while let Some(called) = waiting.pop() {
            let Some(body) = self.functions.get(&called) else { continue };
            if seen.insert(called) {
                reach.levels.extend(&body.raised);
                reach.read.extend(body.read.iter().map(|n| (*n).to_owned()));
                reach.named.extend(body.named.iter().map(|n| (*n).to_owned()));
                waiting.extend(&body.calls);
            }
        }
        reach.levels.sort_unstable_by(|a, b| b.cmp(a));
        reach.levels.dedup();
        reach
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
#[path = "../../tests/unit/rules/reach.rs"]
mod tests;
