//! What a row says of some of its pieces, and what a letter says of the whole list.

use dryfit::inside::intake::{Aliases, Intake, State, Text};

/// How people say that they have K of N; the row of N comes first.
const HAVE: &[&str] = &[
    "Nx NAME, K of them already here",
    "N x NAME (K already here)",
    "NAME xN, have K already",
    "Nx NAME, K davon schon vorhanden",
    "N NAME, davon habe ich K",
    "- Nx NAME, dont K déjà là",
];

#[test]
fn of_pieces_that_the_customer_has_the_others_are_bought() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    for name in ["Lull 120", "Offing 24", "Doldrum 120"] {
        for (n, k) in [(2, 1), (3, 2), (4, 2), (5, 1), (9, 8)] {
            for shape in HAVE {
                let text = shape.replace("NAME", name);
                let text = text.replace('N', &n.to_string()).replace('K', &k.to_string());
                let rows = reader.read(&Text::Plain(text.clone())).expect("a list");
                let counts: Vec<(u32, bool)> = rows.iter().map(|r| (r.count, r.owned)).collect();
                assert_eq!(counts, [(n - k, false), (k, true)], "{text}");
                assert!(rows.iter().all(|r| r.part.is_some()), "{text}: {rows:#?}");
            }
        }
        // Said of all, it is true of all.
        for shape in ["2x NAME, already here", "2x NAME, 2 of them already here"] {
            let text = shape.replace("NAME", name);
            let rows = reader.read(&Text::Plain(text.clone())).expect("a list");
            assert!(matches!(rows.as_slice(), [row] if row.owned && row.count == 2), "{text}");
        }
    }
}

#[test]
fn what_the_pc_is_for_is_taken_from_sentences_only() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let day = jiff::civil::date(2026, 11, 20);
    for (letter, purposes) in [
        ("Hello, this is a PC for the office, budget 900 EUR.", &["office"][..]),
        ("Wir brauchen einen Rechner fürs Büro.", &["office"]),
        ("C'est pour jouer, et le soir.", &["games"]),
        ("It is for drawing and a bit of gaming.", &["drawing", "games"]),
        ("A quiet one please, no gaming.", &[]),
        ("Many thanks from Petra.", &[]),
    ] {
        let text =
            format!("{letter}\n\n- Whimbrel 306\n- Thwart L1MW\n- Skerry Holm, gaming case\n");
        let rows = reader.read(&Text::Plain(text.clone())).expect("a list");
        let list = reader.list(&rows, "letter.txt", day);
        let said = |purpose: &str| format!("purpose = \"{purpose}\"");
        for purpose in purposes {
            assert!(list.contains(&said(purpose)), "{text}: {list}");
        }
        let sure = list.lines().filter(|l| l.starts_with("purpose = ")).count();
        assert_eq!(sure, usize::from(purposes.len() == 1), "{text}: {list}");
        assert_eq!(list.matches("purpose = ").count(), purposes.len(), "{text}: {list}");
    }
}

#[test]
fn a_price_that_was_seen_a_kit_and_a_refusal_are_what_they_say() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let read = |text: &str| {
        reader
            .read(&Text::Plain(format!("- Whimbrel 306\n- {text}\n")))
            .expect("a list")
            .split_off(1)
    };
    // "Hab ich" alone says that it is there, and with what it was seen for that it is not.
    for (text, owned) in [
        ("Gannet Fetch 12 - hab ich für 259,90 gesehen", false),
        ("Gannet Fetch 12, I have seen it at 259.90", false),
        ("Gannet Fetch 12, hab ich schon", true),
        ("Gannet Fetch 12, found in my old PC", true),
    ] {
        assert!(
            matches!(&*read(text), [row] if row.owned == owned && row.part.is_some()),
            "{text}"
        );
    }
    // What a text counts of a kit are its modules.
    for (text, modules, count) in [
        ("32 GB RAM DDR5, 2 Riegel", Some(2), 1),
        ("64GB DDR4 (4 sticks)", Some(4), 1),
        ("two kits of 32 GB DDR5", None, 2),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        let want = modules.map(|n| format!("modules == {n}"));
        let said = row.wants.iter().find(|w| w.starts_with("modules ==")).cloned();
        assert_eq!((said, row.count), (want, count), "{text}");
    }
    for text in ["Monitor erstmal nicht", "monitor not for now", "no monitor yet"] {
        assert!(read(text).iter().all(|row| row.state == State::Ignored), "{text}");
    }
    let both = read("1 TB NVMe, und die alte 4TB Platte bleibt drin");
    assert_eq!(both.iter().map(|r| r.owned).collect::<Vec<_>>(), [false, true], "{both:#?}");
}

#[test]
fn a_part_instead_of_another_is_never_bought_beside_it() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let read = |text: &str| reader.read(&Text::Plain(text.to_owned())).expect("a list");
    let first = |rows: &[dryfit::inside::intake::Row]| -> Vec<String> {
        let unsure = rows.iter().filter(|r| r.state == State::Unsure);
        unsure.flat_map(|r| r.candidates.iter().map(|(id, _)| id.clone())).collect()
    };
    // Asked, it is one question of the two.
    let asked = "- Leat SFX 450\n- Whimbrel 306P\n- Tarn 650 Gold instead of the Leat?\n";
    let rows = read(asked);
    let kept = rows.iter().filter(|r| r.state != State::Ignored).count();
    assert_eq!(kept, 2, "{rows:#?}");
    let both = ["supply/leat-450-sfx", "supply/tarn-650-gold"];
    assert!(both.iter().all(|id| first(&rows).iter().any(|c| c == id)), "{rows:#?}");
    // Said, the other is in doubt.
    for text in [
        "- Leat SFX 450\n- Whimbrel 306P\n- Tarn 650 Gold instead of the Leat\n",
        "Leat SFX 450\nWhimbrel 306P\ndrop the Leat SFX 450, get the Tarn 650 Gold\n",
        "Leat SFX 450\nWhimbrel 306P\ntoo loud, rather the Tarn 650 Gold\n",
    ] {
        let rows = read(text);
        let bought = |r: &&dryfit::inside::intake::Row| {
            r.state == State::Matched && r.kind.as_deref() == Some("supply")
        };
        let bought: Vec<&str> =
            rows.iter().filter(bought).filter_map(|r| r.part.as_deref()).collect();
        assert_eq!(bought, ["supply/tarn-650-gold"], "{text}: {rows:#?}");
    }
    // With no row of the other, the row asks by itself.
    let rows = read("- Whimbrel 306P\n- Tarn 650 Gold instead of the Leat SFX 450?\n");
    assert!(both.iter().all(|id| first(&rows).iter().any(|c| c == id)), "{rows:#?}");
}
