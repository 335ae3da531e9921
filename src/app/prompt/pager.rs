//! What is longer than the screen, a screen at a time.

use rustyline::Editor;
use rustyline::history::MemHistory;

use crate::app::prompt::editor_hints::Prompter;
use crate::app::prompt::output::Page;
use crate::app::prompt::script_runner::write;
use crate::app::report::escape::width;

/// Screen where its size is not known, and the least that is shown at once.
const ROWS: usize = 24;
/// Lines under the text: the question, and what is typed.
const BELOW: usize = 2;

/// Writes a page, a screen at a time where somebody reads along. Gives a command typed in place of
/// going on; the error is the code to end with.
pub(super) fn show(
    page: &Page,
    editor: &mut Editor<Prompter, MemHistory>,
) -> Result<Option<String>, u8> {
    let rows = terminal_size::terminal_size().map_or(ROWS, |(_, rows)| usize::from(rows.0));
    let room = rows.saturating_sub(BELOW).max(4);
    let lines: Vec<&str> = page.text.lines().collect();
    if lines.len() <= rows {
        return write(page, 0).map(|()| None);
    }
    let mut from = 0;
    while from < lines.len() {
        let to = (from + room).min(lines.len());
        let mut part = Page::new(page.look);
        for line in lines.get(from..to).unwrap_or(&[]) {
            part.text.push_str(line);
            part.text.push('\n');
        }
        write(&part, 0)?;
        from = to;
        if from >= lines.len() {
            break;
        }
        let left = lines.len() - from;
        let long = format!("{left} more lines: Enter shows them, q ends, or type a command: ");
        let short = format!("{left} more (q ends): ");
        let words = if width(&long) + 10 <= page.look.width { long } else { short };
        let answer = quietly(editor, &words);
        match answer {
            Ok(answer) if answer.trim().is_empty() => {}
            Ok(answer) if matches!(answer.trim(), "q" | "quit") => break,
            Ok(answer) => return Ok(Some(answer)),
            Err(_) => break,
        }
    }
    Ok(None)
}

/// Reads a line with no hint and no completion.
fn quietly(editor: &mut Editor<Prompter, MemHistory>, words: &str) -> rustyline::Result<String> {
    let quiet = |editor: &mut Editor<Prompter, MemHistory>, on: bool| {
        if let Some(helper) = editor.helper() {
            helper.facts.borrow_mut().quiet = on;
        }
    };
    quiet(editor, true);
    let answer = editor.readline(words);
    quiet(editor, false);
    answer
}
