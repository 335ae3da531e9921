//! A fact struck out of a part of a demo list never passes as no and never as yes: what is certain
//! without it holds with it, and what holds with it is certain, may be, or is put down to what is
//! usual.
//!
//! The oracle is the audit of the same list with the fact as it is, and as other parts of the kind
//! have it.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use dryfit::inside::audit::finding::Settled;
use dryfit::inside::build::What;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::catalogue::kinds::Kind;
use dryfit::inside::kit::{Audit, Kit, Layers, Ruling};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use jiff::civil::date;
use toml_edit::{Array, DocumentMut, Item, Table, Value};

use crate::random::Random;
use crate::share;

/// Facts struck out, in all.
const STRUCK: u32 = 800;
/// Other values that a fact is tried at.
const OTHERS: usize = 2;

/// A finding without its figures.
type Key = (String, Level, String);

/// A list with a fact struck out, and completions of it.
struct Trial {
    what: String,
    struck: String,
    whole: Vec<String>,
}

/// The tables of a kind's parts as they are written.
fn shelf(kind: &str) -> DocumentMut {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("catalogue/parts/{kind}.toml"));
    fs::read_to_string(file).expect("it reads").parse().expect("it is TOML")
}

/// A copy of a part under another name; what it leaves out it lacks, but for one field.
fn copied(kind: &Kind, part: &Table, struck: Option<&str>) -> Table {
    let mut table = part.clone();
    table.remove("complete");
    let mut lacks = Array::new();
    if let Some(field) = struck {
        table.remove(field);
        for other in kind.fields.iter().filter(|f| &*f.name != field) {
            if !table.contains_key(&other.name) && other.when_left_out().is_some() {
                lacks.push(&*other.name);
            }
        }
        table.insert("lacks", Item::Value(Value::Array(lacks)));
    } else {
        table.insert("complete", Item::Value(Value::from(true)));
    }
    table
}

