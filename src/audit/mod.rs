//! Auditing: the trace of what rules read, the memory made of it, and the findings it explains.

pub mod ask;
pub mod derived;
pub mod eval;
pub(crate) mod exact_sum;
pub mod expr;
pub mod finding;
pub mod functions;
pub mod memory;
pub mod message;
pub mod place;
pub mod verdict;
pub mod wording;
