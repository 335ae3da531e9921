//! What `dryfit prices` and `dryfit parts` do.

use std::io::{IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use crate::app::prices::priced_lines;
use crate::app::prices::shopping::Shopping;
use crate::app::prices::{drift, import as feed_words, parts};
use crate::app::prompt::build_file::OnDisk;
use crate::app::report::reference;
use crate::app::report::style::Look;
use crate::build::Build;
use crate::build::resolve::Resolved;
use crate::catalogue::kinds::KindId;
use crate::catalogue::{Catalogue, Part};
use crate::kit::Kit;
use crate::layer::{find_upward, read_source};
use crate::prices::import::{Map, import};
use crate::prices::parts::{Query, listed};
use crate::prices::{check, quote};
use crate::source::{Problem, Problems};
use crate::whatif::open_lines::{self, Settled, settle};
use serde_json::Value;

use crate::app::args::BaseArgs;
use crate::app::args::parts::PartsArgs;
use crate::app::args::prices::{ListFormat, OrderFormat, PricedArgs, PricesCommand};
use crate::app::commands::{Page, kit_beside, kit_here};
use crate::app::{lists, part_words};
use crate::words::some_of;

pub(crate) fn run(command: PricesCommand, page: &mut Page) -> Result<u8, Problems> {
    match command {
        PricesCommand::Quote { build, dry_run } => quote(&build, dry_run, page),
        PricesCommand::Check { builds, as_of, format, base } => {
            check(&builds, as_of, format, &base, page)
        }
        PricesCommand::List { build, format } => list(&build, format, page),
        PricesCommand::Pin { build, dry_run } => pin(&build, dry_run, page),
        PricesCommand::Import { feed, map, write, into, base, .. } => {
            take_in(&feed, &map, write, into, &base, page)
        }
    }
}

/// A list with the prices of the day that was named, or of its own.
fn priced_list(args: &PricedArgs) -> Result<(Kit, Build), Problems> {
    let kit = kit_beside(&args.build, &args.base)?;
    let mut build = kit.read(&read_source(&args.build)?, args.base.today())?;
    build.priced_on = args.as_of.unwrap_or(build.priced_on);
    Ok((kit, build))
}

/// The kit, the build as its file has it, and the build with open lines resolved.
fn priced(args: &PricedArgs, page: &mut Page) -> Result<(Kit, Settled), Problems> {
    let (kit, build) = priced_list(args)?;
    let settled = settle(&kit, &build)?;
    if !settled.left.is_empty() {
        page.refuse(&Problems(settled.left.clone()));
    }
    Ok((kit, settled))
}

fn resolved(kit: &Kit, build: &Build) -> Rc<Resolved> {
    Rc::new(Resolved::new(Arc::new(build.clone()), kit.catalogue().clone()))
}

fn say(page: &mut Page, sentences: &[String]) {
    for sentence in sentences {
        page.write(&Look::stdout().paragraph(sentence));
    }
}

/// Writes a build's text back, unless its file has changed since it was read, or shows it.
fn put(mut disk: OnDisk, text: &str, dry_run: bool, page: &mut Page) -> Result<(), Problems> {
    if dry_run {
        page.write(text);
        return Ok(());
    }
    disk.save(text, false, "run it again: it reads the file as it is now")?;
    Ok(())
}

fn quote(args: &PricedArgs, dry_run: bool, page: &mut Page) -> Result<u8, Problems> {
    let disk = OnDisk::read(&args.build)?;
    let (kit, build) = priced_list(args)?;
    let quoted = quote::quoted(&resolved(&kit, &build))?;
    put(disk, &quoted.text, dry_run, page)?;
    if !dry_run {
        let mut words = format!(
            "Quoted {} as of {} in {}.",
            crate::app::counted::count(quoted.lines, "line"),
            build.priced_on,
            args.build.display()
        );
        if !quoted.missing.is_empty() {
            words.push_str(&format!(
                " Without an offer on that day, and so without a quote: {}.",
                some_of(quoted.missing.iter().map(String::as_str), 12)
            ));
        }
        say(page, &[words]);
    }
    Ok(0)
}

fn pin(args: &PricedArgs, dry_run: bool, page: &mut Page) -> Result<u8, Problems> {
    let disk = OnDisk::read(&args.build)?;
    let (kit, build) = priced_list(args)?;
    let settled = settle(&kit, &build)?;
    if !settled.left.is_empty() {
        return Err(Problems(settled.left));
    }
    if settled.choices.is_empty() {
        say(page, &[format!("{} has no open line.", args.build.display())]);
        return Ok(0);
    }
    put(disk, &quote::pinned(&build, &settled.choices)?, dry_run, page)?;
    if !dry_run {
        say(page, &open_lines::words(&settled.choices));
        say(page, &[format!("Written into {}.", args.build.display())]);
    }
    Ok(0)
}

fn list(args: &PricedArgs, format: OrderFormat, page: &mut Page) -> Result<u8, Problems> {
    let (kit, settled) = priced(args, page)?;
    let build = resolved(&kit, &settled.build);
    let shopping = Shopping::new(&build);
    match format {
        OrderFormat::Text => {
            say(page, &open_lines::words(&settled.choices));
            page.write(&shopping.text(Look::stdout()));
        }
        OrderFormat::Markdown => page.write(&priced_lines::markdown(&build)?),
        OrderFormat::Csv => page.write(&shopping.csv()),
        OrderFormat::Json => page.json(&shopping.json()),
    }
    Ok(if settled.left.is_empty() { 0 } else { 2 })
}

fn check(
    builds: &[PathBuf],
    as_of: Option<jiff::civil::Date>,
    format: ListFormat,
    base: &BaseArgs,
    page: &mut Page,
) -> Result<u8, Problems> {
    let files = lists::only_lists(builds)?;
    let day = as_of.unwrap_or_else(|| base.today());
    let mut code = 0;
    let mut values = Vec::new();
    let mut held: Option<(PathBuf, Kit)> = None;
    for (at, file) in files.iter().enumerate() {
        let folder = file.parent().map(Path::to_path_buf).unwrap_or_default();
        let kit = match held.take() {
            Some((of, kit)) if of == folder => kit,
            _ => kit_beside(file, base)?,
        };
        match read_source(file).map_err(Problems::from).and_then(|source| moved(&kit, &source, day))
        {
            Err(problems) => code = page.refuse(&problems),
            Ok(settled) => {
                let moved = check::drift(&kit, &settled.build);
                code = code.max(moved.code());
                let name = file.display().to_string();
                if format == ListFormat::Text {
                    if at > 0 {
                        page.write("\n");
                    }
                    page.write(&drift::text(Look::stdout(), &name, &moved));
                } else {
                    values.push(drift::value(&name, &moved));
                }
            }
        }
        held = Some((folder, kit));
    }
    match format {
        ListFormat::Text => {}
        ListFormat::Csv => page.write(&drift::csv(&values)),
        ListFormat::Json => page.json(&serde_json::json!({ "format": "dryfit-drift", "version": 1,
        "builds": Value::Array(values) })),
    }
    Ok(code)
}

/// A build as of a day, with its open lines resolved.
fn moved(
    kit: &Kit,
    source: &Arc<crate::source::Source>,
    day: jiff::civil::Date,
) -> Result<Settled, Problems> {
    let mut build = kit.read(source, day)?;
    build.priced_on = day;
    settle(kit, &build)
}

/// Where a seller's offers go when nobody says: the catalogue folder found from here.
fn offers_file(seller: &str, base: &BaseArgs) -> Result<PathBuf, Problem> {
    let folder = base.catalogue.clone().or_else(|| find_upward(Path::new("."), "catalogue"));
    let folder = folder.ok_or_else(|| {
        Problem::new("there is no catalogue folder here to write offers into")
            .help("name a file with --into, or make a folder `catalogue`")
    })?;
    let name: String =
        seller.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    Ok(folder.join("offers").join(format!("{}.csv", name.trim_matches('-'))))
}

fn take_in(
    feed: &Path,
    map: &Path,
    write: bool,
    into: Option<PathBuf>,
    base: &BaseArgs,
    page: &mut Page,
) -> Result<u8, Problems> {
    let map = Map::read(&read_source(map)?)?;
    let kit = kit_here(base)?;
    let file = match into {
        Some(file) => file,
        None if write => offers_file(&map.seller, base)?,
        None => offers_file(&map.seller, base).unwrap_or_default(),
    };
    let size = std::fs::metadata(feed).map(|m| m.len()).unwrap_or(0).max(1);
    let live = std::io::stderr().is_terminal();
    let mut tick = |bytes: u64, rows: u64| {
        if live {
            let share = bytes.saturating_mul(100) / size;
            let bar = "#".repeat((share.min(100) / 5) as usize);
            let _ = write!(std::io::stderr(), "\r[{bar:<20}] {share:>3} %  {rows} rows");
        }
    };
    let done =
        import(kit.catalogue(), &map, feed, write.then_some(file.as_path()), &file, &mut tick);
    if live {
        let _ = write!(std::io::stderr(), "\r{:60}\r", "");
    }
    page.write(&feed_words::words(Look::stdout(), &feed.display().to_string(), &done?));
    Ok(0)
}

pub(crate) fn parts(mut args: PartsArgs, page: &mut Page) -> Result<u8, Problems> {
    match args.command.take() {
        Some(command) => super::parts::run(command, page),
        None => parts_of(&args, page),
    }
}

/// Parts of several kinds in rows, each with its kind.
pub(crate) fn of_any_kind(look: Look, catalogue: &Catalogue, found: &[&Arc<Part>]) -> String {
    let row = |p: &&Arc<Part>| {
        let kind = catalogue.kind(p.kind).map_or("", |k| k.title.as_str());
        (p.id.to_string(), p.name.to_string(), kind.to_owned())
    };
    reference::rows_text(look, &found.iter().map(row).collect::<Vec<_>>())
}

fn by_text(kit: &Kit, text: &str, format: ListFormat, page: &mut Page) -> Result<u8, Problems> {
    let catalogue = kit.catalogue();
    let found = part_words::all(catalogue, text, None)?;
    let title = |p: &Part| catalogue.kind(p.kind).map_or("", |k| k.title.as_str());
    match format {
        ListFormat::Json => page.json(&serde_json::json!({ "parts": found
            .iter()
            .map(|p| serde_json::json!({ "part": &*p.id, "name": &*p.name, "kind": title(p) }))
            .collect::<Vec<_>>() })),
        _ => page.write(&of_any_kind(Look::stdout(), catalogue, &found)),
    }
    Ok(0)
}

fn parts_of(args: &PartsArgs, page: &mut Page) -> Result<u8, Problems> {
    let day = args.base.today();
    let Some(first) = &args.kind else {
        let kit = kit_here(&args.base)?;
        page.write(&reference::kinds(Look::stdout(), &kit));
        return Ok(0);
    };
    let (kit, build) = match &args.build {
        None => (kit_here(&args.base)?, None),
        Some(file) => {
            let kit = kit_beside(file, &args.base)?;
            let build = kit.read(&read_source(file)?, day)?;
            (kit, Some(build))
        }
    };
    let words = [Some(first), args.filter.as_ref(), args.by.as_ref()];
    let words: Vec<&str> =
        words.into_iter().flatten().chain(&args.more).map(String::as_str).collect();
    // Words of a name where no kind is called so: parts of any kind.
    let (Some(id), rest) = part_words::kind_first(kit.catalogue(), &words) else {
        return by_text(&kit, &words.join(" "), args.format, page);
    };
    let Some(kind) = kit.catalogue().kind(id) else { return Ok(2) };
    let query = if are_expressions(&kit, id, rest) {
        let (filter, by) = (rest.first().copied(), rest.get(1).copied());
        Query { filter, by, down: args.down, among: None }
    } else {
        // `parts psu 550 gold`: what the parts are called.
        Query { among: part_words::among(kit.catalogue(), &words, id)?, ..Query::default() }
    };
    let list = listed(&kit, &kind.name, &query, build.as_ref(), day)?;
    match args.format {
        ListFormat::Text => {
            page.write(&parts::text(Look::stdout(), kind, &list, args.all, "--all lists them"))
        }
        ListFormat::Csv => page.write(&parts::csv(&list)),
        ListFormat::Json => page.json(&parts::json(&list)),
    }
    Ok(0)
}

/// Whether words ask something of each part, and are no pieces of a name: what to keep, and what to
/// sort by.
fn are_expressions(kit: &Kit, kind: KindId, words: &[&str]) -> bool {
    let operator = |text: &str| text.contains(|c: char| "<>=!&|+*/()\"".contains(c));
    let asks = |text: &&str| text.parse::<f64>().is_err() && kit.asked(kind, text).is_ok();
    (1..3).contains(&words.len()) && (words.iter().any(|w| operator(w)) || words.iter().all(asks))
}
