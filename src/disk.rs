//! Files written whole or not at all: beside first, then in their place, one writer after the
//! other.

#[cfg(unix)]
mod kept;
#[cfg(not(unix))]
mod kept {
    //! Where files have no owner, group or other names.

    pub(super) fn keep(
        _: &std::path::Path,
        _: &std::fs::Metadata,
        _: &std::fs::File,
    ) -> Vec<String> {
        Vec::new()
    }
}

use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::source::Problem;

/// A file that a killed write left behind is litter after this long.
const LITTER: Duration = Duration::from_secs(600);
/// How long another writer of the same file is waited for; a write takes some milliseconds.
const PATIENCE: Duration = Duration::from_secs(2);
/// How often it is looked whether the other is done.
const GLANCE: Duration = Duration::from_millis(5);
/// What is written at a time.
const CHUNK: usize = 1 << 20;

/// Names that files have while they are written. Who holds it gives or takes such a name.
static NAMED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn named() -> MutexGuard<'static, Vec<PathBuf>> {
    NAMED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The process ends now: takes away what is half written, and keeps any more from being begun. A
/// file that is being put in its place is there first.
#[cfg(feature = "app")]
pub(crate) fn abandon() {
    let names = named();
    for name in names.iter() {
        let _ = fs::remove_file(name);
    }
    std::mem::forget(names);
}

/// A file that grows beside another and takes its place at the end, or goes away.
pub(crate) struct Beside {
    /// As it was named, for words.
    named: PathBuf,
    /// Where it is once links are followed: a link stays a link.
    real: PathBuf,
    /// The name it has meanwhile; none where a file can be written before it has one.
    beside: Option<PathBuf>,
    out: BufWriter<File>,
    finished: bool,
    /// What of the file that stood there could not be kept.
    lost: Vec<String>,
}

impl Beside {
    /// Begins to write a file, whether there is one already or not.
    /// Errors: it is no file, read-only, or its folder cannot be written.
    pub(crate) fn begin(path: &Path) -> Result<Self, Problem> {
        let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let name = real
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .ok_or_else(|| Problem::new(format!("{} is not a file's name", path.display())))?;
        let held = fs::metadata(&real).ok();
        if let Some(held) = &held {
            refuse(path, held)?;
        }
        let folder = folder_of(&real);
        sweep(folder, &name);
        let (file, beside) = match unnamed(folder) {
            Some(file) => (file, None),
            None => {
                let beside = folder.join(beside_name(&name));
                // Of a process that was killed, whose number this one has now.
                let _ = fs::remove_file(&beside);
                let mut names = named();
                let file = fs::OpenOptions::new().write(true).create_new(true).open(&beside);
                let file = file.map_err(|e| cannot(path, &e))?;
                names.push(beside.clone());
                (file, Some(beside))
            }
        };
        let out = BufWriter::with_capacity(CHUNK, file);
        let (named, lost) = (path.to_path_buf(), Vec::new());
        let mut begun = Self { named, real, beside, out, finished: false, lost };
        // Before anything is in it: what only some may read stays so.
        if let Some(held) = held {
            begun.lost = kept::keep(&begun.real, &held, begun.out.get_ref());
            begun
                .out
                .get_ref()
                .set_permissions(held.permissions())
                .map_err(|e| cannot(path, &e))?;
        }
        Ok(begun)
    }

    /// Where the file stands, links followed.
    pub(crate) fn place(&self) -> &Path {
        &self.real
    }

    /// How large it is so far, in bytes.
    pub(crate) fn size(&mut self) -> io::Result<u64> {
        self.out.flush()?;
        Ok(self.out.get_ref().metadata()?.len())
    }

    /// Puts what was written in the file's place. No other writer comes between `check` and that.
    /// Errors: what `check` says, or it cannot be written; an existing file is unchanged.
    pub(crate) fn finish(self, check: impl FnOnce() -> Result<(), Problem>) -> Result<(), Problem> {
        self.put(check, true).map(|_| ())
    }

