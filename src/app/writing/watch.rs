//! Watching a folder: run again whenever a file in it changes.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use std::{fs, thread};

/// How often the folder is looked at.
const EVERY: Duration = Duration::from_millis(400);
/// Deepest folder looked into.
const MAX_DEPTH: usize = 8;

type State = Vec<(PathBuf, Option<SystemTime>, u64)>;

/// Runs `again` now and after every change, until it says to stop.
pub fn watch(folders: &[PathBuf], mut again: impl FnMut() -> bool) {
    let mut held = state(folders);
    while again() {
        loop {
            thread::sleep(EVERY);
            let now = state(folders);
            if now != held {
                held = now;
                break;
            }
        }
    }
}

fn state(folders: &[PathBuf]) -> State {
    let mut found = State::new();
    for folder in folders {
        look(folder, 0, &mut found);
    }
    found.sort();
    found
}

fn look(folder: &Path, depth: usize, into: &mut State) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let path = entry.path();
        let Ok(meta) = entry.metadata() else { continue };
        if meta.is_dir() && depth < MAX_DEPTH {
            look(&path, depth + 1, into);
        } else if path.extension().is_some_and(|e| e == "rhai" || e == "toml" || e == "csv") {
            into.push((path, meta.modified().ok(), meta.len()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_seen() {
        let folder = std::env::temp_dir().join(format!("dryfit-watch-{}", std::process::id()));
        let file = folder.join("a.rhai");
        assert!(fs::create_dir_all(&folder).is_ok() && fs::write(&file, "1").is_ok());
        let mut runs = 0;
        watch(std::slice::from_ref(&folder), || {
            runs += 1;
            let _ = fs::write(&file, "longer than before");
            runs < 2
        });
        assert_eq!(runs, 2);
        let _ = fs::remove_dir_all(&folder);
    }
}
