//! The application: arguments, commands, the prompt, presenters and the sheet, on the engine.

mod accepted;
mod args;
mod batch;
pub mod book;
mod changed;
mod commands;
mod counted;
mod edition;
mod git;
mod interrupt;
mod left_out;
pub mod limits;
mod lists;
pub mod lsp;
mod packs;
mod part_words;
pub mod prices;
pub mod prompt;
mod repairs;
mod replacements;
pub mod report;
mod stamp;
pub mod writing;

use std::process::ExitCode;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{CommandFactory as _, Parser as _};

use crate::app::args::{Cli, Command};
use crate::app::commands::Page;
use crate::source::Problem;
use crate::words::clip;

/// Runs the program on the arguments of the process.
#[must_use]
pub fn run() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(said) => return ExitCode::from(explained(&said)),
    };
    // An editor ends its server by a message.
    if !matches!(cli.command, Command::Lsp { .. }) {
        interrupt::listen();
    }
    let mut page = Page::new();
    let code = answer(cli.command, &mut page);
    ExitCode::from(interrupt::code(page.close(code)))
}

/// Shows help, the version, or what is wrong with the arguments; gives the exit code.
fn explained(said: &clap::Error) -> u8 {
    if let (ErrorKind::InvalidSubcommand, Some(ContextValue::String(word))) =
        (said.kind(), said.get(ContextKind::InvalidSubcommand))
    {
        return Page::new().refuse(&no_command(word).into());
    }
    let code = u8::try_from(said.exit_code()).unwrap_or(2);
    match said.print() {
        // A reader that went away early is no error; a full disk is.
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            let wrong = format!("the answer could not be written: {error}");
            Page::new().refuse(&Problem::new(wrong).into())
        }
        _ => code,
    }
}

/// What to say of a word that is no command: many are commands of the prompt.
fn no_command(word: &str) -> Problem {
    let problem = Problem::new(format!("dryfit has no command `{}`", clip(word, 40)));
    if word == "fmt" {
        return problem.help(
            "there is none for rules: their language comes without a printer that keeps comments \
             and line breaks; `dryfit lsp` lays out lists and parts",
        );
    }
    let cli = Cli::command();
    let of_shell: Vec<&str> = cli.get_subcommands().map(clap::Command::get_name).collect();
    match prompt::command::called(word).map(|entry| &*entry.name) {
        Some(own) if of_shell.contains(&own) => problem.help(format!("write `dryfit {own}`")),
        Some(own) => problem
            .help(format!("`{own}` is a command of the prompt, which `dryfit try LIST` opens")),
        None => problem.help("`dryfit --help` lists the commands").suggest(word, of_shell),
    }
}

/// 0 when nothing stops the build (or the question was answered), 1 when something does, 2 when the
/// input or a rule is broken.
fn answer(command: Command, page: &mut Page) -> u8 {
    let code = match command {
        Command::Audit(args) => commands::audit(&args, page),
        Command::Intake(args) => commands::intake::run(&args, page),
        Command::Sheet(args) => commands::sheet(&args, page),
        Command::Try(args) => Ok(commands::trial(args)),
        Command::Plan(args) => Ok(prompt::plan(&args)),
        Command::Compare { builds, base, shown } => Ok(prompt::compare(&builds, &base, shown)),
        Command::Mend(args) => Ok(prompt::search_once::mend(&args)),
        Command::Fit(args) => Ok(prompt::search_once::fit(&args)),
        Command::Steps(args) => Ok(prompt::search_once::steps(&args)),
        Command::Mix(args) => Ok(prompt::search_once::mix(&args)),
        Command::Ask(args) => commands::ask::ask(&args, page),
        Command::Edition(args) => edition::edition(&args, page),
        Command::Parts(args) => commands::prices::parts(args, page),
        Command::Prices(command) => commands::prices::run(command, page),
        Command::Rules(command) => commands::rules::run(command, page),
        Command::Schema { name, base } => commands::rules::schemas(&name, &base, page),
        Command::Config { at, format } => commands::config(&at, format, page),
        Command::Lsp { base, limit } => Ok(lsp::run(lsp::LspOptions { base, limit: limit.time() })),
        Command::Completions { shell } => {
            commands::completions(shell, page);
            Ok(0)
        }
        Command::Man => {
            commands::man(page);
            Ok(0)
        }
    };
    code.unwrap_or_else(|problems| page.refuse(&problems))
}
