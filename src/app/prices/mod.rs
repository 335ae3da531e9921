//! Lists of parts, drift, orders and imports as they are shown.

pub(crate) mod charge;
pub(crate) mod columns;
pub(crate) mod drift;
pub mod import;
pub(crate) mod parts;
pub(crate) mod priced_lines;
pub(crate) mod shopping;
