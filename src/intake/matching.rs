//! Which parts a row's items may mean, and whether there is any doubt.

use super::items::{Item, PART_OF_A_VALUE};
use super::lexicon::{Lexicon, Meaning, NamePart, PartWords};
use super::tokens::Reading;

/// Candidates that are kept for a question.
pub(crate) const MAX_SHOWN: usize = 8;
/// Parts that are looked at closely for one row.
const MAX_WEIGHED: usize = 400;

/// How sure a word of a name is at least that is written as the name has it, or joined to others.
const AS_WRITTEN: f64 = 0.95;
/// Letters of a word that may be misspelled and name a part by itself, if the row says its kind.
const LONG_WORD: usize = 6;

/// What a row comes to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Found {
    /// One part, and no doubt.
    Sure(Candidate),
    /// Several may be meant, or one with a doubt.
    Unsure(Vec<Candidate>),
    /// No part of the catalogue.
    Nothing,
}

impl Found {
    /// Whatever may be meant.
    pub(super) fn all(self) -> Vec<Candidate> {
        match self {
            Self::Sure(one) => vec![one],
            Self::Unsure(many) => many,
            Self::Nothing => Vec::new(),
        }
    }
}

/// A part that may be meant.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Candidate {
    /// Its place in the catalogue.
    pub(crate) part: usize,
    /// 0 to 1.
    pub(crate) score: f64,
}

/// Candidates, each part once.
pub(super) fn distinct(all: Vec<Candidate>) -> Vec<Candidate> {
    let mut seen = std::collections::HashSet::new();
    all.into_iter().filter(|c| seen.insert(c.part)).collect()
}

/// How one part answers a row.
#[derive(Debug, Clone, Default)]
struct Weighed {
    part: usize,
    /// Words of its name that the row says, by weight, and those that it leaves out.
    said: f64,
    unsaid: f64,
    /// Words left out that are not the maker's: how many.
    missing: usize,
    /// Whether the maker is left out.
    maker_missing: bool,
    /// What the row says and the part is not.
    conflicts: usize,
    /// Words beside the name that nobody knows.
    doubts: usize,
    /// Words anywhere that nobody knows.
    strange: usize,
    /// Whether a word that names a family (or the maker) was said.
    family: bool,
    /// Whether that word says nothing else, as "old" does.
    proper: bool,
    maker: bool,
    /// Facts said that fit, beside the name.
    facts: usize,
    /// How many words of the name were said.
    words: usize,
    /// How much was guessed at: misspelled, cut.
    fuzz: f64,
    /// Whether a word of the name, more than its kind's, was said as it is written.
    exact: bool,
}

/// How an item stands to a part.
enum Stand {
    Says(Vec<usize>, f64),
    Fits,
    Against,
    /// Known of other kinds only.
    Strange,
    Unknown,
    Nothing,
}

/// Looks a row up: its items, and the maker's column if there is one.
pub(crate) fn look_up(lexicon: &Lexicon, items: &[Item], maker: &[Item]) -> Found {
    if rests_on_a_short_guess(items) {
        return Found::Nothing;
    }
    let mut weighed: Vec<Weighed> = candidates(lexicon, items, maker)
        .into_iter()
        .filter_map(|part| weigh(lexicon, part, items, maker))
        .collect();
    weighed.sort_by(|a, b| order(a).total_cmp(&order(b)).then(a.part.cmp(&b.part)));
    decide(&weighed)
}

