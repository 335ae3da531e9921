//! How much of a law or of a long check a run takes.

/// A part of a law takes one case in so many.
const PART: u32 = 24;

/// Whether this run takes all of every law: `DRYFIT_LAWS=whole` asks for it.
pub(crate) fn whole() -> bool {
    std::env::var("DRYFIT_LAWS").is_ok_and(|asked| asked == "whole")
}

/// Cases that this run takes of a law's: the same part in every run, or all of them.
pub(crate) fn of(all: u32) -> u32 {
    if whole() { all } else { all.div_ceil(PART) }
}
