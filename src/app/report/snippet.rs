//! Excerpts of several files as one text for the diagnostics printer: only the lines that matter,
//! each no wider than the page, nothing in them that acts.

use std::fmt;
use std::sync::Arc;

use miette::{
    Diagnostic, LabeledSpan, MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents,
};
use unicode_width::UnicodeWidthChar as _;

use crate::app::report::escape::{acts, inert, inert_char, width};
use crate::source::{Label, Source};

/// Narrowest window on a long line.
const MIN_WINDOW: usize = 10;
/// Most characters shown on either side of a value in a long line.
const SIDE: usize = 80;

/// A run of lines of one file.
#[derive(Debug)]
struct Piece {
    name: String,
    /// First line, from 0.
    line: usize,
    lines: usize,
    /// Where its text starts in the joined text.
    base: usize,
    text: String,
}

/// A marked value.
#[derive(Debug)]
struct Marked {
    offset: usize,
    len: usize,
    text: Option<String>,
    line: usize,
    column: usize,
}

/// Excerpts with marks in them.
#[derive(Debug, Default)]
pub struct Snippet {
    pieces: Vec<Piece>,
    marks: Vec<Marked>,
}

/// A label with its place worked out.
struct Placed<'a> {
    label: &'a Label,
    line: usize,
    column: usize,
    /// Start of its line in the file.
    start: usize,
    texts: Vec<String>,
}

