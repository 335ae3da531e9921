//! A page or a feed as statements: a label, what it says, and the line it is on.

use crate::intake::{RawTable, table_of};

/// What a page says under a label.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Statement {
    /// The label as written; empty for a line without one.
    pub(crate) label: String,
    /// What it says.
    pub(crate) text: String,
    /// The line, from 1.
    pub(crate) line: usize,
}

/// A part as a page or a row has it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Described {
    /// Its name as the page's head, or the row's column, has it.
    pub(crate) name: String,
    /// The maker, where a label or the head tells it apart.
    pub(crate) maker: String,
    /// The line its name is on.
    pub(crate) line: usize,
    /// What the page's head says beside the name.
    pub(crate) rest: String,
    /// Whether a page's head names it, in which words for the kind stand too.
    pub(crate) page: bool,
    /// What is said of it.
    pub(crate) statements: Vec<Statement>,
}

/// The one part of a page pasted as text.
pub(crate) fn page(text: &str) -> Described {
    let mut part = Described { page: true, ..Described::default() };
    for (at, whole) in
        text.lines().enumerate().flat_map(|(at, line)| barred(line).map(move |l| (at, l)))
    {
        let line = whole.trim();
        let number = at + 1;
        if line.is_empty() || line.chars().all(|c| matches!(c, '-' | '=' | '_' | '*' | ' ')) {
            continue;
        }
        let bullet = line.trim_start_matches(['-', '*', '•', '·', '–']).trim_start();
        let indented = whole.starts_with([' ', '\t']) && !part.statements.is_empty();
        match split_label(bullet) {
            Some((label, text))
                if !part.name.is_empty() || !text.is_empty() && label.len() < 40 && at > 0 =>
            {
                part.statements.push(Statement { label, text, line: number });
            }
            _ if part.name.is_empty() => {
                (part.maker, part.name, part.rest) = headline(bullet);
                part.line = number;
            }
            // A line that goes on with what the one before said.
            _ if indented || bullet.len() < line.len() || is_counted(bullet) => {
                match part.statements.last_mut() {
                    Some(last) => {
                        if is_heading(last) {
                            last.label = std::mem::take(&mut last.text);
                        }
                        let joint = match last.text.as_str() {
                            "" => "",
                            text if text.ends_with([';', ',']) => " ",
                            _ => "; ",
                        };
                        last.text.push_str(joint);
                        last.text.push_str(bullet);
                    }
                    None => part.statements.push(Statement {
                        label: String::new(),
                        text: bullet.to_owned(),
                        line: number,
                    }),
                }
            }
            _ => part.statements.push(Statement {
                label: String::new(),
                text: bullet.to_owned(),
                line: number,
            }),
        }
    }
    part
}

/// A line, or the labelled pieces of one: `+5V: 22 A | +12V: 62.5 A`.
fn barred(line: &str) -> impl Iterator<Item = &str> {
    let several = !line.trim_start().starts_with('|')
        && line.split(" | ").filter(|p| p.contains(':')).count() > 1;
    line.split(if several { " | " } else { "\n" })
}

/// Whether a line counts things: `2 x SATA`, `3× USB`.
fn is_counted(line: &str) -> bool {
    let rest = line.trim_start_matches(|c: char| c.is_ascii_digit());
    rest.len() < line.len() && rest.trim_start().starts_with(['x', '×'])
}

/// Whether a line by itself heads those below it: a few words without a figure.
fn is_heading(line: &Statement) -> bool {
    line.label.is_empty()
        && line.text.split_whitespace().count() <= 4
        && !line.text.contains(|c: char| c.is_ascii_digit())
}

