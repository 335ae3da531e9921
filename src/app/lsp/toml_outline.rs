//! What a TOML text is made of, read without asking that it be whole: tables with their keys and
//! where each stands. An editor asks about a text while it is being typed.

use crate::source::Span;

/// The tables of a text, in the order written; the first is the top of the file.
pub(crate) struct TomlOutline {
    pub(crate) tables: Vec<TomlTable>,
}

pub(crate) struct TomlTable {
    /// The keys of its heading.
    pub(crate) path: Vec<String>,
    /// Whether it is one of several, under `[[…]]`.
    pub(crate) array: bool,
    /// Its heading with brackets; empty at the top.
    pub(crate) head: Span,
    /// What stands between the brackets.
    pub(crate) name: Span,
    /// From its heading to the end of its last key.
    pub(crate) whole: Span,
    pub(crate) entries: Vec<TomlEntry>,
}

/// A key with its value.
pub(crate) struct TomlEntry {
    /// The key as written, parts joined by points, without quotes.
    pub(crate) key: String,
    pub(crate) key_span: Span,
    /// Where the value stands, without the comment behind it; empty where there is none.
    pub(crate) value: Span,
    /// Where a value may begin: behind the `=`; none where there is no `=` yet.
    pub(crate) after_equals: Option<usize>,
}

impl TomlTable {
    pub(crate) fn is(&self, path: &[&str]) -> bool {
        self.path.iter().map(String::as_str).eq(path.iter().copied())
    }

    pub(crate) fn entry(&self, key: &str) -> Option<&TomlEntry> {
        self.entries.iter().find(|entry| entry.key == key)
    }

    /// A value of it that is a text, without its quotes.
    pub(crate) fn text<'t>(&self, text: &'t str, key: &str) -> Option<&'t str> {
        let value = self.entry(key)?.value;
        let written = text.get(value.start()..value.end())?;
        let quote = written.chars().next().filter(|c| "\"'".contains(*c))?;
        written.strip_prefix(quote)?.strip_suffix(quote)
    }
}

impl TomlOutline {
    pub(crate) fn read(text: &str) -> Self {
        let mut reader = Reader { text, at: 0, tables: vec![top()] };
        while reader.at < text.len() {
            reader.statement();
        }
        Self { tables: reader.tables }
    }

    /// The table that a byte stands in: the last whose heading begins before it.
    pub(crate) fn table_at(&self, offset: usize) -> Option<&TomlTable> {
        self.tables.iter().rev().find(|t| t.head.start() <= offset).or(self.tables.first())
    }
}

fn top() -> TomlTable {
    TomlTable {
        path: Vec::new(),
        array: false,
        head: Span::default(),
        name: Span::default(),
        whole: Span::default(),
        entries: Vec::new(),
    }
}

struct Reader<'t> {
    text: &'t str,
    at: usize,
    tables: Vec<TomlTable>,
}

