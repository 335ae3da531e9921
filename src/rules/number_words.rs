//! Words for tracked numbers: arithmetic builds expressions, comparisons are put to the build.

use std::any::TypeId;
use std::rc::Rc;

use rhai::{Dynamic, FLOAT, INT, ImmutableString, NativeCallContext};

use crate::audit::ask::Ask;
use crate::audit::eval::View;
use crate::audit::expr::{Expr, ExprId, Op, UnOp};
use crate::audit::functions::FUNCTIONS;
use crate::audit::{place, wording};
use crate::rules::host::{Host, Res, say, say_help};
use crate::rules::tracked::{Counts, LineRef, List, Num, RecordRef, Text, type_words};
use crate::rules::word_table::Registrar;

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

    /// A number that an expression gives, with the question whether it is finite where it might not
    /// be.
    pub fn made(&self, ctx: &NativeCallContext<'_>, expr: Expr, can_fail: bool) -> Res<Num> {
        let id = self.expr(expr);
        if self.state.borrow().pool.too_long(id) {
            return say_help(
                "this number is reckoned over too many steps",
                "let the host add up: build.sum(\"field\") or build.count(\"kind\")",
            );
        }
        let mut value = self.number(id)?;
        if !value.is_finite() && self.is_exploring() && self.rests_on_undecided(id) {
            // What it comes to is not known, and the question below says whether it is anything.
            value = 1.0;
        }
        if !value.is_finite() {
            return say_help(
                "this has no finite result",
                "test for zero before dividing, and for a negative number before taking a root",
            );
        }
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

    fn binary(&self, ctx: &NativeCallContext<'_>, op: Op, a: Num, b: Num) -> Res<Num> {
        self.made(ctx, Expr::Bin(op, a.id, b.id), op.can_fail())
    }

    fn compare(&self, ctx: &NativeCallContext<'_>, op: Comparison, a: Num, b: Num) -> Res<bool> {
        let (a, b) = (a.id, b.id);
        match op {
            Comparison::Less => self.is(ctx, Ask::Less(a, b)),
            Comparison::LessEqual => self.is(ctx, Ask::LessEqual(a, b)),
            Comparison::Greater => self.is(ctx, Ask::Less(b, a)),
            Comparison::GreaterEqual => self.is(ctx, Ask::LessEqual(b, a)),
            Comparison::Equal => self.is(ctx, Ask::Equal(a, b)),
            Comparison::NotEqual => self.is(ctx, Ask::Equal(a, b)).map(|same| !same),
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Comparison {
    Less,
    LessEqual,
    Greater,
    GreaterEqual,
    Equal,
    NotEqual,
}

pub(crate) const COMPARISONS: &[(&str, Comparison)] = &[
    ("<", Comparison::Less),
    ("<=", Comparison::LessEqual),
    (">", Comparison::Greater),
    (">=", Comparison::GreaterEqual),
    ("==", Comparison::Equal),
    ("!=", Comparison::NotEqual),
];

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
    if num.value.is_finite() {
        Ok(num)
    } else {
        say_help(
            "this has no finite result",
            "a number here came of a division by zero: test for it before",
        )
    }
}

fn pair<A: Numeric + Clone + Send + Sync, B: Numeric + Clone + Send + Sync>(
    reg: &mut Registrar<'_>,
) {
    for (name, op) in OPERATORS {
        let (host, op) = (reg.host.clone(), *op);
        reg.engine.register_fn(*name, move |ctx: NativeCallContext<'_>, a: A, b: B| -> Res<Num> {
            host.binary(&ctx, op, finite(a.num(&host))?, finite(b.num(&host))?)
        });
    }
    for (name, op) in COMPARISONS {
        let (host, op) = (reg.host.clone(), *op);
        reg.engine.register_fn(*name, move |ctx: NativeCallContext<'_>, a: A, b: B| -> Res<bool> {
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
    reg.word("< <= > >= == !=", "comparison of two numbers; a number against a text, yes/no or something absent is an error");
    reg.word("min(a, b), max(a, b)", "the lesser, the greater");
    pair::<Num, Num>(reg);
    pair::<Num, INT>(reg);
    pair::<INT, Num>(reg);
    pair::<Num, FLOAT>(reg);
    pair::<FLOAT, Num>(reg);
    unary(reg);
    by_value(reg);
    functions(reg);
    mixed(reg);
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
        let host = reg.host.clone();
        reg.engine.register_fn(name, move |ctx: NativeCallContext<'_>, a: Num| -> Res<Num> {
            host.made(&ctx, Expr::Un(op, a.id), op == UnOp::Sqrt)
        });
    }
    reg.engine.register_fn("+", |a: Num| a);
}

fn by_value(reg: &mut Registrar<'_>) {
    reg.word(
        "x.to_int(), x.to_float()",
        "the plain number, read by its value: for ranges and indexes",
    );
    let host = reg.host.clone();
    reg.engine.register_fn("to_int", move |ctx: NativeCallContext<'_>, a: Num| -> Res<INT> {
        host.ask(&ctx, Ask::Value(a.id))?;
        Ok(a.value as INT)
    });
    let host = reg.host.clone();
    reg.engine.register_fn("to_float", move |ctx: NativeCallContext<'_>, a: Num| -> Res<FLOAT> {
        host.ask(&ctx, Ask::Value(a.id))?;
        Ok(a.value)
    });
    for name in ["to_string", "to_debug"] {
        let host = reg.host.clone();
        reg.engine.register_fn(
            name,
            move |ctx: NativeCallContext<'_>, a: &mut Num| -> Res<ImmutableString> {
                host.ask(&ctx, Ask::Value(a.id))?;
                Ok(crate::audit::wording::figure(a.value, "", "").into())
            },
        );
    }
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
            move |ctx: NativeCallContext<'_>, args: &mut [&mut Dynamic]| -> Res<Num> {
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
                let id = host.expr(Expr::Func(at, ids.into()));
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

