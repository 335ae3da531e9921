//! A page or a feed as statements: a label, what it says, and the line it is on.

use std::borrow::Cow;

use super::words;
use crate::intake::{RawTable, figures, sentences, table_of};

/// What a page says under a label.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Statement {
    /// The label as written; empty for a line without one.
    pub(crate) label: String,
    /// What it says.
    pub(crate) text: String,
    /// The line, from 1.
    pub(crate) line: usize,
    /// The heading above it.
    pub(crate) section: String,
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

impl Described {
    /// Takes what a page's head says.
    fn headed(&mut self, text: &str, line: usize) {
        (self.maker, self.name, self.rest) = headline(text);
        self.line = line;
    }

    /// Takes a statement; sentences behind its first are statements without a label.
    fn says(&mut self, mut statement: Statement) {
        let (own, rest) = first_sentence(&statement.text);
        let rest = (!rest.is_empty()).then(|| bare(rest, statement.line));
        statement.text = own.to_owned();
        self.statements.push(statement);
        self.statements.extend(rest);
    }

    /// Whether what goes on with the last statement is said under a label: "Highlights" is none.
    fn is_labelled(&self, knows: &dyn Fn(&str) -> bool) -> bool {
        self.statements.last().is_none_or(|last| !is_heading(last) || knows(&last.text))
    }

    /// Adds a line without a label; one that heads others begins a section.
    fn unlabelled(&mut self, text: &str, line: usize, section: &mut String) {
        let below = Statement { section: section.clone(), ..bare(text, line) };
        if is_heading(&below) {
            section.clone_from(&below.text);
        }
        self.statements.push(below);
    }

    /// Adds a line to the statement that it goes on with.
    fn goes_on(&mut self, bullet: &str, line: usize) {
        let Some(last) = self.statements.last_mut() else {
            self.statements.push(bare(bullet, line));
            return;
        };
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
}

/// How much deeper than its label's line a text is indented that goes on with it.
const UNDER_TEXT: usize = 8;

/// The one part of a page pasted as text. `knows` tells the labels of fields: what such a label
/// stands above is no name.
pub(crate) fn page(text: &str, knows: &dyn Fn(&str) -> bool) -> Described {
    let mut part = Described { page: true, ..Described::default() };
    let text = &*super::grids::turned(text, knows);
    // Facts stand before any name: the page does not say it at its head.
    let mut begun = false;
    let mut level = 0;
    let mut listed = false;
    let mut section = String::new();
    for (at, whole) in
        text.lines().enumerate().flat_map(|(at, line)| barred(line).map(move |l| (at, l)))
    {
        let clean = bold_label(whole).replace("**", "").replace("__", "");
        let (whole, line) = (clean.as_str(), clean.trim());
        let number = at + 1;
        let rule = line.chars().all(|c| matches!(c, '-' | '=' | '_' | '*' | ' '));
        if rule || part.name.is_empty() && is_trail(line) {
            continue;
        }
        let bullet = line.trim_start_matches(['-', '*', '•', '·', '–']).trim_start();
        let marked = bullet.len() < line.len();
        let indented = whole.starts_with([' ', '\t']) && !part.statements.is_empty();
        // What stands far under the text of a label goes on with it, whatever marks it has.
        let indent = whole.len() - whole.trim_start().len();
        let below = indent >= level + UNDER_TEXT && !part.statements.is_empty();
        level = if below { level } else { indent };
        let before = part.statements.len();
        // "Product: Fell L4-M" heads the page.
        let named = split_label(bullet).filter(|_| part.name.is_empty());
        let named = named.filter(|(label, text)| names_part(label) && !text.is_empty());
        if let Some((_, name)) = named {
            part.headed(&name, number);
            continue;
        }
        let labelled = split_label(bullet).filter(|_| !below);
        begun |= part.name.is_empty()
            && labelled.as_ref().is_some_and(|(label, text)| !text.is_empty() && knows(label));
        let goes_on = indented || marked && !listed || is_counted(bullet);
        match labelled {
            Some((label, text))
                if begun
                    || !part.name.is_empty()
                    || !text.is_empty() && label.len() < 40 && at > 0 =>
            {
                let heading = part.statements.last().filter(|s| is_heading(s)).map(|s| &s.text);
                let heading = heading.or_else(|| text.is_empty().then_some(&label));
                section = heading.unwrap_or(&section).clone();
                let section = section.clone();
                part.says(Statement { label, text, line: number, section });
            }
            _ if part.name.is_empty() && !begun => {
                // "| Alcove Mini | |" heads a table.
                let bullet = bullet.trim_matches(['|', ' ']);
                let (name, told) = introduced(bullet).unwrap_or((bullet, ""));
                part.headed(name, number);
                if !told.is_empty() {
                    part.statements.push(bare(told, number));
                }
            }
            // A line that goes on with what the one before said.
            _ if goes_on && part.is_labelled(knows) => part.goes_on(bullet, number),
            _ => part.unlabelled(bullet, number, &mut section),
        }
        // Below a statement with a mark the next with one is its own.
        listed = marked && (listed || part.statements.len() > before);
    }
    part
}

/// What a label says, and the sentences behind it, which are of other things: "Heat: up to 240 W.
/// Lighting is ARGB".
fn first_sentence(text: &str) -> (&str, &str) {
    let end = sentences(text).first().map_or(text.len(), |first| first.len());
    let (own, rest) = (text.get(..end).unwrap_or(text), text.get(end..).unwrap_or("").trim_start());
    let word = |w: &str| w.chars().filter(|c| c.is_lowercase()).count() > 3;
    if rest.starts_with(char::is_uppercase) && rest.split_whitespace().take(2).any(word) {
        (own.trim_end_matches('.'), rest)
    } else {
        (text, "")
    }
}

/// `**Outputs** HDMI 2.1` as `Outputs: HDMI 2.1`.
fn bold_label(line: &str) -> Cow<'_, str> {
    let marked = line.trim_start_matches(['-', '*', ' ', '•']).len();
    let opens = line.get(..line.len() - marked).is_some_and(|lead| lead.ends_with("**"));
    let label = line.get(line.len() - marked..).and_then(|rest| rest.split_once("**"));
    match label.filter(|(label, text)| {
        let more = text.trim_start();
        let apart = more.is_empty() || more.starts_with(['|', '–', '—', '-']);
        opens && text.starts_with(' ') && !label.ends_with(':') && !apart
    }) {
        Some((label, text)) => Cow::Owned(format!("{label}:{text}")),
        None => Cow::Borrowed(line),
    }
}

