//! Counts, prices of one and sums of a row, told apart by what they come to.

use super::price::{Amount, amounts};
use super::words::words;

/// `1 @ $389.00` and `3 x 17,33` as `x1, @ $389.00` and `x3, @ 17,33`: a number at a price counts.
pub(crate) fn before_price(text: &str) -> String {
    let counted = |t: &str| t.trim_start().starts_with(|c: char| c.is_ascii_digit());
    let begins_with_count =
        counted(text) || text.split_once(':').is_some_and(|(_, rest)| counted(rest));
    let marks = ["@", "x", "×", "*"];
    let mut places: Vec<(usize, &str)> =
        marks.iter().flat_map(|mark| text.match_indices(mark)).collect();
    places.sort_unstable();
    let found = places.into_iter().find_map(|(at, mark)| {
        let before = text.get(..at)?.trim_end();
        let start = before.trim_end_matches(|c: char| c.is_ascii_digit());
        let digits = before.get(start.len()..).filter(|d| (1..=2).contains(&d.len()))?;
        let free = start.is_empty() || start.ends_with([' ', ',', ':', '|']);
        let after = text.get(at + mark.len()..)?.trim_start();
        let parted = start.trim_end().ends_with([',', ':', '|']) || start.ends_with("  ");
        if mark == "@" {
            return (free && parted).then(|| format!("{start}x{digits}, @ {after}"));
        }
        let at_price = free && !start.trim().is_empty() && !begins_with_count;
        let (amount, rest) = after.split_at_checked(first_amount(after)?)?;
        at_price.then(|| format!("{start}x{digits}, @ {amount} | {rest}"))
    });
    found.unwrap_or_else(|| text.to_owned())
}

/// How long the amount is that begins a text: with a currency's mark, or with two decimals.
fn first_amount(text: &str) -> Option<usize> {
    let marked = amounts(text, false).into_iter().next().filter(|a| a.range.start == 0);
    marked.map(|a| a.range.end).or_else(|| {
        let word = text.split(' ').next()?;
        let (_, cents) = word.rsplit_once([',', '.'])?;
        let behind = text.get(word.len()..)?.trim_start();
        let free = !behind.starts_with(char::is_alphabetic);
        (free && cents.len() == 2 && super::price::is_price(word)).then_some(word.len())
    })
}

/// The price of one where a row gives the sum of several; none where it does not come out even.
pub(crate) fn of_one(sum: &str, count: u32) -> Option<String> {
    let cents = cents(sum)?;
    let count = u64::from(count.max(1));
    cents.is_multiple_of(count).then(|| {
        let one = cents / count;
        format!("{}.{:02}", one / 100, one % 100)
    })
}

/// A price, or of a sum of several the price of one and no rest, or the sum if it has one.
pub(crate) fn parted(
    price: Option<String>,
    summed: bool,
    count: u32,
) -> (Option<String>, Option<String>) {
    match price {
        Some(sum) if summed => match of_one(&sum, count) {
            None => (None, Some(sum)),
            one => (one, None),
        },
        price => (price, None),
    }
}

/// Of two amounts the price of one: that which comes to the other as often as the row counts.
pub(crate) fn one_of(amounts: &[Amount], count: u32) -> Option<Amount> {
    let [a, b] = amounts else { return None };
    let (least, most) = if cents(&a.value)? <= cents(&b.value)? { (a, b) } else { (b, a) };
    let comes = cents(&least.value)?.checked_mul(u64::from(count))? == cents(&most.value)?;
    (comes && count > 1).then(|| least.clone())
}

fn cents(amount: &str) -> Option<u64> {
    amount.replace('.', "").parse().ok()
}

/// Without a price that a sale's words stand behind: `for 335 on offer`.
pub(crate) fn offered(behind: &str) -> bool {
    let found = words().find("offered", behind).into_iter().next();
    found.is_some_and(|r| behind.get(..r.start).is_some_and(|gap| gap.trim().is_empty()))
}

#[cfg(test)]
#[path = "../../tests/unit/intake/sums.rs"]
mod tests;
