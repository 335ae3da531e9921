//! How costs grow: `cargo bench --bench ratios -- growth`. Prints rows for the table in
//! DEVELOPERS.md; a slope of 1 is a cost in proportion.

use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::build::{Build, Line, What};
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::Layer;
use dryfit::inside::source::Source;

use super::random::{Random, random_build};
use super::{DAY, grown, median, ratio};

const HEAD: &str = "purpose = \"games\"\nbudget = \"2000.00 EUR\"\nhours_per_day = 5\nelectricity = \"0.31 EUR\"\nyears = 5\n";

/// All tables; `short` only to see that they are made.
pub(crate) fn run(short: bool) {
    let folder =
        Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("growth-{}", std::process::id()));
    parts(&folder.join("catalogue"), if short { &[300, 600] } else { &[3_000, 12_500, 50_000] });
    let layers = Layers::built_in();
    let catalogue = Arc::new(Catalogue::load(&layers.catalogue).expect("the catalogue loads"));
    let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
    let base = kit
        .read(&Source::new("base", format!("{HEAD}[[line]]\npart = \"supply/tarn-650\"\n")), DAY)
        .expect("it reads");
    lines(&kit, &catalogue, &base);
    rules(&kit, &catalogue, &base);
    builds(&kit, &catalogue, &base, if short { &[50, 100] } else { &[1_250, 5_000, 20_000] });
    threads(&folder.join("lists"), &catalogue, &base, if short { 20 } else { 2_000 });
    let _ = fs::remove_dir_all(&folder);
}

/// One row: what was counted, what each count cost, and the slope of the line through their
/// logarithms.
fn row(what: &str, points: &[(usize, Duration)]) {
    let logs: Vec<(f64, f64)> =
        points.iter().map(|(n, cost)| ((*n as f64).ln(), cost.as_secs_f64().ln())).collect();
    let mean = |of: fn(&(f64, f64)) -> f64| logs.iter().map(of).sum::<f64>() / logs.len() as f64;
    let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
    let slope = logs.iter().map(|(x, y)| (x - mx) * (y - my)).sum::<f64>()
        / logs.iter().map(|(x, _)| (x - mx) * (x - mx)).sum::<f64>();
    let costs: Vec<String> = points.iter().map(|(n, cost)| format!("{n}: {cost:.1?}")).collect();
    println!("| {what} | {} | {slope:.2} |", costs.join(", "));
}

fn resident_bytes() -> usize {
    let pages = fs::read_to_string("/proc/self/statm")
        .ok()
        .and_then(|s| s.split_whitespace().nth(1)?.parse::<usize>().ok());
    pages.unwrap_or(0) * 4096
}

/// Loading, beside a plain parse of the same texts, and what stays in memory of the largest.
fn parts(folder: &Path, sizes: &[usize]) {
    let mut costs = Vec::new();
    for size in sizes {
        let _ = fs::remove_dir_all(folder);
        let mut bytes = 0;
        for (below, text) in grown(*size) {
            let path = folder.join(below);
            fs::create_dir_all(path.parent().expect("it lies in a folder"))
                .expect("a folder can be made");
            bytes += text.len();
            fs::write(path, text).expect("a file can be written");
        }
        let before = resident_bytes();
        let layer = Layer::read(folder).expect("it reads");
        let catalogue = Catalogue::load(std::slice::from_ref(&layer)).expect("it loads");
        let resident = resident_bytes().saturating_sub(before);
        let count = catalogue.parts().len();
        drop(catalogue);
        let plain = || {
            median(1, || {
                layer.files.iter().for_each(|(_, s)| {
                    drop(black_box(toml::from_str::<toml::Table>(&s.text).expect("plain TOML")))
                })
            })
        };
        let ours = || {
            median(1, || {
                drop(black_box(Catalogue::load(std::slice::from_ref(&layer)).expect("it loads")))
            })
        };
        // In turns, the best of each.
        let (plain, ours) = (0..5)
            .map(|_| (plain(), ours()))
            .fold((Duration::MAX, Duration::MAX), |(p, o), (q, r)| (p.min(q), o.min(r)));
        println!(
            "{count} parts, {} KiB: load / plain parse {:.2} (wanted 1.5); resident, text included, {:.2} times the text (wanted 4)",
            bytes >> 10,
            ratio(ours, plain),
            resident as f64 / bytes as f64
        );
        costs.push((count, ours));
    }
    row("load, by parts", &costs);
}

fn warm(kit: &Kit, catalogue: &Arc<Catalogue>, builds: &[Arc<Build>], which: &[u16]) -> Duration {
    let audit = |build: &Arc<Build>| {
        black_box(
            kit.audit_with(&Rc::new(Resolved::new(build.clone(), catalogue.clone())), which)
                .exit_code(),
        )
    };
    for build in builds {
        audit(build);
    }
    (0..5).map(|_| median(1, || builds.iter().for_each(|b| _ = audit(b)))).min().unwrap_or_default()
        / builds.len() as u32
}

