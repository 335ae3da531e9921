//! Figures that the host works out from the whole build, such as flows of air: scripts ask for them by name.

use crate::build::resolve::Resolved;
use crate::catalogue::kinds::KindId;

/// A figure worked out from the whole build.
pub struct Derived {
    /// Its name in scripts.
    pub name: &'static str,
    /// Unit of the result.
    pub unit: &'static str,
    /// What it gives.
    pub meaning: &'static str,
    /// Kinds whose lines it looks at, for pointers.
    pub kinds: &'static [&'static str],
    /// Works it out; the error is a line whose part is not chosen.
    pub run: fn(&Resolved) -> Result<f64, (KindId, u16)>,
}

/// Every such figure.
pub const DERIVED: &[Derived] = &[];

/// A figure by name.
pub fn find(name: &str) -> Option<(u16, &'static Derived)> {
    DERIVED.iter().zip(0u16..).find(|(d, _)| d.name == name).map(|(d, at)| (at, d))
}
