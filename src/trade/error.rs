//! The one error of this layer, in plain words.

use std::fmt;

/// Longest piece of a person's text that an error repeats, in characters.
const SHOWN_CHARS: usize = 40;

/// Why a sum could not be done.
#[derive(Debug, Clone, PartialEq)]
pub enum TradeError {
    /// A text that should be an amount is not one: `"1,450 EUR"`.
    Amount {
        /// The text as written.
        text: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// A currency code that is not in the table: `"1450.00 EURO"`.
    Currency {
        /// The code as written.
        code: String,
    },
    /// Two amounts in different currencies where one is needed: euros plus pounds.
    Mixed {
        /// Code of the first.
        left: &'static str,
        /// Code of the second.
        right: &'static str,
    },
    /// An exact result does not fit: more than about nine million million million smallest coins.
    TooLarge {
        /// What was being worked out.
        what: &'static str,
    },
    /// A number outside the range in which the sum has a meaning, not finite included: a flow of
    /// `-1`, a rate of `NaN`.
    Range {
        /// Which number, with its unit.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What is wanted instead.
        wants: &'static str,
    },
    /// Values that contradict each other or point at nothing: an edge to a chamber that is not
    /// there.
    Inconsistent {
        /// What is wrong.
        why: &'static str,
    },
    /// A solver stopped before its tolerance.
    Unsolved {
        /// What was being solved.
        what: &'static str,
        /// What was left over, in the unit of the balance.
        residual: f64,
    },
}

impl fmt::Display for TradeError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Amount { text, why } => {
                write!(out, "\"{}\" is not an amount such as \"1450.00 EUR\": {why}", clip(text))
            }
            Self::Currency { code } => {
                write!(
                    out,
                    "\"{}\" is not a currency code that is known here; codes are three capital \
                     letters, such as EUR",
                    clip(code)
                )
            }
            Self::Mixed { left, right } => write!(
                out,
                "{left} and {right} are different currencies and are not converted here"
            ),
            Self::TooLarge { what } => write!(out, "{what} is too large to be kept exactly"),
            Self::Range { what, value, wants } => {
                write!(out, "{what} is {value}, and {wants} is wanted")
            }
            Self::Inconsistent { why } => out.write_str(why),
            Self::Unsolved { what, residual } => {
                write!(out, "{what} did not settle; {residual:.3e} was left over")
            }
        }
    }
}

impl std::error::Error for TradeError {}

/// A short, printable piece of a text: control and direction marks are escaped, the rest is cut at
/// [`SHOWN_CHARS`].
fn clip(text: &str) -> String {
    let mut shown: String = text.chars().take(SHOWN_CHARS).flat_map(char::escape_debug).collect();
    if text.chars().nth(SHOWN_CHARS).is_some() {
        shown.push('…');
    }
    shown
}

/// The number itself if it is finite and at or above zero.
pub(super) fn at_least_zero(what: &'static str, value: f64) -> Result<f64, TradeError> {
    within(what, value, 0.0, f64::MAX, "zero or more")
}

/// The number itself if it is finite and above zero.
pub(super) fn above_zero(what: &'static str, value: f64) -> Result<f64, TradeError> {
    within(what, value, f64::MIN_POSITIVE, f64::MAX, "a number above zero")
}

/// The number itself if it lies between two bounds, both included.
/// Errors: [`TradeError::Range`] otherwise, and for a number that is not finite.
pub(super) fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    wants: &'static str,
) -> Result<f64, TradeError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(TradeError::Range { what, value, wants })
    }
}

/// The number itself if it is finite.
pub(super) fn finite(what: &'static str, value: f64) -> Result<f64, TradeError> {
    within(what, value, f64::MIN, f64::MAX, "a finite number")
}

#[cfg(test)]
#[path = "../../tests/unit/trade/error.rs"]
mod tests;
