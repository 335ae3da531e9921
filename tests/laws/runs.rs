//! How laws over random input are run.

use proptest::test_runner::{Config, RngSeed};

use crate::share;

/// The same random input in every run, so that a change is judged by what it changes;
/// `DRYFIT_SEED=n` asks for other input.
pub(crate) fn config(whole: u32) -> Config {
    let seed = std::env::var("DRYFIT_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
    Config {
        cases: share::of(whole),
        rng_seed: RngSeed::Fixed(seed),
        max_shrink_iters: 200,
        max_global_rejects: 20_000,
        failure_persistence: None,
        ..Config::default()
    }
}
