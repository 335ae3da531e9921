//! A build file that is read and saved, whole or not at all, and only as it was read.

use std::fs;
use std::path::{Path, PathBuf};

use crate::disk;
use crate::layer::read_bytes;
use crate::source::Problem;

/// What a Windows editor may put before a text.
const BOM: &[u8] = b"\xef\xbb\xbf";

/// The build file as it stood when it was last read or written.
#[derive(Debug, Clone)]
pub struct OnDisk {
    pub path: PathBuf,
    bytes: Vec<u8>,
    /// Whether the file is to be made.
    to_be: bool,
}

impl OnDisk {
    /// Reads a file's bytes, for comparison later.
    pub fn read(path: &Path) -> Result<Self, Problem> {
        let bytes = read_bytes(path)?;
        Ok(Self { path: path.to_path_buf(), bytes, to_be: false })
    }

    /// A file that is to be made.
    /// Errors: there is one already.
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
    /// Errors: the file changed on disk and `force` is off.
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
    /// Errors: the file changed on disk and `force` is off, or it cannot be written.
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
