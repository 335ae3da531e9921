//! Lists of parts, drift, orders and imports as they are shown.

mod columns;
pub(crate) mod drift;
pub mod import;
pub(crate) mod parts;
pub(crate) mod shopping;
