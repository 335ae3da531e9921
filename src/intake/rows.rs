//! Rows of a list in any form, before anyone asks which parts they mean.

use super::words::words;
use super::{aligned, delimited, exported, html, named, prefixes, prose};

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
    /// Whether that is the sum of the row and not the price of one.
    pub summed: bool,
    /// Whether the head of a column says that it holds prices.
    pub priced_each: bool,
    /// Whether a column says that the customer has it.
    pub owned: bool,
    /// What a column of currencies, or the head of the price column, says.
    pub currency: String,
    /// What a column of notes says.
    pub note: String,
    /// What columns whose heads say nothing hold beside the part.
    pub details: String,
    /// Struck out.
    pub struck: bool,
    /// Whether it is one row of a table or of a list with bullets, not a line of talk.
    pub listed: bool,
    /// Whether it is a heading of a table or a section.
    pub head: bool,
    /// Whether it names the columns of a table.
    pub columns: bool,
    /// Whether it is quoted from an older mail or post.
    pub quoted: bool,
    /// Whether two blanks or more set its last piece off as a column, and that may be a price.
    pub apart: bool,
    /// Whether it is below the greeting at a mail's end.
    pub signed: bool,
    /// Whether it is indented below another row of the list.
    pub below: bool,
    /// Whether it is the first, or a blank line stands above it.
    pub parted: bool,
}

/// Longest text that is read as one row, in bytes: reading one takes longer the more it says.
const LONGEST: usize = 2_000;

/// A row, and where no part can have so long a one, what it says in several.
pub(crate) fn in_pieces(row: RawRow) -> Vec<RawRow> {
    let mut pieces = Vec::new();
    let mut left = &*row.text;
    while left.len() > LONGEST {
        let most = left.floor_char_boundary(LONGEST);
        let blank = left.get(..most).and_then(|piece| piece.rfind(char::is_whitespace));
        let (piece, rest) = left.split_at(blank.filter(|at| *at > 0).unwrap_or(most));
        pieces.push(RawRow { line: row.line, text: piece.to_owned(), ..RawRow::default() });
        left = rest;
    }
    let text = left.to_owned();
    pieces.push(RawRow { text, ..row });
    pieces
}

/// The rows of a text, whatever its form. `is_kind` tells a cell that names a kind and no more.
pub(crate) fn rows(text: &str, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    if let Some(rows) = exported::rows(text, is_kind).or_else(|| named::of_yaml(text, is_kind)) {
        return rows;
    }
    if html::is_html(text) {
        let rows = html::rows(text, is_kind);
        if !rows.is_empty() {
            return rows;
        }
        return prose::rows(&html::plain(text), is_kind);
    }
    let text = &*prefixes::without_prefixes(text, is_kind);
    if let Some(mark) = delimited::mark_of(text) {
        return delimited::rows(text, mark, is_kind);
    }
    aligned::rows(text, is_kind).unwrap_or_else(|| prose::rows(text, is_kind))
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
    /// An item of a list.
    pub item: bool,
}

/// Makes rows of tables: the first row that names columns says what they hold.
pub(crate) fn of_table(table: Vec<Cells>, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    let mut columns: Vec<Option<&'static str>> = Vec::new();
    let mut currency = String::new();
    let mut out: Vec<RawRow> = Vec::new();
    let mut filled_above = Vec::new();
    let numbered = counts_up(table.iter().filter_map(|r| r.cells.first().map(String::as_str)));
    for (at, row) in table.iter().enumerate() {
        let filled: Vec<&String> = row.cells.iter().filter(|c| !c.trim().is_empty()).collect();
        if filled.is_empty() {
            continue;
        }
        let heads: Vec<Option<&'static str>> =
            row.cells.iter().map(|c| words().column(c)).collect();
        let known = heads.iter().flatten().count();
        let counted = |h: &Option<&str>| matches!(h, Some("count" | "price" | "sum"));
        let wordy = filled.iter().all(|c| !c.chars().any(|c| c.is_ascii_digit()));
        let unnamed = columns.is_empty() && wordy && heads.iter().any(counted);
        let is_head = known >= 2
            && known * 2 >= filled.len()
            && (heads.contains(&Some("part"))
                || unnamed && heads.iter().any(|h| matches!(h, None | Some("kind"))))
            || row.head && known * 2 > filled.len();
        if is_head {
            if columns.is_empty() {
                // What stands above the head in few cells is a letter's head, not the list.
                for (above, filled) in out.iter_mut().zip(&filled_above) {
                    above.head |= *filled < 3;
                }
            }
            let below = table.get(at + 1..).unwrap_or(&[]);
            let heads = wordiest(heads, below, is_kind);
            columns = by_content(heads, &row.cells, below);
            // Beside the price of one a sum says nothing more.
            if columns.contains(&Some("price")) {
                let sums = columns.iter_mut().filter(|c| **c == Some("sum"));
                sums.for_each(|c| *c = Some("aside"));
            }
            currency = head_currency(&row.cells, &columns);
            out.push(RawRow {
                line: row.line,
                text: row.cells.join(" "),
                head: true,
                columns: true,
                ..RawRow::default()
            });
        } else if columns.is_empty() {
            filled_above.push(filled.len());
            out.push(guessed(row, numbered));
        } else {
            out.push(by_columns(row, &columns, &currency));
        }
    }
    out
}

