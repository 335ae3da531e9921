//! Published figures: small tables with their sources.

use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::declared::{Declared, Reading, Row, Takes, key, needed};
use super::field_reader::{Texts, found, key_span, plain_number, sound};
use super::value::Val;
use crate::source::{Problem, Problems, Source, Span};

/// A table of figures.
#[derive(Debug)]
pub struct Table {
    /// Its word in files and scripts.
    pub name: Arc<str>,
    /// What it holds.
    pub meaning: String,
    /// Document, revision, table.
    pub citation: String,
    /// How the figures were come by: read, secondary, computed, memory, practice.
    pub basis: String,
    /// Column names and units.
    pub columns: Vec<Column>,
    /// Row names in the file's order.
    pub rows: Vec<Arc<str>>,
    /// Row by row.
    cells: Vec<Cell>,
    /// The file of the lowest layer that has it.
    pub source: Arc<Source>,
}

/// A value with its place; no file where the table has none.
#[derive(Debug, Clone, Default)]
struct Cell {
    value: Val,
    span: Span,
    source: Option<Arc<Source>>,
}

/// A column of a table.
#[derive(Debug, Clone)]
pub struct Column {
    /// Its word.
    pub name: Arc<str>,
    /// Unit of its numbers.
    pub unit: Arc<str>,
    /// Whether it holds numbers; texts otherwise.
    pub number: bool,
    /// What it means.
    pub meaning: String,
}

pub(crate) const TABLE: Declared = Declared {
    of: "a table",
    keys: &[
        needed("table", Takes::Text, "its word in files and scripts"),
        key("meaning", Takes::Text, "what it holds"),
        needed("source", Takes::Text, "document, revision, table"),
        key("basis", Takes::Text, "how the figures were come by"),
        key("column", Takes::Other, "its columns, `[column.NAME]`"),
        key("row", Takes::Other, "its rows, `[row.NAME]`"),
    ],
};
pub(crate) const COLUMN: Declared = Declared {
    of: "a column",
    keys: &[
        key("type", Takes::Words(&["number", "text"]), "what its cells are"),
        key("unit", Takes::Text, "unit of its numbers"),
        key("meaning", Takes::Text, "what it means"),
    ],
};

impl Table {
    /// A column's place.
    pub fn column(&self, name: &str) -> Option<u16> {
        self.columns.iter().position(|c| *c.name == *name).and_then(|at| u16::try_from(at).ok())
    }

    /// A cell, absent where the table has none.
    pub fn cell(&self, row: &str, column: u16) -> &Val {
        self.place(row, column).and_then(|at| self.cells.get(at)).map_or(&Val::Absent, |c| &c.value)
    }

    /// Where a cell is written.
    pub fn written(&self, row: &str, column: u16) -> (&Arc<Source>, Span) {
        let cell = self.place(row, column).and_then(|at| self.cells.get(at));
        let source = cell.and_then(|c| c.source.as_ref()).unwrap_or(&self.source);
        (source, cell.map_or(Span::default(), |c| c.span))
    }

    /// Takes over what a higher layer says of the same table: its rows and columns come beside
    /// those there are, and a cell that it gives in the place of the same cell below.
    pub(crate) fn add(&mut self, higher: Self, problems: &mut Problems) {
        let width = self.columns.len();
        for column in &higher.columns {
            match self.columns.iter().find(|c| c.name == column.name) {
                Some(held) if held.number != column.number || held.unit != column.unit => {
                    let problem = Problem::new(format!(
                        "column `{}` of table `{}` is of another type or unit in the layer below",
                        column.name, self.name
                    ))
                    .at(&higher.source, Span::default(), "here");
                    problems.push(problem.help("declare it as it is there, or name another"));
                    return;
                }
                Some(_) => {}
                None => self.columns.push(column.clone()),
            }
        }
        self.widen(width);
        for row in &higher.rows {
            if !self.rows.contains(row) {
                self.rows.push(row.clone());
            }
            self.cells.resize(self.rows.len() * self.columns.len(), Cell::default());
            for (at, column) in (0u16..).zip(&higher.columns) {
                let given = higher.place(row, at).and_then(|at| higher.cells.get(at));
                let place = self.column(&column.name).and_then(|own| self.place(row, own));
                if let (Some(given), Some(slot)) = (
                    given.filter(|c| !c.value.is_absent()),
                    place.and_then(|at| self.cells.get_mut(at)),
                ) {
                    *slot = given.clone();
                }
            }
        }
    }

