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

/// Checks a PC parts list before you buy: what does not fit, what to change, what it costs
#[derive(Debug, Parser)]
#[command(
    name = "dryfit",
    version,
    max_term_width = 100,
    subcommand_required = true,
    arg_required_else_help = true
)]
#[command(
    after_help = "Exit codes: 0 no stop, 1 a stop, 2 an error in the input or a rule, 3 not \
     settled: a fact is missing."
)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Audit parts lists with every rule
    Audit(AuditArgs),
    /// Read a customer's list, in any form, into a build file
    ///
    /// Exit codes: 0 every row is settled, 3 some rows are in doubt, 2 the list cannot be read.
    Intake(IntakeArgs),
    /// Try swaps on a list at a prompt, and see what changes
    Try(TryArgs),
    /// Find the best parts list for a brief, and what each wish costs
    Plan(PlanArgs),
    /// Compare two or more lists side by side
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
    /// List the facts to look up that decide whether to build
    Ask(AskArgs),
    /// Write the sheet of a build for office, bench and customer
    Sheet(SheetArgs),
    /// Publish several builds side by side as static pages, with what changed since the last
    /// edition
    ///
    /// A list that must not be built is published only with --with-stops. Nothing is written unless
    /// every list can be audited.
    Edition(EditionArgs),
    /// List, search, import and check the parts of the catalogue
    Parts(PartsArgs),
    /// Quote, see price changes, write shopping lists, import a seller's feed
    #[command(subcommand)]
    Prices(PricesCommand),
    /// List, explain, write and test rules
    #[command(subcommand)]
    Rules(RulesCommand),
    /// Print the JSON Schema of a type of file: build, parts, cases, settings, brief, waivers,
    /// config, audit or search
    Schema {
        /// Which type
        name: String,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Print the configuration here, and where each value comes from
    Config {
        /// The list or folder to look at
        #[arg(default_value = ".")]
        at: PathBuf,
        /// Output format
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
    /// Output format; text, unless dryfit.toml says otherwise
    #[arg(long, value_enum, value_name = "FORMAT")]
    pub(crate) format: Option<Format>,
    /// Exit with 1 on findings of this level or above; stop, unless dryfit.toml says otherwise
    #[arg(long, value_enum, value_name = "LEVEL")]
    pub(crate) fail_on: Option<Level>,
    /// Only lists that changed since this git revision; every list if rules, parts or
    /// dryfit.toml changed
    #[arg(long, value_name = "REV")]
    pub(crate) changed_since: Option<String>,
    /// Findings accepted in this file do not fail the audit unless they got worse; those that
    /// are gone are removed from it
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) accept: Option<PathBuf>,
    /// With --accept: accept today's findings, signed with these initials
    #[arg(long, value_name = "INITIALS", requires = "accept")]
    pub(crate) by: Option<String>,
    /// For hooks: skip files that are no lists, and accept an empty list of names
    #[arg(long)]
    pub(crate) from_hook: bool,
    /// Name for the list on standard input; rules and parts are found beside this path
    #[arg(long, value_name = "PATH")]
    pub(crate) stdin_name: Option<PathBuf>,
    /// Plain sentences, no colour, no drawing; for screen readers
    #[arg(long)]
    pub(crate) plain: bool,
    /// Show advice, evidence and sources in full
    #[arg(long)]
    pub(crate) all: bool,
    /// Show every measure too
    #[arg(long)]
    pub(crate) measures: bool,
    /// Search for changes that clear each finding, prove them, and write them as edits; with the
    /// formats json, json-lines and sarif
    #[arg(long)]
    pub(crate) fixes: bool,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// `dryfit ask` as typed.
#[derive(Debug, Args)]
pub(crate) struct AskArgs {
    /// The build file
    pub(crate) list: PathBuf,
    /// Print JSON
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
    /// Overwrite an existing file
    #[arg(long)]
    pub(crate) force: bool,
    /// Show how many builds were tried
    #[arg(long)]
    pub(crate) effort: bool,
    /// Explain why this part is not in the best list
    #[arg(long, value_name = "PART")]
    pub(crate) why: Option<String>,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) trust: TrustArgs,
    #[command(flatten)]
    pub(crate) shown: ShownArgs,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How long a search may take.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct LimitArgs {
    /// Longest time to search; then show the best so far
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

/// What a search makes of facts that nobody said.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct TrustArgs {
    /// Take unknown facts of parts to fit; the answer says so
    #[arg(long)]
    pub(crate) trust_unknown: bool,
}

/// `dryfit sheet`.
#[derive(Debug, Args)]
pub(crate) struct SheetArgs {
    /// The build file
    pub(crate) build: PathBuf,
    /// Output file; - for standard output
    #[arg(short, long, value_name = "FILE.html")]
    pub(crate) output: PathBuf,
    /// One leaf, or several; all when left out
    #[arg(long, value_name = "LEAF", value_delimiter = ',')]
    pub(crate) leaf: Vec<crate::app::report::sheet::Leaf>,
    /// Another list: draw the best trade-offs between the two as well
    #[arg(long, value_name = "BUILD")]
    pub(crate) mix: Option<PathBuf>,
    /// The measure to weigh against the price
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
    /// A folder of rules, over those found beside the build
    #[arg(long, value_name = "DIR")]
    pub(crate) rules: Option<PathBuf>,
    /// A catalogue folder, over the one found beside the build
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
    /// Continue after an error in a script
    #[arg(long)]
    pub(crate) keep_going: bool,
    #[command(flatten)]
    pub(crate) limit: LimitArgs,
    #[command(flatten)]
    pub(crate) trust: TrustArgs,
    /// Plain sentences, no colour, no drawing; for screen readers
    #[arg(long)]
    pub(crate) plain: bool,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How findings are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// Text for people
    Text,
    /// JSON: format dryfit-audit, version 2, one document
    Json,
    /// The same, one document a line, as lists are audited
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
