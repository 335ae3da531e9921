//! The commands of the prompt: one table feeds the parser, the help, completion and hints.

mod arguments;

use std::ops::Range;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::source::Problem;
use crate::whatif::edit::NewLine;
use crate::words::clip;

/// The commands and how they are named, as `commands.toml` has them.
#[derive(Debug, Default, Deserialize)]
pub struct Commands {
    /// Every command, in the order that help shows them.
    #[serde(rename = "command")]
    pub all: Vec<Entry>,
    /// Other words for commands, as people type them, each with the command's own.
    pub synonyms: Vec<(String, String)>,
    /// How lines may be named, for help.
    pub naming: String,
}

/// A command as the table has it.
#[derive(Debug, Deserialize)]
pub struct Entry {
    pub name: String,
    /// How it is written, without the word.
    #[serde(default)]
    pub usage: String,
    /// What it does, in one line.
    pub does: String,
    /// More, for `help COMMAND`.
    #[serde(default)]
    pub more: String,
}

/// The table, read once.
pub static COMMANDS: LazyLock<Commands> =
    LazyLock::new(|| toml::from_str(include_str!("commands.toml")).unwrap_or_default());

/// A command by its word or another word for it.
pub fn called(name: &str) -> Option<&'static Entry> {
    let synonym = COMMANDS.synonyms.iter().find(|(other, _)| other == name);
    let name = synonym.map_or(name, |(_, own)| own);
    COMMANDS.all.iter().find(|e| e.name == name)
}

/// A line of input, understood.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Command {
    Swap { slot: Vec<String>, part: String },
    Add(NewLine),
    Drop { slot: Vec<String> },
    Take { slot: Vec<String>, file: String },
    Set { words: Vec<String> },
    Know { place: String, value: String },
    Forget { place: String },
    Ask,
    Undo(usize),
    Redo(usize),
    Mark(String),
    Back(String),
    Marks,
    Diff(Option<String>, Option<String>),
    Why { rule: Option<String>, all: bool },
    Fit { slot: Vec<String>, by: Option<String>, all: bool },
    Steps { slot: Vec<String> },
    Mend { way: Option<usize>, all: bool },
    Mix { file: String, by: Option<String>, take: Option<usize> },
    Audit { all: bool },
    Measures(Option<String>),
    Parts { words: String, all: bool },
    Lines,
    Watch(Option<String>),
    Source(String),
    Log { file: Option<String>, force: bool },
    History(Option<usize>),
    Check,
    Save { file: Option<String>, force: bool },
    Sheet { file: String, force: bool },
    Reload,
    Help(Option<String>),
    Quit { force: bool },
    Expression(String),
}

/// Understands a line; none for an empty one or a comment.
/// Errors: there is no such command, or it is written otherwise.
pub fn parse(line: &str) -> Result<Option<Command>, Problem> {
    let line = line.trim();
    if let Some(text) = line.strip_prefix('=') {
        return match text.trim() {
            "" => Err(Problem::new("there is no expression after `=`")
                .help("`= build.supply.rated_w`, for one; `help =` explains")),
            "help" => Ok(Some(Command::Help(Some("=".to_owned())))),
            text => Ok(Some(Command::Expression(text.to_owned()))),
        };
    }
    let placed = placed_words(line)?;
    let words: Vec<String> = placed.iter().map(|(word, _)| word.clone()).collect();
    let Some((name, rest)) = words.split_first() else { return Ok(None) };
    let (name, force) = name
        .strip_suffix('!')
        .filter(|n| matches!(*n, "save" | "sheet" | "quit" | "exit" | "log"))
        .map_or((name.as_str(), false), |n| (n, true));
    let Some(entry) = called(name) else {
        return Err(unknown(name));
    };
    // A value is taken as it stands, its quotes too.
    if let ("know", [_, (place, _), (_, first), ..], Some((_, last))) =
        (entry.name.as_str(), placed.as_slice(), placed.last())
    {
        let value = line.get(first.start..last.end).unwrap_or_default().to_owned();
        return Ok(Some(Command::Know { place: place.clone(), value }));
    }
    arguments::understood(entry, force, rest).map(Some)
}

