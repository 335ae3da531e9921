//! Lists as people type them: lines with bullets or none, between greetings and talk.

use super::aligned::columns_of_prose;
use super::delimited::{struck, unmarked};
use super::rows::RawRow;
use super::words::{plain, words};

struct Line<'a> {
    indent: usize,
    text: &'a str,
    bullet: bool,
    quoted: bool,
}

/// Rows of a text: each line that is a row of its own, wrapped lines joined.
pub(crate) fn rows(text: &str, is_kind: &dyn Fn(&str) -> bool) -> Vec<RawRow> {
    let mut out: Vec<RawRow> = Vec::new();
    // Where the text of the row that is open begins: what is indented as far goes on with it.
    let mut open: Option<usize> = None;
    let mut from = Origin::default();
    // How far the last row with a bullet is indented.
    let mut level: Option<usize> = None;
    let mut parted = true;
    for (number, whole) in text.split('\n').enumerate() {
        let line = read_line(whole.trim_end_matches('\r'));
        let number = number + 1;
        from.line(whole, &line);
        if line.text.is_empty() || line.text.starts_with("```") || is_rule(line.text) {
            open = None;
            parted = true;
            continue;
        }
        let goes_on = !line.bullet
            && open.is_some_and(|at| line.indent >= at && line.indent > 0)
            && !begins_row(line.text, out.last(), is_kind);
        if let (true, Some(row)) = (goes_on, out.last_mut()) {
            // "2. Motherboard", and on the next line which one.
            let labels = is_kind(&row.text) && !row.text.ends_with(':');
            row.text.push_str(if labels { ": " } else { " " });
            row.text.push_str(line.text);
            continue;
        }
        let title = line.text.trim_start_matches('#');
        let head = title.len() < line.text.len() && title.starts_with(' ')
            || is_mail_head(line.text)
            || from.footer;
        open = (!head).then_some(if line.bullet { line.indent + 1 } else { line.indent + 2 });
        let below = line.bullet && level.is_some_and(|at| line.indent > at + 1);
        level = if below || !line.bullet { level } else { Some(line.indent) };
        let mut row = RawRow {
            line: number,
            text: line.text.to_owned(),
            listed: line.bullet && !line.quoted,
            head,
            quoted: line.quoted || from.quoted,
            signed: from.signed,
            below,
            parted: std::mem::take(&mut parted),
            ..RawRow::default()
        };
        if let Some(inner) = struck(line.text) {
            row.text = inner;
            row.struck = true;
        }
        out.push(row);
    }
    columns_of_prose(&mut out, is_kind);
    for row in &mut out {
        row.struck |= all_struck(&row.text);
        row.text = unmarked(&without_leaders(&without_codes(&row.text), is_kind));
        // "[SSD] 2x Sluice 2000"
        let boxed = row.text.strip_prefix('[').and_then(|t| t.split_once(']'));
        if let Some((label, rest)) = boxed.filter(|(l, r)| is_kind(l) && !r.trim().is_empty()) {
            row.text = format!("{label}: {}", rest.trim_start_matches([':', ' ']));
        }
    }
    out
}

/// The rows of what stands beside a table: those with bullets, and the rest as headings and talk.
pub(crate) fn beside(
    text: &str,
    in_table: &dyn Fn(usize) -> bool,
    is_kind: &dyn Fn(&str) -> bool,
) -> Vec<RawRow> {
    let line = |(at, line)| if in_table(at + 1) { "" } else { line };
    let left: Vec<&str> = text.split('\n').enumerate().map(line).collect();
    let mut out = rows(&left.join("\n"), is_kind);
    out.iter_mut().for_each(|row| row.head |= !row.listed);
    out
}

/// Whether an indented line does not go on with the one above: "cpu: Dotterel 508" below "parts:",
/// or the head of a mail.
fn begins_row(text: &str, above: Option<&RawRow>, is_kind: &dyn Fn(&str) -> bool) -> bool {
    let labelled = text.split_once(": ").is_some_and(|(label, _)| is_kind(label));
    let heads =
        |row: &RawRow| row.text.strip_suffix(':').is_some_and(|h| !is_kind(h)) && !row.listed;
    labelled || above.is_some_and(heads) || is_mail_head(text)
}