/// Parts of which all is so that the items say, by name, figure or word, the nearest first.
pub(crate) fn fitting(lexicon: &Lexicon, items: &[Item], kind: Option<u16>) -> Vec<usize> {
    let of_kind = |at: &usize| {
        kind.is_none_or(|kind| lexicon.parts.get(*at).is_some_and(|part| part.kind == kind))
    };
    // A kind's word alone, misspelled, describes no part.
    let says_more = |i: &Item| {
        !i.readings.is_empty()
            || i.number.is_some()
            || i.pack.is_some()
            || !i.names.is_empty()
            || i.meanings.iter().any(|m| !matches!(m, Meaning::Kind(_)))
    };
    if kind.is_none() && !items.iter().any(says_more) {
        return Vec::new();
    }
    // "SSD" is a kind's word, and says what holds the data.
    let values = |at: &usize| {
        let so = |part: &PartWords, item: &Item| {
            let mut own = item.meanings.iter().filter_map(|m| match m {
                Meaning::Value { kind, field, value } if *kind == part.kind => {
                    Some(part.values.iter().any(|(f, v)| f == field && v == value))
                }
                _ => None,
            });
            let first = own.next();
            first.is_none_or(|so| so || own.any(|so| so)) || says(part, item).is_some()
        };
        lexicon.parts.get(*at).is_some_and(|part| items.iter().all(|item| so(part, item)))
    };
    let all = (0..lexicon.parts.len()).filter(of_kind).filter(values);
    let mut fits: Vec<Weighed> = all
        .filter_map(|part| weigh(lexicon, part, items, &[]))
        .filter(|w| w.conflicts + w.doubts + w.strange == 0 && w.words + w.facts > 0)
        .collect();
    fits.sort_by(|a, b| order(a).total_cmp(&order(b)).then(a.part.cmp(&b.part)));
    fits.into_iter().map(|w| w.part).collect()
}

/// Letters of a word that may be an ordinary one beside a name that is nearly the same.
pub(super) const SHORT: usize = 4;

/// Whether all that a row has of a part is a short word that nearly is a name: "left" in "if money
/// is left" is no Leat.
fn rests_on_a_short_guess(items: &[Item]) -> bool {
    let guess = |i: &Item| i.fuzzy && i.key.len() <= SHORT;
    let says = |i: &Item| i.has_digit() || !i.names.is_empty() && !guess(i);
    items.iter().any(guess) && !items.iter().any(says)
}

/// Less is better.
fn order(w: &Weighed) -> f64 {
    w.conflicts as f64 * 100.0
        + w.missing as f64 * 4.0
        + f64::from(w.maker_missing)
        + w.unsaid * 0.5
        - w.said
        - w.facts as f64 * 0.3
        + w.fuzz * 2.0
}

fn shown(list: &[&Weighed]) -> Vec<Candidate> {
    let score = |w: &Weighed| {
        let whole = w.said / (w.said + w.unsaid).max(0.01);
        let score =
            0.5 + 0.5 * whole - 0.25 * w.conflicts as f64 - 0.05 * w.doubts as f64 - 0.1 * w.fuzz;
        (score.clamp(0.05, 0.99) * 100.0).round() / 100.0
    };
    list.iter().take(MAX_SHOWN).map(|w| Candidate { part: w.part, score: score(w) }).collect()
}

fn decide(weighed: &[Weighed]) -> Found {
    // Without a family's or a maker's word only a long name, said whole, is a name.
    let named = |w: &&Weighed| {
        w.family
            || w.maker && (w.facts > 0 || w.said > 1.5 || w.missing == 0)
            || w.missing == 0 && w.words > 2
    };
    let fits: Vec<&Weighed> = weighed.iter().filter(|w| w.conflicts == 0).filter(named).collect();
    let Some(best) = fits.first() else {
        // A family is named and nothing of it fits: the nearest are shown.
        let close: Vec<&Weighed> =
            weighed.iter().filter(|w| w.conflicts == 1 && w.proper && w.said > w.unsaid).collect();
        return if close.is_empty() { Found::Nothing } else { Found::Unsure(shown(&close)) };
    };
    let mut whole: Vec<&&Weighed> = fits.iter().filter(|w| w.missing == 0).collect();
    whole.sort_by_key(|fit| std::cmp::Reverse(fit.words));
    let one = match whole.as_slice() {
        // The whole name is said, and no other part's whole name, or only of a shorter one.
        [only] => Some(**only),
        [longest, next, ..] if longest.words > next.words && longest.said > next.said => {
            Some(**longest)
        }
        // What is said fits one part only.
        [] if fits.len() == 1 && best.family && best.said > best.unsaid => Some(*best),
        _ => None,
    };
    match one {
        Some(only)
            if only.doubts == 0
                && only.exact
                && only.fuzz < 1.1
                && (only.family || only.maker || only.said > 2.0) =>
        {
            Found::Sure(shown(&[only]).remove(0))
        }
        _ => Found::Unsure(shown(&fits)),
    }
}

