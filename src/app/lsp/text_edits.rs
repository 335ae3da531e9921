//! The edits that make one text of another, line by line, so that what stays is not touched.

use lsp_types::{Range, TextEdit};
use similar::{Algorithm, DiffOp, capture_diff_slices};

use super::positions::{Encoding, Lines};

/// The edits from one text to another; whole lines are replaced.
pub(crate) fn between(old: &str, new: &str, encoding: Encoding) -> Vec<TextEdit> {
    let before: Vec<&str> = old.split_inclusive('\n').collect();
    let after: Vec<&str> = new.split_inclusive('\n').collect();
    let mut starts = vec![0];
    for line in &before {
        starts.push(starts.last().copied().unwrap_or(0) + line.len());
    }
    let lines = Lines::of(old);
    let at = |line: usize| {
        let offset = starts.get(line).copied().unwrap_or(old.len());
        lines.position(old, offset, encoding)
    };
    let mut edits = Vec::new();
    for op in capture_diff_slices(Algorithm::Myers, &before, &after) {
        if matches!(op, DiffOp::Equal { .. }) {
            continue;
        }
        let (gone, come) = (op.old_range(), op.new_range());
        edits.push(TextEdit {
            range: Range::new(at(gone.start), at(gone.end)),
            new_text: after.get(come).unwrap_or(&[]).concat(),
        });
    }
    edits
}

#[cfg(test)]
mod tests {
    use super::*;

    fn applied(old: &str, edits: &[TextEdit]) -> String {
        let lines = Lines::of(old);
        let mut text = old.to_owned();
        for edit in edits.iter().rev() {
            let start = lines.offset(old, edit.range.start, Encoding::Utf16);
            let end = lines.offset(old, edit.range.end, Encoding::Utf16);
            text.replace_range(start..end, &edit.new_text);
        }
        text
    }

    #[test]
    fn edits_make_the_other_text_whatever_its_ends() {
        let texts =
            ["", "a", "a\n", "a\nb", "a\nb\n", "é𝄞\r\nb\r\nc", "b\nx\n\n", "\n\n", "a\nb\nc\nd"];
        for old in texts {
            for new in texts {
                let edits = between(old, new, Encoding::Utf16);
                assert_eq!(applied(old, &edits), new, "{old:?} to {new:?}: {edits:?}");
            }
        }
    }
}
