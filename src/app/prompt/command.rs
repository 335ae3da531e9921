//! The commands of the prompt: one table feeds the parser, the help, completion and hints.

mod arguments;

use crate::source::Problem;
use crate::words::{clip, nearest};

/// A command as the table has it.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// Its word.
    pub name: &'static str,
    /// How it is written, without the word.
    pub usage: &'static str,
    /// What it does, in one line.
    pub does: &'static str,
    /// More, for `help COMMAND`.
    pub more: &'static str,
}

const fn entry(
    name: &'static str,
    usage: &'static str,
    does: &'static str,
    more: &'static str,
) -> Entry {
    Entry { name, usage, does, more }
}

/// Every command, in the order that help shows them.
pub const COMMANDS: &[Entry] = &[
    entry(
        "swap",
        "LINE PART",
        "put another part on a line",
        "Count, place and note of the line stay. A line of the customer's own becomes one to buy, \
         and an open line is filled. `swap PART` alone takes the line of the part's kind.",
    ),
    entry(
        "add",
        "PART [xN] [mount PLACE] [flow in|out] [owned]",
        "add a line",
        "The new line goes after the last one: `add fan/lull-120 x2 mount front flow in`.",
    ),
    entry(
        "drop",
        "LINE",
        "take a line out",
        "Comments set off from the line by an empty line stay in the file.",
    ),
    entry(
        "take",
        "LINE from FILE",
        "copy lines from another build file",
        "`take fan from FILE` takes all of its fan lines in place of those here; `take fan 2 from \
         FILE` the second only.",
    ),
    entry(
        "set",
        "FIELD VALUE | LINE KEY VALUE",
        "set a field of the build, or count, mount, flow, owned of a line",
        "`set budget 1500`, `set room_c 32`, `set fan 2 count 3`, `set supply owned yes`. The \
         value `none` takes a field out.",
    ),
    entry(
        "know",
        "PLACE VALUE",
        "state a fact that the catalogue does not have",
        "A PLACE is a line and a field as `ask` shows it; a VALUE has its unit or none: `know \
         cooler.height_mm 158 mm`, `know board.m2[0].length_mm 80`. `absent` says that the part \
         has none. `forget PLACE` takes it back.",
    ),
    entry("forget", "PLACE", "take back a fact stated with `know`", ""),
    entry(
        "ask",
        "",
        "list the facts to look up, the most decisive first",
        "Each shows what it decides and which values fit. `know` states one.",
    ),
    entry(
        "undo",
        "[N]",
        "take steps back",
        "Back to the byte. `undo 3` takes three steps back at once.",
    ),
    entry("redo", "[N]", "take steps forward again", "Until something else is changed."),
    entry(
        "mark",
        "NAME",
        "give the present state a name",
        "`back NAME` returns to it, `diff NAME` compares with it.",
    ),
    entry(
        "back",
        "NAME",
        "return to a marked state",
        "It is one step, so `undo` reverses it. `back start` returns to the start of the trial.",
    ),
    entry("marks", "", "list the marks", ""),
    entry(
        "diff",
        "[NAME [NAME]]",
        "compare with the start, with a mark, or two marks",
        "Lines, findings, measures, and the text of the two files.",
    ),
    entry(
        "why",
        "RULE",
        "explain a rule's result",
        "The comparisons in order, the values and where they are written, the margin, and the \
         single swaps that would change the result. It works for rules that found nothing and \
         for measures too. `why RULE all` shows everything.",
    ),
    entry(
        "fit",
        "LINE [by MEASURE] [all]",
        "list the parts for a line, with price, findings and what changes",
        "The parts with the fewest findings come first, then the cheapest; `by power.in_hand` \
         puts the best in that measure first. A part that another beats in everything is left \
         out; `all` shows it.",
    ),
    entry(
        "steps",
        "[LINE]",
        "list the next steps up and down in price for a line",
        "For one line or for each; only parts that cause no new stop.",
    ),
    entry(
        "mend",
        "[N]",
        "find the fewest changes that clear every stop",
        "A change is another part, a count, a mount, a line removed or added. Each fix shows \
         what it costs. `mend 1` makes the first one.",
    ),
    entry(
        "mix",
        "FILE [by MEASURE] [N]",
        "combine this list with another: which mixtures pass, and the best trade-offs",
        "The price counts against value.index unless you name another measure. `mix FILE 2` \
         takes the second of the best trade-offs.",
    ),
    entry(
        "audit",
        "[all]",
        "show every finding of the present state",
        "`audit all` shows advice and evidence in full.",
    ),
    entry("measures", "[PATTERN]", "list the measures, or those with a word in their name", ""),
    entry("lines", "", "list the lines of the build, numbered", ""),
    entry(
        "watch",
        "[MEASURE | none]",
        "show a measure in the state line",
        "The state line above the prompt shows verdict, total and watts. `watch airflow.noise` \
         adds that measure.",
    ),
    entry(
        "check",
        "",
        "fail if the build has a stop",
        "In a script it ends the run with exit code 1.",
    ),
    entry(
        "save",
        "[FILE] [--force]",
        "write the file, comments and layout kept",
        "It refuses if the file changed on disk since it was read, or if another FILE exists \
         already; `save!` or `--force` writes anyway.",
    ),
    entry(
        "sheet",
        "FILE.html",
        "write the sheet of the present state",
        "A page for office, bench and customer. An existing file is not changed; `sheet!` \
         overwrites it.",
    ),
    entry(
        "reload",
        "",
        "read catalogue, rules and the build file again",
        "Catalogue and rules are read again by themselves when they change on disk. With unsaved \
         changes the build stays as it is here.",
    ),
    entry(
        "source",
        "FILE",
        "run the commands in a file",
        "The first error ends it. A log runs this way too.",
    ),
    entry(
        "log",
        "[FILE | off]",
        "write the commands to a file that runs again",
        "`log FILE` starts it, `log off` ends it, `log` says where it is. An existing file is not \
         changed; `log!` overwrites it.",
    ),
    entry("history", "[N]", "list the last commands", ""),
    entry(
        "help",
        "[WORD]",
        "list the commands, or explain a word",
        "A WORD is a command, a rule, a measure, a setting, a kind of part or a field: \
         `help mend`, `help in_hand`, `help ram`. `help =` explains expressions.",
    ),
    entry(
        "quit",
        "",
        "leave the prompt",
        "It asks once if there are unsaved changes; `quit!` does not.",
    ),
];

