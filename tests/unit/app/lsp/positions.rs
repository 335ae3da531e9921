use super::*;

#[test]
fn positions_go_there_and_back_in_both_encodings() {
    let text = "a\r\nbé𝄞c\rd\n\ne";
    let lines = Lines::of(text);
    assert_eq!(lines.count(), 5);
    for encoding in [Encoding::Utf8, Encoding::Utf16] {
        for (offset, _) in text.char_indices().filter(|(_, c)| !"\r\n".contains(*c)) {
            let position = lines.position(text, offset, encoding);
            assert_eq!(lines.offset(text, position, encoding), offset, "{position:?}");
        }
    }
    let at = text.find('c').unwrap();
    assert_eq!(lines.position(text, at, Encoding::Utf16), Position::new(1, 4));
    assert_eq!(lines.position(text, at, Encoding::Utf8), Position::new(1, 7));
}

#[test]
fn what_lies_past_the_end_or_within_a_letter_is_brought_back() {
    let text = "ab\n𝄞x";
    let lines = Lines::of(text);
    let offset = |line, column| lines.offset(text, Position::new(line, column), Encoding::Utf16);
    assert_eq!(offset(0, 99), 2);
    assert_eq!(offset(99, 0), text.len());
    assert_eq!(offset(u32::MAX, u32::MAX), text.len());
    assert_eq!(offset(1, 1), 3, "the middle of a pair is its beginning");
}
