use super::*;

#[test]
fn labels_round_and_rates_do_not() {
    assert!((exact_mts(2666.0) - 8000.0 / 3.0).abs() < 1e-9);
    assert!((exact_mts(1866.0) - 5600.0 / 3.0).abs() < 1e-9);
    assert_eq!(exact_mts(3200.0), 3200.0);
    assert_eq!(exact_mts(3000.0), 3000.0);
    assert_eq!(exact_mts(5600.0), 5600.0);
}

#[test]
fn a_rate_of_nothing_is_refused() {
    assert!(latency_ns(16.0, 0.0).is_err());
    assert!(peak_gbytes(f64::NAN, 2.0).is_err());
}
