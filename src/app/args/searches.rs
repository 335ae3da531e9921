//! Arguments of the searches of a list: mend, fit, steps and mix.

use std::path::PathBuf;

use clap::Args;

use super::rules::TestFormat;
use super::{BaseArgs, LimitArgs, TrustArgs};

/// How the answer of a search is written.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct ShownArgs {
    /// How the answer is written
    #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
    format: TestFormat,
    /// No colour and no drawing; reads well aloud
    #[arg(long)]
    pub(crate) plain: bool,
}

impl ShownArgs {
    /// Whether the answer is for a program.
    pub(crate) fn json(self) -> bool {
        self.format == TestFormat::Json
    }
}

/// What every search is told: how long, how it is shown, against what.
#[derive(Debug, Args)]
pub(crate) struct HowArgs {
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) trust: TrustArgs,
    #[command(flatten)]
    pub(crate) shown: ShownArgs,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit mend`.
#[derive(Debug, Args)]
pub(crate) struct MendArgs {
    /// The build file
    pub(crate) list: PathBuf,
    /// Make the changes in the file
    #[arg(long, conflicts_with = "diff")]
    pub(crate) write: bool,
    /// Show what --write would change, as a patch
    #[arg(long, conflicts_with = "format")]
    pub(crate) diff: bool,
    /// Which way to make, as the list of ways numbers them
    #[arg(long, value_name = "NUMBER", default_value_t = 1,
    value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) way: u32,
    /// Show cheaper fixes too that cost much more of the parts chosen
    #[arg(long)]
    pub(crate) all: bool,
    #[command(flatten)]
    pub(crate) how: HowArgs,
}

/// `dryfit fit`.
#[derive(Debug, Args)]
pub(crate) struct FitArgs {
    /// The build file
    pub(crate) list: PathBuf,
    /// The line: its number, its kind, or a part on it
    pub(crate) line: String,
    /// Order by a measure that tells better from worse
    #[arg(long, value_name = "MEASURE")]
    pub(crate) by: Option<String>,
    /// Show every part and all that it changes
    #[arg(long)]
    pub(crate) all: bool,
    #[command(flatten)]
    pub(crate) how: HowArgs,
}

/// `dryfit steps`.
#[derive(Debug, Args)]
pub(crate) struct StepsArgs {
    /// The build file
    pub(crate) list: PathBuf,
    /// One line only: its number, its kind, or a part on it
    pub(crate) line: Option<String>,
    #[command(flatten)]
    pub(crate) how: HowArgs,
}

/// `dryfit mix`.
#[derive(Debug, Args)]
pub(crate) struct MixArgs {
    /// The build file
    pub(crate) list: PathBuf,
    /// The other build file
    pub(crate) other: PathBuf,
    /// The measure that the price is weighed against
    #[arg(long, value_name = "MEASURE")]
    pub(crate) by: Option<String>,
    #[command(flatten)]
    pub(crate) how: HowArgs,
}
