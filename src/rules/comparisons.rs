//! Comparisons: numbers and texts are put to the build, plain values are compared as they are, and
//! unlike things are an error where plain Rhai would answer with a silent `false`.

use std::any::TypeId;
use std::cmp::Ordering;
use std::ops::{Range, RangeInclusive};

use rhai::{Array, Dynamic, FLOAT, FnPtr, INT, ImmutableString, Map};

use crate::audit::ask::Ask;
use crate::rules::host::{Call, Host, Res, say_help};
use crate::rules::number_words::no_result;
use crate::rules::tracked::{Counts, LineRef, List, Num, RecordRef, Text};
use crate::rules::word_table::Registrar;

/// One of the six comparisons.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Comparison {
    Less,
    LessEqual,
    Greater,
    GreaterEqual,
    Equal,
    NotEqual,
}

/// How each is written.
pub(crate) const COMPARISONS: &[(&str, Comparison)] = &[
    ("<", Comparison::Less),
    ("<=", Comparison::LessEqual),
    (">", Comparison::Greater),
    (">=", Comparison::GreaterEqual),
    ("==", Comparison::Equal),
    ("!=", Comparison::NotEqual),
];

impl Comparison {
    fn is_equality(self) -> bool {
        matches!(self, Self::Equal | Self::NotEqual)
    }

    /// What it answers for two plain values in this order.
    fn holds(self, order: Ordering) -> bool {
        match self {
            Self::Less => order.is_lt(),
            Self::LessEqual => order.is_le(),
            Self::Greater => order.is_gt(),
            Self::GreaterEqual => order.is_ge(),
            Self::Equal => order.is_eq(),
            Self::NotEqual => order.is_ne(),
        }
    }
}

/// What a value is as far as comparing goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Absent,
    Number,
    Text,
    Flag,
    Letter,
    /// Anything else; absent or not is all that can be asked of it here.
    Other,
}

impl Sort {
    fn of(value: &Dynamic) -> Self {
        let id = value.type_id();
        if value.is_unit() {
            Self::Absent
        } else if value.is_int() || value.is_float() || id == TypeId::of::<Num>() {
            Self::Number
        } else if value.is_string() || id == TypeId::of::<Text>() {
            Self::Text
        } else if value.is_bool() {
            Self::Flag
        } else if value.is_char() {
            Self::Letter
        } else {
            Self::Other
        }
    }
}

/// Puts the comparisons into an engine that have no exact form of their own: those of numbers,
/// texts, lines, records, arrays and maps stand beside these and come first.
pub(crate) fn register(reg: &mut Registrar<'_>) {
    pair(reg, TypeId::of::<Dynamic>(), TypeId::of::<Dynamic>());
    // What stands in a script as it is would be compared when the script is read, by the engine's
    // own comparisons, were there none of just these sorts.
    let plain = [
        TypeId::of::<INT>(),
        TypeId::of::<FLOAT>(),
        TypeId::of::<ImmutableString>(),
        TypeId::of::<bool>(),
        TypeId::of::<char>(),
        TypeId::of::<()>(),
        TypeId::of::<Array>(),
        TypeId::of::<Map>(),
        TypeId::of::<FnPtr>(),
        TypeId::of::<Range<INT>>(),
        TypeId::of::<RangeInclusive<INT>>(),
    ];
    for a in plain {
        for b in plain {
            if a != b || a == TypeId::of::<bool>() || a == TypeId::of::<FLOAT>() {
                pair(reg, a, b);
            }
        }
    }
    for (sign, same) in [("==", true), ("!=", false)] {
        let host = reg.host.clone();
        let compare = move |ctx: Call<'_>, a: &mut Array, b: Array| -> Res<bool> {
            Ok(host.same_arrays(&ctx, sign, a, &b)? == same)
        };
        reg.engine.register_fn(sign, compare);
    }
}

fn pair(reg: &mut Registrar<'_>, a: TypeId, b: TypeId) {
    for (sign, op) in COMPARISONS {
        let (sign, op, host) = (*sign, *op, reg.host.clone());
        reg.engine.register_raw_fn(
            sign,
            [a, b],
            move |ctx: Call<'_>, args: &mut [&mut Dynamic]| -> Res<bool> {
                match args {
                    [a, b] => host.compare_any(&ctx, sign, op, a, b),
                    _ => say_help(format!("`{sign}` stands between two values"), "give it two"),
                }
            },
        );
    }
}

