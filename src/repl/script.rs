//! Commands from a file or a pipe: no prompt, steady output, the first error ends it.

use std::io::Write as _;

use crate::repl::TryOptions;
use crate::repl::command::commands;
use crate::repl::page::{Page, safe};
use crate::repl::session::{Next, Session};
use crate::source::Problems;

/// Runs a script's commands; gives the exit code: 0, 1 when a check found a stop, 2 on an error.
pub(super) fn run(options: &TryOptions, name: &str, text: &str) -> u8 {
    let mut session = match Session::open(options, false) {
        Ok(session) => session,
        Err(problems) => {
            complain("", &problems);
            return 2;
        }
    };
    let mut code = 0;
    for (number, line) in commands(text) {
        let mut page = Page::new(session.look());
        let result = session.run(&line, &mut page, &mut |_, _| None);
        if !write(&page) {
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

/// Writes a page; false when nobody reads any more.
pub(super) fn write(page: &Page) -> bool {
    let mut out = std::io::stdout().lock();
    out.write_all(page.text.as_bytes()).and_then(|()| out.flush()).is_ok()
}

/// Says aside what is wrong.
pub(super) fn complain(lead: &str, problems: &Problems) {
    let mut aside = std::io::stderr().lock();
    for problem in &problems.0 {
        let _ = writeln!(aside, "{}{}", safe(lead), safe(&problem.to_string()));
    }
}