/// Parts that share a word of their name, or the maker, with the row.
fn candidates(lexicon: &Lexicon, items: &[Item], maker: &[Item]) -> Vec<usize> {
    let mut hits: std::collections::HashMap<u32, f64> = std::collections::HashMap::new();
    for (id, sure) in items.iter().chain(maker).flat_map(|i| &i.names) {
        let Some(word) = lexicon.list.get(*id as usize) else { continue };
        // A word of half the catalogue leads nowhere by itself.
        let weight = sure * rarity(lexicon, *id);
        if word.parts.len() <= 1500 {
            for part in &word.parts {
                *hits.entry(*part).or_default() += weight;
            }
        }
    }
    let makers: Vec<&str> = items
        .iter()
        .chain(maker)
        .flat_map(|i| &i.meanings)
        .filter_map(|m| match m {
            Meaning::Maker(name) => Some(name.as_str()),
            _ => None,
        })
        .collect();
    if !makers.is_empty() {
        for (part, at) in lexicon.parts.iter().zip(0u32..) {
            if makers.contains(&part.maker.as_str()) {
                *hits.entry(at).or_default() += 0.5;
            }
        }
    }
    let mut list: Vec<(u32, f64)> = hits.into_iter().collect();
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    list.truncate(MAX_WEIGHED);
    list.into_iter().map(|(part, _)| part as usize).collect()
}

/// From 0.3 for a word of many names to 2 for a word of one.
fn rarity(lexicon: &Lexicon, id: u32) -> f64 {
    let parts = lexicon.list.get(id as usize).map_or(1, |w| w.parts.len()) as f64;
    (2.0 - 0.3 * parts.ln()).max(0.4)
}

fn weigh(lexicon: &Lexicon, at: usize, items: &[Item], maker: &[Item]) -> Option<Weighed> {
    let part = lexicon.parts.get(at)?;
    let mut said = vec![0.0_f64; part.name.len()];
    let mut w = Weighed { part: at, ..Weighed::default() };
    let mut hit = vec![false; items.len()];
    let mut unknown = Vec::new();
    for (index, item) in items.iter().enumerate() {
        match stand(lexicon, part, item) {
            Stand::Says(words, sure) => {
                for word in words {
                    if let Some(slot) = said.get_mut(word) {
                        *slot = slot.max(sure);
                    }
                }
                w.fuzz += 1.0 - sure;
                if let Some(slot) = hit.get_mut(index) {
                    *slot = true;
                }
            }
            Stand::Fits => {
                w.facts += usize::from(!item.meanings.is_empty() || !item.readings.is_empty());
                w.maker |= item.meanings.iter().any(|m| *m == Meaning::Maker(part.maker.clone()));
            }
            Stand::Against => w.conflicts += 1,
            Stand::Strange => w.doubts += 1,
            Stand::Unknown => unknown.push(index),
            Stand::Nothing => {}
        }
    }
    let long = |i: &Item| i.key.chars().count() >= LONG_WORD;
    let spelled = items.iter().zip(&hit).any(|(item, hit)| *hit && long(item));
    let kind = |i: &Item| i.meanings.contains(&Meaning::Kind(part.kind)) && !i.negated;
    kind_words_said(part, items.iter().any(kind), &mut said);
    w.exact = spelled && items.iter().any(kind);
    w.strange = unknown.len();
    w.doubts += unknown.iter().filter(|i| beside(items, &hit, **i)).count();
    maker_column(part, maker, &mut w);
    for (word, sure) in part.name.iter().zip(&said) {
        let weight = if word.kind_word { 0.3 } else { rarity(lexicon, word.word) };
        if *sure > 0.0 {
            w.said += weight * sure;
            w.words += 1;
            w.exact |= *sure >= AS_WRITTEN && !word.kind_word;
            let by_itself = (*sure - PART_OF_A_VALUE).abs() > f64::EPSILON;
            let known = lexicon.list.get(word.word as usize);
            let family = by_itself && !word.kind_word && known.is_some_and(|n| n.family);
            w.family |= family;
            w.proper |= family && known.is_some_and(|n| !n.common);
            w.maker |= word.maker;
        } else if word.maker {
            w.maker_missing |= !w.maker;
        } else {
            w.unsaid += weight;
            w.missing += 1;
        }
    }
    Some(w)
}

