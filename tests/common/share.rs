//! How much of a law a run takes, and from which start.

use proptest::test_runner::{Config, RngSeed};

/// A part of a law takes one case in so many.
const PART: u32 = 24;

/// Cases that this run takes of a law's: the same part in every run, and all of them where
/// `DRYFIT_LAWS=whole` asks for it.
pub(crate) fn of(whole: u32) -> u32 {
    if std::env::var("DRYFIT_LAWS").is_ok_and(|asked| asked == "whole") {
        whole
    } else {
        whole.div_ceil(PART)
    }
}

/// The same random input in every run, so that a change is judged by what it changes;
/// `DRYFIT_SEED=n` asks for other input.
pub(crate) fn config(whole: u32) -> Config {
    let seed = std::env::var("DRYFIT_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
    Config {
        cases: of(whole),
        rng_seed: RngSeed::Fixed(seed),
        max_shrink_iters: 200,
        max_global_rejects: 20_000,
        failure_persistence: None,
        ..Config::default()
    }
}
