//! A script cut into tokens with their bytes: the engine gives places, not widths, and its tree
//! drops what was written.

use crate::source::Span;

/// What a token is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A name or a keyword.
    Name,
    /// A number.
    Number,
    /// A text in quotes of any sort.
    Text,
    /// An operator or a bracket.
    Sign,
}

/// One token.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Token<'t> {
    /// What it is.
    pub kind: Kind,
    /// As written.
    pub text: &'t str,
    /// Where.
    pub span: Span,
}

impl<'t> Token<'t> {
    /// Whether it is this operator or bracket.
    pub fn is(&self, sign: &str) -> bool {
        self.kind == Kind::Sign && self.text == sign
    }

    /// Whether it is this name or keyword.
    pub fn word(&self, name: &str) -> bool {
        self.kind == Kind::Name && self.text == name
    }

    /// What stands between the quotes of a plain text; none where it holds an escape or an
    /// expression.
    pub fn quoted(&self) -> Option<&'t str> {
        let inner = self.text.strip_prefix('"')?.strip_suffix('"')?;
        (self.kind == Kind::Text && !inner.contains('\\')).then_some(inner)
    }
}

/// Operators, the longest first.
const SIGNS: &[&str] = &[
    "<<=", ">>=", "**=", "..=", "?.", "??", "?[", "::", "#{", "=>", "==", "!=", "<=", ">=", "&&",
    "||", "+=", "-=", "*=", "/=", "%=", "**", "..", "<<", ">>",
];

/// Cuts a script into tokens; comments are left out, and what is no token at all is passed over.
pub fn tokens(text: &str) -> Vec<Token<'_>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(rest) = text.get(at..).filter(|r| !r.is_empty()) {
        let (kind, len) = one(rest, found.last());
        if let Some(kind) = kind {
            found.push(Token {
                kind,
                text: rest.get(..len).unwrap_or(rest),
                span: Span::new(at, at + len),
            });
        }
        at += len.max(1);
    }
    found
}

/// The token that begins at a byte; one letter where none does.
pub(crate) fn token_at(text: &str, start: usize) -> Span {
    let rest = text.get(start..).unwrap_or("");
    let len = match one(rest, None) {
        (Some(_), len) => len,
        (None, _) if rest.starts_with('/') => rest.len() - rest.trim_start_matches('/').len(),
        (None, _) => rest.chars().next().map_or(0, char::len_utf8),
    };
    Span::new(start, start + len)
}

/// Names that stand for themselves in an expression, each once: no point stands before them.
pub(crate) fn bare_names(text: &str) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    let mut after_point = false;
    for token in tokens(text) {
        if token.kind == Kind::Name && !after_point && !names.contains(&token.text) {
            names.push(token.text);
        }
        after_point = token.is(".") || token.is("?.");
    }
    names
}

/// Most arguments of a call, parameters of a function or closure, or variables beside one another.
pub const MAX_ARGUMENTS: usize = 64;

/// Where more stand beside one another than a call can take: the parser would go on for ever, and
/// the call would fill the memory. Arrays and maps have bounds of their own.
pub(crate) fn long_call(tokens: &[Token<'_>]) -> Option<Span> {
    let mut open: Vec<(bool, usize)> = vec![(true, 0)];
    for token in tokens {
        match token.text {
            _ if token.kind != Kind::Sign => {}
            "(" | "{" => open.push((true, 0)),
            "[" | "#{" | "?[" => open.push((false, 0)),
            ")" | "]" | "}" => {
                open.pop();
            }
            ";" => open.iter_mut().rev().take(1).for_each(|(_, count)| *count = 0),
            "," => {
                if let Some((counts, count)) = open.last_mut() {
                    *count += 1;
                    if *counts && *count >= MAX_ARGUMENTS {
                        return Some(token.span);
                    }
                }
            }
            _ => {}
        }
    }
    None
}

/// The start of a `/*` that nothing closes, where there is one: the engine takes all that follows
/// for a comment and says nothing.
pub fn open_comment(text: &str) -> Option<Span> {
    let mut last = None;
    let mut at = if text.contains("/*") { 0 } else { text.len() };
    while let Some(rest) = text.get(at..).filter(|r| !r.is_empty()) {
        if rest.starts_with("/*") && closed_comment(rest).is_none() {
            return Some(Span::new(at, at + 2));
        }
        let (kind, len) = one(rest, last.as_ref());
        last = kind.map(|kind| Token {
            kind,
            text: rest.get(..len).unwrap_or(rest),
            span: Span::new(at, at + len),
        });
        at += len.max(1);
    }
    None
}

/// The kind and length of what a text begins with; no kind for blanks and comments.
fn one(rest: &str, before: Option<&Token<'_>>) -> (Option<Kind>, usize) {
    let Some(first) = rest.chars().next() else { return (None, 0) };
    match first {
        c if c.is_whitespace() => (None, rest.len() - rest.trim_start().len()),
        '/' if rest.starts_with("//") => (None, rest.find('\n').unwrap_or(rest.len())),
        '/' if rest.starts_with("/*") => (None, closed_comment(rest).unwrap_or(rest.len())),
        '"' => (Some(Kind::Text), quoted(rest, '"')),
        '`' => (Some(Kind::Text), quoted(rest, '`')),
        '\'' => (Some(Kind::Text), quoted(rest, '\'')),
        c if c.is_alphabetic() || c == '_' => (
            Some(Kind::Name),
            rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(rest.len()),
        ),
        c if c.is_ascii_digit() => {
            (Some(Kind::Number), number(rest, before.is_some_and(|t| t.is("."))))
        }
        c => (Some(Kind::Sign), sign(rest).unwrap_or(c.len_utf8())),
    }
}

/// How long an operator of more than one letter is. Most signs stand alone, and that is seen from
/// the next letter.
fn sign(rest: &str) -> Option<usize> {
    let second = rest.as_bytes().get(1)?;
    if !b"<>=&|*.?{:[".contains(second) {
        return None;
    }
    SIGNS.iter().find(|s| rest.starts_with(**s)).map(|s| s.len())
}

/// How long a comment is; none where nothing closes it. Comments nest.
fn closed_comment(rest: &str) -> Option<usize> {
    let mut depth = 0usize;
    let mut at = 0;
    while let Some(here) = rest.get(at..).filter(|r| !r.is_empty()) {
        if here.starts_with("/*") {
            depth += 1;
            at += 2;
        } else if here.starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return Some(at);
            }
        } else {
            at += here.chars().next().map_or(1, char::len_utf8);
        }
    }
    None
}

fn quoted(rest: &str, mark: char) -> usize {
    let mut escaped = false;
    for (at, c) in rest.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            c if c == mark => return at + 1,
            _ => {}
        }
    }
    rest.len()
}

/// `0..9` is a range and `1.abs()` a call, so a point counts only with a digit behind it.
fn number(rest: &str, after_point: bool) -> usize {
    let digits = |text: &str| {
        text.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_')).unwrap_or(text.len())
    };
    let whole = digits(rest);
    let fraction = rest
        .get(whole..)
        .and_then(|r| r.strip_prefix('.'))
        .filter(|r| !after_point && r.starts_with(|c: char| c.is_ascii_digit()));
    fraction.map_or(whole, |fraction| whole + 1 + digits(fraction))
}

#[cfg(test)]
#[path = "../../tests/unit/rules/tokens.rs"]
mod tests;
