use super::*;

#[test]
fn places_go_there_and_back() {
    let source = Source::new("a", "one\ntwö x\nthree");
    for (offset, expected) in [(0, (1, 1)), (4, (2, 1)), (8, (2, 4)), (11, (3, 1))] {
        assert_eq!(source.line_column(offset), expected);
        assert_eq!(source.offset(expected.0, expected.1), offset);
    }
    assert_eq!(source.offset(99, 1), source.text.len());
    assert_eq!(source.line_column(999), (3, 6));
}
