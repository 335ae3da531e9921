//! The law of edits over every kind of file that the server knows: after any edits of any of them,
//! what is said of each is what a fresh server says of the final texts.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::client::{Client, uri};
use super::law::{Dice, edit, position};
use crate::common::desk::Desk;
use crate::common::share;

/// A file of each kind, in order, small enough that an edit hits something.
const FILES: &[(&str, &str)] = &[
    (
        "desk.toml",
        "title = \"Desk\"\npriced_on = 2026-11-20\n\n[[line]]\npart = \"supply/millrace-300\"\n\n\
         [[line]]\npart = \"graphics/spindrift-maelstrom-32\"\n\n[[line]]\npart = \
         \"lantern/wick-4\"\ncount = 2\n",
    ),
    (
        "brief.toml",
        "title = \"Brief\"\npriced_on = 2026-11-20\nminimise = \"price\"\n\n[[line]]\nany = \
         \"supply\"\n",
    ),
    (
        "dryfit.toml",
        "replaces = [\"ups\"]\nreason = \"none here\"\n\n[shop]\nname = \"Quay Bench\"\n",
    ),
    (
        "rules/house.rhai",
        "//! The house.\n\n/// Bright enough.\n/// Basis: common practice, no source.\n/// Remedy: a \
         brighter one.\nfn bright(build) {\n    for lantern in build.all(\"lantern\") {\n        \
         if lantern.glow_w < setting(\"least_w\") {\n            caution(\"{l} is dim\", #{ l: \
         lantern });\n        }\n    }\n}\n",
    ),
    (
        "rules/house.cases.toml",
        "[[case]]\nname = \"dim\"\n[[case.line]]\nkind = \"lantern\"\nglow_w = 3\n[[case.find]]\nrule \
         = \"house.bright\"\nlevel = \"caution\"\n",
    ),
    (
        "rules/settings.toml",
        "[house.least_w]\nvalue = 5\nunit = \"W\"\nmeaning = \"the least glow\"\n\n\
         [rule.\"power.headroom\"]\noff = true\nreason = \"not here\"\n",
    ),
    (
        "rules/waivers.toml",
        "[[waive]]\nrule = \"house.bright\"\nsubject = \"lantern/wick-4\"\nreason = \"it is \
         meant to be dim\"\nby = \"jm\"\nuntil = 2030-01-01\n",
    ),
    (
        "catalogue/kinds/lantern.toml",
        "kind = \"lantern\"\ntitle = \"Lantern\"\nmeaning = \"a light\"\n\n[field.glow_w]\ntype = \
         \"number\"\nunit = \"W\"\nmin = 0\nmax = 90\nmeaning = \"its glow\"\n\n[field.tint]\ntype = \
         \"text\"\nfrom = \"tint\"\noptional = true\nmeaning = \"its colour\"\n",
    ),
    (
        "catalogue/tables/tint.toml",
        "table = \"tint\"\nmeaning = \"tints\"\nsource = \"common practice, no source\"\n\n\
         [column.warm]\ntype = \"number\"\nmeaning = \"how warm\"\n\n[row.amber]\nwarm = \
         1\n\n[row.slate]\nwarm = 0\n",
    ),
    (
        "catalogue/parts/lantern.toml",
        "kind = \"lantern\"\n\n[wick-4]\nname = \"Wick 4\"\nmaker = \"Wick\"\nglow_w = 4\ntint = \
         \"amber\"\n\n[wick-9]\nname = \"Wick 9\"\nmaker = \"Wick\"\n",
    ),
    (
        "catalogue/offers/ours.csv",
        "part,seller,seen_on,price,currency\nlantern/wick-4,Quay Bench,2026-11-01,9.00,EUR\n",
    ),
];

/// What is said of each file, by its name.
type Told = BTreeMap<String, Vec<Value>>;

/// An open session with every file.
struct Session {
    client: Client,
    desk: Desk,
    versions: BTreeMap<String, i64>,
    told: Told,
}

impl Session {
    fn open(texts: &BTreeMap<&str, String>, utf8: bool) -> Self {
        let desk = Desk::new();
        for (name, text) in FILES {
            desk.write(name, text);
        }
        let offers: &[&str] = if utf8 { &["utf-8"] } else { &["utf-16"] };
        let client = Client::start_asked_to_refresh(&desk, offers);
        let (versions, told) = (BTreeMap::new(), Told::new());
        let mut session = Self { client, desk, versions, told };
        for (name, _) in FILES {
            session.versions.insert((*name).to_owned(), 1);
            session.client.open(&session.uri(name), &texts[name]);
        }
        // A change of nothing, after which all of it has been looked at.
        session.change("rules/house.rhai", json!([{ "text": texts["rules/house.rhai"] }]));
        session
    }

