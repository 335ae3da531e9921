//! Packs: rules and parts of others, laid between what the program carries and what the shop has of
//! its own. Reading one runs nothing and asks no network.

mod check;
pub mod lock;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use semver::{Version, VersionReq};
use sha2::{Digest, Sha256};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::catalogue::field_reader::{key_span, sound};
use crate::config::{Config, Origin, Pack};
use crate::layer::{Layer, MAX_DEPTH, MAX_FILES, read_source};
use crate::source::{Problem, Problems, Source};
use lock::Lock;

/// The file in a pack that says what it is.
pub const CARD: &str = "pack.toml";
/// Where packs from git are kept, below the folder of `dryfit.toml`.
pub const KEPT: &str = ".dryfit/packs";
/// Keys of `pack.toml`.
const CARD_KEYS: &[&str] = &["name", "version", "needs", "about"];

/// A pack as its files have it.
#[derive(Debug)]
pub struct Held {
    /// Its version, as its `pack.toml` has it; empty when it says none.
    pub version: String,
    /// Its rules, when it has any.
    pub rules: Option<Layer>,
    /// Its parts, kinds, tables and offers, when it has any.
    pub catalogue: Option<Layer>,
    /// The checksum of its files.
    pub sha256: String,
}

/// Where the files of a pack are.
pub fn folder_of(config: &Config, pack: &Pack) -> PathBuf {
    match &pack.origin {
        Origin::Folder(folder) => folder.clone(),
        Origin::Git { .. } => config.folder.join(KEPT).join(&pack.name),
    }
}

/// Reads every pack of a shop and holds it to what the shop said of it, to the lock, to what is
/// `below` it (rules, catalogue), and to the other packs.
/// Errors: a pack that is not here, is not what was fetched, needs another dryfit, or has names of
/// others.
pub(crate) fn read_all(
    config: &Config,
    below: (&[Layer], &[Layer]),
) -> Result<Vec<Held>, Problems> {
    if config.packs.is_empty() {
        return Ok(Vec::new());
    }
    let from_git = config.packs.iter().any(|pack| matches!(pack.origin, Origin::Git { .. }));
    let lock = if from_git { Lock::read(&config.folder)? } else { Lock::default() };
    let mut problems = Problems::default();
    let mut held: Vec<(&Pack, Held)> = Vec::with_capacity(config.packs.len());
    for pack in &config.packs {
        match read(config, pack, &lock) {
            Ok(one) => held.push((pack, one)),
            Err(more) => problems.0.extend(more.0),
        }
    }
    check::against_others(&held, below, &mut problems);
    problems.or(held.into_iter().map(|(_, held)| held).collect())
}

fn read(config: &Config, pack: &Pack, lock: &Lock) -> Result<Held, Problems> {
    let folder = folder_of(config, pack);
    let locked = match &pack.origin {
        Origin::Folder(_) => None,
        Origin::Git { address, revision } => {
            let entry = lock.of(pack, address, revision)?;
            if !folder.is_dir() {
                return Err(unfetched(pack, "it is not here").into());
            }
            Some(entry)
        }
    };
    let held = read_folder(&folder, &pack.name, &pack.prefix)?;
    if let Some(needs) = &pack.needs {
        check_needs(&pack.name, &needs.value, &needs.place.source, needs.place.span)?;
    }
    if let Some(wanted) = pack.sha256.as_ref().filter(|wanted| wanted.value != held.sha256) {
        return Err(Problem::new(format!(
            "the files of pack `{}` are not those wanted",
            pack.name
        ))
        .at(&wanted.place.source, wanted.place.span, "this checksum is wanted")
        .help(format!("theirs is {}; find out what changed before you take it over", held.sha256))
        .into());
    }
    if locked.is_some_and(|locked| locked.sha256 != held.sha256) {
        return Err(Problem::new(format!(
            "the files of pack `{}` are not those that were fetched",
            pack.name
        ))
        .at(&pack.place.source, pack.place.span, "here")
        .help(format!(
            "{} or {} was changed by hand; take the files again: dryfit rules fetch",
            folder.display(),
            lock::NAME
        ))
        .into());
    }
    Ok(held)
}

fn unfetched(pack: &Pack, why: &str) -> Problem {
    Problem::new(format!("pack `{}` is not fetched: {why}", pack.name))
        .at(&pack.place.source, pack.place.span, "here")
        .help("get it: dryfit rules fetch")
}

