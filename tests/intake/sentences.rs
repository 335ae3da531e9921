//! What rows of talk come to: parts of sentences, what an unknown part is called, choices, and what
//! a row says more than the part that it names.

use dryfit::inside::intake::{Aliases, Intake, Row, State, Text};

pub(super) fn read(text: &str) -> Vec<Row> {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let rows = reader.read(&Text::Plain(format!("- Whimbrel 306\n- {text}\n"))).expect("a list");
    rows.into_iter().filter(|r| r.line == 2 && r.state != State::Ignored).collect()
}

#[test]
fn sentences_of_one_line_are_rows_where_each_is_of_a_part() {
    for text in [
        "Monitor he keeps. Old SATA SSD 1TB from his current pc goes in as well.",
        "Old SATA SSD 1 TB from my old pc. The monitor stays in use.",
        "Der Monitor bleibt in Betrieb. Alte SATA-SSD 1 TB habe ich noch.",
    ] {
        let rows = read(text);
        let mut kinds: Vec<&str> = rows.iter().filter_map(|r| r.kind.as_deref()).collect();
        kinds.sort_unstable();
        assert_eq!(kinds, ["display", "storage"], "{text}: {rows:#?}");
        assert!(rows.iter().all(|r| r.owned), "{text}: {rows:#?}");
        let drive = rows.iter().find(|r| r.kind.as_deref() == Some("storage"));
        let facts = drive.map_or_else(String::new, |r| format!("{:?}", r.facts));
        assert!(facts.contains("(\"gb\", Number(1000.0))"), "{text}: {rows:#?}");
        assert!(facts.contains("(\"interface\", Word(\"sata\"))"), "{text}: {facts}");
    }
    // Two that are named; and one with a remark, which stays one.
    let parts = |text: &str| read(text).into_iter().filter_map(|r| r.part).collect::<Vec<_>>();
    assert_eq!(parts("Tarn 650 Gold. Lade 1000."), ["supply/tarn-650-gold", "storage/lade-1000"]);
    assert_eq!(read("Tarn 650 Gold. The case has room for it.").len(), 1);
}

#[test]
fn a_name_holds_no_verb() {
    for (text, name) in [
        ("Old Tovell 2 TB drive goes in as well", "Old Tovell 2 TB drive"),
        ("Das Tovell-Netzteil kommt aus dem alten Rechner", "Tovell-Netzteil"),
        ("Graphics card Tovell Pyre 9 would be great", "Graphics card Tovell Pyre 9"),
    ] {
        let rows = read(text);
        assert!(matches!(&*rows, [r] if r.name.as_deref() == Some(name)), "{text}: {rows:#?}");
    }
    // A part's kind in a sentence is no part with the sentence for a name.
    for text in [
        "I would take a hub so the fans can all be run together",
        "we could connect everything through a small hub if needed",
    ] {
        let rows = read(text);
        assert!(rows.iter().all(|r| r.state != State::Unknown && r.part.is_none()), "{rows:#?}");
    }
}

#[test]
fn about_so_much_of_a_maker_is_wanted_at_least() {
    for (text, wants) in [
        ("PSU: Leat 650 or so", &["maker == \"Leat\"", "rated_w >= 650"][..]),
        ("Netzteil: Penstock 900 oder ähnlich", &["maker == \"Penstock\"", "rated_w >= 900"]),
        ("PSU: some 600", &["rated_w >= 600"]),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        let mut wanted: Vec<&str> = row.wants.iter().map(String::as_str).collect();
        wanted.sort_unstable();
        assert_eq!((row.state, &*wanted), (State::Open, wants), "{text}");
    }
}

#[test]
fn a_choice_is_asked_whatever_is_known_of_its_sides() {
    for (text, first) in [
        ("GPU: Gannet Gale 12 or Bonxie Gale 8", "graphics/gannet-gale-12"),
        ("either a Lade 1000 or a Weir 1000", "storage/lade-1000"),
        ("PSU: either a Tovell 650 or a Tarn 650", "supply/tarn-650"),
        ("entweder Tarn 650 oder das Tovell 700", "supply/tarn-650"),
    ] {
        let rows = read(text);
        let shown = |r: &Row| r.candidates.iter().any(|(id, _)| id == first);
        assert!(matches!(&*rows, [r] if r.state == State::Unsure && shown(r)), "{text}: {rows:#?}");
    }
}

