//! What a value is missing for: a part that is not chosen, or a fact that nobody said.

use crate::build::resolve::Resolved;
use crate::catalogue::kinds::{Field, FieldType, KindId};
use crate::source::Problem;

/// Why there is no value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lack {
    /// The part of this line is not chosen yet.
    Open(KindId, u16),
    /// Nobody said what this is.
    Fact(Fact),
}

impl From<(KindId, u16)> for Lack {
    fn from((kind, nth): (KindId, u16)) -> Self {
        Self::Open(kind, nth)
    }
}

/// A field of the part on a line, or a field of one of its records: kind, line, field, and which
/// record's which field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Fact {
    /// Kind of the line.
    pub kind: KindId,
    /// Which line of the kind.
    pub nth: u16,
    /// Which field.
    pub field: u16,
    /// Which record, and which of its fields.
    pub sub: Option<(u16, u16)>,
}

impl Fact {
    /// The schema of the field, or of the record's field.
    pub fn schema(self, build: &Resolved) -> Option<&Field> {
        let field = build.catalogue.kind(self.kind)?.fields.get(self.field as usize)?;
        match (self.sub, &field.ty) {
            (Some((_, sub)), FieldType::Records(fields)) => fields.get(sub as usize),
            _ => Some(field),
        }
    }

    /// Its name as people type it: `cooler.height_mm`, `board.m2[1].length_mm`.
    pub fn place(self, build: &Resolved) -> String {
        let kind = build.catalogue.kind(self.kind);
        let several = build.slots(self.kind).len() > 1;
        let nth = if several { format!("[{}]", self.nth) } else { String::new() };
        let field = kind.and_then(|k| k.fields.get(self.field as usize));
        let head =
            format!("{}{nth}.{}", kind.map_or("", |k| &k.name), field.map_or("", |f| &f.name));
        match (self.sub, self.schema(build)) {
            (Some((index, _)), Some(sub)) => format!("{head}[{index}].{}", sub.name),
            _ => head,
        }
    }

    /// The name of the part that it is about.
    pub fn part(self, build: &Resolved) -> String {
        let slot = build.slot(self.kind, self.nth);
        slot.and_then(|s| s.part.as_ref()).map_or_else(String::new, |part| part.name.to_string())
    }
}

impl Lack {
    /// What is waited for: the kind of an open line, or the place of a fact.
    pub fn waits_for(self, build: &Resolved) -> String {
        match self {
            Self::Open(kind, _) => {
                build.catalogue.kind(kind).map_or_else(String::new, |k| k.name.to_string())
            }
            Self::Fact(fact) => fact.place(build),
        }
    }

    /// What is missing, and what would mend it.
    pub fn problem(self, build: &Resolved) -> Problem {
        match self {
            Self::Open(kind, _) => {
                let kind = build.catalogue.kind(kind).map_or("", |k| &k.name);
                Problem::new(format!("the {kind} line is open: its part is not chosen yet"))
                    .help(format!("choose one: `swap {kind} PART`"))
            }
            Self::Fact(fact) => {
                let place = fact.place(build);
                Problem::new(format!("nobody said what {place} of {} is", fact.part(build)))
                    .help(format!("look it up, then: `know {place} VALUE`"))
            }
        }
    }
}
