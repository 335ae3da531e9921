//! Where a row says that fans go: the row without its place and the same row with one must name the
//! same part, count and price, and the place must be the one said.

use super::generate::rng::Rng;
use crate::common::share;
use dryfit::inside::intake::{Aliases, Intake, Row, Text};

/// Places as people write them, each with its mount and way.
const PLACES: &[(&str, &str, Option<&str>)] = &[
    ("front", "front", None),
    ("in the front", "front", None),
    ("for the front", "front", None),
    ("front intake", "front", Some("in")),
    ("rear", "rear", None),
    ("at the back", "rear", None),
    ("rear exhaust", "rear", Some("out")),
    ("rear (exhaust)", "rear", Some("out")),
    ("intake, bottom", "bottom", Some("in")),
    ("on top", "top", None),
    ("top, blowing out", "top", Some("out")),
    ("side panel", "side", None),
    ("vorne", "front", None),
    ("für hinten", "rear", None),
    ("im Deckel", "top", None),
    ("à l'avant", "front", None),
    ("à l'arrière", "rear", None),
];

/// How a row stands with its place.
const SHAPES: &[&str] =
    &["NAME PLACE", "2x NAME, PLACE", "- NAME (PLACE)", "3 x NAME - PLACE 9.90"];

fn rows(reader: &Intake<'_>, text: &str) -> Vec<Row> {
    reader.read(&Text::Plain(text.to_owned())).expect("a list")
}

#[test]
fn a_place_changes_nothing_else_of_a_row() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let fan = catalogue.kind_id("fan").expect("fans");
    let (mut nth, mut tried) = (0, 0);
    for part in catalogue.parts().filter(|p| p.kind == fan) {
        for (place, mount, flow) in PLACES {
            // Each part meets each place, and the shapes in turn.
            let shape = SHAPES[nth % SHAPES.len()];
            nth += 1;
            let with = shape.replace("NAME", &part.name).replace("PLACE", place);
            let without = shape.replace("NAME", &part.name);
            let without = without.replace("(PLACE)", "").replace(", PLACE", "");
            let without = without.replace("- PLACE", "").replace("PLACE", "");
            let [plain] = &*rows(&reader, &without) else { continue };
            let got = rows(&reader, &with);
            let [row] = &*got else { panic!("{with}: {got:#?}") };
            let said = |row: &Row| (row.part.clone(), row.count, row.price.clone());
            assert_eq!(said(row), said(plain), "{with}");
            let place = (row.mount.as_deref(), row.flow.as_deref());
            assert_eq!(place, (Some(*mount), *flow), "{with}");
            tried += 1;
        }
    }
    assert!(tried > 250, "{tried} rows");
}

#[test]
fn places_with_counts_are_lines_of_their_own() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let read = |text: &str| -> Vec<(u32, Option<String>)> {
        rows(&reader, text).into_iter().map(|r| (r.count, r.mount)).collect()
    };
    let at = |all: &[(u32, &str)]| -> Vec<(u32, Option<String>)> {
        all.iter().map(|(n, mount)| (*n, Some((*mount).to_owned()))).collect()
    };
    for (text, all) in [
        ("Lull 120: 2 front, 1 rear", at(&[(2, "front"), (1, "rear")])),
        ("3x Lull 120, two in front and one at the back", at(&[(2, "front"), (1, "rear")])),
        ("Lull 120 (3x front, 2x top, 1x rear)", at(&[(3, "front"), (2, "top"), (1, "rear")])),
        ("2 Lull 120 vorne, 1 hinten", at(&[(2, "front"), (1, "rear")])),
        // The row has five and its places three: two are left without one.
        (
            "5x Lull 120 (2 front, 1 rear)",
            [at(&[(2, "front"), (1, "rear")]), vec![(2, None)]].concat(),
        ),
        // More places than pieces: which of them are right is for a person to say.
        ("3x Lull 120 (2 front, 2 rear)", vec![(3, None)]),
        // Of two places without counts neither is taken.
        ("- Lull 120 front, rear", vec![(1, None)]),
    ] {
        assert_eq!(read(text), all, "{text}");
    }
}

#[test]
fn only_what_is_mounted_has_a_place() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    for text in
        ["Skerry Holm with front fan", "Tarn 550, black back panel", "- USB-C front panel lead"]
    {
        let rows = rows(&reader, text);
        assert!(rows.iter().all(|r| r.mount.is_none() && r.flow.is_none()), "{text}: {rows:#?}");
    }
}

#[test]
fn praise_is_no_place() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    for (text, mount) in [
        ("- Lull 120, top!", None),
        ("- Lull 120, top fan", None),
        ("- 2x Lull 120 top quality and quiet", None),
        ("- Lull 120 top", Some("top")),
        ("- Lull 120 top exhaust", Some("top")),
        ("- Lull 120 top 9.90", Some("top")),
    ] {
        let rows = rows(&reader, text);
        assert!(rows.iter().all(|r| r.mount.as_deref() == mount), "{text}: {rows:#?}");
    }
}

#[test]
fn shares_and_places_go_together() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let read = |text: &str| -> Vec<(u32, bool, Option<String>)> {
        rows(&reader, text).into_iter().map(|r| (r.count, r.owned, r.mount)).collect()
    };
    let text = "- 4x Lull 120, 2 davon hab ich noch (zwei vorne, einer hinten)";
    let all = read(text);
    let of = |mount: Option<&str>| -> u32 {
        all.iter().filter(|(.., m)| m.as_deref() == mount).map(|(n, ..)| *n).sum()
    };
    assert_eq!((of(Some("front")), of(Some("rear")), of(None)), (2, 1, 1), "{all:?}");
    let owned: u32 = all.iter().filter(|(_, owned, _)| *owned).map(|(n, ..)| *n).sum();
    assert_eq!(owned, 2, "{all:?}");
    let list = rows(&reader, text);
    assert!(list.iter().any(|r| r.placed == Some((3, 4))), "it says so: {list:#?}");
}

/// Words of which the phrases for places, shares and counts are made, and what stands around them.
const PIECES: &[&str] = &[
    "Lull 120",
    "front",
    "in",
    "in front",
    "blowing",
    "blowing in",
    "out",
    "rear",
    "back panel",
    "at the",
    "back",
    "intake",
    "exhaust",
    "top",
    "side",
    "unten",
    "vorne",
    "dran",
    "à l'avant",
    "en",
    "haut",
    "2",
    "2x",
    "one",
    "two",
    "3 x",
    "of them",
    "davon",
    "dont",
    "already",
    "here",
    "have",
    "schon",
    "vorhanden",
    "déjà là",
    "and",
    "und",
    ",",
    "(",
    ")",
    "-",
    "|",
    "İ",
    "9.90",
    "EUR",
    "×",
];

#[test]
fn no_order_of_these_words_breaks_the_reader() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let mut rng = Rng(26);
    for _ in 0..share::of(240) {
        let row = |rng: &mut Rng| -> String {
            let words: Vec<&str> = (0..3 + rng.below(6)).map(|_| rng.word(PIECES)).collect();
            format!("- Lull 120 {}\n", words.join(" "))
        };
        let text: String = (0..40).map(|_| row(&mut rng)).collect();
        // A count that no list has is refused; all else is read, no row lost.
        if let Ok(rows) = reader.read(&Text::Plain(text.clone())) {
            assert!((1..=40).all(|line| rows.iter().any(|r| r.line == line)), "{text}");
        }
    }
}
