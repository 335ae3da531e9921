//! The commands of a session: kept in memory for `history`, and in a file that runs again for
//! `log`.

use std::fs::{File, OpenOptions};
use std::io::Write as _;
use std::path::Path;

use crate::app::counted::count;
use crate::app::interrupt;
use crate::app::prompt::command::{Command, commands};
use crate::app::prompt::history::History;
use crate::app::prompt::session::{Ask, Next, Session};
use crate::app::report::page::Page;
use crate::app::report::style::Role;
use crate::layer::read_source;
use crate::source::{Problem, Problems};
use crate::words::clip;

/// Most commands kept in memory.
const MOST_KEPT: usize = 5_000;
/// Commands that `history` shows where no number is given.
const SHOWN: usize = 20;
/// Most files of commands within one another.
const MOST_SOURCES: usize = 8;

/// Commands that ran, and the file that they are written to.
#[derive(Default)]
pub(super) struct Record {
    ran: Vec<String>,
    file: Option<(String, File)>,
    /// How many files of commands are being run within one another.
    sources: usize,
}

impl Record {
    /// Whether a command is for the record: all but those that are about the record or leave.
    pub(super) fn keeps(command: &Command) -> bool {
        !matches!(command, Command::Log { .. } | Command::History(_) | Command::Quit { .. })
    }

    /// Adds a command that ran. Where somebody chose one of several lines, the line's number
    /// stands in the place of its name, so that nobody need be asked again.
    pub(super) fn add(&mut self, line: &str, chosen: &[(String, String)], page: &mut Page) {
        // What a file of commands holds is on record as that file.
        if self.sources > 0 {
            return;
        }
        let line = chosen.iter().fold(line.trim().to_owned(), |line, (question, choice)| {
            settled(&line, question, choice)
        });
        if self.ran.len() >= MOST_KEPT {
            self.ran.remove(0);
        }
        self.ran.push(line.clone());
        let Some((name, file)) = &mut self.file else { return };
        if let Err(error) = writeln!(file, "{line}").and_then(|()| file.flush()) {
            page.line(&format!("the log ends here: cannot write {name}: {error}"));
            self.file = None;
        }
    }

    /// `log FILE` begins a file, `log off` ends it, `log` says where it is.
    /// Errors: the file is there already, or it cannot be written.
    pub(super) fn log(
        &mut self,
        file: Option<&str>,
        force: bool,
        page: &mut Page,
    ) -> Result<(), Problem> {
        match (file, &self.file) {
            (None, None) => {
                page.line("no log is written; `log FILE` begins one");
            }
            (None, Some((name, _))) => {
                page.line(&format!("the log is {name}; `log off` ends it"));
            }
            (Some("off"), _) => {
                let ended = self.file.take();
                page.line(&ended.map_or_else(
                    || "no log is written".to_owned(),
                    |(name, _)| format!("ended the log {name}; `source {name}` runs it again"),
                ));
            }
            (Some(name), _) => {
                let mut options = OpenOptions::new();
                let there = Path::new(name).exists();
                if there && !(force && Path::new(name).is_file()) {
                    return Err(Problem::new(format!("{name} exists already; nothing is written"))
                        .help(format!("`log! {name}` overwrites it, or name another file")));
                }
                options.write(true).create(true).truncate(force).create_new(!force);
                let file = options.open(name).map_err(|e| {
                    Problem::new(format!("cannot write {name}: {e}"))
                        .help("check that the folder exists and that you may write there")
                })?;
                page.line(&format!("commands from here on are written to {name}"));
                self.file = Some((name.to_owned(), file));
            }
        }
        Ok(())
    }
}

/// A command with the line that was chosen by its number.
fn settled(line: &str, question: &str, choice: &str) -> String {
    let named = question.split('`').nth(1);
    let number = choice.split(' ').next().filter(|word| word.starts_with('#'));
    let Some((command, rest)) = line.split_once(char::is_whitespace) else {
        // `why` alone: the rule that was chosen follows it.
        return format!("{line} {choice}");
    };
    match (named, number) {
        (Some(name), Some(number)) => format!("{command} {}", rest.replacen(name, number, 1)),
        _ => format!("{line}  # {choice}"),
    }
}

impl Session {
    /// Runs the commands of a file; the first error ends it.
    /// Errors: the file cannot be read, or what the command says, with its place.
    pub(super) fn source(
        &mut self,
        file: &str,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<Next, Problems> {
        if self.record.sources >= MOST_SOURCES {
            return Err(Problem::new(format!(
                "{} runs another file, {MOST_SOURCES} files deep",
                clip(file, 60)
            ))
            .help("a file of commands that runs itself never ends: take that line out")
            .into());
        }
        if file == "-" {
            return Err(Problem::new("`source` needs a file").into());
        }
        let text = read_source(Path::new(file))?.text.clone();
        self.record.sources += 1;
        let result = self.lines_of(file, &text, page, ask);
        self.record.sources -= 1;
        result
    }

    fn lines_of(
        &mut self,
        file: &str,
        text: &str,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<Next, Problems> {
        let lines = commands(text);
        let all = lines.len();
        for (at, (number, line)) in lines.into_iter().enumerate() {
            match self.run(&line, page, ask) {
                Ok(Next::On) => {}
                Ok(next) => return Ok(next),
                Err(mut problems) => {
                    let left = count(all - at - 1, "line");
                    if let Some(first) = problems.0.first_mut() {
                        first.message = format!("{file}:{number}: {}", first.message);
                    }
                    if all > at + 1 {
                        page.line(&format!("{left} of {file} not run"));
                    }
                    return Err(problems);
                }
            }
            if interrupt::came() && all > at + 1 {
                let left = count(all - at - 1, "line");
                // Above what they wrote, which may be more than a screen.
                page.above(&format!("unfinished: Ctrl-C; {left} of {file} not run"));
                break;
            }
        }
        Ok(Next::On)
    }

    /// The last commands; at a terminal those of earlier sessions too.
    pub(super) fn history(&self, most: Option<usize>, page: &mut Page) {
        let entries = if self.live { History::of_user().entries() } else { Vec::new() };
        let entries = if entries.is_empty() { self.record.ran.clone() } else { entries };
        let from = entries.len().saturating_sub(most.unwrap_or(SHOWN));
        let digits = entries.len().to_string().len();
        for (at, entry) in entries.iter().enumerate().skip(from) {
            page.cell(Role::Faint, &format!("{:>digits$}", at + 1), digits).flow(
                Role::Plain,
                entry,
                digits + 1,
            );
        }
        if entries.is_empty() {
            page.line("no command has run yet");
        }
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/app/prompt/record.rs"]
mod tests;
