//! The prompt: try swaps on a build and see what changes.

pub mod build_file;
pub mod change_report;
pub mod command;
mod compare_command;
mod complete;
mod edit_commands;
mod editor_hints;
mod fact_commands;
mod help;
pub mod history;
mod input;
pub mod line_lookup;
mod pager;
mod plan_command;
mod reader;
mod record;
mod save_command;
mod script_runner;
pub(crate) mod search_commands;
pub(crate) mod search_once;
pub(crate) mod search_report;
pub mod session;
mod state_line;
mod why_report;

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::kit::Layers;
use crate::source::Problems;

pub(crate) use compare_command::compare;
pub(crate) use plan_command::plan;

/// How the prompt is started, as its arguments say.
#[derive(Debug, Clone)]
pub struct TryOptions {
    pub build: PathBuf,
    pub new: bool,
    pub script: Option<PathBuf>,
    pub keep_going: bool,
    pub limit: Duration,
    pub trust_unknown: bool,
    pub plain: bool,
    pub rules: Option<PathBuf>,
    pub catalogue: Option<PathBuf>,
    /// The day that stands in for `priced_on` where a build leaves it out.
    pub today: jiff::civil::Date,
}

impl TryOptions {
    /// The layers for a list: what is built in, what lies beside it, and what the user named.
    fn layers(&self, list: &Path) -> Result<Layers, Problems> {
        Layers::beside_with(list, self.rules.as_deref(), self.catalogue.as_deref())
    }
}

/// Runs the prompt or a script; gives the exit code: 0, 1 when `check` found a stop, 2 on an error.
pub fn run(options: &TryOptions) -> u8 {
    let script = match &options.script {
        Some(path) => Some(path.as_path()),
        None if !std::io::stdin().is_terminal() => Some(Path::new("-")),
        None => None,
    };
    let Some(path) = script else { return reader::run(options) };
    if path == Path::new("-") {
        let piped = script_runner::Piped::new(std::io::stdin());
        return script_runner::run(options, "input", piped);
    }
    match crate::layer::read_source(path) {
        Ok(source) => {
            let commands = command::commands(&source.text).into_iter().map(Ok);
            script_runner::run(options, &path.display().to_string(), commands)
        }
        Err(problem) => {
            script_runner::complain("", &problem.into());
            2
        }
    }
}
