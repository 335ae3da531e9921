//! The mutation pass: each small wrong is planted, the cases are run, and what no case noticed is
//! on_progress.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;

use serde_json::{Value, json};

use super::mutants::{Mutant, mutants, placed};
use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::cases::{Case, Suite};
use crate::catalogue::Catalogue;
use crate::kit::{Kit, Layers};
use crate::rules::loader::RuleSet;
use crate::source::{Problem, Problems};

/// Stack of a thread that runs scripts.
const STACK: usize = 64 << 20;

/// The result of a mutation pass.
#[derive(Debug, Default)]
pub struct Mutation {
    /// Wrongs that could be planted.
    pub all: usize,
    pub planted: usize,
    /// Those that no case noticed, in order of place.
    pub unnoticed: Vec<Mutant>,
    /// Wrongs planted and noticed, by rule file.
    pub by_file: BTreeMap<String, (usize, usize)>,
}

impl Mutation {
    /// Share of wrongs that the cases noticed, in per cent.
    pub fn share(&self) -> f64 {
        if self.planted == 0 {
            100.0
        } else {
            (self.planted - self.unnoticed.len()) as f64 / self.planted as f64 * 100.0
        }
    }
}

/// Plants wrongs in the topmost layer, one at a time: all of them, or one in `every`; `on_progress`
/// hears how many are done, of how many.
/// Errors: the rules or the catalogue cannot be read, or the cases fail with nothing planted.
pub fn mutate(
    layers: &Layers,
    only: Option<&str>,
    every: usize,
    on_progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Mutation, Problems> {
    let catalogue = Arc::new(Catalogue::load(&layers.catalogue)?);
    let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules)?;
    let Some(layer) = layers.rules.last() else { return Ok(Mutation::default()) };
    let suite = Suite::read(layer, None, &catalogue, &kit.rules(), &kit.settings());
    sound(&kit, &suite)?;
    let reach = Reach::new(&kit.rules());
    let mut list: Vec<Mutant> =
        mutants(layer, &kit.settings(), only).into_iter().filter(placed).collect();
    let all = list.len();
    list = list.into_iter().step_by(every.max(1)).collect();
    let pass = Pass {
        layers,
        catalogue: &catalogue,
        suite: &suite,
        reach: &reach,
        list: &list,
        next: AtomicUsize::new(0),
        unnoticed: Mutex::default(),
        on_progress,
    };
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from).min(list.len().max(1)) {
            let pass = &pass;
            if thread::Builder::new().stack_size(STACK).spawn_scoped(scope, || pass.work()).is_err()
            {
                pass.work();
            }
        }
    });
    let mut places = pass.unnoticed.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    places.sort_unstable();
    let mut mutation = Mutation { all, planted: list.len(), ..Mutation::default() };
    for (at, mutant) in list.into_iter().enumerate() {
        let (planted, noticed) = mutation.by_file.entry(mutant.file.clone()).or_default();
        *planted += 1;
        if places.binary_search(&at).is_ok() {
            mutation.unnoticed.push(mutant);
        } else {
            *noticed += 1;
        }
    }
    Ok(mutation)
}

/// Wrongs can be noticed only by cases that hold while nothing is wrong.
fn sound(kit: &Kit, suite: &Suite) -> Result<(), Problems> {
    let mut problems: Vec<Problem> =
        kit.rules().problems().chain(suite.problems.iter().cloned()).collect();
    kit.remember(false);
    for case in &suite.cases {
        problems.extend(case.run(kit, |audit| case.problems(audit)));
    }
    if problems.is_empty() { Ok(()) } else { Err(Problems(problems)) }
}

/// Which rules a file can touch: its own, and those of files that name it.
struct Reach(BTreeMap<String, BTreeSet<String>>);

