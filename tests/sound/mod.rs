//! Forty sound lists of shipped parts, beside those of the demo: a rule that speaks of many of them
//! speaks of nothing, so none may be heard on more than a third.

mod from_pages;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;

use dryfit::inside::kit::{Audit, Kit, Layers};
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use jiff::civil::date;
use serde::Deserialize;

/// The forty lists as they are written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    list: Vec<List>,
}

/// A sound list: `[count] part [mount flow]` a line.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    purpose: String,
    parts: Vec<String>,
}

impl List {
    /// The list as a customer's file.
    fn text(&self) -> String {
        let mut text =
            format!("purpose = \"{}\"\npriced_on = 2026-11-20\nyears = 4\n", self.purpose);
        for line in &self.parts {
            let mut words = line.split(' ').peekable();
            let count = words.next_if(|word| word.parse::<u32>().is_ok()).unwrap_or("1");
            let part = words.next().expect("a line names a part");
            write!(text, "[[line]]\npart = \"{part}\"\ncount = {count}\n").expect("it is written");
            if let (Some(mount), Some(flow)) = (words.next(), words.next()) {
                write!(text, "mount = \"{mount}\"\nflow = \"{flow}\"\n").expect("it is written");
            }
        }
        text
    }
}

/// The forty lists.
fn lists() -> Vec<List> {
    let text = fs::read_to_string("tests/sound/lists.toml").expect("the lists are there");
    toml::from_str::<Table>(&text).expect("they are lists").list
}

fn audits(kit: &Kit) -> (Vec<Audit>, Vec<Audit>) {
    let today = date(2026, 11, 20);
    let audit = |name: &str, text: String| {
        let build = kit.read(&Source::new(name, text), today);
        kit.audit(&build.unwrap_or_else(|why| panic!("{name}: {why:?}")))
    };
    let sound = lists();
    let sound = sound.iter().enumerate();
    let sound = sound.map(|(at, list)| audit(&format!("sound list {}", at + 1), list.text()));
    let demo = fs::read_dir("examples").expect("the demo is there").flatten().map(|e| e.path());
    let demo = demo.filter(|path| path.extension().is_some_and(|end| end == "toml"));
    let demo = demo
        .map(|path| audit(&path.to_string_lossy(), fs::read_to_string(&path).expect("it is text")));
    (sound.collect(), demo.collect())
}

#[test]
fn no_rule_speaks_of_more_than_a_third_of_sound_lists() {
    let kit = Kit::load(&Layers::built_in()).expect("the binary's own files are in order");
    let (sound, demo) = audits(&kit);
    assert_eq!(sound.len(), 40);
    let mut heard: BTreeMap<String, usize> = BTreeMap::new();
    for (at, audit) in sound.iter().chain(&demo).enumerate() {
        assert!(audit.broken().is_empty(), "{:?}", audit.broken());
        let findings = audit.findings();
        if at < sound.len() {
            let stops: Vec<&str> = findings
                .iter()
                .filter(|f| f.level == Level::Stop)
                .map(|f| f.message.as_str())
                .collect();
            assert!(stops.is_empty(), "sound list {} is stopped: {stops:?}", at + 1);
        }
        let rules: BTreeSet<String> = findings.into_iter().map(|finding| finding.rule).collect();
        for rule in rules {
            *heard.entry(rule).or_default() += 1;
        }
    }
    let all = sound.len() + demo.len();
    let often: Vec<_> = heard.iter().filter(|(_, times)| **times * 3 > all).collect();
    assert!(often.is_empty(), "heard on more than a third of {all} lists: {often:?}");
}
