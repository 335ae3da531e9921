//! Expressions over one part: wants of open lines, filters and sort keys of lists. A bare name is a
//! field of the part.

use std::rc::Rc;

use rhai::{Array, Dynamic, Scope};

use crate::audit::expr::{Expr, ExprId, LineWord, Op};
use crate::build::resolve::Resolved;
use crate::catalogue::kinds::{FieldType, Kind, KindId};
use crate::catalogue::value::Val;
use crate::kit::Kit;
use crate::kit::expression::Expression;
use crate::rules::host::Host;
use crate::rules::line_names::{LineProperty, line_names};
use crate::rules::tokens::bare_names;
use crate::rules::tracked::{BuildRef, Counts, LineRef, List, Num, RecordRef, Text, type_words};
use crate::source::{Problem, Span};

/// An expression ready to be worked out for any part of a kind.
pub struct CompiledFilter {
    expression: Expression,
    kind: KindId,
    names: Vec<Named>,
    /// Whether it says itself what to take for what a part leaves out.
    handles_absent: bool,
}

/// What a bare name stands for.
struct Named {
    name: String,
    what: What,
}

enum What {
    Field(u16),
    Line(LineWord),
    /// Price of one over the product of these fields.
    Per(Vec<u16>),
}

/// What an expression gave for a part.
#[derive(Debug, Clone, PartialEq)]
pub enum FilterValue {
    /// Yes or no.
    Flag(bool),
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// The part leaves out what it asks for.
    Absent,
}

fn named(kind: &Kind, name: &str) -> Option<What> {
    match LineProperty::by(kind, name) {
        LineProperty::Field { at, .. } => return Some(What::Field(at)),
        LineProperty::Word(word) => return Some(What::Line(word)),
        LineProperty::Kind | LineProperty::Nothing => {}
    }
    let of = name.strip_prefix("per_")?;
    let field = |n: &str| {
        kind.field(n).filter(|(_, f)| matches!(f.ty, FieldType::Number)).map(|(at, _)| at)
    };
    // A kit of memory holds several modules.
    let fields = field(of)
        .map(|at| vec![at])
        .or_else(|| Some(vec![field(&format!("module_{of}"))?, field("modules")?]))?;
    Some(What::Per(fields))
}

impl Kit {
    /// Reads an expression over parts of a kind. `part` is the part's line, `build` the build it is
    /// looked at in.
    #[doc(hidden)]
    pub fn asked(&self, kind: KindId, text: &str) -> Result<CompiledFilter, Box<Problem>> {
        let catalogue = self.catalogue();
        let found = |name: &str| {
            let what = catalogue.kind(kind).and_then(|k| named(k, name))?;
            Some(Named { name: name.to_owned(), what })
        };
        let names: Vec<Named> = bare_names(text).into_iter().filter_map(found).collect();
        let mut scope = Scope::new();
        for name in ["build", "part"].into_iter().chain(names.iter().map(|n| n.name.as_str())) {
            scope.push_dynamic(name, Dynamic::UNIT);
        }
        let expression =
            self.expression(&scope, text, |problem, name| {
                problem.help(
                    "a bare name is a field of the part, or price, stock, sellers, or per_ with a \
                     field that measures, such as per_gb",
                ).suggest(name, catalogue.kind(kind).into_iter().flat_map(line_names))
            })?;
        Ok(CompiledFilter { expression, kind, names, handles_absent: text.contains("??") })
    }

    /// Works an expression out for the part on one line of a build.
    #[doc(hidden)]
    pub fn answer(
        &self,
        asked: &CompiledFilter,
        build: &Rc<Resolved>,
        nth: u16,
    ) -> Result<FilterValue, Box<Problem>> {
        let (host, _) = self.inside();
        self.runner().look_at(build);
        let part = LineRef { kind: asked.kind, nth };
        let mut scope = Scope::new();
        scope.push("build", BuildRef).push("part", part);
        for name in &asked.names {
            let value = value(host, part, &name.what);
            if value.is_unit() && !asked.handles_absent {
                return Ok(FilterValue::Absent);
            }
            scope.push_dynamic(name.name.clone(), value);
        }
        let (value, _frame) = self.run_expression(&asked.expression, &mut scope);
        answered(&value?).map_err(|why| {
            let source = &asked.expression.source;
            let wanted = "and yes or no, a number or a text is wanted";
            Box::new(Problem::new(format!("this gives {why}, {wanted}")).at(
                source,
                Span::new(0, source.text.len()),
                "here",
            ))
        })
    }
}

fn answered(value: &Dynamic) -> Result<FilterValue, String> {
    if value.is_unit() {
        return Ok(FilterValue::Absent);
    }
    if let Some(num) = value.clone().try_cast::<Num>() {
        return Ok(if num.value.is_finite() {
            FilterValue::Number(num.value)
        } else {
            FilterValue::Absent
        });
    }
    if let Some(text) = value.clone().try_cast::<Text>() {
        return Ok(FilterValue::Text(text.value.to_string()));
    }
    match (value.as_bool(), value.as_int(), value.as_float()) {
        (Ok(flag), ..) => Ok(FilterValue::Flag(flag)),
        (_, Ok(n), _) => Ok(FilterValue::Number(n as f64)),
        (_, _, Ok(n)) if n.is_finite() => Ok(FilterValue::Number(n)),
        (_, _, Ok(_)) => Ok(FilterValue::Absent),
        _ if value.is_string() => Ok(FilterValue::Text(value.to_string())),
        _ => Err(type_words(value.type_name()).to_owned()),
    }
}

fn value(host: &Rc<Host>, part: LineRef, what: &What) -> Dynamic {
    let field = |at: u16| host.expr(Expr::Field(part.kind, part.nth, at));
    let id = match what {
        What::Field(at) => field(*at),
        What::Line(word) => host.expr(Expr::Line(part.kind, part.nth, *word)),
        What::Per(fields) => {
            let price = host.expr(Expr::Line(part.kind, part.nth, LineWord::Price));
            if matches!(host.look(price), Ok(Val::Absent) | Err(_)) {
                return Dynamic::UNIT;
            }
            let Some(whole) = fields
                .iter()
                .map(|at| field(*at))
                .reduce(|a, b| host.expr(Expr::Bin(Op::Mul, a, b)))
            else {
                return Dynamic::UNIT;
            };
            let id = host.expr(Expr::Bin(Op::Div, price, whole));
            return number(host, id);
        }
    };
    match host.look(id) {
        Ok(Val::Num(value)) => Dynamic::from(Num { id, value }),
        Ok(Val::Text(value)) => Dynamic::from(Text { id, value }),
        Ok(Val::Flag(flag)) => Dynamic::from(flag),
        Ok(Val::List(_)) => Dynamic::from(List { id, host: host.clone() }),
        Ok(Val::Counts(_)) => Dynamic::from(Counts { id }),
        Ok(Val::Records(records)) => {
            let What::Field(field) = *what else { return Dynamic::UNIT };
            let entries = (0u16..).zip(records.iter());
            let entry = |(index, _)| Dynamic::from(RecordRef { line: part, field, index });
            entries.map(entry).collect::<Array>().into()
        }
        _ => Dynamic::UNIT,
    }
}

fn number(host: &Rc<Host>, id: ExprId) -> Dynamic {
    match host.number(id) {
        Ok(value) if value.is_finite() => Dynamic::from(Num { id, value }),
        _ => Dynamic::UNIT,
    }
}
