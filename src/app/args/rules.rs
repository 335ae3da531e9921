//! Arguments of `dryfit rules` as typed.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::args::BaseArgs;
use crate::level::Level;

/// `dryfit rules`.
#[derive(Debug, Subcommand)]
pub(crate) enum RulesCommand {
    /// List rules and measures, each with its layer and the shop's decision
    ///
    /// Exit codes: 0 listed, 1 no rule fits, 2 a name is unknown, or a rule is broken.
    List(ListArgs),
    /// Show one rule: what it checks, source, fix, what it reads, examples, script
    Explain {
        /// The rule's id, such as power.headroom
        id: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// List the words that rules may use, or the fields of a kind with the rules that read each
    ///
    /// Exit codes: 0 listed, 1 nothing has that in it, 2 the rules or the catalogue are broken.
    Words {
        /// A kind, such as supply, for its fields; or only words with this in them
        find: Option<String>,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Write a new rule file with cases that pass
    New {
        /// Name of the rule file, such as house_style
        name: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Run the rule cases of a folder
    Test(TestArgs),
    /// Find what is odd in rules that run: unused helpers, settings and tables, rules
    /// that another implies, unfilled holes, odd words
    ///
    /// Exit codes: 0 nothing is odd, 1 something is, 2 a rule file is broken.
    Lint {
        /// A folder of rules, or the folder that holds it; the one found from here when left out
        folder: Option<PathBuf>,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Write the handbook: a page a rule, with the tables, kinds and words, to read in a browser
    Book {
        /// Where the pages go: a folder that is not there, is empty, or holds a handbook
        #[arg(short, long, value_name = "DIR")]
        output: PathBuf,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Fetch the packs that dryfit.toml names, check them, and record their commits
    Fetch {
        /// Look up again what each revision is today
        #[arg(long)]
        update: bool,
    },
    /// Make a pack of a folder of rules whose cases pass
    Pack(PackArgs),
    /// Compare two sets of rules over lists, finding by finding
    ///
    /// Exit codes: 0 nothing changes, 1 something does, 2 the input is broken.
    Diff(DiffArgs),
    /// Show the time of each rule, the slowest first
    Profile {
        /// Build files
        #[arg(value_name = "BUILD", required = true)]
        builds: Vec<PathBuf>,
        /// Output format
        #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
        format: TestFormat,
        #[command(flatten)]
        base: BaseArgs,
    },
}

/// `dryfit rules pack`.
#[derive(Debug, Args)]
pub(crate) struct PackArgs {
    /// A folder of rules, or the folder that holds it and a catalogue
    pub(crate) folder: PathBuf,
    /// Where the pack goes
    #[arg(short, long, value_name = "DIR")]
    pub(crate) output: PathBuf,
    /// What it is called, which is its prefix too; the name of the folder it goes to when left out
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// Its version
    #[arg(long, value_name = "VERSION", default_value = "1.0.0")]
    pub(crate) pack_version: String,
}

/// `dryfit rules diff`.
#[derive(Debug, Args)]
pub(crate) struct DiffArgs {
    /// The rules of today: a folder, or the name of a pack in dryfit.toml
    pub(crate) old: PathBuf,
    /// The rules that would come instead, likewise
    pub(crate) new: PathBuf,
    /// Lists, or folders of them
    #[arg(long, value_name = "LISTS", required = true, num_args = 1..)]
    pub(crate) lists: Vec<PathBuf>,
    /// How it is written
    #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
    pub(crate) format: TestFormat,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit rules list`.
#[derive(Debug, Args)]
pub(crate) struct ListArgs {
    /// Only these: a rule file such as power, an id, a pattern such as bench.*, or tag:electrical
    #[arg(long, value_name = "SUBJECT")]
    pub(crate) subject: Option<String>,
    /// Only rules that can raise this level
    #[arg(long, value_enum, value_name = "LEVEL")]
    pub(crate) level: Option<Level>,
    /// Only rules from layers with this in their name, such as "built in"
    #[arg(long, value_name = "LAYER")]
    pub(crate) layer: Option<String>,
    /// List the settings too
    #[arg(long)]
    pub(crate) settings: bool,
    /// Output format
    #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
    pub(crate) format: TestFormat,
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
    /// Only cases whose name has this in it, or that check a rule by this pattern or tag
    #[arg(long, value_name = "TEXT", conflicts_with = "mutate")]
    pub(crate) case: Option<String>,
    /// Output format
    #[arg(long, value_enum, default_value_t = TestFormat::Text, value_name = "FORMAT")]
    pub(crate) format: TestFormat,
    /// Mutation test: change the rules one spot at a time, and list the mutants that no case kills
    #[arg(long)]
    pub(crate) mutate: bool,
    /// With --mutate: fail if fewer per cent of the mutants are killed
    #[arg(long, value_name = "PERCENT", requires = "mutate", default_value_t = 0.0)]
    pub(crate) at_least: f64,
    /// Write what the rules find into the cases that expect something else, or nothing yet;
    /// without it, show what would be written
    #[arg(long, conflicts_with_all = ["mutate", "watch"])]
    pub(crate) write: bool,
    /// Run again whenever a file of the folder changes
    #[arg(long, conflicts_with = "mutate")]
    pub(crate) watch: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How an answer about rules is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum TestFormat {
    /// For people
    Text,
    /// For programs
    Json,
}
