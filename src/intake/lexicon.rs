//! The words by which parts are known: names, makers, kinds by all their names, values as spelled,
//! figures. Built once from a catalogue; a row is looked up in it.

use std::collections::HashMap;
use std::sync::Mutex;

use super::tokens::{Reading, Token, compact, tokens};
use super::words::{umlauts_spelled, words};
use crate::catalogue::kinds::{Field, FieldType, Kind, Words};
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, Part};

/// Fewest letters of a word that may be misspelled.
const FUZZY_MIN: usize = 4;
/// Most unknown words whose guesses are kept.
const MAX_GUESSES: usize = 20_000;

/// All that a catalogue's parts are called.
#[derive(Debug, Default)]
pub(crate) struct Lexicon {
    /// Words of names, by their letters and digits.
    pub(crate) names: HashMap<String, u32>,
    /// Each word of a name.
    pub(crate) list: Vec<NameWord>,
    /// Phrases that mean a kind, a value or a maker, by their letters and digits.
    pub(crate) phrases: HashMap<String, Vec<Meaning>>,
    /// What each part is called, in the catalogue's order.
    pub(crate) parts: Vec<PartWords>,
    /// The greatest figure that a part of a kind has in a unit.
    pub(crate) greatest: HashMap<(u16, String), f64>,
    /// Labels of numbers without a unit that lists give: `cores`.
    pub(crate) labels: HashMap<String, Vec<String>>,
    /// Words by length, for misspellings: text, and whether it is a word of a name.
    by_length: Vec<Vec<String>>,
    /// What words that nobody knows were taken for: a row asks for each again and again.
    guesses: Mutex<HashMap<String, Guesses>>,
}

/// Known words that an unknown one may be: misspelled, or cut short.
type Guesses = (Option<Vec<String>>, Option<Vec<String>>);

/// A word that some names have.
#[derive(Debug, Default)]
pub(crate) struct NameWord {
    /// Parts that have it, by their place in the catalogue.
    pub(crate) parts: Vec<u32>,
    /// Kinds of those parts.
    pub(crate) kinds: Vec<u16>,
    /// Whether it names a family: letters, and neither a kind nor a value.
    pub(crate) family: bool,
    /// Whether people say it of any part, as "old".
    pub(crate) common: bool,
}

/// What a phrase may mean.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Meaning {
    /// Parts of a kind.
    Kind(u16),
    /// A value of a field of a kind.
    Value {
        /// The kind.
        kind: u16,
        /// The field's place in it.
        field: u16,
        /// The value as the catalogue writes it; `true` for a flag.
        value: String,
    },
    /// A maker.
    Maker(String),
}

/// What a part is called and what it measures.
#[derive(Debug, Default)]
pub(crate) struct PartWords {
    /// Its kind's place.
    pub(crate) kind: u16,
    /// The words of its name.
    pub(crate) name: Vec<NamePart>,
    /// Its maker, letters and digits only.
    pub(crate) maker: String,
    /// Numbers that a bare number in a list may be: those that its kind names in lists.
    pub(crate) bare: Vec<f64>,
    /// Counts and what each holds: modules of a kit.
    pub(crate) packs: Vec<(f64, f64)>,
    /// Its figures by unit; `#field` is the unit of a number without one.
    pub(crate) figures: Vec<Reading>,
    /// Its values in words: the field's place and the value.
    pub(crate) values: Vec<(u16, String)>,
}

/// A word of a part's name.
#[derive(Debug)]
pub(crate) struct NamePart {
    /// The word.
    pub(crate) word: u32,
    /// Whether it is (a word of) the maker's name.
    pub(crate) maker: bool,
    /// The number it is or begins with.
    pub(crate) number: Option<f64>,
    /// What the number may be.
    pub(crate) readings: Vec<Reading>,
    /// A count and what each holds, if it is a pack.
    pub(crate) pack: Option<(f64, f64)>,
    /// Whether it says no more than the kind does.
    pub(crate) kind_word: bool,
}

impl Lexicon {
    /// The words of a catalogue.
    pub(crate) fn of(catalogue: &Catalogue) -> Self {
        let mut lexicon = Self::default();
        for (kind, at) in catalogue.kinds.iter().zip(0u16..) {
            lexicon.kind(catalogue, kind, at);
        }
        for part in catalogue.parts() {
            lexicon.part(catalogue, part);
        }
        lexicon.phrases.remove("");
        lexicon.families();
        lexicon.same_words();
        lexicon.lengths();
        lexicon
    }

