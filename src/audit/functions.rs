//! The trade's arithmetic as scripts may call it: one table that the engine, the help and the units
//! share.

use crate::trade;
use crate::trade::video::Timing;

/// A pure function of numbers.
pub struct Function {
    /// Its name in scripts.
    pub name: &'static str,
    /// Names of its arguments, with units.
    pub args: &'static [&'static str],
    /// Unit of the result.
    pub unit: &'static str,
    /// What it gives.
    pub meaning: &'static str,
    /// The function; not finite where the arguments are out of range.
    pub run: fn(&[f64]) -> f64,
}

fn arg(args: &[f64], at: usize) -> f64 {
    args.get(at).copied().unwrap_or(f64::NAN)
}

/// Every function.
pub const FUNCTIONS: &[Function] = &[
    Function {
        name: "latency_ns",
        args: &["cl", "mts"],
        unit: "ns",
        meaning: "CAS latency of memory from its clocks and the rate on its label",
        run: |a| trade::memory::latency_ns(arg(a, 0), arg(a, 1)).unwrap_or(f64::NAN),
    },
    Function {
        name: "peak_gbytes",
        args: &["mts", "channels"],
        unit: "GB/s",
        meaning: "peak bandwidth of memory from the rate on its label, 8 bytes a channel",
        run: |a| trade::memory::peak_gbytes(arg(a, 0), arg(a, 1)).unwrap_or(f64::NAN),
    },
    Function {
        name: "mode_gbps",
        args: MODE_ARGS,
        unit: "Gbit/s",
        meaning: "picture data of a display mode, reduced blanking v2, three colours of so many \
         bits",
        run: |a| mode_gbps(a, Timing::Reduced2),
    },
    Function {
        name: "mode_gbps_reduced",
        args: MODE_ARGS,
        unit: "Gbit/s",
        meaning: "the same with first-generation reduced blanking",
        run: |a| mode_gbps(a, Timing::Reduced),
    },
    Function {
        name: "mode_gbps_standard",
        args: MODE_ARGS,
        unit: "Gbit/s",
        meaning: "the same with standard blanking",
        run: |a| mode_gbps(a, Timing::Standard),
    },
];

const MODE_ARGS: &[&str] = &["width_px", "height_px", "refresh_hz", "bits"];

fn mode_gbps(args: &[f64], timing: Timing) -> f64 {
    let [width_px, height_px, refresh_hz, bits] = [0, 1, 2, 3].map(|at| arg(args, at));
    trade::video::mode(width_px as u32, height_px as u32, refresh_hz, timing)
        .map_or(f64::NAN, |mode| mode.gbps(3.0 * bits))
}
