//! Text that no reader of Markdown acts on. Names are data, so whatever Markdown or HTML would act
//! on is escaped.

use crate::app::report::escape::inert;
use crate::words::clip;

/// Longest text of a cell or line, in letters.
const LONG: usize = 900;

/// A rule's id between back-ticks: it must hold none.
pub(super) fn code(id: &str) -> String {
    inert(id).replace('`', "'")
}

/// Text on one line that no Markdown reader acts on; addresses and names of people are broken up
/// too, as ticket systems link them.
pub(crate) fn escaped(text: &str) -> String {
    let text = clip(&inert(text), LONG);
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '@' => out.push_str("&#64;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '#' | '~' | '!' | '$' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    // A scheme or a leading www makes a link without any mark.
    out.replace("://", ":&#47;&#47;").replace("www.", "www&#46;")
}

#[cfg(test)]
#[path = "../../../tests/unit/app/report/markdown.rs"]
mod tests;
