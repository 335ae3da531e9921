//! Pages and tables as makers and wholesalers write them, in forms that no generator makes.

use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::intake::Text;
use dryfit::inside::layer::Layer;
use dryfit::inside::partsheet::{Imported, SheetMap, import};
use serde_json::{Map, Value, json};

use super::{files_are_read, text_of};
use crate::common::by_hand;

/// The parts of a source as the score wants them.
fn parts(source: &Value) -> Value {
    let part = |one: &Value| {
        let fact =
            |(field, is): (&String, &Value)| (field.clone(), json!({ "is": is, "from": "" }));
        let must: Map<String, Value> =
            one["must"].as_object().into_iter().flatten().map(fact).collect();
        let may = one["may"].as_array().into_iter().flatten().filter_map(Value::as_str);
        let may: Map<String, Value> = may.map(|field| (field.to_owned(), Value::Null)).collect();
        json!({ "names": one["names"], "must": must, "may": may })
    };
    let all: Vec<Value> = source["part"].as_array().into_iter().flatten().map(part).collect();
    json!({ "parts": all })
}

#[test]
fn written_by_hand() {
    let folder = by_hand::folder("specs");
    let truth = std::fs::read_to_string(format!("{folder}/truth.toml")).expect("it is there");
    let truth: Value = toml::from_str(&truth).expect("it is TOML");
    let sources = truth["source"].as_array().expect("sources");
    files_are_read(sources.iter().map(|source| {
        let file = format!("{folder}/{}", text_of(&source["file"]));
        (file, text_of(&source["kind"]), parts(source))
    }));
}

/// A page's part of a kind.
fn part(kind: &str, text: &str) -> Imported {
    let catalogue = Catalogue::load(&[Layer::built_in_catalogue()]).expect("it is sound");
    let kind = catalogue.kind_id(kind).expect("a kind");
    let text = Text::Plain(text.to_owned());
    let parts = import(&catalogue, kind, &text, &SheetMap::default(), "page.txt");
    let [part] = &*parts.expect("it is read") else { panic!("one part") };
    part.clone()
}

fn given(part: &Imported, field: &str) -> Value {
    let read = part.fields.iter().find(|(name, _)| name == field);
    read.map_or(Value::Null, |(_, read)| read.value.clone())
}

#[test]
fn a_page_without_a_name_keeps_its_facts() {
    let facts = "Socket: P5\nForm factor: Micro-ATX\nMemory slots: 4\nChipset: Gannick B\n";
    for page in [facts.to_owned(), format!("Home > Motherboards\n\n{facts}- 2 x SATA\n")] {
        let part = part("board", &page);
        assert_eq!(part.name, "", "{page}");
        assert!(part.notes.iter().any(|n| n.starts_with("name:")), "{:?}", part.notes);
        for (field, value) in
            [("socket", json!("P5")), ("form", json!("micro-atx")), ("memory_slots", json!(4))]
        {
            assert_eq!(given(&part, field), value, "{field} of {page}");
        }
    }
    let named = part("board", &format!("Home > Motherboards\n\nBollard P5\n{facts}"));
    assert_eq!(named.name, "Bollard P5");
}

#[test]
fn a_note_tells_of_what_gave_no_value() {
    let page = |more: &str| format!("Drift 120\nSize: 120 x 120 x 25 mm\nSpeed: 1500 rpm\n{more}");
    let sides = part("fan", &page(""));
    assert_eq!(given(&sides, "size_mm").as_f64(), Some(120.0));
    assert!(sides.notes.is_empty(), "{:?}", sides.notes);
    let torn = part("fan", &page("Speed: 900 rpm\n"));
    assert!(torn.notes.iter().any(|n| n.starts_with("rpm:")), "{:?}", torn.notes);
}

#[test]
fn a_line_without_end_is_read_up_to_a_bound() {
    for filler in ["4 slots, ", "(4 ", "4 x 4 ", "it has 4 slots and 3 fans at 5 V, "] {
        let page = format!("Bollard P5\nMemory: DDR5, {}\nSocket: P5\n", filler.repeat(20_000));
        let part = part("board", &page);
        assert!(part.notes.iter().any(|n| n.contains("is read up to")), "{filler}");
        assert_eq!(given(&part, "socket"), json!("P5"), "{filler}");
        let longest = part.fields.iter().map(|(_, read)| read.from.chars().count()).max();
        assert!(longest < Some(4_100), "{filler}: {longest:?}");
    }
}

#[test]
fn a_figure_or_word_is_read_as_its_statement_has_it() {
    let leads = |text: &str| format!("Reed 850\n\nForm: ATX\nPower: 850 W\nLeads: {text}\n");
    let last = |value: &Value| value[0]["length_mm"].as_f64();
    for (text, mm) in [
        ("2x SATA with 4 plugs each, 500/150/150/150 mm", 950.0),
        ("1x SATA, 3 plugs, 450-120-120 mm", 690.0),
        ("1x SATA, 3 plugs, 500/650/800 mm", 800.0),
        ("1x SATA, 2 plugs, 45/15 cm", 600.0),
    ] {
        let value = given(&part("supply", &leads(text)), "leads");
        assert_eq!(last(&value), Some(mm), "{text}: {value}");
    }
    for (text, glass) in [
        ("steel with sound damping, no window", json!(false)),
        ("Stahl mit Dämmung, kein Fenster", json!(false)),
        ("with tempered glass", json!(true)),
        ("metal, with a window", json!(true)),
    ] {
        let page = format!("Alder 5\n\nSlots: 7\nHeight: 450 mm\nSide panel: {text}\n");
        assert_eq!(given(&part("chassis", &page), "glass"), glass, "{text}");
    }
    for (text, fans) in [("1x 120/140 mm", [1, 1]), ("2 x 120 / 140 mm", [2, 2])] {
        let page = format!("Alder 5\n\nSlots: 7\nHeight: 450 mm\nFans rear: {text}\n");
        let place = given(&part("chassis", &page), "mounts");
        let own = [&place[0]["fans_120"], &place[0]["fans_140"]];
        assert_eq!(own, [&json!(fans[0]), &json!(fans[1])], "{text}: {place}");
    }
    for (most, usual) in [
        ("Power consumption max.", "Power consumption"),
        ("Leistungsaufnahme maximal", "Leistungsaufnahme typisch"),
        ("Maximum power", "Typical power"),
    ] {
        let page = format!(
            "Delta 32\n\nResolution: 2560 x 1440\nRefresh rate: 144 Hz\n{most}: 190 W\n{usual}: 46 W\n"
        );
        assert_eq!(given(&part("display", &page), "wall_w"), json!(46.0), "{usual}");
    }
}
