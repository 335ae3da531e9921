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
        ("Tarn 650 // or the 750", "supply/tarn-750"),
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
        ("HDMI cable to connect my Offing 27", false),
        ("Netloft Seine, if you have it", false),
        ("Lull 120, keep it quiet please", false),
        ("Lull 80, spare", false),
        ("Tarn 650, Rechnung wird gestellt auf die Firma", false),
        ("Offing 27 (wird gestellt)", true),
        ("Monitor stays, Offing 27", true),
        ("Printer stays, Dotterel 508", false),
        ("No Lull 120, we have Catspaw 120", true),
        ("no keyboard needed, I have a Knapper keyboard", true),
    ] {
        let rows = read(text);
        let taken = |row: &&Row| row.part.is_some() || !row.candidates.is_empty();
        let row = rows.iter().find(taken).unwrap_or_else(|| panic!("{text}: {rows:#?}"));
        assert_eq!(row.owned, owned, "{text}: {row:#?}");
    }
    for text in [
        "Option: Dunlin mouse",
        "Optional: Bittern headset",
        "en option : Lull 120",
        "Dunlin mouse (optional)",
        "no monitor",
        "kein Monitor",
        "my Tarn 650 died",
        "mein Tarn 650 ist kaputt",
        "Sell my Gannet Fetch 8",
        "ich nehme die Tarn 650 nicht",
        "je prends pas la Tarn 650",
    ] {
        let rows = read(text);
        assert!(rows.iter().all(|row| row.state == State::Ignored), "{text}: {rows:#?}");
    }
}

#[test]
fn a_row_is_not_lost_to_what_is_said_beside_its_part() {
    for (text, parts) in [
        ("Tarn 650, nicht mehr als 90 €", &["supply/tarn-650"][..]),
        ("my Tarn 650 died, so a Penstock 550 Platinum", &["supply/penstock-550-platinum"]),
        (
            "Netloft Seine without window, has a Tarn 650",
            &["chassis/netloft-seine", "supply/tarn-650"],
        ),
    ] {
        let rows = read(text);
        let found: Vec<&str> = rows.iter().filter_map(|r| r.part.as_deref()).collect();
        assert_eq!(found, parts, "{text}: {rows:#?}");
    }
    // A word that only begins that of a kind, and what is taken on a condition, ask for nothing.
    assert!(read("Cool.").iter().all(|r| r.kind.is_none()));
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let list = "Whimbrel 306\nI'd take the Tarn 650 if it were cheaper\nShingle 2000\n";
    let rows = reader.read(&Text::Plain(list.to_owned())).expect("a list");
    assert!(rows.iter().all(|r| r.part.as_deref() != Some("supply/tarn-650")), "{rows:#?}");
}

fn told(table: &str) -> Vec<(String, u32, Option<String>)> {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let rows = reader.read(&Text::Plain(table.to_owned())).expect("a list");
    rows.into_iter().filter_map(|r| Some((r.part?, r.count, r.price))).collect()
}

#[test]
fn what_is_said_of_one_is_a_price_only_where_its_head_says_so() {
    for (head, cell) in [("Gewicht/Stück", "0,2"), ("W/St", "65"), ("Stk/VE", "1")] {
        let table = format!(
            "Artikel;{head};Menge;Preis\nDotterel 508;{cell};2;201,50\nLull 120;{cell};4;12,00\n"
        );
        let expected = [
            ("processor/dotterel-508".to_owned(), 2, Some("201.50".to_owned())),
            ("fan/lull-120".to_owned(), 4, Some("12.00".to_owned())),
        ];
        assert_eq!(told(&table), expected, "{table}");
    }
    // The part stands where no head says so, and may stand among notes.
    let table = "Category;Notes;Qty\nProcessor;Dotterel 508;2\nFan;Lull 120;4\n";
    let parts: Vec<_> = told(table).into_iter().map(|(part, count, _)| (part, count)).collect();
    let expected = [("processor/dotterel-508".to_owned(), 2), ("fan/lull-120".to_owned(), 4)];
    assert_eq!(parts, expected);
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
