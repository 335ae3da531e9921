//! A build whose unknown facts are taken to be what they commonly are, for figures that the host
//! works out from the whole of it.

use std::sync::Arc;

use super::What;
use super::resolve::Resolved;
use crate::catalogue::Part;
use crate::catalogue::kinds::{Field, FieldType, Kind, UsualValue};
use crate::catalogue::value::Val;

impl Resolved {
    /// The build with every unknown fact at its usual value: at the low end of its range with 0, at
    /// the high end with 1. What has no usual value stays unknown.
    pub(crate) fn as_usual(&self, at: f64) -> Self {
        let mut build = (*self.build).clone();
        for line in &mut build.lines {
            if let What::Part(part) = &line.what
                && let Some(kind) = self.catalogue.kind(part.kind)
                && part.values.iter().any(has_gaps)
            {
                line.what = What::Part(Arc::new(filled(part, kind, at)));
            }
        }
        Self::new(Arc::new(build), self.catalogue.clone())
    }
}

fn has_gaps(value: &Val) -> bool {
    match value {
        Val::Unknown => true,
        Val::Records(records) => records.iter().any(|r| r.iter().any(has_gaps)),
        _ => false,
    }
}

fn filled(part: &Part, kind: &Kind, at: f64) -> Part {
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

fn usual(field: &Field, at: f64, number: &dyn Fn(&str) -> Option<f64>) -> Val {
    let between = |lo: f64, hi: f64| Val::Num(lo + (hi - lo) * at);
    match field.usual.as_ref().map(|usual| &usual.what) {
        None => Val::Unknown,
        Some(UsualValue::Range(lo, hi)) => between(*lo, *hi),
        Some(UsualValue::Value(value)) => value.clone(),
        Some(UsualValue::Times(of, low, high)) => number(of).map_or(Val::Unknown, |n| {
            let clamp = |n: f64| n.clamp(field.min, field.max);
            between(clamp(n * low), clamp(n * high))
        }),
    }
}
