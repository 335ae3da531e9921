//! Noticing that a file of rules or of the catalogue came, went or changed.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::kit::Layers;

/// Deepest folder that is looked into for changes.
const MAX_DEPTH: usize = 8;

/// How the files of some folders stood when they were last looked at.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Stamp(Vec<(PathBuf, Option<SystemTime>, u64)>);

impl Stamp {
    /// Looks at the folders of the layers.
    pub(crate) fn of(layers: &Layers) -> Self {
        let all = layers.catalogue.iter().chain(&layers.rules);
        Self::of_folders(all.map(|layer| Path::new(&layer.label)))
    }

    /// Looks at folders; what is no folder is passed over.
    pub(crate) fn of_folders<'p>(folders: impl Iterator<Item = &'p Path>) -> Self {
        let mut files = Vec::new();
        folders.filter(|f| f.is_dir()).for_each(|folder| look(folder, 0, &mut files));
        files.sort();
        Self(files)
    }

    /// The files that came, went or changed since, by path.
    pub(crate) fn changed(&self, now: &Self) -> Vec<PathBuf> {
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
