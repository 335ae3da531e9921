//! What people write around parts, by what it means: read once from `words.toml`.

use std::sync::OnceLock;

use ahash::{HashMap, HashSet};
use toml::Table;

use super::tokens::folded;

/// Longest phrase, in words.
pub(crate) const MAX_PHRASE: usize = 5;

/// The words around parts.
#[derive(Debug, Default)]
pub(crate) struct Words {
    sets: HashMap<String, HashSet<String>>,
    /// By set, the words that its phrases begin with.
    firsts: HashMap<String, HashSet<String>>,
    columns: HashMap<String, Vec<&'static str>>,
    numbers: HashMap<String, u32>,
    currencies: HashMap<String, String>,
    entities: HashMap<String, String>,
    units: HashMap<String, Vec<(String, f64)>>,
    same: Vec<(String, Vec<String>)>,
}

/// What a column of a table may hold.
const COLUMNS: &[&str] = &[
    "old", "part", "kind", "maker", "count", "price", "sum", "currency", "owned", "note", "aside",
];

/// The words, read on first use.
pub(crate) fn words() -> &'static Words {
    static WORDS: OnceLock<Words> = OnceLock::new();
    WORDS.get_or_init(|| {
        // A test reads the file, so that a mistake in it cannot ship.
        include_str!("words.toml").parse::<Table>().map(|t| read(&t)).unwrap_or_default()
    })
}

fn texts(value: Option<&toml::Value>) -> impl Iterator<Item = &str> {
    value.and_then(toml::Value::as_array).into_iter().flatten().filter_map(toml::Value::as_str)
}

fn read(table: &Table) -> Words {
    let mut words = Words::default();
    // Every list outside of a group is a set.
    for (set, value) in table.iter().filter(|(_, value)| value.is_array()) {
        words.sets.insert(set.clone(), texts(Some(value)).map(plain).collect());
    }
    // What gives the least of something leaves the rest open.
    let least = ["or_better", "at_least"].into_iter().filter_map(|set| words.sets.get(set));
    let least: Vec<String> = least.flatten().cloned().collect();
    words.sets.entry("vague".to_owned()).or_default().extend(least);
    let group = |name: &str| table.get(name).and_then(toml::Value::as_table);
    for (set, rows) in group("phrases").into_iter().flatten() {
        for row in rows.as_array().into_iter().flatten() {
            let lists = row.as_array().into_iter().flatten().map(|list| texts(Some(list)));
            let join = |all: Vec<String>, list: Vec<&str>| -> Vec<String> {
                all.iter().flat_map(|a| list.iter().map(move |b| format!("{a} {b}"))).collect()
            };
            let all = lists.fold(vec![String::new()], |all, list| join(all, list.collect()));
            let held = words.sets.entry(set.clone()).or_default();
            held.extend(all.iter().map(|phrase| plain(phrase)));
        }
    }
    words.spell_without_marks();
    for column in COLUMNS {
        for head in texts(group("columns").and_then(|g| g.get(*column))) {
            words.columns.entry(plain(head)).or_default().push(column);
        }
    }
    // Without their marks, where that is no other head: "pièces" is no "pieces".
    let mut written: Vec<_> = words.columns.clone().into_iter().collect();
    written.sort();
    for (head, columns) in written {
        for bare in [umlauts_spelled(&head), folded(&head)] {
            words.columns.entry(bare).or_insert_with(|| columns.clone());
        }
    }
    for (number, spelled) in group("numbers").into_iter().flatten() {
        for word in texts(Some(spelled)) {
            words.numbers.insert(plain(word), number.parse().unwrap_or(1));
        }
    }
    for (name, spelled) in group("entities").into_iter().flatten() {
        words.entities.insert(name.clone(), spelled.as_str().unwrap_or("").to_owned());
    }
    for (code, spelled) in group("currencies").into_iter().flatten() {
        for word in texts(Some(spelled)) {
            words.currencies.insert(word.to_owned(), code.clone());
        }
    }
    for (unit, spelled) in group("units").into_iter().flatten() {
        for (word, factor) in spelled.as_table().into_iter().flatten() {
            let factor = factor.as_float().or(factor.as_integer().map(|n| n as f64));
            let reading = (unit.clone(), factor.unwrap_or(1.0));
            words.units.entry(word.clone()).or_default().push(reading);
        }
    }
    for (word, spelled) in group("name_words").into_iter().flatten() {
        words.same.push((word.clone(), texts(Some(spelled)).map(str::to_owned).collect()));
    }
    words
}