/// Whose words a line is: the writer's, an older mail's or post's, or a signature.
#[derive(Default)]
struct Origin {
    /// Below `-- `.
    footer: bool,
    /// Below the greeting at the end, until an older mail begins.
    signed: bool,
    /// Below `On Tue, … wrote:` or `-----Original Message-----`, or between a forum's marks.
    quoted: bool,
    /// Forum quotes that are open.
    depth: usize,
}

impl Origin {
    fn line(&mut self, whole: &str, line: &Line<'_>) {
        let low = whole.trim().to_lowercase();
        self.footer |= low == "--";
        if low.starts_with("[quote") || low.starts_with("<blockquote") {
            self.depth += 1;
        }
        let closes = ["[/quote]", "</blockquote>"].iter().any(|mark| low.contains(mark));
        let ruled = low.starts_with("---") && low.ends_with("---");
        let wrote = words().says("wrote", &low);
        if !line.quoted && wrote && (ruled || low.ends_with(':') && low.contains('@')) {
            (self.quoted, self.signed, self.footer) = (true, false, false);
        }
        self.quoted |= self.depth > 0;
        if self.depth > 0 && closes {
            self.depth -= 1;
            self.quoted = self.depth > 0;
        }
        let bare = plain(low.trim_end_matches([',', '.', '!', ' ']));
        self.signed |= !line.quoted && !line.bullet && words().has("closing", &bare);
    }
}

fn read_line(whole: &str) -> Line<'_> {
    let mut rest = whole;
    let mut quoted = false;
    while let Some(inner) = rest.trim_start().strip_prefix('>') {
        quoted = true;
        rest = inner.strip_prefix(' ').unwrap_or(inner);
    }
    let text = rest.trim_start();
    let indent =
        rest.chars().take_while(|c| c.is_whitespace()).map(|c| if c == '\t' { 4 } else { 1 }).sum();
    let (bullet, text) = strip_bullet(text);
    Line { indent, text: text.trim(), bullet, quoted }
}

/// Takes a bullet, a number or a box to tick off the front of a line.
fn strip_bullet(text: &str) -> (bool, &str) {
    let mut rest = text;
    let mut found = false;
    for _ in 0..3 {
        let trimmed = rest.trim_start();
        let marks = ["[*]", "[ ]", "[x]", "[X]", "☐", "☑", "✓", "✔"];
        if let Some(after) = marks.iter().find_map(|m| trimmed.strip_prefix(m)) {
            (rest, found) = (after, true);
            continue;
        }
        let mut chars = trimmed.chars();
        match chars.next() {
            Some(mark) if is_bullet(mark, chars.as_str()) => (rest, found) = (chars.as_str(), true),
            Some(c) if c.is_ascii_digit() && !found => {
                let digits = trimmed.chars().take_while(char::is_ascii_digit).count();
                let after = trimmed.get(digits..).unwrap_or("");
                match after.strip_prefix(['.', ')']).filter(|a| a.starts_with(' ') && digits <= 3) {
                    Some(after) => (rest, found) = (after, true),
                    // `1 ....: Lull 120`
                    None => match after.split_once(": ") {
                        Some((dots, after))
                            if dots.len() > 2 && dots.chars().all(|c| matches!(c, '.' | ' ')) =>
                        {
                            (rest, found) = (after, true);
                        }
                        _ => break,
                    },
                }
            }
            // `Pos. 3  Lull 120`
            Some('P' | 'p') if !found => match position(trimmed) {
                Some(after) => (rest, found) = (after, true),
                None => break,
            },
            // `a) Lull 120`
            Some(c) if c.is_ascii_lowercase() && !found && chars.as_str().starts_with(") ") => {
                (rest, found) = (chars.as_str().get(1..).unwrap_or(""), true);
            }
            _ => break,
        }
    }
    (found, rest.trim_start())
}

/// Whether a mark with this behind it begins a row: a dash or a dot, or any sign that is no part of
/// a text before a blank, as "~" and "»".
fn is_bullet(mark: char, behind: &str) -> bool {
    let dash = "-*•·–—+".contains(mark);
    let dot = "‣▪►→○●◦■".contains(mark);
    let blank = behind.starts_with(char::is_whitespace);
    // A typed ring: "o Lull 120".
    let ring = mark == 'o' && behind.trim_start().starts_with(char::is_alphanumeric);
    let sign = !mark.is_ascii() && !mark.is_alphanumeric() && !"„“”«…€£¥".contains(mark);
    (dot || dash && (blank || behind.is_empty()) || blank && (mark == '~' || ring || sign))
        && !behind.starts_with("--")
}

