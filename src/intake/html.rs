//! Tables and lists in HTML, read without a tree: however deep it nests, it is one pass.

use std::collections::BTreeMap;

use super::rows::{Cells, RawRow, of_table};
use super::words::{plain as plain_words, words};

/// Whether a text is HTML.
pub(crate) fn is_html(text: &str) -> bool {
    let start = text.trim_start_matches('\u{feff}').trim_start();
    let head: String = start.chars().take(2000).collect::<String>().to_lowercase();
    head.starts_with("<!doctype")
        || head.starts_with("<html")
        || ["<table", "<tr", "<ul", "<ol", "<dl", "<body", "<div", "<p>"]
            .iter()
            .any(|tag| head.contains(tag))
            && head.starts_with('<')
        || text.to_lowercase().contains("<table") && text.to_lowercase().contains("</tr>")
}

/// Most columns or rows that a cell is believed to cover.
const MAX_SPAN: usize = 50;

/// Elements whose text is not the page's.
const UNREAD: &[&str] = &["script", "style", "title", "button", "select", "textarea", "svg"];

enum Piece<'a> {
    Open(String, &'a str),
    Close(String),
    Text(&'a str),
}

/// Tags and texts in order, each with the line it starts on. Comments, scripts and styles are
/// passed over.
fn pieces(text: &str, mut each: impl FnMut(usize, Piece<'_>)) {
    let mut rest = text;
    let mut line = 1;
    let lines = |t: &str| t.bytes().filter(|b| *b == b'\n').count();
    while !rest.is_empty() {
        let Some(open) = rest.find('<') else {
            each(line, Piece::Text(rest));
            return;
        };
        let (before, from) = rest.split_at(open);
        if !before.is_empty() {
            each(line, Piece::Text(before));
            line += lines(before);
        }
        let next = from.chars().nth(1);
        let length = match next {
            Some('!') if from.starts_with("<!--") => from.find("-->").map_or(from.len(), |e| e + 3),
            Some('!' | '?') => from.find('>').map_or(from.len(), |e| e + 1),
            Some('/') => from.find('>').map_or(from.len(), |e| e + 1),
            Some(c) if c.is_ascii_alphabetic() => tag_end(from),
            _ => {
                each(line, Piece::Text("<"));
                rest = from.get(1..).unwrap_or("");
                continue;
            }
        };
        let tag = from.get(..length).unwrap_or(from);
        let mut used = length;
        let name = |t: &str| {
            t.chars()
                .take_while(|c| c.is_ascii_alphanumeric())
                .collect::<String>()
                .to_ascii_lowercase()
        };
        if next == Some('/') {
            each(line, Piece::Close(name(tag.get(2..).unwrap_or(""))));
        } else if next.is_some_and(|c| c.is_ascii_alphabetic()) {
            let name = name(tag.get(1..).unwrap_or(""));
            if UNREAD.contains(&name.as_str()) {
                let close = format!("</{name}");
                let body = from.get(length..).unwrap_or("");
                used += find_ignoring_case(body, &close).unwrap_or(body.len());
            } else {
                each(line, Piece::Open(name, tag));
            }
        }
        let passed = from.get(..used).unwrap_or(from);
        line += lines(passed);
        rest = from.get(used..).unwrap_or("");
    }
}

fn find_ignoring_case(text: &str, what: &str) -> Option<usize> {
    text.as_bytes().windows(what.len()).position(|w| w.eq_ignore_ascii_case(what.as_bytes()))
}

/// Where a tag ends: a `>` outside quotes.
fn tag_end(from: &str) -> usize {
    let mut quote = None;
    for (at, c) in from.char_indices() {
        match (quote, c) {
            (None, '"' | '\'') => quote = Some(c),
            (Some(q), c) if c == q => quote = None,
            (None, '>') => return at + 1,
            (_, '\n') if at > 5000 => return at,
            _ => {}
        }
    }
    from.find('>').map_or(from.len(), |e| e + 1)
}

/// The cells of the tables of a page.
pub(crate) fn cells(text: &str) -> Vec<Cells> {
    let mut reader = Reader::default();
    pieces(text, |line, piece| reader.piece(line, piece, false));
    reader.end_row();
    reader.table
}

/// What the reader of tables holds while it reads.
#[derive(Default)]
struct Reader {
    table: Vec<Cells>,
    row: Option<Cells>,
    cell: Option<String>,
    struck: u32,
    /// Whether a link is open.
    link: bool,
    struck_text: bool,
    live_text: bool,
    /// Columns and rows that the open cell covers.
    span: (usize, usize),
    /// Columns that each cell of the row covers.
    spans: Vec<usize>,
    /// Rows that a cell above covers still, by column.
    covered: BTreeMap<usize, usize>,
    heads: usize,
    /// Whether an item of a list is open.
    item: bool,
}

/// Rows of the tables, else of the lists, of a page.
pub(crate) fn rows(text: &str, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    let mut reader = Reader::default();
    let lists = find_ignoring_case(text, "<tr").is_none();
    pieces(text, |line, piece| reader.piece(line, piece, lists));
    reader.end_row();
    if lists {
        return of_lists(reader.table);
    }
    of_table(reader.table, is_kind)
}

/// Rows of items and paragraphs. Where there are items, a paragraph is talk; what stands below
/// "-- " or a greeting at the end is who wrote it.
fn of_lists(table: Vec<Cells>) -> Vec<RawRow> {
    let items = table.iter().any(|c| c.item);
    let (mut footer, mut signed) = (false, false);
    let row = |c: Cells| {
        let text = c.cells.join(" ");
        let bare = plain_words(text.trim_end_matches([',', '.', '!', ' ']));
        footer |= bare == "--" || bare.starts_with("-- ");
        let row = RawRow {
            line: c.line,
            struck: c.struck,
            listed: (c.item || !items) && !signed,
            head: c.head || footer,
            signed,
            ..RawRow::default()
        };
        signed |= !c.item && words().has("closing", &bare);
        RawRow { text, ..row }
    };
    table.into_iter().map(row).collect()
}

impl Reader {
    fn piece(&mut self, line: usize, piece: Piece<'_>, lists: bool) {
        match piece {
            Piece::Open(name, tag) => self.open(line, &name, tag, lists),
            Piece::Close(name) => match name.as_str() {
                "td" | "th" => self.end_cell(),
                "dt" if lists => {
                    if let Some(cell) = &mut self.cell {
                        cell.push_str(": ");
                    }
                }
                "li" | "p" | "div" | "dd" | "h1" | "h2" | "h3" | "h4" if lists => {
                    self.end_row();
                    self.item = false;
                }
                "tr" => self.end_row(),
                "table" => {
                    self.end_row();
                    self.covered.clear();
                }
                "s" | "del" | "strike" => self.struck = self.struck.saturating_sub(1),
                "a" => self.link = false,
                _ => {}
            },
            Piece::Text(text) => {
                let text = decoded(text);
                if self.link && words().has("controls", &plain_words(&text)) {
                    return;
                }
                if lists && self.row.is_none() && !text.trim().is_empty() {
                    self.begin(line, false);
                    self.cell = Some(String::new());
                }
                if let Some(cell) = &mut self.cell {
                    if !text.trim().is_empty() {
                        self.struck_text |= self.struck > 0;
                        self.live_text |= self.struck == 0 && text.chars().any(char::is_alphabetic);
                    }
                    // Of a cell that is struck in part, the rest stands.
                    if self.struck == 0 {
                        cell.push_str(&text);
                    } else {
                        cell.push('\u{1}');
                        cell.push_str(&text);
                        cell.push('\u{2}');
                    }
                }
            }
        }
    }

    fn open(&mut self, line: usize, name: &str, tag: &str, lists: bool) {
        match name {
            "tr" => {
                self.end_row();
                self.begin(line, false);
                self.struck += u32::from(tag.contains("line-through"));
            }
            // "<dt>Board</dt><dd>Kerf P4</dd>" is a label and what it is of.
            "dd" if lists && self.cell.as_ref().is_some_and(|c| c.ends_with(": ")) => {}
            "li" | "p" | "div" | "dt" | "dd" | "h1" | "h2" | "h3" | "h4" if lists => {
                self.end_row();
                self.item = matches!(name, "li" | "dt" | "dd");
                self.begin(line, name.starts_with('h'));
                self.cell = Some(String::new());
            }
            "td" | "th" => {
                self.end_cell();
                if self.row.is_none() {
                    self.begin(line, false);
                }
                self.heads += usize::from(name == "th");
                let covers = |name| {
                    attribute(tag, name)
                        .and_then(|n| n.parse().ok())
                        .unwrap_or(1)
                        .clamp(1, MAX_SPAN)
                };
                self.span = (covers("colspan"), covers("rowspan"));
                self.struck += u32::from(tag.contains("line-through"));
                self.cell = Some(String::new());
            }
            "br" => {
                if lists {
                    self.end_row();
                } else if let Some(cell) = &mut self.cell {
                    cell.push_str(" | ");
                }
            }
            "s" | "del" | "strike" => self.struck += 1,
            "a" => self.link = true,
            _ => {}
        }
    }

    fn begin(&mut self, line: usize, head: bool) {
        self.row = Some(Cells { line, head, item: self.item, ..Cells::default() });
        self.heads = 0;
        self.spans.clear();
        self.struck_text = false;
        self.live_text = false;
        self.struck = 0;
    }

    fn end_cell(&mut self) {
        if let (Some(cell), Some(row)) = (self.cell.take(), &mut self.row) {
            let text = cell.split_whitespace().collect::<Vec<_>>().join(" ");
            let before: usize = self.spans.iter().sum();
            // A cell over several rows leaves its place in those below it empty.
            let mut at = before;
            while let Some(rows) = self.covered.get_mut(&at).filter(|rows| **rows > 0) {
                *rows -= 1;
                row.cells.push(String::new());
                self.spans.push(1);
                at += 1;
            }
            row.cells.push(text);
            self.spans.push(self.span.0);
            if self.span.1 > 1 {
                self.covered.insert(at, self.span.1 - 1);
            }
        }
    }

    fn end_row(&mut self) {
        self.end_cell();
        if let Some(mut row) = self.row.take() {
            // A cell over several columns leaves the others of its row empty.
            if row.cells.len() > 1 {
                for (at, span) in self.spans.iter().enumerate().rev().filter(|(_, span)| **span > 1)
                {
                    let empty = std::iter::repeat_n(String::new(), span - 1);
                    row.cells.splice(at + 1..at + 1, empty);
                }
            }
            row.struck = self.struck_text && !self.live_text;
            let whole = row.struck;
            for cell in &mut row.cells {
                *cell =
                    if whole { cell.replace(['\u{1}', '\u{2}'], "") } else { without_struck(cell) };
            }
            row.head |= self.heads > 0 && self.heads == self.spans.len();
            if row.cells.iter().any(|c| !c.trim().is_empty()) {
                self.table.push(row);
            }
        }
    }
}

fn without_struck(cell: &str) -> String {
    let mut out = String::new();
    let mut depth = 0;
    for c in cell.chars() {
        match c {
            '\u{1}' => depth += 1,
            '\u{2}' => depth -= 1,
            c if depth <= 0 => out.push(c),
            _ => {}
        }
    }
    out.trim().to_owned()
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let at = find_ignoring_case(tag, name)? + name.len();
    let value = tag.get(at..)?.trim_start().strip_prefix('=')?.trim_start();
    let value = value.trim_start_matches(['"', '\'']);
    value.split(['"', '\'', ' ', '>']).next()
}

/// Entities as characters.
pub(crate) fn decoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let end = from.bytes().take(12).position(|b| b == b';');
        match end.and_then(|end| Some((entity(from.get(1..end)?)?, end))) {
            Some((c, end)) => {
                out.push(c);
                rest = from.get(end + 1..).unwrap_or("");
            }
            None => {
                out.push('&');
                rest = from.get(1..).unwrap_or("");
            }
        }
    }
    out.push_str(rest);
    out
}

