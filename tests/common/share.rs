//! How much of a law or of a long check a run takes.

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
