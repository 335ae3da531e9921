//! Excerpts with marks under the values: drawn by the diagnostics printer, then closed up and coloured.

use miette::{GraphicalReportHandler, GraphicalTheme, ThemeCharacters, ThemeStyles};

use crate::report::inert::{indented, width, wrap};
use crate::report::snippet::Snippet;
use crate::report::style::{Look, Tone};
use crate::source::Label;

/// The lines that labels stand on, each with marks under the value and its word beside them.
pub(crate) fn excerpts(look: Look, tone: Tone, labels: &[&Label], around: usize) -> String {
    if labels.is_empty() {
        return String::new();
    }
    let mut drawn = String::new();
    if printer(look).render_report(&mut drawn, &Snippet::new(labels, look.width, around)).is_err() {
        return String::new();
    }
    let rows = rows(look, &drawn);
    let digits = rows.iter().map(|r| if let Row::Text(number, _) = r { number.len() } else { 0 }).max().unwrap_or(0);
    let mut out = Drawing { look, tone, digits, room: look.width.saturating_sub(digits + 4), text: String::new() };
    for row in &rows {
        match row {
            Row::Place(place) => out.place(place),
            Row::Text(number, text) => out.line(number, text),
            Row::Marks(text, None) => out.marks(text),
            Row::Marks(text, Some(word)) => out.marks_with(text, word),
        }
    }
    out.text
}

/// A line of an excerpt.
enum Row<'d> {
    /// File, line and column of what follows.
    Place(&'d str),
    /// A line of the file, with its number.
    Text(&'d str, &'d str),
    /// Marks under it, and the word beside them.
    Marks(&'d str, Option<&'d str>),
}

/// Takes the printer's drawing apart: a file is named once, and a word joins its mark where there is one mark only.
fn rows(look: Look, drawn: &str) -> Vec<Row<'_>> {
    let (mark, corner) = marks(look);
    let mut rows = Vec::new();
    let mut file = "";
    for (gutter, text) in drawn.lines().filter_map(|l| l.trim_end().split_once(bar(look))) {
        if !gutter.trim().is_empty() {
            rows.push(Row::Text(gutter.trim(), text));
        } else if let Some(place) = text.strip_prefix(" [").and_then(|t| t.strip_suffix(']')) {
            let name = place.rsplitn(3, ':').last().unwrap_or(place);
            if name != file {
                rows.push(Row::Place(place));
            }
            file = name;
        } else {
            let word = text.trim_start().strip_prefix(corner).map(str::trim);
            match (rows.last_mut(), word) {
                (Some(Row::Marks(marks, beside @ None)), Some(word)) if marks.trim().chars().all(|c| c == mark) => *beside = Some(word),
                _ => rows.push(Row::Marks(text, None)),
            }
        }
    }
    rows
}

struct Drawing {
    look: Look,
    tone: Tone,
    digits: usize,
    room: usize,
    text: String,
}

impl Drawing {
    fn push(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn place(&mut self, place: &str) {
        for line in indented(place, "  ", "    ", self.look.width).lines() {
            self.push(&self.look.faint(line));
        }
    }

    fn line(&mut self, number: &str, text: &str) {
        let gutter = self.look.faint(&format!("  {number:>digits$} {}", bar(self.look), digits = self.digits));
        self.push(&format!("{gutter}{text}"));
    }

    fn painted(&mut self, text: &str) {
        let text = self.look.paint(self.tone, text);
        self.line("", &text);
    }

    /// Marks, or a word hanging from one, which moves left where it would leave the page.
    fn marks(&mut self, text: &str) {
        if width(text) <= self.room {
            return self.painted(text);
        }
        match text.trim_start().split_once(marks(self.look).1) {
            Some((_, word)) => self.word(word.trim()),
            None => self.painted(text),
        }
    }

    fn marks_with(&mut self, text: &str, word: &str) {
        if width(text) + 1 + width(word) <= self.room {
            return self.painted(&format!("{text} {word}"));
        }
        self.painted(text);
        self.word(word);
    }

    fn word(&mut self, word: &str) {
        for line in wrap(word, self.room.saturating_sub(1)) {
            self.painted(&format!(" {line}"));
        }
    }
}

fn bar(look: Look) -> char {
    if look.drawing { '│' } else { '|' }
}

/// What stands under a value, and what leads from there to a word.
fn marks(look: Look) -> (char, char) {
    if look.drawing { ('▔', '└') } else { ('^', '`') }
}

fn printer(look: Look) -> GraphicalReportHandler {
    let (bar, (mark, corner)) = (bar(look), marks(look));
    let characters = ThemeCharacters {
        hbar: ' ',
        vbar: bar,
        vbar_break: bar,
        ltop: bar,
        lbot: corner,
        underbar: mark,
        underline: mark,
        uarrow: mark,
        error: String::new(),
        warning: String::new(),
        advice: String::new(),
        ..ThemeCharacters::ascii()
    };
    GraphicalReportHandler::new_themed(GraphicalTheme { characters, styles: ThemeStyles::none() })
        .with_width(look.width)
        .with_context_lines(1)
        .with_links(false)
        .without_syntax_highlighting()
}
