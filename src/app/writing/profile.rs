//! `dryfit rules profile`: what each rule costs, by its script and from memory, so that a slow one
//! is found.

use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::build::Build;
use crate::build::resolve::Resolved;
use crate::kit::{Kit, Outcome};

/// Times each figure is taken; the least counts, as all that disturbs adds.
const ROUNDS: usize = 5;

/// What one rule cost over some builds.
#[derive(Debug, Clone, Default)]
pub struct Row {
    pub id: String,
    /// Its script, once a build, measures it asks for included.
    pub cold: Duration,
    /// The same from memory.
    pub warm: Duration,
    /// Questions it asked, the most over the builds.
    pub reads: usize,
    /// Nodes of memory after all builds.
    pub nodes: usize,
    /// Builds answered from what earlier builds taught, out of all.
    pub hits: usize,
    /// It failed on some build.
    pub broken: bool,
}

/// Runs every rule over some builds, the slowest first.
pub fn profile(kit: &Kit, builds: &[Build]) -> Vec<Row> {
    let resolved: Vec<Rc<Resolved>> = builds
        .iter()
        .map(|b| Rc::new(Resolved::new(Arc::new(b.clone()), kit.catalogue().clone())))
        .collect();
    let rules = kit.rules();
    let mut rows: Vec<Row> = rules
        .rules
        .iter()
        .zip(0u16..)
        .map(|(rule, at)| row(kit, &resolved, &rule.id, at))
        .collect();
    rows.sort_by(|a, b| b.cold.cmp(&a.cold).then_with(|| a.id.cmp(&b.id)));
    rows
}

fn row(kit: &Kit, builds: &[Rc<Resolved>], id: &str, at: u16) -> Row {
    let run = |build: &Rc<Resolved>| {
        let start = Instant::now();
        let audit = kit.audit_with(build, &[at]);
        (start.elapsed(), audit)
    };
    let least = |build: &Rc<Resolved>| (0..ROUNDS).map(|_| run(build).0).min().unwrap_or_default();
    kit.remember(false);
    let cold = builds.iter().map(least).sum();
    kit.remember(true);
    kit.forget();
    let mut row = Row { id: id.to_owned(), cold, ..Row::default() };
    for build in builds {
        let before = kit.script_runs();
        let (_, audit) = run(build);
        row.hits += usize::from(kit.script_runs() == before);
        for (_, outcome) in audit.outcomes() {
            match outcome {
                Outcome::Known(verdict) => row.reads = row.reads.max(verdict.path.len()),
                Outcome::Broken(_) => row.broken = true,
                Outcome::Waits(_) | Outcome::Explored(_) => {}
            }
        }
    }
    row.nodes = kit.nodes_of(at);
    row.warm = builds.iter().map(least).sum();
    row
}

fn micros(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}

/// For people; as wide as it is, since figures stand under one another.
pub fn text(rows: &[Row], builds: usize) -> String {
    let look = Look { width: usize::MAX, ..Look::stdout() };
    Page::new(look).filled("profile.txt", "", json(rows, builds))
}

/// For programs: format `dryfit-profile`, version 1.
pub fn json(rows: &[Row], builds: usize) -> Value {
    let rows: Vec<Value> = rows
        .iter()
        .map(|r| {
            json!({ "rule": r.id, "script_us": micros(r.cold),
        "memory_us": micros(r.warm), "reads": r.reads, "nodes": r.nodes, "known": r.hits,
        "broken": r.broken })
        })
        .collect();
    json!({ "format": "dryfit-profile", "version": 1, "builds": builds, "rules": rows })
}
