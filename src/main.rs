//! Arguments in, exit code out.

#![cfg_attr(
    not(test),
    warn(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::print_stdout,
        clippy::print_stderr,
        clippy::dbg_macro
    )
)]

mod args;
mod batch;
mod commands;
mod prices_args;
mod prices_commands;
mod rules_args;
mod rules_commands;

use std::process::ExitCode;

use clap::Parser as _;

use crate::args::{Cli, Command};
use crate::commands::Page;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let mut page = Page::new();
    let code = run(cli.command, &mut page);
    ExitCode::from(page.close(code))
}

/// 0 when nothing stops the build (or the question was answered), 1 when something does, 2 when the
/// input or a rule is broken.
fn run(command: Command, page: &mut Page) -> u8 {
    match command {
        Command::Audit(args) => commands::audit(&args, page),
        Command::Sheet(args) => commands::sheet(&args, page),
        Command::Try(args) => commands::trial(args),
        Command::Plan(args) => commands::plan(args),
        Command::Compare { a, b, base, plain } => commands::compare(&a, &b, base, plain),
        Command::Parts(args) => prices_commands::parts(&args, page),
        Command::Prices(command) => prices_commands::run(command, page),
        Command::Rules(command) => rules_commands::run(command, page),
        Command::Schema { name, base } => rules_commands::schemas(&name, &base, page),
        Command::Completions { shell } => commands::completions(shell, page),
        Command::Man => commands::man(page),
    }
}
