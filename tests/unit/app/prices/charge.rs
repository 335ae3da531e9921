use super::*;
use rust_decimal::prelude::*;

/// A decimal library of its own, with the definitions of mark-up, margin and tax written out.
#[test]
fn shares_are_exact_to_the_coin() {
    let currency = Currency::from_code("EUR").unwrap_or(Currency::EURO);
    for minor in [0_i64, 1, 5, 99, 109_380, 33_333, 999_999_999_999] {
        for percent in [0.0, 0.5, 7.7, 12.5, 19.0, 33.333333, 99.0] {
            let cost = Money::from_minor(minor, currency);
            let (m, p) = (Decimal::from(minor), Decimal::from_f64(percent).unwrap_or_default());
            let hundred = Decimal::from(100);
            let coin = |d: Decimal| {
                d.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero).to_i64()
            };
            let ours = |m: Result<Money, TradeError>| m.ok().map(|m| m.minor());
            assert_eq!(ours(share(&cost, percent)), coin(m * p / hundred));
            assert_eq!(
                ours(earned(&cost, Earned::Margin(percent))),
                coin(m * p / (hundred - p)),
                "{minor} at {percent}"
            );
        }
    }
}
