//! What is longer than the screen, a screen at a time; Ctrl-C ends it.

use rustyline::error::ReadlineError;

use crate::app::counted::count;
use crate::app::interrupt;
use crate::app::prompt::input::Input;
use crate::app::prompt::script_runner::write;
use crate::app::report::escape::width;
use crate::app::report::page::Page;

/// Screen where its size is not known, and the least that is shown at once.
const ROWS: usize = 24;
/// Lines under the text: the question, and what is typed.
const BELOW: usize = 2;
/// Lines written at once, between two looks for Ctrl-C.
const AT_ONCE: usize = 16;

/// Writes a page, a screen at a time where somebody reads along. Gives a command typed in place of
/// going on; the error is the code to end with.
pub(super) fn show(page: &Page, input: &mut Input) -> Result<Option<String>, u8> {
    let rows = terminal_size::terminal_size().map_or(ROWS, |(_, rows)| usize::from(rows.0));
    let room = rows.saturating_sub(BELOW).max(4);
    let lines: Vec<&str> = page.text.lines().collect();
    let whole = lines.len() <= rows;
    // A Ctrl-C while the command worked has ended that work; paging its result starts afresh.
    interrupt::begin(false);
    let mut from = 0;
    while from < lines.len() {
        let to = if whole { lines.len() } else { (from + room).min(lines.len()) };
        from += written(page, lines.get(from..to).unwrap_or(&[]))?;
        let left = lines.len() - from;
        if interrupt::halted() || from < to {
            return cut(page, left);
        }
        if left == 0 {
            break;
        }
        let long = format!("{left} more lines: Enter shows them, q ends, or type a command: ");
        let short = format!("{left} more (q ends): ");
        let words = if width(&long) + 10 <= page.look.width { long } else { short };
        match input.answer(&words) {
            Ok(answer) if answer.trim().is_empty() => {}
            Ok(answer) if matches!(answer.trim(), "q" | "quit") => break,
            Ok(answer) => return Ok(Some(answer)),
            Err(ReadlineError::Interrupted) => return cut(page, left),
            Err(_) => break,
        }
    }
    Ok(None)
}

/// Writes lines until Ctrl-C; gives how many.
fn written(page: &Page, lines: &[&str]) -> Result<usize, u8> {
    let mut done = 0;
    for some in lines.chunks(AT_ONCE) {
        if interrupt::halted() {
            break;
        }
        let mut part = Page::new(page.look);
        part.text = some.join("\n") + "\n";
        write(&part, 0)?;
        done += some.len();
    }
    Ok(done)
}

/// Says that the page goes on.
fn cut(page: &Page, left: usize) -> Result<Option<String>, u8> {
    let mut part = Page::new(page.look);
    part.line(&match left {
        0 => "unfinished: Ctrl-C cut what is above".to_owned(),
        left => format!("unfinished: Ctrl-C; {} not shown", count(left, "more line")),
    });
    write(&part, 0).map(|()| None)
}
