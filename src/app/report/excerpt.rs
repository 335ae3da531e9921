//! Excerpts with marks under the values: drawn by the diagnostics printer, then closed up and
//! coloured.

use miette::{GraphicalReportHandler, GraphicalTheme, ThemeCharacters, ThemeStyles};

use crate::app::report::escape::{indented, width, wrap};
use crate::app::report::snippet::Snippet;
use crate::app::report::style::{Look, Tone};
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
    let digits = rows
        .iter()
        .map(|r| if let Row::Text(number, _) = r { number.len() } else { 0 })
        .max()
        .unwrap_or(0);
    let mut out = Drawing {
        look,
        tone,
        digits,
        room: look.width.saturating_sub(digits + 4),
        text: String::new(),
    };
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

/// Takes the printer's drawing apart: a file is named once, and a word joins its mark where there
/// is one mark only.
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
                (Some(Row::Marks(marks, beside @ None)), Some(word))
                    if marks.trim().chars().all(|c| c == mark) =>
                {
                    *beside = Some(word)
                }
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
        let gutter = self.look.faint(&format!(
            "  {number:>digits$} {}",
            bar(self.look),
            digits = self.digits
        ));
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
            None => self.cut(text),
        }
    }

    /// Marks that overlap are drawn side by side, and may so leave the page.
    fn cut(&mut self, text: &str) {
        let text: String = text.chars().take(self.room).collect();
        self.painted(&text);
    }

    fn marks_with(&mut self, text: &str, word: &str) {
        if width(text) + 1 + width(word) <= self.room {
            return self.painted(&format!("{text} {word}"));
        }
        self.cut(text);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::report::escape::acts;
    use crate::source::{Source, Span};

    /// A few thousand drawings of marks anywhere, in awkward text: none fails, leaves the page or
    /// lets through what acts.
    #[test]
    fn any_marks_stay_on_the_page() {
        let long = "lead = { plug = \"größe\", 長い = 3 }, ".repeat(40);
        let sources = [
            Source::new(
                "a.toml",
                "one = 1\r\ntwo = \"zwö\"\t# \u{202e}x\u{1b}[2J\n\n長い長い長い = 3\nlast",
            ),
            Source::new("folder/b.toml", long),
            Source::new("empty.toml", ""),
        ];
        let mut state = 7_usize;
        let mut next = |below: usize| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % below.max(1)
        };
        for _ in 0..3000 {
            let labels: Vec<Label> = (0..next(6))
                .map(|_| {
                    let source = &sources[next(sources.len())];
                    let start = next(source.text.len() + 3);
                    let span = Span::new(start, start + next(30));
                    Label { source: source.clone(), span, text: "some word, ".repeat(next(4)) }
                })
                .collect();
            let look = Look { colour: false, drawing: next(2) == 0, width: 20 + next(90) };
            let drawn = excerpts(look, Tone::Broken, &labels.iter().collect::<Vec<_>>(), next(3));
            assert!(
                drawn.lines().all(|l| width(l) <= look.width),
                "{} columns:\n{drawn}",
                look.width
            );
            assert!(!drawn.chars().any(|c| c != '\n' && acts(c)));
            assert_eq!(drawn.is_empty(), labels.is_empty());
        }
    }

    #[test]
    fn one_drawing_shows_two_files() {
        let (build, parts) = (
            Source::new("b.toml", "part = \"x/y\"\n"),
            Source::new("p.toml", "[y]\nlength_mm = 360\n"),
        );
        let label = |source: &std::sync::Arc<Source>, start, end, text: &str| Label {
            source: source.clone(),
            span: Span::new(start, end),
            text: text.to_owned(),
        };
        let labels = [label(&build, 7, 12, "x"), label(&parts, 16, 19, "x.length_mm")];
        let look = Look { colour: false, drawing: false, width: 60 };
        let drawn = excerpts(look, Tone::Broken, &labels.iter().collect::<Vec<_>>(), 0);
        assert_eq!(
            drawn,
            "  b.toml:1:8\n  1 | part = \"x/y\"\n    |        ^^^^^ x\n  p.toml:2:13\n  2 | \
             length_mm = 360\n    |             ^^^ x.length_mm\n"
        );
    }
}
