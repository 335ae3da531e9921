//! Commands from a file or a pipe: no prompt, steady output, the first error ends it.

use std::io::Write as _;

use crate::app::left_out;
use crate::app::prompt::TryOptions;
use crate::app::prompt::command::commands;
use crate::app::prompt::output::{Page, safe};
use crate::app::prompt::session::{Next, Session};
use crate::app::report::{self, style::Look};
use crate::source::{Problem, Problems};

/// Runs a script's commands; gives the exit code: 0, 1 when a check found a stop, 2 on an error.
pub(super) fn run(options: &TryOptions, name: &str, text: &str) -> u8 {
    let mut session = match Session::open(options, false) {
        Ok(session) => session,
        Err(problems) => {
            refuse(options.plain, &problems);
            return 2;
        }
    };
    let mut code = 0;
    for (number, line) in commands(text) {
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
        if code > 0 && !options.keep_going {
            return code;
        }
    }
    code
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
        report::plain::problems_text(problems)
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
