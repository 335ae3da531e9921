//! Edits of a build file's text: comments, order and layout stay, and what no edit touched stays to
//! the byte.

use similar::{DiffOp, capture_diff_slices};
use toml_edit::{
    Array, ArrayOfTables, DocumentMut, InlineTable, Item, Key, RawString, Table, TableLike, Value,
};

use super::edit_facts::{self, Known};
use crate::source::Problem;

/// One change of a build file.
#[derive(Debug, Clone)]
pub enum Edit {
    /// Puts a part on a line, in place of its part or of the wish that stands there. In place of
    /// another part it is to be bought: the line is no longer the customer's, and its quote goes.
    Part {
        /// Which line, from 0.
        line: usize,
        /// The part's id.
        part: String,
    },
    /// Adds a line after the last.
    Add(NewLine),
    /// Takes a line out.
    Drop {
        /// Which line, from 0.
        line: usize,
    },
    /// Copies a line of another build file, over a line of this one or after the last.
    Copy {
        /// The other file's text.
        from: String,
        /// Its line, from 0.
        theirs: usize,
        /// The line that gives way, from 0.
        ours: Option<usize>,
    },
    /// Sets a key of a line, or takes it out.
    Key {
        /// Which line, from 0.
        line: usize,
        /// The key.
        key: &'static str,
        /// The value; none takes the key out.
        value: Option<Word>,
    },
    /// Says what a field of the part on a line is, or takes that out.
    Fact(Known),
    /// Sets a field of the build, or takes it out.
    Field {
        /// The field.
        name: &'static str,
        /// The value; none takes the field out.
        value: Option<Word>,
    },
}

/// A line to be added.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NewLine {
    /// The part's id.
    pub part: String,
    /// Pieces, when not one.
    pub count: Option<u32>,
    /// Where it is fitted.
    pub mount: Option<String>,
    /// Which way it blows.
    pub flow: Option<String>,
    /// Whether the customer has it.
    pub owned: bool,
}

/// A value as it is written into a file.
#[derive(Debug, Clone, PartialEq)]
pub enum Word {
    /// A text, in quotes.
    Text(String),
    /// A number or a day as the user wrote it.
    Plain(String),
    /// Yes or no.
    Flag(bool),
}

impl Word {
    fn value(&self) -> Result<Value, Problem> {
        match self {
            Self::Text(text) => Ok(Value::from(text.as_str())),
            Self::Flag(flag) => Ok(Value::from(*flag)),
            Self::Plain(text) => text.trim().parse::<Value>().map_err(|_| {
                Problem::new(format!(
                    "`{}` is not a number or a day",
                    crate::words::clip(text.trim(), 40)
                ))
            }),
        }
    }
}

/// The text with edits made, one after the other.
/// Errors: the text is no TOML, cannot be taken apart without loss, or has no such line.
pub fn apply(text: &str, edits: &[Edit]) -> Result<String, Problem> {
    rewrite(text, |document| edits.iter().try_for_each(|edit| make(document, edit)))
}

/// The text of any TOML file with a change made.
/// Errors: the text is no TOML, cannot be taken apart without loss, or the change cannot be made.
pub(crate) fn rewrite(
    text: &str,
    change: impl FnOnce(&mut DocumentMut) -> Result<(), Problem>,
) -> Result<String, Problem> {
    let plain = plain(text);
    let mut document = read(&plain)?;
    if document.to_string() != plain {
        return Err(Problem::new(
            "this file is written in a way that cannot be edited without loss",
        )
        .help("edit it in a text editor, then `reload`"));
    }
    change(&mut document)?;
    Ok(restore(text, &plain, &document.to_string()))
}

pub(super) fn read(text: &str) -> Result<DocumentMut, Problem> {
    text.parse::<DocumentMut>().map_err(|e| {
        Problem::new(format!(
            "the text is not valid TOML: {}",
            e.message().lines().collect::<Vec<_>>().join("; ")
        ))
    })
}

