//! Facts that a person knows of a part on a line, written into the list beside the part.

use toml_edit::{Array, InlineTable, Item, TableLike, Value};

use crate::build::resolve::Resolved;
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind, KindId, Words};
use crate::catalogue::value::Val;
use crate::source::Problem;
use crate::words::{clip, some_of, toml_number};

/// A fact that somebody means: a field of the part on a line, or a field of one of its records.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// Which line, from 0.
    pub line: usize,
    /// The field's word.
    pub field: String,
    /// The field as it is written into the list; none takes the fact out.
    pub value: Option<String>,
    /// Whether the part is known to have none.
    pub lacks: bool,
}

/// What a person says of a field: its value with or without its unit, or `absent`.
///
/// `name` is a field, or `field[2].sub` for a field of a record (counted from 0, as findings write
/// it).
/// Errors: the part has no such field, or the value is not of its type, unit or words.
pub fn known(
    build: &Resolved,
    (kind, nth): (KindId, u16),
    name: &str,
    value: &str,
) -> Result<Known, Problem> {
    let slot = build.slot(kind, nth).filter(|s| !s.included);
    let (Some(slot), Some(schema)) = (slot, build.catalogue.kind(kind)) else {
        return Err(Problem::new("there is no such line"));
    };
    let (head, inner) = split(name)?;
    let (at, field) = field_of(schema, head)?;
    let part = slot.part.as_ref().ok_or_else(|| Problem::new("this line is open"))?;
    if value.trim() == "absent" {
        let may = inner.is_none() && field.when_left_out().is_some();
        return if may {
            Ok(Known { line: slot.line, field: head.to_owned(), value: None, lacks: true })
        } else {
            Err(Problem::new(format!("every {} has {name}, so it cannot be absent", schema.title)))
        };
    }
    let text = match inner {
        None => written(&build.catalogue, field, value)?,
        Some((index, sub)) => {
            let held = part.values.get(at as usize).unwrap_or(&Val::Absent);
            with_record(&build.catalogue, field, held, (index, sub), value)?
        }
    };
    Ok(Known { line: slot.line, field: head.to_owned(), value: Some(text), lacks: false })
}

/// A field's word, and which record's which field where one is meant.
type Meant<'n> = (&'n str, Option<(usize, &'n str)>);

fn split(name: &str) -> Result<Meant<'_>, Problem> {
    let Some((head, rest)) = name.split_once('[') else { return Ok((name, None)) };
    let inner = rest.split_once("].").and_then(|(at, sub)| Some((at.parse().ok()?, sub)));
    inner.map(|inner| (head, Some(inner))).ok_or_else(|| {
        Problem::new(format!("`{}` names no fact", clip(name, 60)))
            .help("a field of a record is written `board.m2[0].length_mm`")
    })
}

fn field_of<'k>(kind: &'k Kind, name: &str) -> Result<(u16, &'k Field), Problem> {
    kind.field(name).ok_or_else(|| {
        let names = || kind.fields.iter().map(|f| &*f.name);
        let problem = Problem::new(format!("a {} has no `{}`", kind.title, clip(name, 40)));
        problem.help(format!("known here: {}", some_of(names(), 24))).suggest(name, names())
    })
}

/// A value as TOML, from how a person writes it.
fn written(catalogue: &Catalogue, field: &Field, value: &str) -> Result<String, Problem> {
    let value = value.trim();
    let wrong = || {
        Problem::new(format!(
            "`{}` is {}, and \"{}\" is not",
            field.name,
            field.type_in_words(),
            clip(value, 40)
        ))
        .help(format!("{}, for one: {}", field.meaning, field.example(catalogue, false)))
    };
    let is_word = |words: &Words, word: &str| {
        let may_be = catalogue.words_of(words);
        may_be.is_empty() || may_be.iter().any(|w| **w == *word)
    };
    match &field.ty {
        FieldType::Number => number(value, &field.unit).map(|n| n.to_string()).ok_or_else(wrong),
        FieldType::Flag => match value.to_lowercase().as_str() {
            "yes" | "true" => Ok("true".to_owned()),
            "no" | "false" => Ok("false".to_owned()),
            _ => Err(wrong()),
        },
        FieldType::Text(words) => {
            let word = value.trim_matches('"');
            let said = is_word(words, word).then(|| Value::from(word).to_string());
            said.ok_or_else(|| none_of(catalogue, words, field, word))
        }
        FieldType::List(words) if !value.starts_with('[') => {
            let said = value.split(',').map(|w| w.trim().trim_matches('"'));
            let said: Vec<&str> = said.filter(|w| !w.is_empty()).collect();
            match said.iter().find(|w| !is_word(words, w)) {
                Some(word) => Err(none_of(catalogue, words, field, word)),
                None => Ok(Value::Array(said.into_iter().collect()).to_string()),
            }
        }
        FieldType::List(_) | FieldType::Counts(_) | FieldType::Records(_) => {
            value.parse::<Value>().map(|v| v.to_string().trim().to_owned()).map_err(|_| wrong())
        }
    }
}