impl Host {
    /// Compares two numbers of the build, and records the answer.
    pub(crate) fn compare(&self, ctx: &Call<'_>, op: Comparison, a: Num, b: Num) -> Res<bool> {
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

    pub(crate) fn compare_any(
        &self,
        ctx: &Call<'_>,
        sign: &str,
        op: Comparison,
        a: &Dynamic,
        b: &Dynamic,
    ) -> Res<bool> {
        let (left, right) = (Sort::of(a), Sort::of(b));
        let order = match (left, right) {
            (Sort::Absent, Sort::Absent) if op.is_equality() => Some(Ordering::Equal),
            // `x == ()` asks whether something is there; `() == 5` is an absence slipping by.
            (_, Sort::Absent) if op.is_equality() => Some(Ordering::Less),
            (Sort::Absent, Sort::Flag | Sort::Letter | Sort::Other) if op.is_equality() => {
                Some(Ordering::Less)
            }
            (Sort::Number, Sort::Number) => {
                if a.type_id() == TypeId::of::<Num>() || b.type_id() == TypeId::of::<Num>() {
                    let (Some(a), Some(b)) = (self.as_num(a), self.as_num(b)) else {
                        return self.refuse(sign, a, b);
                    };
                    return self.compare(ctx, op, a, b);
                }
                match (a.as_int(), b.as_int()) {
                    (Ok(a), Ok(b)) => Some(a.cmp(&b)),
                    _ => return plain_numbers(op, a, b),
                }
            }
            (Sort::Text, Sort::Text) => {
                let plain = |v: &Dynamic| v.clone().try_cast::<ImmutableString>();
                match (plain(a), plain(b)) {
                    (Some(a), Some(b)) => Some(a.cmp(&b)),
                    _ if op.is_equality() => return self.refuse(sign, a, b),
                    _ => return say_help("texts have no order", "use == or != for texts"),
                }
            }
            (Sort::Flag, Sort::Flag) if op.is_equality() => Some(a.as_bool().cmp(&b.as_bool())),
            (Sort::Letter, Sort::Letter) => Some(a.as_char().cmp(&b.as_char())),
            _ => None,
        };
        order.map_or_else(|| self.refuse(sign, a, b), |order| Ok(op.holds(order)))
    }

    /// Whether two arrays hold the same in the same order. Unlike things in one place are an error
    /// however long the arrays are, so that no length hides them.
    fn same_arrays(&self, ctx: &Call<'_>, sign: &str, a: &[Dynamic], b: &[Dynamic]) -> Res<bool> {
        for (a, b) in a.iter().zip(b) {
            let (left, right) = (Sort::of(a), Sort::of(b));
            if left != right && left != Sort::Absent && right != Sort::Absent {
                return self.refuse(sign, a, b);
            }
        }
        if a.len() != b.len() {
            return Ok(false);
        }
        for (a, b) in a.iter().zip(b) {
            let (mut a, mut b) = (a.clone(), b.clone());
            let same = ctx.call_native_fn_raw("==", true, &mut [&mut a, &mut b])?;
            if !same.as_bool().unwrap_or(false) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn refuse(&self, sign: &str, a: &Dynamic, b: &Dynamic) -> Res<bool> {
        let between = format!("`{sign}` between {} and {}", self.describe(a), self.describe(b));
        if a.is_unit() || b.is_unit() {
            return say_help(
                between,
                "something is not there: give a value for that case with `?? …`, or test `has` \
                 first",
            );
        }
        let id = a.type_id();
        let asked_of_parts = [TypeId::of::<List>(), TypeId::of::<Counts>()];
        let handles = [TypeId::of::<LineRef>(), TypeId::of::<RecordRef>()];
        say_help(
            between,
            if id != b.type_id() {
                "compare like with like"
            } else if asked_of_parts.contains(&id) {
                "ask for a single word: `\"word\" in list`, `counts[\"word\"]`"
            } else if handles.contains(&id) {
                "lines and records have no order: compare one of their fields"
            } else {
                "these have no order and are never the same: compare what is in them"
            },
        )
    }
}

fn plain_numbers(op: Comparison, a: &Dynamic, b: &Dynamic) -> Res<bool> {
    let plain =
        |v: &Dynamic| v.as_float().or_else(|_| v.as_int().map(|n| n as f64)).unwrap_or(f64::NAN);
    let (a, b) = (plain(a), plain(b));
    match a.partial_cmp(&b).filter(|_| a.is_finite() && b.is_finite()) {
        Some(order) => Ok(op.holds(order)),
        None => no_result(),
    }
}
