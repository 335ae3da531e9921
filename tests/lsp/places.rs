//! Where a user presses the key: a text with the cursor in it, what is offered first, and what is
//! not offered.

use serde_json::Value;

use super::client::{Client, uri};
use super::law::position;
use crate::common::desk::Desk;

/// The cursor in a text.
const CURSOR: char = '‸';

/// A place: a file, its text, words among the first five that are offered, words that are not
/// offered at all.
type Place = (&'static str, &'static str, &'static [&'static str], &'static [&'static str]);

const PLACES: &[Place] = &[
    // Lists.
    (
        "a.toml",
        "[[line]]\npart = \"supply/mill‸\"\n",
        &["supply/millrace-300"],
        &["board/thwart-p6"],
    ),
    ("a.toml", "[[line]]\npart = \"sup‸\"\n", &["supply/"], &["board/", "fan/"]),
    ("a.toml", "[[line]]\npart = \"‸\"\n", &["adapter/", "board/"], &[]),
    ("a.toml", "[[line]]\npart = ‸\n", &["adapter/"], &["true"]),
    ("a.toml", "[[line]]\nany = \"gr‸\"\n", &[], &["part"]),
    ("a.toml", "[[line]]\npart = \"fan/lull-120\"\nmo‸\n", &[], &["part", "priced_on"]),
    ("a.toml", "[[line]]\npart = \"fan/lull-120\"\nmount = \"‸\"\n", &["front", "top"], &["in"]),
    ("a.toml", "[[line]]\npart = \"fan/lull-120\"\nowned = ‸\n", &["true", "false"], &[]),
    ("a.toml", "[[line]]\npart = \"fan/lull-120\"\nfacts = { ‸ }\n", &["name"], &["rated_w"]),
    ("a.toml", "[[line‸]]\npart = \"fan/lull-120\"\n", &["[[line]]", "[[waive]]"], &["[[case]]"]),
    (
        "a.toml",
        "[[line]]\npart = \"supply/millrace-300\"\n[[waive]]\nrule = \"power.‸\"\n",
        &[],
        &["fan/lull-120"],
    ),
    (
        "a.toml",
        "[[line]]\npart = \"supply/millrace-300\"\n[[waive]]\nsubject = \"‸\"\n",
        &["build", "supply/millrace-300"],
        &["fan/lull-120"],
    ),
    ("a.toml", "‸\n[[line]]\npart = \"fan/lull-120\"\n", &[], &["part", "glow_w"]),
    ("a.toml", "purpose = \"‸\"\n[[line]]\npart = \"fan/lull-120\"\n", &["office"], &["front"]),
    ("a.toml", "priced_on = ‸\n[[line]]\npart = \"fan/lull-120\"\n", &["2026-11-20"], &["true"]),
    // Briefs.
    ("b.toml", "minimise = \"air‸\"\n[[line]]\nany = \"fan\"\n", &["airflow.noise"], &["fan"]),
    // Parts.
    ("catalogue/parts/x.toml", "kind = \"supply\"\n[a]\nrat‸\n", &[], &["refresh_hz", "part"]),
    ("catalogue/parts/x.toml", "kind = \"fan\"\n[a]\ncontrol = \"‸\"\n", &["pwm"], &["true"]),
    ("catalogue/parts/x.toml", "kind = \"‸\"\n", &["adapter", "board"], &["true"]),
    ("catalogue/parts/x.toml", "kind = \"fan\"\ncomplete = ‸\n", &["true", "false"], &["fan"]),
    ("catalogue/parts/x.toml", "kind = \"fan\"\n[a]\nlacks = [\"‸\"]\n", &[], &["rated_va"]),
    // Kinds.
    ("catalogue/kinds/y.toml", "kind = \"y\"\nhe‸\n", &[], &["unit", "part"]),
    ("catalogue/kinds/y.toml", "kind = \"y\"\nheat = \"‸\"\n", &["processor", "cards"], &["pc"]),
    ("catalogue/kinds/y.toml", "kind = \"y\"\n[field.a_w]\n‸\n", &["type", "unit"], &["heat"]),
    (
        "catalogue/kinds/y.toml",
        "kind = \"y\"\n[field.a_w]\ntype = \"‸\"\n",
        &["number", "text", "flag"],
        &["processor"],
    ),
    (
        "catalogue/kinds/y.toml",
        "kind = \"y\"\n[field.a]\ntype = \"text\"\nfrom = \"‸\"\n",
        &["board_form", "connector"],
        &["number"],
    ),
    (
        "catalogue/kinds/y.toml",
        "kind = \"y\"\nranks = [\"‸\"]\n[field.a_w]\ntype = \"number\"\nunit = \"W\"\n",
        &["a_w"],
        &["unit"],
    ),
    // Tables.
    ("catalogue/tables/z.toml", "table = \"z\"\n‸\n", &["meaning", "source"], &["type", "unit"]),
    (
        "catalogue/tables/z.toml",
        "table = \"z\"\n[column.warm]\n‸\n",
        &["type", "unit"],
        &["source"],
    ),
    (
        "catalogue/tables/z.toml",
        "table = \"z\"\n[column.warm]\ntype = \"number\"\n[row.amber]\n‸\n",
        &["warm"],
        &["type", "source"],
    ),
    // Offers.
    ("catalogue/offers/o.csv", "part,seller,‸\n", &["seen_on", "price", "currency"], &["part"]),
    (
        "catalogue/offers/o.csv",
        "part,seller,seen_on,price,currency\nfan/lul‸\n",
        &["fan/lull-120"],
        &["board/thwart-p6"],
    ),
    (
        "catalogue/offers/o.csv",
        "part,seller,seen_on,price,currency\nfan/lull-120,‸\n",
        &["Causeway Parts"],
        &["fan/lull-120"],
    ),
    (
        "catalogue/offers/o.csv",
        "part,seller,seen_on,price,currency\nfan/lull-120,Causeway Parts,‸\n",
        &["2026-11-20"],
        &["Causeway Parts"],
    ),
    // Settings, waivers, cases.
    ("rules/settings.toml", "[house.least_w]\n‸\n", &["value", "unit"], &["level", "off"]),
    ("rules/settings.toml", "[rule.\"power.headroom\"]\n‸\n", &["level", "off"], &["value"]),
    (
        "rules/settings.toml",
        "[rule.\"power.headroom\"]\nlevel = \"‸\"\n",
        &["stop", "caution", "advice"],
        &["true"],
    ),
    ("rules/waivers.toml", "[[waive]]\n‸\n", &["rule", "subject", "reason"], &["part", "level"]),
    ("rules/waivers.toml", "[[waive]]\nrule = \"power.head‸\"\n", &["power.headroom"], &["build"]),
    ("rules/h.cases.toml", "[[case]]\n[[case.find]]\n‸\n", &["rule", "level"], &["part", "kind"]),
    (
        "rules/h.cases.toml",
        "[[case]]\n[[case.line]]\nkind = \"‸\"\n",
        &["adapter", "board"],
        &["power.headroom"],
    ),
    // The shop's own file.
    ("dryfit.toml", "‸\n", &["rules", "catalogue"], &["part", "line"]),
    ("dryfit.toml", "fail_on = \"‸\"\n", &["stop", "caution", "advice"], &["true"]),
    ("dryfit.toml", "[shop]\n‸\n", &["name", "address"], &["fail_on", "packs"]),
    ("dryfit.toml", "[shop.tax]\nincluded = ‸\n", &["true", "false"], &[]),
    ("dryfit.toml", "[packs.bench]\n‸\n", &["folder", "git"], &["name", "fail_on"]),
    // Rules.
    ("rules/h.rhai", "//! H.\n\nfn a(build) { build.su‸ }\n", &[], &["refresh_hz"]),
    (
        "rules/h.rhai",
        "//! H.\n\nfn a(build) { let s = build.supply; s.rat‸ }\n",
        &["rated_w"],
        &["refresh_hz"],
    ),
];

