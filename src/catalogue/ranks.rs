//! How good a part is among its kind: the fields that its kind ranks parts by, and what is lost
//! when another part stands in its place.

use std::sync::Arc;

use super::kinds::{Field, FieldType, Words};
use super::value::Val;
use super::{Catalogue, KindId, Part};
use crate::source::{Label, Problem, Problems};

/// A figure by which parts of a kind are ranked: a field, or several multiplied and divided.
#[derive(Debug, Clone)]
pub struct Rank {
    /// The fields as the kind's file writes them, without the sign.
    pub name: Arc<str>,
    /// What people call it: what the kind's file says, else what the field means.
    pub words: Arc<str>,
    /// Whether the file says what it is called.
    pub is_called: bool,
    /// The unit of its number; empty when it has none, or is made of several that have one.
    pub unit: Arc<str>,
    /// Whether less of it is better: written with a `-` in front.
    pub less: bool,
    /// Whether it is a flag: a part has it or not.
    pub is_flag: bool,
    /// The table and column whose words its counts go by, such as `purpose.index`.
    keys: Option<Arc<str>>,
    /// The count that is looked at; all of them together where none is.
    key: Option<Arc<str>>,
    factor: f64,
    /// Fields, and whether each divides.
    fields: Vec<(u16, bool)>,
}

impl Rank {
    /// Reads `gb`, `-noise_db`, `modules * module_gb` or `-2000 * cl / mts in ns as CAS latency`
    /// against a kind's fields: ` in` names the unit, ` as` what people call it.
    /// Of a list or of records their number counts.
    /// Errors: the word that is no number and no field, or a field with a text.
    pub(super) fn read(text: &str, fields: &[Field]) -> Result<Self, String> {
        let (text, called) = split(text, " as ");
        let (text, unit) = split(text, " in ");
        let (less, name) = match text.strip_prefix('-') {
            Some(rest) => (true, rest.trim()),
            None => (false, text),
        };
        let mut rank = Self {
            name: name.into(),
            words: called.unwrap_or(name).into(),
            is_called: called.is_some(),
            unit: "".into(),
            less,
            is_flag: false,
            keys: None,
            key: None,
            factor: 1.0,
            fields: Vec::new(),
        };
        let mut units: Vec<Arc<str>> = Vec::new();
        let mut only = Vec::new();
        for (word, divides) in factors(name) {
            if let Some(n) = word.parse().ok().filter(|n: &f64| n.is_finite() && *n > 0.0) {
                rank.factor *= if divides { 1.0 / n } else { n };
                continue;
            }
            let numeric = |f: &Field| !matches!(f.ty, FieldType::Text(_));
            let held = fields.iter().zip(0u16..).find(|(f, _)| *f.name == *word && numeric(f));
            let (field, at) = held.ok_or_else(|| word.to_owned())?;
            units.extend((!field.unit.is_empty()).then(|| field.unit.clone()));
            rank.fields.push((at, divides));
            only.push(field);
        }
        if let [field] = only.as_slice() {
            rank.is_flag = matches!(field.ty, FieldType::Flag);
            if let FieldType::Counts(Words::Table(of)) = &field.ty {
                rank.keys = Some(of.clone());
            } else if called.is_none() && !field.meaning.is_empty() {
                let meaning = field.meaning.as_str();
                rank.words = meaning.strip_prefix("has ").unwrap_or(meaning).into();
            }
        }
        rank.unit = match (unit, units.as_slice()) {
            (Some(unit), _) => unit.into(),
            (None, [unit]) => unit.clone(),
            _ => "".into(),
        };
        Ok(rank)
    }

    /// The same by one of its counts, where it is made of counts that go by this column.
    pub(super) fn by(&self, column: &str, key: &str) -> Self {
        if self.keys.as_deref() != Some(column) {
            return self.clone();
        }
        let words = format!("{} {}", key, self.words).into();
        Self { words, key: Some(key.into()), ..self.clone() }
    }

    /// Whether it is made of counts, such as indexes by purpose.
    pub fn is_index(&self) -> bool {
        self.keys.is_some()
    }

    /// What a part comes to; none where it does not say.
    pub fn of(&self, part: &Part) -> Option<f64> {
        self.fields.iter().try_fold(self.factor, |product, (at, divides)| {
            let value = match (part.values.get(*at as usize)?, &self.key) {
                (Val::Num(n), _) => *n,
                (Val::Flag(flag), _) => f64::from(u8::from(*flag)),
                (Val::Records(all), _) => all.len() as f64,
                (Val::List(all), _) => all.len() as f64,
                (counts @ Val::Counts(_), Some(key)) => counts.count_of(key),
                (Val::Counts(counts), None) => counts.iter().map(|(_, n)| *n).sum(),
                _ => return None,
            };
            let product = if *divides { product / value } else { product * value };
            product.is_finite().then_some(product)
        })
    }