impl Reach {
    fn new(rules: &RuleSet) -> Self {
        let files: Vec<(&str, &str)> =
            rules.files.iter().map(|f| (&*f.stem, f.source.text.as_str())).collect();
        let mut reach: BTreeMap<String, BTreeSet<String>> = files
            .iter()
            .map(|(stem, _)| ((*stem).to_owned(), BTreeSet::from([(*stem).to_owned()])))
            .collect();
        let names = |text: &str, stem: &str| {
            text.contains(&format!("{stem}::")) || text.contains(&format!("\"{stem}."))
        };
        loop {
            let mut grown = false;
            for reached in reach.values_mut() {
                let more: Vec<String> = files
                    .iter()
                    .filter(|(by, text)| {
                        !reached.contains(*by) && reached.iter().any(|stem| names(text, stem))
                    })
                    .map(|(by, _)| (*by).to_owned())
                    .collect();
                grown |= !more.is_empty();
                reached.extend(more);
            }
            if !grown {
                return Self(reach);
            }
        }
    }

    /// How near a case is to a mutant: 0 names the very rule, 1 a rule of its file, 2 one that may
    /// be touched, none when it can't notice.
    fn nearness(&self, mutant: &Mutant, case: &Case) -> Option<u8> {
        let own = mutant.function.as_ref().map(|f| format!("{}.{f}", mutant.stem));
        let file = |id: &str| id.split('.').next().unwrap_or("").to_owned();
        let touched = self.0.get(&mutant.stem);
        case.rules
            .iter()
            .filter_map(|id| {
                if own.as_deref() == Some(id) {
                    Some(0)
                } else if file(id) == mutant.stem {
                    Some(1)
                } else {
                    // A setting with a name of no file may be asked for anywhere.
                    touched.is_none_or(|t| t.contains(&file(id))).then_some(2)
                }
            })
            .min()
    }
}

struct Pass<'a> {
    layers: &'a Layers,
    catalogue: &'a Arc<Catalogue>,
    suite: &'a Suite,
    reach: &'a Reach,
    list: &'a [Mutant],
    next: AtomicUsize,
    unnoticed: Mutex<Vec<usize>>,
    on_progress: &'a (dyn Fn(usize, usize) + Sync),
}

impl Pass<'_> {
    fn work(&self) {
        loop {
            let at = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(mutant) = self.list.get(at) else { return };
            if !self.noticed(mutant)
                && let Ok(mut unnoticed) = self.unnoticed.lock()
            {
                unnoticed.push(at);
            }
            (self.on_progress)(at + 1, self.list.len());
        }
    }

    fn noticed(&self, mutant: &Mutant) -> bool {
        let mut rules = self.layers.rules.clone();
        if let Some(top) = rules.last_mut() {
            *top = mutant.planted(top);
        }
        let Ok(kit) = Kit::with_catalogue(self.catalogue.clone(), &rules) else { return true };
        if kit.rules().problems().next().is_some() {
            return true;
        }
        kit.remember(false);
        let mut near: Vec<(u8, &Case)> = self
            .suite
            .cases
            .iter()
            .filter_map(|c| self.reach.nearness(mutant, c).map(|n| (n, c)))
            .collect();
        near.sort_by_key(|(n, _)| *n);
        near.iter().any(|(_, case)| !case.run(&kit, |audit| case.problems(audit)).is_empty())
    }
}

pub fn text(look: Look, mutation: &Mutation) -> String {
    Page::new(look).filled("mutation.txt", "", json(mutation))
}

/// For programs: format `dryfit-mutation`, version 1.
pub fn json(mutation: &Mutation) -> Value {
    let unnoticed: Vec<Value> = mutation
        .unnoticed
        .iter()
        .map(|m| {
            json!({ "at": m.label.address(), "as": m.becomes,
        "text": m.label.text, "function": m.function })
        })
        .collect();
    let files: serde_json::Map<String, Value> = mutation
        .by_file
        .iter()
        .map(|(f, (planted, noticed))| {
            (f.clone(), json!({ "planted": planted, "noticed": noticed }))
        })
        .collect();
    let noticed = mutation.planted - mutation.unnoticed.len();
    json!({
        "format": "dryfit-mutation",
        "version": 1,
        "planted": mutation.planted,
        "noticed": noticed,
        "percent": mutation.share(),
        "files": files,
        "unnoticed": unnoticed,
    })
}
