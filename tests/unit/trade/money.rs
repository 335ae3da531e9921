use super::*;

fn money(text: &str) -> Money {
    Money::parse(text).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn what_is_written_is_what_is_shown() {
    for text in [
        "1450.00 EUR",
        "0.01 EUR",
        "-0.05 EUR",
        "1450 JPY",
        "1.005 KWD",
        "92233720368547758.07 EUR",
    ] {
        assert_eq!(money(text).to_string(), text);
    }
    assert_eq!(money(" 12.5  EUR ").to_string(), "12.50 EUR");
    assert_eq!(format!("{:>12}", money("9.90 EUR")), "    9.90 EUR");
}

#[test]
fn anything_else_is_refused_in_words() {
    let refused = [
        "1450.00",
        "EUR",
        "",
        "1,450.00 EUR",
        "1.450,00 EUR",
        "1450.001 EUR",
        "1450.000 EUR",
        "14.5 JPY",
        ".5 EUR",
        "5. EUR",
        "1.2.3 EUR",
        "+5 EUR",
        "--5 EUR",
        "1e3 EUR",
        "٣ EUR",
        "5 eur",
        "5 EURO",
        "5 EUR x",
        "NaN EUR",
        "92233720368547758.08 EUR",
        "99999999999999999999 EUR",
    ];
    for text in refused {
        assert!(Money::parse(text).is_err(), "{text}");
    }
    let error = Money::parse("1450.001 EUR").map_err(|e| e.to_string());
    assert_eq!(
        error,
        Err("\"1450.001 EUR\" is not an amount such as \"1450.00 EUR\": it has \
         more decimals than the currency"
            .to_owned())
    );
}

#[test]
fn currencies_do_not_mix() {
    let (euros, pounds) = (money("1.00 EUR"), money("1.00 GBP"));
    let why = euros.checked_add(&pounds).unwrap_err().to_string();
    assert_eq!(why, "EUR and GBP are different currencies and are not converted here");
    assert_eq!(euros.partial_cmp(&pounds), None);
    assert!(euros < money("1.01 EUR"));
}

#[test]
fn a_sum_that_does_not_fit_is_refused() {
    let most = Money::from_minor(i64::MAX, money("1 EUR").currency());
    assert!(most.checked_add(&money("0.01 EUR")).is_err());
    assert!(most.times(2).is_err());
    assert!(Money::from_minor(i64::MIN, most.currency()).checked_sub(&money("0.01 EUR")).is_err());
    assert!(most.scaled(i64::MAX, 1, Rounding::HalfUp).is_err());
    assert_eq!(
        Money::from_minor(i64::MIN, most.currency()).to_string(),
        "-92233720368547758.08 EUR"
    );
}

#[test]
fn halves_go_where_they_are_told() {
    let rounded =
        |text: &str, how| Rate::parse(text).and_then(|r| r.round(how)).map(|m| m.to_string());
    assert_eq!(rounded("-0.125 EUR", Rounding::HalfUp), Ok("-0.13 EUR".to_owned()));
    assert_eq!(rounded("-0.125 EUR", Rounding::HalfEven), Ok("-0.12 EUR".to_owned()));
    assert_eq!(rounded("0.135 EUR", Rounding::HalfEven), Ok("0.14 EUR".to_owned()));
    assert_eq!(rounded("0.1250001 EUR", Rounding::HalfEven), Ok("0.13 EUR".to_owned()));
    assert_eq!(rounded("0.5 JPY", Rounding::HalfEven), Ok("0 JPY".to_owned()));
    assert_eq!(rounded("7 EUR", Rounding::HalfUp), Ok("7.00 EUR".to_owned()));
}

#[test]
fn equal_rates_are_equal_however_written() {
    assert_eq!(Rate::parse("0.30 EUR"), Rate::parse("0.300000 EUR"));
    assert_eq!(Rate::parse("0.31 EUR"), Ok(Rate::from(money("0.31 EUR"))));
    assert_eq!(Rate::parse("0.3 EUR").map(|r| r.to_string()), Ok("0.30 EUR".to_owned()));
    assert_eq!(Rate::parse("0.3125 EUR").map(|r| r.to_string()), Ok("0.3125 EUR".to_owned()));
    assert_eq!(Rate::parse("0.3125 EUR").map(|r| r.to_f64()), Ok(0.3125));
    assert!(Rate::parse("0.0000000001 EUR").is_err());
}
