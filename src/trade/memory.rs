//! Memory: clocks to nanoseconds, transfer rates to bandwidth, and the rate that a population is
//! rated for.

use super::TradeError;
use super::error::above_zero;

/// Bytes that one channel of 64 bits moves in a transfer, error correction left out.
pub const CHANNEL_BYTES: f64 = 8.0;

/// DDR4 rates by the name on the label, in MT/s. The clock is a multiple of 133⅓ MHz over two, so
/// the labels round: see [`exact_mts`]. Source: an SPD decoder's table of standard speeds (tCK
/// 15/12 ns to 15/24 ns), read.
pub const DDR4_MTS: [u32; 7] = [1600, 1866, 2133, 2400, 2666, 2933, 3200];

/// DDR5 rates in MT/s, which are exact. Source: the DDR5 standard's table as reported, secondary.
pub const DDR5_MTS: [u32; 13] =
    [4000, 4400, 4800, 5200, 5600, 6000, 6400, 6800, 7200, 7600, 8000, 8400, 8800];

/// First latency in ns of `cl` clocks at a transfer rate in MT/s: two transfers a clock, so `cl ·
/// 2000 / rate`.
///
/// # Errors
/// A value that is not above zero.
pub fn latency_ns(cl: f64, mts: f64) -> Result<f64, TradeError> {
    Ok(above_zero("latency in clocks", cl)? * tck_ns(mts)?)
}

/// Length of a clock in ns at a transfer rate in MT/s.
///
/// # Errors
/// A rate that is not above zero.
pub fn tck_ns(mts: f64) -> Result<f64, TradeError> {
    Ok(2000.0 / above_zero("transfer rate in MT/s", mts)?)
}

/// Most that memory can move, in GB/s of 10⁹ bytes. Some datasheets divide by 1024 and print less:
/// 33.3 for what is 34.1.
///
/// # Errors
/// A rate that is not above zero.
pub fn peak_gbytes(mts: f64, channels: u32) -> Result<f64, TradeError> {
    Ok(above_zero("transfer rate in MT/s", mts)? * CHANNEL_BYTES * f64::from(channels) / 1000.0)
}

/// The exact rate in MT/s behind a label: the nearest multiple of 133⅓ (DDR4-2666 is 2666⅔), or of
/// 400 from 4000 up, if one lies within 1 MT/s; the label itself otherwise, as for a profile of a
/// maker's own.
pub fn exact_mts(label: f64) -> f64 {
    let step = if label >= 4000.0 { 400.0 } else { 400.0 / 3.0 };
    let nearest = (label / step).round() * step;
    if (nearest - label).abs() < 1.0 { nearest } else { label }
}

/// A row of a processor's or board's table of rated speeds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatedRate {
    /// Modules on a channel that the row holds for, and fewer.
    pub per_channel: u32,
    /// Ranks of a module that the row holds for, and fewer.
    pub ranks: u32,
    /// Rated rate in MT/s.
    pub mts: f64,
}

/// Rated rate in MT/s for so many modules on a channel of so many ranks: the first row that holds
/// for it; none where no row does, which means that the maker rates no such population.
pub fn rated_mts(rows: &[RatedRate], per_channel: u32, ranks: u32) -> Option<f64> {
    rows.iter().find(|row| row.per_channel >= per_channel && row.ranks >= ranks).map(|row| row.mts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_round_and_rates_do_not() {
        assert!((exact_mts(2666.0) - 8000.0 / 3.0).abs() < 1e-9);
        assert!((exact_mts(1866.0) - 5600.0 / 3.0).abs() < 1e-9);
        assert_eq!(exact_mts(3200.0), 3200.0);
        assert_eq!(exact_mts(3000.0), 3000.0);
        assert_eq!(exact_mts(5600.0), 5600.0);
        assert_eq!(DDR5_MTS.map(|label| exact_mts(f64::from(label))), DDR5_MTS.map(f64::from));
    }

    #[test]
    fn the_first_row_that_holds_is_taken() {
        let rows = [
            RatedRate { per_channel: 1, ranks: 2, mts: 5600.0 },
            RatedRate { per_channel: 2, ranks: 1, mts: 4400.0 },
            RatedRate { per_channel: 2, ranks: 2, mts: 3600.0 },
        ];
        assert_eq!(rated_mts(&rows, 1, 1), Some(5600.0));
        assert_eq!(rated_mts(&rows, 2, 1), Some(4400.0));
        assert_eq!(rated_mts(&rows, 2, 2), Some(3600.0));
        assert_eq!(rated_mts(&rows, 2, 4), None);
    }

    #[test]
    fn a_rate_of_nothing_is_refused() {
        assert!(latency_ns(16.0, 0.0).is_err());
        assert!(peak_gbytes(f64::NAN, 2).is_err());
    }
}
