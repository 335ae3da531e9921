//! The edition: several builds on one page, with what changed since the last one; static files.
//!
//! Everything is audited and written out in memory before the first file is touched; each file
//! then grows beside its place and takes it at the end.

mod changes;
mod chart;
mod feed;
mod page;
mod record;

use std::collections::HashMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use crate::app::args::EditionArgs;
use crate::app::commands::{Page, kit_beside};
use crate::app::interrupt;
use crate::app::lists;
use crate::app::prices::priced_lines;
use crate::app::prices::shopping::Shopping;
use crate::app::report::{Audited, glance};
use crate::build::Build;
use crate::catalogue::value::Val;
use crate::config::Config;
use crate::disk::{Beside, cannot};
use crate::kit::{Audit, Kit, Ruling};
use crate::layer::read_source;
use crate::rules::loader::Better;
use crate::source::{Problem, Problems};
use crate::whatif::mix::mix;
use crate::whatif::open_lines::settle;
use chart::Group;
use record::{Edition, Editions, Entry, FILE};

/// Most builds of an edition.
const MOST: usize = 60;
/// Most pairs of builds that are mixed for the front.
const MOST_PAIRS: usize = 15;
/// Most mixtures that are drawn.
const MOST_DRAWN: usize = 400;
/// The measure that price is weighed against.
const INDEX: &str = "value.index";

/// A list that was audited.
struct Checked {
    kit: usize,
    build: Build,
    audit: Audit,
    code: u8,
    entry: Entry,
    source: String,
}

/// `dryfit edition`: the code is the worst of the audits' own.
pub(crate) fn edition(args: &EditionArgs, page: &mut Page) -> Result<u8, Problems> {
    let on = args.as_of.unwrap_or_else(|| args.base.today());
    own_folder(&args.output)?;
    let mut editions = Editions::read(&args.output)?;
    let paths = named(args)?;
    let (kits, lists) = audit_all(args, &paths, on)?;
    let stops = stops(&lists);
    if !args.with_stops && !stops.0.is_empty() {
        page.refuse(&stops);
        return Ok(1);
    }
    let groups = groups(args, &kits, &lists);
    let entries = lists.iter().map(|l| l.entry.clone()).collect();
    editions.add(Edition { on, builds: entries })?;
    let title = title(args);
    let html = page::page(&title, &editions, &groups)?;
    let mut files: Vec<(PathBuf, String)> = Vec::new();
    for list in &lists {
        let at =
            |ending: &str| PathBuf::from("lists").join(format!("{}.{ending}", list.entry.name));
        let resolved = list.audit.build();
        files.push((at("toml"), list.source.clone()));
        files.push((at("csv"), Shopping::new(resolved).csv()));
        files.push((at("md"), priced_lines::markdown(resolved)?));
    }
    files.push((PathBuf::from(format!("{on}.html")), html.clone()));
    files.push((PathBuf::from("feed.xml"), feed::feed(&title, &editions)?));
    files.push((PathBuf::from(FILE), editions.text()?));
    files.push((PathBuf::from("index.html"), html));
    interrupt::may_write()?;
    write_all(&args.output, &files)?;
    page.write(&format!(
        "Wrote the edition of {on} with {} into {}.\n",
        crate::app::counted::count(lists.len(), "build"),
        args.output.display()
    ));
    Ok(worst(lists.iter().map(|l| l.code)))
}

/// The code for all: the first of 2, 1, 3 and 0 that one of them has.
fn worst(codes: impl Iterator<Item = u8>) -> u8 {
    let codes: Vec<u8> = codes.collect();
    [2, 1, 3].into_iter().find(|code| codes.contains(code)).unwrap_or(0)
}

/// What the page is called: as asked, else after the shop.
fn title(args: &EditionArgs) -> String {
    let shop = args.lists.first().and_then(|first| Config::beside(first).ok()?.shop.name);
    let of_shop = || shop.map(|name| format!("Builds of {name}"));
    args.title.clone().or_else(of_shop).unwrap_or_else(|| "Builds".to_owned())
}

/// Refuses a folder that holds something else: an edition writes over its own files only.
fn own_folder(folder: &Path) -> Result<(), Problem> {
    if !folder.exists() || folder.join(FILE).exists() {
        return Ok(());
    }
    let mut inside = fs::read_dir(folder).map_err(|e| cannot(folder, &e))?;
    if inside.next().is_none() {
        return Ok(());
    }
    Err(Problem::new(format!("{} holds other files; nothing is written", folder.display()))
        .help("name a new folder, or one that an edition was written into"))
}

