use super::*;

#[test]
fn differences_carry_sign_and_unit() {
    assert_eq!(difference(-23.0, "W", "EUR"), "-23 W");
    assert_eq!(difference(4.5, "money", "EUR"), "+4.50 EUR");
    assert_eq!(difference(0.05, "of rating", "EUR"), "+5 points");
}
