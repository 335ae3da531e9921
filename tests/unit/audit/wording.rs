use super::*;

#[test]
fn figures_are_rounded_as_people_write_them() {
    for (n, unit, expected) in [
        (812.4, "W", "812 W"),
        (16.666_666, "ns", "16.7 ns"),
        (2.0, "mm", "2 mm"),
        (0.25, "of rating", "25 %"),
        (1249.0, "money", "1249.00 EUR"),
        (0.5, "money", "0.50 EUR"),
        (0.052, "money/GB", "0.052 EUR/GB"),
        (-0.0001, "", "-0.0001"),
        (f64::NAN, "W", "out of range"),
        (41.0, "%", "41 %"),
        (0.5, "A", "0.5 A"),
    ] {
        assert_eq!(figure(n, unit, "EUR"), expected);
    }
    assert_eq!(figure(1249.0, "money", "JPY"), "1249 JPY");
    assert_eq!(figure(1249.5, "money", "KWD"), "1249.500 KWD");
}
