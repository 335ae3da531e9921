//! A part of the catalogue, with the place of each of its values, and how it is read.

use std::sync::Arc;

use toml::de::DeTable;

use super::field_reader::{LeftOut, Reader};
use super::kinds::{Kind, KindId};
use super::value::Val;
use crate::source::{Problem, Source, Span};
use crate::words::clip;

/// A part of the catalogue.
#[derive(Debug)]
pub struct Part {
    /// `kind/name`.
    pub id: Arc<str>,
    /// Its kind.
    pub kind: KindId,
    /// What people call it.
    pub name: Arc<str>,
    /// Its values in the order of the kind's fields.
    #[doc(hidden)]
    pub values: Box<[Val]>,
    /// Where each value is written; empty where it is a default or absent.
    #[doc(hidden)]
    pub spans: Box<[Span]>,
    /// Where the part is named.
    #[doc(hidden)]
    pub head: Span,
    /// The part of a lower layer that it lies over: what it leaves out is there.
    pub under: Option<Arc<Part>>,
    /// The file.
    #[doc(hidden)]
    pub source: Arc<Source>,
    /// Its place in its catalogue.
    pub(crate) place: Place,
}

impl Part {
    /// The same part with other values, of no catalogue.
    pub(crate) fn with_values(&self, values: Box<[Val]>) -> Self {
        Self {
            id: self.id.clone(),
            kind: self.kind,
            name: self.name.clone(),
            values,
            spans: self.spans.clone(),
            head: self.head,
            under: self.under.clone(),
            source: self.source.clone(),
            place: Place::NONE,
        }
    }

    /// The part with the places of its values moved, where its text was read from the middle of its
    /// file.
    pub(super) fn shifted(mut self, by: usize) -> Self {
        for span in self.spans.iter_mut().filter(|span| !span.is_empty()) {
            *span = span.shifted(by);
        }
        self
    }

    /// The part at another place in its catalogue.
    pub(super) fn moved(self: Arc<Self>, at: u32) -> Arc<Self> {
        if self.place.at == at {
            return self;
        }
        let place = Place { at, ..self.place };
        Arc::new(Self { place, ..self.with_values(self.values.clone()) })
    }

    /// The file and the place where a field is written, in whichever layer; none where it is
    /// written nowhere.
    pub fn written_at(&self, field: u16) -> Option<(&Arc<Source>, Span)> {
        match self.spans.get(field as usize).filter(|s| !s.is_empty()) {
            Some(span) => Some((&self.source, *span)),
            None => self.under.as_ref().and_then(|under| under.written_at(field)),
        }
    }

    /// The fields that nobody said, by their place among the kind's; a record's own are not among
    /// them.
    pub fn unknown(&self) -> impl Iterator<Item = u16> {
        self.values.iter().zip(0u16..).filter(|(v, _)| v.is_unknown()).map(|(_, at)| at)
    }
}

/// Where a part stands among all that were ever loaded: a part of another catalogue is told from
/// one of the same number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    /// Which catalogue.
    pub(super) catalogue: u32,
    /// Its number among the parts there.
    pub(super) at: u32,
}

impl Place {
    /// Of a part that a rule case writes on the spot: it is of no catalogue.
    pub(crate) const NONE: Self = Self { catalogue: 0, at: u32::MAX };
}

// What a part is read from comes from several places, so it has many names.
#[allow(clippy::too_many_arguments)]
pub(super) fn read_part(
    reader: &mut Reader<'_>,
    schema: &Kind,
    kind: KindId,
    id: Arc<str>,
    table: &DeTable<'_>,
    skip: &[&str],
    head: Span,
    under: Option<Arc<Part>>,
) -> Part {
    let mut values = vec![Val::Absent; schema.fields.len()].into_boxed_slice();
    let mut spans = vec![Span::default(); schema.fields.len()].into_boxed_slice();
    for (key, value) in table {
        let name: &str = key.get_ref();
        if skip.contains(&name) || name == "lacks" {
            continue;
        }
        match schema.field(name) {
            Some((at, field)) => {
                let read = reader.field(field, value);
                if let (Some(slot), Some(span)) =
                    (values.get_mut(at as usize), spans.get_mut(at as usize))
                {
                    *slot = read;
                    *span = value.span().into();
                }
            }
            None => reader.unknown(
                &format!("{} (a {})", clip(&id, 60), schema.title),
                key,
                schema.fields.iter().map(|f| &*f.name),
            ),
        }
    }
    if let Some(under) = &under {
        for ((value, span), below) in values.iter_mut().zip(&spans).zip(&under.values) {
            // What the lower layer does not know may still be known to be absent here.
            if span.is_empty() && !(below.is_unknown() && reader.left_out == LeftOut::Known) {
                *value = below.clone();
            }
        }
    }
    let settled: Vec<bool> = values.iter().map(Val::is_absent).collect();
    reader.lacks(schema, table, &mut values);
    reader.fill(&clip(&id, 60), &schema.fields, table, &mut values, head);
    if let Some(under) = &under {
        for ((value, empty), below) in values.iter_mut().zip(settled).zip(&under.values) {
            if empty && below.is_absent() {
                *value = Val::Absent;
            }
        }
    }
    let name = schema
        .field("name")
        .and_then(|(at, _)| values.get(at as usize))
        .and_then(Val::as_text)
        .cloned()
        .unwrap_or_else(|| id.clone());
    Part {
        id,
        kind,
        name,
        values,
        spans,
        head,
        under,
        source: reader.source.clone(),
        place: Place::NONE,
    }
}

/// Facts that a layer's file of known facts and its own parts give differently.
pub(super) fn contradictions(kind: &Kind, part: &Part) -> Vec<Problem> {
    let Some(under) = &part.under else { return Vec::new() };
    let values = part.values.iter().zip(&under.values).zip(part.spans.iter().zip(&under.spans));
    kind.fields
        .iter()
        .zip(values)
        .filter(|(_, (_, (here, there)))| !here.is_empty() && !there.is_empty())
        .filter(|(_, ((now, held), _))| !held.agrees(now))
        .map(|(field, ((now, held), (here, there)))| {
            Problem::new(format!(
                "{} has {} = {} and {} in one catalogue",
                part.id,
                field.name,
                held.show(),
                now.show()
            ))
            .at(&part.source, *here, "known here")
            .at(&under.source, *there, "given here")
            .help("correct one of them")
        })
        .collect()
}
