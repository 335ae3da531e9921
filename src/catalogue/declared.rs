//! TOML tables whose keys are declared: one reader for all that people write beside parts, and the
//! schemas for editors are made of the same declarations.

use std::borrow::Cow;
use std::sync::Arc;

use jiff::civil::Date;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Catalogue;
use super::field_reader::{found, key_span, plain_number};
use crate::source::{Problem, Problems, Source, Span};
use crate::trade::money::{Money, Rate};
use crate::words::{clip, nearest, some_of};

/// Largest amount that is not a price, such as a budget.
pub(crate) const RATE_MAX: f64 = 1e9;

/// A key of a table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Key {
    pub(crate) name: &'static str,
    pub(crate) takes: Takes,
    /// Unit of a number.
    pub(crate) unit: &'static str,
    /// Whether a table without it is wrong.
    pub(crate) needed: bool,
    pub(crate) meaning: &'static str,
}

/// What a key takes.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Takes {
    Text,
    Flag,
    Number(f64, f64),
    /// A whole number between two bounds.
    Whole(u32, u32),
    /// A number or a text.
    Figure,
    Day,
    /// An exact price, `"89.00 EUR"`, not negative.
    Money,
    /// An amount that may have more decimals than its currency, not negative.
    Rate,
    /// One of these words.
    Words(&'static [&'static str]),
    /// The name of a row of a table of the catalogue.
    Rows(&'static str),
    /// A list of texts.
    Texts,
    /// One text, or a list of them.
    TextOrTexts,
    Table(&'static Declared),
    /// A list of tables.
    Tables(&'static Declared),
    /// What its owner reads and describes.
    Other,
}

/// A table's keys.
#[derive(Debug)]
pub(crate) struct Declared {
    /// What such a table is, with its article: `a waiver`.
    pub(crate) of: &'static str,
    pub(crate) keys: &'static [Key],
}

/// A key that may be left out.
pub(crate) const fn key(name: &'static str, takes: Takes, meaning: &'static str) -> Key {
    Key { name, takes, unit: "", needed: false, meaning }
}

/// A key that must be there.
pub(crate) const fn needed(name: &'static str, takes: Takes, meaning: &'static str) -> Key {
    Key { name, takes, unit: "", needed: true, meaning }
}

/// Where a table stands, and where to say what is wrong with it.
pub(crate) struct Reading<'a> {
    pub(crate) source: &'a Arc<Source>,
    /// Gives the rows of tables; none where no key asks for them.
    pub(crate) catalogue: Option<&'a Catalogue>,
    pub(crate) problems: &'a mut Problems,
}

/// A table that was checked: what is wrong in it is reported, and reads as not given.
#[derive(Clone, Copy)]
pub(crate) struct Row<'t, 'i> {
    pub(crate) table: &'t DeTable<'i>,
    pub(crate) whole: Span,
}

impl Reading<'_> {
    pub(crate) fn wrong(
        &mut self,
        code: &'static str,
        span: impl Into<Span>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        let problem = Problem::new(message).code(code).at(self.source, span.into(), label);
        let help: String = help.into();
        self.problems.push(if help.is_empty() { problem } else { problem.help(help) });
    }

    /// Reports a key that nobody knows.
    pub(crate) fn unknown_key<'k>(
        &mut self,
        of: &str,
        key: &Spanned<Cow<'_, str>>,
        known: impl Iterator<Item = &'k str> + Clone,
    ) {
        let help = match nearest(key.get_ref(), known.clone()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("known here: {}", some_of(known, 24)),
        };
        let message = format!("{of} has no `{}`", clip(key.get_ref(), 60));
        self.wrong("unknown-key", key_span(key), message, "unknown", help);
    }

    fn wrong_type(&mut self, key: &Key, value: &Spanned<DeValue<'_>>) {
        self.wrong(
            "wrong-type",
            value.span(),
            key.must_be(),
            format!("this is {}", found(value.get_ref())),
            format!("{}: {}", key.name, key.meaning),
        );
    }

    fn out_of_range(&mut self, key: &Key, value: &Spanned<DeValue<'_>>, why: impl Into<String>) {
        self.wrong(
            "out-of-range",
            value.span(),
            key.must_be(),
            why,
            format!("{}: {}", key.name, key.meaning),
        );
    }

    fn unknown_word(&mut self, key: &Key, span: Span, word: &str, known: &[&str]) {
        let help = match nearest(word, known.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("one of: {}", some_of(known.iter().copied(), 16)),
        };
        let message = format!("`{}` cannot be \"{}\"", key.name, clip(word, 60));
        self.wrong("unknown-word", span, message, "unknown", help);
    }
}

