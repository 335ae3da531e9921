//! One swap, one answer: `why`, `fit`, `steps`, `mend` and the text of the list itself say the same
//! of a part on a line, whoever owned what was there before and whatever it was quoted at.

use std::collections::BTreeMap;
use std::rc::Rc;

use dryfit::inside::build::{Build, What};
use dryfit::inside::kit::{Kit, Layers, Outcome};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::edit::{Edit, Word, apply};
use dryfit::inside::whatif::fit::{fit, steps};
use dryfit::inside::whatif::mend::{edits, mend};
use dryfit::inside::whatif::open_lines::settle;
use dryfit::inside::whatif::trial::Snapshot;
use dryfit::inside::whatif::why::why;
use jiff::civil::{Date, date};
use proptest::prelude::*;

use crate::runs;
use crate::scripts::{catalogue, kit as small_kit, script, widget};
use crate::search::limits;

fn today() -> Date {
    date(2026, 11, 20)
}

/// The shipped pack with a budget that stops, so that money decides as well as fit.
fn kit() -> Rc<Kit> {
    let mut layers = Layers::built_in();
    let settings = "[value.over_budget_stops]\nvalue = 1\n";
    layers.rules.push(Layer::from_texts("shop", &[("settings.toml", settings)]));
    Rc::new(Kit::load(&layers).unwrap_or_else(|e| panic!("{e}")))
}

/// A list out of numbers: an example with some lines owned or quoted, and some swapped.
fn list(kit: &Kit, example: &str, marks: &[(u8, u8)], wrecks: &[(u8, u16)], budget: u32) -> String {
    let path = format!("{}/examples/{example}.toml", env!("CARGO_MANIFEST_DIR"));
    let whole = std::fs::read_to_string(path).unwrap();
    let build = kit.read(&Source::new("list.toml", whole.as_str()), today()).unwrap();
    let line = |at: u8| usize::from(at) % build.lines.len();
    let mut edits =
        vec![Edit::Field { name: "budget", value: Some(Word::Text(format!("{budget}.00 EUR"))) }];
    for (at, part) in wrecks {
        let parts: Vec<_> = kit.catalogue().parts_of(build.lines[line(*at)].kind()).collect();
        let part = parts[usize::from(*part) % parts.len()].id.to_string();
        edits.push(Edit::Part { line: line(*at), part });
    }
    for (at, mark) in marks {
        let quote = "{ price = \"9.00 EUR\", on = 2026-10-01 }";
        let (key, value) = match mark {
            0 => ("owned", Word::Flag(true)),
            _ => ("quoted", Word::Plain(quote.to_owned())),
        };
        edits.push(Edit::Key { line: line(*at), key, value: Some(value) });
    }
    apply(&whole, &edits).unwrap()
}

/// A list with some of its lines left open.
fn opened(kit: &Kit, text: &str, lines: &[u8]) -> String {
    let build = kit.read(&Source::new("list.toml", text), today()).unwrap();
    let mut places: Vec<usize> =
        lines.iter().map(|at| usize::from(*at) % build.lines.len()).collect();
    places.sort_unstable();
    places.dedup();
    let mut text = text.to_owned();
    for line in places.into_iter().rev().map(|at| &build.lines[at]) {
        let (whole, id) = (line.spans.whole, &line.part().unwrap().id);
        let kind = id.split('/').next().unwrap();
        let from = text[whole.start()..].find("part").unwrap() + whole.start();
        let to = from + text[from..].find(&**id).unwrap() + id.len() + 1;
        text.replace_range(from..to, &format!("any = \"{kind}\""));
    }
    text
}

/// What a list says, each script run anew from its text.
struct Truth {
    build: Build,
    /// Whether some line stays open.
    open: bool,
    /// Findings in force by rule and level.
    found: BTreeMap<(String, Level), usize>,
    /// The same with those that a waiver covers, which a rule raises all the same.
    raised: BTreeMap<(String, Level), usize>,
    broken: Vec<String>,
    total: i64,
}

