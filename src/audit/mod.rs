//! Auditing: the trace of what rules read, the memory made of it, and the findings it explains.

pub mod ask;
pub mod assigned;
pub mod derived;
pub(crate) mod domain;
pub mod eval;
pub(crate) mod exact_sum;
pub(crate) mod explore;
pub mod expr;
pub mod finding;
pub mod functions;
pub(crate) mod interval;
pub(crate) mod linear;
pub mod memory;
pub mod message;
pub mod place;
pub(crate) mod proofs;
pub(crate) mod ranges;
pub mod verdict;
pub mod wording;
