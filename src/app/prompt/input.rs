//! Lines from a terminal: edited where it can show that, plain where it cannot.

use std::cell::RefCell;
use std::io::{self, BufRead as _, Write as _};
use std::rc::Rc;
use std::sync::mpsc::{Receiver, Sender, channel};

use rustyline::config::Configurer as _;
use rustyline::error::ReadlineError;
use rustyline::history::{History as _, MemHistory};
use rustyline::{ColorMode, CompletionType, Config, Editor};

use crate::app::interrupt::AtPrompt;
use crate::app::prompt::command::goes_on;
use crate::app::prompt::complete::Facts;
use crate::app::prompt::editor_hints::Prompter;
use crate::app::prompt::history::{self, History};
use crate::app::report::style::Role;

/// Terminals that nothing can be edited on, as the line editor has them.
const PLAIN: [&str; 3] = ["dumb", "cons25", "emacs"];

/// Where lines come from.
pub(super) struct Input {
    editor: Editor<Prompter, MemHistory>,
    plain: Option<PlainLines>,
    facts: Rc<RefCell<Facts>>,
    colour: bool,
}

impl Input {
    /// Errors: the terminal cannot be used.
    pub(super) fn open(
        facts: &Rc<RefCell<Facts>>,
        kept: &History,
        colour: bool,
        at_prompt: &AtPrompt,
    ) -> rustyline::Result<Self> {
        let config = Config::builder()
            .max_history_size(history::MOST)?
            .history_ignore_dups(true)?
            .auto_add_history(false)
            .completion_type(CompletionType::List)
            .completion_prompt_limit(120)
            .bracketed_paste(true)
            .build();
        let mut editor = Editor::with_history(config, MemHistory::new())?;
        editor.set_color_mode(if colour { ColorMode::Enabled } else { ColorMode::Disabled });
        editor.set_helper(Some(Prompter { facts: facts.clone(), colour }));
        for entry in kept.entries() {
            editor.history_mut().add(&entry)?;
        }
        let term = std::env::var("TERM").unwrap_or_default();
        let plain = PLAIN.iter().any(|p| term.eq_ignore_ascii_case(p));
        let plain = plain.then(|| PlainLines::open(at_prompt));
        Ok(Self { editor, plain, facts: facts.clone(), colour })
    }

    /// A command, over as many lines as it goes.
    /// Errors: Ctrl-C, the end of the input, or it cannot be read.
    pub(super) fn command(&mut self, prompt: &str) -> rustyline::Result<String> {
        let Some(plain) = &mut self.plain else {
            let painted = if self.colour { Role::Strong.paint(prompt) } else { prompt.to_owned() };
            return self.editor.readline(&(prompt.to_owned(), painted));
        };
        let mut whole = plain.line(prompt)?;
        while goes_on(&whole) {
            whole.push('\n');
            whole.push_str(&plain.line("")?);
        }
        Ok(whole)
    }

    /// An answer to a question, with no hint and no completion.
    pub(super) fn answer(&mut self, question: &str) -> rustyline::Result<String> {
        if let Some(plain) = &mut self.plain {
            return plain.line(question);
        }
        self.facts.borrow_mut().quiet = true;
        let answer = self.editor.readline(question);
        self.facts.borrow_mut().quiet = false;
        answer
    }

    /// Adds a command to those that the arrow keys bring back. A repeated one moves to the end, as
    /// it does in the file.
    pub(super) fn keep(&mut self, entry: &str) {
        let _ = self.editor.history_mut().add(entry);
    }
}

/// What a wait for a line can end with.
enum Came {
    Line(io::Result<Option<String>>),
    Interrupt,
}

/// Lines of a terminal that sends Ctrl-C as a signal while a line is typed: another thread reads,
/// so that the signal can end the wait.
struct PlainLines {
    wanted: Sender<()>,
    came: Receiver<Came>,
    /// Whether a line is being read.
    asked: bool,
}

impl PlainLines {
    fn open(at_prompt: &AtPrompt) -> Self {
        let (wanted, asks) = channel();
        let (line, came) = channel();
        let pressed = line.clone();
        at_prompt.tell(move || {
            let _ = pressed.send(Came::Interrupt);
        });
        std::thread::spawn(move || {
            for () in asks {
                if line.send(Came::Line(typed())).is_err() {
                    return;
                }
            }
        });
        Self { wanted, came, asked: false }
    }

    fn line(&mut self, prompt: &str) -> rustyline::Result<String> {
        let mut out = io::stdout();
        out.write_all(prompt.as_bytes()).and_then(|()| out.flush())?;
        // Ctrl-C from before this question is dealt with.
        let mut before = self.came.try_iter();
        let early = before.find(|came| matches!(came, Came::Line(_)));
        if !self.asked && early.is_none() {
            self.wanted.send(()).map_err(|_| ReadlineError::Eof)?;
        }
        self.asked = true;
        let came = early.map_or_else(|| self.came.recv(), Ok);
        match came.map_err(|_| ReadlineError::Eof)? {
            Came::Interrupt => {
                out.write_all(b"\n")?;
                Err(ReadlineError::Interrupted)
            }
            Came::Line(line) => {
                self.asked = false;
                line?.ok_or(ReadlineError::Eof)
            }
        }
    }
}

/// A line without its end; none at the end of the input.
fn typed() -> io::Result<Option<String>> {
    let mut bytes = Vec::new();
    io::stdin().lock().read_until(b'\n', &mut bytes)?;
    if bytes.is_empty() {
        return Ok(None);
    }
    let text = String::from_utf8_lossy(&bytes);
    Ok(Some(text.trim_end_matches(['\n', '\r']).to_owned()))
}