impl Takes {
    /// In words, after "must be".
    pub(crate) fn words(self) -> String {
        match self {
            Self::Text | Self::Words(_) | Self::Rows(_) => "a text".to_owned(),
            Self::Flag => "true or false".to_owned(),
            Self::Number(low, high) if low <= -1e15 && high >= 1e15 => "a finite number".to_owned(),
            Self::Number(low, high) if high >= 1e15 => format!("a number, {low} or more"),
            Self::Number(low, high) => format!("a number from {low} to {high}"),
            Self::Whole(low, high) => format!("a whole number from {low} to {high}"),
            Self::Figure => "a finite number or a text".to_owned(),
            Self::Day => "a day, written YYYY-MM-DD".to_owned(),
            Self::Money | Self::Rate => "an amount such as \"89.00 EUR\"".to_owned(),
            Self::Texts => "a list of texts".to_owned(),
            Self::TextOrTexts => "a text or a list of texts".to_owned(),
            Self::Table(_) | Self::Other => "a table".to_owned(),
            Self::Tables(declared) => format!("a list, each entry {}", declared.of),
        }
    }
}

impl Key {
    /// What it must be, in words: `` `years` must be a number from 0 to 30 years ``.
    fn must_be(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        format!("`{}` must be {}{unit}", self.name, self.takes.words())
    }

    /// Says what is wrong with a value.
    pub(crate) fn check(&self, value: &Spanned<DeValue<'_>>, reading: &mut Reading<'_>) {
        let text = value.get_ref().as_str().map(str::trim);
        let span = Span::from(value.span());
        match (self.takes, value.get_ref()) {
            (Takes::Text | Takes::Figure, DeValue::String(_)) => {
                if self.needed && text.is_some_and(str::is_empty) {
                    reading.out_of_range(self, value, "nothing is written here");
                }
            }
            (Takes::Flag, DeValue::Boolean(_))
            | (Takes::TextOrTexts, DeValue::String(_))
            | (Takes::Other, _) => {}
            (Takes::Number(low, high), number) => match plain_number(number) {
                Some(n) if (low..=high).contains(&n) => {}
                Some(n) => reading.out_of_range(self, value, format!("this is {n}")),
                None => reading.wrong_type(self, value),
            },
            (Takes::Whole(low, high), number) => match plain_number(number) {
                Some(n) if n.fract() == 0.0 && (f64::from(low)..=f64::from(high)).contains(&n) => {}
                Some(n) => reading.out_of_range(self, value, format!("this is {n}")),
                None => reading.wrong_type(self, value),
            },
            (Takes::Figure, number) if plain_number(number).is_some() => {}
            (Takes::Day, day) if day_of(day).is_some() => {}
            (Takes::Money | Takes::Rate, DeValue::String(text)) => {
                let read = match self.takes {
                    Takes::Money => Money::parse(text).map(|m| (m.is_negative(), m.is_price())),
                    _ => Rate::parse(text).map(|r| (r.is_negative(), r.to_f64() <= RATE_MAX)),
                };
                match read {
                    Ok((false, true)) => {}
                    Ok((true, _)) => reading.out_of_range(self, value, "an amount is not negative"),
                    Ok(_) => reading.out_of_range(self, value, "no amount is as large as this"),
                    Err(error) => reading.out_of_range(self, value, error.to_string()),
                }
            }
            (Takes::Words(words), DeValue::String(word)) => {
                if !words.iter().any(|w| **w == **word) {
                    reading.unknown_word(self, span, word, words);
                }
            }
            (Takes::Rows(table), DeValue::String(word)) => {
                let rows = reading.catalogue.map_or(&[][..], |c| c.words(table));
                let rows: Vec<&str> = rows.iter().map(|r| &**r).collect();
                if !rows.is_empty() && !rows.contains(&&**word) {
                    reading.unknown_word(self, span, word, &rows);
                }
            }
            (Takes::Texts | Takes::TextOrTexts, DeValue::Array(items)) => {
                for item in items.iter().filter(|item| item.get_ref().as_str().is_none()) {
                    let message = format!("`{}` takes texts", self.name);
                    let this = format!("this is {}", found(item.get_ref()));
                    reading.wrong("wrong-type", item.span(), message, this, self.meaning);
                }
            }
            (Takes::Table(declared), DeValue::Table(table)) => {
                declared.check(table, span, reading);
            }
            // Each is checked as it is read.
            (Takes::Tables(_), DeValue::Array(_)) => {}
            _ => reading.wrong_type(self, value),
        }
    }
}

