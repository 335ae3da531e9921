use super::*;

#[test]
fn the_table_is_in_order_and_without_doubles() {
    assert!(TABLE.windows(2).all(|pair| matches!(pair, [a, b] if a.0 < b.0)));
    assert!(TABLE.len() >= 45);
}

#[test]
fn a_code_is_matched_as_written() {
    assert_eq!(Currency::from_code("EUR").map(Currency::minor_digits), Some(2));
    assert_eq!(Currency::from_code("eur"), None);
    assert_eq!(Currency::from_code(""), None);
}