/// The word that a phrase begins with; none where it begins with a mark, as no word of a text does.
fn first_word(phrase: &str) -> Option<String> {
    let first = word_ranges(phrase).into_iter().next()?;
    phrase.get(first).map(str::to_owned)
}

/// `entfällt` as `entfaellt`.
pub(crate) fn umlauts_spelled(word: &str) -> String {
    let pairs = [("ä", "ae"), ("ö", "oe"), ("ü", "ue"), ("ß", "ss")];
    pairs.iter().fold(word.to_owned(), |word, (mark, spelled)| word.replace(mark, spelled))
}

/// A phrase for comparing: lower case, one blank between words, no marks around it.
pub(crate) fn plain(text: &str) -> String {
    let lower = text.to_lowercase().replace(['’', '`'], "'").replace('\u{ad}', "");
    lower.split_whitespace().collect::<Vec<_>>().join(" ")
}

impl Words {
    /// Adds each phrase without its marks, where that is no other word: "schön" is no "schon".
    fn spell_without_marks(&mut self) {
        let known: HashSet<String> = self.sets.values().flatten().cloned().collect();
        for (set, phrases) in &mut self.sets {
            let bare = |word: &String| Some(folded(word)).filter(|bare| !known.contains(bare));
            let spelled = |word: &String| [Some(umlauts_spelled(word)), bare(word)];
            let more: Vec<String> = phrases.iter().flat_map(spelled).flatten().collect();
            phrases.extend(more);
            let firsts = phrases.iter().filter_map(|p| first_word(p)).collect();
            self.firsts.insert(set.clone(), firsts);
        }
    }

    /// The character that a page writes by a name.
    pub(crate) fn entity(&self, name: &str) -> Option<char> {
        self.entities.get(name)?.chars().next()
    }

    /// Whether a set holds a phrase.
    pub(crate) fn has(&self, set: &str, phrase: &str) -> bool {
        self.sets.get(set).is_some_and(|s| s.contains(phrase))
    }