/// The demo lists that name all of their parts.
fn lists(catalogue: &Catalogue, kit: &Kit) -> Vec<(String, Vec<String>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut paths: Vec<_> = fs::read_dir(folder)
        .expect("examples are there")
        .filter_map(|entry| entry.ok().map(|e| e.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    paths.sort();
    let mut found = Vec::new();
    for path in paths {
        let text = fs::read_to_string(&path).expect("it reads");
        let Ok(build) = kit.read(&Source::new("list", text.clone()), date(2026, 11, 20)) else {
            continue;
        };
        let ids = build.lines.iter().filter_map(|line| match &line.what {
            What::Part(part) => catalogue.part(&part.id).map(|p| p.id.to_string()),
            What::Open { .. } => None,
        });
        found.push((text, ids.collect()));
    }
    found
}

/// Trials at random over the demo lists, and the parts that they need.
fn trials(kit: &Kit, count: u32, random: &mut Random) -> (Vec<Trial>, Vec<(String, String)>) {
    let catalogue = kit.catalogue();
    let lists = lists(catalogue, kit);
    assert!(lists.len() >= 6, "{} demo lists", lists.len());
    let mut files: Vec<(String, DocumentMut)> = Vec::new();
    let mut trials = Vec::new();
    while trials.len() < count as usize {
        let (text, parts) = &lists[random.below(lists.len())];
        let id = &parts[random.below(parts.len())];
        let (word, name) = id.split_once('/').expect("an id has a kind");
        let kind = catalogue.kind_id(word).and_then(|k| catalogue.kind(k)).expect("there is one");
        let shelf = shelf(word);
        let part = shelf[name].as_table().expect("a part is a table");
        let given: Vec<&str> = part.iter().map(|(key, _)| key).collect();
        let field = given[random.below(given.len())];
        let skipped = |f: &&dryfit::inside::catalogue::kinds::Field| !f.required && !f.stated;
        if kind.fields.iter().find(|f| &*f.name == field).filter(skipped).is_none() {
            continue;
        }
        let at = match files.iter().position(|(kind, _)| kind == word) {
            Some(at) => at,
            None => {
                files
                    .push((word.to_owned(), format!("kind = \"{word}\"\n").parse().expect("TOML")));
                files.len() - 1
            }
        };
        let shop = &mut files[at].1;
        let mut add = |suffix: String, table: Table| {
            let name = format!("{name}-x{}{suffix}", trials.len());
            shop.insert(&name, Item::Table(table));
            text.replace(&format!("\"{id}\""), &format!("\"{word}/{name}\""))
        };
        let struck = add(String::new(), copied(kind, part, Some(field)));
        let mut whole = vec![add("-0".into(), copied(kind, part, None))];
        let values: Vec<&Item> = shelf
            .iter()
            .filter_map(|(_, other)| other.as_table()?.get(field))
            .filter(|value| value.to_string() != part[field].to_string())
            .collect();
        for nth in 1..=OTHERS.min(values.len()) {
            let mut other = part.clone();
            other.insert(field, values[random.below(values.len())].clone());
            whole.push(add(format!("-{nth}"), copied(kind, &other, None)));
        }
        trials.push(Trial { what: format!("{id} without {field} in\n{text}"), struck, whole });
    }
    let files =
        files.into_iter().map(|(kind, doc)| (format!("parts/{kind}.toml"), doc.to_string()));
    (trials, files.collect())
}

fn audit(kit: &Kit, list: &str) -> Option<Audit> {
    let build = kit.read(&Source::new("list", list), date(2026, 11, 20)).ok()?;
    Some(kit.audit(&build))
}

fn keys(audit: &Audit, which: impl Fn(Settled) -> bool) -> BTreeSet<Key> {
    let findings = audit.findings();
    let wanted = findings.iter().filter(|f| which(f.settled));
    wanted.map(|f| (f.rule.clone(), f.level, f.template.to_string())).collect()
}

#[test]
fn a_fact_struck_out_passes_neither_as_no_nor_as_yes() {
    let seed = std::env::var("DRYFIT_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(11);
    let mut random = Random(seed);
    let mut layers = Layers::built_in();
    let plain = Kit::load(&layers).expect("the binary's own files are in order");
    let (trials, files) = trials(&plain, share::of(STRUCK), &mut random);
    let files: Vec<(&str, &str)> = files.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    layers.catalogue.push(Layer::from_texts("shop", &files));
    let kit = Kit::load(&layers).unwrap_or_else(|e| panic!("{e}"));
    let (mut held, mut open) = (0, 0);
    for trial in &trials {
        // A copy with another part's value need not be a part: it is left out then.
        let Some(struck) = audit(&kit, &trial.struck) else { continue };
        let certain = keys(&struck, |settled| settled == Settled::Certain);
        let said = keys(&struck, |_| true);
        let mut may: BTreeSet<String> = struck.open_rules().into_iter().map(|o| o.rule).collect();
        open += usize::from(!may.is_empty());
        may.extend(struck.off().into_iter().map(|(rule, _)| rule));
        may.extend(struck.broken().iter().filter_map(|b| b.rule.as_deref().map(str::to_owned)));
        for whole in trial.whole.iter().filter_map(|list| audit(&kit, list)) {
            held += 1;
            let failed: BTreeSet<String> = whole
                .broken()
                .iter()
                .filter_map(|b| b.rule.as_deref().map(str::to_owned))
                .collect();
            let found = keys(&whole, |_| true);
            for sure in certain.iter().filter(|key| !failed.contains(&key.0)) {
                assert!(found.contains(sure), "{sure:?} was certain: {}", trial.what);
            }
            for here in found.iter().filter(|key| !may.contains(&key.0)) {
                assert!(said.contains(here), "{here:?} was ruled out: {}", trial.what);
            }
            if struck.ruling() == Ruling::Stop && failed.is_empty() {
                assert_eq!(whole.ruling(), Ruling::Stop, "{}", trial.what);
            }
        }
    }
    assert!(held > trials.len() && open * 10 > trials.len(), "{held} audits, {open} open");
}