impl Declared {
    /// Its keys' names.
    pub(crate) fn names(&self) -> impl Iterator<Item = &'static str> + Clone {
        self.keys.iter().map(|k| k.name)
    }

    /// Reads a table, and says all that is wrong with it.
    pub(crate) fn row<'t, 'i>(
        &self,
        value: &'t Spanned<DeValue<'i>>,
        reading: &mut Reading<'_>,
    ) -> Option<Row<'t, 'i>> {
        match value.get_ref() {
            DeValue::Table(table) => Some(self.check(table, value.span().into(), reading)),
            other => {
                let this = format!("this is {}", found(other));
                let message = format!("{} is a table", self.of);
                let help = format!("its keys: {}", some_of(self.names(), 24));
                reading.wrong("wrong-type", value.span(), message, this, help);
                None
            }
        }
    }

    /// The same of a table without a value around it.
    pub(crate) fn check<'t, 'i>(
        &self,
        table: &'t DeTable<'i>,
        whole: Span,
        reading: &mut Reading<'_>,
    ) -> Row<'t, 'i> {
        check(&[self], table, whole, reading)
    }
}

/// Reads a table whose keys are declared in several; the first says what it is.
pub(crate) fn check<'t, 'i>(
    all: &[&Declared],
    table: &'t DeTable<'i>,
    whole: Span,
    reading: &mut Reading<'_>,
) -> Row<'t, 'i> {
    let keys = || all.iter().flat_map(|d| d.keys);
    let of = all.first().map_or("this", |d| d.of);
    for (name, _) in table {
        if !keys().any(|k| *k.name == **name.get_ref()) {
            reading.unknown_key(of, name, keys().map(|k| k.name));
        }
    }
    check_values(all, table, reading);
    let missing: Vec<&Key> = keys().filter(|k| k.needed && !table.contains_key(k.name)).collect();
    if !missing.is_empty() {
        let names: Vec<&str> = missing.iter().map(|k| k.name).collect();
        let help: Vec<String> =
            missing.iter().map(|k| format!("{}: {}", k.name, k.meaning)).collect();
        let message = format!("{of} gives no `{}`", names.join("`, no `"));
        reading.wrong("missing-key", whole, message, "here", help.join("; "));
    }
    Row { table, whole }
}

/// Checks the values of declared keys in a table that has others beside them.
pub(crate) fn check_values(all: &[&Declared], table: &DeTable<'_>, reading: &mut Reading<'_>) {
    for key in all.iter().flat_map(|d| d.keys) {
        if let Some(value) = table.get(key.name) {
            key.check(value, reading);
        }
    }
}

/// A day as TOML writes it, or as a text.
pub(crate) fn day_of(value: &DeValue<'_>) -> Option<Date> {
    let text = match value {
        DeValue::Datetime(day) if day.time.is_none() && day.offset.is_none() => day.to_string(),
        DeValue::String(text) => text.to_string(),
        _ => return None,
    };
    text.parse().ok()
}

impl<'t, 'i> Row<'t, 'i> {
    /// What is written for a key.
    pub(crate) fn get(&self, key: &str) -> Option<&'t Spanned<DeValue<'i>>> {
        self.table.get(key)
    }

    /// Where a key's value stands; nowhere when it is left out.
    pub(crate) fn span(&self, key: &str) -> Span {
        self.get(key).map_or_else(Span::default, |v| v.span().into())
    }

    /// The same, or all of the table.
    pub(crate) fn span_or_whole(&self, key: &str) -> Span {
        self.get(key).map_or(self.whole, |v| v.span().into())
    }

    /// A text without the blanks around it.
    pub(crate) fn text(&self, key: &str) -> Option<&'t str> {
        self.get(key)?.get_ref().as_str().map(str::trim)
    }

    pub(crate) fn flag(&self, key: &str) -> Option<bool> {
        self.get(key)?.get_ref().as_bool()
    }

    pub(crate) fn number(&self, key: &str) -> Option<f64> {
        plain_number(self.get(key)?.get_ref())
    }

    pub(crate) fn day(&self, key: &str) -> Option<Date> {
        day_of(self.get(key)?.get_ref())
    }

    pub(crate) fn money(&self, key: &str) -> Option<Money> {
        Money::parse(self.text(key)?).ok()
    }

    /// The entries of a list.
    pub(crate) fn items(&self, key: &str) -> &'t [Spanned<DeValue<'i>>] {
        self.get(key).and_then(|v| v.get_ref().as_array()).map_or(&[], |items| items)
    }

    /// The texts of a list, each with its place.
    pub(crate) fn texts(&self, key: &str) -> impl Iterator<Item = (&'t str, Span)> {
        self.items(key).iter().filter_map(|v| Some((v.get_ref().as_str()?, v.span().into())))
    }
}
