//! Values in words: units found from the expression, figures rounded as a person would write them.

use std::fmt::Write;

use crate::audit::derived::DERIVED;
use crate::audit::eval::{Seen, View};
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord, Op};
use crate::build::fields::unit_of;
use crate::build::lack::Lack;
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
        Expr::Line(
            _,
            _,
            LineWord::Price
            | LineWord::MailRebate
            | LineWord::Credit
            | LineWord::BundleValue
            | LineWord::Shipping,
        )
        | Expr::Build(BuildWord::Total) => "money",
        Expr::Line(_, _, LineWord::OfferAge | LineWord::SupportDays) => "days",
        Expr::Build(BuildWord::Field(at)) => unit_of(*at),
        Expr::Setting(at) => view.settings.get(*at).map_or("", |s| &s.unit),
        Expr::Cell(table, column, _) => view
            .build
            .catalogue
            .table(*table)
            .and_then(|t| t.columns.get(*column as usize))
            .map_or("", |c| &c.unit),
        Expr::Sum(name) => sum_unit(view, name),
        Expr::Measure(at, inner) => match names.measure(*at) {
            Some((_, unit)) if !unit.is_empty() => unit,
            _ => unit(view, names, *inner),
        },
        Expr::Func(at, _) => {
            crate::audit::functions::FUNCTIONS.get(*at as usize).map_or("", |f| f.unit)
        }
        Expr::Derived(at) => DERIVED.get(*at as usize).map_or("", |d| d.unit),
        Expr::Un(_, a) => unit(view, names, *a),
        Expr::Bin(op, a, b) => joined(*op, unit(view, names, *a), unit(view, names, *b)),
        Expr::Const(_)
        | Expr::Word(_)
        | Expr::KeyOf(..)
        | Expr::Pieces(_)
        | Expr::Build(_)
        | Expr::Assign(_)
        | Expr::Line(..) => "",
    }
}

fn field_unit(view: View<'_>, kind: KindId, field: u16, sub: Option<u16>) -> &str {
    let field = view.build.catalogue.kind(kind).and_then(|k| k.fields.get(field as usize));
    match (field.map(|f| (&f.ty, &f.unit)), sub) {
        (Some((FieldType::Records(fields), _)), Some(sub)) => {
            fields.get(sub as usize).map_or("", |f| &f.unit)
        }
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

/// Largest sum of money that a number holds to the hundredth.
const MONEY_MAX: f64 = 9e13;

/// A number with its unit, rounded for reading.
pub fn figure(n: f64, unit: &str, currency: &str) -> String {
    let mut out = String::new();
    put_figure(&mut out, n, unit, currency);
    out
}

/// Numbers from one to another with their unit; an end that is not known is left out.
pub fn range(lo: f64, hi: f64, unit: &str, currency: &str) -> String {
    match (lo.is_finite(), hi.is_finite()) {
        (true, true) => {
            let (low, high) = (figure(lo, unit, currency), figure(hi, unit, currency));
            match (low.rsplit_once(' '), high.rsplit_once(' ')) {
                (Some((number, a)), Some((_, b))) if a == b => format!("{number} to {high}"),
                _ => format!("{low} to {high}"),
            }
        }
        (true, false) => format!("at least {}", figure(lo, unit, currency)),
        (false, true) => format!("at most {}", figure(hi, unit, currency)),
        (false, false) => "not known".to_owned(),
    }
}

fn put_figure(out: &mut String, n: f64, unit: &str, currency: &str) {
    if !n.is_finite() || unit == "money" && n.abs() > MONEY_MAX {
        return out.push_str("out of range");
    }
    if unit == "money" {
        put_money(out, n, currency);
        return out.extend([" ", currency]);
    }
    if unit.starts_with("of ") || unit == "%" {
        put_rounded(out, if unit == "%" { n } else { n * 100.0 });
        return out.push_str(" %");
    }
    let from = out.len();
    put_rounded(out, n);
    let unit = counted(out.get(from..).unwrap_or_default(), unit);
    if unit.is_empty() {
        return;
    }
    out.push(' ');
    // `money/GB` is written in the build's own currency.
    match unit.split_once("money") {
        Some((before, after)) => out.extend([before, currency, after]),
        None => out.push_str(unit),
    }
}

/// Writing into a text cannot fail.
macro_rules! put {
    ($out:expr, $($what:tt)*) => {{ let _ = write!($out, $($what)*); }};
}

/// As many digits behind the point as the currency has: two for most, none for yen. Sums of money
/// are whole in the smallest coin, and whole numbers are far cheaper to write than fractions.
fn put_money(out: &mut String, n: f64, currency: &str) {
    let digits = crate::trade::money::digits(currency);
    let hundredths = (n * 100.0).round();
    if digits == 2 && hundredths / 100.0 == n && (0.0..1e15).contains(&hundredths) {
        let whole = hundredths as u64;
        put!(out, "{}.{:02}", whole / 100, whole % 100);
    } else {
        put!(out, "{n:.digits$}");
    }
}

/// Units that are words are written in the plural: `3 ports`, and `1 port`.
pub(crate) fn counted<'u>(number: &str, unit: &'u str) -> &'u str {
    let word = unit.len() > 3 && unit.bytes().all(|b| b.is_ascii_lowercase());
    unit.strip_suffix('s')
        .filter(|_| word && number.trim_start_matches(['+', '-']) == "1")
        .unwrap_or(unit)
}

