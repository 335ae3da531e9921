//! Figures and days as a feed writes them.

use jiff::civil::Date;

use super::map::Map;
use crate::trade::money::{Currency, Money};

/// An amount as the map says it is written; the error says what is wrong with it.
pub(super) fn money(map: &Map, cell: &str, currency: Currency) -> Result<Money, String> {
    let money = match plain(map, cell, currency) {
        Some(minor) => Money::from_minor(minor, currency),
        None => with_care(map, cell, currency)?,
    };
    if money.is_price() { Ok(money) } else { Err("no price is as large as this".to_owned()) }
}

/// The amounts that nearly every row has: digits, perhaps the decimal sign, and no more decimals
/// than the currency.
fn plain(map: &Map, cell: &str, currency: Currency) -> Option<i64> {
    let mut units = 0i64;
    let (mut whole, mut decimals) = (0u32, None::<u32>);
    for c in cell.chars() {
        if c == map.decimal && decimals.is_none() {
            decimals = Some(0);
            continue;
        }
        units = units.checked_mul(10)?.checked_add(i64::from(c.to_digit(10)?))?;
        match &mut decimals {
            Some(n) => *n += 1,
            None => whole += 1,
        }
    }
    if whole == 0 || decimals == Some(0) || (map.minor && decimals.is_some()) {
        return None;
    }
    if map.minor {
        return Some(units);
    }
    let missing = u32::from(currency.minor_digits()).checked_sub(decimals.unwrap_or(0))?;
    units.checked_mul(10i64.checked_pow(missing)?)
}

fn with_care(map: &Map, cell: &str, currency: Currency) -> Result<Money, String> {
    let cell = cell.trim();
    if cell.starts_with('=') || cell.starts_with('+') || cell.starts_with('@') {
        return Err("this is a formula, not an amount".to_owned());
    }
    if cell.starts_with('-') {
        return Err("a price is not negative".to_owned());
    }
    let (whole, fraction) = match cell.split_once(map.decimal) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (cell, None),
    };
    let whole = grouped(map, whole)?;
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if !digits(&whole) || fraction.is_some_and(|f| !digits(f)) {
        return Err(why_not(map, cell));
    }
    if map.minor {
        return match (fraction, whole.parse::<i64>()) {
            (None, Ok(minor)) => Ok(Money::from_minor(minor, currency)),
            _ => {
                Err("the map says that prices are in the smallest unit, so they are whole"
                    .to_owned())
            }
        };
    }
    let text = fraction
        .map_or_else(|| format!("{whole} {currency}"), |f| format!("{whole}.{f} {currency}"));
    Money::parse(&text).map_err(|e| e.to_string())
}

/// The whole part without its thousands separators; groups that are not of three are refused.
fn grouped(map: &Map, whole: &str) -> Result<String, String> {
    let Some(sign) = map.thousands.filter(|s| whole.contains(*s)) else {
        return Ok(whole.to_owned());
    };
    let groups: Vec<&str> = whole.split(sign).collect();
    let first = groups.first().map_or(0, |g| g.len());
    if !(1..=3).contains(&first) || groups.iter().skip(1).any(|g| g.len() != 3) {
        return Err(format!(
            "thousands are not three digits apart: is \"{sign}\" before the decimals here?"
        ));
    }
    Ok(groups.concat())
}

fn why_not(map: &Map, cell: &str) -> String {
    let signs: Vec<char> = cell.chars().filter(|c| !c.is_ascii_digit()).collect();
    if cell.is_empty() {
        return "an offer has a price".to_owned();
    }
    let separator = |c: &char| matches!(c, '.' | ',' | '\'' | ' ' | '\u{a0}' | '\u{202f}');
    match signs.iter().find(|c| separator(c) && **c != map.decimal) {
        Some(sign) if signs.iter().all(|c| separator(c) || *c == map.decimal) => {
            format!(
                "\"{sign}\" stands in it, and the map says \"{}\" stands before the decimals: say \
                 `decimal` or `thousands` in the map",
                map.decimal
            )
        }
        _ => "this is not a plain amount".to_owned(),
    }
}

/// A day as the map says it is written.
pub(super) fn day(map: &Map, cell: &str) -> Result<Date, String> {
    let cell = cell.trim();
    let wrong = || format!("the map says that a day is written {}", map.date);
    if cell.len() != map.date.len() || !cell.is_ascii() {
        return Err(wrong());
    }
    let (mut year, mut month, mut day) = (0i16, 0i8, 0i8);
    for (mark, c) in map.date.chars().zip(cell.chars()) {
        if !matches!(mark, 'Y' | 'M' | 'D') {
            if mark != c {
                return Err(wrong());
            }
            continue;
        }
        let digit = c.to_digit(10).and_then(|d| i8::try_from(d).ok()).ok_or_else(wrong)?;
        match mark {
            'Y' => year = year * 10 + i16::from(digit),
            'M' => month = month * 10 + digit,
            _ => day = day * 10 + digit,
        }
    }
    Date::new(year, month, day).map_err(|_| "there is no such day".to_owned())
}
