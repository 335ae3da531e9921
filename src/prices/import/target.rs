//! The offers file that a feed is added to: a copy grows beside it and takes its place at the end,
//! or is thrown away.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use jiff::civil::Date;

use super::offer_row::cell;
use super::stamp;
use crate::catalogue::offers::{COLUMNS, LINK};
use crate::disk::{Beside, cannot};
use crate::layer::MAX_FILE_BYTES;
use crate::source::Problem;

/// A copy of an offers file that is added to.
pub(super) struct Target {
    /// As it was named.
    path: PathBuf,
    /// How the file stood when the copy began: one that another import wrote meanwhile is not
    /// written over.
    stood: Stood,
    out: Beside,
    /// The seller and the last day as they stand between commas: alike in row after row.
    seller: String,
    day: (Date, String),
    /// The row being written, kept to spare allocations.
    row: String,
}

/// When a file was last written and how long it is; none where there is none.
type Stood = Option<(SystemTime, u64)>;

fn stood(path: &Path) -> Stood {
    let held = fs::metadata(path).ok()?;
    Some((held.modified().ok()?, held.len()))
}

/// The rows of an offers file that are of one seller: part, day and a stamp of the rest.
pub(super) fn held(path: &Path, seller: &str) -> Result<Vec<(String, Date, u64)>, Problem> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let broken = |what: String| {
        Problem::new(format!("{} is no offers file that can be added to: {what}", path.display()))
            .help("name another file with --into")
    };
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_path(path)
        .map_err(|e| broken(e.to_string()))?;
    let head = reader.headers().map_err(|e| broken(e.to_string()))?;
    let own = head.iter().take(COLUMNS.len()).eq(COLUMNS.iter().copied());
    let more = head.iter().skip(COLUMNS.len());
    if !own || !more.eq([LINK].into_iter().take(head.len().saturating_sub(COLUMNS.len()))) {
        return Err(broken(format!("its head is not {}", COLUMNS.join(", "))));
    }
    let mut rows = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| broken(e.to_string()))?;
        let (Some(part), Some(day)) = (row.get(0), row.get(2).and_then(|d| d.parse().ok())) else {
            continue;
        };
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
        let cannot = |e: io::Error| cannot(path, &e);
        path.parent().map_or(Ok(()), fs::create_dir_all).map_err(cannot)?;
        let mut out = Beside::begin(path)?;
        let held = stood(out.place());
        match fs::read(out.place()) {
            Ok(held) if !held.is_empty() => {
                out.write_all(&held).map_err(cannot)?;
                if !held.ends_with(b"\n") {
                    out.write_all(b"\n").map_err(cannot)?;
                }
            }
            _ => writeln!(out, "{}", COLUMNS.join(",")).map_err(cannot)?,
        }
        let mut between = String::from(",");
        cell(&mut between, seller);
        Ok(Self {
            path: path.to_path_buf(),
            stood: held,
            out,
            seller: between,
            day: written(Date::ZERO),
            row: String::new(),
        })
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
    pub(super) fn finish(self) -> Result<String, Problem> {
        let Self { path, stood: before, mut out, .. } = self;
        if out.size().map_err(|e| cannot(&path, &e))? > MAX_FILE_BYTES {
            let large = format!(
                "it would grow over {} MiB; start another file with --into",
                MAX_FILE_BYTES >> 20
            );
            return Err(cannot(&path, &io::Error::other(large)));
        }
        let place = out.place().to_path_buf();
        out.finish(|| match stood(&place) == before {
            true => Ok(()),
            false => Err(cannot(
                &path,
                &io::Error::other(
                    "it was changed by something else meanwhile; take the feed in again",
                ),
            )),
        })?;
        Ok(path.display().to_string())
    }
}
