//! Rules: scripts, the words the host gives them, and the walls around them.

pub(crate) mod check_names;
pub(crate) mod check_units;
pub(crate) mod circles;
mod clock;
pub mod engine;
pub(crate) mod errors;
pub mod eval;
pub mod findings;
pub mod host;
pub(crate) mod lines;
pub(crate) mod numbers;
pub(crate) mod outline;
pub mod reckon;
pub mod run;
pub mod script;
pub(crate) mod texts;
pub mod tokens;
pub mod values;
pub mod wants;
pub(crate) mod wiring;
pub mod words;
