//! A build whose unknown facts are taken to be what they commonly are, for figures that the host
//! works out from the whole of it.

use std::rc::Rc;
use std::sync::Arc;

use super::What;
use super::resolve::Resolved;
use crate::catalogue::Part;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::catalogue::value::Val;

impl Resolved {
    /// The build with every unknown fact at its usual value: at the low end of its range with 0, at
    /// the high end with 1. What has no usual value stays unknown.
    pub(crate) fn as_usual(&self, at: f64) -> Self {
        self.filled(Some(at))
            .unwrap_or_else(|| Self::new(self.build.clone(), self.catalogue.clone()))
    }

    /// The build with every unknown fact that is commonly one thing, such as no lighting at all,
    /// at that; none where there is no such fact.
    pub(crate) fn as_commonly(&self) -> Option<&Rc<Self>> {
        self.common.get_or_init(|| self.filled(None).map(Rc::new)).as_ref()
    }

    /// With unknown facts at a share of their usual range; without a share, those alone that have
    /// one usual value. None where nothing is filled in.
    fn filled(&self, at: Option<f64>) -> Option<Self> {
        let mut build = (*self.build).clone();
        let mut any = false;
        for line in &mut build.lines {
            if let What::Part(part) = &line.what
                && let Some(kind) = self.catalogue.kind(part.kind)
                && part.values.iter().any(has_gaps)
            {
                line.what = What::Part(Arc::new(filled(part, kind, at)));
                any = true;
            }
        }
        any.then(|| Self::new(Arc::new(build), self.catalogue.clone()))
    }
}

fn has_gaps(value: &Val) -> bool {
    match value {
        Val::Unknown => true,
        Val::Records(records) => records.iter().any(|r| r.iter().any(has_gaps)),
        _ => false,
    }
}

fn filled(part: &Part, kind: &Kind, at: Option<f64>) -> Part {
    let number = |name: &str| {
        let (at, _) = kind.field(name)?;
        part.values.get(at as usize).and_then(Val::as_num)
    };
    let values =
        kind.fields.iter().zip(&part.values).map(|(field, value)| match (&field.ty, value) {
            (_, Val::Unknown) => usual(field, at, &number),
            (FieldType::Records(fields), Val::Records(records)) => {
                let record = |record: &[Val]| -> Box<[Val]> {
                    let inner = fields.iter().zip(record.iter());
                    inner
                        .map(|(field, value)| match value {
                            Val::Unknown => usual(field, at, &number),
                            value => value.clone(),
                        })
                        .collect()
                };
                Val::Records(records.iter().map(|r| record(r)).collect())
            }
            (_, value) => value.clone(),
        });
    part.with_values(values.collect())
}

fn usual(field: &Field, at: Option<f64>, number: &dyn Fn(&str) -> Option<f64>) -> Val {
    let Some(usual) = &field.usual else { return Val::Unknown };
    match (usual.single(), at) {
        (Some(value), _) => value,
        (None, Some(at)) => {
            usual.span(field, number).map_or(Val::Unknown, |(lo, hi)| Val::Num(lo + (hi - lo) * at))
        }
        (None, None) => Val::Unknown,
    }
}