fn entity(name: &str) -> Option<char> {
    if let Some(code) = name.strip_prefix('#') {
        let number = match code.strip_prefix(['x', 'X']) {
            Some(hex) => u32::from_str_radix(hex, 16).ok()?,
            None => code.parse().ok()?,
        };
        return char::from_u32(number).filter(|c| !c.is_control());
    }
    words().entity(name)
}

/// Elements that begin a line of their own.
const BLOCKS: &[&str] =
    &["tr", "li", "p", "div", "dt", "h1", "h2", "h3", "h4", "h5", "h6", "table", "ul", "ol"];

/// A page's text: a line for each block, on the line it stands on where there is room, its cells
/// kept apart by tabulators.
pub(crate) fn plain(text: &str) -> String {
    let mut out = String::new();
    let mut at = 1;
    pieces(text, |line, piece| match piece {
        Piece::Open(name, _)
            if BLOCKS.contains(&&*name) && !(out.is_empty() || out.ends_with('\n')) =>
        {
            out.push('\n');
            at += 1;
        }
        Piece::Open(name, _) if matches!(&*name, "td" | "th" | "dd") => {
            out.push_str(if out.is_empty() || out.ends_with('\n') { "" } else { "\t" });
        }
        Piece::Open(name, _) if name == "br" => out.push_str("; "),
        Piece::Text(text) => {
            while at < line {
                out.push('\n');
                at += 1;
            }
            let text = decoded(text);
            let ends = |blank: bool| if blank { " " } else { "" };
            out.push_str(ends(text.starts_with(' ') && !out.ends_with(['\n', '\t'])));
            out.push_str(&text.split_whitespace().collect::<Vec<_>>().join(" "));
            out.push_str(ends(text.ends_with(' ') && !text.trim().is_empty()));
        }
        _ => {}
    });
    out
}