/// "The Pane 24 is a monitor of 23.8 inches": the name, and what is told of it.
fn introduced(line: &str) -> Option<(&str, &str)> {
    let low = line.to_lowercase();
    let same = low.len() == line.len();
    let (at, mark) = words::of("is_a").find_map(|w| Some((low.find(w)?, w))).filter(|_| same)?;
    let (name, told) = (line.get(..at)?.trim(), line.get(at + mark.len()..)?.trim());
    let article = words::of("articles").find(|w| low.starts_with(*w)).map_or(0, str::len);
    let name = name.get(article..)?.trim();
    (!name.is_empty() && !told.is_empty()).then_some((name, told))
}

/// Whether a line is the way to a page through a shop: `Home > Motherboards > Socket P5`.
fn is_trail(line: &str) -> bool {
    [" > ", " › ", " » "].iter().any(|mark| line.contains(mark))
}

/// Whether a label is that of a part's name.
fn names_part(label: &str) -> bool {
    super::heads("name_heads", label) || super::heads("page_heads", label)
}

/// A line without a label.
fn bare(text: &str, line: usize) -> Statement {
    Statement { text: text.to_owned(), line, ..Statement::default() }
}

/// A line, or the labelled pieces of one: `+5V: 22 A | +12V: 62.5 A`.
fn barred(line: &str) -> impl Iterator<Item = &str> {
    let labelled = |mark: &&&str| {
        let mut pieces = line.trim().split(**mark).filter(|p| !p.trim().is_empty());
        pieces.clone().count() > 1
            && pieces.all(|p| p.split_once(": ").is_some_and(|(l, _)| !l.trim().is_empty()))
    };
    let mark = [" | ", "   ", "  "].iter().find(labelled);
    line.split(mark.copied().unwrap_or("\n"))
}

/// Whether a line counts things: `2 x SATA`, `3× USB`.
fn is_counted(line: &str) -> bool {
    let rest = line.trim_start_matches(|c: char| c.is_ascii_digit());
    rest.len() < line.len() && rest.trim_start().starts_with(['x', '×'])
}

/// Whether a line by itself heads those below it: a few words without a figure.
fn is_heading(line: &Statement) -> bool {
    line.label.is_empty()
        && line.text.split_whitespace().nth(4).is_none()
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
    // "Family | Whimbrel 3"; what is measured on both sides of a bar are two facts.
    let bars = line.matches(" | ").count();
    for mark in ["   ", "  ", " | ", " = ", " … ", "....", "...", "…"] {
        if let Some((label, text)) = line.split_once(mark)
            && label.chars().count() <= 48
            && (mark != " | " || bars == 1 && figures(label).iter().all(|f| f.readings.is_empty()))
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
    for mark in words::of("maker_ends") {
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
    let dashed = line.split_once(" -- ").or_else(|| line.split_once(['|', '–', '—']));
    let (name, rest) = dashed.unwrap_or((line, ""));
    // "STOOK 2 by Tallow"
    let by = words::of("by_maker").find_map(|by| name.split_once(by));
    if let Some((name, maker)) = by.filter(|(_, maker)| maker.split_whitespace().count() < 4) {
        return (maker.trim().to_owned(), name.trim().to_owned(), rest.trim().to_owned());
    }
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
                ..Statement::default()
            })
            .collect();
        // "Power supplies (ATX)" above the table, and what is in brackets in a name.
        let inner = title.split_once('(').map_or("", |(_, rest)| rest);
        let rest = format!("{}, {}", table.above, inner.trim_end_matches(')'));
        out.push(Described { name: title, line: *line, rest, statements, ..Described::default() });
    }
    out
}

/// The parts of a table that has a column for each: a statement a row.
pub(crate) fn columns(table: &RawTable) -> Vec<Described> {
    let part = |(at, name): (usize, &String)| {
        let said = |(line, row): &(usize, Vec<String>)| {
            let (label, text) = (row.first()?.trim(), row.get(at)?.trim());
            let (label, text) = (label.to_owned(), text.to_owned());
            let statement = Statement { label, text, line: *line, ..Statement::default() };
            (!statement.text.is_empty()).then_some(statement)
        };
        let statements = table.rows.iter().filter_map(said).collect();
        let (name, rest) = (name.trim().to_owned(), table.above.clone());
        Described { name, line: 1, rest, statements, ..Described::default() }
    };
    let named = table.heads.iter().enumerate().skip(1).filter(|(_, h)| !h.trim().is_empty());
    named.map(part).collect()
}

/// The table of a text, if it is one.
pub(crate) fn table(text: &str) -> Option<RawTable> {
    table_of(text)
}