/// Refuses comparisons that plain Rhai would answer with a silent `false`.
fn mixed(reg: &mut Registrar<'_>) {
    let numbers = [TypeId::of::<Num>(), TypeId::of::<INT>(), TypeId::of::<FLOAT>()];
    let texts = [TypeId::of::<Text>(), TypeId::of::<ImmutableString>()];
    let others = [
        TypeId::of::<bool>(),
        TypeId::of::<List>(),
        TypeId::of::<Counts>(),
        TypeId::of::<LineRef>(),
        TypeId::of::<RecordRef>(),
    ];
    let nothing = TypeId::of::<()>();
    let groups: [&[TypeId]; 3] = [&numbers, &texts, &others];
    for (i, left) in groups.iter().enumerate() {
        for (j, right) in groups.iter().enumerate() {
            for (a, x) in left.iter().enumerate() {
                for (b, y) in right.iter().enumerate() {
                    if i != j || (i == 2 && a != b) {
                        refuse(reg, *x, *y, true);
                    }
                }
            }
        }
        for x in left.iter() {
            // `x == ()` asks whether something is there; `() == 5` and `() > 5` are an absence
            // slipping by.
            refuse(reg, nothing, *x, i != 2);
            refuse(reg, *x, nothing, false);
        }
    }
}

fn refuse(reg: &mut Registrar<'_>, x: TypeId, y: TypeId, equality_too: bool) {
    for (name, op) in COMPARISONS {
        let equality = matches!(op, Comparison::Equal | Comparison::NotEqual);
        if equality && !equality_too {
            let answer = *op == Comparison::NotEqual;
            reg.engine.register_raw_fn(
                *name,
                [x, y],
                move |_: NativeCallContext<'_>, _: &mut [&mut Dynamic]| -> Res<bool> { Ok(answer) },
            );
            continue;
        }
        let (sign, host) = (*name, reg.host.clone());
        reg.engine.register_raw_fn(
            sign,
            [x, y],
            move |_: NativeCallContext<'_>, args: &mut [&mut Dynamic]| -> Res<bool> {
                let words: Vec<String> = args.iter().map(|a| host.describe(a)).collect();
                let between = format!("`{sign}` between {}", words.join(" and "));
                if words.iter().any(|w| w == "absent") {
                    return say_help(
                        between,
                        "something is not there: give a value for that case with \
                 `?? …`, or test `has` first",
                    );
                }
                say_help(between, "compare like with like")
            },
        );
    }
}

/// Puts the words for plain values that need care into an engine.
pub(crate) fn guard(reg: &mut Registrar<'_>) {
    let host: Rc<Host> = reg.host.clone();
    drop(host);
    reg.engine.register_fn("contains", |_: ImmutableString, _: ImmutableString| -> Res<bool> {
        say_help(
            "`in` between two texts looks for a piece of one in the other",
            "for a list of words, write the list: [\"a\", \"b\"]",
        )
    });
}
