//! What the schema of a field says it usually is: `usual`, `usual_times` and `usual_basis`.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::SchemaReader;
use crate::catalogue::field_reader::plain_number;
use crate::catalogue::kinds::{Field, FieldType, Usual, UsualValue};
use crate::catalogue::value::Val;
use crate::source::Span;

impl SchemaReader<'_> {
    pub(super) fn usual(
        &mut self,
        field: &Field,
        table: &DeTable<'_>,
        span: Span,
    ) -> Option<Usual> {
        let (range, times) = (table.get("usual"), table.get("usual_times"));
        let what = match (range, times) {
            (None, None) => return None,
            (Some(_), Some(value)) => {
                self.problem(value.span(), "`usual` and `usual_times` exclude each other", "here");
                return None;
            }
            (Some(value), None) => self.usual_value(field, value)?,
            (None, Some(value)) => self.usual_times(value)?,
        };
        let Some(basis) = self.text(table, "usual_basis") else {
            self.problem(
                span,
                format!("the usual value of `{}` has no basis", field.name),
                "say where it comes from: usual_basis = \"…\"",
            );
            return None;
        };
        Some(Usual { what, basis: basis.to_string() })
    }

    fn usual_value(&mut self, field: &Field, value: &Spanned<DeValue<'_>>) -> Option<UsualValue> {
        let (FieldType::Number, Some(ends)) = (&field.ty, value.get_ref().as_array()) else {
            let value = self.value(field, value)?;
            return Some(match value {
                Val::Num(n) => UsualValue::Range(n, n),
                other => UsualValue::Value(other),
            });
        };
        let ends: Vec<f64> = ends.iter().filter_map(|e| plain_number(e.get_ref())).collect();
        match ends.as_slice() {
            [low, high] if low <= high && *low >= field.min && *high <= field.max => {
                Some(UsualValue::Range(*low, *high))
            }
            _ => {
                self.problem(
                    value.span(),
                    format!(
                        "`usual` of `{}` must be two numbers from {} to {}, the lesser first",
                        field.name, field.min, field.max
                    ),
                    "not such a range",
                );
                None
            }
        }
    }

    fn usual_times(&mut self, value: &Spanned<DeValue<'_>>) -> Option<UsualValue> {
        let table = value.get_ref().as_table();
        let number =
            |key: &str| table.and_then(|t| t.get(key)).and_then(|v| plain_number(v.get_ref()));
        let of = table.and_then(|t| t.get("of")).and_then(|v| v.get_ref().as_str());
        match (of, number("low"), number("high")) {
            (Some(of), Some(low), Some(high)) if low <= high && low >= 0.0 => {
                Some(UsualValue::Times(self.texts.get(of), low, high))
            }
            _ => {
                self.problem(
                    value.span(),
                    "`usual_times` needs `of`, a field, with `low` and `high`, the lesser first",
                    "for example { of = \"draw_w\", low = 1.0, high = 2.0 }",
                );
                None
            }
        }
    }
}