fn none_of(catalogue: &Catalogue, words: &Words, field: &Field, word: &str) -> Problem {
    let known = || catalogue.words_of(words).iter().map(|w| &**w);
    let problem = format!("`{}` is never \"{}\" ({})", field.name, clip(word, 40), field.meaning);
    Problem::new(problem)
        .help(format!("known here: {}", some_of(known(), 24)))
        .suggest(word, known())
}

/// A number with its unit or without, in the field's unit; a decimal comma is read as a point.
fn number(text: &str, unit: &str) -> Option<f64> {
    let text = text.replace(',', ".");
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
        .unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    let n: f64 = digits.parse().ok().filter(|n: &f64| n.is_finite())?;
    let times = match (rest.trim(), unit) {
        ("", _) => 1.0,
        (given, unit) if given.eq_ignore_ascii_case(unit) => 1.0,
        ("cm", "mm") => 10.0,
        ("m", "mm") | ("kW", "W") | ("TB", "GB") | ("Gbit/s", "Mbit/s") => 1000.0,
        ("mA", "A") => 0.001,
        _ => return None,
    };
    Some(((n * times) * 1e9).round() / 1e9)
}

/// The whole list of records with one field of one of them set.
fn with_record(
    catalogue: &Catalogue,
    field: &Field,
    held: &Val,
    (index, name): (usize, &str),
    value: &str,
) -> Result<String, Problem> {
    let (FieldType::Records(fields), Val::Records(records)) = (&field.ty, held) else {
        return Err(Problem::new(format!("`{}` of this part is no list of entries", field.name)));
    };
    let sub = fields.iter().position(|f| *f.name == *name).ok_or_else(|| {
        let names = fields.iter().map(|f| &*f.name);
        Problem::new(format!("an entry of `{}` has no `{}`", field.name, clip(name, 40)))
            .help(format!("known here: {}", some_of(names, 24)))
    })?;
    if index >= records.len() {
        return Err(Problem::new(format!(
            "`{}` of this part has {} entries, counted from 0",
            field.name,
            records.len()
        )));
    }
    let given =
        fields.get(sub).map_or_else(|| Ok(String::new()), |f| written(catalogue, f, value))?;
    let mut list = Array::new();
    for (at, record) in records.iter().enumerate() {
        let mut table = InlineTable::new();
        for ((field, held), place) in fields.iter().zip(record.iter()).zip(0usize..) {
            let value = if at == index && place == sub {
                given.parse::<Value>().ok()
            } else {
                as_toml(held)
            };
            if let Some(value) = value {
                table.insert(&*field.name, value);
            }
        }
        list.push(table);
    }
    Ok(Value::Array(list).to_string())
}

/// A value as it would be written; none for what is absent or unknown.
fn as_toml(val: &Val) -> Option<Value> {
    Some(match val {
        Val::Num(n) => toml_number(*n),
        Val::Text(text) => Value::from(&**text),
        Val::Flag(flag) => Value::from(*flag),
        Val::List(words) => Value::Array(words.iter().map(|w| &**w).collect::<Array>()),
        Val::Counts(pairs) => {
            let mut table = InlineTable::new();
            for (word, n) in pairs.iter() {
                table.insert(&**word, as_toml(&Val::Num(*n))?);
            }
            Value::InlineTable(table)
        }
        Val::Absent | Val::Unknown | Val::Records(_) => return None,
    })
}

/// Puts a fact beside the part on its line, or takes it out.
pub(super) fn put(table: &mut dyn TableLike, known: &Known) -> Result<(), Problem> {
    let mut facts = match table.get("facts") {
        Some(Item::Value(Value::InlineTable(facts))) => facts.clone(),
        Some(Item::Table(facts)) => facts.clone().into_inline_table(),
        _ => InlineTable::new(),
    };
    facts.remove(&known.field);
    let mut lacks: Array = match facts.get("lacks") {
        Some(Value::Array(lacks)) => lacks.clone(),
        _ => Array::new(),
    };
    lacks.retain(|field| field.as_str() != Some(&known.field));
    if known.lacks {
        lacks.push(known.field.as_str());
    }
    if let Some(text) = &known.value {
        let value = text.parse::<Value>().map_err(|_| {
            Problem::new(format!("`{}` cannot be written as a value", clip(text, 40)))
        })?;
        facts.insert(&known.field, value);
    }
    if lacks.is_empty() {
        facts.remove("lacks");
    } else {
        facts.insert("lacks", Value::Array(lacks));
    }
    facts.fmt();
    if facts.is_empty() {
        table.remove("facts");
    } else {
        super::edit::put(table, "facts", Value::InlineTable(facts));
    }
    Ok(())
}