/// What stands behind the position of a row in an offer; "Pos. 7: one of them as a reserve" is
/// talk of it.
fn position(text: &str) -> Option<&str> {
    let low = text.to_lowercase();
    let word = words().begins("position", &low)?;
    let number = text.get(word..)?.trim_start_matches(['.', ' ']);
    let behind = number.trim_start_matches(|c: char| c.is_ascii_digit());
    let numbered = (1..=3).contains(&(number.len() - behind.len()));
    (numbered && behind.starts_with([' ', '\t', ')', '.']))
        .then(|| behind.trim_start_matches([')', '.']))
}

/// `Archive ........ 4x Marl 16 TB ..... 289,-`: the dots behind a label are a colon, others a
/// comma.
fn without_leaders(text: &str, is_kind: &dyn Fn(&str) -> bool) -> String {
    let dots = |w: &&str| w.chars().count() > 3 && w.chars().all(|c| matches!(c, '.' | '_' | '·'));
    if !text.split_whitespace().any(|w| dots(&w)) {
        return text.to_owned();
    }
    let mut out = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !dots(&word) {
            out.push_str(if out.is_empty() { "" } else { " " });
            out.push_str(word);
        } else if !out.is_empty() {
            let label = is_kind(&out) || words().has("labels", &plain(&out));
            out.push(if label { ':' } else { ',' });
        }
    }
    out
}

fn is_rule(text: &str) -> bool {
    text.chars().count() >= 3
        && text.chars().all(|c| matches!(c, '-' | '=' | '_' | '*' | '~' | ' ' | '+' | '─' | '.'))
}

fn is_mail_head(text: &str) -> bool {
    text.split_once(':').is_some_and(|(head, rest)| {
        (rest.starts_with(' ') || rest.is_empty()) && words().has("mail_heads", &plain(head))
    })
}

/// Marks between which a text is struck out.
const STRUCK: &[(&str, &str)] = &[
    ("~~", "~~"),
    ("[s]", "[/s]"),
    ("<s>", "</s>"),
    ("<del>", "</del>"),
    ("[strike]", "[/strike]"),
];

fn all_struck(text: &str) -> bool {
    let low = text.trim().to_lowercase();
    STRUCK.iter().chain([&("~", "~")]).any(|(open, close)| {
        low.starts_with(open) && low.ends_with(close) && low.len() > open.len() + close.len()
    })
}

/// Without what is struck out in part, and without a forum's codes.
pub(crate) fn without_codes(text: &str) -> String {
    if !text.contains(['~', '[', '<']) {
        return text.to_owned();
    }
    let mut out = text.to_owned();
    for (open, close) in STRUCK {
        while let Some(from) = out.to_lowercase().find(open) {
            let Some(length) =
                out.get(from + open.len()..).and_then(|t| t.to_lowercase().find(close))
            else {
                break;
            };
            let end = from + open.len() + length + close.len();
            if end <= from || !out.is_char_boundary(end) {
                break;
            }
            out.replace_range(from..end, " ");
        }
    }
    let mut clean = String::with_capacity(out.len());
    let mut rest = out.as_str();
    while let Some(at) = rest.find('[') {
        let (before, from) = rest.split_at(at);
        clean.push_str(before);
        let name: String =
            from.chars().skip(1).take_while(|c| c.is_ascii_alphabetic() || *c == '/').collect();
        let known = [
            "b", "i", "u", "url", "list", "color", "size", "quote", "code", "center", "spoiler",
            "s", "table", "tr", "td", "img",
        ];
        let close = from.find(']');
        match close
            .filter(|_| known.contains(&name.trim_start_matches('/').to_lowercase().as_str()))
        {
            Some(close) => rest = from.get(close + 1..).unwrap_or(""),
            None => {
                clean.push('[');
                rest = from.get(1..).unwrap_or("");
            }
        }
    }
    clean.push_str(rest);
    clean
}
