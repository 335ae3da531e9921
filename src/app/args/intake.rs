//! Arguments of `dryfit intake`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::app::args::BaseArgs;

/// `dryfit intake`.
#[derive(Debug, Args)]
pub(crate) struct IntakeArgs {
    /// The list: text, e-mail, Markdown, HTML, CSV, .xlsx or .ods; - for what is pasted
    pub(crate) list: PathBuf,
    /// Write the build into a file; - for standard output
    #[arg(short, long, value_name = "LIST.toml")]
    pub(crate) output: Option<PathBuf>,
    /// Overwrite an existing file
    #[arg(long)]
    pub(crate) force: bool,
    /// Audit the build too
    #[arg(long, conflicts_with = "format")]
    pub(crate) audit: bool,
    /// Ask nothing: rows in doubt stay in doubt
    #[arg(long)]
    pub(crate) ask_nothing: bool,
    /// Output format
    #[arg(long, value_enum, default_value_t = IntakeFormat::Text, value_name = "FORMAT")]
    pub(crate) format: IntakeFormat,
    /// Plain sentences, no colour, no drawing; for screen readers
    #[arg(long)]
    pub(crate) plain: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How a list as read is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum IntakeFormat {
    /// The build file
    Text,
    /// JSON: format dryfit-intake, version 1
    Json,
}
