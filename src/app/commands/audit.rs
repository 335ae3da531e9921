//! `dryfit audit`: lists in, findings out, in the shape that was asked for.

use std::io;
use std::path::{Path, PathBuf};

use clap::ValueEnum as _;

use crate::app::accepted::Accepted;
use crate::app::args::{AuditArgs, Format};
use crate::app::batch::{self, Came, How};
use crate::app::changed::Changed;
use crate::app::commands::{Page, kit_beside};
use crate::app::lists::{self, Entry};
use crate::app::report::escape::inert;
use crate::app::report::hosts::Gitlab;
use crate::app::report::json::{Json, JsonLines};
use crate::app::report::reference;
use crate::app::report::sarif::Sarif;
use crate::app::report::style::Look;
use crate::app::report::terminal::Terminal;
use crate::app::report::texts::TextFormat;
use crate::app::report::{Stream, Tally, Wishes};
use crate::config::Config;
use crate::level::Level;
use crate::source::{Problem, Problems};

/// `dryfit audit`: 0 when nothing fails, 1 when something does, 2 when a list or rule is broken.
pub(crate) fn audit(args: &AuditArgs, page: &mut Page) -> Result<u8, Problems> {
    let (entries, set) = prepare(args)?;
    run(args, &entries, &set, page)
}

/// What holds for the whole run.
struct Set {
    format: Format,
    fail_on: Level,
    handbook: Option<String>,
}

fn prepare(args: &AuditArgs) -> Result<(Vec<Entry>, Set), Problems> {
    let mut entries = lists::entries(&args.builds)?;
    if entries.iter().filter(|entry| entry.path.as_os_str() == "-").count() > 1 {
        return Err(Problem::new("standard input is named twice").into());
    }
    if args.stdin_name.is_some() && !args.builds.iter().any(|path| path.as_os_str() == "-") {
        return Err(Problem::new("--stdin-name is for a list on standard input")
            .help("name that list `-`")
            .into());
    }
    let first = first_place(args);
    if let Some(revision) = &args.changed_since {
        let folder = if first.is_dir() { first.as_path() } else { parent(&first) };
        entries = lists::only_changed(entries, &Changed::since(revision, folder)?);
    }
    // What is wrong with the file is said with each list.
    let config = Config::beside(&first).unwrap_or_default();
    let set = |given: &crate::config::Given<String>| {
        Format::from_str(&given.value, false).map_err(|_| {
            let known: Vec<String> = Format::value_variants()
                .iter()
                .filter_map(|f| f.to_possible_value().map(|v| v.get_name().to_owned()))
                .collect();
            Problem::new(format!("there is no format `{}`", given.value))
                .at(&given.place.source, given.place.span, "unknown")
                .help(format!("known: {}", known.join(", ")))
        })
    };
    let format = match (args.format, &config.format) {
        (Some(format), _) => format,
        (None, Some(given)) => set(given)?,
        (None, None) => Format::Text,
    };
    if args.fixes && !matches!(format, Format::Json | Format::JsonLines | Format::Sarif) {
        return Err(Problem::new("--fixes needs --format json, json-lines or sarif")
            .help("`dryfit mend LIST` shows changes as text")
            .into());
    }
    let fail_on = args.fail_on.or(config.fail_on).unwrap_or(Level::Stop);
    Ok((entries, Set { format, fail_on, handbook: config.handbook }))
}

/// The place that decides what is set: that of the first list.
fn first_place(args: &AuditArgs) -> PathBuf {
    match args.builds.first() {
        Some(path) if path.as_os_str() != "-" => path.clone(),
        Some(_) => args.stdin_name.clone().unwrap_or_else(|| PathBuf::from(".")),
        None => PathBuf::from("."),
    }
}

fn parent(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// The presenter of the format that is asked for.
fn presenter(args: &AuditArgs, set: &Set) -> Box<dyn Stream> {
    let wishes = Wishes { all: args.all, measures: args.measures, prompt: false };
    match set.format {
        Format::Text if args.plain => Box::new(TextFormat::plain(wishes)),
        Format::Text => Box::new(Terminal::new(Look::stdout(), Look::of(&io::stderr()), wishes)),
        Format::Markdown => Box::new(TextFormat::markdown()),
        Format::Json => Box::new(Json::default()),
        Format::JsonLines => Box::new(JsonLines),
        Format::Brief => Box::new(TextFormat::brief()),
        Format::Github => Box::new(TextFormat::github()),
        Format::Gitlab => Box::new(Gitlab::default()),
        Format::Junit => Box::new(TextFormat::junit(set.fail_on)),
        Format::Sarif => {
            let kit = kit_beside(&first_place(args), &args.base);
            let rules = kit.map(|k| reference::rules_by_level(&k)).unwrap_or_default();
            Box::new(Sarif::new(rules, set.handbook.clone()))
        }
    }
}

fn run(args: &AuditArgs, entries: &[Entry], set: &Set, page: &mut Page) -> Result<u8, Problems> {
    let mut way = presenter(args, set);
    let read = |path: &PathBuf| Accepted::read(path, args.by.as_deref(), args.base.today());
    let mut accepted = args.accept.as_ref().map(read).transpose()?;
    if let Some(accepted) = &mut accepted {
        accepted.covers(&args.builds);
    }
    let mut tally = Tally::default();
    page.stream(|out, _| way.begin(out));
    if let (Some(revision), []) = (&args.changed_since, entries) {
        let said = format!("No list changed since {revision}.");
        page.stream(|_, aside| writeln!(aside, "{}", inert(&said)));
    }
    let how = How {
        base: &args.base,
        plain: args.plain,
        causes: set.format == Format::Text,
        fixes: args.fixes.then(|| args.limit.time()),
        from_hook: args.from_hook,
        stdin_name: args.stdin_name.as_deref(),
    };
    batch::audit(entries, &how, |came| match came {
        Came::Report(mut report) => {
            if let Some(accepted) = &mut accepted {
                accepted.apply(&mut report);
            }
            tally.add(report.code_at(set.fail_on), report.code());
            page.stream(|out, aside| way.report(*report, out, aside))
        }
        Came::PassedOver(None) => true,
        Came::PassedOver(Some(problem)) => {
            tally.passed_over += 1;
            page.stream(|_, aside| writeln!(aside, "{}; passed over", inert(&problem.message)))
        }
    });
    page.stream(|out, aside| way.end(&tally, out, aside));
    if let Some(said) = accepted.map(Accepted::close).transpose()?.flatten() {
        page.stream(|_, aside| writeln!(aside, "{}", inert(&said)));
    }
    if tally.lists() == 0 && tally.passed_over > 0 && !args.from_hook {
        return Err(lists::no_list(&first_place(args)).into());
    }
    Ok(tally.code())
}
