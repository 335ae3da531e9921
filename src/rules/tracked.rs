//! The tracked values that scripts hold.

use std::rc::Rc;
use std::sync::Arc;

use rhai::Dynamic;

use crate::audit::expr::ExprId;
use crate::catalogue::kinds::KindId;
use crate::rules::host::Host;

/// A number that remembers where it came from.
#[derive(Debug, Clone, Copy)]
pub struct Num {
    /// Its expression.
    pub id: ExprId,
    /// Its value now.
    pub value: f64,
}

/// A text that remembers where it came from.
#[derive(Debug, Clone)]
pub struct Text {
    /// Its expression.
    pub id: ExprId,
    /// Its value now.
    pub value: Arc<str>,
}

/// A list of words, not yet looked at.
#[derive(Clone)]
pub struct List {
    /// Its expression.
    pub id: ExprId,
    /// Who to ask when it is looked at.
    pub host: Rc<Host>,
}

/// Counts by word.
#[derive(Debug, Clone, Copy)]
pub struct Counts {
    /// Its expression.
    pub id: ExprId,
}

/// A line of the build.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineRef {
    /// Kind.
    pub kind: KindId,
    /// Which of the kind's lines.
    pub nth: u16,
}

/// A record in a field of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RecordRef {
    /// Whose.
    pub line: LineRef,
    /// Which field.
    pub field: u16,
    /// Which record.
    pub index: u16,
}

/// The build.
#[derive(Debug, Clone, Copy)]
pub struct BuildRef;

/// A finding just raised, for `.at`.
#[derive(Debug, Clone, Copy)]
pub struct FindingRef {
    /// Which of the frame's findings.
    pub index: usize,
}

/// The expression of a tracked number, text, list or table of counts.
pub(crate) fn id_of(value: &Dynamic) -> Option<ExprId> {
    let num = value.read_lock::<Num>().map(|num| num.id);
    num.or_else(|| value.read_lock::<Text>().map(|text| text.id))
        .or_else(|| value.read_lock::<List>().map(|list| list.id))
        .or_else(|| value.read_lock::<Counts>().map(|counts| counts.id))
}

/// The name of a script value's type in trade words.
pub fn type_words(name: &str) -> &str {
    let last = name.rsplit("::").next().unwrap_or(name);
    match last {
        "Num" | "i64" | "f64" | "INT" | "FLOAT" => "a number",
        "Text" | "ImmutableString" | "a string" | "string" | "String" | "&str" | "str" => "a text",
        "char" => "a letter",
        "bool" => "yes or no",
        "()" => "absent",
        "List" => "a list of words",
        "array" | "Array" => "an array",
        "Counts" => "counts by word",
        "LineRef" => "a line",
        "RecordRef" => "a record",
        "BuildRef" => "the build",
        "FindingRef" => "a finding",
        "map" | "Map" => "a map",
        "Fn" | "FnPtr" => "a function",
        "range" | "range=" | "Range<i64>" | "RangeInclusive<i64>" => "a range",
        other => other,
    }
}
