//! A feed, row by row: never more than one row in memory, and none that goes on for ever.

use std::cell::Cell;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::rc::Rc;

use csv::{ErrorKind, StringRecord};

use super::map::{Map, TARGETS};
use crate::source::{Problem, Problems};
use crate::words::{clip, nearest, some_of};

/// Longest row, in bytes: a feed of parts has none that comes near.
pub const MAX_ROW: u64 = 64 << 10;
/// What is read at once.
const BUFFER: usize = 64 << 10;
/// Most cells of the head.
pub const MAX_CELLS: usize = 1_000;

/// What the reader saw of the bytes.
#[derive(Debug, Default)]
struct Watch {
    /// Handed on so far.
    bytes: Cell<u64>,
    /// Where the present row began.
    row: Cell<u64>,
    quotes: Cell<u64>,
    last: Cell<u8>,
    too_long: Cell<bool>,
}

struct Watched {
    file: File,
    watch: Rc<Watch>,
}

impl Read for Watched {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let watch = &self.watch;
        if watch.bytes.get() - watch.row.get() > MAX_ROW + BUFFER as u64 {
            watch.too_long.set(true);
            return Err(io::Error::other("a row without end"));
        }
        let count = self.file.read(buffer)?;
        let read = buffer.get(..count).unwrap_or(&[]);
        watch.bytes.set(watch.bytes.get() + count as u64);
        watch.quotes.set(watch.quotes.get() + quotes(read));
        if let Some(last) = read.last() {
            watch.last.set(*last);
        }
        Ok(count)
    }
}

/// How many quotes stand in some bytes, counted in runs short enough for a byte to hold the count,
/// which the compiler makes wide.
fn quotes(bytes: &[u8]) -> u64 {
    bytes
        .chunks(255)
        .map(|run| u64::from(run.iter().map(|b| u8::from(*b == b'"')).sum::<u8>()))
        .sum()
}

/// A feed being read.
pub(super) struct Feed {
    reader: csv::Reader<Watched>,
    watch: Rc<Watch>,
    record: StringRecord,
    name: String,
    cells: usize,
    length: u64,
    at: [Option<usize>; TARGETS.len()],
    broken: bool,
}

/// One row.
pub(super) struct Row<'a> {
    record: &'a StringRecord,
    at: &'a [Option<usize>; TARGETS.len()],
    name: &'a str,
    /// The line it begins on.
    pub(super) line: u64,
}

impl Row<'_> {
    /// The cell of a target; none where the map gives it no column.
    pub(super) fn cell(&self, target: &str) -> Option<&str> {
        let at = TARGETS.iter().position(|t| *t == target)?;
        let at = self.at.get(at).copied().flatten()?;
        Some(self.record.get(at).unwrap_or(""))
    }

    /// Something wrong with this row.
    pub(super) fn problem(&self, what: String) -> Problem {
        Problem::new(format!("{}, line {}: {what}", self.name, self.line))
    }
}

impl Feed {
    /// Opens a feed and finds the map's columns in its head.
    pub(super) fn open(path: &Path, map: &Map) -> Result<Self, Problems> {
        let name = path.display().to_string();
        let file =
            File::open(path).map_err(|e| Problem::new(format!("cannot read {name}: {e}")))?;
        if file.metadata().is_ok_and(|m| m.is_dir()) {
            return Err(Problem::new(format!("{name} is a folder, not a feed")).into());
        }
        let length = file.metadata().map_or(u64::MAX, |m| m.len());
        let watch = Rc::new(Watch::default());
        let watched = Watched { file, watch: watch.clone() };
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(map.delimiter)
            .buffer_capacity(BUFFER)
            .from_reader(watched);
        let mut feed = Self {
            reader,
            watch,
            record: StringRecord::new(),
            name,
            cells: 0,
            length,
            at: [None; TARGETS.len()],
            broken: false,
        };
        feed.head(map)?;
        Ok(feed)
    }

