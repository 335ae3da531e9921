//! Figures side by side in one run: `cargo bench --bench ratios`, or some only: `cargo bench
//! --bench ratios -- feed`. Prints ratios; times are for orientation only.

use std::hint::black_box;
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use dryfit::inside::app::prompt::TryOptions;
use dryfit::inside::app::prompt::session::Session;
use dryfit::inside::app::report::page::Page;
use dryfit::inside::app::report::style::Look;
use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::build::{Build, What};
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::{Layer, read_source};
use dryfit::inside::source::Source;
use jiff::civil::{Date, date};

#[path = "common.rs"]
mod common;
use common::{grown, median};
mod feed;
mod growth;
#[path = "../common/random.rs"]
mod random;
use random::{Random, random_build};

const DAY: Date = date(2026, 11, 20);
/// Random builds of the bulk runs.
const BULK: usize = 20_000;
/// Rows of the long feed.
const FEED: usize = 1_000_000;
/// Parts of the large catalogue.
const LARGE: usize = 5_000;

fn main() {
    // Cargo passes `--bench`, and `cargo test --benches` passes none: then only a short run that
    // everything works.
    let short = !std::env::args().any(|a| a == "--bench");
    let layers = Layers::built_in();
    let catalogue = Arc::new(Catalogue::load(&layers.catalogue).expect("the catalogue loads"));
    let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
    println!("{} rules and measures, {} parts", kit.rules().rules.len(), catalogue.parts().len());
    let named: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with('-')).collect();
    let wanted = |name: &str| named.is_empty() || named.iter().any(|n| n == name);
    if wanted("build") {
        one_build(&kit, &catalogue);
    }
    if wanted("load") {
        load(if short { 500 } else { LARGE });
    }
    if wanted("prompt") {
        prompt(&layers, if short { 500 } else { LARGE }, if short { 20 } else { 2_000 });
    }
    if wanted("bulk") {
        bulk(&kit, &catalogue, if short { 200 } else { BULK });
    }
    if wanted("growth") {
        growth::run(short);
    }
    if wanted("feed") {
        let (rows, times) = if short { (2_000, 1) } else { (FEED, 9) };
        feed::run(&kit, rows, times);
    }
}

fn ratio(a: Duration, b: Duration) -> f64 {
    a.as_secs_f64() / b.as_secs_f64()
}

fn one_build(kit: &Kit, catalogue: &Arc<Catalogue>) {
    let source =
        read_source(Path::new("examples/youth-club-games.toml")).expect("the demo is there");
    let build = kit.read(&source, DAY).expect("the demo reads");
    let all: Vec<u16> = (0u16..).take(kit.rules().rules.len()).collect();
    let resolve =
        |build: &Build| Rc::new(Resolved::new(Arc::new(build.clone()), catalogue.clone()));
    let cold = median(15, || {
        kit.forget();
        black_box(kit.audit_with(&resolve(&build), &all));
    });
    let warm = median(301, || {
        black_box(kit.audit_with(&resolve(&build), &all));
    });
    println!(
        "audit of one build: cold {cold:?}, warm {warm:?}, cold/warm {:.0}",
        ratio(cold, warm)
    );
    let other = catalogue
        .part("supply/tarn-850-gold")
        .or_else(|| catalogue.part("supply/tarn-650-gold"))
        .expect("another supply");
    let mut swapped = build.clone();
    for line in &mut swapped.lines {
        if matches!(&line.what, What::Part(p) if p.kind == other.kind) {
            line.what = What::Part(other.clone());
        }
    }
    let mut swaps = Vec::new();
    for _ in 0..15 {
        kit.forget();
        kit.audit_with(&resolve(&build), &all);
        let start = Instant::now();
        black_box(kit.audit_with(&resolve(&swapped), &all));
        swaps.push(start.elapsed());
    }
    swaps.sort();
    let again = median(301, || {
        black_box(kit.audit_with(&resolve(&swapped), &all));
    });
    println!(
        "swap never seen: {:?}, cold/swap {:.1}; swap seen before: {again:?}, cold/swap {:.0}",
        swaps[7],
        ratio(cold, swaps[7]),
        ratio(cold, again)
    );
}

fn load(parts: usize) {
    let files = grown(parts);
    let texts: Vec<(&str, &str)> = files.iter().map(|(b, t)| (b.as_str(), t.as_str())).collect();
    let layer = Layer::from_texts("large", &texts);
    let bytes: usize = files.iter().map(|(_, t)| t.len()).sum();
    let plain = median(9, || {
        for (_, text) in &files {
            black_box(toml::from_str::<toml::Table>(text).expect("plain TOML"));
        }
    });
    let ours = median(9, || {
        black_box(Catalogue::load(std::slice::from_ref(&layer)).expect("it loads"));
    });
    let count = Catalogue::load(&[layer]).expect("it loads").parts().len();
    println!(
        "load of {count} parts, {} KiB: {ours:?}, plain parse {plain:?}, ours/plain {:.2}",
        bytes >> 10,
        ratio(ours, plain)
    );
}

