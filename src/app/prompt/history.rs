//! The history of the prompt: a file of the user's own, short, and with nothing in it twice.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use crate::app::prompt::command;

/// Most entries kept.
pub const MOST: usize = 500;
/// Longest entry kept, in bytes.
pub const LONGEST: usize = 500;
/// Largest file that is read.
const MAX_BYTES: u64 = 1 << 20;

/// The folder for what programs keep for a user, by the habits of the platform.
pub fn folder() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|p| p.is_absolute());
    let base = match set("XDG_DATA_HOME") {
        Some(folder) => folder,
        None if cfg!(windows) => set("LOCALAPPDATA")?,
        None if cfg!(target_os = "macos") => set("HOME")?.join("Library/Application Support"),
        None => set("HOME")?.join(".local/share"),
    };
    Some(base.join("dryfit"))
}

/// What was typed before, the oldest first.
#[derive(Debug, Default)]
pub struct History {
    path: Option<PathBuf>,
}

impl History {
    /// The history in the user's data folder; without a folder nothing is kept.
    pub fn of_user() -> Self {
        Self { path: folder().map(|f| f.join("history")) }
    }

    /// A history in a file of its own.
    pub fn at(path: &Path) -> Self {
        Self { path: Some(path.to_path_buf()) }
    }

    /// Every entry, the oldest first.
    pub fn entries(&self) -> Vec<String> {
        let Some(path) =
            self.path.as_ref().filter(|p| fs::metadata(p).is_ok_and(|m| m.len() <= MAX_BYTES))
        else {
            return Vec::new();
        };
        let text =
            fs::read(path).map(|b| String::from_utf8_lossy(&b).into_owned()).unwrap_or_default();
        text.lines().filter(|l| !l.is_empty()).map(unfold).collect()
    }

    /// Whether an entry is for keeping: a command that is understood, not too long, and not set off
    /// by a blank.
    pub fn keeps(entry: &str) -> bool {
        !entry.starts_with(char::is_whitespace)
            && !entry.trim().is_empty()
            && entry.len() <= LONGEST
            && matches!(command::parse(entry), Ok(Some(_)))
    }

    /// Adds an entry; the same entry further up is taken out. What cannot be written is let go.
    pub fn add(&self, entry: &str) {
        let Some(path) = self.path.as_ref().filter(|_| Self::keeps(entry)) else { return };
        // Read again: another prompt may have added to it.
        let mut entries = self.entries();
        entries.retain(|e| e != entry);
        entries.push(entry.to_owned());
        let from = entries.len().saturating_sub(MOST);
        let text: String = entries.iter().skip(from).map(|e| fold(e) + "\n").collect();
        let _ = write(path, text.as_bytes());
    }
}

/// One line an entry: line ends and backslashes are written with a backslash.
fn fold(entry: &str) -> String {
    entry.replace('\\', "\\\\").replace('\n', "\\n").replace('\r', "")
}

fn unfold(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    let mut letters = line.chars();
    while let Some(c) = letters.next() {
        match c {
            '\\' => match letters.next() {
                Some('n') => out.push('\n'),
                Some(other) => out.push(other),
                None => {}
            },
            // The file is only data: what acts on a terminal does not come back from it.
            c => out.push(crate::app::report::escape::inert_char(c)),
        }
    }
    out
}

/// Writes it whole, for its user's eyes only.
fn write(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let beside = path.with_extension(format!("new-{}", std::process::id()));
    make_folder(folder)?;
    let _ = fs::remove_file(&beside);
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options
        .open(&beside)
        .and_then(|mut file| file.write_all(bytes))
        .and_then(|()| fs::rename(&beside, path));
    if written.is_err() {
        let _ = fs::remove_file(&beside);
    }
    written
}

fn make_folder(folder: &Path) -> std::io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

#[cfg(test)]
#[path = "../../../tests/unit/app/prompt/history.rs"]
mod tests;
