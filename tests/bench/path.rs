//! Main paths, each so many times over and nothing else, for a counter of instructions:
//!
//!     cargo bench --no-run --bench ratios
//!     tests/bench/count.sh target/release/deps/ratios-…
//!
//! The difference between two numbers of rounds, over the rounds between them, is what one round costs.

use std::hint::black_box;
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;

use dryfit::build::resolve::Resolved;
use dryfit::build::{Build, What};
use dryfit::catalogue::Catalogue;
use dryfit::kit::{Kit, Layers};
use dryfit::layer::read_source;

/// Runs one path: `load`, `cold`, `warm`, `briefs` or `swap`.
pub(crate) fn run(path: &str, rounds: usize) {
    let layers = Layers::built_in();
    let catalogue = Arc::new(Catalogue::load(&layers.catalogue).expect("the catalogue loads"));
    if path == "load" {
        for _ in 0..rounds {
            black_box(Catalogue::load(&layers.catalogue).expect("the catalogue loads"));
        }
        return;
    }
    let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
    let source = read_source(Path::new("examples/youth-club-games.toml")).expect("the demo is there");
    let build = Arc::new(kit.read(&source, super::DAY).expect("the demo reads"));
    let swapped = Arc::new(swapped(&build, &catalogue));
    let all: Vec<u16> = (0u16..).take(kit.rules().rules.len()).collect();
    let audit = |build: &Arc<Build>| kit.audit_with(&Rc::new(Resolved::new(build.clone(), catalogue.clone())), &all);
    audit(&build);
    audit(&swapped);
    for _ in 0..rounds {
        match path {
            "cold" => {
                kit.forget();
                black_box(audit(&build));
            }
            "warm" => {
                black_box(audit(&build).exit_code());
            }
            "briefs" => {
                black_box(audit(&build).briefs());
            }
            _ => {
                // To the other supply, known from the rounds before, and what it says.
                black_box(audit(&swapped).findings());
            }
        }
    }
}

fn swapped(build: &Build, catalogue: &Catalogue) -> Build {
    let other = catalogue.part("supply/tarn-850-gold").or_else(|| catalogue.part("supply/tarn-650-gold")).expect("another supply");
    let mut swapped = build.clone();
    for line in &mut swapped.lines {
        if matches!(&line.what, What::Part(p) if p.kind == other.kind) {
            line.what = What::Part(other.clone());
        }
    }
    swapped
}
