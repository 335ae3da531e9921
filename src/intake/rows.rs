//! Rows of a list in any form, before anyone asks which parts they mean.

use super::words::words;
use super::{aligned, delimited, exported, html, prefixes, prose};

/// A row as it stands in the file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RawRow {
    /// The line it starts on, from 1.
    pub line: usize,
    /// What it says of the part.
    pub text: String,
    /// What a column of kinds, or a label before the part, says.
    pub kind: String,
    /// What a column of makers says.
    pub maker: String,
    /// What a column of counts says.
    pub count: String,
    /// What a column of prices says; the sum of the row where only that is given.
    pub price: String,
    /// What a column of currencies, or the head of the price column, says.
    pub currency: String,
    /// What a column of notes says.
    pub note: String,
    /// Struck out.
    pub struck: bool,
    /// Whether it is one row of a table or of a list with bullets, not a line of talk.
    pub listed: bool,
    /// Whether it is a heading of a table or a section.
    pub head: bool,
}

/// The rows of a text, whatever its form.
pub(crate) fn rows(text: &str) -> Vec<RawRow> {
    if let Some(rows) = exported::rows(text) {
        return rows;
    }
    if html::is_html(text) {
        let rows = html::rows(text);
        if !rows.is_empty() {
            return rows;
        }
        return prose::rows(&html::plain(text));
    }
    let text = &*prefixes::without_prefixes(text);
    if let Some(mark) = delimited::mark_of(text) {
        return delimited::rows(text, mark);
    }
    aligned::rows(text).unwrap_or_else(|| prose::rows(text))
}

/// A row of a table: its line and its cells.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cells {
    /// The line it starts on, from 1.
    pub line: usize,
    /// The cells, in the order of the columns.
    pub cells: Vec<String>,
    /// Struck out.
    pub struck: bool,
    /// Marked as a heading.
    pub head: bool,
}

/// Makes rows of tables: the first row that names columns says what they hold.
pub(crate) fn of_table(table: Vec<Cells>) -> Vec<RawRow> {
    let mut columns: Vec<Option<&'static str>> = Vec::new();
    let mut currency = String::new();
    let mut out = Vec::new();
    for row in table {
        let filled: Vec<&String> = row.cells.iter().filter(|c| !c.trim().is_empty()).collect();
        if filled.is_empty() {
            continue;
        }
        let heads: Vec<Option<&'static str>> =
            row.cells.iter().map(|c| words().column(c)).collect();
        let known = heads.iter().flatten().count();
        let is_head = known >= 2 && known * 2 >= filled.len() && heads.contains(&Some("part"))
            || row.head && known * 2 > filled.len();
        if is_head {
            columns = sole_part(heads);
            currency = head_currency(&row.cells, &columns);
            out.push(RawRow {
                line: row.line,
                text: row.cells.join(" "),
                head: true,
                ..RawRow::default()
            });
        } else if columns.is_empty() {
            out.push(guessed(&row));
        } else {
            out.push(by_columns(&row, &columns, &currency));
        }
    }
    out
}

/// Only one column holds the part; a second one that could is set aside unless it is a description.
fn sole_part(mut heads: Vec<Option<&'static str>>) -> Vec<Option<&'static str>> {
    let has_price = heads.contains(&Some("price"));
    for head in &mut heads {
        if *head == Some("sum") && has_price {
            *head = Some("aside");
        }
    }
    heads
}

fn head_currency(cells: &[String], columns: &[Option<&'static str>]) -> String {
    let priced = cells.iter().zip(columns).filter(|(_, c)| matches!(c, Some("price" | "sum")));
    for (cell, _) in priced {
        let marks = cell
            .split(|c: char| c.is_whitespace() || matches!(c, '(' | ')' | '[' | ']' | '/' | ','));
        if let Some(code) = marks.into_iter().find_map(|w| words().currency(w)) {
            return code.to_owned();
        }
    }
    String::new()
}

fn by_columns(row: &Cells, columns: &[Option<&'static str>], currency: &str) -> RawRow {
    let mut raw = RawRow {
        line: row.line,
        struck: row.struck,
        listed: true,
        currency: currency.to_owned(),
        ..RawRow::default()
    };
    for (at, cell) in row.cells.iter().enumerate() {
        let cell = cell.trim();
        let column = columns.get(at).copied().flatten();
        let slot = match column {
            Some("part") => &mut raw.text,
            Some("kind") => &mut raw.kind,
            Some("maker") => &mut raw.maker,
            Some("count") => &mut raw.count,
            Some("price" | "sum") => &mut raw.price,
            Some("currency") => &mut raw.currency,
            Some("note") => &mut raw.note,
            _ => continue,
        };
        if slot.is_empty() || column == Some("currency") && !cell.is_empty() {
            *slot = cell.to_owned();
        } else if !cell.is_empty() {
            slot.push(' ');
            slot.push_str(cell);
        }
    }
    // A sum alone at the foot of its column asks for nothing.
    if raw.text.is_empty() && raw.kind.is_empty() && raw.maker.is_empty() {
        let priced =
            row.cells.iter().all(|c| c.trim().is_empty() || super::price::is_price(c.trim()));
        if priced {
            return RawRow { line: row.line, listed: true, ..RawRow::default() };
        }
    }
    // A single cell over the whole width is a heading of a section, or a word aside.
    let filled: Vec<&String> = row.cells.iter().filter(|c| !c.trim().is_empty()).collect();
    if let [only] = filled.as_slice()
        && (row.cells.len() < columns.len() || raw.text.is_empty())
    {
        raw.text = only.trim().to_owned();
        raw.head = row.cells.len() < columns.len();
        raw.note.clear();
    }
    raw
}

/// A row of a table whose columns nobody named: counts and prices are told by their looks.
fn guessed(row: &Cells) -> RawRow {
    let mut raw = RawRow { line: row.line, struck: row.struck, listed: true, ..RawRow::default() };
    let mut text: Vec<&str> = Vec::new();
    for cell in row.cells.iter().map(|c| c.trim()).filter(|c| !c.is_empty()) {
        let digits = cell.chars().filter(char::is_ascii_digit).count();
        let bare =
            cell.trim_end_matches(['x', '×', 'X']).trim().trim_start_matches(['x', '×', 'X']);
        if raw.count.is_empty()
            && digits > 0
            && digits <= 2
            && bare.chars().all(|c| c.is_ascii_digit())
        {
            raw.count = cell.to_owned();
        } else if super::price::is_price(cell) {
            // The last price of a row is the sum of it; the first is that of one.
            if raw.price.is_empty() {
                raw.price = cell.to_owned();
            }
        } else if digits >= 8 && cell.chars().all(|c| c.is_ascii_digit() || matches!(c, '-' | ' '))
        {
            // A number by which a shop finds the article.
        } else {
            text.push(cell);
        }
    }
    raw.text = text.join(" | ");
    raw
}