    /// By which share a part is worse than another, from 0 to 1; one that does not say is as bad as
    /// can be beside one that does.
    pub fn loss(&self, now: &Part, then: &Part) -> f64 {
        let (Some(a), b) = (self.of(now), self.of(then)) else { return 0.0 };
        let Some(b) = b else { return 1.0 };
        let worse = if self.less { b - a } else { a - b };
        let whole = if self.less { b.abs() } else { a.abs() };
        if worse > 0.0 && whole > 0.0 { (worse / whole).min(1.0) } else { 0.0 }
    }
}

/// A text without what stands behind a word, and that.
fn split<'t>(text: &'t str, word: &str) -> (&'t str, Option<&'t str>) {
    match text.split_once(word) {
        Some((first, rest)) => (first.trim(), Some(rest.trim())),
        None => (text.trim(), None),
    }
}

/// The factors of a product, and whether each divides.
fn factors(text: &str) -> impl Iterator<Item = (&str, bool)> {
    let mut from = 0;
    let ends = text.match_indices(['*', '/']).map(|(at, _)| at).chain([text.len()]);
    ends.map(move |end| {
        let divides = from > 0 && text.as_bytes().get(from - 1) == Some(&b'/');
        let word = text.get(from..end).unwrap_or_default().trim();
        from = end + 1;
        (word, divides)
    })
}

/// What parts are ranked by in a list for some purpose, by kind: of figures that differ by purpose,
/// that of this one.
pub struct Ranking(Vec<Vec<Rank>>);

/// The table of purposes, which is named as the property of a list is.
const PURPOSES: &str = "purpose";

impl Ranking {
    /// The ranking of lists for a purpose; with none, figures that differ by purpose are added up.
    pub fn of(catalogue: &Catalogue, purpose: Option<&str>) -> Self {
        let kinds = catalogue.kinds.iter().map(|kind| kind.ranks.clone());
        let mut ranking: Vec<Vec<Rank>> = kinds.collect();
        let table = catalogue.table_named(PURPOSES);
        for (purpose, table) in purpose.into_iter().zip(table) {
            for (column, at) in table.columns.iter().zip(0u16..) {
                let Some(key) = table.cell(purpose, at).as_text() else { continue };
                let of = format!("{PURPOSES}.{}", column.name);
                for rank in ranking.iter_mut().flatten() {
                    *rank = rank.by(&of, key);
                }
            }
        }
        Self(ranking)
    }

    /// The ranks of a kind.
    pub fn ranks(&self, kind: KindId) -> &[Rank] {
        self.0.get(kind.0 as usize).map_or(&[], Vec::as_slice)
    }
}

/// What a kind's file ranks its parts by; a text that is none of its fields is a problem.
pub(super) fn ranked(
    texts: &[(String, Label)],
    fields: &[Field],
    problems: &mut Problems,
) -> Vec<Rank> {
    each(texts, fields, problems, ("no number, flag, list or counts", "ranked by this"), |text| {
        Rank::read(text, fields)
    })
}

/// Places of the fields that lists show of a kind's parts; a name of none of them is a problem.
pub(super) fn shown(
    names: &[(String, Label)],
    fields: &[Field],
    problems: &mut Problems,
) -> Vec<u16> {
    each(names, fields, problems, ("no field", "shown in lists"), |name| {
        let found = fields.iter().zip(0u16..).find(|(field, _)| *field.name == *name);
        found.map(|(_, place)| place).ok_or_else(|| name.to_owned())
    })
}

/// What texts of a kind's file mean; of one that means nothing, the word is told that is none.
fn each<T>(
    texts: &[(String, Label)],
    fields: &[Field],
    problems: &mut Problems,
    (lacking, label): (&str, &str),
    read: impl Fn(&str) -> Result<T, String>,
) -> Vec<T> {
    let mut found = Vec::new();
    for (text, at) in texts {
        match read(text) {
            Ok(one) => found.push(one),
            Err(word) => {
                let problem = Problem::new(format!("`{word}` is {lacking} of this kind"))
                    .at(&at.source, at.span, label);
                problems.push(problem.suggest(&word, fields.iter().map(|f| &*f.name)));
            }
        }
    }
    found
}
