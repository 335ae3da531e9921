//! Rows of text in columns, and CSV that no spreadsheet takes for a formula.

use crate::app::report::escape::{indented, inert, width};
use crate::app::report::style::Look;

/// One row, a text a column.
pub(crate) type Row = Vec<String>;

/// Whether the first columns of rows have room beside each other on a page.
pub(super) fn fit(look: Look, rows: &[Row], first: usize) -> bool {
    widths(rows).iter().take(first).map(|wide| wide + 2).sum::<usize>() <= look.width + 2
}

/// How wide each column is.
fn widths(rows: &[Row]) -> Vec<usize> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let wide = |at: usize| rows.iter().filter_map(|r| r.get(at)).map(|c| width(&inert(c))).max();
    (0..count).map(|at| wide(at).unwrap_or(0)).collect()
}

/// Rows under one another, columns lined up; those named in `right` end flush. A last cell that
/// does not fit goes below its row; on a narrow page each row becomes a paragraph.
pub(crate) fn columns(look: Look, rows: &[Row], right: &[usize]) -> String {
    let rows: Vec<Row> =
        rows.iter().map(|row| row.iter().map(|cell| inert(cell)).collect()).collect();
    let wide = widths(&rows);
    let narrow =
        wide.iter().take(wide.len().saturating_sub(1)).map(|w| w + 2).sum::<usize>() > look.width;
    let mut out = String::new();
    for row in &rows {
        if narrow {
            let words: Vec<&str> = row.iter().map(|c| c.trim()).filter(|c| !c.is_empty()).collect();
            out.push_str(&indented(&words.join("  "), "", "    ", look.width));
            continue;
        }
        let last = row.last().map_or("", String::as_str);
        let line = line(row, &wide, right);
        if width(&line) <= look.width {
            out.push_str(&line);
            out.push('\n');
            continue;
        }
        let head: Row = row.iter().take(row.len() - 1).cloned().collect();
        out.push_str(&self::line(&head, &wide, right));
        out.push('\n');
        let lead = " ".repeat(wide.first().map_or(0, |w| (*w).min(8)) + 2);
        out.push_str(&indented(last, &lead, &lead, look.width));
    }
    out
}

fn line(row: &Row, wide: &[usize], right: &[usize]) -> String {
    let mut line = String::new();
    for (at, (cell, wide)) in row.iter().zip(wide).enumerate() {
        let pad = " ".repeat(wide - width(cell));
        let gap = if at == 0 { "" } else { "  " };
        line.push_str(&if right.contains(&at) {
            format!("{gap}{pad}{cell}")
        } else {
            format!("{gap}{cell}{pad}")
        });
    }
    line.trim_end().to_owned()
}

/// Rows as CSV. A text that a spreadsheet would take for a formula gets an apostrophe in front.
pub(super) fn csv(rows: &[Row]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        // Writing to memory does not fail.
        let _ = writer.write_record(row.iter().map(|cell| harmless(cell)));
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// A cell that begins no formula.
pub(super) fn harmless(cell: &str) -> String {
    let acts = cell.trim_start().starts_with(['=', '+', '-', '@', '|', '%'])
        || cell.starts_with(['\t', '\r', '\n']);
    let number = cell
        .strip_prefix('-')
        .is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit() || b == b'.'));
    if acts && !number { format!("'{cell}") } else { cell.to_owned() }
}

#[cfg(test)]
#[path = "../../../tests/unit/app/prices/columns.rs"]
mod tests;
