//! Places in a text as editors count them: lines from 0, and columns in the units that both sides
//! agreed on.

use std::ops::Range;
use std::rc::Rc;
use std::sync::Arc;

use ahash::AHashMap;
use lsp_types::{Position, PositionEncodingKind};

use crate::source::{Label, Source, Span, floor_boundary};

/// Texts whose line starts are kept at most.
const MOST_KEPT: usize = 400;

/// What a column counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Encoding {
    Utf8,
    /// Units of UTF-16, which every editor speaks.
    Utf16,
}

impl Encoding {
    /// The first that the editor offers and that is known here.
    pub(crate) fn choose(offered: Option<&[PositionEncodingKind]>) -> Self {
        let offered = offered.unwrap_or(&[]).iter();
        let known = offered.filter_map(|kind| match kind.as_str() {
            "utf-8" => Some(Self::Utf8),
            "utf-16" => Some(Self::Utf16),
            _ => None,
        });
        known.into_iter().next().unwrap_or(Self::Utf16)
    }

    /// Its word in the protocol.
    pub(crate) fn kind(self) -> PositionEncodingKind {
        match self {
            Self::Utf8 => PositionEncodingKind::UTF8,
            Self::Utf16 => PositionEncodingKind::UTF16,
        }
    }

    fn width(self, c: char) -> usize {
        match self {
            Self::Utf8 => c.len_utf8(),
            Self::Utf16 => c.len_utf16(),
        }
    }
}

/// Where the lines of a text begin. A line ends with `\n`, `\r\n` or `\r`.
#[derive(Debug, Clone)]
pub(crate) struct Lines(Vec<u32>);

impl Lines {
    pub(crate) fn of(text: &str) -> Self {
        let bytes = text.as_bytes();
        let mut starts = vec![0];
        for (at, byte) in bytes.iter().enumerate() {
            let ends = *byte == b'\n' || *byte == b'\r' && bytes.get(at + 1) != Some(&b'\n');
            if ends {
                starts.push(u32::try_from(at + 1).unwrap_or(u32::MAX));
            }
        }
        Self(starts)
    }

    /// How many lines there are.
    pub(crate) fn count(&self) -> usize {
        self.0.len()
    }

    /// The line of a byte, from 0.
    pub(crate) fn line_of(&self, offset: usize) -> usize {
        self.0.partition_point(|start| *start as usize <= offset).saturating_sub(1)
    }

    /// The bytes of a line, without its end.
    pub(crate) fn bytes_of(&self, text: &str, line: usize) -> Range<usize> {
        let start = self.0.get(line).map_or(text.len(), |s| *s as usize).min(text.len());
        let next = self.0.get(line + 1).map_or(text.len(), |s| *s as usize).min(text.len());
        let body = text.get(start..next).unwrap_or("");
        start..start + body.trim_end_matches(['\r', '\n']).len()
    }

    /// The byte at a position; one past the end of a line or of the text counts as the end.
    pub(crate) fn offset(&self, text: &str, at: Position, encoding: Encoding) -> usize {
        let line = at.line as usize;
        if line >= self.count() {
            return text.len();
        }
        let bytes = self.bytes_of(text, line);
        let body = text.get(bytes.clone()).unwrap_or("");
        let mut units = 0;
        for (index, c) in body.char_indices() {
            units += encoding.width(c);
            if units > at.character as usize {
                return bytes.start + index;
            }
        }
        bytes.end
    }

    pub(crate) fn position(&self, text: &str, offset: usize, encoding: Encoding) -> Position {
        let offset = floor_boundary(text, offset);
        let line = self.line_of(offset);
        let start = self.0.get(line).map_or(0, |s| *s as usize);
        let before = text.get(start..offset).unwrap_or("");
        let units: usize = before.chars().map(|c| encoding.width(c)).sum();
        Position::new(
            u32::try_from(line).unwrap_or(u32::MAX),
            u32::try_from(units).unwrap_or(u32::MAX),
        )
    }

    /// The positions of a run of bytes.
    pub(crate) fn range(&self, text: &str, span: Span, encoding: Encoding) -> lsp_types::Range {
        lsp_types::Range::new(
            self.position(text, span.start(), encoding),
            self.position(text, span.end(), encoding),
        )
    }
}

/// Line starts of the texts that findings point at, so that none is read through at every key.
#[derive(Debug)]
pub(crate) struct Places {
    /// What columns count.
    pub(crate) encoding: Encoding,
    known: AHashMap<usize, (Arc<Source>, Rc<Lines>)>,
}

impl Places {
    /// None are known yet.
    pub(crate) fn new(encoding: Encoding) -> Self {
        Self { encoding, known: AHashMap::new() }
    }

    pub(crate) fn lines(&mut self, source: &Arc<Source>) -> Rc<Lines> {
        if self.known.len() > MOST_KEPT {
            // Texts that nothing else holds any more: what was typed since.
            self.known.retain(|_, (source, _)| Arc::strong_count(source) > 1);
        }
        if self.known.len() > MOST_KEPT {
            self.known.clear();
        }
        let key = Arc::as_ptr(source) as usize;
        let (_, lines) = self
            .known
            .entry(key)
            .or_insert_with(|| (source.clone(), Rc::new(Lines::of(&source.text))));
        lines.clone()
    }

    /// Where a label stands; one that covers nothing covers the word there.
    pub(crate) fn range(&mut self, label: &Label) -> lsp_types::Range {
        self.range_of(&label.source, label.span)
    }

    /// The same for a run of bytes.
    pub(crate) fn range_of(&mut self, source: &Arc<Source>, span: Span) -> lsp_types::Range {
        let text = &source.text;
        let span = if span.is_empty() { word_at(text, span.start()) } else { span };
        self.lines(source).range(text, trimmed(text, span), self.encoding)
    }
}

/// A span without the line ends at its end.
fn trimmed(text: &str, span: Span) -> Span {
    let body = text.get(span.start()..span.end()).unwrap_or("");
    Span::new(span.start(), span.start() + body.trim_end().len().max(1).min(span.len()))
}

/// The word that begins at a byte or goes over it.
pub(crate) fn word_at(text: &str, at: usize) -> Span {
    let at = floor_boundary(text, at);
    let of_word = |c: char| c.is_alphanumeric() || c == '_';
    let before = text.get(..at).unwrap_or("");
    let after = text.get(at..).unwrap_or("");
    let start = before.trim_end_matches(of_word).len();
    let end = at + after.len() - after.trim_start_matches(of_word).len();
    Span::new(start, end)
}

#[cfg(test)]
#[path = "../../../tests/unit/app/lsp/positions.rs"]
mod tests;