fn all_rules(kit: &Kit) -> Vec<u16> {
    (0u16..).take(kit.rules().rules.len()).collect()
}

/// A known list, longer and longer by fans and drives.
fn lines(kit: &Kit, catalogue: &Arc<Catalogue>, base: &Build) {
    let mut random = Random(5);
    let mut build = random_build(catalogue, &mut random, base);
    let longer: Vec<Line> =
        build.lines.iter().filter(|l| matches!(&l.what, What::Part(p) if p.id.starts_with("fan/") || p.id.starts_with("storage/"))).cloned().collect();
    let mut costs = Vec::new();
    for more in [0, 12, 36, 84] {
        let short = build.lines.len();
        build.lines.extend(longer.iter().cycle().take(more).cloned());
        costs.push((
            build.lines.len(),
            warm(kit, catalogue, &[Arc::new(build.clone())], &all_rules(kit)),
        ));
        build.lines.truncate(short);
    }
    row("audit of a known list, by lines", &costs);
}

/// A known list under more and more of the rules, every nth of them so that each subject has its
/// share.
fn rules(kit: &Kit, catalogue: &Arc<Catalogue>, base: &Build) {
    let mut random = Random(6);
    let builds: Vec<Arc<Build>> =
        (0..20).map(|_| Arc::new(random_build(catalogue, &mut random, base))).collect();
    let costs: Vec<(usize, Duration)> = [8, 4, 2, 1]
        .iter()
        .map(|step| {
            let which: Vec<u16> = all_rules(kit).into_iter().step_by(*step).collect();
            (which.len(), warm(kit, catalogue, &builds, &which))
        })
        .collect();
    row("audit of a known list, by rules and measures", &costs);
}

/// Lists never seen, more and more of them, memory empty at the start of each run.
fn builds(kit: &Kit, catalogue: &Arc<Catalogue>, base: &Build, sizes: &[usize]) {
    let which = all_rules(kit);
    let costs: Vec<(usize, Duration)> = sizes
        .iter()
        .map(|size| {
            let mut random = Random(7);
            let builds: Vec<Arc<Build>> =
                (0..*size).map(|_| Arc::new(random_build(catalogue, &mut random, base))).collect();
            kit.forget();
            let start = Instant::now();
            for build in &builds {
                black_box(
                    kit.audit_with(
                        &Rc::new(Resolved::new(build.clone(), catalogue.clone())),
                        &which,
                    )
                    .exit_code(),
                );
            }
            let cost = start.elapsed();
            println!(
                "{size} lists: memory weighs {} of {} at the most, {} expressions",
                kit.memory_weight(),
                dryfit::inside::kit::MAX_MEMORY,
                kit.expressions()
            );
            (*size, cost)
        })
        .collect();
    row("all audits, by lists never seen", &costs);
}

/// A folder of lists through the program, on one core and on all.
fn threads(folder: &Path, catalogue: &Arc<Catalogue>, base: &Build, count: usize) {
    fs::create_dir_all(folder).expect("a folder can be made");
    let mut random = Random(8);
    for nth in 0..count {
        fs::write(
            folder.join(format!("{nth}.toml")),
            text(&random_build(catalogue, &mut random, base)),
        )
        .expect("a file can be written");
    }
    let timed = |before: &[&str]| {
        let mut words: Vec<PathBuf> = before.iter().map(PathBuf::from).collect();
        words.extend([
            env!("CARGO_BIN_EXE_dryfit").into(),
            "audit".into(),
            folder.to_path_buf(),
            "--format".into(),
            "brief".into(),
            "--date".into(),
            "2026-11-20".into(),
        ]);
        median(3, || {
            let status = Command::new(&words[0])
                .args(&words[1..])
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status();
            assert!(status.is_ok_and(|s| s.code().is_some_and(|c| c < 2)), "{words:?}");
        })
    };
    let (one, all) = (timed(&["taskset", "-c", "0"]), timed(&[]));
    println!(
        "{count} lists in a folder, one core / all cores: {:.2} ({one:.0?}, {all:.0?})",
        ratio(one, all)
    );
}

fn text(build: &Build) -> String {
    let mut text = HEAD.to_owned();
    for line in &build.lines {
        let What::Part(part) = &line.what else { continue };
        let _ = writeln!(text, "[[line]]\npart = \"{}\"\ncount = {}", part.id, line.count);
        for (key, value) in [("mount", &line.mount), ("flow", &line.flow)] {
            if let Some(value) = value {
                let _ = writeln!(text, "{key} = \"{value}\"");
            }
        }
    }
    text
}
