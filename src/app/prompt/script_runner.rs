//! Commands from a file or a pipe: no prompt, steady output, the first error ends it.

use std::io::{BufRead as _, BufReader, Read, Write as _};

use crate::app::counted::count;
use crate::app::interrupt;
use crate::app::left_out;
use crate::app::prompt::TryOptions;
use crate::app::prompt::command::goes_on;
use crate::app::prompt::session::{Next, Session};
use crate::app::report::page::{Page, safe};
use crate::app::report::{self, style::Look};
use crate::source::{Problem, Problems};

/// Most bytes of one command, over however many lines it goes.
const MAX_COMMAND: usize = 1 << 20;

/// Commands as they come through a pipe: each is answered before the next is read, so that a
/// program can converse.
pub(super) struct Piped<R> {
    input: BufReader<R>,
    /// Lines read so far.
    lines: usize,
    over: bool,
}

impl<R: Read> Piped<R> {
    pub(super) fn new(input: R) -> Self {
        Self { input: BufReader::new(input), lines: 0, over: false }
    }

    /// The next line with its end; none at the end of the input.
    fn line(&mut self) -> Result<Option<String>, Problem> {
        let mut bytes = Vec::new();
        let most = u64::try_from(MAX_COMMAND).unwrap_or(u64::MAX) + 1;
        let mut input = self.input.by_ref().take(most);
        input
            .read_until(b'\n', &mut bytes)
            .map_err(|e| Problem::new(format!("cannot read standard input: {e}")))?;
        if bytes.is_empty() {
            return Ok(None);
        }
        self.lines += 1;
        let number = self.lines;
        if bytes.len() > MAX_COMMAND {
            return Err(Problem::new(format!("line {number} is longer than a command may be")));
        }
        let mut text = String::from_utf8(bytes).map_err(|_| {
            Problem::new(format!("line {number} of standard input is not UTF-8 text"))
                .help("send it as UTF-8")
        })?;
        if number == 1 && text.starts_with('\u{feff}') {
            text.remove(0);
        }
        Ok(Some(text))
    }

    /// The next command with the number of its first line.
    fn command(&mut self) -> Result<Option<(usize, String)>, Problem> {
        let mut whole = String::new();
        let mut first = 0;
        while let Some(line) = self.line()? {
            if whole.is_empty() {
                first = self.lines;
            }
            whole.push_str(&line);
            let text = whole.trim_end_matches(['\n', '\r']);
            if whole.len() > MAX_COMMAND {
                let said = format!("the command of line {first} is longer than one may be");
                return Err(Problem::new(said));
            }
            if goes_on(text) {
                continue;
            }
            if !text.trim().is_empty() {
                return Ok(Some((first, text.to_owned())));
            }
            whole.clear();
        }
        Ok((!whole.trim().is_empty()).then_some((first, whole)))
    }
}

impl<R: Read> Iterator for Piped<R> {
    type Item = Result<(usize, String), Problem>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.over {
            return None;
        }
        let next = self.command();
        self.over = !matches!(next, Ok(Some(_)));
        next.transpose()
    }

    /// What was sent already; how many are to come, nobody knows.
    fn size_hint(&self) -> (usize, Option<usize>) {
        let sent = !self.over && !self.input.buffer().trim_ascii().is_empty();
        (usize::from(sent), None)
    }
}

/// Runs commands; gives the exit code: 0, 1 when a check found a stop, 2 on an error.
pub(super) fn run(
    options: &TryOptions,
    name: &str,
    mut commands: impl Iterator<Item = Result<(usize, String), Problem>>,
) -> u8 {
    let mut session = match Session::open(options, false) {
        Ok(session) => session,
        Err(problems) => {
            refuse(options.plain, &problems);
            return 2;
        }
    };
    let mut code = 0;
    while let Some(next) = commands.next() {
        let (number, line) = match next {
            Ok(command) => command,
            Err(problem) => {
                complain("", &problem.into());
                return 2;
            }
        };
        let mut page = Page::new(session.look());
        let result = session.run(&line, &mut page, &mut |_, _| None);
        if let Err(code) = write(&page, code) {
            return code;
        }
        match result {
            Ok(Next::On) => {}
            Ok(Next::Leave) => return code,
            Ok(Next::Failed(failed)) => code = code.max(failed),
            Err(problems) => {
                complain(&format!("{name}:{number}: "), &problems);
                code = 2;
            }
        }
        // A search of it was ended: so is the script, whose next commands may rest on its answer.
        if interrupt::came() || (code > 0 && !options.keep_going) {
            let rest = match commands.size_hint() {
                (0, _) => return code,
                (left, Some(most)) if left == most => count(left, "command"),
                // A pipe does not say how many are to come.
                _ => "what comes after it is".to_owned(),
            };
            let lead = safe(&format!("{name}:{number}: "));
            let _ = writeln!(std::io::stderr(), "{lead}it ends here: {rest} not run");
            return code;
        }
    }
    code
}

/// Runs a command that fills a page and ends; gives its exit code, 2 where it was refused.
pub(super) fn once(plain: bool, fill: impl FnOnce(&mut Page) -> Result<u8, Problems>) -> u8 {
    let mut page = Page::new(Look::stdout_or_plain(plain));
    let done = fill(&mut page);
    let code = done.as_ref().map_or(2, |code| *code);
    let written = write(&page, code);
    if let Err(problems) = &done {
        refuse(plain, problems);
    }
    written.map_or_else(|code| code, |()| code)
}

/// Writes a page. Where that fails it is time to end, with the code given: a reader that went away
/// early is no error, but a full disk is.
pub(super) fn write(page: &Page, code: u8) -> Result<(), u8> {
    let mut out = std::io::stdout().lock();
    match out.write_all(page.text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Err(code),
        Err(error) => {
            complain("", &Problem::new(format!("the answer could not be written: {error}")).into());
            Err(2)
        }
    }
}

/// Says aside why there is no answer, with the places.
pub(super) fn refuse(plain: bool, problems: &Problems) {
    left_out::told(problems);
    let mut aside = std::io::stderr().lock();
    let text = if plain {
        report::texts::problems_as_prose(problems)
    } else {
        report::terminal::problems_text(Look::of(&aside), problems)
    };
    let _ = aside.write_all(text.as_bytes());
}

/// Says aside what is wrong with a line of input.
pub(super) fn complain(lead: &str, problems: &Problems) {
    left_out::told(problems);
    let mut aside = std::io::stderr().lock();
    for problem in &problems.0 {
        let _ = writeln!(aside, "{}{}", safe(lead), safe(&problem.to_string()));
    }
}
