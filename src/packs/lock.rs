//! `dryfit.lock`: which commit of each pack is in use, and the checksum of its files.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{read_if_there, unfetched};
use crate::config::Pack;
use crate::disk;
use crate::source::{Problem, Span};

/// The file's name, beside `dryfit.toml`.
pub const NAME: &str = "dryfit.lock";

const HEAD: &str = "# Which commit of each pack is in use. Written by: dryfit rules fetch\n\n";

/// The lock of a shop.
#[derive(Debug, Default, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lock {
    /// Its packs from git, in order of name.
    #[serde(default)]
    pub pack: Vec<Locked>,
}

/// A pack as it was fetched.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Locked {
    /// What the shop calls it.
    pub name: String,
    /// The repository's address.
    pub git: String,
    /// What `dryfit.toml` asks for.
    pub revision: String,
    /// The commit that it was.
    pub commit: String,
    /// The checksum of its files.
    pub sha256: String,
}

impl Lock {
    /// The lock in a folder; an empty one where there is none.
    /// Errors: it cannot be read, or is no lock.
    pub fn read(folder: &Path) -> Result<Self, Problem> {
        let Some(source) = read_if_there(&folder.join(NAME))? else { return Ok(Self::default()) };
        toml::from_str(&source.text).map_err(|error| {
            let span = error.span().map_or_else(Span::default, Span::from);
            Problem::new(format!("{} is not understood", source.name))
                .at(&source, span, error.message().to_owned())
                .help("write it anew: dryfit rules fetch")
        })
    }

    /// The entry of a pack, for the address and revision that the shop asks for.
    /// Errors: it was never fetched, or the shop asks for another by now.
    pub(super) fn of(
        &self,
        pack: &Pack,
        address: &str,
        revision: &str,
    ) -> Result<&Locked, Problem> {
        let Some(entry) = self.pack.iter().find(|entry| entry.name == pack.name) else {
            return Err(unfetched(pack, &format!("{NAME} does not have it")));
        };
        let is_hash = |text: &str, lengths: &[usize]| {
            lengths.contains(&text.len()) && text.bytes().all(|b| b.is_ascii_hexdigit())
        };
        if !is_hash(&entry.commit, &[40, 64]) || !is_hash(&entry.sha256, &[64]) {
            let why = format!("{NAME} gives it no commit, or no checksum");
            return Err(unfetched(pack, &why));
        }
        if self.pack.iter().filter(|other| other.name == pack.name).count() > 1 {
            return Err(unfetched(pack, &format!("{NAME} has it more than once")));
        }
        if entry.git != address || entry.revision != revision {
            let why = format!("{NAME} has {} of {}", entry.revision, entry.git);
            return Err(unfetched(pack, &why));
        }
        Ok(entry)
    }

    /// Writes it whole.
    /// Errors: the file cannot be written; the old one is left unchanged.
    pub fn write(&self, folder: &Path) -> Result<(), Problem> {
        let text = toml::to_string(self)
            .map_err(|error| Problem::new(format!("{NAME} cannot be written: {error}")))?;
        disk::write_whole(&folder.join(NAME), format!("{HEAD}{text}").as_bytes(), true)
    }
}
