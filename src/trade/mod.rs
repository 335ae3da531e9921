//! The trade's arithmetic: pure functions of plain values, with no catalogue, no script and no
//! clock in sight.
//!
//! Each module holds one idea, and each public item says what it means, in which unit, over which
//! range and by whose word. Everything here takes and returns plain numbers, so that a rule, a test
//! and a person with a calculator can all do the same sum.
//!
//! * [`money`]: exact amounts in a currency, and rates finer than its smallest coin.
//! * [`assignment`]: which thing gets which place.
//! * [`air`]: density, heat carried, fans and openings. [`network`] joins them into chambers and
//!   finds what flows; [`heat`] says how warm the chambers get.
//! * [`memory`], [`video`]: rates.
//!
//! Nothing here panics. What can't be worked out comes back as a [`TradeError`] in plain words.

pub mod air;
mod assign;
pub mod assignment;
pub mod assignment_span;
mod currency;
mod error;
pub mod heat;
pub mod memory;
pub mod money;
pub mod network;
mod solve;
pub mod split;
pub mod video;

pub use error::TradeError;
