//! Rows of a spreadsheet, .xlsx or .ods: read by a library once it is known to be of a sane size.

use std::io::{Cursor, Read};

use calamine::{Data, Reader as _, Sheets, open_workbook_auto_from_rs};

use super::rows::Cells;
use crate::source::Problem;

/// Most bytes that all files of a workbook unpack to.
const MAX_UNPACKED: u64 = 64 << 20;
/// Most files in a workbook.
const MAX_FILES: usize = 2_000;
/// Most rows, and columns, of a sheet.
const MAX_ROWS: u64 = 20_000;
const MAX_COLUMNS: u64 = 512;

/// Rows of the first sheet that holds any.
///
/// # Errors
/// It unpacks to too much, is protected, or is no workbook.
pub(crate) fn rows(bytes: &[u8], name: &str) -> Result<Vec<Cells>, Problem> {
    checked(bytes, name)?;
    let broken = || {
        Problem::new(format!("{name} cannot be read as a workbook"))
            .help("save it as .xlsx, .ods or .csv without a password, or paste the rows")
    };
    let mut book: Sheets<Cursor<&[u8]>> =
        open_workbook_auto_from_rs(Cursor::new(bytes)).map_err(|_| broken())?;
    for sheet in book.sheet_names() {
        let Ok(range) = book.worksheet_range(&sheet) else { continue };
        let first = range.start().map_or(0, |(row, _)| row as usize);
        let table: Vec<Cells> = range
            .rows()
            .enumerate()
            .map(|(at, row)| Cells {
                line: first + at + 1,
                cells: row.iter().take(MAX_COLUMNS as usize).map(cell).collect(),
                ..Cells::default()
            })
            .filter(|r| r.cells.iter().any(|c| !c.trim().is_empty()))
            .collect();
        if !table.is_empty() {
            return Ok(table);
        }
    }
    Err(Problem::new(format!("{name} holds no rows"))
        .help("name a workbook whose first sheet has the list"))
}

/// A cell as a person reads it.
fn cell(data: &Data) -> String {
    match data {
        Data::Float(number) if number.fract() == 0.0 && number.abs() < 1e15 => {
            format!("{number:.0}")
        }
        Data::Float(number) => {
            let short = format!("{number:.2}");
            if short.parse() == Ok(*number) { short } else { number.to_string() }
        }
        Data::Empty | Data::Error(_) => String::new(),
        other => other.to_string().replace(['\n', '\r'], " "),
    }
}

/// Unpacks every file once and counts, so that nothing that unpacks to gigabytes, or repeats a cell
/// a million times, reaches the library.
fn checked(bytes: &[u8], name: &str) -> Result<(), Problem> {
    let broken = |why: &str| {
        Problem::new(format!("{name} {why}"))
            .help("save the sheet with the list alone, as .xlsx, .ods or .csv")
    };
    let mut archive =
        zip::ZipArchive::new(Cursor::new(bytes)).map_err(|_| broken("is a broken archive"))?;
    if archive.len() > MAX_FILES {
        return Err(broken("holds more files than a workbook has"));
    }
    let mut left = MAX_UNPACKED;
    for at in 0..archive.len() {
        let file = archive.by_index(at).map_err(|e| match e {
            zip::result::ZipError::UnsupportedArchive(_) => broken("is protected by a password"),
            _ => broken("is a broken archive"),
        })?;
        let inner = file.name().to_owned();
        let mut text = Vec::new();
        let read =
            file.take(left + 1).read_to_end(&mut text).map_err(|_| broken("is a broken archive"))?
                as u64;
        if read > left {
            return Err(broken(&format!("unpacks to more than {} MiB", MAX_UNPACKED >> 20)));
        }
        left -= read;
        if inner == "content.xml" || inner.starts_with("xl/worksheets/") {
            sane(&String::from_utf8_lossy(&text)).map_err(&broken)?;
        }
    }
    Ok(())
}

/// Whether a sheet's rows and columns are as many as a list's: repeated cells, far cells.
fn sane(xml: &str) -> Result<(), &'static str> {
    const WIDE: &str = "has more rows or columns than a parts list";
    for (attribute, most) in
        [("number-columns-repeated=\"", 16_384), ("number-rows-repeated=\"", 1_048_576)]
    {
        for (at, _) in xml.match_indices(attribute) {
            let digits: String = xml
                .get(at + attribute.len()..)
                .unwrap_or("")
                .chars()
                .take_while(char::is_ascii_digit)
                .collect();
            let repeated = digits.parse::<u64>().unwrap_or(u64::MAX);
            // The empty rest of a row or sheet is repeated to its end; what holds something is not.
            let rest = xml.get(at..).unwrap_or("");
            let empty = rest
                .find('>')
                .and_then(|end| rest.get(..end))
                .is_some_and(|tag| tag.ends_with('/'))
                || attribute.contains("rows")
                    && rest.find("</table:table-row>").and_then(|end| rest.get(..end)).is_some_and(
                        |row| !row.contains("office:value") && !row.contains("<text:p>"),
                    );
            if repeated > most || repeated > 1_000 && !empty {
                return Err(WIDE);
            }
        }
    }
    for (at, _) in xml.match_indices("<c r=\"") {
        let place: String = xml
            .get(at + 6..)
            .unwrap_or("")
            .chars()
            .take_while(|c| c.is_ascii_alphanumeric())
            .collect();
        let letters: String = place.chars().take_while(char::is_ascii_alphabetic).collect();
        let column = letters.bytes().fold(0_u64, |n, b| {
            n.saturating_mul(26).saturating_add(u64::from(b.to_ascii_uppercase() - b'A') + 1)
        });
        let row: u64 = place.get(letters.len()..).and_then(|d| d.parse().ok()).unwrap_or(0);
        if column > MAX_COLUMNS || row > MAX_ROWS {
            return Err(WIDE);
        }
    }
    Ok(())
}
