//! TOML values into field values, every error of a file at once, each with its place.

use std::sync::Arc;

use ahash::AHashSet;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::kinds::{Field, FieldType, Kind, Usual, Words};
use super::value::Val;
use crate::source::{Label, Problem, Problems, Source, Span};

/// Words so few that a message lists them all.
const FEW_WORDS: usize = 8;

/// Shares equal texts, so that ten thousand parts of one maker hold its name once.
#[derive(Debug, Default)]
pub(crate) struct Texts(AHashSet<Arc<str>>);

impl Texts {
    pub(crate) fn get(&mut self, text: &str) -> Arc<str> {
        if let Some(known) = self.0.get(text) {
            return known.clone();
        }
        let fresh: Arc<str> = text.into();
        self.0.insert(fresh.clone());
        fresh
    }
}

/// What reading a value needs beside the value: where it stands, and where to say what is wrong.
pub(crate) struct Reader<'a> {
    pub(crate) source: &'a Arc<Source>,
    pub(crate) texts: &'a mut Texts,
    pub(crate) problems: &'a mut Problems,
    /// Answers whether a word is allowed by `from`/`keys`: table or `table.column`, word.
    pub(crate) allowed: &'a dyn Fn(&str, &str) -> Allowed,
    /// What it means that a part leaves a field out.
    pub(crate) left_out: LeftOut,
}

/// What it means that a part leaves a field out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum LeftOut {
    /// It lacks the field, or the field is what leaving it out means; other fields must be given.
    Known,
    /// Nobody said.
    Unknown,
    /// As unknown, and what every part must give is said elsewhere.
    Named,
    /// As known, but anything may be left out: a part written on the spot in a rule case gives
    /// only what is read.
    Sparse,
}

/// Whether a table knows a word.
pub(crate) enum Allowed {
    Yes,
    NoTable,
    No(Vec<Arc<str>>),
}

/// Most syntax errors told of one file.
const MOST_ERRORS: usize = 20;

/// Parses a whole file, with its syntax errors, one a line: what is wrong further on in a line
/// comes of the first.
pub(crate) fn parse<'s>(source: &'s Arc<Source>, problems: &mut Problems) -> Spanned<DeTable<'s>> {
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    let placed = errors.iter().map(|e| (e.span().map_or_else(Span::default, Span::from), e));
    let mut placed: Vec<_> = placed.collect();
    placed.sort_by_key(|(span, _)| span.start());
    let (mut line_end, mut told) = (0, 0);
    for (span, error) in placed {
        if told == MOST_ERRORS || told > 0 && span.start() < line_end {
            continue;
        }
        let rest = source.text.as_bytes().get(span.start()..).unwrap_or_default();
        let left = rest.iter().position(|b| *b == b'\n').map_or(rest.len(), |at| at + 1);
        (line_end, told) = (span.start() + left, told + 1);
        let problem = Problem::new(format!("{} is not valid TOML", source.name)).code("not-toml");
        problems.push(problem.at(source, span, tidy(error.message())));
    }
    table
}

/// The same; none where there is an error.
pub(crate) fn sound<'s>(
    source: &'s Arc<Source>,
    problems: &mut Problems,
) -> Option<Spanned<DeTable<'s>>> {
    let before = problems.0.len();
    let table = parse(source, problems);
    (problems.0.len() == before).then_some(table)
}

fn tidy(message: &str) -> String {
    let joined =
        message.lines().map(str::trim).filter(|l| !l.is_empty()).collect::<Vec<_>>().join("; ");
    if joined.contains("recurs") { "nested too deeply".to_owned() } else { joined }
}

pub(crate) fn key_span(key: &Spanned<std::borrow::Cow<'_, str>>) -> Span {
    key.span().into()
}

