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

/// Where the sources written by hand are: in this tree, or under the folder that
/// `DRYFIT_BY_HAND` names, so that fresh ones are scored before they are taken in.
pub(crate) fn by_hand(what: &str) -> String {
    match std::env::var("DRYFIT_BY_HAND") {
        Ok(folder) => format!("{folder}/{what}"),
        Err(_) => format!("{}/tests/{what}/by_hand", env!("CARGO_MANIFEST_DIR")),
    }
}
