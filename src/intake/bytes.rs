//! From a file's bytes to its text or its rows: encodings, workbooks, and what is neither.

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::rows::Cells;
use super::workbook;
use crate::source::Problem;

/// Largest list that is read, in bytes.
pub(crate) const MAX_BYTES: usize = 8 << 20;

/// A list as it came.
#[derive(Debug, Clone, PartialEq)]
pub enum Text {
    /// Text of any form.
    Plain(String),
    /// Rows of a workbook.
    Table(Vec<Cells>),
}

/// Makes text of a file's bytes.
///
/// # Errors
/// It is empty, too large, no text and no workbook, or a workbook that cannot be read.
pub fn read_bytes(bytes: &[u8], name: &str) -> Result<Text, Problem> {
    if bytes.len() > MAX_BYTES {
        let message =
            format!("{name} is larger than {} MiB, which no parts list is", MAX_BYTES >> 20);
        return Err(
            Problem::new(message).help("give the page with the list on it, not all of the shop's")
        );
    }
    if bytes.starts_with(b"PK\x03\x04") {
        return Ok(Text::Table(workbook::rows(bytes, name)?));
    }
    if bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return Err(Problem::new(format!(
            "{name} is a workbook of the old sort, or one with a password"
        ))
        .help("save it as .xlsx, .ods or .csv without a password, or paste the rows"));
    }
    if bytes.starts_with(b"%PDF") {
        return Err(Problem::new(format!("{name} is a PDF, not a list of text"))
            .help("copy the rows out of it and paste them: `dryfit intake -`"));
    }
    let text = decoded(bytes).ok_or_else(|| {
        Problem::new(format!("{name} is no text: it holds bytes that no list has"))
            .help("a list is text, HTML, CSV, .xlsx or .ods")
    })?;
    if text.trim().is_empty() {
        return Err(
            Problem::new(format!("{name} is empty")).help("paste the list, or name another file")
        );
    }
    Ok(Text::Plain(text))
}

/// Text of bytes in UTF-8, UTF-16 or Windows-1252; line ends as `\n`.
pub(crate) fn decoded(bytes: &[u8]) -> Option<String> {
    let text = if let Some(rest) = bytes.strip_prefix(b"\xef\xbb\xbf") {
        String::from_utf8_lossy(rest).into_owned()
    } else if bytes.starts_with(b"\xff\xfe") {
        UTF_16LE.decode(bytes).0.into_owned()
    } else if bytes.starts_with(b"\xfe\xff") {
        UTF_16BE.decode(bytes).0.into_owned()
    } else if let Some(wide) = unmarked_wide(bytes) {
        wide
    } else if bytes.contains(&0) {
        return None;
    } else {
        match std::str::from_utf8(bytes) {
            Ok(text) => text.to_owned(),
            Err(_) => WINDOWS_1252.decode(bytes).0.into_owned(),
        }
    };
    let odd = text
        .chars()
        .take(4000)
        .filter(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t' | '\u{c}'))
        .count();
    if odd > 4 || text.chars().take(4000).filter(|c| *c == '\u{fffd}').count() > 40 {
        return None;
    }
    Some(text.replace("\r\n", "\n").replace('\r', "\n"))
}

/// UTF-16 without its mark: every other byte of the start is 0.
fn unmarked_wide(bytes: &[u8]) -> Option<String> {
    let head = bytes.get(..bytes.len().min(400))?;
    let zeros = |odd: usize| head.iter().skip(odd).step_by(2).filter(|b| **b == 0).count() * 2;
    if bytes.len() < 8 || bytes.len() % 2 == 1 {
        return None;
    }
    let most = head.len() * 3 / 4;
    if zeros(1) > most {
        return Some(UTF_16LE.decode(bytes).0.into_owned());
    }
    (zeros(0) > most).then(|| UTF_16BE.decode(bytes).0.into_owned())
}
