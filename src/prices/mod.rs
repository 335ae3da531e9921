//! Prices over time: quotes and what moved since, lists of parts, and a seller's own price feed.

pub mod check;
pub mod import;
pub mod parts;
pub mod quote;