/// Open lines are settled with one kit, and the rest is judged with another.
fn truth(settler: &Kit, kit: &Kit, text: &str) -> Truth {
    let build = settler.read(&Source::new("list.toml", text), today()).unwrap();
    let settled = settle(settler, &build).unwrap().build;
    let build = kit.read(&Source::new("list.toml", text), today()).unwrap();
    let open = settled.lines.iter().any(|line| line.part().is_none());
    let mut judged = build.clone();
    for (line, chosen) in judged.lines.iter_mut().zip(&settled.lines) {
        if let (None, Some(part)) = (line.part(), chosen.part()) {
            line.what = What::Part(kit.catalogue().part(&part.id).unwrap().clone());
        }
    }
    let audit = kit.audit(&judged);
    let mut found: BTreeMap<(String, Level), usize> = BTreeMap::new();
    let mut raised = found.clone();
    for finding in audit.findings() {
        let key = (finding.rule, finding.level);
        if finding.waived.is_none() {
            *found.entry(key.clone()).or_default() += 1;
        }
        *raised.entry(key).or_default() += 1;
    }
    let broken = audit
        .outcomes()
        .filter(|(_, o)| matches!(o, Outcome::Broken(_)))
        .map(|(r, _)| r.id.to_string())
        .collect();
    let total = (audit.build().total() * 100.0).round() as i64;
    Truth { build, open, found, raised, broken, total }
}

/// What is found in one list and not in another.
fn over(a: &Truth, b: &Truth) -> Vec<(String, Level)> {
    let mut over = Vec::new();
    for ((rule, level), count) in &a.found {
        let other = b.found.get(&(rule.clone(), *level)).copied().unwrap_or(0);
        over.extend((other..*count).map(|_| (rule.clone(), *level)));
    }
    over.sort();
    over
}

fn sorted(found: &[(String, Level)]) -> Vec<(String, Level)> {
    let mut found = found.to_vec();
    found.sort();
    found
}

const EXAMPLES: &[&str] = &["bird-hide-edit", "clinic-records", "quay-salvage", "youth-club-games"];

proptest! {
    #![proptest_config(runs::config(96))]
    #[test]
    fn a_swap_is_the_same_for_all_who_tell_of_it(
        example in prop::sample::select(EXAMPLES),
        marks in prop::collection::vec((any::<u8>(), 0..2u8), 0..4),
        wrecks in prop::collection::vec((any::<u8>(), any::<u16>()), 0..3),
        open in prop::collection::vec(any::<u8>(), 0..2),
        budget in 600..2500u32,
        line in any::<u8>(),
    ) {
        let kit = kit();
        let text = opened(&kit, &list(&kit, example, &marks, &wrecks, budget), &open);
        let now = truth(&kit, &kit, &text);
        let line = usize::from(line) % now.build.lines.len();
        let judge = self::kit();
        judge.remember(false);
        let swapped = |part: &str| {
            let text = apply(&text, &[Edit::Part { line, part: part.to_owned() }]).unwrap();
            truth(&kit, &judge, &text)
        };

        let looked = fit(&kit, &now.build, line, limits());
        // Nothing is said of lines that stay open, which another part may help to close.
        for row in looked.rows.iter().step_by(5) {
            let then = swapped(&row.part.id);
            if now.open || then.open {
                continue;
            }
            prop_assert_eq!(sorted(&row.raised), over(&then, &now), "{} {}", row.part.id, text);
            prop_assert_eq!(sorted(&row.cleared), over(&now, &then), "{} {}", row.part.id, text);
            prop_assert_eq!(&row.broken, &then.broken);
            if let Some(more) = row.more {
                prop_assert_eq!(more.minor(), then.total - now.total, "{} {}", row.part.id, text);
            }
        }
        let (up, down) = steps(&looked);
        for step in up.iter().chain(&down) {
            let row = looked.rows.iter().find(|r| r.part.id == step.row.part.id);
            let row = row.expect("a step is one of the rows");
            prop_assert_eq!((&step.row.raised, step.row.more), (&row.raised, row.more));
            prop_assert!(now.open || over(&swapped(&row.part.id), &now).iter().all(|(_, l)| *l < Level::Stop));
        }

        let source = Source::new("list.toml", text.as_str());
        let snapshot = Snapshot::of(&kit, &source, today()).unwrap();
        let stopping: Vec<&str> =
            now.found.keys().filter(|(_, l)| *l == Level::Stop).map(|(r, _)| r.as_str()).collect();
        for rule in stopping.iter().copied().chain(["value.over_budget"]) {
            let Some(at) = kit.rules().find(rule) else { continue };
            let told = why(&kit, &snapshot, at);
            let Some(turn) = told.turns.iter().find(|t| t.line == line + 1) else { continue };
            for choice in turn.parts.iter().step_by(5) {
                let then = swapped(&choice.id);
                let of = |level| then.raised.get(&(rule.to_owned(), level)).copied().unwrap_or(0);
                let left = [Level::Stop, Level::Caution, Level::Advice].map(of);
                prop_assert_eq!(choice.left, left, "why {} {} {}", rule, choice.id, text);
                let row = looked.rows.iter().find(|r| *r.part.id == *choice.id).expect("a row");
                prop_assert_eq!(row.cleared.iter().any(|(r, _)| r == rule), over(&now, &then).iter().any(|(r, _)| r == rule));
            }
        }

        let until = Some(std::time::Instant::now() + std::time::Duration::from_millis(500));
        let mut limits = limits();
        limits.until = until;
        let mended = mend(&kit, &now.build, limits);
        for way in &mended.ways {
            let then = truth(&kit, &judge, &apply(&text, &edits(&way.changes)).unwrap());
            prop_assert!(then.found.keys().all(|(_, l)| *l < Level::Stop), "{}", text);
            prop_assert_eq!(way.more.minor(), then.total - now.total, "{}", text);
            prop_assert_eq!(way.total.minor(), then.total, "{}", text);
        }
    }
}