/// What is offered, in the order in which an editor shows it, fitting what was typed.
fn offered(answer: &Value) -> Vec<String> {
    let items = answer.get("items").unwrap_or(answer).as_array().cloned().unwrap_or_default();
    items.iter().map(|item| item["label"].as_str().unwrap_or("").to_owned()).collect()
}

#[test]
fn what_is_offered_fits_the_place() {
    let mut wrong = Vec::new();
    let desk = Desk::new();
    // A folder counts as the shop's once a sound file is in it.
    desk.write("catalogue/parts/base.toml", "kind = \"fan\"\n");
    desk.write("rules/settings.toml", "[base.x]\nvalue = 1\nmeaning = \"base\"\n");
    for folder in ["kinds", "tables", "offers"] {
        std::fs::create_dir_all(desk.path("catalogue").join(folder)).unwrap();
    }
    let mut client = Client::start(&desk, &["utf-16"]);
    let warm = uri(&desk.path("desk.toml"));
    client.open(&warm, &desk.read("desk.toml"));
    client.said(&warm, Some(1));
    for (file, marked, first, never) in PLACES {
        let at = marked.find(CURSOR).expect("the text has a cursor");
        let text = marked.replace(CURSOR, "");
        let name = uri(&desk.0) + "/" + *file;
        client.open(&name, &text);
        let place = position(&text, at, false);
        let number = |key: &str| place[key].as_u64().unwrap() as usize;
        let cursor = (number("line"), number("character"));
        let mut words = offered(&client.at("textDocument/completion", &name, cursor));
        if file.ends_with(".rhai") {
            // Of a script all is offered that the place takes; the editor keeps what was typed.
            let before = &text[..at];
            let typed =
                &before[before.rfind(|c: char| !c.is_alphanumeric()).map_or(0, |n| n + 1)..];
            words.retain(|word| word.starts_with(typed));
        }
        let among = &words[..words.len().min(5)];
        for word in first.iter().filter(|word| !among.contains(&(**word).to_owned())) {
            wrong.push(format!("{file}: {marked:?} does not offer {word} first: {among:?}"));
        }
        for word in never.iter().filter(|word| words.contains(&(**word).to_owned())) {
            wrong.push(format!("{file}: {marked:?} offers {word}"));
        }
        if words.is_empty() {
            wrong.push(format!("{file}: {marked:?} offers nothing"));
        }
        // What can be completed is looked at from both ends, and nothing fails.
        client.at("textDocument/hover", &name, cursor);
        let closed = serde_json::json!({ "textDocument": { "uri": name } });
        client.notify("textDocument/didClose", closed);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(PLACES.len() >= 40);
}
