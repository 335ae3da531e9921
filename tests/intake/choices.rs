//! A choice that a row leaves, what is the customer's, and columns without known heads.

use dryfit::inside::intake::{Aliases, Intake, Row, State, Text};

use super::sentences::read;

#[test]
fn a_loose_choice_leaves_the_part_that_is_named_in_question() {
    for (text, named) in [
        ("PSU: Tarn 650, otherwise any 650 W gold one", "supply/tarn-650"),
        ("alim : Tarn 650, sinon n'importe quelle 650 W gold", "supply/tarn-650"),
        ("Kühler: Haar Twin 140, sonst Wasserkühlung mit 280 mm", "cooler/haar-twin-140"),
        ("Kühler: Haar Twin 140, sonst eine mit 280er Radiator", "cooler/haar-twin-140"),
        ("SSD: Lade 1000, sonst irgendeine mit 1 TB", "storage/lade-1000"),
        ("Tarn 650 // gold one please", "supply/tarn-650"),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        let shown = row.candidates.iter().take(3).any(|(id, _)| id == named);
        assert!(row.state == State::Unsure && shown, "{text}: {row:#?}");
    }
}

#[test]
fn what_is_mine_is_there_and_what_is_optional_is_not_asked_for() {
    for (text, owned) in [
        ("GPU: I'll just move my Gannet Fetch 8 over", true),
        ("Mein Tarn 650 kommt wieder rein", true),
        ("GPU: a Gannet Fetch 8", false),
        ("Tarn 650 for my Gannet Fetch 8", false),
    ] {
        let rows = read(text);
        let taken = |row: &&Row| row.part.is_some() || !row.candidates.is_empty();
        let row = rows.iter().find(taken).unwrap_or_else(|| panic!("{text}: {rows:#?}"));
        assert_eq!(row.owned, owned, "{text}: {row:#?}");
    }
    for text in ["Option: Dunlin mouse", "Optional: Bittern headset", "en option : Lull 120"] {
        let rows = read(text);
        assert!(rows.iter().all(|row| row.state == State::Ignored), "{text}: {rows:#?}");
    }
}

#[test]
fn heads_of_columns_are_told_by_what_is_below_them() {
    let table = "Group;Type / Version;Qty;Net/pc.;Source\nGeh.;Netloft Seine;2;99,00;Netloft\n\
                 Proc.;Dotterel 508;2;201,50;Mudflat\nPSU;Tarn 650 Gold;2;83,00;\n";
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let rows = reader.read(&Text::Plain(table.to_owned())).expect("a list");
    let told: Vec<_> = rows
        .iter()
        .filter_map(|r| Some((r.part.as_deref()?, r.count, r.price.as_deref()?)))
        .collect();
    let expected = [
        ("chassis/netloft-seine", 2, "99.00"),
        ("processor/dotterel-508", 2, "201.50"),
        ("supply/tarn-650-gold", 2, "83.00"),
    ];
    assert_eq!(told, expected, "{rows:#?}");
}
