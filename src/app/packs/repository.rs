//! A pack out of a git repository: the plain files of one commit, read from git's own store, so
//! that nothing of it is checked out and nothing of it runs.

use std::fs;
use std::path::{Path, PathBuf};

use crate::app::git::{blobs, git};
use crate::layer::{MAX_FILE_BYTES, MAX_FILES};
use crate::source::Problem;

/// A repository's store for as long as it is read.
pub(crate) struct Repository {
    store: PathBuf,
    address: String,
}

impl Drop for Repository {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.store);
    }
}

struct File {
    below: String,
    blob: String,
}

impl Repository {
    /// Takes a copy of a repository's store into a folder that is not there yet; an address that is
    /// a path starts from `from`.
    pub(crate) fn copy(address: &str, from: &Path, store: PathBuf) -> Result<Self, Problem> {
        let from = if from.as_os_str().is_empty() { Path::new(".") } else { from };
        let into = std::path::absolute(&store).unwrap_or_else(|_| store.clone());
        let into = into.to_string_lossy().into_owned();
        let copied = Self { store, address: address.to_owned() };
        let words =
            ["clone", "--quiet", "--bare", "--template=", "--no-local", "--", address, &into];
        git(from, &words).map_err(|why| {
            let why =
                match why.contains("could not read Username") || why.contains("terminal prompts") {
                    true => "it asks for a name and password, and nobody is asked here".to_owned(),
                    false => why,
                };
            Problem::new(format!("git cannot get {address}: {why}"))
        })?;
        Ok(copied)
    }

    pub(crate) fn commit(&self, revision: &str) -> Result<String, Problem> {
        let asked = format!("{revision}^{{commit}}");
        let words = ["rev-parse", "--verify", "--quiet", "--end-of-options", &asked];
        let said = git(&self.store, &words).map_err(|_| {
            Problem::new(format!("{} has no revision `{revision}`", self.address))
                .help("name one of its tags or commits")
        })?;
        Ok(String::from_utf8_lossy(&said).trim().to_owned())
    }

    /// Writes the files of a commit that a pack is made of into a new folder.
    /// Errors: it holds a link or another repository, names that lead elsewhere, or too much.
    pub(crate) fn write(&self, commit: &str, into: &Path) -> Result<(), Problem> {
        let files = self.files(commit)?;
        let names: Vec<String> = files.iter().map(|file| file.blob.clone()).collect();
        let wrong = |why: String| Problem::new(format!("{} cannot be read: {why}", self.address));
        let bytes = blobs(&self.store, &names).map_err(wrong)?;
        for (file, bytes) in files.iter().zip(bytes) {
            let path = into.join(&file.below);
            let folder = path.parent().unwrap_or(into);
            fs::create_dir_all(folder)
                .and_then(|()| fs::write(&path, bytes))
                .map_err(|e| Problem::new(format!("cannot write {}: {e}", path.display())))?;
        }
        Ok(())
    }

    fn files(&self, commit: &str) -> Result<Vec<File>, Problem> {
        let words = ["ls-tree", "-r", "-z", "-l", "--full-tree", commit];
        let said = git(&self.store, &words)
            .map_err(|why| Problem::new(format!("{} cannot be read: {why}", self.address)))?;
        let entries = said.split(|b| *b == 0).filter(|entry| !entry.is_empty());
        let refused = |what: String| {
            Err(Problem::new(format!("{} {what}", self.address))
                .help("a pack is plain files; nothing of it was taken"))
        };
        let (mut files, mut bytes) = (Vec::new(), 0u64);
        for (count, entry) in entries.enumerate() {
            if count >= MAX_FILES {
                return refused(format!("holds more than {MAX_FILES} files"));
            }
            let entry = String::from_utf8_lossy(entry);
            let Some((head, below)) = entry.split_once('\t') else { continue };
            let mut head = head.split_whitespace();
            let (mode, _, blob, size) = (head.next(), head.next(), head.next(), head.next());
            match mode {
                Some("120000") => return refused(format!("holds a link, {below}")),
                Some("160000") => return refused(format!("holds another repository, {below}")),
                _ => {}
            }
            let Some(blob) = blob.filter(|_| taken(below)) else { continue };
            if below.split('/').any(|name| name.is_empty() || leads_away(name)) {
                return refused(format!("has a file of a name that leads elsewhere, {below}"));
            }
            bytes += size.and_then(|size| size.parse().ok()).unwrap_or(0u64);
            if bytes > MAX_FILE_BYTES {
                return refused(format!("is larger than {} MiB", MAX_FILE_BYTES >> 20));
            }
            files.push(File { below: below.to_owned(), blob: blob.to_owned() });
        }
        Ok(files)
    }
}

/// Whether a file is one that a pack is made of; hidden names are passed over.
fn taken(below: &str) -> bool {
    let ours = [".toml", ".csv", ".rhai"].iter().any(|ending| below.ends_with(ending));
    let hidden = |name: &str| name.starts_with('.') && name != "..";
    ours && !below.split('/').any(hidden)
}

fn leads_away(name: &str) -> bool {
    name == ".." || name.contains(['\\', ':']) || name.contains(char::is_control)
}
