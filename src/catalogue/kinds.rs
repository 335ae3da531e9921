//! The schema: which fields each kind of part has.

use std::collections::HashMap;
use std::sync::Arc;

use super::Catalogue;
use super::ranks::Rank;
use super::roles::{BilledAs, Heat};
use super::value::Val;
use crate::source::{Label, Source, Span};

/// A kind's place in the catalogue's list of kinds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct KindId(pub u16);

/// A kind of part.
#[derive(Debug)]
pub struct Kind {
    /// Its word in files and scripts.
    pub name: Arc<str>,
    /// What people call it.
    pub title: String,
    /// Its other names, as people and shops write them.
    pub also: Vec<Arc<str>>,
    /// The fields, or products of two (`modules * module_gb`), that a bare figure in a list means.
    pub figures: Vec<Arc<str>>,
    /// What it is.
    pub meaning: String,
    /// Whether a build has one at the most as a rule; an included part of such a kind yields to a
    /// line of its own.
    pub single: bool,
    /// Whether a line says where its part is fitted and which way it blows.
    pub mounted: bool,
    /// Where the heat of its parts goes.
    pub heat: Heat,
    /// Which share of the price its parts are.
    pub billed_as: BilledAs,
    /// By what its parts are ranked, what matters most first.
    pub ranks: Vec<Rank>,
    /// Places in `fields` of what lists show of a part beside its name and price.
    pub shown: Vec<u16>,
    /// Its fields, those of every part first.
    pub fields: Vec<Field>,
    /// Where each field stands in `fields`.
    pub by_name: HashMap<Arc<str>, u16>,
    /// Where its field `includes` stands, if it has one: every part of every build is asked for it.
    pub includes: Option<u16>,
    /// The file that declares it.
    pub source: Arc<Source>,
}

/// A field of a kind, or of a record within a field.
#[derive(Debug, Clone)]
pub struct Field {
    /// Its word in files and scripts.
    pub name: Arc<str>,
    /// What it holds.
    pub ty: FieldType,
    /// The unit of its number; empty when it has none.
    pub unit: Arc<str>,
    /// Smallest number allowed.
    pub min: f64,
    /// Largest number allowed.
    pub max: f64,
    /// Whether every part must give it, as it tells parts apart.
    pub required: bool,
    /// Whether a part may lack it: a part known to leave it out has none.
    pub optional: bool,
    /// What leaving it out means, for a part that is known to leave it out.
    pub absent: Option<Val>,
    /// Whether it counts only where a part states it, so that leaving it out is never unknown.
    pub stated: bool,
    /// What it commonly is, where a part does not say.
    pub usual: Option<Usual>,
    /// Records that a part commonly has besides those that its page names; none where a part is
    /// known whole.
    pub usual_also: Vec<Box<[Val]>>,
    /// What it means.
    pub meaning: String,
    /// Its other names, as specification pages label it.
    pub also: Vec<Arc<str>>,
    /// How its values are written by others: a value and its spellings.
    pub spelled: Vec<(Arc<str>, Vec<Arc<str>>)>,
    /// Where it is declared.
    pub declared: Label,
}

/// What a field commonly is: an assumption, always shown as one.
#[derive(Debug, Clone)]
pub struct Usual {
    /// The assumption.
    pub what: UsualValue,
    /// Where it comes from.
    pub basis: String,
}

impl Usual {
    /// The one value that the field commonly has; none of a range.
    pub(crate) fn single(&self) -> Option<Val> {
        match &self.what {
            UsualValue::Range(low, high) if low == high => Some(Val::Num(*low)),
            UsualValue::Value(value) => Some(value.clone()),
            UsualValue::Range(..) | UsualValue::Times(..) | UsualValue::Per(..) => None,
        }
    }

    /// The least and the most that it commonly is, for a number of a field with these limits;
    /// `number` gives other fields of the part. None where that takes a field nobody said.
    pub(crate) fn span(
        &self,
        field: &Field,
        number: impl Fn(&str) -> Option<f64>,
    ) -> Option<(f64, f64)> {
        let within = |n: f64| n.clamp(field.min, field.max);
        match &self.what {
            UsualValue::Range(low, high) => Some((*low, *high)),
            UsualValue::Times(of, low, high) => {
                let n = number(of)?;
                Some((within(n * low), within(n * high)))
            }
            UsualValue::Per(of, low, high) => {
                let n = number(of).filter(|n| *n > 0.0)?;
                Some((within(low / n), within(high / n)))
            }
            UsualValue::Value(_) => None,
        }
    }
}

/// An assumption about a field.
#[derive(Debug, Clone)]
pub enum UsualValue {
    /// A number from the first to the second, both included.
    Range(f64, f64),
    /// Another field of the same part times a factor from the first to the second.
    Times(Arc<str>, f64, f64),
    /// A factor from the first to the second, by another field of the same part.
    Per(Arc<str>, f64, f64),
    /// This value.
    Value(Val),
}

