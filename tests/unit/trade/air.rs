use super::*;

#[test]
fn what_has_no_meaning_is_refused() {
    assert!(density(0.0, -300.0).is_err());
    assert!(density(50_000.0, 20.0).is_err());
    assert!(FanCurve::new(0.0, 0.03).is_err());
}