    /// Gives every row the columns that came in, with nothing in them.
    fn widen(&mut self, width: usize) {
        if width == self.columns.len() {
            return;
        }
        let old = std::mem::take(&mut self.cells);
        for row in old.chunks(width.max(1)) {
            self.cells.extend_from_slice(row);
            let more = self.columns.len() - row.len();
            self.cells.extend(std::iter::repeat_n(Cell::default(), more));
        }
    }

    fn place(&self, row: &str, column: u16) -> Option<usize> {
        self.rows
            .iter()
            .position(|r| **r == *row)
            .map(|at| at * self.columns.len() + column as usize)
    }

    /// Every text of a column.
    pub fn texts(&self, column: u16) -> Vec<Arc<str>> {
        self.rows.iter().filter_map(|row| self.cell(row, column).as_text().cloned()).collect()
    }
}

/// Reads one table's file.
pub(crate) fn read_table(
    source: &Arc<Source>,
    texts: &mut Texts,
    problems: &mut Problems,
) -> Option<Table> {
    let parsed = sound(source, problems)?;
    let top = parsed.get_ref();
    let mut reading = Reading { source, catalogue: None, problems };
    let row = TABLE.check(top, Span::default(), &mut reading);
    let word = |key: &str| row.text(key).map(str::to_owned);
    let (name, citation) = (word("table")?, word("source")?);
    let columns = columns(&row, texts, &mut reading);
    let mut table = Table {
        name: texts.get(&name),
        meaning: word("meaning").unwrap_or_default(),
        citation,
        basis: word("basis").unwrap_or_default(),
        columns,
        rows: Vec::new(),
        cells: Vec::new(),
        source: source.clone(),
    };
    for (key, value) in top.get("row").and_then(|v| v.get_ref().as_table()).into_iter().flatten() {
        let row = texts.get(key.get_ref());
        table.rows.push(row.clone());
        table.cells.resize(table.rows.len() * table.columns.len(), Cell::default());
        match value.get_ref().as_table() {
            Some(cells) => read_row(&mut table, &row, cells, texts, problems),
            None => problems.push(Problem::new("a row is a table of cells").at(
                source,
                value.span().into(),
                found(value.get_ref()),
            )),
        }
    }
    Some(table)
}

fn columns(row: &Row<'_, '_>, texts: &mut Texts, reading: &mut Reading<'_>) -> Vec<Column> {
    let mut columns = Vec::new();
    for (key, value) in row.get("column").and_then(|v| v.get_ref().as_table()).into_iter().flatten()
    {
        let Some(column) = COLUMN.row(value, reading) else { continue };
        columns.push(Column {
            name: texts.get(key.get_ref()),
            unit: texts.get(column.text("unit").unwrap_or("")),
            number: column.text("type") != Some("text"),
            meaning: column.text("meaning").unwrap_or("").to_owned(),
        });
    }
    columns
}

fn read_row(
    table: &mut Table,
    row: &Arc<str>,
    cells: &DeTable<'_>,
    texts: &mut Texts,
    problems: &mut Problems,
) {
    let source = table.source.clone();
    for (name, cell) in cells.iter().filter(|(name, _)| &**name.get_ref() != "source") {
        let Some((at, column)) =
            table.column(name.get_ref()).and_then(|at| Some((at, table.columns.get(at as usize)?)))
        else {
            let problem =
                Problem::new(format!("table `{}` has no column `{}`", table.name, name.get_ref()))
                    .at(&source, key_span(name), "unknown");
            problems.push(problem.suggest(name.get_ref(), table.columns.iter().map(|c| &*c.name)));
            continue;
        };
        let wanted = if column.number { "a finite number" } else { "a text" };
        let value = match cell.get_ref() {
            DeValue::String(text) if !column.number => Some(Val::Text(texts.get(text))),
            other if column.number => plain_number(other).map(Val::Num),
            _ => None,
        };
        let span = Span::from(cell.span());
        match value {
            Some(value) => {
                if let Some(slot) = table.place(row, at).and_then(|at| table.cells.get_mut(at)) {
                    *slot = Cell { value, span, source: Some(source.clone()) };
                }
            }
            None => {
                let this = format!("this is {}", found(cell.get_ref()));
                problems.push(
                    Problem::new(format!("`{}` must be {wanted}", name.get_ref()))
                        .at(&source, span, this),
                );
            }
        }
    }
}
