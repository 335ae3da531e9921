//! Rules: scripts, the words the host gives them, and the walls around them.

pub mod engine;
pub(crate) mod errors;
pub mod eval;
pub mod findings;
pub mod host;
pub(crate) mod lines;
pub(crate) mod numbers;
pub mod run;
pub mod script;
pub(crate) mod texts;
pub mod values;
pub(crate) mod wiring;
pub mod words;
