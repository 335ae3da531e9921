//! Words for tracked numbers: arithmetic builds expressions, comparisons are put to the build.

use std::any::TypeId;

use rhai::{Dynamic, FLOAT, INT, ImmutableString};

use crate::audit::ask::Ask;
use crate::audit::eval::View;
use crate::audit::expr::{Expr, ExprId, Op, UnOp};
use crate::audit::functions::FUNCTIONS;
use crate::audit::{place, wording};
use crate::rules::comparisons::{self, COMPARISONS};
use crate::rules::host::{Call, Host, Res, say, say_help};
use crate::rules::tracked::{Num, Text, type_words};
use crate::rules::word_table::{AS_TEXT, Registrar};

/// What a script may write where a number is wanted.
trait Numeric: Copy + 'static {
    fn num(self, host: &Host) -> Num;
}

impl Numeric for Num {
    fn num(self, _: &Host) -> Num {
        self
    }
}

impl Numeric for INT {
    fn num(self, host: &Host) -> Num {
        (self as FLOAT).num(host)
    }
}

impl Numeric for FLOAT {
    fn num(self, host: &Host) -> Num {
        Num { id: host.state.borrow_mut().pool.number(self), value: self }
    }
}

impl Host {
    /// A tracked number out of any number of a script's.
    pub fn as_num(&self, value: &Dynamic) -> Option<Num> {
        if let Some(num) = value.read_lock::<Num>() {
            return Some(*num);
        }
        value
            .as_float()
            .ok()
            .or_else(|| value.as_int().ok().map(|n| n as FLOAT))
            .map(|n| n.num(self))
    }

    /// The id of an expression over others, which may not be too long to walk over.
    pub(crate) fn compound(&self, expr: Expr) -> Res<ExprId> {
        let id = self.expr(expr);
        if self.state.borrow().pool.too_long(id) {
            return say_help(
                "this is worked out over too many steps",
                "let the host add up: build.sum(\"field\") or build.count(\"kind\")",
            );
        }
        Ok(id)
    }

    /// A number that an expression gives, with the question whether it is finite where it might not
    /// be.
    pub fn made(&self, ctx: &Call<'_>, expr: Expr, can_fail: bool) -> Res<Num> {
        let id = self.compound(expr)?;
        let mut value = self.number(id)?;
        if !value.is_finite() && self.is_exploring() && self.rests_on_undecided(id) {
            // What it comes to is not known, and the question below says whether it is anything.
            value = 1.0;
        }
        let value = checked(value)?;
        if can_fail {
            self.is(ctx, Ask::Present(id))?;
        }
        Ok(Num { id, value })
    }

    /// What a value is in trade words: `a number in W (supply.rated_w)`.
    pub(crate) fn describe(&self, value: &Dynamic) -> String {
        let words = type_words(value.type_name()).to_owned();
        let id = value
            .clone()
            .try_cast::<Num>()
            .map(|n| n.id)
            .or_else(|| value.clone().try_cast::<Text>().map(|t| t.id));
        let state = self.state.borrow();
        let (Some(id), Some(build)) = (id, &state.build) else { return words };
        let view = View { pool: &state.pool, settings: &state.settings, build };
        let rules = self.rules.borrow();
        let (unit, name) = (wording::unit(view, &**rules, id), place::name(view, id));
        let of = if unit.is_empty() { String::new() } else { format!(" in {unit}") };
        if name.is_empty() { format!("{words}{of}") } else { format!("{words}{of} ({name})") }
    }

    fn binary(&self, ctx: &Call<'_>, op: Op, a: Num, b: Num) -> Res<Num> {
        self.made(ctx, Expr::Bin(op, a.id, b.id), op.can_fail())
    }
}

/// Largest whole number that a figure holds exactly, 2^53.
const WHOLE_MAX: FLOAT = 9_007_199_254_740_992.0;

