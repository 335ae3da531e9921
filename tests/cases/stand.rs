//! What stands in a case's folder before its run and after: a run writes what the case says, and
//! nothing else.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::{Path, PathBuf};

/// Files below a folder, with the length and a stamp of each; links are not followed.
pub(crate) type Files = BTreeMap<PathBuf, (usize, u64)>;

/// Looks at a folder.
pub(crate) fn files(folder: &Path) -> Files {
    let mut files = Files::new();
    look(folder, folder, &mut files);
    files
}

fn look(root: &Path, folder: &Path, into: &mut Files) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let (path, kind) = (entry.path(), entry.file_type());
        let below = path.strip_prefix(root).unwrap_or(&path).to_path_buf();
        match kind {
            Ok(kind) if kind.is_dir() => look(root, &path, into),
            Ok(kind) if kind.is_file() => {
                let bytes = fs::read(&path).unwrap_or_default();
                let mut stamp = DefaultHasher::new();
                bytes.hash(&mut stamp);
                into.insert(below, (bytes.len(), stamp.finish()));
            }
            _ => {}
        }
    }
}

/// Writes the files that a case names anew from what the run left.
pub(crate) fn bless(wrote: &Path, folder: &Path) -> Result<(), String> {
    for file in files(wrote).keys() {
        fs::copy(folder.join(file), wrote.join(file))
            .map_err(|e| format!("{}: {e}", file.display()))?;
    }
    Ok(())
}

/// Says what the run wrote beside what the case names, and what it did not.
pub(crate) fn differ(wrote: &Path, before: &Files, after: &Files, wrong: &mut String) {
    let mut due = before.clone();
    due.extend(files(wrote));
    for file in due.keys().chain(after.keys().filter(|f| !due.contains_key(*f))) {
        let what = match (due.get(file), after.get(file)) {
            (a, b) if a == b => continue,
            (None, _) => "was written and is not named under `wrote`",
            (_, None) => "is not there afterwards",
            _ => "does not stand as it should",
        };
        let _ = writeln!(wrong, "{} {what}", file.display());
    }
}
