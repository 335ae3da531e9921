//! What differs between two texts, as a unified diff.

use similar::{ChangeTag, TextDiff};

/// One line of a unified text diff.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DiffLine {
    /// Where a run of lines stands: first line and length before, first line and length after.
    Head(usize, usize, usize, usize),
    /// A line: ` `, `-` or `+`, and its pieces, marked where they differ from the other side.
    Line(char, Vec<(bool, String)>),
    /// The file ends here with no line end.
    NoEnd,
}

/// The unified diff of two texts, changes within a line marked.
pub fn unified(old: &str, new: &str) -> Vec<DiffLine> {
    let diff = TextDiff::from_lines(old, new);
    let mut out = Vec::new();
    for group in diff.grouped_ops(3) {
        let (Some(first), Some(last)) = (group.first(), group.last()) else { continue };
        let (was, is) = (
            first.old_range().start..last.old_range().end,
            first.new_range().start..last.new_range().end,
        );
        let start = |range: &std::ops::Range<usize>| {
            if range.is_empty() { range.start } else { range.start + 1 }
        };
        out.push(DiffLine::Head(start(&was), was.len(), start(&is), is.len()));
        for op in &group {
            for line in diff.iter_inline_changes(op) {
                let sign = match line.tag() {
                    ChangeTag::Equal => ' ',
                    ChangeTag::Delete => '-',
                    ChangeTag::Insert => '+',
                };
                let pieces = line
                    .iter_strings_lossy()
                    .map(|(marked, text)| (marked, text.trim_end_matches(['\n', '\r']).to_owned()))
                    .filter(|(_, t)| !t.is_empty());
                out.push(DiffLine::Line(sign, pieces.collect()));
                if line.missing_newline() {
                    out.push(DiffLine::NoEnd);
                }
            }
        }
    }
    out
}

#[cfg(test)]
#[path = "../../tests/unit/whatif/text_diff.rs"]
mod tests;
