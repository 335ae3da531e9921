//! A row's text as items: each a phrase, code or figure that the catalogue's words explain, or not.

use std::ops::Range;

use super::lexicon::{Lexicon, Meaning, compact_code, merge_units};
use super::tokens::{Reading, Token, compact, tokens};
use super::words::{MAX_PHRASE, words};

/// How sure a word of a name is that is part of a value's phrase.
pub(crate) const PART_OF_A_VALUE: f64 = 0.93;

/// A piece of a row.
#[derive(Debug, Clone, Default)]
pub(crate) struct Item {
    /// Where it is in the text.
    pub(crate) range: Range<usize>,
    /// Letters and digits.
    pub(crate) key: String,
    /// Words of names that it may be, and how sure: 1 as written.
    pub(crate) names: Vec<(u32, f64)>,
    /// What it may mean.
    pub(crate) meanings: Vec<Meaning>,
    /// The number it is or begins with.
    pub(crate) number: Option<f64>,
    /// The figures it may be.
    pub(crate) readings: Vec<Reading>,
    /// `2x16`.
    pub(crate) pack: Option<(f64, f64)>,
    /// Says nothing of the part.
    pub(crate) filler: bool,
    /// Says what the customer wishes, and tells no part from another: "fast one".
    pub(crate) wish: bool,
    /// A separator stands between the item before and this one.
    pub(crate) apart: bool,
    /// Whether several words of the text make it up.
    pub(crate) several: bool,
    /// It was taken for a word that it is not as written.
    pub(crate) fuzzy: bool,
    /// A word of talk, which no part is called by.
    pub(crate) prose: bool,
    /// Said not to be so: the `wifi` of "no wifi".
    pub(crate) negated: bool,
    /// Written small in a text whose names have capitals, so that it is none.
    pub(crate) small: bool,
}

impl Item {
    /// Whether nothing is known of it.
    pub(crate) fn is_loose(&self) -> bool {
        !self.filler
            && self.names.is_empty()
            && self.meanings.is_empty()
            && self.readings.is_empty()
            && self.number.is_none()
            && self.pack.is_none()
    }

    /// The kind that it names.
    pub(crate) fn kind(&self) -> Option<u16> {
        self.meanings.iter().find_map(|m| match m {
            Meaning::Kind(kind) => Some(*kind),
            _ => None,
        })
    }

    /// Whether it names a kind.
    pub(crate) fn names_kind(&self) -> bool {
        self.kind().is_some()
    }

    /// Whether it measures something or counts a pack.
    pub(crate) fn is_figure(&self) -> bool {
        !self.readings.is_empty() || self.pack.is_some()
    }

    /// Whether it is a word of a name as it is written.
    pub(crate) fn is_exact(&self) -> bool {
        self.names.iter().any(|(_, sure)| *sure == 1.0)
    }

    /// Whether it names a maker.
    pub(crate) fn is_maker(&self) -> bool {
        self.meanings.iter().any(|m| matches!(m, Meaning::Maker(_)))
    }

    /// Whether it holds a digit.
    pub(crate) fn has_digit(&self) -> bool {
        self.key.chars().any(|c| c.is_ascii_digit())
    }
}

/// The items of a text.
pub(crate) fn items(lexicon: &Lexicon, text: &str) -> Vec<Item> {
    let spaced = unjoined(lexicon, text);
    let text = spaced.as_str();
    let list = merge_units(tokens(text));
    let mut out: Vec<Item> = Vec::new();
    let mut at = 0;
    while let Some(token) = list.get(at) {
        let taken = phrase(lexicon, text, &list, at, &mut out);
        if taken > 0 {
            at += taken;
            continue;
        }
        if let Some(pieces) = split(lexicon, token) {
            out.extend(pieces);
        } else {
            out.push(single(lexicon, text, token));
        }
        at += 1;
    }
    labelled(lexicon, &mut out);
    mark_apart(text, &mut out);
    mark_negated(text, &mut out);
    mark_small(text, &mut out);
    unname_talk(text, &mut out);
    out
}

/// "Is it still there?" names no Haar Still: a word of talk is a name's only beside another of it.
fn unname_talk(text: &str, out: &mut [Item]) {
    let spoken = |i: &Item| {
        let word = text.get(i.range.clone()).unwrap_or("");
        words().has("prose", word)
    };
    if out.iter().filter(|i| !i.names.is_empty()).all(spoken) {
        out.iter_mut().for_each(|i| i.names.clear());
    }
}

