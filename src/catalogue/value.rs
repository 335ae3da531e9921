//! What a field can hold.

use std::hash::{Hash, Hasher};
use std::sync::Arc;

/// A field's value, as the kind's schema fixed its type.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Val {
    /// Nothing is there, and that is known.
    #[default]
    Absent,
    /// Nobody said what it is: it may be anything its field allows.
    Unknown,
    /// A finite number in the field's unit.
    Num(f64),
    /// A text.
    Text(Arc<str>),
    /// Yes or no.
    Flag(bool),
    /// Words in the order written.
    List(Arc<[Arc<str>]>),
    /// How many of each word; a word that is not there counts 0.
    Counts(Arc<[(Arc<str>, f64)]>),
    /// Small tables, each with the sub-fields in the schema's order.
    Records(Arc<[Box<[Val]>]>),
}

impl Val {
    /// Bytes held beside the value itself.
    pub(crate) fn bytes(&self) -> usize {
        match self {
            Self::Absent | Self::Unknown | Self::Num(_) | Self::Flag(_) => 0,
            Self::Text(text) => text.len(),
            Self::List(words) => words.iter().map(|word| size_of_val(word) + word.len()).sum(),
            Self::Counts(pairs) => pairs.iter().map(|pair| size_of_val(pair) + pair.0.len()).sum(),
            Self::Records(records) => {
                records.iter().flatten().map(|val| size_of_val(val) + val.bytes()).sum()
            }
        }
    }

    /// Whether nothing is there.
    pub fn is_absent(&self) -> bool {
        matches!(self, Self::Absent)
    }

    /// Whether nobody said what it is.
    pub fn is_unknown(&self) -> bool {
        matches!(self, Self::Unknown)
    }

    /// Whether another value says the same, or more where this leaves something unknown.
    pub fn agrees(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Unknown, _) => true,
            (Self::Records(here), Self::Records(there)) => {
                let all = |(a, b): (&[Val], &[Val])| a.iter().zip(b).all(|(a, b)| a.agrees(b));
                here.len() == there.len() && here.iter().zip(there.iter()).all(|(a, b)| all((a, b)))
            }
            (here, there) => here == there,
        }
    }

    /// The count of a word, 0 when it is not there.
    pub fn count_of(&self, key: &str) -> f64 {
        match self {
            Self::Counts(pairs) => pairs.iter().find(|(k, _)| &**k == key).map_or(0.0, |(_, n)| *n),
            _ => 0.0,
        }
    }

    /// The text, if it is one.
    pub fn as_text(&self) -> Option<&Arc<str>> {
        match self {
            Self::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The number, if it is one.
    pub fn as_num(&self) -> Option<f64> {
        match self {
            Self::Num(n) => Some(*n),
            _ => None,
        }
    }

    /// The value as a person would write it.
    pub fn show(&self) -> String {
        match self {
            Self::Absent => "absent".to_owned(),
            Self::Unknown => "unknown".to_owned(),
            Self::Num(n) => n.to_string(),
            Self::Text(t) => t.to_string(),
            Self::Flag(true) => "yes".to_owned(),
            Self::Flag(false) => "no".to_owned(),
            Self::List(words) if words.is_empty() => "none".to_owned(),
            Self::List(words) => words.join(", "),
            Self::Counts(pairs) if pairs.is_empty() => "none".to_owned(),
            Self::Counts(pairs) => {
                pairs.iter().map(|(k, n)| format!("{n} × {k}")).collect::<Vec<_>>().join(", ")
            }
            Self::Records(records) => format!("{} entries", records.len()),
        }
    }
}

// Numbers are finite by the loader's check, so equality by bits and by value agree but for -0.0,
// which the loader folds.
impl Eq for Val {}

impl Hash for Val {
    fn hash<H: Hasher>(&self, state: &mut H) {
        std::mem::discriminant(self).hash(state);
        match self {
            Self::Absent | Self::Unknown => {}
            Self::Num(n) => n.to_bits().hash(state),
            Self::Text(t) => t.hash(state),
            Self::Flag(b) => b.hash(state),
            Self::List(words) => words.hash(state),
            Self::Counts(pairs) => {
                for (k, n) in pairs.iter() {
                    k.hash(state);
                    n.to_bits().hash(state);
                }
            }
            Self::Records(records) => records.hash(state),
        }
    }
}
