//! Searches: `cargo bench --bench search`. With folders that tests/peers/search/make.py made, their
//! two briefs are planned, for a comparison with the solver that tests/peers/search/cp.py asks:
//! `cargo bench --bench search -- DIR…`.

use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use dryfit::inside::build::What;
use dryfit::inside::build::brief::Brief;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::{Layer, read_source};
use dryfit::inside::whatif::fit::{fit, steps};
use dryfit::inside::whatif::mend::mend;
use dryfit::inside::whatif::mix::mix;
use dryfit::inside::whatif::plan::best;
use dryfit::inside::whatif::search::SearchLimits;
use jiff::civil::{Date, date};

#[allow(dead_code)]
#[path = "common.rs"]
mod common;
use common::{grown, median};

const DAY: Date = date(2026, 11, 20);
static NEVER: AtomicBool = AtomicBool::new(false);

fn limits() -> SearchLimits<'static> {
    SearchLimits::new(&NEVER)
}

fn main() {
    let folders: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    if folders.is_empty() {
        let short = !std::env::args().any(|a| a == "--bench");
        at_the_prompt(if short { 400 } else { 5_000 });
    }
    for folder in folders {
        plans(Path::new(&folder));
    }
}

/// Two briefs over a made catalogue: optimum, whether it is proven, milliseconds of loading and of
/// planning, peak memory.
fn plans(folder: &Path) {
    let layers = Layers::new(
        vec![Layer::read(&folder.join("catalogue")).expect("a folder")],
        vec![Layer::read(&folder.join("rules")).expect("a folder")],
    );
    let start = Instant::now();
    let kit = Kit::load(&layers).expect("it loads");
    let loaded = start.elapsed();
    for name in ["cheapest", "best"] {
        let source = read_source(&folder.join(format!("{name}.toml"))).expect("a brief");
        let brief = Brief::parse(&source, kit.catalogue(), DAY).expect("it reads");
        let start = Instant::now();
        let plan = best(&kit, &layers, &brief, limits()).expect("it plans");
        let took = start.elapsed();
        let first = plan.best.first().expect("an answer");
        let words = if name == "best" {
            format!("{} {:.2}", first.values[0], first.total.money.to_f64())
        } else {
            format!("{:.2}", first.total.money.to_f64())
        };
        let sure = if plan.proven { "proven" } else { "not proven" };
        println!(
            "{name}\t{words}\t{sure}\t{:.1}\t{:.1}\t{} MiB\t{} runs",
            loaded.as_secs_f64() * 1e3,
            took.as_secs_f64() * 1e3,
            peak_mib(),
            plan.effort.runs
        );
    }
}

fn peak_mib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().split(' ').next()?.parse::<u64>().ok()).unwrap_or(0) >> 10
}

/// fit, steps, mend and mix on the demo builds, over a catalogue of so many parts.
fn at_the_prompt(parts: usize) {
    let files = grown(parts);
    let texts: Vec<(&str, &str)> = files.iter().map(|(b, t)| (b.as_str(), t.as_str())).collect();
    let catalogue =
        Arc::new(Catalogue::load(&[Layer::from_texts("large", &texts)]).expect("it loads"));
    let kit =
        Kit::with_catalogue(catalogue.clone(), &Layers::built_in().rules).expect("the rules load");
    let read = |kit: &Kit, name: &str| {
        kit.read(&read_source(&Path::new("examples").join(name)).expect("the demo is there"), DAY)
            .expect("it reads")
    };
    let build = read(&kit, "youth-club-games.toml");
    let audit = median(51, || {
        black_box(kit.audit(&build));
    });
    let (mut worst, mut rows, mut name) = (std::time::Duration::ZERO, 0, "");
    for (at, line) in build.lines.iter().enumerate() {
        let cold = fit(&kit, &build, at, limits()).rows.len();
        let took = median(3, || {
            black_box(fit(&kit, &build, at, limits()));
        });
        if took > worst {
            (worst, rows) = (took, cold);
            name = match &line.what {
                What::Part(part) => &part.id,
                What::Open { .. } => "open",
            };
        }
    }
    println!(
        "fit over {} parts, slowest line {name} with {rows} parts: {worst:?}, {:.0} audits' time; one audit {audit:?}",
        catalogue.parts.len(),
        worst.as_secs_f64() / audit.as_secs_f64()
    );
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    let (ours, theirs) = (read(&kit, "bird-hide-edit.toml"), read(&kit, "bird-hide-cheap.toml"));
    let took = median(3, || {
        for at in 0..ours.lines.len() {
            black_box(steps(&fit(&kit, &ours, at, limits()), at));
        }
    });
    println!("steps of {} lines: {took:?}", ours.lines.len());
    // The first ten lines of both lists that hold the same kinds.
    let short =
        |build: &dryfit::Build| build.with_lines(build.lines.iter().take(10).cloned().collect());
    let (a, b) = (short(&ours), short(&theirs));
    let index = kit.rules().find("value.index").map(|at| (at, true));
    let took = median(3, || {
        black_box(mix(&kit, &a, &b, index, limits()).expect("they mix"));
    });
    println!("mix of two lists of {} lines: {took:?}", a.lines.len());
    let salvage = read(&kit, "quay-salvage.toml");
    let start = Instant::now();
    let mended = mend(&kit, &salvage, limits());
    println!(
        "mend of {} stops by {} changes: {:?}",
        mended.stops.len(),
        mended.ways.first().map_or(0, |w| w.changes.len()),
        start.elapsed()
    );
}
