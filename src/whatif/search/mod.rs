//! Builds with choices: what may stand on each line, and the search for those that pass.

pub(crate) mod conflict;
mod hull;
mod sight;
pub(crate) mod solve;
pub(crate) mod space;
mod walk;

pub use solve::Limits;