/// The text as the editor writes it: `\n` at every line's end, the last included.
fn plain(text: &str) -> String {
    let mut plain = text.replace("\r\n", "\n");
    if !plain.is_empty() && !plain.ends_with('\n') {
        plain.push('\n');
    }
    plain
}

/// Gives unchanged lines their own ends back; new lines take the file's usual one.
fn restore(original: &str, plain: &str, edited: &str) -> String {
    if original == plain {
        return edited.to_owned();
    }
    let own: Vec<&str> = original.split_inclusive('\n').collect();
    let old: Vec<&str> = plain.split_inclusive('\n').collect();
    let new: Vec<&str> = edited.split_inclusive('\n').collect();
    let dos = own.iter().filter(|l| l.ends_with("\r\n")).count() * 2 > own.len();
    let usual = |line: &str| {
        if dos { format!("{}\r\n", line.trim_end_matches('\n')) } else { line.to_owned() }
    };
    let mut lines: Vec<String> = Vec::with_capacity(new.len());
    for op in capture_diff_slices(similar::Algorithm::Myers, &old, &new) {
        let fresh = op.new_range();
        match op {
            DiffOp::Equal { old_index, len, .. } => {
                lines.extend(own.iter().skip(old_index).take(len).map(|l| (*l).to_owned()))
            }
            _ => lines.extend(new.iter().skip(fresh.start).take(fresh.len()).map(|l| usual(l))),
        }
    }
    let last = lines.len().saturating_sub(1);
    for (at, line) in lines.iter_mut().enumerate() {
        if at < last && !line.ends_with('\n') {
            line.push_str(if dos { "\r\n" } else { "\n" });
        }
    }
    if !original.ends_with('\n')
        && let Some(line) = lines.last_mut()
    {
        line.truncate(line.trim_end_matches(['\r', '\n']).len());
    }
    lines.concat()
}

fn make(document: &mut DocumentMut, edit: &Edit) -> Result<(), Problem> {
    match edit {
        Edit::Field { name, value: None } => {
            document.remove(name);
        }
        Edit::Field { name, value: Some(value) } => {
            put(document.as_table_mut(), name, value.value()?)
        }
        Edit::Key { line, key, value } => {
            let table = line_at(document, *line)?;
            match value {
                Some(value) => put(table, key, value.value()?),
                None => {
                    table.remove(key);
                }
            }
        }
        Edit::Fact(known) => edit_facts::put(line_at(document, known.line)?, known)?,
        Edit::Part { line, part } => part_of(line_at(document, *line)?, part),
        Edit::Add(line) => add(document, new_line(line), true),
        Edit::Drop { line } => remove(document, *line)?,
        Edit::Copy { from, theirs, ours } => copy(document, from, *theirs, *ours)?,
    }
    Ok(())
}

fn no_line(line: usize) -> Problem {
    Problem::new(format!("there is no line {}", line + 1))
}

fn line_at(document: &mut DocumentMut, line: usize) -> Result<&mut dyn TableLike, Problem> {
    let item = document.get_mut("line").ok_or_else(|| no_line(line))?;
    match item {
        Item::ArrayOfTables(tables) => tables.get_mut(line).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(array)) => array
            .get_mut(line)
            .and_then(Value::as_inline_table_mut)
            .map(|t| t as &mut dyn TableLike),
        _ => None,
    }
    .ok_or_else(|| no_line(line))
}

/// Sets a value; one that is there keeps its place and the comment beside it.
pub(crate) fn put(table: &mut dyn TableLike, key: &str, mut value: Value) {
    if let Some(held) = table.get_mut(key).and_then(Item::as_value_mut) {
        *value.decor_mut() = held.decor().clone();
        *held = value;
        return;
    }
    // A table that lines its equals signs up goes on doing so.
    let width_of = |k: &str| Some(k.len() + table.key(k)?.leaf_decor().suffix()?.as_str()?.len());
    let widths: Vec<usize> = table.iter().filter_map(|(k, _)| width_of(k)).collect();
    let lined_up = widths.windows(2).all(|pair| pair.first() == pair.last());
    let width = widths.first().copied().filter(|_| lined_up);
    let mut fresh = Key::new(key);
    if let Some(pad) = width.and_then(|w| w.checked_sub(key.len())).filter(|pad| *pad > 1) {
        fresh.leaf_decor_mut().set_suffix(" ".repeat(pad));
    }
    table.entry_format(&fresh).or_insert(Item::Value(value));
}

