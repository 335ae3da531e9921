//! Exact amounts: whole counts of a currency's smallest unit, never a binary fraction.
//!
//! [`Money`] is what an offer, a line or a bill is in; [`Rate`] has more decimals than the
//! currency's coins, such as the price of a kilowatt-hour. Sums are exact or refused: a currency
//! that differs and a result that does not fit are errors, and rounding happens only where it is
//! named.

use std::cmp::Ordering;
use std::fmt;

use super::TradeError;
pub use super::currency::Currency;
use super::error::clip;

/// Largest price, in a currency's smallest units: the most pieces on the most lines, each at this,
/// come to less than 2^53.
pub const PRICE_MAX: i64 = 100_000_000_000;

/// Most decimals a [`Rate`] may have.
pub const RATE_DECIMALS: u8 = 9;

/// What happens to an amount that lies exactly half way between two smallest units.
/// Other amounts go to the nearest in either case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rounding {
    /// Away from zero, as on most bills: 0.125 gives 0.13, and -0.125 gives -0.13.
    HalfUp,
    /// To the even neighbour, as in much bookkeeping, so that many roundings do not drift: 0.125
    /// gives 0.12, 0.135 gives 0.14.
    HalfEven,
}

/// An exact amount of a currency, in whole smallest units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Money {
    minor: i64,
    currency: Currency,
}

impl Money {
    /// So many of the currency's smallest units: `from_minor(145000, EUR)` is 1450.00 EUR.
    pub fn from_minor(minor: i64, currency: Currency) -> Self {
        Self { minor, currency }
    }

    /// Nothing, in a currency.
    pub fn zero(currency: Currency) -> Self {
        Self::from_minor(0, currency)
    }

    /// Reads `1450.00 EUR`: digits, at most one decimal point, no thousands separators, a space,
    /// the code in capitals. Fewer decimals than the currency has are fine, and a leading minus is
    /// allowed.
    ///
    /// # Errors
    /// For anything else, more decimals than the currency has included, for a code not known, and
    /// where the amount does not fit.
    pub fn parse(text: &str) -> Result<Self, TradeError> {
        let (number, currency) = split(text)?;
        let minor_digits = currency.minor_digits();
        if number.decimals > minor_digits {
            let why = if minor_digits == 0 {
                "this currency has no decimals"
            } else {
                "it has more decimals than the currency"
            };
            return Err(no_amount(text, why));
        }
        let minor = ten_to(minor_digits - number.decimals)
            .and_then(|scale| number.units.checked_mul(scale));
        minor
            .map(|minor| Self { minor, currency })
            .ok_or_else(|| TradeError::too_large("the amount"))
    }

    /// The amount in the currency's smallest units.
    pub fn minor(&self) -> i64 {
        self.minor
    }

    /// The currency.
    pub fn currency(&self) -> Currency {
        self.currency
    }

    /// The amount as a plain number, for showing and comparing only: 1450.0. Correct to the last
    /// place of a double up to 2^53 smallest units.
    pub fn to_f64(&self) -> f64 {
        self.minor as f64 / 10f64.powi(i32::from(self.currency.minor_digits()))
    }

    /// The amount without its currency: `982.40`.
    pub fn bare(&self) -> String {
        let words = self.to_string();
        words.split(' ').next().map_or_else(String::new, ToOwned::to_owned)
    }

    /// Whether it is below zero.
    pub fn is_negative(&self) -> bool {
        self.minor < 0
    }

    /// Whether it can be a price: not negative, and so small that the sum of any list is exact.
    pub fn is_price(&self) -> bool {
        (0..=PRICE_MAX).contains(&self.minor) && self.to_f64() <= 1e9
    }

    /// The sum of two amounts.
    ///
    /// # Errors
    /// Where the currencies differ, or the sum does not fit.
    pub fn checked_add(&self, other: &Self) -> Result<Self, TradeError> {
        self.alike(other)?;
        self.with(self.minor.checked_add(other.minor), "the sum")
    }

    /// What is left of this amount after another is taken away; it may be below zero.
    ///
    /// # Errors
    /// Where the currencies differ, or the difference does not fit.
    pub fn checked_sub(&self, other: &Self) -> Result<Self, TradeError> {
        self.alike(other)?;
        self.with(self.minor.checked_sub(other.minor), "the difference")
    }

    /// The amount so many times over.
    ///
    /// # Errors
    /// Where the product does not fit.
    pub fn times(&self, count: i64) -> Result<Self, TradeError> {
        self.with(self.minor.checked_mul(count), "the product")
    }

