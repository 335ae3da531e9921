//! Outside checks: the trade's arithmetic held to figures that were not made by it.
//!
//! * `checks.toml`: single figures, each with its source; [`rows`] runs them.
//! * `recorded/`: output of other tools, with version and command at its head; `make/` has the
//!   scripts that made it.
//! * [`assignments`]: assignments held to enumeration of every possibility, and to an independent
//!   matching library.

mod assignments;
mod calls;
mod recorded;
mod rows;
