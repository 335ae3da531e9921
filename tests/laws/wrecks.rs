//! Wrecks of sound lists: every way that `mend` gives clears every stop, costs what it says, and
//! hides no loss; where one change does, none with more is given.

use std::cell::Cell;
use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};

use dryfit::inside::build::{Build, Line, What};
use dryfit::inside::kit::{Audit, Kit, Layers, Outcome};
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::edit::{Edit, Word, apply};
use dryfit::inside::whatif::mend::{Mend, MendChange, MendWay, edits, mend};
use dryfit::inside::whatif::search::SearchLimits;
use jiff::civil::date;

use crate::share;

/// Lists that nothing stops.
const SOUND: [&str; 4] =
    ["bird-hide-cheap", "bird-hide-edit", "clinic-records", "youth-club-games"];
/// Search nodes for one wreck, in sixteens: a limit that is the same on every machine.
const NODES: usize = 40;
/// Wrecks of which every single swap is tried.
const TRIED: usize = 6;

struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % below.max(1) as u64) as usize
    }
}

fn read(kit: &Kit, text: &str) -> Build {
    kit.read(&Source::new("list.toml", text), date(2026, 11, 20)).unwrap_or_else(|e| panic!("{e}"))
}

/// One fault: another part of the kind, pieces too many, a line gone, a line twice, a fan turned,
/// or one fitted elsewhere.
fn fault(kit: &Kit, text: &str, dice: &mut Dice) -> String {
    let build = read(kit, text);
    let line = dice.roll(build.lines.len());
    let of = &build.lines[line];
    let id = of.part().map_or_else(String::new, |p| p.id.to_string());
    let key = |key, value: &str| Edit::Key { line, key, value: Some(Word::Text(value.to_owned())) };
    let edit = match dice.roll(6) {
        1 => {
            let value = Some(Word::Plain((2 + dice.roll(4)).to_string()));
            Edit::Key { line, key: "count", value }
        }
        2 if build.lines.len() > 4 => Edit::Drop { line },
        3 => return format!("{text}\n[[line]]\npart = \"{id}\"\n"),
        4 if of.flow.is_some() => {
            key("flow", if of.flow.as_deref() == Some("in") { "out" } else { "in" })
        }
        5 if of.mount.is_some() => key("mount", ["front", "top", "rear"][dice.roll(3)]),
        _ => {
            let parts: Vec<_> = kit.catalogue().parts_of(of.kind()).collect();
            Edit::Part { line, part: parts[dice.roll(parts.len())].id.to_string() }
        }
    };
    apply(text, &[edit]).unwrap_or_else(|e| panic!("{e:?}"))
}

/// Whether something stops a list, or a rule breaks on it.
fn stopped(audit: &Audit) -> bool {
    audit.worst() == Some(Level::Stop)
        || audit.outcomes().any(|(_, outcome)| matches!(outcome, Outcome::Broken(_)))
}

/// Looks for the ways within the limit; with how many sixteens of nodes were looked at.
fn mended(kit: &Kit, build: &Build) -> (Mend, usize) {
    let (halt, told) = (AtomicBool::new(false), Cell::new(0));
    let tell = |_| {
        told.set(told.get() + 1);
        halt.store(told.get() >= NODES, Ordering::Relaxed);
    };
    let mut limits = SearchLimits::new(&halt);
    limits.tell = Some(&tell);
    (mend(kit, build, limits), told.get())
}

/// How a list is held to what a way says of it, by a kit that remembers nothing.
fn hold(fresh: &Kit, text: &str, way: &MendWay) {
    let after = apply(text, &edits(&way.changes)).unwrap_or_else(|e| panic!("{e:?}\n{text}"));
    let audit = fresh.audit(&read(fresh, &after));
    assert!(!stopped(&audit), "{after}");
    assert_eq!(audit.build().paid(), way.total, "{after}");
    for change in &way.changes {
        let MendChange::Swap { from, to, losses, .. } = change else { continue };
        let shown: BTreeSet<&str> = losses.iter().map(|l| &*l.name).collect();
        for rank in audit.build().build.ranking(fresh.catalogue()).ranks(from.kind) {
            let lost = match (rank.of(from), rank.of(to)) {
                (Some(a), Some(b)) if rank.less => b > a && a != 0.0,
                (Some(a), Some(b)) => b < a && a != 0.0,
                (Some(_), None) => true,
                _ => false,
            };
            assert_eq!(lost, shown.contains(&*rank.name), "{} {} {}", from.id, to.id, rank.name);
        }
    }
}

/// Whether one swap of a part that somebody sells clears every stop.
fn one_swap_does(kit: &Kit, build: &Build) -> bool {
    let market = kit.catalogue().market(&build.currency, build.priced_on);
    let sold = |part| {
        let facts = market.known(kit.catalogue(), part);
        facts.is_some_and(|f| f.sellers > 0.0 && f.price.is_some())
    };
    let with = |at: usize, line: &Line| {
        kit.catalogue().parts_of(line.kind()).filter(|p| sold(p)).any(|part| {
            let mut other = build.clone();
            let line = &mut other.lines[at];
            line.what = What::Part(part.clone());
            (line.owned, line.quoted, line.stated) = (false, None, None);
            !stopped(&kit.audit(&other))
        })
    };
    build.lines.iter().enumerate().any(|(at, line)| with(at, line))
}

#[test]
fn every_way_out_of_a_wreck_holds() {
    let kit = Rc::new(Kit::load(&Layers::built_in()).unwrap_or_else(|e| panic!("{e}")));
    let fresh = Kit::load(&Layers::built_in()).unwrap_or_else(|e| panic!("{e}"));
    let mut dice = Dice(20);
    let (mut steps, mut ways, mut proven, mut tried) = (Vec::new(), 0, 0, 0);
    let many = usize::try_from(share::of(200)).unwrap_or(usize::MAX);
    while steps.len() < many {
        let path = format!("{}/examples/{}.toml", env!("CARGO_MANIFEST_DIR"), SOUND[dice.roll(4)]);
        let mut text = std::fs::read_to_string(path).unwrap();
        for _ in 0..1 + dice.roll(6) {
            text = fault(&kit, &text, &mut dice);
        }
        let build = read(&kit, &text);
        if !stopped(&kit.audit(&build)) {
            continue;
        }
        let (found, told) = mended(&kit, &build);
        steps.push(told);
        proven += usize::from(found.proven);
        ways += usize::from(!found.ways.is_empty());
        for way in &found.ways {
            assert!(!way.changes.is_empty(), "{text}");
            hold(&fresh, &text, way);
        }
        let least = found.ways.iter().map(|w| w.changes.len()).min();
        if found.proven && least.is_none_or(|n| n > 1) && tried < TRIED {
            tried += 1;
            assert!(!one_swap_does(&kit, &build), "one swap would do:\n{text}");
        }
    }
    steps.sort_unstable();
    eprintln!(
        "{many} wrecks: {ways} with a way, {proven} proven, {tried} held to every swap; sixteens of \
         nodes: {} in the middle, {} at most",
        steps[many / 2],
        steps[many - 1]
    );
    assert!(ways * 4 > many, "{ways} of {many} wrecks have a way");
}