    fn head(&mut self, map: &Map) -> Result<(), Problems> {
        if !self.read()? {
            return Err(Problem::new(format!("{} is empty", self.name)).into());
        }
        let head: Vec<String> = self
            .record
            .iter()
            .map(|cell| cell.trim_start_matches('\u{feff}').trim().to_owned())
            .collect();
        if head.len() > MAX_CELLS {
            return Err(Problem::new(format!(
                "{}, line 1: more than {MAX_CELLS} columns",
                self.name
            ))
            .into());
        }
        self.cells = head.len();
        let mut problems = Problems::default();
        for (slot, wanted) in self.at.iter_mut().zip(&map.columns) {
            let Some(wanted) = wanted else { continue };
            *slot = head.iter().position(|h| h == wanted);
            let twice = head.iter().filter(|h| *h == wanted).count() > 1;
            if slot.is_none() || twice {
                let what = if twice { "two columns are called" } else { "there is no column" };
                let problem =
                    Problem::new(format!("{}, line 1: {what} `{}`", self.name, clip(wanted, 40)));
                problems.push(
                    match nearest(wanted, head.iter().map(String::as_str)).filter(|_| !twice) {
                        Some(near) => problem.help(format!("did you mean `{}`?", clip(near, 40))),
                        None => problem.help(format!(
                            "the head has: {}",
                            clip(&some_of(head.iter().map(String::as_str), 24), 400)
                        )),
                    },
                );
            }
        }
        if head.len() == 1 && !problems.0.is_empty() {
            problems.push(
                Problem::new(format!("{}, line 1: the head is a single cell", self.name))
                    .help("say in the map what stands between cells: delimiter = \";\""),
            );
        }
        problems.or(())
    }

    /// Reads the next record; false at the end.
    fn read(&mut self) -> Result<bool, Problem> {
        let start = self.reader.position().clone();
        self.watch.row.set(start.byte());
        match self.reader.read_record(&mut self.record) {
            // A row can also be too long within what was read at once.
            Ok(true) if self.record.as_slice().len() as u64 > MAX_ROW => {
                Err(self.too_long(self.record.position().map_or(start.line(), csv::Position::line)))
            }
            Ok(more) => Ok(more),
            Err(_) if self.watch.too_long.get() => {
                self.broken = true;
                Err(self.too_long(start.line()))
            }
            Err(error) if matches!(error.kind(), ErrorKind::Utf8 { .. }) => {
                let line = error.position().map_or(start.line(), csv::Position::line);
                Err(Problem::new(format!("{}, line {line}: this row is not UTF-8 text", self.name))
                    .help("save the feed as UTF-8"))
            }
            Err(error) => {
                self.broken = true;
                Err(Problem::new(format!("{}, line {}: {error}", self.name, start.line())))
            }
        }
    }

    fn too_long(&self, line: u64) -> Problem {
        Problem::new(format!(
            "{}, line {line}: this row is longer than {} KiB",
            self.name,
            MAX_ROW >> 10
        ))
        .help("a quote that is never closed makes one row of all that follows")
    }

    /// The next row, or what is wrong with it.
    pub(super) fn next(&mut self) -> Option<Result<Row<'_>, Problem>> {
        loop {
            match self.read() {
                Ok(false) => return None,
                Ok(true)
                    if self.record.len() == 1
                        && self.record.get(0).is_some_and(|c| c.trim().is_empty()) => {}
                Ok(true) => break,
                Err(problem) => return Some(Err(problem)),
            }
        }
        let line = self.record.position().map_or(0, csv::Position::line);
        let row = Row { record: &self.record, at: &self.at, name: &self.name, line };
        if self.record.len() != self.cells {
            let last = if self.reader.position().byte() >= self.length {
                "; the file may be cut short"
            } else {
                ""
            };
            return Some(Err(row.problem(format!(
                "{} cells where the head has {}{last}",
                self.record.len(),
                self.cells
            ))));
        }
        Some(Ok(row))
    }

    /// Bytes read so far.
    pub(super) fn bytes(&self) -> u64 {
        self.watch.bytes.get()
    }

    /// Whether nothing can be read after the last problem.
    pub(super) fn broken(&self) -> bool {
        self.broken
    }

    /// Whether the file ends without a line end.
    pub(super) fn unended(&self) -> bool {
        !matches!(self.watch.last.get(), b'\n' | b'\r')
    }

    /// A quote that was opened and never closed, once all is read.
    pub(super) fn unclosed(&self) -> Option<Problem> {
        let open = !self.broken && self.watch.quotes.get() % 2 == 1;
        let line = self.record.position().map_or(0, csv::Position::line);
        open.then(|| {
            Problem::new(format!(
                "{}, from line {line}: a quote is opened and never \
         closed; the file may be cut short",
                self.name
            ))
        })
    }
}
