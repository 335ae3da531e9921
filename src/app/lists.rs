//! Which files are parts lists: those that are named, and those that lie in folders.

use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};

use toml::de::DeTable;

use crate::app::changed::Changed;
use crate::build::brief::BRIEF;
use crate::build::fields::BUILD_FIELDS;
use crate::build::read::{BESIDE, LINE};
use crate::catalogue::declared::Declared;
use crate::config;
use crate::layer::{MAX_BUILD_FOLDERS, MAX_BUILDS, read_source};
use crate::source::Problem;

/// A file to audit.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    /// Where it is; `-` for standard input.
    pub(crate) path: PathBuf,
    /// Whether the user named it; otherwise it lay in a folder that was named.
    pub(crate) named: bool,
}

/// What a TOML text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sort {
    /// A parts list, or one that cannot be read.
    List,
    Brief,
    /// A file of accepted findings.
    Accepted,
    Other,
}

impl Sort {
    /// Decides it by reading. What is cut short or empty is a list: it is audited, and says so. A
    /// key of a line that lost its head makes no brief.
    pub(crate) fn of(text: &str) -> Self {
        let (table, errors) = DeTable::parse_recoverable(text);
        let keys = || table.get_ref().iter().map(|(key, _)| &**key.get_ref());
        let has = |table: &Declared, key: &str| table.keys.iter().any(|k| k.name == key);
        let listed = |key: &str| {
            has(&BESIDE, key)
                || BUILD_FIELDS.iter().any(|f| f.name == key)
                || strsim::levenshtein(key, "line") <= 1
        };
        if keys().eq(["accepted"]) {
            Self::Accepted
        } else if keys().any(|key| has(&BRIEF, key) && !has(&LINE, key)) {
            Self::Brief
        } else if !errors.is_empty() || keys().next().is_none() || keys().any(listed) {
            Self::List
        } else {
            Self::Other
        }
    }
}

/// What is said of a file that is no parts list.
pub(crate) fn not_a_list(file: &str, sort: Sort) -> Problem {
    match sort {
        Sort::Brief => Problem::new(format!("{file} is a brief, not a parts list"))
            .help(format!("plan a list for it: dryfit plan {file}")),
        _ => Problem::new(format!("{file} is not a parts list"))
            .help("a parts list has `[[line]]` and below it `part = \"kind/name\"`"),
    }
}

/// The files that the arguments name: files as they are, folders with every TOML file under them
/// that may be a list, in order of path.
/// Errors: a folder that cannot be read, or that holds no TOML file.
pub(crate) fn entries(named: &[PathBuf]) -> Result<Vec<Entry>, Problem> {
    let mut entries = Vec::new();
    for path in named {
        if path.is_dir() {
            let before = entries.len();
            search(path, 0, &mut HashSet::new(), &mut entries)?;
            if entries.len() == before {
                return Err(no_list(path));
            }
        } else {
            entries.push(Entry { path: path.clone(), named: true });
        }
    }
    // Code hosts want paths without a dot in front.
    for entry in &mut entries {
        if let Ok(bare) = entry.path.strip_prefix(".")
            && bare.as_os_str() != "-"
        {
            entry.path = bare.to_path_buf();
        }
    }
    Ok(entries)
}

/// Whether a file may be a list by its name: a hook hands on whatever is committed.
pub(crate) fn may_be_a_list(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "toml")
}

/// The parts lists that the arguments name, each looked into; what is none is left out.
/// Errors: a folder that cannot be read, or holds no list.
pub(crate) fn only_lists(named: &[PathBuf]) -> Result<Vec<PathBuf>, Problem> {
    let is_list = |entry: &Entry| {
        entry.named
            || read_source(&entry.path).map_or(true, |source| Sort::of(&source.text) == Sort::List)
    };
    let lists: Vec<PathBuf> =
        entries(named)?.into_iter().filter(is_list).map(|entry| entry.path).collect();
    match (lists.is_empty(), named.first()) {
        (true, Some(first)) => Err(no_list(first)),
        _ => Ok(lists),
    }
}

/// What is said of a folder without a list.
pub(crate) fn no_list(folder: &Path) -> Problem {
    Problem::new(format!("{} holds no parts list", folder.display()))
        .help("a parts list is a .toml file with at least one `[[line]]`")
}

pub(crate) fn only_changed(entries: Vec<Entry>, changed: &Changed) -> Vec<Entry> {
    entries.into_iter().filter(|entry| changed.has(&entry.path)).collect()
}

fn search(
    folder: &Path,
    depth: usize,
    seen: &mut HashSet<PathBuf>,
    into: &mut Vec<Entry>,
) -> Result<(), Problem> {
    let cannot =
        |e: &std::io::Error| Problem::new(format!("cannot read {}: {e}", folder.display()));
    let real = fs::canonicalize(folder).map_err(|e| cannot(&e))?;
    // A link back up is a circle, and what was seen already is not seen twice.
    if !seen.insert(real) {
        return Ok(());
    }
    if depth > MAX_BUILD_FOLDERS {
        return Err(Problem::new(format!(
            "{} is more than {MAX_BUILD_FOLDERS} folders deep",
            folder.display()
        ))
        .help("name it on the command line"));
    }
    let mut paths = fs::read_dir(folder)
        .map_err(|e| cannot(&e))?
        .map(|e| e.map(|e| e.path()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| cannot(&e))?;
    paths.sort();
    for path in paths {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if name.starts_with('.') || name == config::NAME {
            continue;
        }
        if path.is_dir() {
            // What lies there is read as rules and parts.
            if name != "rules" && name != "catalogue" {
                search(&path, depth + 1, seen, into)?;
            }
        } else if may_be_a_list(&path) {
            if into.len() >= MAX_BUILDS {
                return Err(Problem::new(format!(
                    "more than {MAX_BUILDS} lists under {}",
                    folder.display()
                )));
            }
            into.push(Entry { path, named: false });
        }
    }
    Ok(())
}

#[cfg(test)]
#[path = "../../tests/unit/app/lists.rs"]
mod tests;