/// The type of a value in words.
pub(crate) fn found(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Float(float) if float.as_str().contains(['n', 'f']) => "not a finite number",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

impl Reader<'_> {
    pub(crate) fn problem(
        &mut self,
        span: Span,
        message: impl Into<String>,
        label: impl Into<String>,
    ) {
        self.problems.push(Problem::new(message).at(self.source, span, label));
    }

    fn expected(&mut self, field: &Field, value: &Spanned<DeValue<'_>>) -> Val {
        let span = value.span().into();
        let unit = if field.unit.is_empty() || !matches!(field.ty, FieldType::Number) {
            String::new()
        } else {
            format!(", for example `{} = {}`", field.name, field.min.max(1.0))
        };
        self.problems.push(
            Problem::new(format!("`{}` must be {}", field.name, field.type_in_words()))
                .at(self.source, span, format!("this is {}", found(value.get_ref())))
                .help(format!("{}: {}{unit}", field.name, field.meaning)),
        );
        Val::Absent
    }

    /// Reads one field's value.
    pub(crate) fn field(&mut self, field: &Field, value: &Spanned<DeValue<'_>>) -> Val {
        match (&field.ty, value.get_ref()) {
            (FieldType::Number, DeValue::Integer(_) | DeValue::Float(_)) => {
                self.number(field, value)
            }
            (FieldType::Text(words), DeValue::String(text)) => {
                Val::Text(self.word(field, words, text, value.span().into()))
            }
            (FieldType::Flag, DeValue::Boolean(flag)) => Val::Flag(*flag),
            (FieldType::List(words), DeValue::Array(items)) => {
                let mut list = Vec::with_capacity(items.len());
                for item in items {
                    match item.get_ref() {
                        DeValue::String(text) => {
                            list.push(self.word(field, words, text, item.span().into()))
                        }
                        _ => return self.expected(field, item),
                    }
                }
                Val::List(list.into())
            }
            (FieldType::Counts(words), DeValue::Table(table)) => self.counts(field, words, table),
            (FieldType::Records(fields), DeValue::Array(items)) => {
                let mut records = Vec::with_capacity(items.len());
                for item in items {
                    match item.get_ref() {
                        DeValue::Table(table) => records.push(self.record(
                            &field.name,
                            fields,
                            table,
                            item.span().into(),
                        )),
                        _ => return self.expected(field, item),
                    }
                }
                if matches!(self.left_out, LeftOut::Unknown) {
                    let named = |usual: &[Val]| records.iter().any(|one| says_all(one, usual));
                    let fresh = field.usual_also.iter().filter(|usual| !named(usual));
                    let fresh: Vec<Box<[Val]>> = fresh.cloned().collect();
                    records.extend(fresh);
                }
                Val::Records(records.into())
            }
            _ => self.expected(field, value),
        }
    }

    fn number(&mut self, field: &Field, value: &Spanned<DeValue<'_>>) -> Val {
        let span: Span = value.span().into();
        let Some(n) = plain_number(value.get_ref()) else {
            self.problem(
                span,
                format!("`{}` must be a plain finite number", field.name),
                "not a number that can be measured",
            );
            return Val::Absent;
        };
        if n < field.min || n > field.max {
            self.problems.push(
                Problem::new(format!(
                    "`{}` = {n} is outside {} to {}{}",
                    field.name,
                    field.min,
                    field.max,
                    spaced(&field.unit)
                ))
                .at(self.source, span, "out of bounds")
                .help(format!("{}: {}", field.name, field.meaning)),
            );
        }
        Val::Num(n)
    }

    fn word(&mut self, field: &Field, words: &Words, text: &str, span: Span) -> Arc<str> {
        let (known, of) = match words {
            Words::Any => return self.texts.get(text),
            Words::OneOf(list) => (
                if list.iter().any(|w| &**w == text) {
                    Allowed::Yes
                } else {
                    Allowed::No(list.clone())
                },
                "the kind's words",
            ),
            Words::Table(table) => ((self.allowed)(table, text), &**table),
        };
        match known {
            Allowed::Yes => {}
            Allowed::NoTable => self.problem(
                span,
                format!("`{}` takes its words from table `{of}`, which is missing", field.name),
                "cannot be checked",
            ),
            Allowed::No(list) => {
                let mut problem = Problem::new(format!(
                    "`{}` cannot be \"{}\"",
                    field.name,
                    crate::words::clip(text, 60)
                ))
                .at(self.source, span, format!("not among {of}"));
                let names = || list.iter().map(|w| &**w);
                let near = crate::words::nearest(text, names());
                problem = match near {
                    _ if list.len() <= FEW_WORDS => {
                        let others = names().filter(|name| Some(*name) != near);
                        problem.help(format!(
                            "one of: {}",
                            crate::words::some_of(near.into_iter().chain(others), FEW_WORDS)
                        ))
                    }
                    Some(near) => problem.help(format!("did you mean \"{near}\"?")),
                    None => problem.help(format!("one of: {}", crate::words::some_of(names(), 16))),
                };
                self.problems.push(problem);
            }
        }
        self.texts.get(text)
    }

    fn counts(&mut self, field: &Field, words: &Words, table: &DeTable<'_>) -> Val {
        let mut pairs = Vec::with_capacity(table.len());
        for (key, value) in table {
            let word = self.word(field, words, key.get_ref(), key_span(key));
            match plain_number(value.get_ref()) {
                Some(n) if (0.0..=1e6).contains(&n) => pairs.push((word, n)),
                Some(_) => self.problem(
                    value.span().into(),
                    format!("`{}`: a count lies between 0 and 1000000", field.name),
                    "out of bounds",
                ),
                None => {
                    self.expected(field, value);
                }
            }
        }
        Val::Counts(pairs.into())
    }

    /// Reads a table of fields into values in the schema's order.
    pub(crate) fn record(
        &mut self,
        of: &str,
        fields: &[Field],
        table: &DeTable<'_>,
        whole: Span,
    ) -> Box<[Val]> {
        let mut values = vec![Val::Absent; fields.len()].into_boxed_slice();
        for (key, value) in table {
            match fields.iter().position(|f| *f.name == **key.get_ref()) {
                Some(at) => {
                    if let (Some(slot), Some(field)) = (values.get_mut(at), fields.get(at)) {
                        *slot = self.field(field, value);
                    }
                }
                None => self.unknown(of, key, fields.iter().map(|f| &*f.name)),
            }
        }
        self.fill(of, fields, table, &mut values, whole);
        values
    }

    pub(crate) fn unknown<'f>(
        &mut self,
        of: &str,
        key: &Spanned<std::borrow::Cow<'_, str>>,
        names: impl Iterator<Item = &'f str> + Clone,
    ) {
        let word = crate::words::clip(key.get_ref(), 60);
        let problem =
            Problem::new(format!("{of} has no `{word}`")).at(self.source, key_span(key), "unknown");
        self.problems.push(match crate::words::nearest(key.get_ref(), names.clone()) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help(format!("known here: {}", crate::words::some_of(names, 24))),
        });
    }

    /// Fields that a part is known to lack: `lacks = ["radiator_mm"]`.
    pub(crate) fn lacks(&mut self, kind: &Kind, table: &DeTable<'_>, values: &mut [Val]) {
        let Some(entry) = table.get("lacks") else { return };
        let Some(names) = entry.get_ref().as_array() else {
            return self.problem(
                entry.span().into(),
                "`lacks` must be a list of fields",
                format!("this is {}", found(entry.get_ref())),
            );
        };
        for item in names {
            let span = Span::from(item.span());
            let name = item.get_ref().as_str().unwrap_or_default();
            let meant = kind.field(name).map(|(at, field)| (at, field.when_left_out()));
            match meant.and_then(|(at, value)| values.get_mut(at as usize).zip(value)) {
                Some((slot, value)) if slot.is_absent() || slot.is_unknown() => *slot = value,
                Some(_) => self.problem(
                    span,
                    format!("`{name}` is given and said to be lacking"),
                    "one of the two is wrong",
                ),
                None => self.problem(
                    span,
                    format!(
                        "a {} has no `{}` that it could lack",
                        kind.title,
                        crate::words::clip(name, 40)
                    ),
                    "every such part has it, or there is no such field",
                ),
            }
        }
    }

    /// Says of each field that nothing was written for whether it is absent or unknown, and
    /// reports what must not be missing.
    pub(crate) fn fill(
        &mut self,
        of: &str,
        fields: &[Field],
        table: &DeTable<'_>,
        values: &mut [Val],
        whole: Span,
    ) {
        for (field, value) in fields.iter().zip(values.iter_mut()).filter(|(_, v)| v.is_absent()) {
            if table.contains_key(&*field.name) || lacks(table, &field.name) {
                continue;
            }
            let unknown = match self.left_out {
                LeftOut::Unknown => !field.stated && !field.required,
                LeftOut::Named => !field.stated,
                LeftOut::Known | LeftOut::Sparse => false,
            };
            match field.when_left_out() {
                _ if unknown => *value = Val::Unknown,
                Some(meant) => *value = meant,
                // A rule case leaves out what is as it commonly is.
                None if self.left_out == LeftOut::Sparse => {
                    if let Some(usual) = field.usual.as_ref().and_then(Usual::single) {
                        *value = usual;
                    }
                }
                None => self.missing(of, field, whole),
            }
        }
    }

    fn missing(&mut self, of: &str, field: &Field, whole: Span) {
        self.problems.push(
            Problem::new(format!("{of} gives no `{}`", field.name))
                .at(self.source, whole, "here")
                .help(format!("{} is {}: {}", field.name, field.type_in_words(), field.meaning)),
        );
    }
}