    /// The amount times an exact fraction, rounded once: `scaled(105, 100, …)` adds five per cent.
    ///
    /// # Errors
    /// For a denominator that is not above zero, or where the result does not fit.
    pub fn scaled(
        &self,
        numerator: i64,
        denominator: i64,
        rounding: Rounding,
    ) -> Result<Self, TradeError> {
        if denominator <= 0 {
            return Err(TradeError::new("the denominator is not above zero"));
        }
        let exact = i128::from(self.minor) * i128::from(numerator);
        self.with(
            i64::try_from(divided(exact, i128::from(denominator), rounding)).ok(),
            "the product",
        )
    }

    fn alike(&self, other: &Self) -> Result<(), TradeError> {
        if self.currency == other.currency {
            Ok(())
        } else {
            let (left, right) = (self.currency, other.currency);
            Err(TradeError(format!(
                "{left} and {right} are different currencies and are not converted here"
            )))
        }
    }

    fn with(&self, minor: Option<i64>, what: &'static str) -> Result<Self, TradeError> {
        minor.map(|minor| Self { minor, ..*self }).ok_or_else(|| TradeError::too_large(what))
    }
}

/// Amounts of one currency are in order; of two they are not.
impl PartialOrd for Money {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        (self.currency == other.currency).then(|| self.minor.cmp(&other.minor))
    }
}

impl fmt::Display for Money {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.pad(&plain(self.minor, self.currency.minor_digits(), self.currency))
    }
}

/// An exact amount with up to [`RATE_DECIMALS`] decimals, whatever the currency's coins: `0.3125
/// EUR` for a kilowatt-hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Rate {
    /// The amount in units of ten to the minus `decimals`, with no zero at the end beyond the
    /// point, so that equal rates are equal values.
    units: i64,
    decimals: u8,
    currency: Currency,
}

impl Rate {
    /// Reads `0.3125 EUR`, written as for [`Money::parse`] but with up to [`RATE_DECIMALS`]
    /// decimals.
    ///
    /// # Errors
    /// As for [`Money::parse`].
    pub fn parse(text: &str) -> Result<Self, TradeError> {
        let (number, currency) = split(text)?;
        Ok(Self::of(number, currency))
    }

    fn of(mut number: Decimal, currency: Currency) -> Self {
        while number.decimals > 0 && number.units % 10 == 0 {
            number.units /= 10;
            number.decimals -= 1;
        }
        Self { units: number.units, decimals: number.decimals, currency }
    }

    /// The currency.
    pub fn currency(&self) -> Currency {
        self.currency
    }

    /// The rate as a plain number: 0.3125.
    pub fn to_f64(&self) -> f64 {
        self.units as f64 / 10f64.powi(i32::from(self.decimals))
    }

    /// Whether it is below zero.
    pub fn is_negative(&self) -> bool {
        self.units < 0
    }

    /// The rate so many times over, still exact.
    ///
    /// # Errors
    /// Where the product does not fit.
    pub fn times(&self, count: i64) -> Result<Self, TradeError> {
        let units =
            self.units.checked_mul(count).ok_or_else(|| TradeError::too_large("the product"))?;
        Ok(Self::of(Decimal { units, decimals: self.decimals }, self.currency))
    }

    /// What an amount of another currency is worth when one whole unit of it costs this rate,
    /// rounded once.
    ///
    /// # Errors
    /// Where the result does not fit.
    pub fn worth(&self, money: &Money, rounding: Rounding) -> Result<Money, TradeError> {
        let large = || TradeError::too_large("the amount");
        let up = ten_to(self.currency.minor_digits()).ok_or_else(large)?;
        let down =
            ten_to(self.decimals).zip(ten_to(money.currency.minor_digits())).ok_or_else(large)?;
        let exact = i128::from(money.minor)
            .checked_mul(i128::from(self.units))
            .and_then(|n| n.checked_mul(i128::from(up)))
            .ok_or_else(large)?;
        let minor = divided(exact, i128::from(down.0) * i128::from(down.1), rounding);
        i64::try_from(minor)
            .map(|minor| Money::from_minor(minor, self.currency))
            .map_err(|_| large())
    }