/// What [`crate::build::Line::with_part`] does, in the text.
fn part_of(table: &mut dyn TableLike, part: &str) {
    table.remove("wants");
    let now = table.get("part").map(|now| now.as_str() == Some(part));
    if now == Some(false) {
        table.remove("owned");
        table.remove("quoted");
        table.remove("facts");
    }
    if table.contains_key("kind") {
        // A part that was described gives way to one of the catalogue.
        for key in ["kind", "name", "facts", "owned", "quoted"] {
            table.remove(key);
        }
    }
    if now.is_some() || table.get("any").is_none() {
        put(table, "part", Value::from(part));
        return;
    }
    // The wish gives way to the part in its own place, which takes a rebuild since keys cannot be
    // renamed.
    let keys: Vec<Key> = table
        .iter()
        .map(|(k, _)| k.to_owned())
        .collect::<Vec<_>>()
        .iter()
        .filter_map(|k| table.key(k).cloned())
        .collect();
    for key in keys {
        let Some(item) = table.remove(key.get()) else { continue };
        if key.get() == "any" {
            let mut value = Value::from(part);
            if let Some(held) = item.as_value() {
                *value.decor_mut() = held.decor().clone();
            }
            let named = Key::new("part").with_leaf_decor(key.leaf_decor().clone());
            table.entry_format(&named).or_insert(Item::Value(value));
        } else {
            table.entry_format(&key).or_insert(item);
        }
    }
}

fn new_line(line: &NewLine) -> Table {
    let mut entries: Vec<(&str, Value)> = vec![("part", Value::from(line.part.as_str()))];
    entries.extend(line.count.filter(|n| *n != 1).map(|n| ("count", Value::from(i64::from(n)))));
    entries.extend(line.mount.as_deref().map(|m| ("mount", Value::from(m))));
    entries.extend(line.flow.as_deref().map(|f| ("flow", Value::from(f))));
    entries.extend(line.owned.then(|| ("owned", Value::from(true))));
    let width = entries.iter().map(|(k, _)| k.len()).max().unwrap_or(0);
    let mut table = Table::new();
    for (key, value) in entries {
        let mut named = Key::new(key);
        named.leaf_decor_mut().set_suffix(" ".repeat(width - key.len() + 1));
        table.insert_formatted(&named, Item::Value(value));
    }
    table
}

fn raw(text: Option<&RawString>) -> &str {
    text.and_then(RawString::as_str).unwrap_or("")
}

/// Appends a line; `spaced` sets it off as the lines before it are.
fn add(document: &mut DocumentMut, mut table: Table, spaced: bool) {
    match document.get_mut("line") {
        Some(Item::ArrayOfTables(tables)) => {
            if spaced {
                let last = tables.iter().last().map_or("\n", |t| raw(t.decor().prefix()));
                let blank = if tables.len() < 2 || last.starts_with('\n') || last.contains("\n\n") {
                    "\n"
                } else {
                    ""
                };
                table.decor_mut().set_prefix(blank);
            }
            tables.push(table);
        }
        Some(Item::Value(Value::Array(array))) => add_inline(array, table),
        _ => {
            if spaced {
                table.decor_mut().set_prefix("\n");
            }
            let mut tables = ArrayOfTables::new();
            tables.push(table);
            document.insert("line", Item::ArrayOfTables(tables));
        }
    }
}

fn add_inline(array: &mut Array, table: Table) {
    let mut inline = InlineTable::new();
    for (key, item) in table.iter() {
        if let Some(value) = item.as_value() {
            inline.insert(key, value.clone().decorated("", ""));
        }
    }
    inline.fmt();
    let prefix =
        array.iter().last().map_or_else(String::new, |v| raw(v.decor().prefix()).to_owned());
    let mut value = Value::InlineTable(inline);
    // A comment before the last entry is that entry's own.
    let lead = if prefix.contains('#') {
        prefix.rsplit_once('\n').map_or(" ".to_owned(), |(_, indent)| format!("\n{indent}"))
    } else {
        prefix
    };
    value.decor_mut().set_prefix(if array.is_empty() {
        String::new()
    } else if lead.is_empty() {
        " ".to_owned()
    } else {
        lead
    });
    array.push_formatted(value);
}