    /// Words of names by their other spellings: "DisplayPort" of a name with DP.
    fn same_words(&mut self) {
        for (word, spelled) in words().same() {
            let Some(id) = self.names.get(word).copied() else { continue };
            for other in spelled {
                self.names.entry(compact(other)).or_insert(id);
            }
        }
    }

    fn mean(&mut self, phrase: &str, meaning: Meaning) {
        for key in [compact(phrase), compact(&umlauts_spelled(&phrase.to_lowercase()))] {
            let held = self.phrases.entry(key).or_default();
            if !held.contains(&meaning) {
                held.push(meaning.clone());
            }
        }
    }

    fn kind(&mut self, catalogue: &Catalogue, kind: &Kind, at: u16) {
        for word in
            [&*kind.name, kind.title.as_str()].into_iter().chain(kind.also.iter().map(|w| &**w))
        {
            self.mean(word, Meaning::Kind(at));
        }
        for (field, place) in kind.fields.iter().zip(0u16..) {
            let of =
                |value: &str| Meaning::Value { kind: at, field: place, value: value.to_owned() };
            match &field.ty {
                FieldType::Text(words) | FieldType::List(words) => {
                    for value in allowed(catalogue, words) {
                        if field.spelled.iter().all(|(v, _)| v != value)
                            && value.len() > 1
                            && !plain_number(value)
                        {
                            self.mean(value, of(value));
                        }
                    }
                    for (value, spelled) in &field.spelled {
                        for phrase in spelled {
                            self.mean(phrase, of(value));
                        }
                    }
                }
                FieldType::Flag => {
                    for phrase in &field.also {
                        self.mean(phrase, of("true"));
                    }
                }
                FieldType::Number => {
                    for (value, spelled) in &field.spelled {
                        for phrase in spelled {
                            self.mean(phrase, of(value));
                        }
                    }
                    if field.unit.is_empty() && kind.figures.iter().any(|f| **f == *field.name) {
                        for label in &field.also {
                            self.labels
                                .entry(compact(label))
                                .or_default()
                                .push(format!("#{}", field.name));
                        }
                    }
                }
                _ => {}
            }
        }
    }

    /// The words of a part's name.
    fn name(&mut self, part: &Part, at: u32, maker_words: &[String]) -> Vec<NamePart> {
        let mut name = Vec::new();
        let joins = |t: &Token| words().has("joining", &t.norm);
        for token in merge_units(tokens(&part.name)) {
            let word = self.word(&token.norm, at, part.kind.0);
            // "Dunlin keyboard & mouse" says the whole of "Dunlin keyboard and mouse".
            if joins(&token) {
                continue;
            }
            let of_kind = |m: &Meaning| *m == Meaning::Kind(part.kind.0);
            name.push(NamePart {
                word,
                maker: maker_words.contains(&token.norm),
                number: token.number,
                pack: token.pack,
                kind_word: self
                    .phrases
                    .get(&compact(&token.norm))
                    .is_some_and(|m| m.iter().any(of_kind)),
                readings: token.readings,
            });
        }
        name
    }

    fn part(&mut self, catalogue: &Catalogue, part: &Part) {
        let Some(kind) = catalogue.kind(part.kind) else { return };
        let at = u32::try_from(self.parts.len()).unwrap_or(u32::MAX);
        let maker = kind.field("maker").and_then(|(i, _)| part.values.get(i as usize));
        let maker = maker.and_then(Val::as_text).map_or("", |t| t);
        let maker_words: Vec<String> = tokens(maker).into_iter().map(|t| t.norm).collect();
        let name = self.name(part, at, &maker_words);
        if !maker.is_empty() {
            let meaning = Meaning::Maker(compact(maker));
            self.mean(maker, meaning.clone());
            // "Samphire" for "Samphire Trust".
            if let Some(first) = maker_words.first().filter(|w| w.len() > 3) {
                self.mean(first, meaning);
            }
        }
        let mut words =
            PartWords { kind: part.kind.0, name, maker: compact(maker), ..PartWords::default() };
        let products = kind.figures.iter().filter(|f| f.contains('*'));
        let factors: Vec<&str> = products.flat_map(|f| f.split('*')).map(str::trim).collect();
        for ((field, value), place) in kind.fields.iter().zip(&part.values).zip(0u16..) {
            // What each of several holds is not what the part holds.
            if !factors.contains(&&*field.name) || field.unit.is_empty() {
                said(&mut words, field, value, place);
            }
            if let Some(number) = value.as_num().filter(|_| kind.figures.contains(&field.name)) {
                words.bare.push(number);
            }
        }
        for product in &kind.figures {
            if let Some((count, each, unit)) = product_of(kind, part, product) {
                words.figures.push(Reading { unit, value: count * each });
                words.packs.push((count, each));
                words.bare.push(count * each);
            }
        }
        for figure in &words.figures {
            let held = self.greatest.entry((words.kind, figure.unit.clone())).or_insert(f64::MIN);
            *held = held.max(figure.value);
        }
        self.parts.push(words);
    }