    /// The rate in whole smallest units of its currency.
    ///
    /// # Errors
    /// Where the amount does not fit.
    pub fn round(&self, rounding: Rounding) -> Result<Money, TradeError> {
        let digits = self.currency.minor_digits();
        let minor = match digits.checked_sub(self.decimals) {
            Some(short) => ten_to(short).and_then(|scale| self.units.checked_mul(scale)),
            None => ten_to(self.decimals - digits).and_then(|scale| {
                i64::try_from(divided(i128::from(self.units), i128::from(scale), rounding)).ok()
            }),
        };
        minor
            .map(|minor| Money::from_minor(minor, self.currency))
            .ok_or_else(|| TradeError::too_large("the amount"))
    }
}

impl From<Money> for Rate {
    fn from(money: Money) -> Self {
        Self::of(
            Decimal { units: money.minor, decimals: money.currency.minor_digits() },
            money.currency,
        )
    }
}

impl fmt::Display for Rate {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let missing = self.currency.minor_digits().saturating_sub(self.decimals);
        match ten_to(missing).and_then(|scale| self.units.checked_mul(scale)) {
            Some(units) => out.pad(&plain(units, self.decimals + missing, self.currency)),
            None => out.pad(&plain(self.units, self.decimals, self.currency)),
        }
    }
}

/// A plain decimal: `units` times ten to the minus `decimals`.
#[derive(Debug, Clone, Copy)]
struct Decimal {
    units: i64,
    decimals: u8,
}

fn no_amount(text: &str, why: &str) -> TradeError {
    TradeError(format!("\"{}\" is not an amount such as \"1450.00 EUR\": {why}", clip(text)))
}

/// The number and the currency of an amount's text.
fn split(text: &str) -> Result<(Decimal, Currency), TradeError> {
    let wrong = |why| no_amount(text, why);
    let (number, code) = text
        .trim()
        .split_once(' ')
        .ok_or_else(|| wrong("a number, a space and a currency code are wanted"))?;
    let code = code.trim_start();
    let (minus, digits) = match number.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, number),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    if digits.contains(',') {
        return Err(wrong("write a point before the decimals and nothing between the thousands"));
    }
    if whole.is_empty() || (fraction.is_empty() && digits.contains('.')) {
        return Err(wrong("digits are wanted on both sides of the point"));
    }
    if !whole.bytes().chain(fraction.bytes()).all(|byte| byte.is_ascii_digit()) {
        return Err(wrong("only digits and one point make a number here"));
    }
    let decimals = u8::try_from(fraction.len())
        .ok()
        .filter(|n| *n <= RATE_DECIMALS)
        .ok_or_else(|| wrong("it has more than nine decimals"))?;
    let currency = Currency::from_code(code).ok_or_else(|| {
        TradeError(format!(
            "\"{}\" is not a currency code that is known here; codes are three capital letters, \
             such as EUR",
            clip(code)
        ))
    })?;
    let units = whole
        .bytes()
        .chain(fraction.bytes())
        .try_fold(0i64, |sum, byte| sum.checked_mul(10)?.checked_add(i64::from(byte - b'0')));
    let units = units.ok_or_else(|| TradeError::too_large("the amount"))?;
    Ok((Decimal { units: if minus { -units } else { units }, decimals }, currency))
}

/// `1450.00 EUR`.
fn plain(units: i64, decimals: u8, currency: Currency) -> String {
    let sign = if units < 0 { "-" } else { "" };
    let scale = ten_to(decimals).unwrap_or(1).unsigned_abs();
    let (whole, rest) = (units.unsigned_abs() / scale, units.unsigned_abs() % scale);
    match decimals {
        0 => format!("{sign}{whole} {currency}"),
        _ => format!("{sign}{whole}.{rest:0width$} {currency}", width = usize::from(decimals)),
    }
}

fn ten_to(power: u8) -> Option<i64> {
    10i64.checked_pow(u32::from(power))
}

/// A quotient rounded to whole; the divisor is above zero.
fn divided(value: i128, by: i128, rounding: Rounding) -> i128 {
    let (whole, rest) = (value / by, value % by);
    let away = match (rest.abs() * 2).cmp(&by) {
        Ordering::Less => false,
        Ordering::Greater => true,
        Ordering::Equal => rounding == Rounding::HalfUp || whole % 2 != 0,
    };
    if away { whole + value.signum() } else { whole }
}

/// Digits behind the point that amounts of a currency are written with; two for a code that is not
/// in the table.
pub fn digits(code: &str) -> usize {
    Currency::from_code(code).map_or(2, |currency| usize::from(currency.minor_digits()))
}

#[cfg(test)]
#[path = "../../tests/unit/trade/money.rs"]
mod tests;
