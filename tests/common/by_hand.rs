//! Lists and pages written by hand.

/// Where the sources written by hand are: in this tree, or under the folder that
/// `DRYFIT_BY_HAND` names, so that fresh ones are scored before they are taken in.
pub(crate) fn folder(what: &str) -> String {
    match std::env::var("DRYFIT_BY_HAND") {
        Ok(folder) => format!("{folder}/{what}"),
        Err(_) => format!("{}/tests/{what}/by_hand", env!("CARGO_MANIFEST_DIR")),
    }
}
