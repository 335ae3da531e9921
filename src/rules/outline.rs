//! What a script is made of, read off its tokens: functions, and the variables that hold a line of
//! a known kind.

use std::collections::{HashMap, HashSet};
use std::ops::Range;

use crate::rules::tokens::{Kind, Token, tokens};
use crate::source::Span;

/// A script's tokens and functions.
pub(crate) struct Outline<'t> {
    /// Every token.
    pub(crate) tokens: Vec<Token<'t>>,
    /// Functions in the order written.
    pub(crate) functions: Vec<Function<'t>>,
    /// Names that `let`, `for`, `const`, parameters and keys of maps bring in.
    pub(crate) own: HashSet<&'t str>,
}

/// One function.
pub(crate) struct Function<'t> {
    /// Its name.
    pub(crate) name: &'t str,
    /// Where its tokens stand, head and braces included.
    pub(crate) tokens: Range<usize>,
    /// Which kind of line a variable holds; none where two bindings differ.
    pub(crate) holds: HashMap<&'t str, Option<&'t str>>,
}

impl<'t> Outline<'t> {
    /// Reads a script.
    pub(crate) fn read(text: &'t str) -> Self {
        let tokens = tokens(text);
        let mut functions = Vec::new();
        let mut at = 0;
        while let Some(token) = tokens.get(at) {
            match tokens.get(at + 1).filter(|_| token.word("fn")) {
                Some(name) => {
                    let open = (at..tokens.len())
                        .find(|i| tokens.get(*i).is_some_and(|t| t.is("{")))
                        .unwrap_or(tokens.len());
                    let end = closing(&tokens, open).map_or(tokens.len(), |c| c + 1);
                    functions.push(Function {
                        name: name.text,
                        holds: holds(tokens.get(at..end).unwrap_or(&[])),
                        tokens: at..end,
                    });
                    at = end;
                }
                None => at += 1,
            }
        }
        let own = own_names(&tokens);
        Self { tokens, functions, own }
    }

    /// Where a function's name stands, and where the function ends; nowhere when it is not here.
    pub(crate) fn place(&self, function: &str) -> (Span, usize) {
        let span = |at: usize| self.tokens.get(at).map_or_else(Span::default, |t| t.span);
        let found = self.functions.iter().find(|f| f.name == function);
        found.map_or_else(Default::default, |f| {
            (span(f.tokens.start + 1), span(f.tokens.end.saturating_sub(1)).end())
        })
    }

    /// The function that a token stands in.
    pub(crate) fn function_of(&self, at: usize) -> Option<&Function<'t>> {
        self.functions.iter().find(|f| f.tokens.contains(&at))
    }

    /// The token a number of places away.
    pub(crate) fn near(&self, at: usize, by: isize) -> Option<&Token<'t>> {
        at.checked_add_signed(by).and_then(|i| self.tokens.get(i))
    }

    /// Whether a token is this sign.
    pub(crate) fn is(&self, at: usize, by: isize, sign: &str) -> bool {
        self.near(at, by).is_some_and(|t| t.is(sign))
    }

    /// The texts in quotes among a call's arguments, by their place: the call's name stands at
    /// `at`.
    pub(crate) fn arguments(&self, at: usize) -> Vec<Option<&Token<'t>>> {
        let Some(close) = closing(&self.tokens, at + 1) else { return Vec::new() };
        let mut arguments = Vec::new();
        let mut start = at + 2;
        let mut i = start;
        while i <= close {
            let here = self.tokens.get(i);
            if i == close || here.is_some_and(|t| t.is(",")) {
                let alone = (i == start + 1)
                    .then(|| self.tokens.get(start))
                    .flatten()
                    .filter(|t| t.kind == Kind::Text);
                arguments.push(alone);
                start = i + 1;
            }
            i = match here.filter(|t| opens(t)).and_then(|_| closing(&self.tokens, i)) {
                Some(end) => end + 1,
                None => i + 1,
            };
        }
        arguments
    }
}

fn opens(token: &Token<'_>) -> bool {
    token.kind == Kind::Sign && matches!(token.text, "(" | "[" | "{" | "#{" | "?[")
}

fn closes(token: &Token<'_>) -> bool {
    token.kind == Kind::Sign && matches!(token.text, ")" | "]" | "}")
}

/// The bracket that closes the one at `open`.
pub(crate) fn closing(tokens: &[Token<'_>], open: usize) -> Option<usize> {
    partner(tokens.iter().enumerate().skip(open), opens, closes)
}

/// The bracket that opens the one at `close`.
pub(crate) fn opening(tokens: &[Token<'_>], close: usize) -> Option<usize> {
    partner(tokens.iter().enumerate().take(close + 1).rev(), closes, opens)
}

/// The bracket that belongs to the first of these tokens; none where that is no bracket.
fn partner<'t>(
    tokens: impl Iterator<Item = (usize, &'t Token<'t>)>,
    deeper: fn(&Token<'_>) -> bool,
    back: fn(&Token<'_>) -> bool,
) -> Option<usize> {
    let mut depth = 0usize;
    for (i, token) in tokens {
        if deeper(token) {
            depth += 1;
        } else if back(token) {
            depth = depth.saturating_sub(1);
            if depth == 0 {
                return Some(i);
            }
        } else if depth == 0 {
            return None;
        }
    }
    None
}

fn own_names<'t>(tokens: &[Token<'t>]) -> HashSet<&'t str> {
    let mut own = HashSet::new();
    for (i, token) in tokens.iter().enumerate().filter(|(_, t)| t.kind == Kind::Name) {
        let before = i.checked_sub(1).and_then(|b| tokens.get(b));
        let after = tokens.get(i + 1);
        let brought_in =
            before.is_some_and(|b| b.word("let") || b.word("const") || b.word("for") || b.is("|"));
        if brought_in || after.is_some_and(|a| a.is(":") || a.is("|")) {
            own.insert(token.text);
        }
    }
    own
}

/// Variables of a function that hold a line of one kind: `let x = build.supply;` and `for x in
/// build.all("fan")`.
fn holds<'t>(tokens: &[Token<'t>]) -> HashMap<&'t str, Option<&'t str>> {
    let mut holds: HashMap<&'t str, Option<&'t str>> = HashMap::new();
    for i in 0..tokens.len() {
        let get = |by: usize| tokens.get(i + by);
        let sign = |by: usize, s: &str| get(by).is_some_and(|t| t.is(s));
        let (Some(head), Some(name)) = (get(0), get(1)) else { continue };
        let kind = if head.word("let") && name.kind == Kind::Name {
            let line = sign(2, "=")
                && get(3).is_some_and(|t| t.word("build"))
                && sign(4, ".")
                && sign(6, ";");
            line.then(|| get(5)).flatten().filter(|t| t.kind == Kind::Name).map(|t| t.text)
        } else if head.word("for") && name.kind == Kind::Name {
            let all = get(3).is_some_and(|t| t.word("build"))
                && sign(4, ".")
                && get(5).is_some_and(|t| t.word("all"))
                && sign(6, "(")
                && sign(8, ")")
                && sign(9, "{");
            all.then(|| get(7)).flatten().and_then(Token::quoted)
        } else if name.kind == Kind::Name
            && (head.is("|") || sign(2, "|") || (sign(2, "=") && !head.is(".")))
        {
            // A parameter of a closure, or a variable given another value.
            None
        } else {
            continue;
        };
        holds
            .entry(name.text)
            .and_modify(|held| *held = held.filter(|h| Some(*h) == kind))
            .or_insert(kind);
    }
    holds
}

#[cfg(test)]
#[path = "../../tests/unit/rules/outline.rs"]
mod tests;
