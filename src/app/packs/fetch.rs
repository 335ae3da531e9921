//! `dryfit rules fetch`: gets the packs from git that a shop names, and writes down which commits
//! they are. Nothing that stands is touched before everything is here and checked.

use std::fs;
use std::path::{Path, PathBuf};

use super::repository::Repository;
use crate::config::{Config, Origin, Pack};
use crate::kit::Layers;
use crate::packs::lock::{Lock, Locked};
use crate::packs::{KEPT, folder_of, read_folder};
use crate::source::{Problem, Problems};

/// What became of one pack.
pub(crate) struct Fetched {
    /// What the shop calls it.
    pub(crate) name: String,
    pub(crate) said: String,
}

/// A pack's new files, not yet in their place.
struct Fresh {
    files: PathBuf,
    locked: Locked,
}

/// Fetches every pack that is not here as the lock has it; with `update`, looks again what each
/// revision is today.
/// Errors: a pack that cannot be got, is not what the lock says, or does not go with the others.
pub(crate) fn fetch(config: &Config, update: bool) -> Result<Vec<Fetched>, Problems> {
    let lock = Lock::read(&config.folder)?;
    let work = Work::new(config)?;
    let mut fresh: Vec<(usize, Fresh)> = Vec::new();
    let mut checked = config.clone();
    let mut problems = Problems::default();
    for (at, pack) in config.packs.iter().enumerate() {
        let Origin::Git { address, revision } = &pack.origin else { continue };
        let held = lock.pack.iter().find(|entry| {
            entry.name == pack.name && entry.git == *address && entry.revision == *revision
        });
        match one(config, pack, held.filter(|_| !update), &work, address, revision) {
            Ok(None) => {}
            Ok(Some(new)) => {
                if let Some(checked) = checked.packs.get_mut(at) {
                    checked.origin = Origin::Folder(new.files.clone());
                }
                fresh.push((at, new));
            }
            Err(more) => problems.0.extend(more.0),
        }
    }
    if !problems.0.is_empty() {
        return Err(problems);
    }
    // All of them together, as an audit will read them.
    Layers::built_in().lay_packs(&checked)?;
    let mut new_lock = Lock::default();
    let mut said = Vec::with_capacity(config.packs.len());
    for (at, pack) in config.packs.iter().enumerate() {
        let new = fresh.iter().find(|(of, _)| *of == at).map(|(_, new)| new);
        let held = lock.pack.iter().find(|entry| entry.name == pack.name);
        let sentence = match (&pack.origin, new) {
            (Origin::Folder(folder), _) => format!("the folder {}", folder.display()),
            (Origin::Git { .. }, None) => {
                new_lock.pack.extend(held.cloned());
                "as it was".to_owned()
            }
            (Origin::Git { .. }, Some(new)) => {
                work.place(&new.files, &folder_of(config, pack))?;
                new_lock.pack.push(new.locked.clone());
                sentence(held, &new.locked)
            }
        };
        said.push(Fetched { name: pack.name.clone(), said: sentence });
    }
    new_lock.pack.sort_by(|a, b| a.name.cmp(&b.name));
    if new_lock.pack != lock.pack {
        new_lock.write(&config.folder)?;
    }
    Ok(said)
}

fn sentence(held: Option<&Locked>, new: &Locked) -> String {
    let short = |commit: &str| commit.get(..12).unwrap_or(commit).to_owned();
    match held {
        Some(held) if held.commit != new.commit => {
            format!("{} is {}, was {}", new.revision, short(&new.commit), short(&held.commit))
        }
        Some(_) => format!("fetched again, {}", short(&new.commit)),
        None => format!("{} is {}", new.revision, short(&new.commit)),
    }
}

fn one(
    config: &Config,
    pack: &Pack,
    held: Option<&Locked>,
    work: &Work,
    address: &str,
    revision: &str,
) -> Result<Option<Fresh>, Problems> {
    let folder = folder_of(config, pack);
    if let Some(held) = held
        && read_folder(&folder, &pack.name, &pack.prefix).is_ok_and(|r| r.sha256 == held.sha256)
    {
        return Ok(None);
    }
    let at = |problem: Problem| problem.at(&pack.place.source, pack.place.span, "here");
    let store = work.folder.join(format!("{}.git", pack.name));
    let repository = Repository::copy(address, &config.folder, store).map_err(at)?;
    let commit = match held {
        Some(held) => repository.commit(&held.commit),
        None => repository.commit(revision),
    }
    .map_err(at)?;
    let files = work.folder.join(&pack.name);
    repository.write(&commit, &files).map_err(at)?;
    let read = read_folder(&files, &pack.name, &pack.prefix)?;
    if let Some(held) = held.filter(|held| held.sha256 != read.sha256) {
        return Err(at(Problem::new(format!(
            "pack `{}` is not what the lock says: commit {} has other files",
            pack.name, held.commit
        )))
        .help("find out who changed dryfit.lock; `dryfit rules fetch --update` writes it anew")
        .into());
    }
    let locked = Locked {
        name: pack.name.clone(),
        git: address.to_owned(),
        revision: revision.to_owned(),
        commit,
        sha256: read.sha256,
    };
    Ok(Some(Fresh { files, locked }))
}

/// A folder beside the kept packs, gone when the work is done.
struct Work {
    folder: PathBuf,
}

impl Work {
    fn new(config: &Config) -> Result<Self, Problem> {
        let folder = config.folder.join(KEPT).join(format!(".new-{}", std::process::id()));
        let cannot = |e| Problem::new(format!("cannot write {}: {e}", folder.display()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).map_err(cannot)?;
        Ok(Self { folder })
    }

    /// Puts a folder where another may stand.
    fn place(&self, new: &Path, at: &Path) -> Result<(), Problem> {
        let cannot = |e| Problem::new(format!("cannot write {}: {e}", at.display()));
        let old = self.folder.join("old");
        let _ = fs::remove_dir_all(&old);
        if at.symlink_metadata().is_ok() {
            fs::rename(at, &old).map_err(cannot)?;
        }
        fs::rename(new, at).map_err(cannot)
    }
}

impl Drop for Work {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}
