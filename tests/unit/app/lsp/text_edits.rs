use super::*;

#[test]
fn edits_make_the_other_text_whatever_its_ends() {
    let texts =
        ["", "a", "a\n", "a\nb", "a\nb\n", "é𝄞\r\nb\r\nc", "b\nx\n\n", "\n\n", "a\nb\nc\nd"];
    for old in texts {
        for new in texts {
            let edits = between(old, new, Encoding::Utf16);
            let lines = Lines::of(old);
            let mut text = old.to_owned();
            for edit in edits.iter().rev() {
                let start = lines.offset(old, edit.range.start, Encoding::Utf16);
                let end = lines.offset(old, edit.range.end, Encoding::Utf16);
                text.replace_range(start..end, &edit.new_text);
            }
            assert_eq!(text, new, "{old:?} to {new:?}: {edits:?}");
        }
    }
}
