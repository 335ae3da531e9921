//! Storage: what a link moves, what a drive's size means, and how long it may be written to.

use super::TradeError;
use super::error::{above_zero, at_least_zero};

/// Bytes of a GB, as drives count.
const GB: f64 = 1e9;
/// Bytes of a GiB, as memory and many programs count.
const GIB: f64 = 1_073_741_824.0;

/// What one lane of a PCIe generation carries each way, in GB/s of 10⁹ bytes, before the overhead
/// of packets. Source: kernel `drivers/pci/pci.h`, `PCIE_SPEED2MBS_ENC`, read: 2.5 and 5 GT/s at
/// 8/10, 8 to 32 GT/s at 128/130, 64 GT/s as it is. For generation 6 that leaves the flit's
/// overhead in: 242 of 256 bytes would give 7.5625 (from memory).
///
/// # Errors
/// A generation outside 1 to 6.
pub fn lane_gbytes(generation: u32) -> Result<f64, TradeError> {
    let (gt, data, coded) = match generation {
        1 => (2.5, 8.0, 10.0),
        2 => (5.0, 8.0, 10.0),
        3 => (8.0, 128.0, 130.0),
        4 => (16.0, 128.0, 130.0),
        5 => (32.0, 128.0, 130.0),
        6 => (64.0, 1.0, 1.0),
        _ => {
            return Err(TradeError::Range {
                what: "PCIe generation",
                value: f64::from(generation),
                wants: "1 to 6",
            });
        }
    };
    Ok(coded_gbytes(gt, data, coded))
}

/// What a PCIe link between a slot and a device carries each way, in GB/s: the older generation and
/// the fewer lanes of the two.
///
/// # Errors
/// A generation outside 1 to 6.
pub fn link_gbytes(slot: (u32, u32), device: (u32, u32)) -> Result<f64, TradeError> {
    Ok(lane_gbytes(slot.0.min(device.0))? * f64::from(slot.1.min(device.1)))
}

/// What a SATA link of a line rate in Gbit/s carries, in MB/s of 10⁶ bytes: 8 of 10 bits are data,
/// so 600 at 6 Gbit/s. Drives reach about 550.
///
/// # Errors
/// A rate that is negative or not finite.
pub fn sata_mbytes(line_gbps: f64) -> Result<f64, TradeError> {
    Ok(coded_gbytes(at_least_zero("line rate in Gbit/s", line_gbps)?, 8.0, 10.0) * 1000.0)
}

/// GB/s of a line rate in Gbit/s or GT/s of which `data` of `coded` bits are data.
fn coded_gbytes(line: f64, data: f64, coded: f64) -> f64 {
    line * data / coded / 8.0
}

/// A size in GB (10⁹ bytes, on a drive's label) as GiB (2³⁰ bytes).
pub fn gb_to_gib(gb: f64) -> f64 {
    gb * GB / GIB
}

/// A size in GiB (2³⁰ bytes, as memory is sold) as GB (10⁹ bytes).
pub fn gib_to_gb(gib: f64) -> f64 {
    gib * GIB / GB
}

/// Days until a drive's rated writing in TB is used up at so many GB a day.
///
/// # Errors
/// A rating that is negative, a writing that is not above zero.
pub fn endurance_days(rated_tb_written: f64, gb_per_day: f64) -> Result<f64, TradeError> {
    Ok(at_least_zero("rated writing in TB", rated_tb_written)? * 1000.0
        / above_zero("writing in GB a day", gb_per_day)?)
}

/// Times a day that a whole drive may be written over its warranty.
///
/// # Errors
/// A rating that is negative, a size or a warranty that is not above zero.
pub fn drive_writes_per_day(
    rated_tb_written: f64,
    capacity_gb: f64,
    warranty_years: f64,
) -> Result<f64, TradeError> {
    let days = above_zero("warranty in years", warranty_years)? * 365.0;
    Ok(at_least_zero("rated writing in TB", rated_tb_written)? * 1000.0
        / above_zero("capacity in GB", capacity_gb)?
        / days)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_runs_at_the_lesser_of_both_ends() {
        assert_eq!(link_gbytes((4, 4), (3, 4)), lane_gbytes(3).map(|lane| lane * 4.0));
        assert_eq!(link_gbytes((3, 2), (5, 4)), lane_gbytes(3).map(|lane| lane * 2.0));
        assert!(link_gbytes((0, 4), (3, 4)).is_err());
        assert!(lane_gbytes(7).is_err());
    }

    #[test]
    fn sizes_go_there_and_back() {
        assert!((gib_to_gb(gb_to_gib(500.0)) - 500.0).abs() < 1e-12);
    }

    #[test]
    fn writing_wears() {
        assert_eq!(endurance_days(600.0, 40.0), Ok(15_000.0));
        assert!(endurance_days(600.0, 0.0).is_err());
        assert_eq!(drive_writes_per_day(365.0, 1000.0, 1.0), Ok(1.0));
    }
}
