//! The offers file that a feed is added to: a copy grows beside it and takes its place at the end, or is thrown away.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use jiff::civil::Date;

use super::stamp;
use super::written::cell;
use crate::catalogue::offers::COLUMNS;
use crate::layer::MAX_FILE_BYTES;
use crate::repl::files::sweep;
use crate::source::Problem;

/// A copy of an offers file that is added to.
pub(super) struct Target {
    /// As it was named, and where it is once links are followed.
    named: String,
    path: PathBuf,
    beside: PathBuf,
    /// How the file stood when the copy began: one that another import wrote meanwhile is not written over.
    stood: Stood,
    out: BufWriter<File>,
    /// The seller and the last day as they stand between commas: alike in row after row.
    seller: String,
    day: (Date, String),
    /// The row being written, kept to spare allocations.
    row: String,
    finished: bool,
}

/// When a file was last written and how long it is; none where there is none.
type Stood = Option<(SystemTime, u64)>;

fn stood(path: &Path) -> Stood {
    let held = fs::metadata(path).ok()?;
    Some((held.modified().ok()?, held.len()))
}

fn cannot(path: &Path, error: &dyn std::fmt::Display) -> Problem {
    Problem::new(format!("cannot write {}: {error}", path.display())).help("what stood there stands there still")
}

/// The rows of an offers file that are of one seller: part, day and a stamp of the rest.
pub(super) fn held(path: &Path, seller: &str) -> Result<Vec<(String, Date, u64)>, Problem> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let broken =
        |what: String| Problem::new(format!("{} is no offers file that can be added to: {what}", path.display())).help("name another file with --into");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_path(path).map_err(|e| broken(e.to_string()))?;
    let head = reader.headers().map_err(|e| broken(e.to_string()))?;
    if !head.iter().eq(COLUMNS.iter().copied()) {
        return Err(broken(format!("its head is not {}", COLUMNS.join(", "))));
    }
    let mut rows = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| broken(e.to_string()))?;
        let (Some(part), Some(day)) = (row.get(0), row.get(2).and_then(|d| d.parse().ok())) else { continue };
        if row.get(1) == Some(seller) {
            let mut cells = String::new();
            for (at, text) in row.iter().skip(3).enumerate() {
                if at > 0 {
                    cells.push(',');
                }
                cell(&mut cells, text);
            }
            rows.push((part.to_owned(), day, stamp(&cells)));
        }
    }
    Ok(rows)
}

/// A day and its text between two commas.
fn written(day: Date) -> (Date, String) {
    (day, format!(",{day},"))
}

impl Target {
    /// Begins a copy of a file, or a new one with its head.
    pub(super) fn open(path: &Path, seller: &str) -> Result<Self, Problem> {
        let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let name = real.file_name().map(|n| n.to_string_lossy().into_owned()).ok_or_else(|| cannot(path, &"it is not a file's name"))?;
        let folder = real.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        if fs::metadata(&real).is_ok_and(|m| !m.is_file()) {
            return Err(cannot(path, &"it is not a file"));
        }
        if fs::metadata(&real).is_ok_and(|m| m.permissions().readonly()) {
            return Err(cannot(path, &"it is read-only"));
        }
        let beside = folder.join(format!(".{name}.dryfit-{}", std::process::id()));
        let held = stood(&real);
        sweep(folder, &name);
        let begin = || -> io::Result<BufWriter<File>> {
            fs::create_dir_all(folder)?;
            let _ = fs::remove_file(&beside);
            let mut out = BufWriter::with_capacity(1 << 20, fs::OpenOptions::new().write(true).create_new(true).open(&beside)?);
            match fs::read(&real) {
                Ok(held) if !held.is_empty() => {
                    out.write_all(&held)?;
                    if !held.ends_with(b"\n") {
                        out.write_all(b"\n")?;
                    }
                }
                _ => writeln!(out, "{}", COLUMNS.join(","))?,
            }
            Ok(out)
        };
        match begin() {
            Ok(out) => {
                let mut between = String::from(",");
                cell(&mut between, seller);
                Ok(Self {
                    named: path.display().to_string(),
                    path: real,
                    stood: held,
                    out,
                    seller: between,
                    day: written(Date::ZERO),
                    row: String::new(),
                    beside,
                    finished: false,
                })
            }
            Err(error) => {
                let _ = fs::remove_file(&beside);
                Err(cannot(path, &error))
            }
        }
    }

    /// Adds a row: its part, its day, and the rest as it is written.
    pub(super) fn add(&mut self, part: &str, day: Date, rest: &str) -> Result<(), Problem> {
        if self.day.0 != day {
            self.day = written(day);
        }
        self.row.clear();
        cell(&mut self.row, part);
        self.row.push_str(&self.seller);
        self.row.push_str(&self.day.1);
        self.row.push_str(rest);
        self.row.push('\n');
        self.out.write_all(self.row.as_bytes()).map_err(|e| cannot(&self.path, &e))
    }

    /// Puts the copy in the file's place; gives its name.
    pub(super) fn finish(mut self) -> Result<String, Problem> {
        let put = |this: &mut Self| -> io::Result<()> {
            this.out.flush()?;
            let file = File::open(&this.beside)?;
            if file.metadata()?.len() > MAX_FILE_BYTES {
                return Err(io::Error::other(format!("it would grow over {} MiB; start another file with --into", MAX_FILE_BYTES >> 20)));
            }
            file.sync_all()?;
            if let Ok(held) = fs::metadata(&this.path) {
                fs::set_permissions(&this.beside, held.permissions())?;
            }
            if stood(&this.path) != this.stood {
                return Err(io::Error::other("it was changed by something else meanwhile; take the feed in again"));
            }
            fs::rename(&this.beside, &this.path)?;
            // The new name is safe only once the folder is; where folders cannot be synced there is nothing to do about it.
            let _ = this.path.parent().map(|folder| File::open(folder).and_then(|f| f.sync_all()));
            Ok(())
        };
        put(&mut self).map_err(|e| cannot(&self.path, &e))?;
        self.finished = true;
        Ok(std::mem::take(&mut self.named))
    }
}

impl Drop for Target {
    fn drop(&mut self) {
        if !self.finished {
            let _ = fs::remove_file(&self.beside);
        }
    }
}