/// Reads a pack's folder, and holds it to the rules for packs as far as they need no other folder.
/// Errors: it cannot be read, has names that do not begin with its prefix, or decides what is a
/// shop's to decide.
pub fn read_folder(folder: &Path, name: &str, prefix: &str) -> Result<Held, Problems> {
    hold_files(folder, 0, &mut MAX_FILES.clone())?;
    let whole = Layer::read(folder)?;
    let sha256 = checksum(&whole);
    let mut problems = Problems::default();
    if whole.alone {
        let said = format!("pack `{name}` would stand alone, without the rules below it");
        problems.push(Problem::new(said).help("take its layer.toml away"));
    }
    let card = whole.files.iter().find(|(below, _)| below == CARD).map(|(_, source)| source);
    let version = card.map(|source| read_card(source, name, &mut problems)).unwrap_or_default();
    let label = match version.as_str() {
        "" => format!("pack {name}"),
        version => format!("pack {name} {version}"),
    };
    let part = |below: &str| {
        let files: Vec<(String, Arc<Source>)> = whole
            .files
            .iter()
            .filter_map(|(path, source)| {
                Some((path.strip_prefix(below)?.to_owned(), source.clone()))
            })
            .collect();
        (!files.is_empty()).then(|| Layer {
            label: label.clone(),
            alone: false,
            replaces: Vec::new(),
            files,
        })
    };
    let held = Held { version, rules: part("rules/"), catalogue: part("catalogue/"), sha256 };
    if held.rules.is_none() && held.catalogue.is_none() {
        let said = format!("{} holds no pack", folder.display());
        problems.push(Problem::new(said).help("a pack has a folder `rules`, `catalogue`, or both"));
    }
    check::names(&held, name, prefix, &mut problems);
    problems.or(held)
}

/// Looks whether a folder has no more files than a pack may, whatever they are.
fn hold_files(folder: &Path, depth: usize, left: &mut usize) -> Result<(), Problem> {
    let Ok(entries) = folder.read_dir() else { return Ok(()) };
    for entry in entries.flatten().filter(|e| !e.file_name().as_encoded_bytes().starts_with(b".")) {
        let Some(fewer) = left.checked_sub(1) else {
            return Err(Problem::new(format!(
                "{} holds more than {MAX_FILES} files, and is no pack",
                folder.display()
            )));
        };
        *left = fewer;
        // Links are not followed here: reading says where one leads out.
        if depth < MAX_DEPTH && entry.file_type().is_ok_and(|sort| sort.is_dir()) {
            hold_files(&entry.path(), depth + 1, left)?;
        }
    }
    Ok(())
}

fn read_card(source: &Arc<Source>, name: &str, problems: &mut Problems) -> String {
    let Some(parsed) = sound(source, problems) else { return String::new() };
    let mut version = String::new();
    for (key, value) in parsed.get_ref() {
        let key_name = &**key.get_ref();
        if !CARD_KEYS.contains(&key_name) {
            let problem = Problem::new(format!("{CARD} has no `{key_name}`"))
                .at(source, key_span(key), "unknown")
                .suggest(key_name, CARD_KEYS.iter().copied());
            problems.push(problem);
            continue;
        }
        let Some(text) = text(value) else {
            let problem = Problem::new("a text is wanted here");
            problems.push(problem.at(source, value.span().into(), "here"));
            continue;
        };
        match key_name {
            "version" => version = text.to_owned(),
            "name" if !crate::config::packs::is_pack_name(text) => {
                let problem = Problem::new(format!("`{text}` is no name of a pack"));
                problems.push(problem.at(source, value.span().into(), "here"));
            }
            "needs" => match VersionReq::parse(text) {
                Ok(needs) => {
                    let span = value.span().into();
                    if let Err(problem) = check_needs(name, &needs, source, span) {
                        problems.push(problem);
                    }
                }
                Err(_) => {
                    let said = "versions of dryfit are wanted here, such as \">= 0.1\"";
                    problems.push(Problem::new(said).at(source, value.span().into(), "not one"));
                }
            },
            _ => {}
        }
    }
    version
}

fn text<'v>(value: &'v Spanned<DeValue<'_>>) -> Option<&'v str> {
    value.get_ref().as_str().map(str::trim).filter(|text| !text.is_empty())
}

fn check_needs(
    name: &str,
    needs: &VersionReq,
    source: &Arc<Source>,
    span: crate::source::Span,
) -> Result<(), Problem> {
    let own = env!("CARGO_PKG_VERSION");
    match Version::parse(own) {
        Ok(version) if needs.matches(&version) => Ok(()),
        _ => Err(Problem::new(format!("pack `{name}` is for dryfit {needs}, and this is {own}"))
            .at(source, span, "this version is wanted")
            .help("take a dryfit of that version, or another version of the pack")),
    }
}

/// The checksum of a folder's files: SHA-256 over path, length and bytes of each, in order of path.
pub fn checksum(layer: &Layer) -> String {
    let mut hash = Sha256::new();
    for (below, source) in &layer.files {
        hash.update(below.as_bytes());
        hash.update([0]);
        hash.update(source.text.len().to_string().as_bytes());
        hash.update([0]);
        hash.update(source.text.as_bytes());
    }
    hash.finalize().iter().fold(String::with_capacity(64), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// The parts that a file of parts gives, each with where its heading stands.
fn parts_of(source: &Arc<Source>) -> Vec<(String, crate::source::Span)> {
    let (table, _) = DeTable::parse_recoverable(&source.text);
    let table = table.get_ref();
    let kind = table.get("kind").and_then(text).unwrap_or_default();
    table
        .iter()
        .filter(|(_, value)| value.get_ref().is_table())
        .map(|(key, _)| (format!("{kind}/{}", key.get_ref()), key_span(key)))
        .collect()
}

/// Reads what a lock or a file of the shop says, where a file that is missing says nothing.
fn read_if_there(path: &Path) -> Result<Option<Arc<Source>>, Problem> {
    match path.symlink_metadata() {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        _ => read_source(path).map(Some),
    }
}
