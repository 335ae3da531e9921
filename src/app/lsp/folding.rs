//! A text as a tree: its tables or functions by name, and what can be folded away.

use lsp_types::{DocumentSymbol, FoldingRange, FoldingRangeKind, SymbolKind};
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::requests::At;
use super::server::Failure;
use super::toml_outline::TomlTable;
use crate::rules::outline::Outline;
use crate::source::Span;

/// Most symbols of one text.
const MOST: usize = 20_000;

/// The tables of a TOML text, or the functions of a script.
pub(super) fn symbols(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let symbols: Vec<DocumentSymbol> = match here.is_script() {
        true => functions(here),
        false => {
            let tables = here.outline.tables.iter().filter(|t| !t.head.is_empty());
            tables.take(MOST).map(|table| of_table(here, table)).collect()
        }
    };
    Ok(json!(symbols))
}

#[allow(deprecated)]
fn symbol(
    here: &Here<'_>,
    name: String,
    detail: Option<String>,
    kind: SymbolKind,
    (whole, name_span): (Span, Span),
    children: Option<Vec<DocumentSymbol>>,
) -> DocumentSymbol {
    // An editor refuses a name that is empty, and a place that lies outside of the whole.
    let name = if name.trim().is_empty() { "(no name)".to_owned() } else { name };
    let whole = Span::new(whole.start(), whole.end().max(name_span.end()));
    DocumentSymbol {
        name,
        detail,
        kind,
        tags: None,
        deprecated: None,
        range: here.doc.range(whole, here.encoding),
        selection_range: here.doc.range(name_span, here.encoding),
        children,
    }
}

fn of_table(here: &Here<'_>, table: &TomlTable) -> DocumentSymbol {
    let text = here.text();
    let said =
        ["part", "any", "rule", "name", "title"].iter().find_map(|key| table.text(text, key));
    let name = match said {
        Some(said) => said.to_owned(),
        None => table.path.join("."),
    };
    let detail = said.map(|_| table.path.join("."));
    let keys = table.entries.iter().filter(|entry| !entry.key.is_empty()).map(|entry| {
        let end = entry.value.end().max(entry.key_span.end());
        let whole = Span::new(entry.key_span.start(), end);
        let places = (whole, entry.key_span);
        symbol(here, entry.key.clone(), None, SymbolKind::PROPERTY, places, None)
    });
    let kind = if table.array { SymbolKind::OBJECT } else { SymbolKind::STRUCT };
    let children = keys.collect();
    symbol(here, name, detail, kind, (table.whole, table.head), Some(children))
}

fn functions(here: &Here<'_>) -> Vec<DocumentSymbol> {
    let outline = Outline::read(here.text());
    let of = |function: &crate::rules::outline::Function<'_>| {
        let (name, end) = outline.place(function.name);
        let start = outline.tokens.get(function.tokens.start).map_or(0, |t| t.span.start());
        let places = (Span::new(start, end.max(name.end())), name);
        symbol(here, function.name.to_owned(), None, SymbolKind::FUNCTION, places, None)
    };
    outline.functions.iter().take(MOST).map(of).collect()
}

/// Tables, values over several lines, functions, and runs of comment lines.
pub(super) fn folds(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let mut spans: Vec<Span> = Vec::new();
    if here.is_script() {
        let outline = Outline::read(here.text());
        let token = |at: usize| outline.tokens.get(at).map_or(Span::default(), |t| t.span);
        spans.extend(outline.functions.iter().map(|function| {
            let last = function.tokens.end.saturating_sub(1);
            Span::new(token(function.tokens.start).start(), token(last).end())
        }));
    } else {
        for table in &here.outline.tables {
            if !table.head.is_empty() {
                spans.push(table.whole);
            }
            spans.extend(table.entries.iter().map(|entry| entry.value));
        }
    }
    let line = |offset: usize| here.doc.lines.line_of(offset);
    let mut folds: Vec<FoldingRange> = spans
        .into_iter()
        .filter(|span| !span.is_empty())
        .map(|span| (line(span.start()), line(span.end())))
        .filter(|(start, end)| start < end)
        .map(|(start, end)| fold(start, end, None))
        .collect();
    folds.extend(comments(here));
    folds.sort_by_key(|fold| (fold.start_line, fold.end_line));
    Ok(json!(folds))
}

fn fold(start: usize, end: usize, kind: Option<FoldingRangeKind>) -> FoldingRange {
    let small = |line: usize| u32::try_from(line).unwrap_or(u32::MAX);
    FoldingRange { start_line: small(start), end_line: small(end), kind, ..FoldingRange::default() }
}

fn comments(here: &Here<'_>) -> Vec<FoldingRange> {
    let sign = if here.is_script() { "//" } else { "#" };
    let text = here.text();
    let mut folds = Vec::new();
    let mut start = None;
    for line in 0..=here.doc.lines.count() {
        let bytes = here.doc.lines.bytes_of(text, line);
        let of_comment = line < here.doc.lines.count()
            && text.get(bytes).is_some_and(|body| body.trim_start().starts_with(sign));
        match (of_comment, start) {
            (true, None) => start = Some(line),
            (false, Some(first)) => {
                if line > first + 1 {
                    folds.push(fold(first, line - 1, Some(FoldingRangeKind::Comment)));
                }
                start = None;
            }
            _ => {}
        }
    }
    folds
}