impl Snippet {
    /// Excerpts that show every label, at most `page` columns wide, with `around` more lines above
    /// and below.
    pub fn new(labels: &[&Label], page: usize, around: usize) -> Self {
        let mut snippet = Self::default();
        let mut sources: Vec<&Arc<Source>> = Vec::new();
        for label in labels {
            if !sources.iter().any(|s| Arc::ptr_eq(s, &label.source)) {
                sources.push(&label.source);
            }
        }
        let files: Vec<(&Arc<Source>, Vec<Placed<'_>>)> = sources
            .into_iter()
            .map(|source| {
                (
                    source,
                    placed(
                        source,
                        labels.iter().filter(|l| Arc::ptr_eq(&l.source, source)).copied(),
                    ),
                )
            })
            .collect();
        // All files share one gutter: two columns, the widest line number, a bar between spaces.
        let last = files
            .iter()
            .flat_map(|(_, placed)| placed)
            .map(|p| p.line + around + 1)
            .max()
            .unwrap_or(0);
        let room = page.saturating_sub(last.to_string().len() + 5).max(MIN_WINDOW);
        for (source, placed) in files {
            snippet.file(source, placed, room, around);
        }
        snippet
    }

    fn file(&mut self, source: &Source, mut placed: Vec<Placed<'_>>, room: usize, around: usize) {
        placed.sort_by_key(|p| (p.line, p.column));
        let mut at = 0;
        while at < placed.len() {
            let mut end = at + 1;
            while placed
                .get(end)
                .zip(placed.get(end - 1))
                .is_some_and(|(next, last)| next.line <= last.line + 1 + 2 * around)
            {
                end += 1;
            }
            if let Some(group) = placed.get(at..end) {
                self.piece(source, group, room, around);
            }
            at = end;
        }
    }

    fn piece(&mut self, source: &Source, group: &[Placed<'_>], room: usize, around: usize) {
        let (Some(first), Some(last)) = (group.first(), group.last()) else { return };
        let from = first.line.saturating_sub(around);
        let to = last.line + around;
        let base = self.pieces.last().map_or(0, |p| p.base + p.text.len() + 1);
        let mut piece =
            Piece { name: inert(&source.name), line: from, lines: 0, base, text: String::new() };
        let mut start =
            (from..first.line).fold(first.start, |start, _| line_before(&source.text, start));
        for line in from..=to {
            let Some(text) = line_at(&source.text, start)
                .filter(|t| line <= last.line || !t.is_empty() || start < source.text.len())
            else {
                break;
            };
            if piece.lines > 0 {
                piece.text.push('\n');
            }
            let here: Vec<&Placed<'_>> = group.iter().filter(|p| p.line == line).collect();
            self.line(&mut piece, text, &here, room);
            piece.lines += 1;
            start += text.len() + 1;
        }
        self.pieces.push(piece);
    }

    /// Adds one line, cut to windows around its marks where it is long.
    fn line(&mut self, piece: &mut Piece, text: &str, here: &[&Placed<'_>], room: usize) {
        let text = text.trim_end_matches('\r');
        let spans: Vec<(usize, usize)> = here.iter().map(|p| span_in_line(text, p)).collect();
        let mut open = vec![None; spans.len()];
        let mut done = 0;
        for (from, to) in windows(text, &spans, room) {
            if from > done {
                piece.text.push('…');
            }
            for (offset, c) in
                text.get(from..to).unwrap_or("").char_indices().map(|(i, c)| (i + from, c))
            {
                for (mark, (s, _)) in open.iter_mut().zip(&spans) {
                    if *s == offset {
                        *mark = Some(piece.text.len());
                    }
                }
                push_shown(&mut piece.text, c);
                let next = offset + c.len_utf8();
                for (at, (placed, (s, e))) in here.iter().zip(&spans).enumerate() {
                    let ends = *e == next || (next == to && *e > to);
                    if let (Some(Some(opened)), true) = (open.get(at), ends && *s < next) {
                        self.mark(piece, *opened, piece.text.len(), placed);
                    }
                }
            }
            done = to;
        }
        if done < text.len() {
            piece.text.push('…');
        }
        for (placed, _) in here.iter().zip(&spans).filter(|(_, (s, e))| s == e) {
            // Something stands here even where nothing is written.
            let opened = piece.text.len();
            piece.text.push(' ');
            self.mark(piece, opened, opened + 1, placed);
        }
    }

    fn mark(&mut self, piece: &Piece, from: usize, to: usize, placed: &Placed<'_>) {
        let text = Some(placed.texts.join("; ")).filter(|t| !t.is_empty());
        self.marks.push(Marked {
            offset: piece.base + from,
            len: to - from,
            text,
            line: placed.line,
            column: placed.column,
        });
    }
}

/// Works out lines and columns; labels on the same value are joined.
fn placed<'a>(source: &Source, labels: impl Iterator<Item = &'a Label>) -> Vec<Placed<'a>> {
    let mut placed: Vec<Placed<'a>> = Vec::new();
    for label in labels {
        if let Some(same) = placed.iter_mut().find(|p| p.label.span.start() == label.span.start()) {
            let text = inert(&label.text);
            if !text.is_empty() && !same.texts.contains(&text) {
                same.texts.push(text);
            }
            continue;
        }
        let offset = label.span.start().min(source.text.len());
        let (line, column) = source.line_column(offset);
        let start = source
            .text
            .get(..crate::source::floor_boundary(&source.text, offset))
            .and_then(|t| t.rfind('\n'))
            .map_or(0, |at| at + 1);
        let texts = Some(inert(&label.text)).filter(|t| !t.is_empty()).into_iter().collect();
        placed.push(Placed { label, line: line - 1, column: column - 1, start, texts });
    }
    placed
}

fn line_at(text: &str, start: usize) -> Option<&str> {
    text.get(start..).map(|rest| rest.split('\n').next().unwrap_or(""))
}

fn line_before(text: &str, start: usize) -> usize {
    text.get(..start.saturating_sub(1)).and_then(|t| t.rfind('\n')).map_or(0, |at| at + 1)
}

/// A label's span below its line, cut at the line's end.
fn span_in_line(text: &str, placed: &Placed<'_>) -> (usize, usize) {
    let from =
        crate::source::floor_boundary(text, placed.label.span.start().saturating_sub(placed.start));
    let mut to =
        crate::source::floor_boundary(text, placed.label.span.end().saturating_sub(placed.start));
    if to <= from {
        to = text.get(from..).and_then(|t| t.chars().next()).map_or(from, |c| from + c.len_utf8());
    }
    (from, to)
}

fn push_shown(out: &mut String, c: char) {
    match c {
        '\t' => out.push_str("  "),
        c => out.push(inert_char(c)),
    }
}

/// Columns of a character as it is shown.
fn shown_width(c: char) -> usize {
    match c {
        '\t' => 2,
        c if acts(c) => 1,
        c => c.width().unwrap_or(0),
    }
}

/// The parts of a line to show, in bytes: all of it when it fits, or a window around each mark.
fn windows(text: &str, spans: &[(usize, usize)], room: usize) -> Vec<(usize, usize)> {
    if text.len() <= 4 * room && text.chars().map(shown_width).sum::<usize>() <= room {
        return vec![(0, text.len())];
    }
    let room = room.saturating_sub(spans.len() + 1);
    let Some(share) = room.checked_div(spans.len()) else { return vec![(0, ahead(text, 0, room))] };
    let mut found: Vec<(usize, usize)> = Vec::new();
    for &(from, to) in spans {
        let wide = text
            .get(from..to)
            .unwrap_or("")
            .chars()
            .take(share + 1)
            .map(shown_width)
            .sum::<usize>()
            .min(share);
        let rest = share.saturating_sub(wide);
        // More before than after: what stands before a value is its name.
        let start = behind(text, from, (rest * 2 / 3).min(SIDE));
        let end = ahead(
            text,
            from,
            wide.max(1) + rest.saturating_sub(width(text.get(start..from).unwrap_or(""))).min(SIDE),
        );
        match found.last_mut() {
            Some(last) if last.1 >= start => last.1 = last.1.max(end),
            _ => found.push((start, end)),
        }
    }
    found
}

fn ahead(text: &str, from: usize, mut columns: usize) -> usize {
    let mut at = from;
    for c in text.get(from..).unwrap_or("").chars() {
        match columns.checked_sub(shown_width(c)) {
            Some(left) => columns = left,
            None => break,
        }
        at += c.len_utf8();
    }
    at
}

fn behind(text: &str, from: usize, mut columns: usize) -> usize {
    let mut at = from;
    for c in text.get(..from).unwrap_or("").chars().rev() {
        match columns.checked_sub(shown_width(c)) {
            Some(left) => columns = left,
            None => break,
        }
        at -= c.len_utf8();
    }
    at
}

impl fmt::Display for Snippet {
    fn fmt(&self, _: &mut fmt::Formatter<'_>) -> fmt::Result {
        Ok(())
    }
}

impl std::error::Error for Snippet {}

impl Diagnostic for Snippet {
    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(self)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(self.marks.iter().map(|m| LabeledSpan::new(m.text.clone(), m.offset, m.len))))
    }
}

impl SourceCode for Snippet {
    /// The whole piece around a span; a span over two pieces is refused, so that the printer never
    /// joins two files.
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let end = span.offset() + span.len();
        let piece = self
            .pieces
            .iter()
            .find(|p| p.base <= span.offset() && end <= p.base + p.text.len())
            .ok_or(MietteError::OutOfBounds)?;
        let mark =
            self.marks.iter().find(|m| m.offset == span.offset()).filter(|_| before + after == 0);
        let (line, column) = mark.map_or((piece.line, 0), |m| (m.line, m.column));
        let all = (piece.base, piece.text.len()).into();
        Ok(Box::new(MietteSpanContents::new_named(
            piece.name.clone(),
            piece.text.as_bytes(),
            all,
            line,
            column,
            piece.lines,
        )))
    }
}