/// Other words for commands, as people type them.
pub const SYNONYMS: &[(&str, &str)] = &[
    ("list", "lines"),
    ("remove", "drop"),
    ("options", "fit"),
    ("repair", "mend"),
    ("exit", "quit"),
    ("?", "help"),
];

/// A command by its word or another word for it.
pub fn called(name: &str) -> Option<&'static Entry> {
    let name = SYNONYMS.iter().find(|(other, _)| *other == name).map_or(name, |(_, own)| own);
    COMMANDS.iter().find(|e| e.name == name)
}

/// How lines may be named, for help.
pub const NAMING: &str = "A LINE is its kind (supply), kind and number (fan 2, or fan[1] \
 as findings write it), its number in `lines` (#3), or its part's id. \
If two lines fit, you are asked. `= EXPRESSION` computes a Rhai expression on the build: `= \
build.supply.rated_w - measure(\"power.sustained_draw\")`; it continues over several \
lines until its brackets close, `let` makes a variable that lasts, and `_` is the last result. `#` \
starts a comment.";

/// A line of input, understood.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Command {
    Swap {
        slot: Vec<String>,
        part: String,
    },
    Add {
        part: String,
        count: Option<u32>,
        mount: Option<String>,
        flow: Option<String>,
        owned: bool,
    },
    Drop {
        slot: Vec<String>,
    },
    Take {
        slot: Vec<String>,
        file: String,
    },
    Set {
        words: Vec<String>,
    },
    Know {
        place: String,
        value: String,
    },
    Forget {
        place: String,
    },
    Ask,
    Undo(usize),
    Redo(usize),
    Mark(String),
    Back(String),
    Marks,
    Diff(Option<String>, Option<String>),
    Why {
        rule: Option<String>,
        all: bool,
    },
    Fit {
        slot: Vec<String>,
        by: Option<String>,
        all: bool,
    },
    Steps {
        slot: Vec<String>,
    },
    Mend(Option<usize>),
    Mix {
        file: String,
        by: Option<String>,
        take: Option<usize>,
    },
    Audit {
        all: bool,
    },
    Measures(Option<String>),
    Lines,
    Watch(Option<String>),
    Source(String),
    Log {
        file: Option<String>,
        force: bool,
    },
    History(Option<usize>),
    Check,
    Save {
        file: Option<String>,
        force: bool,
    },
    Sheet {
        file: String,
        force: bool,
    },
    Reload,
    Help(Option<String>),
    Quit {
        force: bool,
    },
    Expression(String),
}

/// Understands a line; none for an empty one or a comment.
///
/// # Errors
/// There is no such command, or it is written otherwise.
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
    let words = words(line)?;
    let Some((name, rest)) = words.split_first() else { return Ok(None) };
    let (name, force) = name
        .strip_suffix('!')
        .filter(|n| matches!(*n, "save" | "sheet" | "quit" | "exit" | "log"))
        .map_or((name.as_str(), false), |n| (n, true));
    let Some(entry) = called(name) else {
        return Err(unknown(name));
    };
    arguments::understood(entry, force, rest).map(Some)
}

fn unknown(name: &str) -> Problem {
    let problem = Problem::new(format!("there is no command `{}`", clip(name, 40)));
    match nearest(name, COMMANDS.iter().map(|e| e.name).chain(SYNONYMS.iter().map(|s| s.0))) {
        Some(near) => problem.help(format!("did you mean `{near}`?")),
        None => problem.help("`help` lists what there is"),
    }
}

/// Words between blanks; quotes hold words together. A `#` ends the line, but for a line's number
/// such as `#3`.
///
/// # Errors
/// A quote that is not closed.
pub fn words(line: &str) -> Result<Vec<String>, Problem> {
    let mut words = Vec::new();
    let mut letters = line.chars().peekable();
    let mut first = true;
    loop {
        while letters.next_if(|c| c.is_whitespace()).is_some() {}
        let Some(letter) = letters.peek().copied() else { return Ok(words) };
        if letter == '#' {
            let mut ahead = letters.clone();
            ahead.next();
            if first || !ahead.peek().is_some_and(char::is_ascii_digit) {
                return Ok(words);
            }
        }
        let mut word = String::new();
        let mut quoted = false;
        while let Some(c) = letters.next_if(|c| quoted || !c.is_whitespace()) {
            match c {
                '"' => quoted = !quoted,
                c => word.push(c),
            }
        }
        if quoted {
            return Err(Problem::new("a quote is not closed")
                .help("quotes hold words together: \"video editing\""));
        }
        words.push(word);
        first = false;
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
mod tests;
