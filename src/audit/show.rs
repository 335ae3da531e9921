//! Values in words: units found from the expression, figures rounded as a person would write them.

use crate::audit::derived::DERIVED;
use crate::audit::eval::{Seen, View};
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord, Op};
use crate::build::fields::unit_of;
use crate::catalogue::kinds::{FieldType, KindId};

/// Looks up the units of measures, which the expressions do not hold.
pub trait Names {
    /// A measure's id and unit.
    fn measure(&self, at: u16) -> Option<(&str, &str)>;
}

/// The unit of an expression, empty when it has none or it is not known.
pub fn unit<'a>(view: View<'a>, names: &'a dyn Names, id: ExprId) -> &'a str {
    match view.pool.get(id) {
        Expr::Field(kind, _, field) => field_unit(view, *kind, *field, None),
        Expr::Sub(kind, _, field, _, sub) => field_unit(view, *kind, *field, Some(*sub)),
        Expr::Line(_, _, LineWord::Price | LineWord::MailRebate | LineWord::Credit | LineWord::BundleValue | LineWord::Shipping)
        | Expr::Build(BuildWord::Total) => "money",
        Expr::Line(_, _, LineWord::OfferAge | LineWord::SupportDays) => "days",
        Expr::Build(BuildWord::Field(at)) => unit_of(*at),
        Expr::Setting(at) => view.settings.get(*at).map_or("", |s| &s.unit),
        Expr::Cell(table, column, _) => view.build.catalogue.table(*table).and_then(|t| t.columns.get(*column as usize)).map_or("", |c| &c.unit),
        Expr::Sum(name) => sum_unit(view, name),
        Expr::Measure(at, inner) => match names.measure(*at) {
            Some((_, unit)) if !unit.is_empty() => unit,
            _ => unit(view, names, *inner),
        },
        Expr::Func(at, _) => crate::audit::functions::FUNCTIONS.get(*at as usize).map_or("", |f| f.unit),
        Expr::Derived(at) => DERIVED.get(*at as usize).map_or("", |d| d.unit),
        Expr::Un(_, a) => unit(view, names, *a),
        Expr::Bin(op, a, b) => joined(*op, unit(view, names, *a), unit(view, names, *b)),
        Expr::Const(_) | Expr::Word(_) | Expr::KeyOf(..) | Expr::Pieces(_) | Expr::Build(_) | Expr::Line(..) => "",
    }
}

fn field_unit(view: View<'_>, kind: KindId, field: u16, sub: Option<u16>) -> &str {
    let field = view.build.catalogue.kind(kind).and_then(|k| k.fields.get(field as usize));
    match (field.map(|f| (&f.ty, &f.unit)), sub) {
        (Some((FieldType::Records(fields), _)), Some(sub)) => fields.get(sub as usize).map_or("", |f| &f.unit),
        (Some((_, unit)), None) => unit,
        _ => "",
    }
}

fn sum_unit<'a>(view: View<'a>, name: &str) -> &'a str {
    let first = view.build.catalogue.kinds_with(name).first();
    first.map_or("", |(kind, field)| field_unit(view, *kind, *field, None))
}

/// Units that count or share rather than measure: they give way to a real one.
fn bare(unit: &str) -> bool {
    unit.is_empty() || unit.starts_with("of ")
}

fn joined<'a>(op: Op, a: &'a str, b: &'a str) -> &'a str {
    match op {
        Op::Add | Op::Sub | Op::Min | Op::Max | Op::Rem => {
            if bare(a) && !b.is_empty() {
                b
            } else {
                a
            }
        }
        Op::Mul if bare(a) => b,
        Op::Mul if bare(b) => a,
        Op::Mul if matches!((a, b), ("A", "V") | ("V", "A")) => "W",
        Op::Mul if matches!((a, b), ("K/W", "W") | ("W", "K/W")) => "K",
        Op::Div if bare(b) => a,
        Op::Div if matches!((a, b), ("W", "V")) => "A",
        _ => "",
    }
}