/// A "cable of 2 m" is what the name calls a lead; a keyboard is no mouse.
fn kind_words_said(part: &PartWords, kind: bool, said: &mut [f64]) {
    if kind && part.name.iter().any(|word| !word.readings.is_empty()) {
        for (word, slot) in part.name.iter().zip(said).filter(|(word, _)| word.kind_word) {
            *slot = slot.max(if word.maker { 0.0 } else { AS_WRITTEN - 0.05 });
        }
    }
}

/// What a column of makers says: the part's own, or another's, or one that nobody knows.
fn maker_column(part: &PartWords, maker: &[Item], w: &mut Weighed) {
    if maker.is_empty() {
        return;
    }
    let own = |m: &Meaning| *m == Meaning::Maker(part.maker.clone());
    if maker.iter().flat_map(|i| &i.meanings).any(own) {
        w.maker = true;
    } else if part.maker != "unknown" {
        w.conflicts += 1;
    }
}

/// Whether the item stands directly beside one that the part's name says.
fn beside(items: &[Item], hit: &[bool], index: usize) -> bool {
    let before = index.checked_sub(1).is_some_and(|i| hit.get(i) == Some(&true))
        && items.get(index).is_some_and(|i| !i.apart);
    // A shop's word before a figure is praise; before a name it may be another maker.
    let worded = |i: &Item| !i.apart && i.key.chars().all(char::is_alphabetic);
    let small = items.get(index).is_some_and(|i| i.small);
    let after = hit.get(index + 1) == Some(&true) && items.get(index + 1).is_some_and(worded);
    (before || after) && !small
}

fn stand(lexicon: &Lexicon, part: &PartWords, item: &Item) -> Stand {
    if item.negated {
        let own = |m: &Meaning| match m {
            Meaning::Value { kind, field, value } => {
                *kind == part.kind && part.values.iter().any(|(f, v)| f == field && v == value)
            }
            Meaning::Kind(_) | Meaning::Maker(_) => false,
        };
        let named = matches!(says(part, item), Some(Stand::Says(_, sure)) if sure >= AS_WRITTEN);
        let has = named || item.meanings.iter().any(own);
        return if has { Stand::Against } else { Stand::Nothing };
    }
    if let Some(says) = says(part, item) {
        return says;
    }
    if fits(part, item) {
        return Stand::Fits;
    }
    // How long it is warranted, or how old it is, tells no two parts apart.
    let years = |r: &Reading| matches!(r.unit.as_str(), "years" | "days");
    if item.filler || item.prose || !item.readings.is_empty() && item.readings.iter().all(years) {
        return Stand::Nothing;
    }
    let figure = item.number.is_some() || !item.readings.is_empty() || item.pack.is_some();
    if figure {
        return Stand::Against;
    }
    let mine = |m: &Meaning| match m {
        Meaning::Kind(_) | Meaning::Maker(_) => true,
        Meaning::Value { kind, .. } => *kind == part.kind,
    };
    if item.meanings.iter().any(mine) {
        return Stand::Against;
    }
    let of_kind = |id: &u32| {
        lexicon.list.get(*id as usize).is_some_and(|n| n.kinds.contains(&part.kind) || n.family)
    };
    if item.names.iter().any(|(id, sure)| *sure > 0.9 && of_kind(id)) {
        return Stand::Against;
    }
    // A code that no name has: the letter at its end may be what tells two parts apart.
    if item.has_digit() && item.key.chars().count() < 8 && item.meanings.is_empty() {
        return Stand::Against;
    }
    // "Low profile" of a cooler: what only other kinds have or lack says nothing against it.
    let flag = |m: &Meaning| matches!(m, Meaning::Value { value, .. } if value == "true");
    match item.meanings.as_slice() {
        [] => Stand::Unknown,
        all if all.iter().all(flag) => Stand::Nothing,
        _ => Stand::Strange,
    }
}

