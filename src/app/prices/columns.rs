//! Rows of text in columns, and CSV that no spreadsheet takes for a formula.

use crate::app::report::escape::{indented, inert, width};
use crate::app::report::style::Look;
use crate::trade::money::Money;

/// One row, a text a column.
pub(super) type Row = Vec<String>;

/// Rows under one another, columns lined up; those named in `right` end flush. A last cell that
/// does not fit goes below its row; on a narrow page each row becomes a paragraph.
pub(super) fn columns(look: Look, rows: &[Row], right: &[usize]) -> String {
    let rows: Vec<Row> =
        rows.iter().map(|row| row.iter().map(|cell| inert(cell)).collect()).collect();
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let wide: Vec<usize> = (0..count)
        .map(|at| rows.iter().filter_map(|r| r.get(at)).map(|c| width(c)).max().unwrap_or(0))
        .collect();
    let narrow =
        wide.iter().take(count.saturating_sub(1)).map(|w| w + 2).sum::<usize>() > look.width;
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

/// An amount without its currency, exact, as text: JSON numbers are not.
pub(super) fn amount(money: &Money) -> String {
    money.to_string().split(' ').next().unwrap_or("").to_owned()
}

#[cfg(test)]
mod tests {
    use super::harmless;

    #[test]
    fn formulas_are_put_in_quotes_and_figures_left() {
        for (cell, safe) in [
            ("=1+1", "'=1+1"),
            ("+44", "'+44"),
            ("@sum", "'@sum"),
            (" =x", "' =x"),
            ("-cmd", "'-cmd"),
            ("-12.50", "-12.50"),
            ("Tarn 650", "Tarn 650"),
        ] {
            assert_eq!(harmless(cell), safe);
        }
    }
}
