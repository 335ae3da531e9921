//! A fact struck out of a part of a demo list never passes as no and never as yes: what is certain
//! without it holds with it, and what holds with it is certain, may be, or is put down to what is
//! usual.
//!
//! The oracle is the audit of the same list with the fact as it is, and as other parts of the kind
//! have it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::sync::Arc;

use dryfit::inside::audit::finding::{Finding, Settled};
use dryfit::inside::build::What;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::catalogue::kinds::{Field, FieldType, Kind, Words};
use dryfit::inside::kit::{Audit, Fits, Kit, Layers, Ruling};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use jiff::civil::date;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, Value};

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
    /// The list as it was, the part of which the fact was struck out, and the field; none where
    /// it was a key of an entry.
    list: String,
    id: String,
    field: Option<String>,
}

/// The tables of a kind's parts as they are written.
fn shelf(kind: &str) -> DocumentMut {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("catalogue/parts/{kind}.toml"));
    fs::read_to_string(file).expect("it reads").parse().expect("it is TOML")
}

/// What is struck out: a field, or a key of one of its entries.
type Struck<'a> = (&'a str, Option<&'a (usize, String)>);

/// A key of an entry that a part need not give, where the field is a list of entries.
fn entry_key(field: &Field, value: &Item, random: &mut Random) -> Option<(usize, String)> {
    let FieldType::Records(subs) = &field.ty else { return None };
    let entries = value.as_array().filter(|entries| !entries.is_empty())?;
    let at = random.below(entries.len());
    let free = |key: &str| subs.iter().any(|sub| *sub.name == *key && !sub.required);
    let keys = entries.get(at)?.as_inline_table()?.iter().map(|(key, _)| key);
    let keys: Vec<&str> = keys.filter(|key| free(key)).collect();
    (!keys.is_empty()).then(|| (at, keys[random.below(keys.len())].to_owned()))
}

/// The entry that a key is struck out of.
fn entry<'t>(table: &'t mut Table, field: &str, at: usize) -> Option<&'t mut InlineTable> {
    table.get_mut(field)?.as_array_mut()?.get_mut(at)?.as_inline_table_mut()
}

/// A copy of a part under another name; what it leaves out it lacks, but for what is struck out.
fn copied(kind: &Kind, part: &Table, struck: Option<Struck<'_>>) -> Table {
    let mut table = part.clone();
    table.remove("complete");
    let mut lacks = Array::new();
    if let Some((field, key)) = struck {
        match key {
            Some((at, key)) => {
                entry(&mut table, field, *at).and_then(|entry| entry.remove(key));
            }
            None => {
                table.remove(field);
            }
        }
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
        let skipped = |f: &&Field| !f.required && !f.stated;
        let schema = kind.fields.iter().find(|f| &*f.name == field).filter(skipped);
        let Some(schema) = schema else { continue };
        let key = entry_key(schema, &part[field], random).filter(|_| random.below(3) > 0);
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
        let struck = add(String::new(), copied(kind, part, Some((field, key.as_ref()))));
        let mut whole = vec![add("-0".into(), copied(kind, part, None))];
        let others = others(&shelf, part, (field, key.as_ref()));
        for nth in 1..=OTHERS.min(others.len()) {
            let other = &others[random.below(others.len())];
            whole.push(add(format!("-{nth}"), copied(kind, other, None)));
        }
        let of = key.as_ref().map_or_else(String::new, |(at, key)| format!("[{at}].{key}"));
        let what = format!("{id} without {field}{of} in\n{text}");
        let (list, id) = (text.clone(), id.clone());
        let field = key.is_none().then(|| field.to_owned());
        trials.push(Trial { what, struck, whole, list, id, field });
    }
    let files =
        files.into_iter().map(|(kind, doc)| (format!("parts/{kind}.toml"), doc.to_string()));
    (trials, files.collect())
}

/// The part with what is struck out as other parts of the kind have it.
fn others(shelf: &DocumentMut, part: &Table, (field, key): Struck<'_>) -> Vec<Table> {
    let given = shelf.iter().filter_map(|(_, other)| other.as_table()?.get(field));
    let with = |value: &Item| {
        let mut other = part.clone();
        other.insert(field, value.clone());
        other
    };
    let mut all: Vec<Table> = match key {
        None => given.map(with).collect(),
        Some((at, key)) => {
            let entries = given.filter_map(|value| value.as_array()).flatten();
            let values = entries.filter_map(|entry| entry.as_inline_table()?.get(key));
            let with = |value: &Value| {
                let mut other = part.clone();
                entry(&mut other, field, *at)?.insert(key, value.clone());
                Some(other)
            };
            values.filter_map(with).collect()
        }
    };
    all.retain(|other| other[field].to_string() != part[field].to_string());
    all
}

/// A value of the struck fact, the rule that it is said to decide, and whether it is said to fit.
struct Turn {
    list: String,
    what: String,
    rule: String,
    level: Level,
    certain: usize,
    fits: bool,
}

