//! Money around a build: quotes and what moved since, orders, open lines, lists of parts, and a
//! seller's own price feed.

pub mod check;
pub mod import;
pub mod list;
pub mod parts;
pub mod quote;
mod sheet;
