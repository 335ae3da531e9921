//! The trade's arithmetic as scripts may call it: one table that the engine, the help and the units
//! share.

use crate::trade;

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
        meaning: "first latency of memory from its clocks and transfer rate",
        run: |a| trade::memory::latency_ns(arg(a, 0), arg(a, 1)).unwrap_or(f64::NAN),
    },
    Function {
        name: "mode_gbps",
        args: &["width_px", "height_px", "refresh_hz", "bits"],
        unit: "Gbit/s",
        meaning: "picture data of a display mode, reduced blanking v2, three colours of so many \
         bits",
        run: |a| {
            let mode = trade::video::mode(
                arg(a, 0) as u32,
                arg(a, 1) as u32,
                arg(a, 2),
                trade::video::Timing::Reduced2,
            );
            mode.map_or(f64::NAN, |m| m.gbps(3.0 * arg(a, 3)))
        },
    },
];

/// A function by name.
pub fn find(name: &str) -> Option<(u16, &'static Function)> {
    FUNCTIONS.iter().zip(0u16..).find(|(f, _)| f.name == name).map(|(f, at)| (at, f))
}
