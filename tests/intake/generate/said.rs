//! What a row says of a part, and which parts that fits.

use std::collections::BTreeSet;

use super::facts::{Fits, fact};
use super::parts::{Part, num, parts, set};
use super::rng::Rng;
use super::spelling::{mangle, spelled};
use super::words::{SHOP, kind_words, lang_at};

/// A row's text about a part, and which parts it fits.
pub(super) struct Said {
    pub(super) text: String,
    pub(super) tags: Vec<&'static str>,
    pub(super) fits: Vec<&'static Part>,
    pub(super) exact: Vec<&'static Part>,
}

/// Which words of its name a part is called by, and whether its maker is among them or beside them.
fn words_said(part: &Part, rng: &mut Rng, maker_column: bool) -> (Vec<String>, bool) {
    let maker: Vec<&str> = part.maker.split(' ').collect();
    let own: Vec<String> = part.words.clone();
    let is_maker = |w: &str| maker.contains(&w);
    let named = own.iter().filter(|w| !is_maker(w)).count();
    let mut maker_said = maker_column || own.iter().any(|w| is_maker(w));
    let mut words: Vec<String> = own.clone();
    // Without its maker a name must still be one.
    let stays = part.kind == "graphics" && words[1].chars().all(char::is_alphabetic);
    let generic = matches!(part.kind.as_str(), "sound" | "input" | "hub" | "adapter");
    if maker_column && named >= 1 && !generic || stays && named >= 2 && rng.chance(25) {
        let before = words.len();
        if named >= 1 {
            words.retain(|w| !is_maker(w));
        }
        maker_said = maker_column || maker_said && words.len() == before;
    }
    // Leave a word out, seldom: then several fit.
    if words.len() > 1 && rng.chance(12) {
        let at = 1 + rng.below(words.len() - 1);
        words.remove(at);
    }
    (words, maker_said)
}

/// Puts the word for its kind beside what is said of a part, or does not.
fn with_kind(text: &mut String, part: &Part, rng: &mut Rng, lang: &str) -> bool {
    let kinds = kind_words(&part.kind, lang);
    if kinds.is_empty() || !rng.chance(40) {
        return false;
    }
    let word = rng.pick(kinds);
    *text = match rng.below(3) {
        0 => format!("{text} {word}"),
        1 => format!("{word} {text}"),
        _ => format!("{word}: {text}"),
    };
    true
}

/// Says a part with some of its words and some of its facts.
pub(super) fn say(part: &'static Part, rng: &mut Rng, lang: &str, maker_column: bool) -> Said {
    let mut tags = Vec::new();
    let (words, maker_said) = words_said(part, rng, maker_column);
    let mut said = set(&words, &part.maker);
    let mut filters: Vec<Fits> = Vec::new();
    let mut shown: Vec<String> = Vec::new();
    if part.kind == "memory" && words.len() >= 4 && rng.chance(75) {
        shown = memory(part, rng, &mut filters);
        said = BTreeSet::from([part.words[0].to_lowercase(), part.words[1].to_lowercase()]);
        if part.words.last().is_some_and(|w| w == "registered") {
            shown.push("registered".into());
            said.insert("registered".into());
        }
        tags.push("units");
    } else {
        for word in &words {
            let (text, changed) = spelled(part, word, rng);
            if changed && text != *word {
                tags.push("units");
            }
            shown.push(text);
        }
    }
    mangle(&mut shown, part, rng, &mut tags);
    let mut text = if rng.chance(8) { shown.join("  ") } else { shown.join(" ") };
    for _ in 0..rng.below(3) {
        if let Some((words, fits)) = fact(part, rng, lang) {
            if rng.chance(75) {
                text = format!("{text} {words}")
            } else {
                text = format!("{words} {text}")
            }
            filters.push(fits);
        }
    }
    let kind_said = with_kind(&mut text, part, rng, lang);
    if rng.chance(12) {
        let word = rng.pick(SHOP[lang_at(lang)]);
        tags.push("shopword");
        text = if rng.chance(40) { format!("{word} {text}") } else { format!("{text} {word}") };
    }
    let all: Vec<&'static Part> = parts()
        .iter()
        .filter(|p| {
            (!maker_said || p.maker == part.maker)
                && (!kind_said || p.kind == part.kind)
                && set(&p.words, &p.maker).is_superset(&said)
                && filters.iter().all(|f| f(p))
        })
        .collect();
    let exact = all
        .iter()
        .copied()
        .filter(|p| {
            set(&p.words, &p.maker) == said || p.kind == "memory" && tags.contains(&"units")
        })
        .collect();
    Said { text, tags, fits: all, exact }
}

/// Memory as everyone writes it: `DDR5-6000 32 GB (2x16 GB)`.
fn memory(part: &Part, rng: &mut Rng, filters: &mut Vec<Fits>) -> Vec<String> {
    let (count, each, mts) = (
        num(part, "modules").unwrap_or(1.0),
        num(part, "module_gb").unwrap_or(1.0),
        num(part, "mts").unwrap_or(1.0),
    );
    let total = count * each;
    let (family, ddr) = (part.words[0].clone(), part.words[1].clone());
    filters.push(Box::new(move |p| num(p, "mts") == Some(mts)));
    let packed: Fits =
        Box::new(move |p| num(p, "modules") == Some(count) && num(p, "module_gb") == Some(each));
    let whole: Fits = Box::new(move |p| {
        num(p, "modules").unwrap_or(0.0) * num(p, "module_gb").unwrap_or(0.0) == total
    });
    match rng.below(4) {
        0 => {
            filters.push(packed);
            vec![family, format!("{ddr}-{mts} {total} GB ({count}x{each} GB)")]
        }
        1 => {
            filters.push(packed);
            vec![family, format!("{count}x{each}GB {ddr} {mts}MHz")]
        }
        2 => {
            filters.push(whole);
            vec![family, format!("{total}GB Kit {ddr}-{mts}")]
        }
        _ => {
            filters.push(whole);
            vec![family, format!("{total} GB {ddr} {mts} MT/s")]
        }
    }
}