/// An operator and a function of plain decimals, each with its name.
type Operator = (&'static str, fn(FLOAT, FLOAT) -> FLOAT);
type OfOne = (&'static str, fn(FLOAT) -> FLOAT);

/// A result that is a number, or an error.
fn checked(value: FLOAT) -> Res<FLOAT> {
    if value.is_finite() {
        return Ok(value);
    }
    say_help(
        "this has no finite result",
        "test for zero before dividing, and for a negative number before taking a root",
    )
}

/// Arithmetic of plain decimals, each result checked as those of the build's figures are.
fn plain(reg: &mut Registrar<'_>) {
    let operators: [Operator; 6] = [
        ("+", |a, b| a + b),
        ("-", |a, b| a - b),
        ("*", |a, b| a * b),
        ("/", |a, b| a / b),
        ("%", |a, b| a % b),
        ("**", FLOAT::powf),
    ];
    for (name, run) in operators {
        let engine = &mut reg.engine;
        engine.register_fn(name, move |a: FLOAT, b: FLOAT| checked(run(a, b)));
        engine.register_fn(name, move |a: FLOAT, b: INT| checked(run(a, b as FLOAT)));
        engine.register_fn(name, move |a: INT, b: FLOAT| checked(run(a as FLOAT, b)));
    }
    let functions: [OfOne; 14] = [
        ("sqrt", FLOAT::sqrt),
        ("exp", FLOAT::exp),
        ("ln", FLOAT::ln),
        ("log", FLOAT::log10),
        ("sin", FLOAT::sin),
        ("cos", FLOAT::cos),
        ("tan", FLOAT::tan),
        ("asin", FLOAT::asin),
        ("acos", FLOAT::acos),
        ("sinh", FLOAT::sinh),
        ("cosh", FLOAT::cosh),
        ("asinh", FLOAT::asinh),
        ("acosh", FLOAT::acosh),
        ("atanh", FLOAT::atanh),
    ];
    for (name, run) in functions {
        reg.engine.register_fn(name, move |a: FLOAT| checked(run(a)));
    }
    reg.engine.register_fn("log", |a: FLOAT, base: FLOAT| checked(a.log(base)));
}

const OPERATORS: &[(&str, Op)] = &[
    ("+", Op::Add),
    ("-", Op::Sub),
    ("*", Op::Mul),
    ("/", Op::Div),
    ("%", Op::Rem),
    ("**", Op::Pow),
    ("min", Op::Min),
    ("max", Op::Max),
];

/// A figure of the script's own may be none, as `0.0 % 0.0` is, where one of the catalogue never
/// is: `max` would hide it from a run and not from a search.
fn finite(num: Num) -> Res<Num> {
    if num.value.is_finite() { Ok(num) } else { no_result() }
}

/// A plain number that is none, or is without end, would compare as a silent no.
pub(crate) fn no_result<T>() -> Res<T> {
    say_help(
        "this has no finite result",
        "a number here came of a division by zero: test for it before",
    )
}

fn pair<A: Numeric + Clone + Send + Sync, B: Numeric + Clone + Send + Sync>(
    reg: &mut Registrar<'_>,
) {
    for (name, op) in OPERATORS {
        let (host, op) = (reg.host.clone(), *op);
        reg.engine.register_fn(*name, move |ctx: Call<'_>, a: A, b: B| -> Res<Num> {
            host.binary(&ctx, op, finite(a.num(&host))?, finite(b.num(&host))?)
        });
    }
    for (name, op) in COMPARISONS {
        let (host, op) = (reg.host.clone(), *op);
        reg.engine.register_fn(*name, move |ctx: Call<'_>, a: A, b: B| -> Res<bool> {
            host.compare(&ctx, op, finite(a.num(&host))?, finite(b.num(&host))?)
        });
    }
}

