//! Memory: clocks to nanoseconds, and transfer rates to bandwidth.

use super::TradeError;
use super::error::above_zero;

/// Bytes that one channel of 64 bits moves in a transfer, error correction left out.
const CHANNEL_BYTES: f64 = 8.0;
const RATE: &str = "transfer rate in MT/s";

/// CAS latency in ns of `cl` clocks at the rate in MT/s on the label: two transfers a clock, so
/// `cl · 2000 / rate`.
/// Errors: a value that is not above zero.
pub(crate) fn latency_ns(cl: f64, mts: f64) -> Result<f64, TradeError> {
    Ok(above_zero("latency in clocks", cl)? * 2000.0 / exact_mts(above_zero(RATE, mts)?))
}

/// Most that memory can move, in GB/s of 10⁹ bytes, at the rate in MT/s on the label. Some
/// datasheets divide by 1024 and print less: 33.3 for what is 34.1.
/// Errors: a value that is not above zero.
pub(crate) fn peak_gbytes(mts: f64, channels: f64) -> Result<f64, TradeError> {
    let channels = above_zero("channels", channels)?;
    Ok(exact_mts(above_zero(RATE, mts)?) * CHANNEL_BYTES * channels / 1000.0)
}

/// The exact rate in MT/s behind a label: the nearest multiple of 133⅓ (DDR4-2666 is 2666⅔), or of
/// 400 from 4000 up, if one lies within 1 MT/s; the label itself otherwise, as for a profile of a
/// maker's own.
fn exact_mts(label: f64) -> f64 {
    let step = if label >= 4000.0 { 400.0 } else { 400.0 / 3.0 };
    let nearest = (label / step).round() * step;
    if (nearest - label).abs() < 1.0 { nearest } else { label }
}

#[cfg(test)]
#[path = "../../tests/unit/trade/memory.rs"]
mod tests;