/// The lists with the names of their files, in order; what earlier editions wrote is none of them.
fn named(args: &EditionArgs) -> Result<Vec<(PathBuf, String)>, Problems> {
    let own = args.output.canonicalize().ok();
    let is_own = |path: &PathBuf| {
        own.as_ref().is_some_and(|own| path.canonicalize().is_ok_and(|real| real.starts_with(own)))
    };
    let mut paths = lists::only_lists(&args.lists)?;
    paths.retain(|path| !is_own(path));
    if paths.is_empty() || paths.len() > MOST {
        let message = format!("{} lists were named, and an edition takes 1 to {MOST}", paths.len());
        return Err(Problem::new(message).into());
    }
    let mut named: Vec<(PathBuf, String)> = Vec::new();
    for path in paths {
        let stem = path.file_stem().map_or_else(String::new, |s| s.to_string_lossy().into_owned());
        let plain = |c: char| if c.is_ascii_alphanumeric() || "-_".contains(c) { c } else { '-' };
        let name: String = stem.chars().map(plain).take(80).collect();
        let low = name.to_ascii_lowercase();
        if let Some((other, _)) = named.iter().find(|(_, n)| n.to_ascii_lowercase() == low) {
            let message =
                format!("{} and {} would have the same name", other.display(), path.display());
            return Err(Problem::new(message).help("rename one of the files").into());
        }
        named.push((path, name));
    }
    Ok(named)
}

/// Audits every list at the prices of the day. All that is wrong with all of them is said at once.
fn audit_all(
    args: &EditionArgs,
    paths: &[(PathBuf, String)],
    on: Date,
) -> Result<(Vec<Kit>, Vec<Checked>), Problems> {
    let mut kits: Vec<Kit> = Vec::new();
    let mut by_folder: HashMap<PathBuf, usize> = HashMap::new();
    let mut problems = Problems::default();
    let mut lists = Vec::new();
    for (path, name) in paths {
        let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
        let at = match by_folder.get(&folder) {
            Some(at) => *at,
            None => {
                kits.push(kit_beside(path, &args.base)?);
                by_folder.insert(folder, kits.len() - 1);
                kits.len() - 1
            }
        };
        let Some(kit) = kits.get(at) else { continue };
        match audit_one(kit, at, path, name, on) {
            Ok(list) => lists.push(list),
            Err(wrong) => problems.0.extend(wrong.0),
        }
    }
    if !problems.0.is_empty() {
        problems.0.push(
            Problem::new("nothing was written")
                .help("put the lists right, or name those that are to be published one by one"),
        );
        return Err(problems);
    }
    Ok((kits, lists))
}

fn audit_one(kit: &Kit, at: usize, path: &Path, name: &str, on: Date) -> Result<Checked, Problems> {
    let source = read_source(path)?;
    let mut build = kit.read(&source, on)?;
    build.priced_on = on;
    let settled = settle(kit, &build)?;
    if !settled.left.is_empty() {
        return Err(Problems(settled.left));
    }
    let audit = kit.audit(&settled.build);
    let audited = Audited::new(&audit);
    if audited.ruling == Ruling::Broken {
        let mut broken = Problems(audited.broken.iter().map(|b| b.told()).collect());
        broken.0.push(Problem::new(format!("{} has no verdict", path.display())));
        return Err(broken);
    }
    let purpose = build.field("purpose").and_then(Val::as_text);
    let purpose = purpose.map_or_else(String::new, |t| t.to_string());
    let entry = Entry::of(name, &purpose, audit.build(), &audited);
    let code = audited.code;
    Ok(Checked {
        kit: at,
        build: settled.build,
        audit,
        code,
        entry,
        source: source.text.to_string(),
    })
}

/// The lists that stop, which are published only where that is asked for.
fn stops(lists: &[Checked]) -> Problems {
    let mut problems = Problems::default();
    for list in lists.iter().filter(|l| l.code == 1) {
        let audited = Audited::new(&list.audit);
        let counts = glance::counts(&audited, false);
        problems.push(
            Problem::new(format!("{} must not be built: {counts}", list.entry.name))
                .help("mend it, name the other lists only, or publish it so with --with-stops"),
        );
    }
    if !problems.0.is_empty() {
        problems.push(Problem::new("nothing was written"));
    }
    problems
}