/// Where a name that is known has a capital, a word without one is no name.
fn mark_small(text: &str, out: &mut [Item]) {
    let first = |i: &Item| text.get(i.range.clone()).and_then(|t| t.chars().next());
    let mut named = out.iter().filter(|i| i.is_exact() && !i.prose).filter_map(first).peekable();
    let cased = named.peek().is_some() && named.all(|c| !c.is_lowercase());
    for item in out.iter_mut().filter(|i| i.key.chars().all(char::is_alphabetic)) {
        item.small = cased && first(item).is_some_and(char::is_lowercase);
    }
}

/// A text with a blank between a known word and the number joined to it: `Marl4 TB`, `Lull-92`.
fn unjoined(lexicon: &Lexicon, text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let mut at = 0;
    for token in tokens(text) {
        if token.range.start < at {
            continue;
        }
        // "Ein 120er", "der 2000er"
        let sized = token.norm.strip_suffix("er").is_some_and(|n| n.len() >= 2 && is_digits(n));
        // "Those Catspaw 120s", "the four Marls", "two 4TBs": more than one of a number or a name.
        let number = token.norm.strip_suffix('s').filter(|n| n.len() >= 2);
        let several = |n: &str| {
            is_digits(n)
                || token.readings.is_empty() && tokens(n).iter().any(|t| !t.readings.is_empty())
                || n.len() > 3 && !lexicon.knows(&token.norm) && lexicon.names.contains_key(n)
        };
        let cut = if sized { 2 } else { usize::from(number.is_some_and(several)) };
        if cut > 0 {
            out.push_str(text.get(at..token.range.end - cut).unwrap_or(""));
            at = token.range.end;
            continue;
        }
        // "4C/8T" and "4C" are a processor of four cores.
        let cores = token.norm.strip_suffix('c').filter(|n| is_digits(n));
        let threads = || {
            let next = text.get(token.range.end..)?.strip_prefix('/')?;
            let digits = next.trim_start_matches(|c: char| c.is_ascii_digit());
            let all = digits.len() < next.len() && digits.starts_with(['T', 't']);
            all.then_some(token.range.end + 2 + next.len() - digits.len())
        };
        if let Some(cores) = cores {
            out.push_str(text.get(at..token.range.start).unwrap_or(""));
            out.push_str(cores);
            out.push_str(" cores");
            at = threads().unwrap_or(token.range.end);
            continue;
        }
        let letters = token.norm.chars().take_while(|c| c.is_alphabetic()).count();
        let prefix: String = token.norm.chars().take(letters).collect();
        let rest: String = token.norm.chars().skip(letters).collect();
        let raw = text.get(token.range.clone()).unwrap_or("");
        let known = letters >= 3
            && rest.starts_with(|c: char| c.is_ascii_digit())
            && !lexicon.knows(&compact_code(&token.norm))
            && raw.chars().take(letters).all(char::is_alphabetic)
            && (lexicon.knows(&compact(&prefix)) || lexicon.near(&prefix).len() == 1)
            && (lexicon.names.contains_key(&prefix) || split(lexicon, &token).is_none());
        if let Some((cut, _)) = raw.char_indices().nth(letters).filter(|_| known) {
            out.push_str(text.get(at..token.range.start + cut).unwrap_or(""));
            out.push(' ');
            at = token.range.start + cut;
        }
    }
    out.push_str(text.get(at..).unwrap_or(""));
    out
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.chars().all(|c| c.is_ascii_digit())
}

/// The longest run of tokens from `at` that the lexicon or the fillers know.
fn phrase(lexicon: &Lexicon, text: &str, list: &[Token], at: usize, out: &mut Vec<Item>) -> usize {
    let left = list.len() - at;
    for n in (1..=left.min(MAX_PHRASE)).rev() {
        let Some(run) = list.get(at..at + n) else { continue };
        let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
        let range = first.range.start..last.range.end;
        let raw = text.get(range.clone()).unwrap_or("");
        // A phrase does not reach over a comma or a bracket.
        if n > 1
            && raw.chars().any(|c| matches!(c, ',' | ';' | '(' | ')' | '|' | ':'))
            && !first.norm.contains('.')
        {
            continue;
        }
        let plain = super::words::plain(raw);
        let key: String = run.iter().map(|t| compact_code(&t.norm)).collect();
        let bare = compact(&key);
        let mut item = Item { range, key: bare.clone(), several: n > 1, ..Item::default() };
        if let Some(id) = lexicon.names.get(&key).or_else(|| lexicon.names.get(&bare)) {
            // "12 V" is one word; "Lull 120" is two, each known by itself.
            item.names.push((*id, 1.0));
        }
        if let Some(meanings) = lexicon.phrases.get(&bare) {
            item.meanings.clone_from(meanings);
        }
        item.wish = words().has("wishes", &plain);
        item.filler = item.wish || words().has("filler", &plain);
        if item.names.is_empty() && item.meanings.is_empty() && !item.filler {
            continue;
        }
        if n == 1 || item.names.is_empty() {
            item.number = first.number;
            item.readings.clone_from(&first.readings);
            item.pack = first.pack;
        }
        if n > 1 && !item.filler && item.names.is_empty() {
            words_within(lexicon, run, &mut item);
        }
        out.push(item);
        return n;
    }
    0
}

