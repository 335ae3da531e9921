//! Edits of a cases file's text: comments, order and layout stay.

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use crate::source::Problem;
use crate::whatif::edit::{put, rewrite};
use crate::words::toml_number;

pub(super) struct CaseEdit {
    nth: usize,
    /// The case's name.
    pub(super) name: String,
    pub(super) finds: Vec<FindEdit>,
    pub(super) silent: Names,
    pub(super) open: Names,
    /// Places among the case's measures, and what each gives.
    pub(super) measures: Vec<(usize, Number)>,
}

/// A change of what must be found; places count among the case's own, from 0.
pub(super) enum FindEdit {
    /// Sets what is given of an expectation; the rest of it stays.
    Set(usize, Entry),
    Drop(usize),
    Add(Entry),
}

/// An expectation, as far as it is to be written.
#[derive(Default)]
pub(super) struct Entry {
    pub(super) rule: Option<String>,
    pub(super) level: Option<String>,
    pub(super) at: Option<Vec<String>>,
    pub(super) says: Option<String>,
    pub(super) times: Option<usize>,
}

/// The number that a measure gives.
pub(super) enum Number {
    Is(f64),
    Absent,
}

/// Rules that come to a list of names, and that go.
#[derive(Default)]
pub(super) struct Names {
    come: Vec<String>,
    go: Vec<String>,
}

impl Names {
    /// Notes that a rule is on the list, and whether it should be.
    pub(super) fn turn(&mut self, rule: &str, is: bool, should: bool) {
        match (is, should) {
            (false, true) => self.come.push(rule.to_owned()),
            (true, false) => self.go.push(rule.to_owned()),
            _ => {}
        }
    }

    fn is_empty(&self) -> bool {
        self.come.is_empty() && self.go.is_empty()
    }
}

impl CaseEdit {
    /// Nothing changes yet; `nth` counts the file's cases from 0.
    pub(super) fn new(nth: usize, name: &str) -> Self {
        let (silent, open) = (Names::default(), Names::default());
        let name = name.to_owned();
        Self { nth, name, finds: Vec::new(), silent, open, measures: Vec::new() }
    }

    /// Whether nothing changes.
    pub(super) fn is_empty(&self) -> bool {
        self.finds.is_empty()
            && self.silent.is_empty()
            && self.open.is_empty()
            && self.measures.is_empty()
    }

    fn make(&self, case: &mut dyn TableLike) {
        names(case, "silent", &self.silent);
        names(case, "open", &self.open);
        finds(case, &self.finds);
        for (at, number) in &self.measures {
            let Some(measure) = entry_at(case, "measure", *at) else { continue };
            match number {
                Number::Is(value) => {
                    put(measure, "value", toml_number(*value));
                    measure.remove("absent");
                }
                Number::Absent => {
                    measure.remove("value");
                    measure.remove("within");
                    put(measure, "absent", true.into());
                }
            }
        }
    }
}

/// The text of a cases file with edits made.
/// Errors: the text cannot be edited without loss.
pub(super) fn edited(text: &str, edits: &[CaseEdit]) -> Result<String, Problem> {
    rewrite(text, |document| {
        for edit in edits {
            if let Some(case) = case_at(document, edit.nth) {
                edit.make(case);
            }
        }
        Ok(())
    })
}

fn case_at(document: &mut DocumentMut, nth: usize) -> Option<&mut dyn TableLike> {
    at_of(document.get_mut("case")?, nth)
}

fn entry_at<'c>(
    case: &'c mut dyn TableLike,
    key: &str,
    nth: usize,
) -> Option<&'c mut dyn TableLike> {
    at_of(case.get_mut(key)?, nth)
}

/// A table of an array of tables, however it is written.
fn at_of(item: &mut Item, nth: usize) -> Option<&mut dyn TableLike> {
    match item {
        Item::ArrayOfTables(tables) => tables.get_mut(nth).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(array)) => {
            array.get_mut(nth)?.as_inline_table_mut().map(|t| t as &mut dyn TableLike)
        }
        _ => None,
    }
}

