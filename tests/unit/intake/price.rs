use super::*;

#[test]
fn amounts_in_the_spelling_of_every_country() {
    let one = |text: &str| {
        amounts(text, false).into_iter().map(|a| (a.value, a.currency)).collect::<Vec<_>>()
    };
    let eur = |v: &str| vec![(v.to_owned(), Some("EUR".to_owned()))];
    for text in [
        "€1,336.00",
        "1.336,00 €",
        "1 336,00 €",
        "EUR 1336",
        "1.336 EUR",
        "1336,- €",
        "1'336.00 euros",
    ] {
        assert_eq!(one(text), eur("1336.00"), "{text}");
    }
    assert_eq!(one("Tarn 650 W, 2.5 GB"), []);
    assert_eq!(one("89.90"), vec![("89.90".to_owned(), None)]);
    assert_eq!(one("$5.5"), vec![("5.50".to_owned(), Some("USD".to_owned()))]);
}

#[test]
fn which_amount_is_the_price_of_one() {
    let price = |text: &str| take(text).price;
    assert_eq!(price("2x Lull 120, 9,90 € each, 19,80 € together").as_deref(), Some("9.90"));
    assert_eq!(price("Tarn 650, was €99, now €79").as_deref(), Some("79.00"));
    assert_eq!(price("case & psu, €189.84 together"), None);
    assert_eq!(price("Lull 120 400 EUR").as_deref(), Some("400.00"));
    assert_eq!(price("Offing 27 199 EUR").as_deref(), Some("199.00"));
    assert_eq!(price("Offing 27: 1 199 EUR").as_deref(), Some("1199.00"));
    assert_eq!(take("max 12 500 €").limit.as_deref(), Some("12500.00"));
    assert_eq!(take("Tarn 650 €79 €89").torn.len(), 2);
    assert_eq!(price("Dotterel 616P Qty: 1 € 549.00").as_deref(), Some("549.00"));
    assert_eq!(take("Oakum 4 g, €6.90").rest.replace('|', "").trim(), "Oakum 4 g,");
}