/// The words of a phrase say what they say by themselves too: "nvme drive" is a drive and NVMe.
fn words_within(lexicon: &Lexicon, run: &[Token], item: &mut Item) {
    // Of a kind whose value the whole phrase is, its words mean nothing else: Micro-ATX is no ATX.
    let taken: Vec<u16> = item
        .meanings
        .iter()
        .filter_map(|m| match m {
            Meaning::Value { kind, .. } => Some(*kind),
            Meaning::Kind(_) | Meaning::Maker(_) => None,
        })
        .collect();
    for token in run {
        let key = compact_code(&token.norm);
        // Nor is a word of it a name by itself: the "mini" of mini-ITX names no case.
        let sure = if taken.is_empty() { 1.0 } else { PART_OF_A_VALUE };
        item.names.extend(lexicon.names.get(&key).map(|id| (*id, sure)));
        for meaning in lexicon.phrases.get(&compact(&key)).into_iter().flatten() {
            if matches!(meaning, Meaning::Value { kind, .. } if !taken.contains(kind))
                && !item.meanings.contains(meaning)
            {
                item.meanings.push(meaning.clone());
            }
        }
    }
}

/// One token by itself: a figure, a cut or misspelled word, or nothing known.
fn single(lexicon: &Lexicon, text: &str, token: &Token) -> Item {
    let key = compact(&token.norm);
    let mut item = Item {
        range: token.range.clone(),
        key: key.clone(),
        number: token.number,
        readings: token.readings.clone(),
        pack: token.pack,
        ..Item::default()
    };
    if !key.chars().all(char::is_alphabetic) {
        if item.readings.is_empty() && item.number.is_none() && item.pack.is_none() {
            let fixed: String = key.chars().map(|c| if c == 'o' { '0' } else { c }).collect();
            item.names.extend(lexicon.names.get(&fixed).map(|id| (*id, 0.9)));
        }
        return item;
    }
    let raw = text.get(token.range.clone()).unwrap_or("").to_lowercase();
    if words().has("filler", &raw) || words().has("vague", &raw) {
        item.filler = true;
        return item;
    }
    let cut = if token.cut { lexicon.shortened(&key) } else { Vec::new() };
    let found = if cut.is_empty() { (lexicon.near(&key), 0.85) } else { (cut, 0.9) };
    let found = if found.0.is_empty() && !words().has("prose", &raw) {
        (lexicon.shortened(&key), 0.8)
    } else {
        found
    };
    // A word of talk is no misspelled name.
    if words().has("prose", &raw) && (!token.cut || ends_sentence(text, token)) {
        item.prose = true;
        return item;
    }
    item.fuzzy = !found.0.is_empty();
    for word in found.0 {
        item.names.extend(lexicon.names.get(&word).map(|id| (*id, found.1)));
        for meaning in lexicon.phrases.get(&word).into_iter().flatten() {
            item.meanings.push(meaning.clone());
        }
    }
    item
}

/// Whether the point behind a word ends the text or a sentence, so that it cuts no word short.
fn ends_sentence(text: &str, token: &Token) -> bool {
    let behind = text.get(token.range.end..).unwrap_or("").trim_start_matches('.').trim_start();
    behind.is_empty() || behind.starts_with(char::is_uppercase)
}