/// Words of the part's name that an item says.
fn says(part: &PartWords, item: &Item) -> Option<Stand> {
    let mut words = Vec::new();
    let mut sure: f64 = 0.0;
    for (at, word) in part.name.iter().enumerate() {
        let as_written = item.names.iter().find(|(id, _)| *id == word.word).map(|(_, sure)| *sure);
        let as_figure = same_figure(word, item).then_some(1.0);
        if let Some(this) = as_written.or(as_figure) {
            words.push(at);
            sure = sure.max(this);
        }
    }
    (!words.is_empty()).then_some(Stand::Says(words, sure))
}

fn same_figure(word: &NamePart, item: &Item) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-6 * a.abs().max(1.0);
    if let Some((count, each)) = word.pack {
        // `2x16 GB` is 32 GB too.
        return item.pack.is_some_and(|(n, per)| near(n, count) && near(per, each))
            || item.readings.iter().any(|r| r.unit == "GB" && near(r.value, count * each));
    }
    if item.pack.is_some() {
        return false;
    }
    if word.readings.is_empty() {
        let Some(number) = word.number else { return false };
        return item.number.is_some_and(|n| near(n, number))
            || item.readings.iter().any(|r| near(r.value, number));
    }
    let same =
        |r: &Reading| word.readings.iter().any(|w| w.unit == r.unit && near(w.value, r.value));
    item.readings.iter().any(same)
        || item.readings.is_empty()
            && item.number.is_some_and(|n| {
                word.readings.iter().any(|w| near(w.value, n))
                    || word.number.is_some_and(|w| near(w, n))
            })
}

/// Whether what an item means is so of the part.
fn fits(part: &PartWords, item: &Item) -> bool {
    let meaning = |m: &Meaning| match m {
        Meaning::Kind(kind) => *kind == part.kind,
        Meaning::Maker(maker) => *maker == part.maker,
        Meaning::Value { kind, field, value } => {
            *kind == part.kind && part.values.iter().any(|(f, v)| f == field && v == value)
        }
    };
    // "SSD" is a word for drives, and says what holds the data: a disk is none.
    let of = |m: &Meaning| match m {
        Meaning::Value { kind, field, .. } if *kind == part.kind => Some(*field),
        _ => None,
    };
    let so = |field: u16| item.meanings.iter().any(|m| of(m) == Some(field) && meaning(m));
    if !item.meanings.iter().filter_map(of).all(so) {
        return false;
    }
    if item.meanings.iter().any(meaning) {
        return true;
    }
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-6 * a.abs().max(b.abs());
    let has = |unit: &str, value: f64| {
        part.figures.iter().any(|f| f.unit == unit && near(f.value, value))
    };
    if let Some((count, each)) = item.pack {
        return part.packs.iter().any(|(n, per)| near(*n, count) && near(*per, each))
            || has("px", count) && has("px", each);
    }
    if item
        .readings
        .iter()
        .any(|r| has(&r.unit, r.value) || r.unit == "in" && rounded_inches(part, r.value))
    {
        return true;
    }
    // A bare number may be a figure that lists give.
    item.readings.is_empty()
        && item.number.is_some_and(|n| n >= 16.0 && part.bare.iter().any(|f| near(*f, n)))
}

/// 23.8 inches are sold as 24.
fn rounded_inches(part: &PartWords, inches: f64) -> bool {
    part.figures
        .iter()
        .any(|f| f.unit == "in" && (f.value - inches).abs() <= 0.51 && inches.fract() == 0.0)
}