/// Whether a record says all that another gives as a text: its kind.
fn says_all(record: &[Val], other: &[Val]) -> bool {
    let pairs = record.iter().zip(other);
    pairs.filter(|(_, value)| matches!(value, Val::Text(_))).all(|(own, value)| own == value)
}

/// Whether a part is said to lack a field.
fn lacks(table: &DeTable<'_>, field: &str) -> bool {
    let names = table.get("lacks").and_then(|v| v.get_ref().as_array());
    names.is_some_and(|names| names.iter().any(|n| n.get_ref().as_str() == Some(field)))
}

fn spaced(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" {unit}") }
}

/// A finite number that a double holds exactly enough; none for `nan`, `inf` and integers past
/// 2^53.
pub(crate) fn plain_number(value: &DeValue<'_>) -> Option<f64> {
    let n = match value {
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
            .ok()
            .filter(|n| n.unsigned_abs() <= 1 << 53)? as f64,
        DeValue::Float(float) => float.as_str().parse::<f64>().ok()?,
        _ => return None,
    };
    (n.is_finite() && n.abs() <= 1e15).then_some(n + 0.0)
}

/// The place of a value inside a field that holds lists or tables, found by parsing the field's own
/// text again: cheaper than carrying a span for every number of fifty thousand parts.
pub(crate) fn inner_span(source: &Arc<Source>, outer: Span, path: &[Step<'_>]) -> Span {
    let text = format!("v={}", source.slice(outer));
    let Ok(table) = DeTable::parse(&text) else { return outer };
    let Some(mut at) = table.get_ref().get("v") else { return outer };
    let mut key_at: Option<std::ops::Range<usize>> = None;
    for step in path {
        let next = match step {
            Step::Index(index) => at.get_ref().as_array().and_then(|a| a.get(*index)),
            Step::Key(key) => {
                at.get_ref().as_table().and_then(|t| t.get_key_value(*key)).map(|(k, v)| {
                    key_at = Some(k.span());
                    v
                })
            }
        };
        match next {
            Some(value) => at = value,
            None => break,
        }
    }
    let mut range = at.span();
    if let Some(key) =
        key_at.filter(|k| k.start < range.start && matches!(path.last(), Some(Step::Key(_))))
    {
        range.start = key.start;
    }
    let shift = |n: usize| n.saturating_sub(2) + outer.start();
    Span::new(shift(range.start), shift(range.end))
}

/// One step into a nested value.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Step<'a> {
    Index(usize),
    Key(&'a str),
}

/// Where a field is declared, for pointers at defaults.
pub(crate) fn label(source: &Arc<Source>, span: Span, text: &str) -> Label {
    Label { source: source.clone(), span, text: text.to_owned() }
}
