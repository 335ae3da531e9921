//! Targets that run commands on a build: lines as they are typed, and made ones that change it over
//! and over.

use std::fs;
use std::path::Path;
use std::rc::Rc;

use dryfit::inside::app::prompt::TryOptions;
use dryfit::inside::app::prompt::command::{Command, commands, goes_on, parse};
use dryfit::inside::app::prompt::session::Session;
use dryfit::inside::app::report::page::Page;
use dryfit::inside::app::report::style::Look;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::whatif::trial::Snapshot;

use super::changes;
use super::desk::{
    LIST, folder, harmless, refused, said, shipped, small_kit, small_layers, text, today,
};

/// Lines a run: what goes wrong goes wrong within a few.
const LINES: usize = 12;
/// Steps of a sequence of edits.
const STEPS: usize = 24;
/// A list of the shipped catalogue.
const DESK: &str = include_str!("../../../examples/bird-hide-edit.toml");

fn session(kit: &Rc<Kit>, layers: Layers, path: &Path) -> Session {
    let build = path.to_path_buf();
    let options = TryOptions {
        build,
        new: false,
        script: None,
        keep_going: true,
        limit: std::time::Duration::from_secs(60),
        trust_unknown: false,
        plain: true,
        rules: None,
        catalogue: None,
        today: today(),
    };
    Session::with_kit(kit.clone(), layers, &options, false).unwrap_or_else(|e| panic!("{e}"))
}

/// Whether a command reaches for files beyond its own: those of whoever runs this are not to be
/// touched.
fn reaches_out(command: &Command) -> bool {
    match command {
        Command::Save { file, .. } => file.is_some(),
        Command::Take { file, .. } | Command::Mix { file, .. } => {
            file.contains('/') || file.contains("..")
        }
        // The small kit lives in memory alone.
        Command::Reload => true,
        _ => false,
    }
}

/// Lines as they are typed, on a trial of the small catalogue.
pub(crate) fn prompt(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let _ = goes_on(text);
    let folder = folder("prompt");
    let path = folder.join("list.toml");
    fs::write(&path, LIST).unwrap_or_else(|e| panic!("{e}"));
    fs::write(folder.join("other.toml"), LIST.replace("w0", "w3"))
        .unwrap_or_else(|e| panic!("{e}"));
    let mut session = session(&small_kit(), small_layers(), &path);
    for (_, line) in commands(text).into_iter().take(LINES) {
        match parse(&line) {
            Err(problem) => refused(&problem.into()),
            Ok(Some(command)) if reaches_out(&command) => {}
            Ok(_) => run(&mut session, &line),
        }
    }
}

/// Runs a line: what fails leaves no trace, and what is shown is harmless.
fn run(session: &mut Session, line: &str) {
    let mut page = Page::new(Look { colour: false, drawing: false, width: 72 });
    let before = session.trial.text().to_owned();
    match session.run(line, &mut page, &mut |_, _| None) {
        Ok(_) => harmless(&page.text),
        Err(problems) => {
            assert_eq!(before, session.trial.text(), "`{line}` failed and left a trace");
            refused(&problems);
        }
    }
}

/// Edits made of numbers, four bytes a step: memory says what a fresh run says, and all of it can
/// be taken back.
pub(crate) fn edits(data: &[u8]) {
    let kit = shipped();
    let folder = folder("edits");
    let path = folder.join("list.toml");
    fs::write(&path, DESK).unwrap_or_else(|e| panic!("{e}"));
    let mut session = session(&kit, Layers::built_in(), &path);
    for step in data.chunks_exact(4).take(STEPS) {
        let line = command(&kit, [step[0], step[1], step[2], step[3]]);
        run(&mut session, &line);
    }
    let now = session.trial.now();
    let remembered = said(&now.audit);
    kit.remember(false);
    let fresh = Snapshot::of(&kit, &now.source, today()).map(|s| said(&s.audit));
    kit.remember(true);
    assert_eq!(
        remembered,
        fresh.unwrap_or_else(|e| panic!("{e}")),
        "memory says otherwise than a fresh run"
    );
    let (now, (steps, _)) = (session.trial.text().to_owned(), session.trial.depth());
    if steps > 0 {
        session.trial.undo(steps).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(session.trial.text(), DESK, "taken back to the start");
        session.trial.redo(steps).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(session.trial.text(), now, "and forward again");
    }
}

/// A command out of four bytes: any that changes a build, many of them wrong.
fn command(kit: &Kit, [what, a, b, c]: [u8; 4]) -> String {
    let pick = |words: &[&str]| words[usize::from(c) % words.len()].to_owned();
    match what % 12 {
        sort @ 0..=7 => changes::change(
            kit,
            sort + 1,
            usize::from(a) << 8 | usize::from(b),
            usize::from(b) % 20 + 1,
            c,
        ),
        8 => format!("undo {}", c % 3 + 1),
        9 => format!("redo {}", c % 3 + 1),
        10 => pick(&["mark a", "mark b", "back a", "back b", "back start"]),
        _ => pick(&["diff", "check", "measures", "lines", "= build.count(\"fan\")"]),
    }
}