fn unknown(name: &str) -> Problem {
    let problem = Problem::new(format!("there is no command `{}`", clip(name, 40)));
    let synonyms = COMMANDS.synonyms.iter().map(|(other, _)| other.as_str());
    problem
        .help("`help` lists what there is")
        .suggest(name, COMMANDS.all.iter().map(|e| e.name.as_str()).chain(synonyms))
}

/// Words between blanks; quotes hold words together. A `#` ends the line, but for a line's number
/// such as `#3`.
/// Errors: a quote that is not closed.
pub fn words(line: &str) -> Result<Vec<String>, Problem> {
    placed_words(line).map(|words| words.into_iter().map(|(word, _)| word).collect())
}

/// The same, and where each stands in the line, its quotes included.
fn placed_words(line: &str) -> Result<Vec<(String, Range<usize>)>, Problem> {
    let mut words = Vec::new();
    let mut letters = line.char_indices().peekable();
    loop {
        while letters.next_if(|(_, c)| c.is_whitespace()).is_some() {}
        let Some((start, letter)) = letters.peek().copied() else { return Ok(words) };
        if letter == '#' {
            let mut ahead = letters.clone();
            ahead.next();
            if words.is_empty() || !ahead.peek().is_some_and(|(_, c)| c.is_ascii_digit()) {
                return Ok(words);
            }
        }
        let (mut word, mut end) = (String::new(), start);
        let mut quoted = false;
        while let Some((at, c)) = letters.next_if(|(_, c)| quoted || !c.is_whitespace()) {
            end = at + c.len_utf8();
            match c {
                '"' => quoted = !quoted,
                c => word.push(c),
            }
        }
        if quoted {
            return Err(Problem::new("a quote is not closed")
                .help("quotes hold words together: \"video editing\""));
        }
        words.push((word, start..end));
    }
}

/// Whether a line goes on: an expression whose brackets or quotes are still open.
pub fn goes_on(text: &str) -> bool {
    text.trim_start().starts_with('=') && depth(text) > 0
}

/// How many brackets are open at the end; texts and comments do not count, an open text does.
fn depth(text: &str) -> usize {
    let mut open = 0usize;
    let mut letters = text.chars().peekable();
    while let Some(c) = letters.next() {
        match c {
            '(' | '[' | '{' => open += 1,
            ')' | ']' | '}' => open = open.saturating_sub(1),
            '/' if letters.peek() == Some(&'/') => {
                while letters.next_if(|c| *c != '\n').is_some() {}
            }
            '/' if letters.peek() == Some(&'*') => {
                letters.next();
                let mut last = ' ';
                loop {
                    match letters.next() {
                        None => return open + 1,
                        Some('/') if last == '*' => break,
                        Some(c) => last = c,
                    }
                }
            }
            '"' | '`' => loop {
                match letters.next() {
                    // A plain text ends with its line, closed or not.
                    Some('\n') if c == '"' => break,
                    None => return if c == '`' { open + 1 } else { open },
                    Some('\\') if c == '"' => {
                        letters.next();
                    }
                    Some(end) if end == c => break,
                    Some(_) => {}
                }
            },
            _ => {}
        }
    }
    open
}

/// Takes a text apart into commands, each with the number of its first line from 1.
pub fn commands(text: &str) -> Vec<(usize, String)> {
    let mut out: Vec<(usize, String)> = Vec::new();
    let mut open: Option<(usize, String)> = None;
    for (at, line) in text.lines().enumerate() {
        let (number, whole) = match open.take() {
            Some((number, before)) => (number, format!("{before}\n{line}")),
            None => (at + 1, line.to_owned()),
        };
        if goes_on(&whole) {
            open = Some((number, whole));
        } else if !whole.trim().is_empty() {
            out.push((number, whole));
        }
    }
    out.extend(open);
    out
}

#[cfg(test)]
#[path = "../../../tests/unit/app/prompt/command.rs"]
mod tests;
