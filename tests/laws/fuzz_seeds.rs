//! The fuzzing targets over their seeds, on stable Rust: what they do cannot rot, and what fuzzing
//! once found stays found.

use std::fs;
use std::path::Path;

#[path = "../fuzz/bodies/mod.rs"]
mod bodies;

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
        assert!(root.join(format!("targets/{name}.rs")).is_file(), "{name} is no target");
    }
    assert!(bytes < 200 << 10, "the seeds are kept small: {bytes} bytes");
}