proptest! {
    #![proptest_config(runs::config(1_000))]
    /// Random rules and figures that do not add exactly, from the memory of a kit that has seen
    /// other lists; the oracle runs each script anew on each list.
    #[test]
    fn a_fit_is_what_every_list_says_by_itself(
        widgets in (widget(0), widget(1), widget(2), widget(3), widget(4)),
        rules in script(),
        lines in prop::collection::vec((0..5usize, 1..3u32, any::<bool>()), 1..4),
        before in prop::collection::vec((0..5usize, 1..3u32, any::<bool>()), 1..4),
        line in any::<u8>(),
    ) {
        let widgets = [widgets.0, widgets.1, widgets.2, widgets.3, widgets.4];
        let catalogue = catalogue(&widgets, "");
        let (kit, judge) = (small_kit(&catalogue, &rules), small_kit(&catalogue, &rules));
        judge.remember(false);
        let text = |lines: &[(usize, u32, bool)]| -> String {
            let line = |(part, count, owned): &(usize, u32, bool)| {
                format!("[[line]]\npart = \"widget/w{part}\"\ncount = {count}\nowned = {owned}\n")
            };
            lines.iter().map(line).collect()
        };
        truth(&kit, &kit, &text(&before));
        let now = truth(&judge, &judge, &text(&lines));
        let line = usize::from(line) % lines.len();
        let build = kit.read(&Source::new("list.toml", text(&lines)), today()).unwrap();
        let looked = fit(&kit, &build, line, limits());
        prop_assert!(looked.complete && looked.rows.len() == 4);
        for row in &looked.rows {
            let mut other = lines.clone();
            other[line].0 = row.part.id.trim_start_matches("widget/w").parse().unwrap();
            // What was the customer's own is bought where it is another part.
            other[line].2 = false;
            let then = truth(&judge, &judge, &text(&other));
            let what = || format!("{} on line {line} of\n{}{rules}{widgets:?}", row.part.id, text(&lines));
            prop_assert_eq!(sorted(&row.raised), over(&then, &now), "{}", what());
            prop_assert_eq!(sorted(&row.cleared), over(&now, &then), "{}", what());
            prop_assert_eq!(&row.broken, &then.broken, "{}", what());
        }
    }
}