#[test]
fn what_a_row_says_more_than_a_part_has_puts_it_in_doubt() {
    for (text, better) in [
        ("HDMI cable, the fast one", "adapter/hdmi-lead-fast"),
        ("Fid HDMI lead 2 m, the fast one", "adapter/hdmi-lead-fast"),
        ("Tarn 650, the gold one", "supply/tarn-650-gold"),
        ("Lull 120 (the slim one)", "fan/lull-120-slim"),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        let shown = row.candidates.iter().take(3).any(|(id, _)| id == better);
        // What names no part is left open: nothing of it is sure.
        let asks = row.state == State::Unsure && shown || row.state == State::Open;
        assert!(asks || row.part.as_deref() == Some(better), "{text}: {row:#?}");
    }
}

#[test]
fn of_two_drives_of_a_row_one_may_be_there_already() {
    for text in [
        "ssd 2tb fast one, + the old 4TB hard disk from the choir pc",
        "2tb nvme plus my old 4 TB hard disk",
        "2 TB SSD und die alte 4TB Festplatte",
        "my old 4tb hard disk + 2tb nvme",
    ] {
        let rows = read(text);
        let [bought, had] = &*rows else { panic!("{text}: {rows:#?}") };
        let (bought, had) = if bought.owned { (had, bought) } else { (bought, had) };
        assert_eq!((bought.state, bought.owned), (State::Open, false), "{text}: {rows:#?}");
        assert!(bought.wants.contains(&"gb >= 2000".to_owned()), "{text}: {bought:#?}");
        let disk = format!("{:?}", had.facts);
        assert!(had.owned && had.part.is_none(), "{text}: {had:#?}");
        assert!(disk.contains("(\"gb\", Number(4000.0))"), "{text}: {disk}");
    }
}

#[test]
fn a_refusal_may_have_talk_before_it() {
    for text in [
        "graphics: we don't need one i guess",
        "GPU: I think we do not need one",
        "Grafikkarte: brauchen wir nicht",
    ] {
        assert!(read(text).is_empty(), "{text}: {:#?}", read(text));
    }
    // What is named before it is asked for.
    let rows = read("Cooler: Haar 120, no fan needed");
    assert!(matches!(&*rows, [r] if r.part.as_deref() == Some("cooler/haar-120")), "{rows:#?}");
}

#[test]
fn a_name_ends_where_somebody_is_spoken_of() {
    for (text, name) in [
        (
            "psu Corvane Stillwater 550, my brother has it lying around (he says 550W gold)",
            "Corvane Stillwater 550",
        ),
        ("psu Vardo Slab (my own, 650 W)", "Vardo Slab (650 W)"),
        ("case: Tolven Box (white, with window)", "Tolven Box (white, with window)"),
    ] {
        let rows = read(text);
        assert!(matches!(&*rows, [r] if r.name.as_deref() == Some(name)), "{text}: {rows:#?}");
    }
}

#[test]
fn a_short_word_is_no_misspelled_kind() {
    let kind = |text: &str| read(text).first().and_then(|r| r.kind.clone());
    assert_eq!(kind("monitor Lumen Pane X, which he bought").as_deref(), Some("display"));
    assert_eq!(kind("processer Tolven 9").as_deref(), Some("processor"));
    assert_ne!(kind("Lumen Pane, he has it").as_deref(), Some("paste"));
}

#[test]
fn what_somebody_else_has_already_is_not_bought() {
    for text in
        ["keyboard, she already has", "keyboard - he has one already", "keyboard they own it"]
    {
        let rows = read(text);
        assert!(matches!(&*rows, [r] if r.owned), "{text}: {rows:#?}");
    }
    let rows = read("27 inch monitor, she has a small desk");
    assert!(matches!(&*rows, [r] if !r.owned), "{rows:#?}");
}

