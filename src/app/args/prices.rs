//! Arguments of `dryfit prices`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};
use jiff::civil::Date;

use crate::app::args::BaseArgs;

/// `dryfit prices`.
#[derive(Debug, Subcommand)]
pub(crate) enum PricesCommand {
    /// Write the price and the day of every line into a build
    Quote {
        #[command(flatten)]
        build: PricedArgs,
        /// Show the changes and write nothing
        #[arg(long)]
        dry_run: bool,
    },
    /// Show what changed in price since builds were quoted, and how to get back under budget
    ///
    /// Prices are those of today unless --as-of names a day. Exit code 1: dearer, gone, or over the
    /// budget.
    Check {
        /// Build files, or folders of them
        #[arg(value_name = "BUILD", required = true)]
        builds: Vec<PathBuf>,
        /// Prices of this day; today when left out
        #[arg(long, value_name = "YYYY-MM-DD")]
        as_of: Option<Date>,
        /// Output format
        #[arg(long, value_enum, default_value_t = ListFormat::Text, value_name = "FORMAT")]
        format: ListFormat,
        #[command(flatten)]
        base: BaseArgs,
    },
    /// Write a shopping list by seller, split so that goods and shipping together cost least
    List {
        #[command(flatten)]
        build: PricedArgs,
        /// Output format
        #[arg(long, value_enum, default_value_t = OrderFormat::Text, value_name = "FORMAT")]
        format: OrderFormat,
    },
    /// Write the parts chosen for open lines into a build
    Pin {
        #[command(flatten)]
        build: PricedArgs,
        /// Show the changes and write nothing
        #[arg(long)]
        dry_run: bool,
    },
    /// Take a seller's own CSV feed into an offers file; a dry run unless --write is given
    Import {
        /// The feed
        feed: PathBuf,
        /// Which column is what, and how figures and days are written
        #[arg(long, value_name = "FILE")]
        map: PathBuf,
        /// Write the new offers; without this nothing is written
        #[arg(long, conflicts_with = "dry_run")]
        write: bool,
        /// Write nothing (the default)
        #[arg(long)]
        dry_run: bool,
        /// The offers file that is added to; catalogue/offers/SELLER.csv when left out
        #[arg(long, value_name = "FILE")]
        into: Option<PathBuf>,
        #[command(flatten)]
        base: BaseArgs,
    },
}

/// A build and the day its prices are of.
#[derive(Debug, Args)]
pub(crate) struct PricedArgs {
    /// The build file
    pub(crate) build: PathBuf,
    /// Prices of this day instead of the build's own
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) as_of: Option<Date>,
    #[command(flatten)]
    pub(crate) base: BaseArgs,
}

/// How lists are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ListFormat {
    /// For people
    Text,
    /// For spreadsheets
    Csv,
    /// For programs
    Json,
}

/// How a shopping list is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum OrderFormat {
    /// For people
    Text,
    /// For spreadsheets
    Csv,
    /// For a forum or a ticket, with links, in the order of the list
    Markdown,
    /// For programs
    Json,
}