/// A number with its unit, rounded for reading.
pub fn figure(n: f64, unit: &str, currency: &str) -> String {
    if !n.is_finite() {
        return "out of range".to_owned();
    }
    if unit == "money" {
        return format!("{n:.2} {currency}");
    }
    if unit.starts_with("of ") || unit == "%" {
        let percent = if unit == "%" { n } else { n * 100.0 };
        return format!("{} %", rounded(percent));
    }
    let mut words = rounded(n);
    let unit = counted(&words, unit);
    if unit.is_empty() {
        return words;
    }
    words.push(' ');
    // `money/GB` is written in the build's own currency.
    match unit.split_once("money") {
        Some((before, after)) => words.extend([before, currency, after]),
        None => words.push_str(unit),
    }
    words
}

/// Units that are words are written in the plural: `3 ports`, and `1 port`.
pub(crate) fn counted<'u>(number: &str, unit: &'u str) -> &'u str {
    let word = unit.len() > 3 && unit.bytes().all(|b| b.is_ascii_lowercase());
    unit.strip_suffix('s').filter(|_| word && number.trim_start_matches(['+', '-']) == "1").unwrap_or(unit)
}

/// Three figures or so: nobody builds to a tenth of a watt.
fn rounded(n: f64) -> String {
    let digits = match n.abs() {
        a if a >= 100.0 => 0,
        a if a >= 10.0 => 1,
        a if a >= 1.0 => 2,
        a if a >= 0.01 || a == 0.0 => 3,
        _ => 5,
    };
    // Whole numbers are the most of what is shown, and to write one as such is the cheapest.
    if n.fract() == 0.0 && n.abs() < 1e15 {
        return (n as i64).to_string();
    }
    let mut text = format!("{n:.digits$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    if text == "-0" { "0".to_owned() } else { text }
}

/// The value of an expression in words.
pub fn value(view: View<'_>, names: &dyn Names, id: ExprId, forced: Option<&str>) -> String {
    let currency = &view.build.build.currency;
    match view.see(id) {
        Err(_) => "not chosen yet".to_owned(),
        Ok(Seen::Num(n)) => figure(n, forced.unwrap_or_else(|| unit(view, names, id)), currency),
        Ok(seen) => seen.keep().show(),
    }
}

/// The expression itself in words, for `why`.
pub fn expression(view: View<'_>, names: &dyn Names, id: ExprId) -> String {
    let of = |id: ExprId| expression(view, names, id);
    match view.pool.get(id) {
        Expr::Const(bits) => f64::from_bits(*bits).to_string(),
        Expr::Word(text) => format!("\"{text}\""),
        Expr::Measure(at, _) => names.measure(*at).map_or_else(String::new, |(id, _)| id.to_owned()),
        Expr::Bin(op @ (Op::Min | Op::Max), a, b) => format!("{}({}, {})", op.sign(), of(*a), of(*b)),
        Expr::Bin(op, a, b) => format!("({} {} {})", of(*a), op.sign(), of(*b)),
        Expr::Un(op, a) => format!("{}({})", op.name(), of(*a)),
        Expr::Func(at, args) => {
            let name = crate::audit::functions::FUNCTIONS.get(*at as usize).map_or("", |f| f.name);
            format!("{name}({})", args.iter().map(|a| of(*a)).collect::<Vec<_>>().join(", "))
        }
        Expr::KeyOf(counts, key) => format!("{}[{}]", of(*counts), of(*key)),
        _ => crate::audit::place::name(view, id),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_as_people_write_them() {
        for (n, unit, expected) in [
            (812.4, "W", "812 W"),
            (16.666_666, "ns", "16.7 ns"),
            (2.0, "mm", "2 mm"),
            (0.25, "of rating", "25 %"),
            (1249.0, "money", "1249.00 EUR"),
            (0.052, "money/GB", "0.052 EUR/GB"),
            (-0.0001, "", "-0.0001"),
            (f64::NAN, "W", "out of range"),
            (41.0, "%", "41 %"),
            (0.5, "A", "0.5 A"),
        ] {
            assert_eq!(figure(n, unit, "EUR"), expected);
        }
    }
}
