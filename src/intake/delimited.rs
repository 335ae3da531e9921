//! Tables as text: CSV with any mark between cells, and Markdown's bars.

use std::collections::HashSet;

use super::rows::{Cells, RawRow, of_table};
use super::words::words;

/// Most columns that are read; a row of more is cut.
const MAX_COLUMNS: usize = 256;

/// The mark between cells, if the text is a table: of the lines that hold something, most have the
/// same number of it.
pub(crate) fn mark_of(text: &str) -> Option<char> {
    let lines = text.lines().filter(|l| !l.trim().is_empty()).take(60);
    let lines: Vec<&str> = lines.map(begin).collect();
    if lines.len() < 2 {
        return None;
    }
    let quoted = lines.iter().filter(|l| l.trim_start().starts_with('"')).count() * 2 > lines.len();
    let mut best = None;
    for mark in ['\t', '|', ';', ','] {
        let counts: Vec<usize> = lines.iter().map(|l| outside_quotes(l, mark)).collect();
        let with = counts.iter().filter(|n| **n > 0).count();
        let headed = lines.iter().take(8).any(|line| heads(line, mark) >= 2);
        let enough = match mark {
            ',' | ';' => headed && with * 2 > lines.len() || quoted && with * 4 > lines.len() * 3,
            _ => headed || with * 3 > lines.len() * 2,
        };
        // Markdown's table may stand between lines of talk.
        let barred = mark == '|' && lines.iter().any(|l| is_rule(l)) && with >= 2;
        if (enough || barred) && best.is_none_or(|(_, n)| with > n) {
            best = Some((mark, with));
        }
    }
    best.map(|(mark, _)| mark)
}

/// As much of a line as tells what marks it has.
fn begin(line: &str) -> &str {
    let end = (0..=line.len().min(4000)).rev().find(|at| line.is_char_boundary(*at));
    line.get(..end.unwrap_or(0)).unwrap_or(line)
}

fn heads(line: &str, mark: char) -> usize {
    cells_of(line, mark).iter().filter(|c| words().column(c).is_some()).count()
}

fn outside_quotes(line: &str, mark: char) -> usize {
    let mut inside = false;
    let mut count = 0;
    for c in line.chars() {
        inside ^= c == '"';
        count += usize::from(c == mark && !inside);
    }
    count
}

/// `|---|:--:|`, the rule below the head of a Markdown table.
fn is_rule(line: &str) -> bool {
    let line = line.trim();
    line.contains("--")
        && line.contains('|')
        && line.chars().all(|c| matches!(c, '|' | '-' | ':' | ' ' | '+'))
}

/// Cells of one line, quotes opened and closed.
fn cells_of(line: &str, mark: char) -> Vec<String> {
    records(line, mark).into_iter().next().map(|r| r.cells).unwrap_or_default()
}

/// Records of a text: a quoted cell may hold marks and line breaks.
fn records(text: &str, mark: char) -> Vec<Cells> {
    let mut out = Vec::new();
    let mut row = Cells { line: 1, ..Cells::default() };
    let mut cell = String::new();
    let (mut line, mut quoted, mut fresh) = (1, false, true);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                cell.push('"');
            }
            '"' if quoted => quoted = false,
            '"' if fresh && closes(chars.clone(), mark) => quoted = true,
            '\n' if !quoted => {
                row.cells.push(std::mem::take(&mut cell));
                line += 1;
                out.push(std::mem::replace(&mut row, Cells { line, ..Cells::default() }));
                fresh = true;
                continue;
            }
            c if c == mark && !quoted => {
                if row.cells.len() < MAX_COLUMNS {
                    row.cells.push(std::mem::take(&mut cell));
                } else {
                    cell.clear();
                }
                fresh = true;
                continue;
            }
            c => {
                line += usize::from(c == '\n');
                cell.push(if c == '\n' { ' ' } else { c });
            }
        }
        fresh = fresh && c.is_whitespace() && c != '"';
    }
    row.cells.push(cell);
    out.push(row);
    out
}

/// Whether a quote that opens a cell is closed by one before a mark: `27" screen` is no quoted
/// cell.
fn closes(mut rest: std::iter::Peekable<std::str::Chars<'_>>, mark: char) -> bool {
    let mut seen = 0;
    while let Some(c) = rest.next() {
        seen += 1;
        if c == '"' {
            match rest.peek() {
                Some('"') => {
                    rest.next();
                }
                None | Some('\n' | '\r' | ' ') => return true,
                Some(next) => return *next == mark,
            }
        }
        if seen > 10_000 {
            return false;
        }
    }
    false
}

