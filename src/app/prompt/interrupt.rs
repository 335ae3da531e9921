//! Ctrl-C during a long search ends the search, not the program; and a word now and then on how far
//! it is.

use std::cell::Cell;
use std::io::{IsTerminal as _, Write as _};
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::whatif::search::{SearchLimits, SearchProgress};

static HALT: AtomicBool = AtomicBool::new(false);
static SEARCHING: AtomicBool = AtomicBool::new(false);
static WATCH: Once = Once::new();

/// Time before the first word, and between two.
const EVERY: Duration = Duration::from_millis(500);

/// Runs a search that Ctrl-C or the limit ends early with what it has; a second one, or one outside
/// a search, ends the program as ever.
pub fn search<T>(limit: Duration, run: impl FnOnce(SearchLimits<'_>) -> T) -> T {
    WATCH.call_once(|| {
        // Where no handler can be set, Ctrl-C ends the program as it always did.
        let _ = ctrlc::set_handler(|| {
            if !SEARCHING.load(Ordering::SeqCst) || HALT.swap(true, Ordering::SeqCst) {
                std::process::exit(130);
            }
        });
    });
    HALT.store(false, Ordering::SeqCst);
    SEARCHING.store(true, Ordering::SeqCst);
    let live = std::io::stderr().is_terminal();
    let last = Cell::new(Instant::now());
    let told = Cell::new(false);
    let tell = |progress: SearchProgress| {
        if live && last.get().elapsed() > EVERY {
            last.set(Instant::now());
            told.set(true);
            let words = format!(
                "\r{} search nodes, {} builds audited, {} found; Ctrl-C ends it here ",
                progress.boxes, progress.audits, progress.found
            );
            let _ = std::io::stderr().write_all(words.as_bytes());
        }
    };
    let until = Instant::now().checked_add(limit);
    let out = run(SearchLimits { halt: &HALT, until, tell: Some(&tell) });
    if told.get() {
        let _ = std::io::stderr().write_all(format!("\r{}\r", " ".repeat(78)).as_bytes());
    }
    SEARCHING.store(false, Ordering::SeqCst);
    out
}