/// Swaps at the prompt, from the line typed to the page that answers it, over the large catalogue:
/// parts never tried on that line before.
fn prompt(layers: &Layers, parts: usize, swaps: usize) {
    let files = grown(parts);
    let texts: Vec<(&str, &str)> = files.iter().map(|(b, t)| (b.as_str(), t.as_str())).collect();
    let catalogue =
        Arc::new(Catalogue::load(&[Layer::from_texts("large", &texts)]).expect("it loads"));
    let kit =
        Rc::new(Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load"));
    let options = TryOptions {
        build: "examples/youth-club-games.toml".into(),
        new: false,
        script: None,
        keep_going: false,
        limit: std::time::Duration::from_secs(60),
        trust_unknown: false,
        plain: true,
        rules: None,
        catalogue: None,
        today: DAY,
    };
    let mut session =
        Session::with_kit(kit, Layers::built_in(), &options, false).expect("the demo opens");
    let single =
        ["processor", "board", "memory", "graphics", "supply", "cooler", "chassis", "display"];
    let ids: Vec<&str> = catalogue
        .parts()
        .map(|p| &*p.id)
        .filter(|id| single.iter().any(|k| id.split('/').next() == Some(k)))
        .collect();
    let mut random = Random(11);
    let mut times: Vec<Duration> = (0..swaps)
        .map(|_| {
            let part = ids[random.below(ids.len())];
            let line = format!("swap {} {part}", part.split('/').next().unwrap_or(""));
            let mut page = Page::new(Look { colour: false, drawing: false, width: 100 });
            let start = Instant::now();
            black_box(session.run(&line, &mut page, &mut |_, _| None).is_ok());
            start.elapsed()
        })
        .collect();
    times.sort();
    println!(
        "{swaps} swaps at the prompt, {} parts: middle {:?}, one in a hundred over {:?}, the slowest {:?}",
        catalogue.parts().len(),
        times[swaps / 2],
        times[swaps * 99 / 100],
        times[swaps - 1]
    );
}

fn bulk(kit: &Kit, catalogue: &Arc<Catalogue>, count: usize) {
    let source = Source::new(
        "bulk",
        "purpose = \"games\"\nbudget = \"2000.00 EUR\"\nhours_per_day = 5\nelectricity = \"0.31 EUR\"\nyears = 5\n[[line]]\npart = \"supply/tarn-650\"\n",
    );
    let base = kit.read(&source, DAY).expect("it reads");
    let mut random = Random(7);
    let builds: Vec<Arc<Build>> =
        (0..count).map(|_| Arc::new(random_build(catalogue, &mut random, &base))).collect();
    let all: Vec<u16> = (0u16..).take(kit.rules().rules.len()).collect();
    let audit = |build: &Arc<Build>| {
        black_box(
            kit.audit_with(&Rc::new(Resolved::new(build.clone(), catalogue.clone())), &all)
                .exit_code(),
        )
    };
    kit.forget();
    let before = kit.script_runs();
    let start = Instant::now();
    for build in &builds {
        audit(build);
    }
    let known = start.elapsed();
    let runs = kit.script_runs() - before;
    let share = 1.0 - runs as f64 / (count * all.len()) as f64;
    kit.remember(false);
    let few = builds.len().min(500);
    let start = Instant::now();
    for build in builds.iter().take(few) {
        audit(build);
    }
    let fresh = start.elapsed() * (count as u32) / (few as u32);
    kit.remember(true);
    println!(
        "bulk of {count} random builds: {:.1} µs a build; {:.2} % of verdicts from memory ({} nodes); memory off {:.1} µs a build, off/on {:.1}",
        known.as_secs_f64() * 1e6 / count as f64,
        share * 100.0,
        kit.memory_nodes(),
        fresh.as_secs_f64() * 1e6 / count as f64,
        ratio(fresh, known)
    );
    worst(kit, catalogue, &builds, &all);
}

/// The rules whose memory holds the most: where to look when the share falls.
fn worst(kit: &Kit, catalogue: &Arc<Catalogue>, builds: &[Arc<Build>], all: &[u16]) {
    let rules = kit.rules();
    let sample = &builds[..builds.len().min(2_000)];
    kit.forget();
    let mut rows: Vec<(u64, Duration, &str)> = Vec::new();
    for at in all {
        let (before, start) = (kit.script_runs(), Instant::now());
        for build in sample {
            black_box(
                kit.audit_with(&Rc::new(Resolved::new(build.clone(), catalogue.clone())), &[*at]),
            );
        }
        rows.push((kit.script_runs() - before, start.elapsed(), &rules.rules[*at as usize].id));
    }
    rows.sort_by_key(|row| std::cmp::Reverse(row.0));
    for (runs, time, id) in rows.iter().take(12) {
        println!(
            "  {id}: {runs} script runs and {:.2} µs a build over {} builds",
            time.as_secs_f64() * 1e6 / sample.len() as f64,
            sample.len()
        );
    }
}
