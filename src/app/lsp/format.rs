//! A TOML text laid out: equals signs of a block in one column, one blank line between tables, no
//! blanks at the ends of lines. Comments and values stay as they are, and where a value would not,
//! nothing is changed.

use serde_json::{Value, json};
use toml::Table;

use super::cursor_requests::Here;
use super::documents::Sort;
use super::requests::At;
use super::server::Failure;
use super::text_edits;
use super::toml_outline::{TomlEntry, TomlOutline};

/// The edits that lay a text out; none where it does not read.
pub(super) fn format(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let ours = matches!(here.doc.sort, Sort::List | Sort::Brief | Sort::Layer);
    if !ours || !here.doc.uri.ends_with(".toml") && here.doc.sort == Sort::Layer {
        return Ok(Value::Null);
    }
    let text = &here.doc.source.text;
    let laid = laid_out(text).unwrap_or_else(|| text.clone());
    Ok(json!(text_edits::between(text, &laid, here.encoding)))
}

/// A text laid out; none where it is no TOML, or would say something else.
fn laid_out(text: &str) -> Option<String> {
    let before: Table = toml::from_str(text).ok()?;
    let laid = tidy(&aligned(text));
    let after: Table = toml::from_str(&laid).ok()?;
    (before == after && comments(text) == comments(&laid)).then_some(laid)
}

/// The comments of a text in order; a sign within a value counts alike before and after.
fn comments(text: &str) -> Vec<&str> {
    text.lines().filter_map(|line| line.split_once('#')).map(|(_, c)| c.trim_end()).collect()
}

/// The same text with the equals signs of each block in one column. A block ends at a blank line, a
/// comment line, a heading, or a value over several lines.
fn aligned(text: &str) -> String {
    let outline = TomlOutline::read(text);
    let mut out = String::with_capacity(text.len() + 64);
    let mut at = 0;
    for table in &outline.tables {
        for block in blocks(text, &table.entries) {
            let width = block.iter().map(|e| key(text, e).chars().count()).max().unwrap_or(0);
            for entry in block {
                let Some(after) = entry.after_equals else { continue };
                out.push_str(text.get(at..entry.key_span.start()).unwrap_or(""));
                let key = key(text, entry);
                let pad = width - key.chars().count();
                out.push_str(&format!("{key}{} = ", " ".repeat(pad)));
                let gap = text.get(after..).unwrap_or("");
                let blank = gap.len() - gap.trim_start_matches([' ', '\t']).len();
                at = after + blank;
            }
        }
    }
    out.push_str(text.get(at..).unwrap_or(""));
    out
}

fn key<'t>(text: &'t str, entry: &TomlEntry) -> &'t str {
    text.get(entry.key_span.start()..entry.key_span.end()).unwrap_or("").trim()
}

fn blocks<'e>(text: &str, entries: &'e [TomlEntry]) -> Vec<Vec<&'e TomlEntry>> {
    let mut blocks: Vec<Vec<&TomlEntry>> = Vec::new();
    let one_line = |e: &TomlEntry| {
        text.get(e.value.start()..e.value.end()).is_some_and(|value| !value.contains('\n'))
    };
    for entry in entries {
        let next = blocks.last().and_then(|block| block.last()).is_some_and(|before| {
            let between = text.get(before.value.end()..entry.key_span.start()).unwrap_or("");
            one_line(before) && between.matches('\n').count() == 1
        });
        match blocks.last_mut().filter(|_| next) {
            Some(block) => block.push(entry),
            None => blocks.push(vec![entry]),
        }
    }
    blocks
}

/// No blanks at the ends of lines, one blank line at the most, one end at the end. What stands
/// within a text over several lines is not looked at: where that changes it, the whole is refused.
fn tidy(text: &str) -> String {
    let dos = text.contains("\r\n");
    let end = if dos { "\r\n" } else { "\n" };
    let mut out = String::with_capacity(text.len());
    let mut blank = true;
    for line in text.lines() {
        let line = line.trim_end();
        if line.is_empty() {
            if !blank {
                out.push_str(end);
            }
            blank = true;
            continue;
        }
        blank = false;
        out.push_str(line);
        out.push_str(end);
    }
    while out.ends_with(&format!("{end}{end}")) {
        out.truncate(out.len() - end.len());
    }
    out
}

#[cfg(test)]
#[path = "../../../tests/unit/app/lsp/format.rs"]
mod tests;
