//! What a file that is written anew keeps of the one that stood there, beside its permissions.

use std::fs::{File, Metadata};
use std::os::unix::fs::MetadataExt as _;
use std::path::Path;

use rustix::fs::{Gid, Uid, fchown};

/// Carries owner, group and extended attributes over to a new file; gives what could not be, in
/// words.
pub(super) fn keep(old: &Path, held: &Metadata, new: &File) -> Vec<String> {
    let mut lost = Vec::new();
    if held.nlink() > 1 {
        lost.push(format!(
            "{} had {} names; the others keep the old text",
            old.display(),
            held.nlink()
        ));
    }
    if let Ok(own) = new.metadata() {
        let owner = (own.uid() != held.uid()).then(|| Uid::from_raw(held.uid()));
        let group = (own.gid() != held.gid()).then(|| Gid::from_raw(held.gid()));
        if group.is_some() && fchown(new, None, group).is_err() {
            lost.push(format!("{} is of another group now", old.display()));
        }
        if owner.is_some() && fchown(new, owner, None).is_err() {
            lost.push(format!("{} is yours now; it was somebody else's", old.display()));
        }
    }
    lost.extend(attributes(old, new));
    lost
}

/// Carries extended attributes over; those that are not there to be read are the system's own.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn attributes(old: &Path, new: &File) -> Vec<String> {
    use rustix::fs::{XattrFlags, fsetxattr, getxattr, listxattr};

    /// Largest value and list of names of an attribute.
    const MOST: usize = 64 << 10;
    let mut names = vec![0u8; MOST];
    let Ok(length) = listxattr(old, &mut names[..]) else { return Vec::new() };
    let mut lost = Vec::new();
    for name in names.get(..length).unwrap_or(&[]).split(|b| *b == 0).filter(|n| !n.is_empty()) {
        let mut value = vec![0u8; MOST];
        let read = getxattr(old, name, &mut value[..]);
        let kept = read.is_ok_and(|length| {
            fsetxattr(new, name, value.get(..length).unwrap_or(&[]), XattrFlags::empty()).is_ok()
        });
        // What only the system may set it sets again by itself.
        if !kept && !name.starts_with(b"security.") && !name.starts_with(b"trusted.") {
            let name = String::from_utf8_lossy(name).into_owned();
            lost.push(format!("{} lost its attribute {name}", old.display()));
        }
    }
    lost
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn attributes(_: &Path, _: &File) -> Vec<String> {
    Vec::new()
}
