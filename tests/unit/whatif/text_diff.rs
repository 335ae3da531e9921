use super::*;

#[test]
fn the_unified_diff_marks_what_differs_within_a_line() {
    let lines = unified("a\npart = \"fan/x\"\n", "a\npart = \"fan/y\"\n");
    assert_eq!(lines.first(), Some(&DiffLine::Head(1, 2, 1, 2)));
    assert!(lines.iter().any(|l| matches!(l, DiffLine::Line('+',
        pieces) if pieces.iter().any(|(marked, t)| *marked && t.contains('y')))));
}
