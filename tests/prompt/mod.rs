//! The prompt as a user meets it: in a terminal, through a pipe, and killed in the middle of a
//! save.

use std::process::Output;

#[cfg(unix)]
mod ctrl_c;
#[cfg(unix)]
mod intake_questions;
mod saves;
mod scripts;
#[cfg(unix)]
mod searches;
#[cfg(unix)]
mod terminal;
mod widths;

/// What a run wrote.
pub(crate) fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}