/// Puts the words for numbers into an engine.
pub(crate) fn register(reg: &mut Registrar<'_>) {
    reg.subject = "Numbers";
    reg.engine.register_type_with_name::<Num>("a number");
    reg.word(
        "+ - * / % **",
        "arithmetic; figures of the catalogue are decimals, so 7 / 2 of \
     theirs is 3.5, while 7 / 2 of whole numbers in a script is 3",
    );
    reg.word(
        "< <= > >= == !=",
        "comparison of two numbers; a number against a text, yes/no or something absent is an \
         error",
    );
    reg.word("min(a, b), max(a, b)", "the lesser, the greater");
    pair::<Num, Num>(reg);
    pair::<Num, INT>(reg);
    pair::<INT, Num>(reg);
    pair::<Num, FLOAT>(reg);
    pair::<FLOAT, Num>(reg);
    plain(reg);
    unary(reg);
    by_value(reg);
    functions(reg);
    comparisons::register(reg);
}

fn unary(reg: &mut Registrar<'_>) {
    reg.word("abs(x) floor(x) ceil(x) round(x) sqrt(x) -x", "of one number");
    for (name, op) in [
        ("-", UnOp::Neg),
        ("abs", UnOp::Abs),
        ("floor", UnOp::Floor),
        ("ceil", UnOp::Ceil),
        ("ceiling", UnOp::Ceil),
        ("round", UnOp::Round),
        ("sqrt", UnOp::Sqrt),
    ] {
        reg.one(name, move |host, ctx, a: Num| {
            host.made(ctx, Expr::Un(op, a.id), op == UnOp::Sqrt)
        });
    }
    reg.engine.register_fn("+", |a: Num| a);
}

fn by_value(reg: &mut Registrar<'_>) {
    reg.word(
        "x.to_int(), x.to_float()",
        "the plain number, read by its value: for ranges and indexes",
    );
    reg.one("to_int", |host, ctx, a: Num| {
        host.ask(ctx, Ask::Value(a.id))?;
        if a.value.abs() <= WHOLE_MAX {
            return Ok(a.value as INT);
        }
        say_help(
            "this is too large for a whole number",
            "use the number as it is, or to_float() for a plain one",
        )
    });
    reg.one("to_float", |host, ctx, a: Num| {
        host.ask(ctx, Ask::Value(a.id))?;
        Ok(a.value)
    });
    reg.text(AS_TEXT, |host, ctx, a: &mut Num| {
        host.ask(ctx, Ask::Value(a.id))?;
        Ok(crate::audit::wording::figure(a.value, "", "").into())
    });
}

fn functions(reg: &mut Registrar<'_>) {
    reg.subject = "Arithmetic of the trade";
    for (function, at) in FUNCTIONS.iter().zip(0u16..) {
        let unit =
            if function.unit.is_empty() { String::new() } else { format!(" ({})", function.unit) };
        reg.word(
            &format!("{}({})", function.name, function.args.join(", ")),
            &format!("{}{unit}", function.meaning),
        );
        let types: Vec<TypeId> = function.args.iter().map(|_| TypeId::of::<Dynamic>()).collect();
        let (host, name, count) = (reg.host.clone(), function.name, function.args.len());
        reg.engine.register_raw_fn(
            name,
            types,
            move |ctx: Call<'_>, args: &mut [&mut Dynamic]| -> Res<Num> {
                let mut ids: Vec<ExprId> = Vec::with_capacity(count);
                for arg in args.iter() {
                    match host.as_num(arg) {
                        Some(num) => ids.push(finite(num)?.id),
                        None => {
                            return say(format!(
                                "`{name}` takes numbers, and this is {}",
                                type_words(arg.type_name())
                            ));
                        }
                    }
                }
                let id = host.compound(Expr::Func(at, ids.into()))?;
                let value = host.number(id)?;
                if !value.is_finite() && !host.rests_on_undecided(id) {
                    return say(format!("`{name}` has no result for these figures"));
                }
                host.is(&ctx, Ask::Present(id))?;
                Ok(Num { id, value })
            },
        );
    }
}

/// Puts the words for plain values that need care into an engine.
pub(crate) fn guard(reg: &mut Registrar<'_>) {
    reg.engine.register_fn("contains", |_: ImmutableString, _: ImmutableString| -> Res<bool> {
        say_help(
            "`in` between two texts looks for a piece of one in the other",
            "for a list of words, write the list: [\"a\", \"b\"]",
        )
    });
}
