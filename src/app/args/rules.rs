//! Arguments of `dryfit rules` as typed.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::args::{BaseArgs, LevelArg};

/// `dryfit rules`.
#[derive(Debug, Subcommand)]
pub(crate) enum RulesCommand {
    /// List rules and measures, each with its layer and what the shop decided of it
    List(ListArgs),
    /// Show one rule: what it checks, why, its basis and remedy, what it reads, examples, its text
    Explain {
        /// The rule's id, such as power.headroom
        id: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// List the words that rules may use
    Words {
        /// Only words with this in them
        find: Option<String>,
        /// Write a Rhai definitions file for an editor instead
        #[arg(long)]
        definitions: bool,
    },
    /// Write a rule file and its cases, which pass as they are
    New {
        /// Name of the rule file, such as house_style
        name: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Run the rule cases of a folder
    Test(TestArgs),
    /// Say what each rule costs, the slowest first
    Profile {
        /// Build files
        #[arg(value_name = "BUILD", required = true)]
        builds: Vec<PathBuf>,
        /// How it is written
        #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
        format: TestFormat,
        #[command(flatten)]
        base: BaseArgs,
    },
}

/// `dryfit rules list`.
#[derive(Debug, Args)]
pub(crate) struct ListArgs {
    /// Only those of one rule file, such as power
    #[arg(long, value_name = "SUBJECT")]
    pub(crate) subject: Option<String>,
    /// Only those that can raise this level
    #[arg(long, value_enum, value_name = "LEVEL")]
    pub(crate) level: Option<LevelArg>,
    /// Only what comes from layers with this in their name, such as "built in"
    #[arg(long, value_name = "LAYER")]
    pub(crate) layer: Option<String>,
    /// The settings too
    #[arg(long)]
    pub(crate) settings: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit rules test`.
#[derive(Debug, Args)]
pub(crate) struct TestArgs {
    /// A folder of rules, or the folder that holds it; the one found from here when left out
    pub(crate) folder: Option<PathBuf>,
    /// Only the cases of one rule file, such as power
    #[arg(long, value_name = "FILE", visible_alias = "subject")]
    pub(crate) only: Option<String>,
    /// How the outcome is written
    #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
    pub(crate) format: TestFormat,
    /// Plant small wrongs in the rules one at a time, and say which ones no case notices
    #[arg(long)]
    pub(crate) mutate: bool,
    /// With --mutate: fail when fewer per cent are noticed
    #[arg(long, value_name = "PERCENT", requires = "mutate", default_value_t = 0.0)]
    pub(crate) at_least: f64,
    /// Run again whenever a file of the folder changes
    #[arg(long, conflicts_with = "mutate")]
    pub(crate) watch: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How the outcome of rule cases is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum TestFormat {
    /// For people
    Text,
    /// For programs
    Json,
}