/// A token that several known words were joined to: `bencht4`, `tarn650gold`.
fn split(lexicon: &Lexicon, token: &Token) -> Option<Vec<Item>> {
    let text: Vec<char> = token.norm.chars().collect();
    if text.len() < 5 || !token.readings.is_empty() || token.pack.is_some() || text.len() > 60 {
        return None;
    }
    // best[i]: the fewest pieces that make the first i letters, and where the last one begins.
    let mut best: Vec<Option<(usize, usize)>> = vec![None; text.len() + 1];
    *best.first_mut()? = Some((0, 0));
    for end in 1..=text.len() {
        for start in 0..end {
            let Some(Some((count, _))) = best.get(start).copied() else { continue };
            let piece: String = text.get(start..end)?.iter().collect();
            let better = best.get(end).copied().flatten().is_none_or(|(n, _)| count + 1 < n);
            if better
                && is_piece(lexicon, &piece, text.get(start.wrapping_sub(1)).copied())
                && let Some(slot) = best.get_mut(end)
            {
                *slot = Some((count + 1, start));
            }
        }
    }
    let mut end = text.len();
    let mut pieces = Vec::new();
    while end > 0 {
        let (_, start) = best.get(end).copied().flatten()?;
        pieces.push(text.get(start..end)?.iter().collect::<String>());
        end = start;
    }
    (pieces.len() > 1).then(|| pieces.iter().rev().map(|p| piece_item(lexicon, token, p)).collect())
}

fn is_piece(lexicon: &Lexicon, piece: &str, before: Option<char>) -> bool {
    let digits = piece.chars().all(|c| c.is_ascii_digit());
    let letters = piece.chars().all(char::is_alphabetic);
    if digits {
        // A number is not cut in two.
        return before.is_none_or(|c| !c.is_ascii_digit());
    }
    if letters && piece.chars().count() < 3 {
        // `HolmC`, `DriftXL`: the short end of a name.
        return before.is_some_and(char::is_alphabetic) && lexicon.names.contains_key(piece);
    }
    if piece.starts_with(|c: char| c.is_ascii_digit()) && before.is_some_and(|c| c.is_ascii_digit())
    {
        return false;
    }
    lexicon.knows(piece)
        || piece.starts_with(|c: char| c.is_ascii_digit())
            && tokens(piece).first().is_some_and(|t| !t.readings.is_empty() || t.pack.is_some())
}

fn piece_item(lexicon: &Lexicon, token: &Token, piece: &str) -> Item {
    let figure = tokens(piece).into_iter().next();
    Item {
        range: token.range.clone(),
        key: compact(piece),
        names: lexicon.names.get(piece).map(|id| (*id, 0.95)).into_iter().collect(),
        meanings: lexicon.phrases.get(&compact(piece)).cloned().unwrap_or_default(),
        number: figure.as_ref().and_then(|t| t.number),
        pack: figure.as_ref().and_then(|t| t.pack),
        readings: figure.map(|t| t.readings).unwrap_or_default(),
        ..Item::default()
    }
}

/// `6 cores`: the number takes the label behind it (or before it) as its unit.
fn labelled(lexicon: &Lexicon, out: &mut [Item]) {
    let mut at = 0;
    while at < out.len() {
        let label = out.get(at + 1).and_then(|next| lexicon.labels.get(&next.key)).cloned();
        if let (Some(item), Some(fields)) = (out.get_mut(at), label)
            && let Some(value) = item.number.filter(|_| item.readings.is_empty())
        {
            item.readings.extend(fields.into_iter().map(|unit| Reading { unit, value }));
            if let Some(next) = out.get_mut(at + 1) {
                next.filler = true;
                next.names.clear();
                next.meanings.clear();
            }
        }
        at += 1;
    }
}

/// Of "no wifi needed" and "without a fan": the wifi, the fan.
fn mark_negated(text: &str, out: &mut [Item]) {
    let mut at = 0;
    while at < out.len() {
        let says = out.get(at).is_some_and(|i| {
            words().has("without", &super::words::plain(text.get(i.range.clone()).unwrap_or("")))
        });
        // An article may stand between.
        let next = (at + 1..out.len().min(at + 3)).find(|i| out.get(*i).is_some_and(|i| !i.filler));
        if let Some(next) = next.filter(|_| says)
            && let Some(item) = out.get_mut(next)
            && !item.apart
            && (!item.meanings.is_empty() || !item.names.is_empty())
            && item.key.chars().all(char::is_alphabetic)
        {
            item.negated = true;
            if let Some(no) = out.get_mut(at) {
                no.filler = true;
                no.names.clear();
                no.meanings.clear();
            }
        }
        at += 1;
    }
}

fn mark_apart(text: &str, out: &mut [Item]) {
    let mut end = 0;
    for item in out {
        let between = text.get(end..item.range.start.max(end)).unwrap_or("");
        item.apart = between
            .contains([',', ';', '(', ')', '[', ']', '|', ':', '\n', '–', '—', '/'])
            || between.contains(" - ");
        end = item.range.end;
    }
}