/// Builds of one purpose and currency together, with their mixtures.
fn groups(args: &EditionArgs, kits: &[Kit], lists: &[Checked]) -> Vec<Group> {
    let mut groups: Vec<(Group, Vec<&Checked>)> = Vec::new();
    for (at, list) in lists.iter().enumerate() {
        let Some(index) = list.entry.index else { continue };
        let entry = &list.entry;
        let build = (at + 1, entry.title.clone(), entry.amount(), index);
        let same = |(g, _): &&mut (Group, Vec<&Checked>)| {
            g.purpose == entry.purpose && g.currency == entry.currency
        };
        match groups.iter_mut().find(same) {
            Some((group, of)) => {
                group.builds.push(build);
                of.push(list);
            }
            None => groups.push((
                Group {
                    purpose: entry.purpose.clone(),
                    currency: entry.currency.clone(),
                    builds: vec![build],
                    mixtures: Vec::new(),
                    notes: Vec::new(),
                },
                vec![list],
            )),
        }
    }
    let mut pairs = 0;
    for (group, of) in &mut groups {
        for (at, ours) in of.iter().enumerate() {
            for theirs in of.iter().skip(at + 1) {
                pairs += 1;
                if pairs > MOST_PAIRS {
                    group.notes.push("Not every pair of builds was mixed.".to_owned());
                    break;
                }
                add_mixtures(args, kits, group, ours, theirs);
            }
        }
        group.notes.dedup();
        group.mixtures.truncate(MOST_DRAWN);
    }
    groups.into_iter().map(|(group, _)| group).collect()
}

/// Adds the mixtures of two builds that nothing stops.
fn add_mixtures(
    args: &EditionArgs,
    kits: &[Kit],
    group: &mut Group,
    ours: &Checked,
    theirs: &Checked,
) {
    let both = format!("{} and {}", ours.entry.title, theirs.entry.title);
    let note = |group: &mut Group, why: &str| {
        group.notes.push(format!("{} were not mixed: {why}.", crate::words::clip(&both, 160)));
    };
    let Some(kit) = kits.get(ours.kit).filter(|_| ours.kit == theirs.kit) else {
        return note(group, "they are of two shops");
    };
    let rules = kit.rules();
    let at = rules.find(INDEX);
    let better = at.and_then(|at| rules.rules.get(at as usize)?.better);
    let (Some(at), Some(better)) = (at, better) else { return };
    let measure = Some((at, better == Better::More));
    let mixed = interrupt::search(args.limit.time(), |limits| {
        mix(kit, &ours.build, &theirs.build, measure, limits)
    });
    match mixed {
        Err(problems) => {
            let why = problems.0.first().map_or("", |p| p.message.as_str());
            note(group, why);
        }
        Ok(mixed) => {
            if !mixed.complete {
                note(group, "the search was ended before it was done");
                return;
            }
            // What nothing beats first: it is what the line is drawn through.
            let mut points: Vec<_> = mixed.passing.iter().collect();
            points.sort_by_key(|m| !m.on_front);
            let points =
                points.into_iter().filter_map(|m| Some((m.total.money.to_f64(), m.value?)));
            group.mixtures.extend(points.take(MOST_DRAWN / MOST_PAIRS));
        }
    }
}

/// Writes all files, each beside its place first; then each takes its place, the page last. Where
/// that fails, folders that were made for it go again.
fn write_all(folder: &Path, files: &[(PathBuf, String)]) -> Result<(), Problem> {
    let lists = folder.join("lists");
    let written = fs::create_dir_all(&lists)
        .map_err(|e| cannot(&lists, &e))
        .and_then(|()| written_in(folder, files));
    if written.is_err() {
        // What holds something stays.
        let _ = fs::remove_dir(&lists);
        let _ = fs::remove_dir(folder);
    }
    written
}

fn written_in(folder: &Path, files: &[(PathBuf, String)]) -> Result<(), Problem> {
    let mut ready = Vec::new();
    for (name, text) in files {
        let path = folder.join(name);
        let mut file = Beside::begin(&path)?;
        file.write_all(text.as_bytes()).map_err(|e| cannot(&path, &e))?;
        file.flush().map_err(|e| cannot(&path, &e))?;
        ready.push(file);
    }
    for file in ready {
        file.finish(|| Ok(()))?;
    }
    Ok(())
}