/// Three figures or so: nobody builds to a tenth of a watt.
fn put_rounded(out: &mut String, n: f64) {
    // Whole numbers are the most of what is shown, and to write one as such is the cheapest.
    if n.fract() == 0.0 && n.abs() < 1e15 {
        put!(out, "{}", n as i64);
        return;
    }
    let digits = match n.abs() {
        a if a >= 100.0 => 0,
        a if a >= 10.0 => 1,
        a if a >= 1.0 => 2,
        a if a >= 0.01 => 3,
        _ => 5,
    };
    let from = out.len();
    put!(out, "{n:.digits$}");
    if digits > 0 {
        let kept = out
            .get(from..)
            .map_or(0, |text| text.trim_end_matches('0').trim_end_matches('.').len());
        out.truncate(from + kept);
    }
    if out.get(from..) == Some("-0") {
        out.replace_range(from.., "0");
    }
}

/// The value of an expression in words.
pub fn value(view: View<'_>, names: &dyn Names, id: ExprId, forced: Option<&str>) -> String {
    let mut out = String::new();
    put_value(&mut out, view, names, id, forced);
    out
}

/// The same, put behind what stands there.
pub(crate) fn put_value(
    out: &mut String,
    view: View<'_>,
    names: &dyn Names,
    id: ExprId,
    forced: Option<&str>,
) {
    match view.see(id) {
        Err(Lack::Open(..)) => out.push_str("not chosen yet"),
        Err(Lack::Fact(_)) => {
            let span = crate::audit::explore::possible_span(view, id);
            match forced.unwrap_or_else(|| unit(view, names, id)) {
                _ if span.is_none() => out.push_str("unknown"),
                unit => {
                    let (lo, hi) = span.unwrap_or_default();
                    out.push_str(&range(lo, hi, unit, &view.build.build.currency));
                }
            }
        }
        Ok(Seen::Num(n)) => put_figure(
            out,
            n,
            forced.unwrap_or_else(|| unit(view, names, id)),
            &view.build.build.currency,
        ),
        Ok(Seen::Text(text)) => out.push_str(text),
        Ok(seen) => out.push_str(&seen.keep().show()),
    }
}

/// The expression itself in words, for `why`.
pub fn expression(view: View<'_>, names: &dyn Names, id: ExprId) -> String {
    let of = |id: ExprId| expression(view, names, id);
    match view.pool.get(id) {
        Expr::Const(bits) => f64::from_bits(*bits).to_string(),
        Expr::Word(text) => format!("\"{text}\""),
        Expr::Measure(at, _) => {
            names.measure(*at).map_or_else(String::new, |(id, _)| id.to_owned())
        }
        Expr::Bin(op @ (Op::Min | Op::Max), a, b) => {
            format!("{}({}, {})", op.sign(), of(*a), of(*b))
        }
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
#[path = "../../tests/unit/audit/wording.rs"]
mod tests;