#[test]
fn what_a_relative_clause_says_stays_is_the_customers() {
    for (text, kind) in [
        ("the 4TB disk we keep", "storage"),
        ("Maus und Tastatur, die wir behalten", "input"),
        ("der Monitor, der bleibt", "display"),
        ("la carte son que nous gardons", "sound"),
        ("le moniteur qui reste", "display"),
        ("the monitor that stays", "display"),
        ("we have an operating system", "os"),
        ("has a 500W PSU", "supply"),
    ] {
        let rows = read(text);
        let is = |r: &Row| r.owned && r.kind.as_deref() == Some(kind);
        assert!(matches!(&*rows, [r] if is(r)), "{text}: {rows:#?}");
    }
    // What it is to be like is none.
    for text in ["a case that stays quiet", "ein Gehäuse, das leise bleibt"] {
        assert!(read(text).iter().all(|r| !r.owned), "{text}: {:#?}", read(text));
    }
    let rows = read("has a 500W PSU, needs 750W gold");
    let [had, wanted] = &*rows else { panic!("{rows:#?}") };
    assert!(had.owned && !wanted.owned && wanted.kind.as_deref() == Some("supply"), "{rows:#?}");
    assert!(wanted.wants.contains(&"rated_w >= 750".to_owned()), "{wanted:#?}");
}

#[test]
fn a_limit_by_a_bare_number_keeps_the_part_and_the_words() {
    for (text, kind, wants) in [
        ("SSD 2TB max 120", "storage", &["gb >= 2000", "media == \"flash\""][..]),
        ("monitor 27 inch bis 200", "display", &["diagonal_in == 27"]),
        ("GPU 16GB max 300", "graphics", &["memory_gb >= 16"]),
        ("case, max 80", "chassis", &[]),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        let mut wanted: Vec<&str> = row.wants.iter().map(String::as_str).collect();
        wanted.sort_unstable();
        assert_eq!((row.state, row.kind.as_deref(), &*wanted), (State::Open, Some(kind), wants));
        assert_eq!(row.note.as_deref(), Some(text));
    }
    let rows = read("Lade 1000 max 80");
    let kept = |r: &Row| r.part.as_deref() == Some("storage/lade-1000") && r.note.is_some();
    assert!(matches!(&*rows, [r] if kept(r) && r.price.is_none()), "{rows:#?}");
    // "Max" is a word of a name too.
    let rows = read("Catspaw Max 120");
    assert!(matches!(&*rows, [r] if r.part.as_deref() == Some("fan/catspaw-120-max")), "{rows:#?}");
}

#[test]
fn or_better_widens_what_stands_before_it() {
    for (text, wants) in [
        (
            "650W PSU, gold or better",
            &["grade in [\"gold\", \"platinum\", \"titanium\"]", "rated_w >= 650"][..],
        ),
        (
            "Netzteil 650 W Platin oder besser",
            &["grade in [\"platinum\", \"titanium\"]", "rated_w >= 650"],
        ),
        (
            "alimentation 650 W or ou mieux",
            &["grade in [\"gold\", \"platinum\", \"titanium\"]", "rated_w >= 650"],
        ),
        ("27 inch monitor or bigger", &["diagonal_in >= 27"]),
        ("monitor, at least 27 inch, 144 Hz", &["diagonal_in >= 27", "refresh_hz >= 144"]),
        ("27 inch monitor, at least 144 Hz", &["diagonal_in == 27", "refresh_hz >= 144"]),
        ("1000 W PSU minimum, gold", &["grade == \"gold\"", "rated_w >= 1000"]),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        let mut wanted: Vec<&str> = row.wants.iter().map(String::as_str).collect();
        wanted.sort_unstable();
        assert_eq!((row.state, &*wanted), (State::Open, wants), "{text}");
    }
}

#[test]
fn packs_are_counted_and_what_is_for_later_is_not_bought() {
    for (text, count) in [
        ("3er-Pack Lull 120", 3),
        ("Lull 120, 3er-Pack", 3),
        ("Lull 120, pack of 3", 3),
        ("lot de 3 Lull 120", 3),
        ("2x Lull 120 3er-Pack", 6),
        ("two packs of 3 Lull 120", 6),
        ("Lull 120 (3-pack) x2", 6),
    ] {
        let rows = read(text);
        let is = |r: &Row| r.part.as_deref() == Some("fan/lull-120") && r.count == count;
        assert!(matches!(&*rows, [r] if is(r)), "{text}: {rows:#?}");
    }
    for text in [
        "later: Gannet Gale 12",
        "A later: Gannet Gale 12",
        "Gannet Gale 12 later",
        "Gannet Gale 12 (später)",
        "plus tard: Gannet Gale 12",
        "GPU: later",
    ] {
        assert!(read(text).is_empty(), "{text}: {:#?}", read(text));
    }
    let rows = read("Lade 1000 now, a second one later");
    assert!(matches!(&*rows, [r] if r.part.is_some() && r.count == 1), "{rows:#?}");
}