/// Takes a line out; comments set off from it by an empty line stay for what follows.
fn remove(document: &mut DocumentMut, line: usize) -> Result<(), Problem> {
    let mut orphan = None;
    match document.get_mut("line") {
        Some(Item::ArrayOfTables(tables)) if line < tables.len() => {
            let gone = tables.remove(line);
            if let Some(kept) = detached(raw(gone.decor().prefix())) {
                match tables.get_mut(line) {
                    Some(next) => {
                        let own = raw(next.decor().prefix()).to_owned();
                        next.decor_mut()
                            .set_prefix(format!("{kept}{}", own.trim_start_matches('\n')));
                    }
                    None => orphan = Some(kept.to_owned()),
                }
            }
        }
        Some(Item::Value(Value::Array(array))) if line < array.len() => {
            array.remove(line);
        }
        _ => return Err(no_line(line)),
    }
    if let Some(kept) = orphan {
        let trailing = document.trailing().as_str().unwrap_or("").to_owned();
        document
            .set_trailing(format!("{}{trailing}", kept.trim_end_matches('\n').to_owned() + "\n"));
    }
    Ok(())
}

/// The part of a prefix that belongs to the file rather than to the line below it: up to the last
/// empty line, if a comment stands there.
fn detached(prefix: &str) -> Option<&str> {
    let end = prefix.trim_end_matches([' ', '\t']).rfind("\n\n")? + 2;
    prefix.get(..end).filter(|kept| kept.contains('#'))
}

fn copy(
    document: &mut DocumentMut,
    from: &str,
    theirs: usize,
    ours: Option<usize>,
) -> Result<(), Problem> {
    let other = read(&plain(from))?;
    let mut table = match other.get("line") {
        Some(Item::ArrayOfTables(tables)) => tables.get(theirs).cloned(),
        Some(Item::Value(Value::Array(array))) => {
            array.get(theirs).and_then(Value::as_inline_table).map(|t| t.clone().into_table())
        }
        _ => None,
    }
    .ok_or_else(|| no_line(theirs))?;
    table.set_position(None);
    let Some(ours) = ours else {
        add(document, table, true);
        return Ok(());
    };
    match document.get_mut("line") {
        Some(Item::ArrayOfTables(tables)) => {
            let held = tables.get_mut(ours).ok_or_else(|| no_line(ours))?;
            *table.decor_mut() = held.decor().clone();
            table.set_position(held.position());
            *held = table;
        }
        Some(Item::Value(Value::Array(array))) => {
            let held = array.get_mut(ours).ok_or_else(|| no_line(ours))?;
            let decor = held.decor().clone();
            let mut one = Array::new();
            add_inline(&mut one, table);
            if let Some(value) = one.get(0) {
                *held = value.clone();
                *held.decor_mut() = decor;
            }
        }
        _ => return Err(no_line(ours)),
    }
    Ok(())
}

/// The keys of a line that `set` may change.
pub const LINE_KEYS: &[&str] = &["count", "mount", "flow", "owned", "included", "note"];

/// A key of a line by name.
/// Errors: there is none of that name; the message says which one was most likely meant.
pub fn line_key(name: &str) -> Result<&'static str, Problem> {
    LINE_KEYS.iter().find(|k| **k == name).copied().ok_or_else(|| {
        let problem =
            Problem::new(format!("a line has no `{}` to set", crate::words::clip(name, 40)));
        problem
            .help(format!("known here: {}", LINE_KEYS.join(", ")))
            .suggest(name, LINE_KEYS.iter().copied())
    })
}

#[cfg(test)]
#[path = "../../tests/unit/whatif/edit.rs"]
mod tests;