/// Whether what begins the rows numbers them: 1, 2, 3.
pub(crate) fn counts_up<'t>(first: impl Iterator<Item = &'t str>) -> bool {
    let numbers = first.filter_map(|word| word.trim().parse::<u32>().ok());
    let numbers: Vec<u32> = numbers.skip_while(|n| *n != 1).collect();
    numbers.len() > 2 && numbers.iter().zip(1..).all(|(n, at)| *n == at)
}

/// The cells of a column that hold something.
fn filled(below: &[Cells], at: usize) -> impl Iterator<Item = &str> {
    let cells = below.iter().filter_map(move |r| r.cells.get(at)).map(|c| c.trim());
    cells.filter(|c| !c.is_empty())
}

fn letters(below: &[Cells], at: usize) -> usize {
    filled(below, at).map(|c| c.chars().filter(|c| c.is_alphabetic()).count()).sum()
}

/// Heads by what is below them. "Component" may head kinds, and the part is beside it. Where no
/// head names the part, it is the column with the most letters of those whose head is not known,
/// or is of kinds and has none below it: "Type" heads models too.
fn wordiest(
    mut heads: Vec<Option<&'static str>>,
    below: &[Cells],
    is_kind: &dyn Fn(&str) -> bool,
) -> Vec<Option<&'static str>> {
    let kinds = |at: usize| filled(below, at).filter(|c| is_kind(c)).count();
    let best = |free: &dyn Fn(usize, Option<&str>) -> bool, heads: &[Option<&'static str>]| {
        let free = heads.iter().enumerate().filter(|(at, head)| free(*at, **head));
        let best = free.map(|(at, _)| at).max_by_key(|at| letters(below, *at));
        best.filter(|at| letters(below, *at) > 0)
    };
    let is_part = |at: &usize| heads.get(*at) == Some(&Some("part"));
    let named: Vec<usize> = (0..heads.len()).filter(is_part).collect();
    for at in &named {
        let free = |i: usize, head: Option<&str>| i != *at && matches!(head, None | Some("part"));
        let mostly = kinds(*at) >= 2 && kinds(*at) * 10 >= filled(below, *at).count() * 7;
        if let Some(other) = best(&free, &heads).filter(|_| mostly) {
            heads.get_mut(*at).into_iter().for_each(|head| *head = Some("kind"));
            heads.get_mut(other).into_iter().for_each(|head| *head = Some("part"));
        }
    }
    let free = |at: usize, head: Option<&str>| match head {
        None => true,
        Some(column) => column == "kind" && kinds(at) * 3 < filled(below, at).count(),
    };
    let at = best(&free, &heads).or_else(|| best(&|_, head| head == Some("note"), &heads));
    if let Some(at) = at.filter(|_| named.is_empty()) {
        heads.get_mut(at).into_iter().for_each(|head| *head = Some("part"));
    }
    heads
}

