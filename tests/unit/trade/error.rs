use super::*;

#[test]
fn a_long_or_hostile_text_is_cut_and_escaped() {
    let shown = clip(&format!("\u{1b}[31m{}", "x".repeat(100)));
    assert!(!shown.contains('\u{1b}'));
    assert!(shown.contains("\\u{1b}[31m"));
    assert!(shown.len() < 100);
}

#[test]
fn not_a_number_is_out_of_every_range() {
    assert!(at_least_zero("x", f64::NAN).is_err());
    assert!(finite("x", f64::INFINITY).is_err());
    assert!(above_zero("x", 0.0).is_err());
    assert_eq!(at_least_zero("x", 0.0), Ok(0.0));
}
