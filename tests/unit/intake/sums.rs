use super::*;

#[test]
fn a_number_at_a_price_counts() {
    for (text, read) in [
        ("Strand P3 1 x 245,00 245,00", "Strand P3 x1, @ 245,00 |  245,00"),
        ("Lull 120 | 3 x 16.00", "Lull 120 | x3, @ 16.00 | "),
        ("Kelp 2 x 16 GB", "Kelp 2 x 16 GB"),
        ("Dulse 2x24 6000", "Dulse 2x24 6000"),
        ("2x Lull 120 2x 12,00", "2x Lull 120 2x 12,00"),
    ] {
        assert_eq!(before_price(text), read);
    }
}

#[test]
fn of_two_amounts_the_lesser_that_comes_to_the_other() {
    let both = |text: &str| amounts(text, false);
    let one = |text: &str, count| one_of(&both(text), count).map(|a| a.value);
    assert_eq!(one("12,00 € 24,00 €", 2).as_deref(), Some("12.00"));
    assert_eq!(one("24,00 € 12,00 €", 2).as_deref(), Some("12.00"));
    assert_eq!(one("12,00 € 25,00 €", 2), None);
    assert_eq!(one("12,00 € 12,00 €", 1), None);
}
