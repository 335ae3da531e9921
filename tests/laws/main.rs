//! Laws over random input, each held to an oracle that knows nothing of the code it checks.
//!
//! A run takes a part of each law, the same every time; `DRYFIT_LAWS=whole` takes all of it, and
//! `DRYFIT_SEED=n` other input. `cargo test --test laws search::` runs one of them.

#[path = "../common/changes.rs"]
mod changes;
mod dominance;
#[path = "../common/feed.rs"]
mod feed;
mod flat;
// The bodies of fuzzing bring the made-up changes in on their own.
#[allow(clippy::duplicate_mod)]
mod fuzz_seeds;
mod memory;
mod money;
mod proofs;
#[path = "../common/random.rs"]
mod random;
mod runs;
#[path = "../common/scripts.rs"]
mod scripts;
mod search;
mod sellers;
#[path = "../common/share.rs"]
mod share;
mod shipped;
mod struck;
mod sums;
mod swaps;
mod ties;
mod trial;
mod unknown;
#[path = "../common/watch.rs"]
mod watch;
mod wrecks;
