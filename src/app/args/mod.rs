//! Arguments as typed: the one place that feeds parsing, help, completions and the man page.

pub(crate) mod intake;
pub(crate) mod parts;
pub(crate) mod prices;
pub(crate) mod rules;
pub(crate) mod searches;

use std::path::PathBuf;

use crate::level::Level;
use clap::{Args, Parser, Subcommand, ValueEnum};
use jiff::civil::Date;

use crate::app::args::intake::IntakeArgs;
use crate::app::args::parts::PartsArgs;
use crate::app::args::prices::PricesCommand;
use crate::app::args::rules::RulesCommand;
use crate::app::args::searches::{FitArgs, MendArgs, MixArgs, ShownArgs, StepsArgs};

/// Puts a parts list together loosely, before the money is spent, and says what would not fit.
#[derive(Debug, Parser)]
#[command(
    name = "dryfit",
    version,
    max_term_width = 100,
    subcommand_required = true,
    arg_required_else_help = true
)]
#[command(
    after_help = "Exit codes: 0 nothing stops the build, 1 something does, 2 the input or a rule \
     is broken, 3 facts decide that nobody said."
)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Audit builds with every rule
    Audit(AuditArgs),
    /// Read a customer's list of any form into a build file
    ///
    /// Exit codes: 0 every row is settled, 3 some rows are a question, 2 the list cannot be read.
    Intake(IntakeArgs),
    /// Try swaps on a build at a prompt, and see what changes
    Try(TryArgs),
    /// Find the best parts list for a brief, and say what each wish costs
    Plan(PlanArgs),
    /// Show two or more builds beside each other, and what differs between two
    Compare {
        /// Build files
        #[arg(value_name = "BUILD", num_args = 2.., required = true)]
        builds: Vec<PathBuf>,
        #[command(flatten)]
        base: BaseArgs,
        #[command(flatten)]
        shown: ShownArgs,
    },
    /// Find the fewest changes that clear every stop of a list
    ///
    /// Exit codes: 0 nothing stops it or a way was found, 1 no changes clear it, 2 trouble.
    Mend(MendArgs),
    /// Say what could stand on a line of a list, what it costs and what it raises
    Fit(FitArgs),
    /// Say the next steps up and down on the lines of a list
    Steps(StepsArgs),
    /// Mix two lists: which mixtures pass, and which are the best trade-offs
    Mix(MixArgs),
    /// Say which facts to look up: those that nobody said and that decide whether to build
    Ask(AskArgs),
    /// Write the sheet that goes with a build to the office, the bench and the customer
    Sheet(SheetArgs),
    /// Publish several builds side by side as static pages, with what changed since the last
    /// edition
    ///
    /// A list that must not be built is published only with --with-stops. Nothing is written unless
    /// every list can be audited.
    Edition(EditionArgs),
    /// List the parts of a kind with their prices, find parts by their words, read and check them
    Parts(PartsArgs),
    /// Quotes and what moved since, shopping lists, open lines, a seller's own feed
    #[command(subcommand)]
    Prices(PricesCommand),
    /// Look at the rules, write them, test them
    #[command(subcommand)]
    Rules(RulesCommand),
    /// Print the JSON Schema of a sort of file: build, parts, cases, settings, brief, waivers,
    /// config, audit or search
    Schema {
        /// Which sort
        name: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Print what is set here, and where each value comes from
    Config {
        /// The list, or the folder, that it is asked for
        #[arg(default_value = ".")]
        at: PathBuf,
        /// How it is written
        #[arg(long, value_enum, default_value_t = rules::TestFormat::Text, value_name = "FORMAT")]
        format: rules::TestFormat,
    },
    /// Give verdicts in an editor while one types: a language server on standard input and output
    Lsp {
        #[command(flatten)]
        base: BaseArgs,
        #[command(flatten)]
        limit: LimitArgs,
    },
    /// Print completions for a shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
    /// Print the man page
    Man,
}

/// `dryfit audit`.
#[derive(Debug, Args)]
pub(crate) struct AuditArgs {
    /// Build files, or folders of them; - for standard input
    #[arg(value_name = "BUILD", required_unless_present = "from_hook")]
    pub(crate) builds: Vec<PathBuf>,
    /// How the findings are written; text, unless dryfit.toml says otherwise
    #[arg(long, value_enum, value_name = "FORMAT")]
    pub(crate) format: Option<Format>,
    /// Exit with 1 on findings of this level or above; stop, unless dryfit.toml says otherwise
    #[arg(long, value_enum, value_name = "LEVEL")]
    pub(crate) fail_on: Option<LevelArg>,
    /// Only lists that changed since this revision, by git; all of them where rules, parts or
    /// dryfit.toml did
    #[arg(long, value_name = "REV")]
    pub(crate) changed_since: Option<String>,
    /// Findings accepted in this file are no reason to fail, unless they got worse; those that are
    /// gone are taken out of it
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) accept: Option<PathBuf>,
    /// With --accept: accept what is found today, signed with these initials
    #[arg(long, value_name = "INITIALS", requires = "accept")]
    pub(crate) by: Option<String>,
    /// The names come from a hook: files that are no lists are passed over, and no name is no error
    #[arg(long)]
    pub(crate) from_hook: bool,
    /// What the list on standard input is called; rules and parts are found beside this path
    #[arg(long, value_name = "PATH")]
    pub(crate) stdin_name: Option<PathBuf>,
    /// No colour and no drawing; reads well aloud
    #[arg(long)]
    pub(crate) plain: bool,
    /// Show advice, waiting rules and every value in full
    #[arg(long)]
    pub(crate) all: bool,
    /// Show every measure too
    #[arg(long)]
    pub(crate) measures: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit ask` as typed.
#[derive(Debug, Args)]
pub(crate) struct AskArgs {
    /// The build file
    pub(crate) list: PathBuf,
    /// JSON, for a program
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit plan`.
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    /// The brief
    pub(crate) brief: PathBuf,
    /// Write the best build into a file
    #[arg(short, long, value_name = "FILE.toml")]
    pub(crate) output: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long)]
    pub(crate) force: bool,
    /// Say how much was looked at
    #[arg(long)]
    pub(crate) effort: bool,
    /// Say why this part is not in the best list
    #[arg(long, value_name = "PART")]
    pub(crate) why: Option<String>,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) shown: ShownArgs,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How long a search may take.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct LimitArgs {
    /// Longest time to search before the best so far is given
    #[arg(long, value_name = "SECONDS", default_value_t = 60,
    value_parser = clap::value_parser!(u64).range(1..=86_400))]
    seconds: u64,
}

