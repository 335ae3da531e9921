//! The prompt itself: reads lines from a terminal until somebody leaves.

use std::cell::RefCell;
use std::rc::Rc;

use rustyline::config::Configurer as _;
use rustyline::error::ReadlineError;
use rustyline::history::{History as _, MemHistory};
use rustyline::{ColorMode, CompletionType, Config, Editor};

use crate::app::prompt::TryOptions;
use crate::app::prompt::command::commands;
use crate::app::prompt::complete::Facts;
use crate::app::prompt::editor_hints::Prompter;
use crate::app::prompt::history::{self, History};
use crate::app::prompt::output::{Page, Role};
use crate::app::prompt::pager;
use crate::app::prompt::script_runner::{complain, write};
use crate::app::prompt::session::{Next, Session};
use crate::source::Problem;
use crate::whatif::diff::views;

type Line = Editor<Prompter, MemHistory>;

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
    let mut editor = match editor(&session, &facts, &kept) {
        Ok(editor) => editor,
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
        let colour = page.look.colour;
        let prompt = if session.trial.unsaved() { "*> " } else { "> " };
        let painted = if colour { Role::Strong.paint(prompt) } else { prompt.to_owned() };
        match editor.readline(&(prompt.to_owned(), painted)) {
            Ok(input) => {
                let mut next = Some(input);
                while let Some(input) = next {
                    keep(&mut editor, &kept, &input);
                    next = match obey(&mut session, &mut editor, &facts, &input) {
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

fn editor(
    session: &Session,
    facts: &Rc<RefCell<Facts>>,
    kept: &History,
) -> rustyline::Result<Line> {
    let colour = session.look().colour;
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
    Ok(editor)
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

fn keep(editor: &mut Line, kept: &History, input: &str) {
    let entry = input.trim_end();
    if History::keeps(entry) {
        // The editor's own list moves a repeated entry to the end as the file does.
        let _ = editor.history_mut().add(entry);
        kept.add(entry);
    }
}

/// Runs what was typed, or the lines of a paste until one fails. Gives a command that was typed
/// while reading the result; the error is the code to leave with.
fn obey(
    session: &mut Session,
    editor: &mut Line,
    facts: &Rc<RefCell<Facts>>,
    input: &str,
) -> Result<Option<String>, u8> {
    let lines = commands(input);
    let count = lines.len();
    let mut typed = None;
    for (at, (_, line)) in lines.into_iter().enumerate() {
        let mut page = Page::new(session.look());
        let before = session.trial.depth();
        let result = session.run(&line, &mut page, &mut |question, choices| {
            choose(editor, facts, question, choices)
        });
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
        if failed && at + 1 < count {
            page.line(&format!(
                "{} after it not run",
                crate::app::counted::count(count - at - 1, "line")
            ));
        }
        typed = pager::show(&page, editor).map_err(|_| 0)?;
        if failed || typed.is_some() {
            break;
        }
    }
    Ok(typed)
}

/// Asks which of several is meant; an empty answer or Ctrl-C is none of them.
fn choose(
    editor: &mut Line,
    facts: &Rc<RefCell<Facts>>,
    question: &str,
    choices: &[String],
) -> Option<usize> {
    let mut page = Page::new(crate::app::report::style::Look::stdout());
    page.line(question);
    for (at, choice) in choices.iter().enumerate() {
        page.line(&format!("  {}  {choice}", at + 1));
    }
    let _ = write(&page, 0);
    facts.borrow_mut().quiet = true;
    let answer = editor.readline(&format!("1 to {}: ", choices.len()));
    facts.borrow_mut().quiet = false;
    let answer = answer.ok()?;
    answer
        .trim()
        .parse::<usize>()
        .ok()
        .and_then(|n| n.checked_sub(1))
        .filter(|n| *n < choices.len())
}
