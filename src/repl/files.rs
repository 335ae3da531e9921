//! Files under a trial: the layers a kit is loaded from, noticing that they changed, and saving a build whole or not at all.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use crate::kit::{Kit, Layers};
use crate::layer::{Layer, read_bytes};
use crate::source::{Problem, Problems};

/// Deepest folder that is looked into for changes.
const MAX_DEPTH: usize = 8;
/// A file that a killed save left behind is litter after this long.
const LITTER: Duration = Duration::from_secs(600);
/// What a Windows editor may put before a text.
const BOM: &[u8] = b"\xef\xbb\xbf";

/// The layers for a build: what the binary carries, the folders found beside the build, and those the user named.
///
/// # Errors
/// A folder that cannot be read.
pub fn layers(build: &Path, catalogue: Option<&Path>, rules: Option<&Path>) -> Result<Layers, Problems> {
    let mut layers = Layers::beside(build)?;
    if let Some(folder) = catalogue {
        layers.catalogue.push(Layer::read(folder)?);
    }
    if let Some(folder) = rules {
        layers.rules.push(Layer::read(folder)?);
    }
    Ok(layers)
}

/// Loads a kit.
///
/// # Errors
/// What is wrong with the folders.
pub fn load(layers: &Layers) -> Result<Kit, Problems> {
    Kit::load(layers)
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
        let differs = |a: &Self, b: &Self| a.0.iter().filter(|f| !b.0.contains(f)).map(|f| f.0.clone()).collect::<Vec<_>>();
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
            Ok(meta) if path.extension().is_some_and(|e| e == "toml" || e == "csv" || e == "rhai") => into.push((path, meta.modified().ok(), meta.len())),
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
}

impl OnDisk {
    /// Reads a file's bytes, for comparison later.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn read(path: &Path) -> Result<Self, Problem> {
        let bytes = read_bytes(path)?;
        Ok(Self { path: path.to_path_buf(), bytes })
    }

    /// Whether the file differs by now from what was read; one that is gone differs.
    pub fn changed(&self) -> bool {
        // What is no file, or of another length, need not be read.
        let alike = fs::metadata(&self.path).is_ok_and(|m| m.is_file() && m.len() == self.bytes.len() as u64);
        !alike || fs::read(&self.path).map_or(true, |now| now != self.bytes)
    }

    /// Writes a text over it and takes note of that; the file's byte-order mark, if it had one, stays.
    ///
    /// # Errors
    /// The file changed on disk and `force` is off, or it cannot be written.
    pub fn save(&mut self, text: &str, force: bool) -> Result<usize, Problem> {
        if !force && self.changed() {
            let what = if self.path.exists() { "changed on disk since it was read" } else { "is gone from the disk" };
            return Err(Problem::new(format!("{} {what}; nothing is written", self.path.display()))
                .help("`save!` writes all the same, `save OTHER-FILE` elsewhere, `reload` takes the file as it is now"));
        }
        let mut bytes = if self.bytes.starts_with(BOM) { BOM.to_vec() } else { Vec::new() };
        bytes.extend_from_slice(text.as_bytes());
        write_whole(&self.path, &bytes)?;
        self.bytes = bytes;
        Ok(self.bytes.len())
    }
}

/// Writes a file whole or not at all: beside it first, then in its place. Permissions stay.
///
/// # Errors
/// It cannot be written; what stood there stands there still.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    // A link stays a link: what it points at is replaced.
    let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let cannot = |e: &std::io::Error| Problem::new(format!("cannot write {}: {e}", path.display())).help("what stood there stands there still");
    let name = real.file_name().map(|n| n.to_string_lossy().into_owned()).ok_or_else(|| Problem::new(format!("{} is not a file's name", path.display())))?;
    let folder = real.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")).to_path_buf();
    if real.is_dir() {
        return Err(Problem::new(format!("{} is a folder, not a file", path.display())));
    }
    let held = fs::metadata(&real).ok();
    if held.as_ref().is_some_and(|m| m.permissions().readonly()) {
        return Err(Problem::new(format!("{} is read-only; nothing is written", path.display())).help("allow writing to it, or `save OTHER-FILE`"));
    }
    sweep(&folder, &name);
    let beside = folder.join(format!(".{name}.dryfit-{}", std::process::id()));
    let written = write_beside(&beside, bytes, held.map(|m| m.permissions())).and_then(|()| fs::rename(&beside, &real));
    if let Err(error) = written {
        let _ = fs::remove_file(&beside);
        return Err(cannot(&error));
    }
    // The new name is safe only once the folder is; where folders cannot be synced there is nothing to do about it.
    let _ = fs::File::open(&folder).and_then(|f| f.sync_all());
    Ok(())
}

fn write_beside(path: &Path, bytes: &[u8], permissions: Option<fs::Permissions>) -> std::io::Result<()> {
    let _ = fs::remove_file(path);
    let mut file = fs::OpenOptions::new().write(true).create_new(true).open(path)?;
    if let Some(permissions) = permissions {
        file.set_permissions(permissions)?;
    }
    file.write_all(bytes)?;
    file.sync_all()
}

/// Takes away what saves that were killed long ago left behind.
pub(crate) fn sweep(folder: &Path, name: &str) {
    let ours = format!(".{name}.dryfit-");
    let old = |p: &Path| fs::metadata(p).and_then(|m| m.modified()).ok().and_then(|t| t.elapsed().ok()).is_some_and(|age| age > LITTER);
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.file_name().to_string_lossy().starts_with(&ours) && old(&entry.path()) {
            let _ = fs::remove_file(entry.path());
        }
    }
}