/// The values at the edge of what fits, and the next beyond it.
fn edges(field: &Field, fits: &Fits) -> Vec<(Value, bool)> {
    let number = |n: f64, fits| {
        let value = if n.fract() == 0.0 { Value::from(n as i64) } else { Value::from(n) };
        (field.min <= n && n <= field.max).then_some((value, fits))
    };
    match (fits, &field.ty) {
        (Fits::Between(low, high), _) => {
            let low = low.iter().flat_map(|n| [number(*n, true), number(n - step(*n), false)]);
            let high = high.iter().flat_map(|n| [number(*n, true), number(n + step(*n), false)]);
            low.chain(high).flatten().collect()
        }
        (Fits::Words(words), FieldType::Text(Words::OneOf(one_of))) => {
            let said = |word: &Arc<str>| words.iter().any(|w| *w == **word);
            one_of.iter().map(|word| (Value::from(&**word), said(word))).collect()
        }
        (Fits::Words(words), FieldType::Flag) => {
            let said = |flag: bool| words.iter().any(|w| *w == flag.to_string());
            [true, false].map(|flag| (Value::from(flag), said(flag))).into()
        }
        _ => Vec::new(),
    }
}

/// A thousandth of a figure, or one where it counts.
fn step(n: f64) -> f64 {
    if n.fract() == 0.0 && n.abs() < 100.0 { 1.0 } else { n.abs().max(1.0) / 1000.0 }
}

fn count(audit: &Audit, rule: &str, level: Level) -> usize {
    let sure = |f: &&Finding| f.rule == rule && f.level >= level && f.settled == Settled::Certain;
    audit.findings().iter().filter(sure).count()
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
        for rule in struck.open_rules() {
            let named = !rule.facts.is_empty();
            assert!(named, "{} is open, and no fact decides it: {}", rule.rule, trial.what);
        }
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

/// The same list, its struck fact at each value at which a rule is said to turn.
fn turns(kit: &Kit, trials: &[Trial]) -> (Vec<Turn>, Vec<(String, String)>) {
    let mut turns = Vec::new();
    let mut files: BTreeMap<String, DocumentMut> = BTreeMap::new();
    for trial in trials {
        let Some(struck) = audit(kit, &trial.struck) else { continue };
        let Some(of) = &trial.field else { continue };
        let (word, name) = trial.id.split_once('/').expect("an id has a kind");
        let kinds = kit.catalogue();
        let kind = kinds.kind_id(word).and_then(|k| kinds.kind(k)).expect("there is one");
        let field = kind.fields.iter().find(|f| *f.name == **of).expect("it has it");
        let mut decided = struck.questions();
        decided.retain(|q| q.field == *of);
        for decides in decided.iter().flat_map(|q| &q.decides) {
            let Some(fits) = &decides.fits else { continue };
            for (value, fits) in edges(field, fits) {
                let id = format!("{name}-t{}", turns.len());
                let mut part = shelf(word)[name].as_table().expect("a part is a table").clone();
                part.insert(of, Item::Value(value.clone()));
                let file = files
                    .entry(word.to_owned())
                    .or_insert_with(|| format!("kind = \"{word}\"\n").parse().expect("it is TOML"));
                file.insert(&id, Item::Table(copied(kind, &part, None)));
                turns.push(Turn {
                    list: trial
                        .list
                        .replace(&format!("\"{}\"", trial.id), &format!("\"{word}/{id}\"")),
                    what: format!("{of} = {value}: {}", trial.what),
                    rule: decides.rule.clone(),
                    level: decides.level,
                    certain: count(&struck, &decides.rule, decides.level),
                    fits,
                });
            }
        }
    }
    let named =
        |(kind, doc): (String, DocumentMut)| (format!("parts/{kind}.toml"), doc.to_string());
    (turns, files.into_iter().map(named).collect())
}

#[test]
fn a_value_that_is_said_to_fit_lets_its_rule_pass_and_the_next_does_not() {
    let seed = std::env::var("DRYFIT_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(17);
    let mut random = Random(seed);
    let mut layers = Layers::built_in();
    let plain = Kit::load(&layers).expect("the binary's own files are in order");
    let (trials, files) = trials(&plain, share::of(STRUCK * 2), &mut random);
    let texts = |files: &[(String, String)]| -> Layer {
        let files: Vec<_> = files.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
        Layer::from_texts("shop", &files)
    };
    layers.catalogue.push(texts(&files));
    let kit = Kit::load(&layers).unwrap_or_else(|e| panic!("{e}"));
    let (turns, files) = turns(&kit, &trials);
    layers.catalogue.pop();
    layers.catalogue.push(texts(&files));
    let kit = Kit::load(&layers).unwrap_or_else(|e| panic!("{e}"));
    let (mut passed, mut failed) = (0, 0);
    for turn in &turns {
        let Some(told) = audit(&kit, &turn.list) else { continue };
        let now = count(&told, &turn.rule, turn.level);
        let said = if turn.fits { "fits" } else { "does not" };
        assert_eq!(now <= turn.certain, turn.fits, "{}: {said}\n{}", turn.rule, turn.what);
        *(if turn.fits { &mut passed } else { &mut failed }) += 1;
    }
    assert!(passed * 10 > trials.len() && failed * 10 > trials.len(), "{passed}, {failed}");
}
