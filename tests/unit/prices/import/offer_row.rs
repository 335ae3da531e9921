use super::*;

#[test]
fn amounts_are_written_as_money_shows_them() {
    for text in [
        "0.00 EUR",
        "0.05 EUR",
        "12.30 EUR",
        "1450.00 EUR",
        "7 JPY",
        "0 JPY",
        "1.005 KWD",
        "92233720368547758.07 EUR",
    ] {
        let money = Money::parse(text).unwrap_or_else(|e| panic!("{e}"));
        let mut out = String::new();
        amount(&mut out, Some(money));
        assert_eq!(format!("{out} {}", money.currency()), text);
    }
}
