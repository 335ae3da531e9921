//! How good a part is among its kind: the fields that its kind ranks parts by, and what is lost
//! when another part stands in its place.

use std::sync::Arc;

use super::Part;
use super::kinds::{Field, FieldType};
use super::value::Val;
use crate::source::{Label, Problem, Problems};

/// A figure by which parts of a kind are ranked: a field, or a product of several.
#[derive(Debug, Clone)]
pub struct Rank {
    /// As the kind's file writes it, without the sign.
    pub name: Arc<str>,
    /// The unit of its number; empty when it has none, or is a product of several that have one.
    pub unit: Arc<str>,
    /// Whether less of it is better: written with a `-` in front.
    pub less: bool,
    fields: Vec<u16>,
}

impl Rank {
    /// Reads `gb`, `-noise_db` or `modules * module_gb` against a kind's fields.
    /// Errors: the field that there is none of, or that is no number, flag or counts.
    pub(super) fn read(text: &str, fields: &[Field]) -> Result<Self, String> {
        let (less, name) = match text.trim().strip_prefix('-') {
            Some(rest) => (true, rest.trim()),
            None => (false, text.trim()),
        };
        let mut found = Vec::new();
        let mut units: Vec<Arc<str>> = Vec::new();
        for word in name.split('*').map(str::trim) {
            let numeric = |f: &Field| {
                matches!(f.ty, FieldType::Number | FieldType::Flag | FieldType::Counts(_))
            };
            let held = fields.iter().zip(0u16..).find(|(f, _)| *f.name == *word && numeric(f));
            let (field, at) = held.ok_or_else(|| word.to_owned())?;
            units.extend((!field.unit.is_empty()).then(|| field.unit.clone()));
            found.push(at);
        }
        let unit = match units.as_slice() {
            [unit] => unit.clone(),
            _ => "".into(),
        };
        Ok(Self { name: name.into(), unit, less, fields: found })
    }

    /// What a part comes to; none where it does not say.
    pub fn of(&self, part: &Part) -> Option<f64> {
        self.fields.iter().try_fold(1.0, |product, at| {
            let value = match part.values.get(*at as usize)? {
                Val::Num(n) => *n,
                Val::Flag(flag) => f64::from(u8::from(*flag)),
                Val::Counts(counts) => counts.iter().map(|(_, n)| *n).sum(),
                _ => return None,
            };
            Some(product * value)
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

/// What a kind's file ranks its parts by; a text that is none of its fields is a problem.
pub(super) fn ranked(
    texts: &[(String, Label)],
    fields: &[Field],
    problems: &mut Problems,
) -> Vec<Rank> {
    each(texts, fields, problems, ("no number, flag or counts", "ranked by this"), |text| {
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
