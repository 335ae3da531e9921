//! What a row says more than the part has that it names: "Tarn 650, the gold one" is not surely the
//! plain Tarn 650.

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::{NamePart, PartWords};
use super::matching::{Candidate, Found};
use super::words::words;

impl Interpreter<'_> {
    /// Puts a part in doubt where the row's text says, in a clause of its own, all that the name of
    /// another part of the same maker and kind has more.
    pub(super) fn unless_more_is_said(&self, text: &str, found: Found) -> Found {
        let Found::Sure(one) = &found else { return found };
        let Some(own) = self.lexicon.parts.get(one.part) else { return found };
        let clauses = text.split([',', ';', '(', ')', '|', '/', '–', '—']).skip(1);
        let said: Vec<Item> = clauses
            .filter(|clause| tells_which(clause))
            .flat_map(str::split_whitespace)
            .flat_map(|word| items(self.lexicon, word))
            .filter(|item| !item.negated)
            .collect();
        if said.is_empty() {
            return found;
        }
        let more = |(_, other): &(usize, &PartWords)| {
            let extra: Vec<&NamePart> = other.name.iter().filter(|w| !holds(own, w)).collect();
            other.kind == own.kind
                && other.maker == own.maker
                && own.name.iter().all(|word| holds(other, word))
                && !extra.is_empty()
                && extra.iter().all(|word| said.iter().any(|item| says(item, word)))
        };
        let better: Vec<usize> =
            self.lexicon.parts.iter().enumerate().filter(more).map(|(at, _)| at).collect();
        if better.is_empty() {
            return found;
        }
        let better = better.into_iter().map(|part| Candidate { part, score: one.score });
        Found::Unsure(better.chain([one.clone()]).collect())
    }
}

/// Whether a clause behind the part says which one is meant: it does not refuse another, and names
/// no amount.
fn tells_which(clause: &str) -> bool {
    let says = |set: &str| words().says(set, clause);
    let refused = ["against", "faults", "without"].into_iter().any(says);
    !refused && super::price::amounts(clause, false).is_empty()
}

fn holds(part: &PartWords, word: &NamePart) -> bool {
    part.name.iter().any(|own| own.word == word.word)
}

fn says(item: &Item, word: &NamePart) -> bool {
    item.names.iter().any(|(id, sure)| *id == word.word && *sure == 1.0)
}
