//! The rule writer's kit: write a rule, prove it, read about it, and hand it on.

pub mod definitions;
pub mod fresh;
pub mod listing;
pub mod mutants;
pub mod mutate;
pub mod outcome;
pub mod page;
pub mod profile;
mod reads;
pub mod schema;
mod schema_parts;
pub mod watch;