impl LimitArgs {
    /// The time itself.
    pub(crate) fn time(self) -> std::time::Duration {
        std::time::Duration::from_secs(self.seconds)
    }
}

/// `dryfit sheet`.
#[derive(Debug, Args)]
pub(crate) struct SheetArgs {
    /// The build file
    pub(crate) build: PathBuf,
    /// Where the page goes; - for standard output
    #[arg(short, long, value_name = "FILE.html")]
    pub(crate) output: PathBuf,
    /// A leaf by itself, or several; all without it
    #[arg(long, value_name = "LEAF", value_delimiter = ',')]
    pub(crate) leaf: Vec<crate::app::report::sheet::Leaf>,
    /// Another list: what mixtures of the two nothing else beats is drawn too
    #[arg(long, value_name = "BUILD")]
    pub(crate) mix: Option<PathBuf>,
    /// The measure that their price is weighed against
    #[arg(long, value_name = "MEASURE", default_value = "value.index", requires = "mix")]
    pub(crate) by: String,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit edition`.
#[derive(Debug, Args)]
pub(crate) struct EditionArgs {
    /// Build files, or folders of them
    #[arg(value_name = "LIST", required = true)]
    pub(crate) lists: Vec<PathBuf>,
    /// The folder that the pages go into: a new one, or one of earlier editions
    #[arg(short, long, value_name = "DIR")]
    pub(crate) output: PathBuf,
    /// The day of the edition, whose prices count for every list; today when left out
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub(crate) as_of: Option<Date>,
    /// What the page is called; the shop's name when left out
    #[arg(long, value_name = "TEXT")]
    pub(crate) title: Option<String>,
    /// Publish lists that must not be built too; the page says so
    #[arg(long)]
    pub(crate) with_stops: bool,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// What a build is audited against.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct BaseArgs {
    /// A folder of rules, laid over those found beside the build
    #[arg(long, value_name = "DIR")]
    pub(crate) rules: Option<PathBuf>,
    /// A catalogue folder, laid over the one found beside the build
    #[arg(long, value_name = "DIR")]
    pub(crate) catalogue: Option<PathBuf>,
    /// Pricing day for builds that give none; today when left out
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub(crate) date: Option<Date>,
    /// A pack of the shop whose files are taken from another folder
    #[arg(skip)]
    pub(crate) pack: Option<(String, PathBuf)>,
}

fn day(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| "a day of the calendar is wanted, such as 2026-11-20".to_owned())
}

impl BaseArgs {
    /// The pricing day for builds that give none.
    pub(crate) fn today(&self) -> Date {
        self.date.unwrap_or_else(|| jiff::Zoned::now().date())
    }
}

/// `dryfit try`.
#[derive(Debug, Args)]
pub(crate) struct TryArgs {
    /// The build file; new-build.toml for a new one when left out
    #[arg(required_unless_present = "new")]
    pub(crate) build: Option<PathBuf>,
    /// Start from nothing: a build without lines, which `save` writes
    #[arg(long)]
    pub(crate) new: bool,
    /// Run the commands in this file instead of a prompt; - for standard input
    #[arg(long, value_name = "FILE")]
    pub(crate) script: Option<PathBuf>,
    /// Go on after an error in a script
    #[arg(long)]
    pub(crate) keep_going: bool,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    /// No colour and no drawing; reads well aloud
    #[arg(long)]
    pub(crate) plain: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How findings are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people
    Text,
    /// For programs: format dryfit-audit, version 2, one document
    Json,
    /// The same, a document a line, as lists are audited
    JsonLines,
    /// One line a finding
    Brief,
    /// SARIF 2.1.0
    Sarif,
    /// Markdown, for a ticket
    Markdown,
    /// Annotations of a GitHub workflow
    Github,
    /// A GitLab code quality report
    Gitlab,
    /// JUnit XML
    Junit,
}

/// A level as an argument.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum LevelArg {
    /// Must not be built so
    Stop,
    /// Works, at a cost
    Caution,
    /// Good to know
    Advice,
}

impl From<LevelArg> for Level {
    fn from(level: LevelArg) -> Self {
        match level {
            LevelArg::Stop => Self::Stop,
            LevelArg::Caution => Self::Caution,
            LevelArg::Advice => Self::Advice,
        }
    }
}
