//! Tables whose columns are kept apart by blanks alone: quotes and order forms printed as text.

use std::collections::HashSet;

use super::price::{amounts, is_price};
use super::rows::{Cells, RawRow, of_table};
use super::words::words;

/// A piece of a line, with the columns that it covers.
#[derive(Debug, Clone, PartialEq)]
struct Piece {
    from: usize,
    to: usize,
    text: String,
}

/// Rows of a table below a line of heads that two blanks or more keep apart. None without one.
pub(crate) fn rows(text: &str, is_kind: &dyn Fn(&str) -> bool) -> Option<Vec<RawRow>> {
    let lines: Vec<&str> = text.split('\n').collect();
    let at = lines.iter().position(|l| is_head(&pieces(l)))?;
    let heads = pieces(lines.get(at)?);
    let mut table = vec![Cells {
        line: at + 1,
        cells: heads.iter().map(|p| p.text.clone()).collect(),
        ..Cells::default()
    }];
    for (number, line) in lines.iter().enumerate().filter(|(n, _)| *n != at) {
        let found = pieces(line);
        if number > at && found.len() > 1 {
            table.push(Cells {
                line: number + 1,
                cells: placed(&heads, found),
                ..Cells::default()
            });
        }
    }
    let lines: HashSet<usize> = table.iter().map(|row| row.line).collect();
    let mut out = of_table(table, is_kind);
    out.extend(super::prose::beside(text, &|line| lines.contains(&line), is_kind));
    out.sort_by_key(|r| r.line);
    Some(out)
}

/// Takes the columns that two blanks or more part off rows of a text without heads: kinds before
/// the part where several rows have one, and prices behind it where several say that they are (by
/// cents or a currency), so that "Tarn 550    69" below "Lade 1000    89.90" has its price too.
pub(crate) fn columns_of_prose(rows: &mut [RawRow], is_kind: &dyn Fn(&str) -> bool) {
    let named = |p: &[Piece]| p.len() > 1 && p.first().is_some_and(|p| is_kind(&p.text));
    let priced = |p: &[Piece]| p.len() > 1 && p.last().is_some_and(|p| is_price(&p.text));
    let marked = |p: &[Piece]| {
        priced(p) && p.last().is_some_and(|p| p.text.contains(|c: char| !c.is_ascii_digit()))
    };
    let all: Vec<Vec<Piece>> = rows.iter().map(|r| pieces(&r.text)).collect();
    let count = |of: &dyn Fn(&[Piece]) -> bool| all.iter().filter(|p| of(p)).count();
    let kinds = count(&named) > 2;
    let prices = count(&marked) > 1 && count(&marked) * 4 >= count(&priced);
    for (row, found) in rows.iter_mut().zip(all) {
        if row.head || row.struck {
            continue;
        }
        let mut texts: Vec<&str> = found.iter().map(|p| p.text.as_str()).collect();
        // Of two amounts one may be the sum of the row.
        let sole = |before: &[&str]| amounts(&before.join(" "), false).is_empty();
        if prices
            && priced(&found)
            && let Some((price, before)) = texts.split_last().filter(|(_, before)| sole(before))
        {
            row.price = (*price).to_owned();
            texts = before.to_vec();
        }
        // Without such a list the row's own part tells whether the number is its price.
        row.apart = !prices && priced(&found);
        let label = kinds && named(&found) && texts.len() > 1;
        if label || texts.len() < found.len() {
            row.text = texts.join(", ");
        }
        if label {
            row.text = row.text.replacen(", ", ": ", 1);
        }
    }
}

fn is_head(found: &[Piece]) -> bool {
    let known: Vec<&str> = found.iter().filter_map(|p| words().column(&p.text)).collect();
    found.len() >= 3 && known.contains(&"part") && known.len() * 2 >= found.len()
}

/// The pieces of a line that two blanks or more, or a tabulator, part.
fn pieces(line: &str) -> Vec<Piece> {
    let mut out: Vec<Piece> = Vec::new();
    let mut gap = 2;
    for (at, c) in line.chars().enumerate() {
        if c.is_whitespace() {
            gap += if c == '\t' { 2 } else { 1 };
            continue;
        }
        match out.last_mut().filter(|_| gap < 2) {
            Some(piece) => {
                if gap == 1 {
                    piece.text.push(' ');
                }
                piece.text.push(c);
                piece.to = at + 1;
            }
            None => out.push(Piece { from: at, to: at + 1, text: c.to_string() }),
        }
        gap = 0;
    }
    out
}

/// A line's pieces below the heads: one each where they are as many, else each below the head that
/// it stands nearest to.
fn placed(heads: &[Piece], found: Vec<Piece>) -> Vec<String> {
    if found.len() == heads.len() {
        return found.into_iter().map(|p| p.text).collect();
    }
    let mut cells = vec![String::new(); heads.len()];
    for piece in found {
        let away = |h: &Piece| {
            let covered = h.to.min(piece.to).saturating_sub(h.from.max(piece.from));
            if covered > 0 { 0 } else { h.from.abs_diff(piece.from).min(h.to.abs_diff(piece.to)) }
        };
        let nearest = heads.iter().enumerate().min_by_key(|(_, h)| away(h)).map(|(at, _)| at);
        if let Some(cell) = nearest.and_then(|at| cells.get_mut(at)) {
            if !cell.is_empty() {
                cell.push(' ');
            }
            cell.push_str(&piece.text);
        }
    }
    cells
}
