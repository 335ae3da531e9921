//! The one error of this layer, in plain words.

use std::fmt;

/// Longest piece of a person's text that an error repeats, in characters.
const SHOWN_CHARS: usize = 40;

/// Why a sum could not be done: one sentence.
#[derive(Debug, Clone, PartialEq)]
pub struct TradeError(pub(super) String);

impl TradeError {
    pub(super) fn new(why: &str) -> Self {
        Self(why.to_owned())
    }

    /// An exact result does not fit: more than about nine million million million smallest coins.
    pub(super) fn too_large(what: &str) -> Self {
        Self(format!("{what} is too large to be kept exactly"))
    }
}

impl fmt::Display for TradeError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.0)
    }
}

impl std::error::Error for TradeError {}

/// A short, printable piece of a text: control and direction marks are escaped, the rest is cut at
/// [`SHOWN_CHARS`].
pub(super) fn clip(text: &str) -> String {
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
/// Errors: otherwise, and for a number that is not finite.
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
        Err(TradeError(format!("{what} is {value}, and {wants} is wanted")))
    }
}

/// The number itself if it is finite.
pub(super) fn finite(what: &'static str, value: f64) -> Result<f64, TradeError> {
    within(what, value, f64::MIN, f64::MAX, "a finite number")
}

#[cfg(test)]
#[path = "../../tests/unit/trade/error.rs"]
mod tests;
