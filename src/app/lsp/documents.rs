//! The texts that are open in the editor, changed as it says.

use std::path::PathBuf;
use std::sync::Arc;

use lsp_types::TextDocumentContentChangeEvent;

use super::list_view::Seen;
use super::positions::{Encoding, Lines};
use super::shops::ShopKey;
use crate::layer::MAX_FILE_BYTES;
use crate::source::{Source, Span};

/// A text that is open.
pub(crate) struct Document {
    /// Its name, as the editor writes it.
    pub(crate) uri: String,
    /// Its name as this server writes it: links resolved, letters written in one way.
    pub(crate) canonical: String,
    /// Its file; none of what was never saved.
    pub(crate) path: Option<PathBuf>,
    /// What messages call it.
    pub(crate) name: String,
    /// The editor's number of this text.
    pub(crate) version: i32,
    pub(crate) source: Arc<Source>,
    pub(crate) lines: Lines,
    pub(crate) sort: Sort,
    pub(crate) shop: ShopKey,
    /// What was made of it last.
    pub(crate) seen: Option<Seen>,
    /// Findings of the last text that read, kept while it does not: moved along with edits.
    pub(crate) kept: Vec<Kept>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sort {
    List,
    Brief,
    /// A file of a catalogue or of rules, `dryfit.toml` included.
    Layer,
    /// Nothing of ours.
    Other,
}

/// A finding of an earlier text.
#[derive(Debug, Clone)]
pub(crate) struct Kept {
    /// Where it stands by now.
    pub(crate) span: Span,
    /// What was said.
    pub(crate) diagnostic: lsp_types::Diagnostic,
}

/// A change that cannot be made: the editor and the server no longer hold the same text.
#[derive(Debug)]
pub(crate) struct TooLarge;

impl Document {
    /// Takes over changes, one after the other.
    /// Errors: the text would become larger than any file may be; it stays as it was.
    pub(crate) fn change(
        &mut self,
        version: i32,
        changes: Vec<TextDocumentContentChangeEvent>,
        encoding: Encoding,
    ) -> Result<(), TooLarge> {
        let mut text = self.source.text.clone();
        for change in changes {
            let mut change = change;
            let (start, end) = match change.range {
                // Many editors send the whole text: what is the same at both ends did not change.
                None => whole(&text, &mut change.text),
                Some(range) => {
                    let a = self.lines.offset(&text, range.start, encoding);
                    let b = self.lines.offset(&text, range.end, encoding);
                    (a.min(b), a.max(b))
                }
            };
            if (text.len() - (end - start) + change.text.len()) as u64 > MAX_FILE_BYTES {
                return Err(TooLarge);
            }
            text.replace_range(start..end, &change.text);
            self.lines = Lines::of(&text);
            move_kept(&mut self.kept, start, end, change.text.len());
        }
        self.version = version;
        self.source = Source::new(self.name.clone(), text);
        Ok(())
    }

    pub(crate) fn offset(&self, at: lsp_types::Position, encoding: Encoding) -> usize {
        self.lines.offset(&self.source.text, at, encoding)
    }

    /// The positions of a run of bytes.
    pub(crate) fn range(&self, span: Span, encoding: Encoding) -> lsp_types::Range {
        self.lines.range(&self.source.text, span, encoding)
    }
}

/// The run of bytes of a text that is not as in the next one, which is cut down to what comes
/// there instead.
fn whole(text: &str, next: &mut String) -> (usize, usize) {
    let same = text.bytes().zip(next.bytes()).take_while(|(a, b)| a == b).count();
    let start = (0..=same).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
    let most = (text.len() - start).min(next.len() - start);
    let ends = text.bytes().rev().zip(next.bytes().rev());
    let same = ends.take(most).take_while(|(a, b)| a == b).count();
    let tail = (0..=same).rev().find(|n| text.is_char_boundary(text.len() - n)).unwrap_or(0);
    next.truncate(next.len() - tail);
    next.drain(..start);
    (start, text.len() - tail)
}

/// Moves what lies behind an edit, and drops what it touched.
fn move_kept(kept: &mut Vec<Kept>, start: usize, end: usize, len: usize) {
    kept.retain_mut(|k| {
        if k.span.end() < start {
            return true;
        }
        if k.span.start() < end || k.span.start() == start && end == start {
            return false;
        }
        k.span = Span::new(k.span.start() - end + start + len, k.span.end() - end + start + len);
        true
    });
}