    /// The same where nothing stands yet.
    /// Errors: something stands there by now, or it cannot be written.
    pub(crate) fn finish_new(self) -> Result<(), Problem> {
        self.put(|| Ok(()), false).map(|_| ())
    }

    fn put(
        mut self,
        check: impl FnOnce() -> Result<(), Problem>,
        over: bool,
    ) -> Result<Vec<String>, Problem> {
        let named = self.named.clone();
        let cannot = |e: io::Error| cannot(&named, &e);
        self.out.flush().and_then(|()| self.out.get_ref().sync_all()).map_err(cannot)?;
        let _turn = turn(&self.real).map_err(cannot)?;
        check()?;
        self.place_at(over).map_err(cannot)?;
        self.finished = true;
        // The new name is safe only once the folder is; where folders cannot be synced there is
        // nothing to do about it.
        let _ = File::open(folder_of(&self.real)).and_then(|f| f.sync_all());
        Ok(std::mem::take(&mut self.lost))
    }

    /// Gives the file its name. Nothing with another name is left by whoever is killed here, but
    /// for the moment between two calls where one name has to take the place of another.
    fn place_at(&mut self, over: bool) -> io::Result<()> {
        let _named = named();
        match (&self.beside, over) {
            (Some(beside), true) => fs::rename(beside, &self.real),
            (Some(beside), false) => place_new(beside, &self.real),
            (None, false) => link(self.out.get_ref(), &self.real).map_err(|e| match e.kind() {
                io::ErrorKind::AlreadyExists => {
                    io::Error::other("it is there by now, written by something else")
                }
                _ => e,
            }),
            (None, true) => {
                let name = self.real.file_name().map(|n| n.to_string_lossy().into_owned());
                let beside = folder_of(&self.real).join(beside_name(&name.unwrap_or_default()));
                let _ = fs::remove_file(&beside);
                link(self.out.get_ref(), &beside)?;
                self.beside = Some(beside.clone());
                fs::rename(&beside, &self.real)
            }
        }
    }
}

impl Write for Beside {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.out.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        let Some(beside) = &self.beside else { return };
        let mut names = named();
        names.retain(|name| name != beside);
        if !self.finished {
            let _ = fs::remove_file(beside);
        }
    }
}

/// Refuses a file that is there already, unless it may be overwritten.
/// Errors: it is there, with what to do about it as help.
#[cfg(feature = "app")]
pub(crate) fn must_be_new(
    path: &Path,
    force: bool,
    help: impl Into<String>,
) -> Result<(), Problem> {
    if force || !path.exists() {
        return Ok(());
    }
    let problem = format!("{} is there already; nothing is written", path.display());
    Err(Problem::new(problem).help(help))
}

/// Writes a file whole or not at all, over an existing one only where `over` allows it.
/// Permissions stay.
/// Errors: it cannot be written; an existing file is unchanged.
pub fn write_whole(path: &Path, bytes: &[u8], over: bool) -> Result<(), Problem> {
    let written = begun(path, bytes)?;
    if over { written.finish(|| Ok(())) } else { written.finish_new() }
}

/// The same over what stands there, unless `check` refuses when this writer's turn has come. Gives
/// what of the old file could not be kept: owner, group, extended attributes, other names.
/// Errors: what `check` says, or it cannot be written; an existing file is unchanged.
pub fn write_checked(
    path: &Path,
    bytes: &[u8],
    check: impl FnOnce() -> Result<(), Problem>,
) -> Result<Vec<String>, Problem> {
    begun(path, bytes)?.put(check, true)
}

fn begun(path: &Path, bytes: &[u8]) -> Result<Beside, Problem> {
    let mut file = Beside::begin(path)?;
    file.write_all(bytes).map_err(|e| cannot(path, &e))?;
    Ok(file)
}

pub(crate) fn cannot(path: &Path, error: &io::Error) -> Problem {
    Problem::new(format!("cannot write {}: {error}", path.display()))
        .help("nothing was changed: check that the folder exists and that you may write there")
}