    fn word(&mut self, norm: &str, part: u32, kind: u16) -> u32 {
        let fresh = u32::try_from(self.list.len()).unwrap_or(u32::MAX);
        let id = *self.names.entry(compact_code(norm)).or_insert(fresh);
        if id == fresh {
            self.list.push(NameWord::default());
        }
        if let Some(word) = self.list.get_mut(id as usize) {
            if word.parts.last() != Some(&part) {
                word.parts.push(part);
            }
            if !word.kinds.contains(&kind) {
                word.kinds.push(kind);
            }
        }
        id
    }

    fn families(&mut self) {
        for (text, id) in &self.names {
            let letters = text.chars().all(char::is_alphabetic) && text.chars().count() > 2;
            let known = self
                .phrases
                .get(text)
                .is_some_and(|m| m.iter().any(|m| !matches!(m, Meaning::Maker(_))));
            if let Some(word) = self.list.get_mut(*id as usize) {
                let joins = ["joining", "beside"].iter().any(|set| words().has(set, text));
                let counts = words().number(text).is_some();
                word.family = letters && !known && !joins && !counts;
                word.common = words().has("filler", text) || words().has("wishes", text);
            }
        }
    }

    fn lengths(&mut self) {
        let texts = self.names.keys().chain(self.phrases.keys());
        for text in texts.filter(|t| t.chars().all(char::is_alphabetic) && t.len() >= FUZZY_MIN) {
            let length = text.chars().count();
            if self.by_length.len() <= length {
                self.by_length.resize_with(length + 1, Vec::new);
            }
            if let Some(bucket) = self.by_length.get_mut(length) {
                bucket.push(text.clone());
            }
        }
        for bucket in &mut self.by_length {
            bucket.sort();
            bucket.dedup();
        }
    }

    /// Whether anything is called so.
    pub(crate) fn knows(&self, key: &str) -> bool {
        self.names.contains_key(key) || self.phrases.contains_key(key)
    }

    /// Whether a text holds the whole name, but for the maker's, of a part that has this word.
    pub(crate) fn named_whole(&self, word: &str, text: &str) -> bool {
        let Some(id) = self.names.get(word) else { return false };
        let said: Vec<u32> = tokens(text)
            .iter()
            .filter_map(|t| self.names.get(&compact_code(&t.norm)).copied())
            .collect();
        let parts = self.list.get(*id as usize).map(|w| w.parts.as_slice()).unwrap_or_default();
        let whole = |part: &PartWords| part.name.iter().all(|n| n.maker || said.contains(&n.word));
        parts.iter().filter_map(|at| self.parts.get(*at as usize)).any(whole)
    }

    /// Known words that a misspelled one may be, the nearest only.
    pub(crate) fn near(&self, word: &str) -> Vec<String> {
        self.guess(word, |g| &mut g.0, || self.nearest(word))
    }

    /// What was found for a word before, or what `find` finds.
    fn guess(
        &self,
        word: &str,
        slot: impl Fn(&mut Guesses) -> &mut Option<Vec<String>>,
        find: impl FnOnce() -> Vec<String>,
    ) -> Vec<String> {
        let Ok(mut held) = self.guesses.lock() else { return find() };
        if let Some(found) = held.get_mut(word).and_then(|g| slot(g).clone()) {
            return found;
        }
        let found = find();
        if held.len() < MAX_GUESSES {
            *slot(held.entry(word.to_owned()).or_default()) = Some(found.clone());
        }
        found
    }

