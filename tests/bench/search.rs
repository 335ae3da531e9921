//! Searches: `cargo bench --bench search`. With folders that tests/peers/search/make.py made, their
//! two briefs are planned, for a comparison with the solver that tests/peers/search/cp.py asks:
//! `cargo bench --bench search -- DIR…`. `-- briefs=60` plans that many random briefs on the shipped
//! catalogue and on one of 5,000 parts.

use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use dryfit::inside::build::What;
use dryfit::inside::build::brief::Brief;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::{Layer, read_source};
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::fit::{fit, steps};
use dryfit::inside::whatif::mend::mend;
use dryfit::inside::whatif::mix::mix;
use dryfit::inside::whatif::plan::{best, plan};
use dryfit::inside::whatif::search::SearchLimits;
use jiff::civil::{Date, date};

#[allow(dead_code)]
#[path = "common.rs"]
mod common;
use common::{grown, grown_and_offered, median};

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
        match folder.strip_prefix("briefs=").and_then(|n| n.parse().ok()) {
            Some(count) => {
                briefs(count, 0);
                briefs(count, 5_000);
            }
            None => plans(Path::new(&folder)),
        }
    }
}

/// So many random briefs on the shipped catalogue, or on one of so many parts: what each plan took,
/// with trade-offs and costs, and whether it is proven.
fn briefs(count: u64, parts: usize) {
    let layers = Layers::built_in();
    let mut took = Vec::new();
    let mut proven = 0;
    for seed in 0..count {
        let kit = match parts {
            0 => Kit::load(&layers).expect("it loads"),
            _ => {
                let files = grown_and_offered(parts);
                let texts: Vec<(&str, &str)> =
                    files.iter().map(|(b, t)| (b.as_str(), t.as_str())).collect();
                let layer = Layer::from_texts("large", &texts);
                let catalogue = Arc::new(Catalogue::load(&[layer]).expect("it loads"));
                Kit::with_catalogue(catalogue, &layers.rules).expect("the rules load")
            }
        };
        let text = brief_of(seed);
        let source = Source::new("brief.toml", text.as_str());
        let brief = Brief::parse(&source, kit.catalogue(), DAY).expect("it reads");
        let (start, wall) = (cpu(), Instant::now());
        let mut limits = limits();
        limits.until = wall.checked_add(Duration::from_secs(30));
        let plan = plan(&kit, &layers, &brief, limits).expect("it plans");
        let ms = (cpu() - start).as_secs_f64() * 1e3;
        let cautions = plan
            .best
            .first()
            .map_or(0, |best| best.remains.iter().filter(|f| f.level == Level::Caution).count());
        let whole = plan.proven && plan.front_proven && plan.costs_proven;
        println!(
            "brief {seed}\t{ms:.0} ms\t{} answers\tproven {}\twhole {whole}\t{cautions} cautions\t{} ways out",
            plan.best.len(),
            plan.proven,
            plan.ways_out.len(),
        );
        proven += u64::from(plan.proven);
        took.push(ms);
    }
    took.sort_by(f64::total_cmp);
    let at = |share: f64| took.get((took.len() as f64 * share) as usize).copied().unwrap_or(0.0);
    println!(
        "{count} briefs, {} parts: {:.0} ms in the middle, {:.0} at nine tenths, {:.0} at worst; {proven} proven",
        if parts == 0 { "the shipped".to_owned() } else { parts.to_string() },
        at(0.5),
        at(0.9),
        took.last().copied().unwrap_or(0.0)
    );
}

/// A brief as people write them: a purpose, a budget, some wants, one or two aims.
fn brief_of(seed: u64) -> String {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut roll = |below: u64| {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    let purpose = ["games", "study", "office", "video editing"][roll(4) as usize];
    let budget = 350 + 50 * roll(40);
    let mut needs = vec!["processor", "board", "memory", "storage", "chassis", "supply"];
    let mut wants = Vec::new();
    let gb = [8, 16, 32, 64][roll(4) as usize];
    wants.push(format!("build.memory.module_gb * build.memory.modules >= {gb}"));
    let card = roll(3) > 0;
    if card {
        needs.push("graphics");
        if roll(2) == 0 {
            wants.push(format!("build.graphics.memory_gb >= {}", [6, 8, 12][roll(3) as usize]));
        }
    } else {
        wants.push("build.processor.graphics".to_owned());
    }
    if roll(2) == 0 {
        needs.push("cooler");
    }
    if roll(3) == 0 {
        needs.push("display");
    }
    if roll(2) == 0 {
        wants.push(format!("build.storage.gb >= {}", [500, 1000, 2000][roll(3) as usize]));
    }
    if roll(4) == 0 {
        wants.push("build.board.wifi".to_owned());
    }
    let aims = match roll(4) {
        0 => "minimise = \"price\"\n",
        1 => "maximise = \"value.index\"\n",
        2 => "maximise = \"value.index\"\nminimise = \"price\"\n",
        _ => "minimise = [\"airflow.noise\", \"price\"]\n",
    };
    let tolerate = if roll(5) == 0 { "tolerate = \"caution\"\n" } else { "" };
    let quoted =
        |all: &[String]| all.iter().map(|w| format!("{w:?}")).collect::<Vec<_>>().join(", ");
    let needs: Vec<String> = needs.into_iter().map(str::to_owned).collect();
    format!(
        "purpose = \"{purpose}\"\nbudget = \"{budget}.00 EUR\"\nneeds = [{}]\nwants = [{}]\n{aims}{tolerate}",
        quoted(&needs),
        quoted(&wants)
    )
}

/// Two briefs over a made catalogue: optimum, whether it is proven, milliseconds of loading and of
/// planning, both of processor time, peak memory.
fn plans(folder: &Path) {
    let layers = Layers::new(
        vec![Layer::read(&folder.join("catalogue")).expect("a folder")],
        vec![Layer::read(&folder.join("rules")).expect("a folder")],
    );
    let start = cpu();
    let kit = Kit::load(&layers).expect("it loads");
    let loaded = cpu() - start;
    for name in ["cheapest", "best"] {
        let source = read_source(&folder.join(format!("{name}.toml"))).expect("a brief");
        let brief = Brief::parse(&source, kit.catalogue(), DAY).expect("it reads");
        let start = cpu();
        let plan = best(&kit, &layers, &brief, limits()).expect("it plans");
        let took = cpu() - start;
        let first = plan.best.first().expect("an answer");
        let words = if name == "best" {
            format!("{} {:.2}", first.values[0], first.total.money.to_f64())
        } else {
            format!("{:.2}", first.total.money.to_f64())
        };
        let sure = if plan.proven { "proven" } else { "not proven" };
        println!(
            "{name}\t{words}\t{sure}\t{:.1}\t{:.1}\t{} MiB\t{} nodes\t{} runs",
            loaded.as_secs_f64() * 1e3,
            took.as_secs_f64() * 1e3,
            peak_mib(),
            plan.effort.boxes,
            plan.effort.runs
        );
    }
}

/// Processor time of this thread.
fn cpu() -> Duration {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    Duration::from_nanos(text.split(' ').next().and_then(|n| n.parse().ok()).unwrap_or(0))
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
    let (mut worst, mut rows, mut name) = (Duration::ZERO, 0, "");
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
        catalogue.parts().len(),
        worst.as_secs_f64() / audit.as_secs_f64()
    );
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    let (ours, theirs) = (read(&kit, "bird-hide-edit.toml"), read(&kit, "bird-hide-cheap.toml"));
    let took = median(3, || {
        for at in 0..ours.lines.len() {
            black_box(steps(&fit(&kit, &ours, at, limits())));
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
