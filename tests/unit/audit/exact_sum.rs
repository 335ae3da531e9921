use super::*;
use proptest::prelude::*;

fn total(terms: &[f64]) -> f64 {
    let mut sum = ExactSum::default();
    terms.iter().for_each(|n| sum.add(*n));
    sum.total()
}

#[test]
fn nothing_is_lost_on_the_way() {
    assert_eq!(total(&[]), 0.0);
    assert_eq!(total(&[0.1; 10]), 1.0);
    assert_eq!(total(&[1e100, 1.0, -1e100]), 1.0);
    assert_eq!(total(&[1e16, 1.0, 1e-16]), 1e16 + 2.0);
    assert_eq!(total(&[1e16, 1.0, -1e-300]), 1e16);
    assert_eq!(total(&[1.7e308, 1.7e308, -1.7e308]), 1.7e308);
    assert!(!total(&[1.7e308, 1.7e308]).is_finite());
    assert!(!total(&[f64::NAN, 1.0]).is_finite());
    assert_eq!(total(&[5e-324, 5e-324]), 1e-323);
}

proptest! {
    /// Whole numbers of a small unit, which integers add without loss.
    #[test]
    fn the_total_is_the_whole_number_that_integers_give(
        terms in prop::collection::vec((-1i64 << 52..1i64 << 52, 0..40u32), 1..20),
    ) {
        let exact: i128 = terms.iter().map(|(n, shift)| i128::from(*n) << shift).sum();
        let floats: Vec<f64> =
            terms.iter().map(|(n, shift)| *n as f64 * (1u64 << shift) as f64).collect();
        prop_assert_eq!(total(&floats).to_bits(), (exact as f64 + 0.0).to_bits());
    }

    #[test]
    fn no_order_of_adding_gives_another_total(
        mut terms in prop::collection::vec(
            prop_oneof![
                (-9999i64..9999).prop_map(|n| n as f64 / 10.0),
                any::<f64>().prop_filter("finite", |n| n.is_finite())
            ],
            1..12,
        ),
        turn in any::<prop::sample::Index>(),
    ) {
        let first = total(&terms);
        let at = turn.index(terms.len());
        terms.rotate_left(at);
        let second = total(&terms);
        terms.reverse();
        for other in [second, total(&terms)] {
            let finite = first.is_finite() || other.is_finite();
            prop_assert!(first.to_bits() == other.to_bits() || !finite);
        }
    }
}
