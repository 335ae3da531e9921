//! What differs between two texts: patches that make one of the other, and unified diffs.

use similar::{ChangeTag, DiffOp, TextDiff};

use crate::source::Problem;

/// A change of a text: runs of lines that give way to others.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Patch {
    hunks: Vec<Hunk>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Hunk {
    at: usize,
    old: Vec<String>,
    new: Vec<String>,
}

impl Patch {
    /// What makes the second text of the first.
    pub fn between(old: &str, new: &str) -> Self {
        if old == new {
            return Self::default();
        }
        let diff = TextDiff::from_lines(old, new);
        let take = |range: std::ops::Range<usize>, of: &dyn Fn(usize) -> Option<String>| {
            range.filter_map(of).collect()
        };
        let hunks =
            diff.ops().iter().filter(|op| !matches!(op, DiffOp::Equal { .. })).map(|op| Hunk {
                at: op.old_range().start,
                old: take(op.old_range(), &|at| diff.old_slice(at).map(str::to_owned)),
                new: take(op.new_range(), &|at| diff.new_slice(at).map(str::to_owned)),
            });
        Self { hunks: hunks.collect() }
    }

    /// Whether it changes nothing.
    pub fn is_empty(&self) -> bool {
        self.hunks.is_empty()
    }
}

/// Makes the change of a patch.
///
/// # Errors
/// The text is not the one that the patch was made for.
pub fn apply(patch: &Patch, text: &str) -> Result<String, Problem> {
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for hunk in &patch.hunks {
        let held = lines
            .get(hunk.at..hunk.at + hunk.old.len())
            .filter(|held| hunk.at >= at && held.iter().eq(hunk.old.iter()));
        let (Some(kept), Some(_)) = (lines.get(at..hunk.at.max(at)), held) else {
            return Err(Problem::new(format!(
                "the text differs from what this change was made for, at line {}",
                hunk.at + 1
            )));
        };
        out.extend(kept.iter().copied());
        out.extend(hunk.new.iter().map(String::as_str));
        at = hunk.at + hunk.old.len();
    }
    out.extend(lines.get(at..).unwrap_or_default().iter().copied());
    Ok(out)
}

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
mod tests {
    use super::*;

    #[test]
    fn a_patch_makes_the_second_text_of_the_first() {
        for (old, new) in [
            ("", "a\n"),
            ("a\nb\nc\n", "a\nx\nc"),
            ("a", "a\n"),
            ("a\r\nb\n", "a\nb\r\n"),
            ("x\ny\n", ""),
            ("same\n", "same\n"),
        ] {
            assert_eq!(apply(&Patch::between(old, new), old).unwrap(), new);
        }
        assert!(apply(&Patch::between("a\nb\n", "a\nc\n"), "a\nq\n").is_err());
        assert!(apply(&Patch::between("a\nb\n", "a\n"), "a\n").is_err());
    }

    #[test]
    fn the_unified_diff_marks_what_differs_within_a_line() {
        let lines = unified("a\npart = \"fan/x\"\n", "a\npart = \"fan/y\"\n");
        assert_eq!(lines.first(), Some(&DiffLine::Head(1, 2, 1, 2)));
        assert!(lines.iter().any(|l| matches!(l, DiffLine::Line('+',
        pieces) if pieces.iter().any(|(marked, t)| *marked && t.contains('y')))));
    }
}