impl Entry {
    fn put(&self, table: &mut dyn TableLike) {
        let mut text = |key: &str, value: Option<Value>| {
            if let Some(value) = value {
                put(table, key, value);
            }
        };
        text("rule", self.rule.as_deref().map(Value::from));
        text("level", self.level.as_deref().map(Value::from));
        let at = self.at.as_ref().map(|at| Value::Array(at.iter().map(String::as_str).collect()));
        // None is no place to point at.
        text("at", at.filter(|_| self.at.as_ref().is_some_and(|at| !at.is_empty())));
        text("says", self.says.as_deref().map(Value::from));
        let times = self.times.and_then(|n| i64::try_from(n).ok());
        text("times", times.map(Value::from));
        if self.at.as_ref().is_some_and(Vec::is_empty) {
            table.remove("at");
        }
    }
}

fn finds(case: &mut dyn TableLike, edits: &[FindEdit]) {
    for edit in edits {
        if let FindEdit::Set(at, entry) = edit
            && let Some(table) = entry_at(case, "find", *at)
        {
            entry.put(table);
        }
    }
    let mut gone: Vec<usize> = edits
        .iter()
        .filter_map(|e| if let FindEdit::Drop(at) = e { Some(*at) } else { None })
        .collect();
    gone.sort_unstable();
    for at in gone.into_iter().rev() {
        match case.get_mut("find") {
            Some(Item::ArrayOfTables(tables)) => {
                tables.remove(at);
            }
            Some(Item::Value(Value::Array(array))) => {
                array.remove(at);
            }
            _ => {}
        }
    }
    let new: Vec<&Entry> = edits
        .iter()
        .filter_map(|e| if let FindEdit::Add(entry) = e { Some(entry) } else { None })
        .collect();
    let is_empty = match case.get("find") {
        Some(Item::ArrayOfTables(tables)) => tables.is_empty(),
        Some(Item::Value(Value::Array(array))) => array.is_empty(),
        _ => false,
    };
    match case.get_mut("find") {
        Some(Item::ArrayOfTables(tables)) if !is_empty => add_tables(tables, &new),
        Some(Item::Value(Value::Array(array))) if !is_empty => add_values(array, &new),
        _ => {
            if is_empty && new.is_empty() {
                case.remove("find");
            }
            if !new.is_empty() {
                let mut array = Array::new();
                add_values(&mut array, &new);
                put(case, "find", Value::Array(array));
            }
        }
    }
}

fn add_tables(tables: &mut ArrayOfTables, new: &[&Entry]) {
    for entry in new {
        let mut table = Table::new();
        entry.put(&mut table);
        tables.push(table);
    }
}

/// Adds expectations: a line each where there are several.
fn add_values(array: &mut Array, new: &[&Entry]) {
    if new.is_empty() {
        return;
    }
    let broken =
        |v: &Value| v.decor().prefix().and_then(|p| p.as_str()).is_some_and(|p| p.contains('\n'));
    let several = array.iter().any(broken) || array.len() + new.len() > 1;
    for entry in new {
        let mut table = InlineTable::new();
        entry.put(&mut table);
        let prefix = match (several, array.is_empty()) {
            (true, _) => "\n  ",
            (false, true) => "",
            (false, false) => " ",
        };
        array.push_formatted(Value::InlineTable(table).decorated(prefix, ""));
    }
    if several {
        for value in array.iter_mut().filter(|v| !broken(v)) {
            value.decor_mut().set_prefix("\n  ");
            value.decor_mut().set_suffix("");
        }
        array.set_trailing("\n");
        array.set_trailing_comma(true);
    }
}

fn names(case: &mut dyn TableLike, key: &str, names: &Names) {
    if names.is_empty() {
        return;
    }
    let held = case.get_mut(key).and_then(Item::as_array_mut);
    let Some(array) = held else {
        if !names.come.is_empty() {
            put(case, key, Value::Array(names.come.iter().map(String::as_str).collect()));
        }
        return;
    };
    array.retain(|v| v.as_str().is_none_or(|id| !names.go.iter().any(|gone| gone == id)));
    array.extend(names.come.iter().map(String::as_str));
    if let Some(first) = array
        .get_mut(0)
        .filter(|v| v.decor().prefix().and_then(|p| p.as_str()).is_some_and(|p| !p.contains('\n')))
    {
        first.decor_mut().set_prefix("");
    }
    if array.is_empty() {
        case.remove(key);
    }
}
