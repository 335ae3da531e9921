//! Ctrl-C. In a search it ends the search with the best so far; at the prompt it leads back to the
//! prompt, whatever is under way; elsewhere it ends the program, says so, and leaves no file.

use std::cell::Cell;
use std::io::{IsTerminal as _, Write as _};
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};
use std::sync::mpsc::channel;
use std::sync::{Mutex, Once, PoisonError};
use std::time::{Duration, Instant};

use crate::disk;
use crate::source::Problem;
use crate::whatif::search::{SearchLimits, SearchProgress};

/// What Ctrl-C does.
const ENDS: u8 = 0;
const ENDS_SEARCH: u8 = 1;
const LEADS_TO_PROMPT: u8 = 2;
const ENDS_WATCHING: u8 = 3;

static MODE: AtomicU8 = AtomicU8::new(ENDS);
/// Ends the search, or the page, that is under way.
static HALT: AtomicBool = AtomicBool::new(false);
/// Whether it came since the command began.
static CAME: AtomicBool = AtomicBool::new(false);
/// Whether it ended a search of the command.
static CUT: AtomicBool = AtomicBool::new(false);
/// Who waits for a line and is to be told.
static WAITING: Mutex<Option<Box<dyn Fn() + Send>>> = Mutex::new(None);
static WATCH: Once = Once::new();

/// Exit code of a program that Ctrl-C ended.
const ENDED: u8 = 130;
/// Time before the first word on a search, and between two.
const EVERY: Duration = Duration::from_millis(500);
/// How long a last word may take: nobody may be reading, or the machine may be busy.
const LAST_WORD: Duration = Duration::from_secs(2);

/// Takes Ctrl-C in hand. Where no handler can be set, it ends the program as it always did.
pub(crate) fn listen() {
    WATCH.call_once(|| {
        let _ = ctrlc::set_handler(pressed);
    });
}

fn pressed() {
    CAME.store(true, Ordering::SeqCst);
    let again = HALT.swap(true, Ordering::SeqCst);
    match MODE.load(Ordering::SeqCst) {
        LEADS_TO_PROMPT => {
            let waiting = WAITING.lock().unwrap_or_else(PoisonError::into_inner);
            if let Some(tell) = &*waiting {
                tell();
            }
        }
        ENDS_SEARCH if !again => {}
        ENDS_WATCHING => std::process::exit(i32::from(ENDED)),
        _ => end(),
    }
}

fn end() {
    disk::abandon();
    let (said, done) = channel();
    std::thread::spawn(move || {
        last_word("Ctrl-C ended it before it was done");
        let _ = said.send(());
    });
    let _ = done.recv_timeout(LAST_WORD);
    std::process::exit(i32::from(ENDED));
}

/// A line aside that the answer is unfinished.
fn last_word(why: &str) {
    let mut aside = std::io::stderr();
    let fresh = if aside.is_terminal() { "\n" } else { "" };
    let _ = aside.write_all(format!("{fresh}unfinished: {why}\n").as_bytes());
}

/// The exit code of a command that was to end with another: a search that Ctrl-C ended has shown
/// the best so far, which is not its answer.
pub(crate) fn code(code: u8) -> u8 {
    if !came() {
        return code;
    }
    last_word("Ctrl-C ended the search; what is shown is the best found until then");
    ENDED
}

/// Whether it came since the command began.
pub(crate) fn came() -> bool {
    CAME.load(Ordering::SeqCst)
}

/// What is said above an answer that a search at the prompt gave early; none where none was ended.
pub(crate) fn early() -> Option<&'static str> {
    let words = "unfinished: Ctrl-C ended the search; this is what it had found by then";
    CUT.load(Ordering::SeqCst).then_some(words)
}

/// Whether what is under way is to end.
pub(crate) fn halted() -> bool {
    HALT.load(Ordering::SeqCst)
}

/// A command begins, or a page: what came before does not concern it.
pub(crate) fn begin(command: bool) {
    HALT.store(false, Ordering::SeqCst);
    if command {
        CAME.store(false, Ordering::SeqCst);
        CUT.store(false, Ordering::SeqCst);
    }
}

/// A file is to be written of an answer.
/// Errors: Ctrl-C ended the search for the answer.
pub(crate) fn may_write() -> Result<(), Problem> {
    if !came() {
        return Ok(());
    }
    Err(Problem::new("Ctrl-C ended the search; nothing is written")
        .help("let it end by itself; `--seconds N` ends it after N seconds and writes the best"))
}

/// While this lives, Ctrl-C leads back to the prompt.
pub(crate) struct AtPrompt(());

impl AtPrompt {
    /// From now on.
    pub(crate) fn begin() -> Self {
        MODE.store(LEADS_TO_PROMPT, Ordering::SeqCst);
        Self(())
    }

    /// Tells who waits for a line of each Ctrl-C.
    pub(crate) fn tell(&self, waiting: impl Fn() + Send + 'static) {
        *WAITING.lock().unwrap_or_else(PoisonError::into_inner) = Some(Box::new(waiting));
    }
}

impl Drop for AtPrompt {
    fn drop(&mut self) {
        begin(true);
        MODE.store(ENDS, Ordering::SeqCst);
    }
}

/// From now on Ctrl-C ends the program as it is meant to end.
pub(crate) fn watching() {
    MODE.store(ENDS_WATCHING, Ordering::SeqCst);
}

/// Runs a search that Ctrl-C or the limit ends early with what it has. Outside the prompt a second
/// one ends the program.
pub(crate) fn search<T>(limit: Duration, run: impl FnOnce(SearchLimits<'_>) -> T) -> T {
    listen();
    let at_prompt = MODE.load(Ordering::SeqCst) == LEADS_TO_PROMPT;
    if !at_prompt {
        MODE.store(ENDS_SEARCH, Ordering::SeqCst);
    }
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
    let out = run(SearchLimits { until, tell: Some(&tell), ..SearchLimits::new(&HALT) });
    if told.get() {
        let _ = std::io::stderr().write_all(format!("\r{}\r", " ".repeat(78)).as_bytes());
    }
    if at_prompt {
        CUT.fetch_or(halted(), Ordering::SeqCst);
        begin(false);
    } else {
        MODE.store(ENDS, Ordering::SeqCst);
    }
    out
}
