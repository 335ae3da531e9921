//! Files under a trial: the layers a kit is loaded from, noticing that they changed, and saving a
//! build whole or not at all.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::app::left_out;
use crate::disk;
use crate::kit::{Kit, Layers};
use crate::layer::read_bytes;
use crate::source::{Problem, Problems};

/// Deepest folder that is looked into for changes.
const MAX_DEPTH: usize = 8;
/// What a Windows editor may put before a text.
const BOM: &[u8] = b"\xef\xbb\xbf";

/// The layers for a build: what the binary carries, the folders found beside the build, and those
/// the user named.
///
/// # Errors
/// A folder that cannot be read.
pub fn layers(
    build: &Path,
    catalogue: Option<&Path>,
    rules: Option<&Path>,
) -> Result<Layers, Problems> {
    Layers::beside_with(build, rules, catalogue)
}

/// Loads a kit.
///
/// # Errors
/// What is wrong with the folders.
pub fn load(layers: &Layers) -> Result<Kit, Problems> {
    let kit = Kit::load(layers)?;
    left_out::note(kit.catalogue());
    Ok(kit)
}

/// How the files of some folders stood when they were last looked at.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Stamp(Vec<(PathBuf, Option<SystemTime>, u64)>);

impl Stamp {
    /// Looks at the folders of the layers.
    pub fn of(layers: &Layers) -> Self {
        let mut files = Vec::new();
        for layer in layers.catalogue.iter().chain(&layers.rules) {
            let folder = Path::new(&layer.label);
            if folder.is_dir() {
                look(folder, 0, &mut files);
            }
        }
        files.sort();
        Self(files)
    }

    /// The files that came, went or changed since, by path.
    pub fn changed(&self, now: &Self) -> Vec<PathBuf> {
        let differs = |a: &Self, b: &Self| {
            a.0.iter().filter(|f| !b.0.contains(f)).map(|f| f.0.clone()).collect::<Vec<_>>()
        };
        let mut changed = differs(self, now);
        changed.extend(differs(now, self));
        changed.sort();
        changed.dedup();
        changed
    }
}

fn look(folder: &Path, depth: usize, into: &mut Vec<(PathBuf, Option<SystemTime>, u64)>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for path in entries.filter_map(|e| e.ok().map(|e| e.path())) {
        if path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.')) {
            continue;
        }
        match fs::metadata(&path) {
            Ok(meta) if meta.is_dir() && depth < MAX_DEPTH => look(&path, depth + 1, into),
            Ok(meta)
                if path.extension().is_some_and(|e| e == "toml" || e == "csv" || e == "rhai") =>
            {
                into.push((path, meta.modified().ok(), meta.len()))
            }
            _ => {}
        }
    }
}

/// The build file as it stood when it was last read or written.
#[derive(Debug, Clone)]
pub struct OnDisk {
    /// Where it is.
    pub path: PathBuf,
    bytes: Vec<u8>,
    /// Whether the file is to be made.
    to_be: bool,
}

impl OnDisk {
    /// Reads a file's bytes, for comparison later.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn read(path: &Path) -> Result<Self, Problem> {
        let bytes = read_bytes(path)?;
        Ok(Self { path: path.to_path_buf(), bytes, to_be: false })
    }

    /// A file that is to be made.
    ///
    /// # Errors
    /// There is one already.
    pub fn to_be(path: &Path) -> Result<Self, Problem> {
        if path.exists() {
            let name = path.display();
            return Err(Problem::new(format!("{name} is there already; nothing was changed"))
                .help(format!("`dryfit try {name}` opens it; `--new OTHER.toml` starts another")));
        }
        Ok(Self { path: path.to_path_buf(), bytes: Vec::new(), to_be: true })
    }

    /// Whether just these bytes were read.
    pub fn holds(&self, bytes: &[u8]) -> bool {
        self.bytes == bytes
    }

    /// Whether the file differs by now from what was read; one that is gone differs.
    pub fn changed(&self) -> bool {
        if self.to_be {
            return self.path.exists();
        }
        // What is no file, or of another length, need not be read.
        let alike = fs::metadata(&self.path)
            .is_ok_and(|m| m.is_file() && m.len() == self.bytes.len() as u64);
        !alike || fs::read(&self.path).map_or(true, |now| now != self.bytes)
    }

    /// Whether it may be written over.
    ///
    /// # Errors
    /// The file changed on disk and `force` is off.
    pub fn check(&self, force: bool, instead: &str) -> Result<(), Problem> {
        if force || !self.changed() {
            return Ok(());
        }
        let what = if self.path.exists() {
            "changed on disk since it was read"
        } else {
            "is gone from the disk"
        };
        Err(Problem::new(format!("{} {what}; nothing is written", self.path.display()))
            .help(instead))
    }

    /// Writes a text over it and takes note of that; the file's byte-order mark, if it had one,
    /// stays. `instead` says what can be done where the file changed. Gives the bytes written, and
    /// what of the old file could not be kept.
    ///
    /// # Errors
    /// The file changed on disk and `force` is off, or it cannot be written.
    pub fn save(
        &mut self,
        text: &str,
        force: bool,
        instead: &str,
    ) -> Result<(usize, Vec<String>), Problem> {
        let unchanged = || self.check(force, instead);
        // Twice: at once, before anything is written beside it, and when no other session can come
        // between.
        unchanged()?;
        let mut bytes = if self.bytes.starts_with(BOM) { BOM.to_vec() } else { Vec::new() };
        bytes.extend_from_slice(text.as_bytes());
        let lost = disk::write_checked(&self.path, &bytes, unchanged)?;
        self.bytes = bytes;
        self.to_be = false;
        Ok((self.bytes.len(), lost))
    }
}
