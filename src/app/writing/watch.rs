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
mod tests {
    use std::fs;

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
