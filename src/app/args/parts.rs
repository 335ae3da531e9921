//! Arguments of `dryfit parts`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use crate::app::args::BaseArgs;
use crate::app::args::intake::IntakeFormat;
use crate::app::args::prices::ListFormat;

/// `dryfit parts`.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(crate) struct PartsArgs {
    #[command(subcommand)]
    pub(crate) command: Option<PartsCommand>,
    /// Kind of part, such as supply or psu, and words that tell the part, such as 550 gold; all
    /// kinds when left out
    #[arg(value_name = "KIND|TEXT")]
    pub(crate) kind: Option<String>,
    /// Keep parts for which this is true, such as 'rated_w >= 600 && price < 120'; 'true' keeps all
    #[arg(value_name = "WHERE")]
    pub(crate) filter: Option<String>,
    /// Sort by this, lowest first, such as price, per_gb or 'measure("power.in_hand")'
    pub(crate) by: Option<String>,
    /// More words of a name
    #[arg(hide = true)]
    pub(crate) more: Vec<String>,
    /// Highest first
    #[arg(long, requires = "by")]
    pub(crate) down: bool,
    /// Try each part in this build, and leave out those that cause a stop
    #[arg(long = "for", value_name = "BUILD")]
    pub(crate) build: Option<PathBuf>,
    /// With --for: list those that cause a stop too, and which
    #[arg(long, requires = "build")]
    pub(crate) all: bool,
    /// Output format
    #[arg(long, value_enum, default_value_t = ListFormat::Text, value_name = "FORMAT")]
    pub(crate) format: ListFormat,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// What else `dryfit parts` does.
#[derive(Debug, Subcommand)]
pub(crate) enum PartsCommand {
    /// Print one part in full: what is given, absent or unknown, where, and which rules read it
    Show {
        /// Its id, its name, or a piece of it
        part: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Read parts from a maker's page pasted as text, or a wholesaler's table; a dry run unless
    /// --write is given
    Import(ImportArgs),
    /// Print a template for a part: every field with its unit and meaning, those that settle most
    /// rules first
    New {
        /// Kind of part
        kind: String,
        /// Its name
        name: Option<String>,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Check the catalogue by itself: odd figures, duplicates, parts without an offer, empty
    /// fields, and the unknown facts that matter most
    Check {
        /// Build files, or folders of them, whose parts count
        #[arg(value_name = "BUILD")]
        builds: Vec<PathBuf>,
        #[command(flatten)]
        base: BaseArgs,
    },
}

/// `dryfit parts import`.
#[derive(Debug, Args)]
pub(crate) struct ImportArgs {
    /// The page or table: text, HTML, CSV, .xlsx or .ods; - for what is pasted
    pub(crate) source: PathBuf,
    /// Which kind of part it describes
    #[arg(long, value_name = "KIND")]
    pub(crate) kind: String,
    /// Which label or column is which field: [fields] with "their label" = "field"
    #[arg(long, value_name = "MAP.toml")]
    pub(crate) map: Option<PathBuf>,
    /// The parts file that is added to; catalogue/parts/KIND.toml when left out
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) into: Option<PathBuf>,
    /// Write the parts; without this nothing is written
    #[arg(long)]
    pub(crate) write: bool,
    /// Output format
    #[arg(long, value_enum, default_value_t = IntakeFormat::Text, value_name = "FORMAT")]
    pub(crate) format: IntakeFormat,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}