    fn uri(&self, name: &str) -> String {
        uri(&self.desk.0) + "/" + name
    }

    /// Changes a file, and waits until everything that rests on it was looked at.
    fn change(&mut self, name: &str, changes: Value) {
        let file = self.uri(name);
        let version = self.versions.get_mut(name).expect("it is open");
        *version += 1;
        let version = *version;
        self.client.change(&file, version, changes);
        let of_layer = name.contains('/') || name == "dryfit.toml";
        let mut said = false;
        loop {
            let message = self.client.take(|m| m.get("method").is_some());
            if message["method"] == "workspace/inlayHint/refresh" && said {
                return;
            }
            if message["method"] != "textDocument/publishDiagnostics" {
                continue;
            }
            let params = &message["params"];
            said |= params["uri"] == file && params["version"] == version;
            let name = params["uri"].as_str().unwrap().replace(&uri(&self.desk.0), "");
            let all = params["diagnostics"].as_array().unwrap();
            let now = all.iter().filter(|d| d["data"]["before"] != true).cloned();
            self.told.insert(name.clone(), now.collect());
            if said && !of_layer {
                return;
            }
        }
    }

    /// What is said, with the folder's name out of it.
    fn told(&self) -> BTreeMap<String, Vec<String>> {
        let (folder, plain) = (uri(&self.desk.0), self.desk.0.display().to_string());
        let text = |d: &Value| d.to_string().replace(&folder, "").replace(&plain, "");
        let said = self.told.iter().filter(|(_, all)| !all.is_empty());
        said.map(|(name, all)| (name.clone(), all.iter().map(text).collect())).collect()
    }

    /// Whether lists are audited with a catalogue of before, as the newest does not load; a fresh
    /// server has none.
    fn is_stale(&self) -> bool {
        self.told.values().flatten().any(|d| d["code"] == "stale")
    }
}

#[test]
fn after_any_edits_of_any_file_the_same_is_said_as_by_a_fresh_server() {
    let mut dice = Dice::new();
    let (mut compared, mut stale) = (0, 0);
    for utf8 in [false, true] {
        let good: BTreeMap<&str, String> =
            FILES.iter().map(|(name, text)| (*name, (*text).to_owned())).collect();
        let mut texts = good.clone();
        let mut session = Session::open(&texts, utf8);
        let clean = session.told();
        let wrong = |d: &&String| d.contains("\"severity\":1");
        let of_layers = clean.iter().filter(|(name, _)| !name.ends_with("desk.toml"));
        let wrong: Vec<_> = of_layers.flat_map(|(_, all)| all.iter().filter(wrong)).collect();
        assert!(wrong.is_empty(), "the files are sound: {wrong:#?}");
        for round in 0..if share::whole() { 150 } else { 7 } {
            let (name, sound) = FILES[dice.roll(FILES.len())];
            let text = texts.get_mut(name).expect("each is there");
            let (start, end, new) = edit(&mut dice, text, sound);
            let cuts = |at: usize| text[..at].ends_with('\r') && text[at..].starts_with('\n');
            if cuts(start) || cuts(end) {
                continue;
            }
            let range = json!({
                "start": position(text, start, utf8), "end": position(text, end, utf8),
            });
            text.replace_range(start..end, &new);
            session.change(name, json!([{ "range": range, "text": new }]));
            if session.is_stale() {
                stale += 1;
            } else {
                let fresh = Session::open(&texts, utf8).told();
                assert_eq!(session.told(), fresh, "round {round}, after a change of {name}");
                compared += 1;
            }
            // A text that is left broken would hide what comes after.
            if dice.roll(3) > 0 {
                *texts.get_mut(name).expect("it is there") = sound.to_owned();
                session.change(name, json!([{ "text": sound }]));
            }
        }
        for (name, text) in FILES {
            session.change(name, json!([{ "text": text }]));
        }
        assert_eq!(session.told(), clean, "everything is put right again");
    }
    assert!(compared > stale, "{compared} compared, {stale} with a catalogue of before");
}
