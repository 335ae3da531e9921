//! Watching a folder: run again whenever a file in it changes.

use std::path::PathBuf;
use std::thread;
use std::time::Duration;

use crate::app::stamp::Stamp;

/// How often the folder is looked at.
const EVERY: Duration = Duration::from_millis(400);

/// Runs `again` now and after every change, until it says to stop.
pub fn watch(folders: &[PathBuf], mut again: impl FnMut() -> bool) {
    let state = || Stamp::of_folders(folders.iter().map(PathBuf::as_path));
    let mut held = state();
    while again() {
        loop {
            thread::sleep(EVERY);
            let now = state();
            if now != held {
                held = now;
                break;
            }
        }
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/app/writing/watch.rs"]
mod tests;