/// The cells of a table in text with a head of three columns or more, the same in every row.
pub(crate) fn cells(text: &str) -> Option<Vec<Cells>> {
    let first = text.lines().find(|l| !l.trim().is_empty())?;
    let marks = ['\t', '|', ';', ','];
    let most = |line: &str| marks.into_iter().max_by_key(|m| outside_quotes(line, *m));
    // A line or two of a title may stand above.
    let titled = |line: &&str| ['\t', '|', ';'].iter().any(|m| outside_quotes(line, *m) > 1);
    let head = text.lines().filter(|l| !l.trim().is_empty()).take(5).find(titled).unwrap_or(first);
    let mark = most(head)?;
    let mut rows: Vec<Cells> = records(text, mark);
    rows.retain(|r| r.cells.len() > 1 && !(mark == '|' && rule_cells(&r.cells)));
    if mark == '|' {
        rows.iter_mut().for_each(bars);
    }
    // A page whose sentences have commas is no table.
    let lines = text.lines().filter(|l| !l.trim().is_empty()).count();
    let quoted = text.contains('"');
    if matches!(mark, ',' | ';') && !quoted && rows.len() * 2 < lines {
        return None;
    }
    // A title of one cell may stand above, however many empty ones it has.
    let filled = |r: &Cells| r.cells.iter().filter(|c| !c.trim().is_empty()).count() > 1;
    let titles = rows.iter().position(filled)?;
    let head = rows.get(titles)?;
    let width = head.cells.len();
    let even = titles + rows.iter().skip(titles).filter(|r| r.cells.len() == width).count();
    let short = head.cells.iter().all(|c| c.chars().count() < 40);
    (width > 2 && rows.len() > 1 && even * 10 >= rows.len() * 9 && short).then_some(rows)
}

/// Rows of a table in text; lines that are not of it are talk.
pub(crate) fn rows(text: &str, mark: char, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    let mut table = Vec::new();
    let mut talk = HashSet::new();
    for mut row in records(text, mark) {
        if row.cells.len() < 2 {
            talk.insert(row.line);
            continue;
        }
        if mark == '|' {
            if rule_cells(&row.cells) {
                continue;
            }
            bars(&mut row);
        }
        for cell in &mut row.cells {
            if let Some(inner) = struck(cell) {
                *cell = inner;
                row.struck = true;
            }
        }
        row.cells.iter_mut().for_each(|c| *c = unmarked(&super::prose::without_codes(c)));
        table.push(row);
    }
    let mut out = of_table(table, is_kind);
    out.extend(super::prose::beside(text, &|line| !talk.contains(&line), is_kind));
    out.sort_by_key(|r| r.line);
    out
}

fn rule_cells(cells: &[String]) -> bool {
    cells.iter().all(|c| c.chars().all(|c| matches!(c, '-' | ':' | ' ' | '+' | '=')))
}

/// A bar at the start and at the end of a line encloses no cell.
fn bars(row: &mut Cells) {
    if row.cells.first().is_some_and(|c| c.trim().is_empty()) && row.cells.len() > 2 {
        row.cells.remove(0);
        if row.cells.last().is_some_and(|c| c.trim().is_empty()) {
            row.cells.pop();
        }
    }
}

/// The text between `~~` and `~~`, when that is all of it.
pub(crate) fn struck(text: &str) -> Option<String> {
    let inner = text.trim().strip_prefix("~~")?.strip_suffix("~~")?;
    (!inner.contains("~~")).then(|| inner.to_owned())
}

/// Without Markdown's stars, ticks and links.
pub(crate) fn unmarked(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(open) = rest.find('[') {
        let (before, from) = rest.split_at(open);
        out.push_str(before);
        let link = from.find("](").and_then(|mid| {
            let close = from.get(mid..)?.find(')')?;
            Some((from.get(1..mid)?, from.get(mid + close + 1..)?))
        });
        match link {
            Some((label, after)) => {
                out.push_str(label);
                rest = after;
            }
            None => {
                out.push('[');
                rest = from.get(1..).unwrap_or("");
            }
        }
    }
    out.push_str(rest);
    for mark in ["**", "__", "`", "\\"] {
        out = out.replace(mark, "");
    }
    let trimmed = out.trim();
    let inner = trimmed.strip_prefix('*').and_then(|t| t.strip_suffix('*'));
    let inner = inner.or_else(|| trimmed.strip_prefix('_').and_then(|t| t.strip_suffix('_')));
    inner.unwrap_or(&out).to_owned()
}
