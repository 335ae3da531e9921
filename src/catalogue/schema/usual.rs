//! What the schema of a field says it usually is: `usual`, `usual_times`, `usual_absent`,
//! `usual_also` and `usual_basis`.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::SchemaReader;
use crate::catalogue::field_reader::{LeftOut, plain_number};
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
        let given = |key: &str| table.get(key).map(|value| (key.to_owned(), value));
        let mut given = ["usual", "usual_times", "usual_absent"].into_iter().filter_map(given);
        let (key, value) = given.next()?;
        if let Some((other, value)) = given.next() {
            let told = format!("`{key}` and `{other}` exclude each other");
            self.problem(value.span(), told, "here");
            return None;
        }
        let what = match key.as_str() {
            "usual" => self.usual_value(field, value)?,
            "usual_times" => self.usual_times(value)?,
            _ => self.usual_absent(field, value)?,
        };
        Some(Usual { what, basis: self.basis(field, table, span)? })
    }

    /// Where it comes from that something is usual.
    fn basis(&mut self, field: &Field, table: &DeTable<'_>, span: Span) -> Option<String> {
        let basis = self.text(table, "usual_basis");
        if basis.is_none() {
            self.problem(
                span,
                format!("the usual value of `{}` has no basis", field.name),
                "say where it comes from: usual_basis = \"…\"",
            );
        }
        basis.map(|basis| basis.to_string())
    }

    /// Records that a part commonly has besides those that its page names.
    pub(super) fn usual_also(
        &mut self,
        field: &Field,
        table: &DeTable<'_>,
        span: Span,
    ) -> Vec<Box<[Val]>> {
        let Some(value) = table.get("usual_also") else { return Vec::new() };
        if self.basis(field, table, span).is_none() {
            return Vec::new();
        }
        match self.value_with(field, value, LeftOut::Unknown) {
            Some(Val::Records(records)) => records.to_vec(),
            _ => {
                let told = format!("`usual_also` of `{}` must be a list of records", field.name);
                self.problem(value.span(), told, "no such list");
                Vec::new()
            }
        }
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

    /// What leaving the field out means is what it commonly is.
    fn usual_absent(&mut self, field: &Field, value: &Spanned<DeValue<'_>>) -> Option<UsualValue> {
        let told = match (value.get_ref().as_bool(), field.when_left_out()) {
            (Some(true), Some(meant)) => return Some(UsualValue::Value(meant)),
            (Some(true), None) => format!("`{}` may not be left out", field.name),
            _ => "`usual_absent` is true or is left out".to_owned(),
        };
        self.problem(value.span(), told, "here");
        None
    }

    fn usual_times(&mut self, value: &Spanned<DeValue<'_>>) -> Option<UsualValue> {
        let table = value.get_ref().as_table();
        let number =
            |key: &str| table.and_then(|t| t.get(key)).and_then(|v| plain_number(v.get_ref()));
        let text = |key: &str| table.and_then(|t| t.get(key)).and_then(|v| v.get_ref().as_str());
        match (text("of"), text("per"), number("low"), number("high")) {
            (Some(of), None, Some(low), Some(high)) if low <= high && low >= 0.0 => {
                Some(UsualValue::Times(self.texts.get(of), low, high))
            }
            (None, Some(per), Some(low), Some(high)) if low <= high && low >= 0.0 => {
                Some(UsualValue::Per(self.texts.get(per), low, high))
            }
            _ => {
                self.problem(
                    value.span(),
                    "`usual_times` needs a field, `of` or `per`, and `low` and `high`, low first",
                    "for example { of = \"draw_w\", low = 1.0, high = 2.0 }",
                );
                None
            }
        }
    }
}