#[test]
fn a_kind_and_what_it_is_to_have_is_a_wish() {
    for (text, kind) in [
        ("case with two USB-C at the front", "chassis"),
        ("Gehäuse mit zwei USB-C vorne", "chassis"),
        ("a case with room for 2 disks", "chassis"),
        ("board with wifi and two M.2", "board"),
        ("needs an operating system", "os"),
        ("missing: 650W PSU", "supply"),
    ] {
        let rows = read(text);
        let is = |r: &Row| r.state == State::Open && r.kind.as_deref() == Some(kind);
        assert!(matches!(&*rows, [r] if is(r)), "{text}: {rows:#?}");
    }
}

#[test]
fn a_number_behind_a_name_is_a_price_only_where_offers_come_near_it() {
    for (text, price) in [
        ("Tarn 650 Gold 80", Some("80.00")),
        ("Whimbrel 306P 109", Some("109.00")),
        // A speed, a suffix, points a second.
        ("Marl 8T 7200", None),
        ("Clinker Dory 450", None),
        ("Dotterel 508 5000", None),
        ("Offing 27 144", None),
    ] {
        let rows = read(text);
        let [row] = &*rows else { panic!("{text}: {rows:#?}") };
        assert_eq!(row.price.as_deref(), price, "{text}: {row:#?}");
        assert_eq!(row.state == State::Matched, price.is_some(), "{text}: {row:#?}");
    }
}

/// What rows come to: part or kind, count, place and way.
fn placed(rows: &[Row]) -> Vec<(&str, u32, Option<&str>, Option<&str>)> {
    rows.iter()
        .map(|r| {
            let (mount, flow) = (r.mount.as_deref(), r.flow.as_deref());
            (r.part.as_deref().or(r.kind.as_deref()).unwrap_or(""), r.count, mount, flow)
        })
        .collect()
}

#[test]
fn fans_that_a_row_adds_to_a_case_do_not_hide_it() {
    let case = ("chassis/skerry-reef-20", 1, None, None);
    for text in [
        "Skerry Reef 20, 3 fans front in, 1 rear out",
        "Skerry Reef 20, 3 fans at the front blowing in, one rear exhaust",
        "Gehäuse: Skerry Reef 20, 3 Lüfter vorne rein, einer hinten raus",
    ] {
        let fans = [("fan", 3, Some("front"), Some("in")), ("fan", 1, Some("rear"), Some("out"))];
        assert_eq!(placed(&read(text)), [&[case][..], &fans].concat(), "{text}");
    }
    let named = ("fan/lull-120", 2, Some("front"), None);
    for text in ["Skerry Reef 20, 2x Lull 120 front", "Skerry Reef 20 + 2x Lull 120 in front"] {
        assert_eq!(placed(&read(text)), [case, named], "{text}");
    }
    // What it brings along is not bought.
    for text in [
        "Skerry Reef 20 (3 fans included, two in front)",
        "Skerry Reef 20, 3 fans in front included",
        "Skerry Reef 20, 2 Lüfter vorne vorinstalliert",
        "Skerry Reef 20 incl. 2 fans",
    ] {
        assert_eq!(placed(&read(text)), [case], "{text}");
    }
}

#[test]
fn a_number_before_a_kind_counts_it() {
    for (text, kind, count) in [
        ("3 Lüfter", "fan", 3),
        ("2 Lüfter 120 mm", "fan", 2),
        ("2 Platten 4 TB", "storage", 2),
        ("3 fans", "fan", 3),
    ] {
        assert_eq!(placed(&read(text)), [(kind, count, None, None)], "{text}");
    }
}

