//! A proof that is remembered is the proof that is made anew, and so is an exploration: after any
//! changes of a list, findings point at the same facts, stops are put down to the same lines, and
//! the same is open, as in a kit that has met no list before.

use std::sync::Arc;

use dryfit::inside::build::{Build, Line, What};
use dryfit::inside::catalogue::{Catalogue, Part};
use dryfit::inside::kit::{Audit, Kit, Layers};
use dryfit::inside::source::Source;
use jiff::civil::date;

use crate::random::{Random, random_build};
use crate::share;

/// Lists that are changed.
const LISTS: u32 = 16;
/// Lists that are changed where only what is open is told.
const OPEN_LISTS: u32 = 48;
/// Questions that the proof of one finding may take.
const MOST_ASKED: usize = 150;
/// Changes of each.
const CHANGES: usize = 5;

/// Every finding with what it points at, and the lines that stops are put down to.
fn told(audit: &Audit) -> String {
    let found = audit.proven_within(MOST_ASKED);
    let mut told = String::new();
    for finding in &found {
        told.push_str(&format!("{} {}\n", finding.rule, finding.message));
        for pointer in &finding.pointers {
            told.push_str(&format!("  {} is {}\n", pointer.place, pointer.value));
        }
    }
    let blames = audit.blames(&found);
    told.push_str(&format!("{:?} {:?} {}", blames.lines, blames.rest, blames.proven));
    told
}

/// The shipped layers, as they are or with nothing said of what their parts leave out.
fn layers(known: bool) -> Layers {
    let mut layers = Layers::built_in();
    let files = layers.catalogue.iter_mut().flat_map(|layer| &mut layer.files);
    for (name, source) in files.filter(|(name, _)| !known && name.starts_with("parts/")) {
        *source = Source::new(name.clone(), source.text.replace("complete = true\n", ""));
    }
    layers
}

/// A list with one thing about it changed.
fn changed(build: &Build, catalogue: &Catalogue, random: &mut Random) -> Build {
    let mut lines: Vec<Line> = build.lines.clone();
    let at = random.below(lines.len());
    let What::Part(part) = lines[at].what.clone() else { return build.clone() };
    let others: Vec<&Arc<Part>> = catalogue.parts_of(part.kind).collect();
    match random.below(7) {
        0 => lines[at].count = 1 + random.below(4) as u32,
        1 => lines[at].owned = !lines[at].owned,
        2 => drop(lines.remove(at)),
        3 => lines.push(lines[at].clone()),
        _ => lines[at] = Line::of(others[random.below(others.len())].clone(), lines[at].count),
    }
    if lines.is_empty() { build.clone() } else { build.with_lines(lines) }
}

/// What is not settled, and the facts to look up.
fn open(audit: &Audit) -> String {
    format!("{:#?}\n{:#?}\n{:?}", audit.open_rules(), audit.questions(), audit.worst())
}

fn held(layers: &Layers, lists: u32, tell: fn(&Audit) -> String) -> Kit {
    let catalogue = Arc::new(Catalogue::load(&layers.catalogue).expect("the catalogue loads"));
    let kit = || Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
    let (used, fresh) = (kit(), kit());
    let head =
        "purpose = \"games\"\nbudget = \"1500.00 EUR\"\n[[line]]\npart = \"supply/tarn-650\"";
    let base = used.read(&Source::new("list", head), date(2026, 11, 20)).expect("it reads");
    let mut random = Random(44);
    for _ in 0..lists {
        let mut build = random_build(&catalogue, &mut random, &base);
        for _ in 0..CHANGES {
            fresh.forget();
            let anew = tell(&fresh.audit(&build));
            assert_eq!(tell(&used.audit(&build)), anew, "{:?}", build.lines);
            assert_eq!(tell(&used.audit(&build)), anew, "a second time");
            build = changed(&build, &catalogue, &mut random);
        }
    }
    used
}

/// Some proofs are kept, and no more of a rule than its bound.
fn keeps_some(kit: &Kit) {
    let most = kit.rules().rules.len() * kit.most_proofs();
    assert!((10..=most).contains(&kit.proofs_known()), "{} proofs", kit.proofs_known());
}

#[test]
fn a_proof_from_memory_is_the_proof_made_anew() {
    keeps_some(&held(&layers(true), share::of(LISTS), told));
}

#[test]
fn and_so_it_is_where_facts_are_missing() {
    keeps_some(&held(&layers(false), share::of(LISTS), told));
}

#[test]
fn and_so_is_what_is_not_settled() {
    held(&layers(false), share::of(OPEN_LISTS), open);
}