    /// What a column is, by its head alone.
    pub(crate) fn column(&self, head: &str) -> Option<&'static str> {
        self.columns_of(head).first().copied()
    }

    /// What a column may be by its head, the likeliest first: an "amount" is a count or a sum.
    pub(crate) fn columns_of(&self, head: &str) -> &[&'static str] {
        let head = plain(head);
        let bare = head.split(['(', '[', '/']).next().unwrap_or("").trim();
        let bare = bare.trim_end_matches([':', '*']).trim();
        // "Unit price excl. VAT"
        let untaxed = self.without(&["tax"], bare, "");
        let found = self.columns.get(&head).or_else(|| self.columns.get(bare));
        let found = found.or_else(|| self.columns.get(untaxed.trim()));
        // "Source / remarks", but the "pc." of "Weight/pc." only says of how many.
        let one = |of: &&str| self.has("each", of.trim_end_matches('.'));
        let mut said = head.split('/').map(str::trim).filter(|of| !one(of));
        let found = found.or_else(|| said.find_map(|of| self.columns.get(of)));
        let found = found.or_else(|| {
            // "Preis EUR", "€ each".
            let words = untaxed.split(' ').filter(|w| !w.is_empty());
            let kept: Vec<&str> = words.filter(|w| self.currency(w).is_none()).collect();
            let of = |word: &str| self.columns.get(word);
            // "Chosen part": the noun stands last, seldom first.
            let noun = || kept.last().and_then(|w| of(w)).or_else(|| of(kept.first()?));
            of(&kept.join(" ")).or_else(|| noun().filter(|_| (2..=3).contains(&kept.len())))
        });
        found.map_or(&[], Vec::as_slice)
    }

    /// How long the longest phrase of a set is that begins a lower-case text.
    pub(crate) fn begins(&self, set: &str, low: &str) -> Option<usize> {
        let phrases = self.sets.get(set)?.iter();
        phrases.filter(|p| low.starts_with(p.as_str())).map(String::len).max()
    }

    /// A number written as a word.
    pub(crate) fn number(&self, word: &str) -> Option<u32> {
        self.numbers.get(word).copied()
    }

    /// Words that names have, each with what else people write for it.
    pub(crate) fn same(&self) -> &[(String, Vec<String>)] {
        &self.same
    }

    /// The currency that a mark or word stands for.
    pub(crate) fn currency(&self, word: &str) -> Option<&str> {
        self.currencies.get(&word.to_lowercase()).map(String::as_str)
    }

    /// The units that a spelling may stand for, each with what one of it is there.
    pub(crate) fn units(&self, word: &str) -> &[(String, f64)] {
        self.units.get(word).map_or(&[], Vec::as_slice)
    }

    /// Whether a text holds a phrase of a set.
    pub(crate) fn says(&self, set: &str, text: &str) -> bool {
        !self.find(set, text).is_empty()
    }

    /// Where the phrase of a set ends that a text begins with.
    pub(crate) fn leads(&self, set: &str, text: &str) -> Option<usize> {
        let first = self.find(set, text).into_iter().next()?;
        text.get(..first.start)?.trim().is_empty().then_some(first.end)
    }

    /// A text with something in place of each phrase of some sets, one set after the other.
    pub(crate) fn without(&self, sets: &[&str], text: &str, with: &str) -> String {
        let mut rest = text.to_owned();
        for set in sets {
            for range in self.find(set, &rest).into_iter().rev() {
                rest.replace_range(range, with);
            }
        }
        rest
    }

    /// Phrases of a set in a text, as byte ranges of it, the longest at each place.
    pub(crate) fn find(&self, set: &str, text: &str) -> Vec<std::ops::Range<usize>> {
        let Some(firsts) = self.firsts.get(set) else { return Vec::new() };
        // A word that one of these parts is not the first word of its phrase.
        let parted = text.contains(['\u{ad}', '`']);
        let marks = word_ranges(text);
        let begins = |mark: &std::ops::Range<usize>| {
            parted || text.get(mark.clone()).is_some_and(|word| firsts.contains(&plain(word)))
        };
        let mut found = Vec::new();
        let mut at = 0;
        while at < marks.len() {
            if !marks.get(at).is_some_and(begins) {
                at += 1;
                continue;
            }
            let longest = (1..=(marks.len() - at).min(7)).rev().find_map(|n| {
                let range = marks.get(at)?.start..marks.get(at + n - 1)?.end;
                let said = text.get(range.clone())?;
                // "Pas d'écran" begins with "pas d'".
                let cut = || said.rfind(['\'', '’']).map(|mark| said.ceil_char_boundary(mark + 1));
                let held = |end: usize| self.has(set, &plain(said.get(..end)?)).then_some(end);
                let end = held(said.len()).or_else(|| held(cut()?))?;
                Some((n, range.start..range.start + end))
            });
            match longest {
                Some((n, range)) => {
                    found.push(range);
                    at += n;
                }
                None => at += 1,
            }
        }
        found
    }
}

/// A text with something in place of a range of it.
pub(crate) fn cut(text: &str, range: std::ops::Range<usize>, with: &str) -> String {
    let mut rest = text.to_owned();
    rest.replace_range(range, with);
    rest
}

/// Where the words of a text are: letters, digits, and the marks that stand inside a word.
pub(crate) fn word_ranges(text: &str) -> Vec<std::ops::Range<usize>> {
    let inside = |c: char| c.is_alphanumeric() || matches!(c, '\'' | '’' | '-' | '.' | '@' | '/');
    let mut ranges: Vec<std::ops::Range<usize>> = Vec::new();
    let mut start = None;
    for (at, c) in text.char_indices().chain([(text.len(), ' ')]) {
        match (inside(c), start) {
            (true, None) => start = Some(at),
            (false, Some(from)) => {
                start = None;
                let word = text.get(from..at).unwrap_or("");
                let kept = word.trim_matches(['.', '-', '\'', '/', '’']);
                if !kept.is_empty() {
                    let from = from
                        + (word.len() - word.trim_start_matches(['.', '-', '\'', '/', '’']).len());
                    ranges.push(from..from + kept.len());
                }
            }
            _ => {}
        }
    }
    ranges
}

#[cfg(test)]
#[path = "../../tests/unit/intake/words.rs"]
mod tests;
