//! Lists over parts whose facts come from makers' pages alone: what is missing is asked for, and it
//! is little.

use std::collections::BTreeMap;

use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::intake::read_bytes;
use dryfit::inside::kit::{Kit, Layers, Question};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::partsheet::{SheetMap, import, merged};
use dryfit::inside::source::Source;
use jiff::civil::date;

use super::{List, lists};
use crate::common::share;

/// Facts that no page gives: of the specification pages of ten kinds that were looked through.
const ON_NO_PAGE: [&str; 15] = [
    "board.firmware",
    "board.draw_w",
    "memory.draw_w",
    "cooler.kelvin_per_w",
    "graphics.kelvin_per_w",
    "graphics.peak_w",
    "storage.peak_w",
    "chassis.open",
    "chassis.fans_200",
    "graphics.draw_3v3_w",
    "graphics.draw_5v_w",
    "graphics.index",
    "processor.index",
    "lighting_amps",
    "includes",
];
/// Most facts that the list in the middle needs before it is settled.
const MEDIAN: usize = 5;
/// Lists that a whole run looks at, all of which nothing stops.
const LISTS: usize = 40;
/// Most of them that stay open through a fact that no page gives: in a case with hardly a fan, what
/// parts commonly are leaves the temperature open.
const OPEN: usize = 8;

/// The shipped layers with the parts of the pages over them, and their ids by kind.
fn with_pages() -> (Kit, BTreeMap<String, Vec<String>>) {
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let truth: toml::Table =
        toml::from_str(include_str!("../specs/by_hand/truth.toml")).expect("it is TOML");
    let mut texts: BTreeMap<String, String> = BTreeMap::new();
    let mut ids: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for source in truth["source"].as_array().expect("sources") {
        let (file, kind) = (source["file"].as_str(), source["kind"].as_str());
        let (file, kind) = (file.expect("a file"), kind.expect("a kind"));
        let path = format!("{}/tests/specs/by_hand/{file}", env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(path).expect("the file is there");
        let text = read_bytes(&bytes, file).expect("it is text");
        let place = catalogue.kind_id(kind).expect("it is known");
        let parts = import(&catalogue, place, &text, &SheetMap::default(), file)
            .unwrap_or_else(|problem| panic!("{file}: {problem:?}"));
        ids.entry(kind.to_owned()).or_default().extend(parts.iter().map(|p| p.id.clone()));
        let held = texts.entry(kind.to_owned()).or_default();
        let (text, _) = merged(held, file, kind, &parts).expect("they are written");
        *held = text;
    }
    let files: Vec<(String, String)> =
        texts.into_iter().map(|(kind, text)| (format!("parts/{kind}.toml"), text)).collect();
    let files: Vec<(&str, &str)> = files.iter().map(|(n, t)| (n.as_str(), t.as_str())).collect();
    let mut layers = Layers::built_in();
    layers.catalogue.push(Layer::from_texts("pages", &files));
    (Kit::load(&layers).expect("the parts of the pages load"), ids)
}

/// A list with about every second part of those kinds exchanged for one from a page.
fn exchanged(list: &List, ids: &BTreeMap<String, Vec<String>>, seed: u64) -> Option<String> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut roll = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        ((state >> 33) % below.max(1) as u64) as usize
    };
    let mut text = list.text();
    let mut changed = 0;
    for line in &list.parts {
        let part = line.split(' ').find(|word| word.contains('/')).expect("a line names a part");
        let others = part.split_once('/').and_then(|(kind, _)| ids.get(kind));
        let Some(others) = others.filter(|_| roll(2) == 0) else { continue };
        text = text.replace(&format!("\"{part}\""), &format!("\"{}\"", others[roll(others.len())]));
        changed += 1;
    }
    (changed >= 2).then_some(text)
}

/// How many facts so many lists ask for that nothing stops, and how many stay open by what no page
/// gives; the lists are those of every second seed from a first one.
fn look_ups(first: u64, most: usize) -> (Vec<usize>, usize) {
    let (kit, ids) = with_pages();
    let lists = lists();
    let (mut asked, mut open) = (Vec::new(), 0);
    for seed in (first..400u64).step_by(2) {
        let Some(text) = exchanged(&lists[seed as usize % lists.len()], &ids, seed) else {
            continue;
        };
        let build = kit.read(&Source::new("list", text), date(2026, 11, 20)).expect("it reads");
        let audit = kit.audit(&build);
        assert!(audit.broken().is_empty(), "{:?}", audit.broken());
        // Parts that do not go together ask for nothing.
        if audit.worst() == Some(Level::Stop) {
            continue;
        }
        // What may only become a caution leaves no list unsettled.
        let settles = |q: &Question| q.decides.iter().any(|d| d.level == Level::Stop);
        asked.push(audit.questions().into_iter().filter(settles).count());
        let catalogue = kit.catalogue();
        let never = |open: &dryfit::inside::kit::OpenRule| {
            let name = |fact: &dryfit::inside::build::lack::Fact| {
                let field = &fact.schema(audit.build())?.name;
                let kind = catalogue.kind(fact.kind).map_or("", |kind| &*kind.name);
                Some((format!("{kind}.{field}"), field.to_string()))
            };
            let mut named = open.facts.iter().filter_map(name).peekable();
            let on_none = |name: &str| ON_NO_PAGE.contains(&name);
            named.peek().is_some() && named.all(|(full, field)| on_none(&full) || on_none(&field))
        };
        let rules = audit.open_rules();
        open += usize::from(rules.iter().any(|rule| rule.level == Level::Stop && never(rule)));
        if asked.len() == most {
            break;
        }
    }
    (asked, open)
}

#[test]
fn parts_from_pages_leave_little_to_look_up() {
    // A quarter of them where the laws are not whole: each takes seconds, on two cores half as many.
    let most = (share::of(4) as usize * LISTS / 4).max(LISTS / 4);
    let other = std::thread::spawn(move || look_ups(1, most / 2));
    let (mut asked, mut open) = look_ups(0, most - most / 2);
    let (others, open_others) = other.join().expect("the other half of the lists");
    asked.extend(others);
    open += open_others;
    assert_eq!(asked.len(), most, "lists that nothing stops");
    asked.sort_unstable();
    let twice_median = asked[(most - 1) / 2] + asked[most / 2];
    assert!(twice_median <= 2 * MEDIAN, "facts to look up: {asked:?}");
    // Of a few lists twice the share may be such: it is held where all are looked at.
    let share = if most < LISTS { 2 * OPEN * most / LISTS } else { OPEN };
    assert!(open <= share, "{open} lists are open through what no page gives");
}
