//! The prompt itself: reads lines from a terminal until somebody leaves.

use std::cell::RefCell;
use std::rc::Rc;

use rustyline::error::ReadlineError;

use crate::app::interrupt::{self, AtPrompt};
use crate::app::prompt::TryOptions;
use crate::app::prompt::command::commands;
use crate::app::prompt::complete::Facts;
use crate::app::prompt::history::History;
use crate::app::prompt::input::Input;
use crate::app::prompt::pager;
use crate::app::prompt::script_runner::{complain, write};
use crate::app::prompt::session::{Next, Session};
use crate::app::report::page::Page;
use crate::source::Problem;
use crate::whatif::diff::views;

/// Runs the prompt; gives the exit code.
pub(super) fn run(options: &TryOptions) -> u8 {
    let mut session = match Session::open(options, true) {
        Ok(session) => session,
        Err(problems) => {
            super::script_runner::refuse(options.plain, &problems);
            return 2;
        }
    };
    let facts = Rc::new(RefCell::new(Facts::default()));
    let kept = History::of_user();
    let at_prompt = AtPrompt::begin();
    let mut input = match Input::open(&facts, &kept, session.look().colour, &at_prompt) {
        Ok(input) => input,
        Err(error) => {
            complain(
                "",
                &Problem::new(format!("no line can be read here: {error}"))
                    .help("`--script FILE` runs commands from a file")
                    .into(),
            );
            return 2;
        }
    };
    let mut page = Page::new(session.look());
    session.greet(&mut page);
    if write(&page, 0).is_err() {
        return 0;
    }
    loop {
        let mut page = Page::new(session.look());
        session.notice(&mut page);
        learn(&session, &facts);
        session.state(&mut page);
        let _ = write(&page, 0);
        let prompt = if session.trial.unsaved() { "*> " } else { "> " };
        match input.command(prompt) {
            Ok(typed) => {
                let mut next = Some(typed);
                while let Some(typed) = next {
                    keep(&mut input, &kept, &typed);
                    next = match obey(&mut session, &mut input, &typed) {
                        Ok(next) => next,
                        Err(code) => return code,
                    };
                }
            }
            Err(ReadlineError::Interrupted) => session.leaving = false,
            Err(ReadlineError::Eof) => {
                let mut page = Page::new(session.look());
                let next = session.run("quit", &mut page, &mut |_, _| None);
                let _ = write(&page, 0);
                if matches!(next, Ok(Next::Leave)) {
                    return 0;
                }
            }
            // The terminal is gone: nobody is there to ask.
            Err(_) => return 0,
        }
    }
}

/// Brings what completion knows up to date.
fn learn(session: &Session, facts: &Rc<RefCell<Facts>>) {
    let (now, kit) = (session.trial.now(), session.trial.kit());
    let rules = kit.rules();
    let mut facts = facts.borrow_mut();
    let found: Vec<&str> = now.briefs.iter().map(|f| &*f.rule).collect();
    let mut ids: Vec<(String, String)> =
        rules.rules.iter().map(|r| (r.id.to_string(), r.title.to_string())).collect();
    ids.sort_by_key(|(id, _)| !found.contains(&id.as_str()));
    facts.catalogue = Some(kit.catalogue().clone());
    facts.lines = views(now);
    facts.day = Some(now.build().priced_on);
    facts.rules = ids;
    facts.measures =
        rules.rules.iter().filter(|r| r.unit.is_some()).map(|r| r.id.to_string()).collect();
    facts.settings = kit.settings().all().iter().map(|s| s.name.to_string()).collect();
    facts.marks = session.trial.marks().map(|(name, _)| name.to_owned()).collect();
    facts.variables = session.variables.names();
}

fn keep(input: &mut Input, kept: &History, typed: &str) {
    let entry = typed.trim_end();
    if History::keeps(entry) {
        input.keep(entry);
        kept.add(entry);
    }
}

/// Runs what was typed, or the lines of a paste until one fails. Gives a command that was typed
/// while reading the result; the error is the code to leave with.
fn obey(session: &mut Session, input: &mut Input, typed: &str) -> Result<Option<String>, u8> {
    let lines = commands(typed);
    let count = lines.len();
    let mut next = None;
    interrupt::begin(true);
    for (at, (_, line)) in lines.into_iter().enumerate() {
        let mut page = Page::new(session.look());
        let before = session.trial.depth();
        let result = session
            .run(&line, &mut page, &mut |question, choices| choose(input, question, choices));
        let failed = result.is_err();
        match result {
            Ok(Next::Leave) => {
                let _ = write(&page, 0);
                return Err(0);
            }
            Ok(Next::On | Next::Failed(_)) => {}
            Err(problems) => problems.0.iter().for_each(|p| {
                page.problem(p);
            }),
        }
        if session.trial.depth() != before {
            session.next_things(&mut page);
        }
        if let Some(words) = interrupt::early() {
            page.above(words);
        }
        next = pager::show(&page, input).map_err(|_| 0)?;
        if failed || next.is_some() || interrupt::came() {
            not_run(count - at - 1)?;
            break;
        }
    }
    Ok(next)
}

/// Says how much of a paste is left.
fn not_run(lines: usize) -> Result<(), u8> {
    if lines == 0 {
        return Ok(());
    }
    let mut page = Page::new(crate::app::report::style::Look::stdout());
    page.line(&format!("{} after it not run", crate::app::counted::count(lines, "line")));
    write(&page, 0).map_err(|_| 0)
}

/// Asks which of several is meant; an empty answer or Ctrl-C is none of them.
fn choose(input: &mut Input, question: &str, choices: &[String]) -> Option<usize> {
    let mut page = Page::new(crate::app::report::style::Look::stdout());
    page.line(question);
    for (at, choice) in choices.iter().enumerate() {
        page.line(&format!("  {}  {choice}", at + 1));
    }
    let _ = write(&page, 0);
    let answer = input.answer(&format!("1 to {}: ", choices.len())).ok()?;
    answer
        .trim()
        .parse::<usize>()
        .ok()
        .and_then(|n| n.checked_sub(1))
        .filter(|n| *n < choices.len())
}
