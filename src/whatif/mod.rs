//! What if: a build being changed, and what differs between two states of it.

pub(crate) mod brief_rules;
pub mod diff;
pub mod edit;
pub mod edit_facts;
pub mod fit;
pub mod known_file;
pub mod mend;
pub mod mix;
pub mod open_lines;
pub mod plan;
pub(crate) mod present_stops;
pub mod search;
pub mod text_diff;
pub mod trial;
pub mod why;