/// Heads that may mean two things, by what stands below them: "Amount" is a count or a sum.
fn by_content(
    mut heads: Vec<Option<&'static str>>,
    cells: &[String],
    below: &[Cells],
) -> Vec<Option<&'static str>> {
    for ((at, head), cell) in heads.iter_mut().enumerate().zip(cells) {
        let may = words().columns_of(cell);
        if may.len() < 2 || *head == Some("part") || *head == Some("kind") {
            continue;
        }
        let whole = |c: &&str| {
            c.chars().all(|c| c.is_ascii_digit() || matches!(c, 'x' | '×' | ' '))
                && c.trim().len() < 4
        };
        let counts = filled(below, at).filter(whole).count();
        let priced = filled(below, at).filter(|c| super::price::is_price(c) && !whole(c)).count();
        let fits = |column: &&&str| match **column {
            "count" => counts > priced,
            "price" | "sum" => priced >= counts && priced > 0,
            _ => false,
        };
        *head = may.iter().find(fits).copied().or(*head);
    }
    // Where no head names the price, it is the first column that holds nothing else.
    let priced = |at: usize| {
        let filled: Vec<&str> = filled(below, at).collect();
        let marked =
            |c: &&&str| super::price::is_price(c) && c.chars().any(|c| !c.is_ascii_digit());
        filled.len() > 1 && filled.iter().filter(marked).count() * 10 >= filled.len() * 8
    };
    if !heads.iter().any(|h| matches!(h, Some("price" | "sum"))) {
        let found = (0..heads.len()).find(|at| heads.get(*at) == Some(&None) && priced(*at));
        if let Some(head) = found.and_then(|at| heads.get_mut(at)) {
            *head = Some("price");
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
    let says = |set: &str, cell: &str| words().has(set, &super::words::plain(cell));
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
            None if cell.chars().any(char::is_alphabetic) => &mut raw.details,
            // "The customer's own" in the place of a seller.
            Some("aside") if says("owned", cell) || says("whose", cell) => {
                raw.owned = true;
                continue;
            }
            Some("owned") => {
                raw.owned |= says("has_it", cell);
                continue;
            }
            _ => continue,
        };
        raw.priced_each |= column == Some("price");
        raw.summed |= column == Some("sum") && slot.is_empty() && !cell.is_empty();
        if slot.is_empty() || column == Some("currency") && !cell.is_empty() {
            *slot = cell.to_owned();
        } else if !cell.is_empty() {
            slot.push(' ');
            slot.push_str(cell);
        }
    }
    if says("same", &raw.text) || says("kept", &raw.text) {
        // "Was" and "now": the part is the one before.
        let part = columns.iter().position(|c| *c == Some("part")).unwrap_or(0);
        let of = |at: &usize| columns.get(*at).copied().flatten();
        let before = (0..part).rev().find(|at| matches!(of(at), None | Some("old")));
        // What stands in the old PC and is kept is the customer's; "unchanged" is of the list.
        raw.owned |= before.is_some_and(|at| of(&at) == Some("old")) && says("kept", &raw.text);
        let before = before.and_then(|at| row.cells.get(at));
        raw.text = before.map_or(raw.text, |c| c.trim().to_owned());
    }
    if asks_for_nothing(&raw, row) {
        return RawRow { line: row.line, listed: true, ..RawRow::default() };
    }
    over_the_width(&mut raw, row, columns.len());
    raw
}

/// Whether it says no part: a total, or a sum alone at the foot of its column.
fn asks_for_nothing(raw: &RawRow, row: &Cells) -> bool {
    let mut filled = row.cells.iter().map(|c| c.trim()).filter(|c| !c.is_empty());
    let first = filled.clone().next().unwrap_or("");
    let summed = first.split([':', ' ']).next().unwrap_or("");
    let total = words().has("totals", &super::words::plain(summed));
    let named = !raw.kind.is_empty() || !raw.maker.is_empty();
    let said = raw.text.is_empty() || super::price::is_price(&raw.text);
    said && (total || !named && filled.all(super::price::is_price))
}

/// A single cell over the whole width is a heading of a section, or a word aside.
fn over_the_width(raw: &mut RawRow, row: &Cells, columns: usize) {
    let filled: Vec<&String> = row.cells.iter().filter(|c| !c.trim().is_empty()).collect();
    if let [only] = filled.as_slice()
        && (row.cells.len() < columns || raw.text.is_empty())
    {
        raw.text = only.trim().to_owned();
        raw.head = row.cells.len() < columns;
        raw.note.clear();
    }
}

/// A row of a table whose columns nobody named: counts and prices are told by their looks.
fn guessed(row: &Cells, numbered: bool) -> RawRow {
    let mut raw = RawRow { line: row.line, struck: row.struck, listed: true, ..RawRow::default() };
    let mut text: Vec<&str> = Vec::new();
    let skipped = usize::from(numbered);
    for cell in row.cells.iter().skip(skipped).map(|c| c.trim()).filter(|c| !c.is_empty()) {
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
