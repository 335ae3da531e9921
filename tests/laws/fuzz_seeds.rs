//! The fuzzing targets over their seeds, on stable Rust: what they do cannot rot, and what fuzzing
//! once found stays found.

use std::fs;
use std::path::Path;

use crate::random::Random;
use crate::share;

#[path = "../fuzz/bodies/mod.rs"]
mod bodies;

/// Changed seeds of each way in.
const CHANGED: u32 = 400;
/// Ways in whose seeds are changed at random here too, as their inputs come from strangers.
const FROM_STRANGERS: [&str; 6] = ["intake", "page", "config", "pack", "offers", "waivers"];
/// What is put into a seed.
const BITS: [&str; 24] = [
    "\u{202e}",
    "\u{0}",
    "\u{1b}[31m",
    "\u{feff}",
    "\u{2028}",
    "\"",
    "'",
    "\\",
    "#",
    "[[",
    "]]",
    "\n",
    "\r",
    "\t",
    "=",
    "nan",
    "-inf",
    "1e308",
    "99999999999999999999",
    "0001-01-01",
    "9999-12-31",
    "²",
    "¼",
    "\"\"\"",
];

/// A seed with a few bytes gone, doubled, or put in.
fn changed(seed: &[u8], random: &mut Random) -> Vec<u8> {
    let mut out = seed.to_vec();
    for _ in 0..1 + random.below(4) {
        let at = random.below(out.len() + 1);
        let to = (at + random.below(40)).min(out.len());
        match random.below(4) {
            0 => drop(out.drain(at..to)),
            1 => {
                let again = out[at..to].to_vec();
                out.splice(at..at, again);
            }
            2 => out.insert(at, random.below(256) as u8),
            _ => drop(out.splice(at..at, BITS[random.below(BITS.len())].bytes())),
        }
    }
    out
}

#[test]
fn seeds_changed_at_random_run_through_their_targets() {
    let start = std::env::var("DRYFIT_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(7);
    let mut random = Random(start);
    for name in FROM_STRANGERS {
        let run = bodies::TARGETS.iter().find(|t| t.0 == name).expect("a target").1;
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/seeds").join(name);
        let mut seeds: Vec<_> =
            fs::read_dir(folder).expect("seeds").map(|e| e.expect("a seed").path()).collect();
        seeds.sort();
        for _ in 0..share::of(CHANGED) {
            let seed = fs::read(&seeds[random.below(seeds.len())]).expect("it reads");
            let data = changed(&seed, &mut random);
            // Shown when the test fails: the input itself.
            println!("{name}: {:?}", String::from_utf8_lossy(&data));
            run(&data);
        }
    }
}

#[test]
fn every_seed_runs_through_its_target() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz");
    let mut bytes = 0;
    for (name, run) in bodies::TARGETS {
        let held = fs::read_dir(root.join("seeds").join(name))
            .unwrap_or_else(|e| panic!("seeds of {name}: {e}"));
        let mut seeds: Vec<_> =
            held.map(|entry| entry.unwrap_or_else(|e| panic!("{e}")).path()).collect();
        seeds.sort();
        assert!(!seeds.is_empty(), "{name} has no seeds");
        for seed in &seeds {
            let data = fs::read(seed).unwrap_or_else(|e| panic!("{e}"));
            bytes += data.len();
            // Shown when the test fails: which seed it was.
            println!("{}", seed.display());
            run(&data);
        }
        // The targets are built only where fuzzing is; all they do is call the body.
        let target = fs::read_to_string(root.join(format!("targets/{name}.rs")))
            .unwrap_or_else(|e| panic!("target {name}: {e}"));
        assert_eq!(
            target,
            format!(
                "#![no_main]\n\n#[path = \"../bodies/mod.rs\"]\nmod bodies;\n\n\
                 libfuzzer_sys::fuzz_target!(|data: &[u8]| bodies::{name}(data));\n"
            )
        );
    }
    assert!(bytes < 200 << 10, "the seeds are kept small: {bytes} bytes");
}
