//! What if: a build being changed, and what differs between two states of it.

pub mod diff;
pub mod edit;
pub mod open;
pub mod plan;
pub mod search;
pub mod trial;
pub mod why;
mod wishes;
