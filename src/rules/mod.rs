//! Rules: scripts, the words the host gives them, and the walls around them.

pub(crate) mod assign_words;
pub(crate) mod call_cycles;
pub(crate) mod check_names;
mod check_scripts;
pub(crate) mod check_units;
pub(crate) mod choice;
pub(crate) mod comparisons;
pub(crate) mod compile;
mod doc_comments;
pub mod engine;
pub(crate) mod errors;
pub mod finding_words;
pub mod host;
pub(crate) mod line_names;
pub(crate) mod line_words;
pub mod loader;
pub(crate) mod number_words;
pub(crate) mod outline;
pub(crate) mod raises;
mod read_lines;
pub mod run;
pub(crate) mod text_words;
mod thread_time;
pub mod tokens;
pub mod tracked;
mod undecided;
pub mod word_table;