#[test]
fn a_family_tells_the_kind_of_a_part_that_the_catalogue_lacks() {
    for text in ["Dotterel 712X", "Dotterel 712X (or whatever is faster for the same money)"] {
        let rows = read(text);
        let is = |r: &Row| {
            r.state == State::Unknown
                && r.kind.as_deref() == Some("processor")
                && r.name.as_deref() == Some("Dotterel 712X")
        };
        assert!(matches!(&*rows, [r] if is(r)), "{text}: {rows:#?}");
    }
}

#[test]
fn one_of_two_things_that_a_kind_holds_is_told_to_a_person() {
    for (text, noted) in [
        ("a keyboard", true),
        ("eine Maus", true),
        ("un clavier", true),
        // The cheapest part of the kind is a mouse alone.
        ("keyboard and mouse", true),
        ("keyboard + mouse, cheap", true),
        ("Tastatur und Maus", true),
        ("peripherals", false),
    ] {
        let rows = read(text);
        let is = |r: &Row| r.kind.as_deref() == Some("input") && r.note.is_some() == noted;
        assert!(matches!(&*rows, [r] if is(r)), "{text}: {rows:#?}");
    }
}

#[test]
fn what_stays_is_the_customers_in_every_frame() {
    for (monitor, keyboard) in
        [("monitor", "keyboard"), ("Monitor", "Tastatur"), ("écran", "clavier")]
    {
        for frame in [
            "K stays",
            "K (27\", 1440p 144 Hz) stays",
            "K bleibt",
            "K reste",
            "K: à garder",
            "K: a garder",
        ] {
            for kind in [monitor, keyboard] {
                let text = frame.replace('K', kind);
                let rows = read(&text);
                assert!(!rows.is_empty() && rows.iter().all(|r| r.owned), "{text}: {rows:#?}");
            }
        }
        for frame in ["A she has, B too", "A wir haben, B auch"] {
            let text = frame.replace('A', monitor).replace('B', keyboard);
            let rows = read(&text);
            assert!(rows.len() == 2 && rows.iter().all(|r| r.owned), "{text}: {rows:#?}");
        }
    }
    // What stays in the old PC is no part of the list.
    for text in
        ["le disque dur de 8 To reste dans l'ancien PC", "the 8 TB disk stays in the old pc"]
    {
        assert!(read(text).is_empty(), "{text}: {:#?}", read(text));
    }
}

#[test]
fn a_number_in_words_before_a_name_and_one_more_are_counted() {
    for name in ["Sluice 1000", "Lull 120", "Offing 27"] {
        for (frame, count) in [
            ("N plus a second one", 2),
            ("N and another one for the other desk", 2),
            ("N und noch eins", 2),
            ("N et un deuxième", 2),
            ("2x N plus another one", 3),
            ("Für die Daten zwei N", 2),
            ("dazu zweimal das N", 2),
            ("three N", 3),
        ] {
            let text = frame.replace('N', name);
            let rows = read(&text);
            let is = |r: &Row| r.part.is_some() && r.count == count;
            assert!(matches!(&*rows, [r] if is(r)), "{text}: {rows:#?}");
        }
    }
}

#[test]
fn a_list_told_in_sentences_asks_for_what_it_names() {
    let catalogue = super::catalogue();
    let reader = Intake::new(&catalogue, Aliases::default());
    let parts =
        ["Dotterel 616P", "Strand P6", "Spindrift Overfall 24", "Undertow 360", "Scurry 1000"];
    for frame in [
        [
            "I take the X.",
            "It goes on the X.",
            "For games there is the X.",
            "The X keeps it cool.",
            "And it starts from the X.",
        ],
        [
            "Ich nehme den X.",
            "Er kommt auf das X.",
            "Als Grafikkarte nehmen wir die X.",
            "Gekuehlt wird mit einer X.",
            "System auf die X.",
        ],
    ] {
        let lines = frame.iter().zip(parts).map(|(line, part)| line.replace('X', part));
        let text = lines.collect::<Vec<_>>().join("\n");
        let rows = reader.read(&Text::Plain(text.clone())).expect("a list");
        let read = rows.iter().filter(|r| r.part.is_some()).count();
        assert_eq!(read, parts.len(), "{text}: {rows:#?}");
    }
}
