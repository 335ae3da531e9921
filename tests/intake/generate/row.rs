//! A row before it is put into a form: what it says, and what it means.

use serde_json::Value;

use super::not_matched::{alternatives, near, open, unknown};
use super::parts::{Part, parts};
use super::rng::Rng;
use super::said::{Said, say};
use super::words::lang_at;

/// A row before it is put into a form.
pub(super) struct Row {
    pub(super) text: String,
    pub(super) maker: Option<String>,
    pub(super) count: u32,
    pub(super) price: Option<String>,
    pub(super) note: Option<String>,
    pub(super) owned: bool,
    pub(super) class: &'static str,
    pub(super) kind: Option<String>,
    pub(super) part: Option<String>,
    pub(super) fits: Vec<String>,
    pub(super) wants: Vec<Value>,
    pub(super) tags: Vec<&'static str>,
}

pub(super) fn classed(said: Said, part: &Part) -> Row {
    let (class, fits): (_, Vec<String>) = match (said.exact.as_slice(), said.fits.len()) {
        ([one], n) => (if n == 1 { "sure" } else { "either" }, vec![one.id.clone()]),
        ([_, ..], _) => ("ask", said.fits.iter().map(|p| p.id.clone()).collect()),
        (_, 1) => ("either", vec![part.id.clone()]),
        _ => ("ask", said.fits.iter().map(|p| p.id.clone()).collect()),
    };
    let named = class != "ask";
    let meant = fits.first().cloned();
    Row {
        text: said.text,
        maker: None,
        count: 1,
        price: None,
        note: None,
        owned: false,
        class,
        kind: Some(part.kind.clone()),
        part: meant.filter(|_| named),
        fits,
        wants: Vec::new(),
        tags: said.tags,
    }
}

pub(super) fn blank() -> Row {
    Row {
        text: String::new(),
        maker: None,
        count: 1,
        price: None,
        note: None,
        owned: false,
        class: "ignored",
        kind: None,
        part: None,
        fits: vec![],
        wants: vec![],
        tags: vec![],
    }
}

/// A row of the class *sure*, by its whole name.
pub(super) fn whole(rng: &mut Rng, kinds: &[&str]) -> Row {
    loop {
        let part: &'static Part = rng.pick(parts());
        let said =
            Said { text: part.words.join(" "), tags: vec![], fits: vec![part], exact: vec![part] };
        if kinds.contains(&part.kind.as_str()) {
            return classed(said, part);
        }
    }
}

/// What is said of a part that is there, by language.
const OWNED: [&[&str]; 3] = [
    &["already bought", "already have it", "from the old PC", "I own this", "reused"],
    &[
        "schon vorhanden",
        "habe ich schon",
        "aus dem alten PC",
        "bereits gekauft",
        "wird übernommen",
    ],
    &["déjà acheté", "j'ai déjà", "de l'ancien PC", "récupéré", "déjà là"],
];
/// Notes that say nothing of a part.
const NOTES: [&[&str]; 3] = [
    &[
        "important!",
        "free shipping",
        "must be in stock",
        "not sure about this one",
        "see page 4",
        "was 20 less last week",
    ],
    &["wichtig!", "siehe Katalog", "noch nicht sicher", "versandkostenfrei", "bitte prüfen"],
    &["important !", "à vérifier", "livraison gratuite", "voir catalogue", "pas encore sûr"],
];
/// What is said of a part that is no longer wanted.
const CANCELLED: [&[&str]; 3] = [
    &["cancelled", "no longer needed"],
    &["storniert", "entfällt"],
    &["annulé", "plus nécessaire"],
];

/// A row of any class, with what stands beside the part: pieces, a price, a note.
pub(super) fn one_row(rng: &mut Rng, lang: &str, maker_column: bool) -> Row {
    let mut row = match rng.below(100) {
        0..=67 => {
            let part: &'static Part = rng.pick(parts());
            let mut row = classed(say(part, rng, lang, maker_column), part);
            row.maker = maker_column.then(|| part.maker.clone());
            row
        }
        68..=79 => near(rng, lang),
        80..=87 => unknown(rng, lang),
        88..=95 => open(rng, lang),
        _ => alternatives(rng, lang),
    };
    if rng.chance(20) {
        row.count = 2 + rng.below(4) as u32;
        row.tags.push("qty");
    }
    if rng.chance(60) && row.class != "open" {
        let most = if rng.chance(15) { 2500 } else { 400 };
        row.price =
            Some(format!("{}.{:02}", 5 + rng.below(most), *rng.pick(&[99_usize, 90, 0, 50, 49])));
    }
    let note = |words: [&[&'static str]; 3], rng: &mut Rng| {
        Some(rng.word(words[lang_at(lang)]).to_string())
    };
    if rng.chance(10) && row.class != "open" {
        row.owned = true;
        row.note = note(OWNED, rng);
    } else if rng.chance(10) {
        row.note = note(NOTES, rng);
    }
    if rng.chance(5) {
        row.class = "ignored";
        row.tags.push("cancelled");
        row.owned = false;
        row.note = note(CANCELLED, rng);
    }
    row
}