/// What a field holds.
#[derive(Debug, Clone)]
pub enum FieldType {
    /// A number.
    Number,
    /// A text, of certain words only when any are given.
    Text(Words),
    /// `true` or `false`.
    Flag,
    /// A list of texts.
    List(Words),
    /// Words with counts.
    Counts(Words),
    /// Small tables.
    Records(Vec<Field>),
}

/// Which words a text may be.
#[derive(Debug, Clone, Default)]
pub enum Words {
    /// Any text.
    #[default]
    Any,
    /// One of these.
    OneOf(Vec<Arc<str>>),
    /// A row of a table, or a value of one of its columns (`table.column`).
    Table(Arc<str>),
}

impl Field {
    /// What a part that is known to leave it out has; none where that is an error.
    pub fn when_left_out(&self) -> Option<Val> {
        match &self.absent {
            Some(value) => Some(value.clone()),
            None if self.optional => Some(Val::Absent),
            None => None,
        }
    }

    /// Whether it holds any text, of no list.
    pub fn is_free_text(&self) -> bool {
        matches!(self.ty, FieldType::Text(Words::Any))
    }

    /// Whether a part may be known to have none: a script asks before it reads.
    pub fn may_lack(&self) -> bool {
        self.optional && self.absent.is_none()
    }

    /// The type in words, with its unit.
    pub fn type_in_words(&self) -> String {
        match &self.ty {
            FieldType::Number if self.unit.is_empty() => "a number".to_owned(),
            FieldType::Number => format!("a number in {}", self.unit),
            FieldType::Text(_) => "a text".to_owned(),
            FieldType::Flag => "true or false".to_owned(),
            FieldType::List(_) => "a list of texts".to_owned(),
            FieldType::Counts(_) => "a table of words and counts".to_owned(),
            FieldType::Records(_) => "a list of tables".to_owned(),
        }
    }

    /// What its value looks like in TOML; an entry with every key, or with those that it needs.
    pub(crate) fn example(&self, catalogue: &Catalogue, every_key: bool) -> String {
        let first = |words: &Words| {
            catalogue.words_of(words).first().map_or_else(|| "…".to_owned(), |w| w.to_string())
        };
        match &self.ty {
            FieldType::Number if self.unit.is_empty() => "0".to_owned(),
            FieldType::Number => format!("0 {}", self.unit),
            FieldType::Text(words) => format!("\"{}\"", first(words)),
            FieldType::Flag => "false".to_owned(),
            FieldType::List(words) => format!("[\"{}\"]", first(words)),
            FieldType::Counts(words) => format!("{{ \"{}\" = 1 }}", first(words)),
            FieldType::Records(fields) => {
                let keys = fields.iter().filter(|f| every_key || f.when_left_out().is_none());
                let inside: Vec<String> = keys
                    .map(|f| format!("{} = {}", f.name, f.example(catalogue, every_key)))
                    .collect();
                format!("[{{ {} }}]", inside.join(", "))
            }
        }
    }
}

impl Kind {
    /// The field of a name.
    pub fn field(&self, name: &str) -> Option<(u16, &Field)> {
        let id = *self.by_name.get(name)?;
        Some((id, self.fields.get(id as usize)?))
    }

    /// Whether its parts are fans: they have a frame, a free flow and a pressure.
    pub fn is_fan(&self) -> bool {
        ["size_mm", "airflow_m3h", "pressure_pa"].iter().all(|field| self.field(field).is_some())
    }
}

/// Words that Rhai keeps for itself, so that no kind or field may use them; a blank between two.
pub const RESERVED: &str = "\
    case default match new with is use public static shared sync thread module var null void \
    super package let const if else switch do while until loop for in continue break return \
    throw try catch import export as global private fn this true false goto exit each then \
    async await yield spawn go protected Fn call curry type_of print debug eval is_def_var \
    is_def_fn is_shared unless where";

/// What every line answers beside its part's fields; no field may take these names. A
/// blank stands between two.
pub const LINE_WORDS: &str = "kind count mount flow owned included price mail_rebate credit \
    bundle_value shipping left_out stock sellers offer_age_days support_until_days opt has at";

/// Whether a name can be a field's: lower case letters, digits and `_`, starting with a letter.
pub fn is_word(name: &str) -> bool {
    name.len() <= 40
        && name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

/// Whether a name may be a part's, were it not for its length.
pub(crate) fn is_part_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphanumeric())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "-._".contains(c))
}

/// A span that covers nothing, at the start of a file.
pub(crate) fn nowhere(source: &Arc<Source>) -> Label {
    Label { source: source.clone(), span: Span::default(), text: String::new() }
}