impl Reader<'_> {
    fn rest(&self) -> &str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn line_end(&self) -> usize {
        self.at + self.rest().find(['\n', '\r']).unwrap_or(self.rest().len())
    }

    /// Reads one heading, key or comment.
    fn statement(&mut self) {
        let skipped = self.rest().len() - self.rest().trim_start().len();
        self.at += skipped;
        let end = self.line_end();
        match self.rest().chars().next() {
            None => {}
            Some('#' | '\u{feff}') => self.at = self.at.max(end).max(self.at + 1),
            Some('[') => self.heading(end),
            Some(_) => self.entry(end),
        }
    }

    fn heading(&mut self, end: usize) {
        let line = self.text.get(self.at..end).unwrap_or("");
        let array = line.starts_with("[[");
        let open = if array { 2 } else { 1 };
        let body = line.get(open..).unwrap_or("");
        let close = quoted_find(body, ']').unwrap_or(body.len());
        let name = Span::new(self.at + open, self.at + open + close);
        let head = self.at + (open + close + if array { 2 } else { 1 }).min(line.len());
        let path = keys(self.text.get(name.start()..name.end()).unwrap_or(""));
        self.tables.push(TomlTable {
            path,
            array,
            head: Span::new(self.at, head),
            name,
            whole: Span::new(self.at, head),
            entries: Vec::new(),
        });
        self.at = end;
    }

    fn entry(&mut self, end: usize) {
        let line = self.text.get(self.at..end).unwrap_or("");
        let start = self.at;
        let equals = quoted_find(line, '=');
        let key = line.get(..equals.unwrap_or(line.len())).unwrap_or("");
        let key = key.split('#').next().unwrap_or("").trim_end();
        let key_span = Span::new(start, start + key.len());
        let (value, after) = match equals {
            None => (Span::new(end, end), None),
            Some(at) => {
                let from = start + at + 1;
                (self.value(from), Some(from))
            }
        };
        let entry = TomlEntry { key: keys(key).join("."), key_span, value, after_equals: after };
        self.at = value.end().max(end).max(start + 1);
        // What follows a value on its line is a comment, or nothing that reads.
        self.at = self.line_end();
        if let Some(table) = self.tables.last_mut() {
            let last = if value.is_empty() { key_span.end() } else { value.end() };
            table.whole = Span::new(table.whole.start(), last);
            table.entries.push(entry);
        }
    }

    /// The value that begins behind a byte: to the end of its line, or of the bracket that it
    /// opens. A heading at the start of a line ends a bracket that was never closed.
    fn value(&self, from: usize) -> Span {
        let body = self.text.get(from..).unwrap_or("");
        let blank = body.len() - body.trim_start_matches([' ', '\t']).len();
        let (mut depth, mut at, mut last) = (0usize, blank, blank);
        while let Some(rest) = body.get(at..).filter(|r| !r.is_empty()) {
            let Some(c) = rest.chars().next() else { break };
            let step = match c {
                '\n' | '\r' if depth == 0 => break,
                '\n' if rest.starts_with("\n[[") => break,
                '#' => rest.find('\n').unwrap_or(rest.len()),
                '"' | '\'' => string_len(rest),
                '[' | '{' => {
                    depth += 1;
                    1
                }
                ']' | '}' => {
                    depth = depth.saturating_sub(1);
                    1
                }
                c => c.len_utf8(),
            };
            at += step;
            if !c.is_whitespace() && c != '#' {
                last = at;
            }
        }
        Span::new(from + blank.min(last), from + last)
    }
}

/// How long a text in quotes is; one that does not end on its line ends there.
fn string_len(rest: &str) -> usize {
    for triple in ["\"\"\"", "'''"] {
        if let Some(inner) = rest.strip_prefix(triple) {
            let close = inner.find(triple).map_or(inner.len(), |at| at + 3);
            return 3 + close;
        }
    }
    let Some(quote) = rest.chars().next() else { return 0 };
    let mut escaped = false;
    for (at, c) in rest.char_indices().skip(1) {
        match c {
            '\n' | '\r' => return at,
            _ if escaped => escaped = false,
            '\\' if quote == '"' => escaped = true,
            c if c == quote => return at + c.len_utf8(),
            _ => {}
        }
    }
    rest.len()
}

/// The first place of a sign outside of quotes.
fn quoted_find(text: &str, sign: char) -> Option<usize> {
    let mut at = 0;
    while let Some(rest) = text.get(at..).filter(|r| !r.is_empty()) {
        let c = rest.chars().next()?;
        match c {
            c if c == sign => return Some(at),
            '"' | '\'' => at += string_len(rest).max(1),
            '#' if sign == '=' => return None,
            c => at += c.len_utf8(),
        }
    }
    None
}

/// The keys of a heading or a dotted key, without quotes.
fn keys(text: &str) -> Vec<String> {
    let mut keys = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() {
        let end = quoted_find(rest, '.').unwrap_or(rest.len());
        let key = rest.get(..end).unwrap_or("").trim();
        keys.push(key.trim_matches(['"', '\'']).to_owned());
        rest = rest.get(end + 1..).unwrap_or("");
    }
    keys
}

/// The texts in quotes within a run of bytes, each without its quotes.
pub(crate) fn strings_in(text: &str, span: Span) -> Vec<Span> {
    let mut found = Vec::new();
    let mut at = span.start();
    while let Some(rest) = text.get(at..span.end().min(text.len())).filter(|r| !r.is_empty()) {
        let Some(c) = rest.chars().next() else { break };
        match c {
            '"' | '\'' => {
                let len = string_len(rest);
                let closed = len > 1 && rest.get(..len).is_some_and(|s| s.ends_with(c));
                found.push(Span::new(at + 1, at + len - usize::from(closed)));
                at += len.max(1);
            }
            '#' => at += rest.find('\n').unwrap_or(rest.len()),
            c => at += c.len_utf8(),
        }
    }
    found
}

#[cfg(test)]
#[path = "../../../tests/unit/app/lsp/toml_outline.rs"]
mod tests;