    fn nearest(&self, word: &str) -> Vec<String> {
        let length = word.chars().count();
        if length < FUZZY_MIN {
            return Vec::new();
        }
        let most = if length >= 8 { 2 } else { 1 };
        let mut best = most + 1;
        let mut found: Vec<String> = Vec::new();
        for bucket in self
            .by_length
            .get(length.saturating_sub(most)..)
            .unwrap_or(&[])
            .iter()
            .take(2 * most + 1)
        {
            let first = word.chars().next();
            // A short word is seldom misspelled in its first letter, and there are many short
            // words.
            for text in bucket.iter().filter(|t| length > 5 || t.chars().next() == first) {
                let far = strsim::osa_distance(word, text);
                if far < best {
                    best = far;
                    found.clear();
                }
                if far == best && far <= most {
                    found.push(text.clone());
                }
            }
        }
        found
    }

    /// Words of names that begin so, or are so without their vowels.
    pub(crate) fn shortened(&self, word: &str) -> Vec<String> {
        self.guess(word, |g| &mut g.1, || self.beginning(word))
    }

    fn beginning(&self, word: &str) -> Vec<String> {
        if word.chars().count() < 3 {
            return Vec::new();
        }
        let bare = |t: &str| {
            let mut chars = t.chars();
            let first: String = chars.by_ref().take(1).collect();
            let rest: String = chars.filter(|c| !"aeiouy".contains(*c)).collect();
            format!("{first}{rest}")
        };
        // "wbrl" is Whimbrel without its vowels and one letter more.
        let voiceless = word.chars().count() > 3 && !word.chars().any(|c| "aeiouy".contains(c));
        let most = |t: &str| {
            let (mut left, bare) = (word.chars().peekable(), bare(t));
            let ends =
                t.chars().next() == word.chars().next() && bare.ends_with(|c| word.ends_with(c));
            for c in bare.chars() {
                left.next_if_eq(&c);
            }
            voiceless && ends && left.peek().is_none() && bare.len() <= word.len() + 2
        };
        let begins = |t: &str| t.starts_with(word) || bare(t) == word || most(t);
        let all = self.by_length.iter().flatten();
        all.filter(|t| self.names.contains_key(*t) && begins(t)).cloned().collect()
    }
}

/// A name's code without the marks in it, its decimal point kept.
pub(crate) fn compact_code(norm: &str) -> String {
    norm.chars().filter(|c| c.is_alphanumeric() || *c == '.').collect()
}

/// Whether a text is a number: such a value means nothing without its unit or label.
fn plain_number(text: &str) -> bool {
    text.chars().all(|c| c.is_ascii_digit() || c == '.')
}

/// Joins a number with the unit behind it: `2`, `m` is `2m`.
pub(crate) fn merge_units(list: Vec<Token>) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::with_capacity(list.len());
    for token in list {
        match out.last_mut().filter(|t| t.unit_behind) {
            Some(number) => {
                number.unit_behind = false;
                let unit = token.norm.split(['/', '(']).next().unwrap_or("");
                if number.readings.is_empty() && number.pack.is_none() || unit != token.norm {
                    out.push(token);
                } else {
                    number.norm.push_str(&token.norm);
                    number.range.end = token.range.end;
                    number.cut = false;
                }
            }
            None => out.push(token),
        }
    }
    out
}

fn allowed<'a>(catalogue: &'a Catalogue, words: &'a Words) -> &'a [std::sync::Arc<str>] {
    match words {
        Words::OneOf(list) => list,
        Words::Table(table) => catalogue.words(table),
        Words::Any => &[],
    }
}

fn said(words: &mut PartWords, field: &Field, value: &Val, place: u16) {
    match value {
        Val::Num(value) => {
            let unit = if field.unit.is_empty() {
                format!("#{}", field.name)
            } else {
                field.unit.to_string()
            };
            words.figures.push(Reading { unit, value: *value });
            if !field.spelled.is_empty() {
                words.values.push((place, value.to_string()));
            }
        }
        Val::Text(text) => words.values.push((place, text.to_string())),
        Val::Flag(flag) => words.values.push((place, flag.to_string())),
        Val::List(list) => words.values.extend(list.iter().map(|text| (place, text.to_string()))),
        _ => {}
    }
}

/// The factors of `a * b` over two fields of a part, and the unit of the second.
fn product_of(kind: &Kind, part: &Part, expression: &str) -> Option<(f64, f64, String)> {
    let (a, b) = expression.split_once('*')?;
    let of = |name: &str| {
        let (at, field) = kind.field(name.trim())?;
        Some((part.values.get(at as usize)?.as_num()?, field.unit.to_string()))
    };
    let ((a, _), (b, unit)) = (of(a)?, of(b)?);
    Some((a, b, unit))
}
