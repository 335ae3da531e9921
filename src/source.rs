//! Text files, places in them, and what is said of a place: the ground under every message.

use std::fmt;
use std::sync::Arc;

use crate::words::nearest;

/// A text that was read, with the name it is shown under.
#[derive(Debug, PartialEq, Eq)]
pub struct Source {
    /// Path as the user would type it, or a name in angle brackets for text that is not a file.
    pub name: String,
    /// The whole text.
    pub text: String,
}

impl Source {
    /// Wraps a text under a name.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Arc<Self> {
        Arc::new(Self { name: name.into(), text: text.into() })
    }

    /// Line and column of a byte offset, both from 1, the column in Unicode scalars.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..floor_boundary(&self.text, offset)).unwrap_or("");
        let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        (line, before.get(start..).unwrap_or("").chars().count() + 1)
    }

    /// Byte offset of a line and column (both from 1, column in Unicode scalars); the text's end
    /// when past it.
    pub fn offset(&self, line: usize, column: usize) -> usize {
        let mut start = 0;
        for _ in 1..line.max(1) {
            match self.text.get(start..).and_then(|rest| rest.find('\n')) {
                Some(at) => start += at + 1,
                None => return self.text.len(),
            }
        }
        let rest = self.text.get(start..).unwrap_or("");
        rest.char_indices()
            .nth(column.saturating_sub(1))
            .map_or(self.text.len(), |(at, _)| start + at)
    }

    /// The text under a span.
    pub fn slice(&self, span: Span) -> &str {
        self.text.get(span.start()..span.end()).unwrap_or("")
    }
}

/// The nearest character boundary at or before an offset.
pub fn floor_boundary(text: &str, offset: usize) -> usize {
    let mut at = offset.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// A run of bytes in a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Span {
    start: u32,
    len: u32,
}

impl Span {
    /// A span from byte `start` to byte `end`; files are capped well below 4 GiB, so it fits.
    pub fn new(start: usize, end: usize) -> Self {
        let fit = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { start: fit(start), len: fit(end.saturating_sub(start)) }
    }

    /// First byte.
    pub fn start(self) -> usize {
        self.start as usize
    }

    /// One past the last byte.
    pub fn end(self) -> usize {
        self.start as usize + self.len as usize
    }

    /// The same run, so many bytes further on.
    pub(crate) fn shifted(self, by: usize) -> Self {
        Self::new(self.start() + by, self.end() + by)
    }

    /// Length in bytes.
    pub fn len(self) -> usize {
        self.len as usize
    }

    /// Whether it covers nothing.
    pub fn is_empty(self) -> bool {
        self.len == 0
    }
}

impl From<std::ops::Range<usize>> for Span {
    fn from(range: std::ops::Range<usize>) -> Self {
        Self::new(range.start, range.end)
    }
}

/// A place in a source with a word on it.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Label {
    /// Where.
    pub source: Arc<Source>,
    /// Which bytes.
    pub span: Span,
    /// What stands there, in a few words.
    pub text: String,
}

impl Label {
    /// Its file with the line and column from 1: `fit.rhai:12:5`.
    pub(crate) fn address(&self) -> String {
        let (line, column) = self.source.line_column(self.span.start());
        format!("{}:{line}:{column}", self.source.name)
    }
}

/// Something wrong with what a user wrote: what, where, and what would fix it.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Problem {
    /// One sentence.
    pub message: String,
    /// The places, the main one first.
    pub labels: Vec<Label>,
    /// What would fix it.
    pub help: Option<String>,
    /// What sort of problem it is, for programs: lower-case words joined by `-`.
    pub code: &'static str,
}

impl Problem {
    /// A problem with no place yet.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), labels: Vec::new(), help: None, code: "invalid" }
    }

    /// Says what sort of problem it is.
    #[must_use]
    pub fn code(mut self, code: &'static str) -> Self {
        self.code = code;
        self
    }

    /// Adds a place.
    #[must_use]
    pub fn at(mut self, source: &Arc<Source>, span: Span, text: impl Into<String>) -> Self {
        self.labels.push(Label { source: source.clone(), span, text: text.into() });
        self
    }

    /// Says what would fix it.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Asks "did you mean" instead of any help so far, when a candidate is near enough.
    #[must_use]
    pub fn suggest<'a>(self, word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Self {
        match nearest(word, candidates) {
            Some(near) => self.help(format!("did you mean `{near}`?")),
            None => self,
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        if let Some(label) = self.labels.first() {
            write!(f, " ({}: {})", label.address(), label.text)?;
        }
        if let Some(help) = &self.help {
            write!(f, "; {help}")?;
        }
        Ok(())
    }
}

/// Most mistakes that are told at once.
const MOST_PROBLEMS: usize = 400;

/// All that is wrong with an input, not the first thing only; of very much, what stands first.
#[derive(Debug, Clone, Default)]
pub struct Problems(pub Vec<Problem>);

impl Problems {
    /// Adds one; where there are very many, that they are not all.
    pub fn push(&mut self, problem: Problem) {
        match self.0.len() {
            MOST_PROBLEMS => self.0.push(
                Problem::new("more is wrong than is told here")
                    .help("put right what is told, and look again"),
            ),
            len if len > MOST_PROBLEMS => {}
            _ => self.0.push(problem),
        }
    }

    /// `Ok` when there is none.
    pub fn or<T>(self, value: T) -> Result<T, Self> {
        if self.0.is_empty() { Ok(value) } else { Err(self) }
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self(vec![problem])
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{problem}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}

#[cfg(test)]
#[path = "../tests/unit/source.rs"]
mod tests;