/// `Label: text`, `Label<tab>text`, `Label    text`, `| Label | text |`.
fn split_label(line: &str) -> Option<(String, String)> {
    let barred = line.strip_prefix('|').map(|l| l.trim_end_matches('|'));
    if let Some((label, text)) = barred.and_then(|l| l.split_once('|')) {
        return Some((clean(label), text.replace('|', ", ").trim().to_owned()));
    }
    if let Some((label, text)) = line.split_once('\t') {
        return Some((
            clean(label),
            text.split('\t')
                .map(str::trim)
                .filter(|t| !t.is_empty())
                .collect::<Vec<_>>()
                .join(", "),
        ));
    }
    if let Some((label, text)) = line.split_once(':') {
        let labelled = label.chars().count() <= 48
            && !label.contains("  ")
            && (text.is_empty()
                || text.starts_with([' ', '\u{a0}', '"'])
                || label.chars().all(char::is_alphabetic));
        if labelled {
            return Some((clean(label), text.trim().to_owned()));
        }
    }
    for mark in ["   ", "  ", " = ", " … ", "....", "…"] {
        if let Some((label, text)) = line.split_once(mark)
            && label.chars().count() <= 48
            && !text.trim().is_empty()
            && !label.starts_with('"')
        {
            return Some((clean(label), text.trim_matches(['.', ' ', '…']).to_owned()));
        }
    }
    None
}

fn clean(label: &str) -> String {
    label.trim().trim_matches(['*', '_', ':', '.', '-']).trim().to_owned()
}

/// The maker and the name in a page's head: `Coble & Sons "Lugger 4" Mid-tower case`.
fn headline(line: &str) -> (String, String, String) {
    let line = line.trim_start_matches('#').trim();
    for (open, close) in [('"', '"'), ('“', '”'), ('„', '“'), ('«', '»')] {
        let inner = line
            .split_once(open)
            .and_then(|(before, rest)| Some((before, rest.split_once(close)?)));
        // An inch's mark encloses nothing.
        let inner = inner.filter(|(before, (name, _))| {
            !name.trim().is_empty() && !before.ends_with(|c: char| c.is_ascii_digit())
        });
        if let Some((before, (name, rest))) = inner {
            return (before.trim().to_owned(), name.trim().to_owned(), rest.trim().to_owned());
        }
    }
    for mark in [
        "& Sons",
        "& Co.",
        "& Co",
        "& Söhne",
        "& Fils",
        "& Daughters",
        "Ltd",
        "GmbH",
        "Bros.",
        "Brothers",
    ] {
        if let Some((before, name)) = line.split_once(mark)
            && !name.trim().is_empty()
        {
            return (
                format!("{}{mark}", before),
                name.trim().trim_start_matches([',', '-', '–']).trim().to_owned(),
                String::new(),
            );
        }
    }
    let (name, rest) = line.split_once(['|', '–', '—']).unwrap_or((line, ""));
    (String::new(), name.trim().to_owned(), rest.trim().to_owned())
}

/// The parts of a table: a row each, a statement a column. `named` says which heads name the part.
pub(crate) fn feed(table: &RawTable, name: Option<usize>, code: Option<usize>) -> Vec<Described> {
    let heads = &table.heads;
    let cell = |row: &[String], at: Option<usize>| {
        at.and_then(|i| row.get(i)).map_or("", |c| c.trim()).to_owned()
    };
    let mut out = Vec::new();
    for (line, row) in &table.rows {
        let named = cell(row, name);
        let title = if named.is_empty() { cell(row, code) } else { named };
        if title.is_empty() {
            continue;
        }
        let statements = heads
            .iter()
            .zip(row)
            .enumerate()
            .filter(|(at, (_, cell))| {
                Some(*at) != name && Some(*at) != code && !cell.trim().is_empty()
            })
            .map(|(_, (head, cell))| Statement {
                label: head.trim().to_owned(),
                text: cell.trim().to_owned(),
                line: *line,
            })
            .collect();
        out.push(Described { name: title, line: *line, statements, ..Described::default() });
    }
    out
}

/// The parts of a table that has a column for each: a statement a row.
pub(crate) fn columns(table: &RawTable) -> Vec<Described> {
    let part = |(at, name): (usize, &String)| {
        let said = |(line, row): &(usize, Vec<String>)| {
            let (label, text) = (row.first()?.trim(), row.get(at)?.trim());
            let statement =
                Statement { label: label.to_owned(), text: text.to_owned(), line: *line };
            (!text.is_empty()).then_some(statement)
        };
        let statements = table.rows.iter().filter_map(said).collect();
        Described { name: name.trim().to_owned(), line: 1, statements, ..Described::default() }
    };
    let named = table.heads.iter().enumerate().skip(1).filter(|(_, h)| !h.trim().is_empty());
    named.map(part).collect()
}

/// The table of a text, if it is one.
pub(crate) fn table(text: &str) -> Option<RawTable> {
    table_of(text)
}