/// Devices and pipes are not replaced by a file, and a file that its owner closed is not either.
fn refuse(path: &Path, held: &fs::Metadata) -> Result<(), Problem> {
    if held.is_dir() {
        return Err(Problem::new(format!("{} is a folder, not a file", path.display())));
    }
    if !held.is_file() {
        return Err(Problem::new(format!(
            "{} is a device or a pipe, not a file; nothing is written",
            path.display()
        ))
        .help("name a file"));
    }
    if held.permissions().readonly() {
        return Err(Problem::new(format!("{} is read-only; nothing is written", path.display()))
            .help("allow writing to it, or name another file"));
    }
    Ok(())
}

fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// A file of a folder that has no name yet, so that nothing is left of it when the program is
/// killed; none where the system has no such files.
#[cfg(target_os = "linux")]
fn unnamed(folder: &Path) -> Option<File> {
    use rustix::fs::{Mode, OFlags};
    // A name is given by way of this folder.
    if !Path::new("/proc/self/fd").is_dir() {
        return None;
    }
    let flags = OFlags::TMPFILE | OFlags::RDWR | OFlags::CLOEXEC;
    rustix::fs::open(folder, flags, Mode::from_raw_mode(0o666)).ok().map(File::from)
}

#[cfg(not(target_os = "linux"))]
fn unnamed(_: &Path) -> Option<File> {
    None
}

/// Gives a name to a file that has none; fails where the name is taken.
#[cfg(target_os = "linux")]
fn link(file: &File, path: &Path) -> io::Result<()> {
    use std::os::fd::AsRawFd as _;

    use rustix::fs::{AtFlags, CWD};
    let own = format!("/proc/self/fd/{}", file.as_raw_fd());
    Ok(rustix::fs::linkat(CWD, own, CWD, path, AtFlags::SYMLINK_FOLLOW)?)
}

#[cfg(not(target_os = "linux"))]
fn link(_: &File, _: &Path) -> io::Result<()> {
    Err(io::Error::from(io::ErrorKind::Unsupported))
}

/// What begins the name of everything that is written beside a file.
fn ours(name: &str) -> String {
    format!(".{name}.dryfit-")
}

/// A name that no other writer uses, in this process or another.
fn beside_name(name: &str) -> String {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    format!("{}{}-{}", ours(name), std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed))
}

/// Takes away what writes that were killed long ago left behind.
fn sweep(folder: &Path, name: &str) {
    let ours = ours(name);
    let old = |p: &Path| {
        fs::metadata(p)
            .and_then(|m| m.modified())
            .ok()
            .and_then(|t| t.elapsed().ok())
            .is_some_and(|age| age > LITTER)
    };
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.file_name().to_string_lossy().starts_with(&ours) && old(&entry.path()) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Gives a name to what has none there yet. A second name is refused where the first is taken, a
/// rename is not; where files cannot have two names, the look before the rename has to do.
fn place_new(from: &Path, to: &Path) -> io::Result<()> {
    match fs::hard_link(from, to) {
        Ok(()) => fs::remove_file(from),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists || to.exists() => {
            Err(io::Error::other("it is there by now, written by something else"))
        }
        Err(_) => fs::rename(from, to),
    }
}

/// Waits until no other writer is at the file. What is locked is the file as it stands: after a
/// rename by another the lock is of what is gone, which is as good, as the check that follows reads
/// what stands there now. Where there is no file, or no locks, nobody waits; nor on Windows, where
/// a locked file could not be read for that check.
fn turn(path: &Path) -> io::Result<Option<File>> {
    if cfg!(windows) {
        return Ok(None);
    }
    let Ok(file) = File::open(path) else { return Ok(None) };
    let begun = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(Some(file)),
            Err(TryLockError::Error(_)) => return Ok(None),
            Err(TryLockError::WouldBlock) if begun.elapsed() > PATIENCE => {
                return Err(io::Error::other("another program keeps it locked"));
            }
            Err(TryLockError::WouldBlock) => sleep(GLANCE),
        }
    }
}
