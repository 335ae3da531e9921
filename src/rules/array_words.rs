//! What arrays and maps of a script's own do with a function they are given, and how they are put
//! in order: as in plain Rhai, but an error in such a function, or an answer that is neither yes
//! nor no, is an error there and never a silent no.

use std::cmp::Ordering;
use std::rc::Rc;

use rhai::{Array, Dynamic, FnPtr, INT, Map};

use crate::rules::comparisons::Comparison;
use crate::rules::host::{Call, Host, Res, say_help};
use crate::rules::tracked::type_words;
use crate::rules::word_table::Registrar;

/// Puts them into an engine, over those of its packages.
pub(crate) fn register(reg: &mut Registrar<'_>) {
    searches(reg);
    sieves(reg);
    orders(reg);
}

fn searches(reg: &mut Registrar<'_>) {
    reg.engine.register_fn("some", |ctx: Call<'_>, array: &mut Array, f: FnPtr| -> Res<bool> {
        Ok(first(&ctx, "some", array, &f, 0, true)?.is_some())
    });
    reg.engine.register_fn("all", |ctx: Call<'_>, array: &mut Array, f: FnPtr| -> Res<bool> {
        Ok(first(&ctx, "all", array, &f, 0, false)?.is_none())
    });
    let find = |ctx: &Call<'_>, array: &mut Array, f: &FnPtr, from: INT| -> Res<Dynamic> {
        let at = first(ctx, "find", array, f, from, true)?;
        Ok(at.and_then(|at| array.get(at).cloned()).unwrap_or_default())
    };
    reg.engine.register_fn("find", move |ctx: Call<'_>, array: &mut Array, f: FnPtr| {
        find(&ctx, array, &f, 0)
    });
    reg.engine.register_fn("find", move |ctx: Call<'_>, array: &mut Array, f: FnPtr, from: INT| {
        find(&ctx, array, &f, from)
    });
    let index = |ctx: &Call<'_>, array: &mut Array, f: &FnPtr, from: INT| -> Res<INT> {
        let at = first(ctx, "index_of", array, f, from, true)?;
        Ok(at.and_then(|at| INT::try_from(at).ok()).unwrap_or(-1))
    };
    reg.engine.register_fn("index_of", move |ctx: Call<'_>, array: &mut Array, f: FnPtr| {
        index(&ctx, array, &f, 0)
    });
    let from_place =
        move |ctx: Call<'_>, array: &mut Array, f: FnPtr, from: INT| index(&ctx, array, &f, from);
    reg.engine.register_fn("index_of", from_place);
}

fn sieves(reg: &mut Registrar<'_>) {
    let filter = |ctx: Call<'_>, array: &mut Array, f: FnPtr| -> Res<Array> {
        Ok(parted(&ctx, "filter", array.clone(), &f)?.0)
    };
    reg.engine.register_fn("filter", filter);
    for (name, keeps) in [("retain", true), ("drain", false)] {
        let part = move |ctx: Call<'_>, array: &mut Array, f: FnPtr| -> Res<Array> {
            let (yes, no) = parted(&ctx, name, array.clone(), &f)?;
            let (kept, taken) = if keeps { (yes, no) } else { (no, yes) };
            *array = kept;
            Ok(taken)
        };
        reg.engine.register_fn(name, part);
        let part = move |ctx: Call<'_>, map: &mut Map, f: FnPtr| -> Res<Map> {
            let (yes, no) = parted_map(&ctx, name, map.clone(), &f)?;
            let (kept, taken) = if keeps { (yes, no) } else { (no, yes) };
            *map = kept;
            Ok(taken)
        };
        reg.engine.register_fn(name, part);
    }
    let filter = |ctx: Call<'_>, map: &mut Map, f: FnPtr| -> Res<Map> {
        Ok(parted_map(&ctx, "filter", map.clone(), &f)?.0)
    };
    reg.engine.register_fn("filter", filter);
}

fn orders(reg: &mut Registrar<'_>) {
    for (name, sorts, least) in [
        ("sort", true, Ordering::Less),
        ("sort_desc", true, Ordering::Greater),
        ("order", false, Ordering::Less),
        ("order_desc", false, Ordering::Greater),
    ] {
        let host = reg.host.clone();
        let put = move |ctx: Call<'_>, array: &mut Array| -> Res<Dynamic> {
            let sorted = sorted(array.clone(), &mut |a, b| {
                let order = host.order(&ctx, a, b)?;
                Ok(if least == Ordering::Less { order } else { order.reverse() })
            })?;
            Ok(given(array, sorted, sorts))
        };
        reg.engine.register_fn(name, put);
    }
    for (name, sorts) in [("sort", true), ("sort_by", true), ("order", false), ("order_by", false)]
    {
        let host = reg.host.clone();
        let put = move |ctx: Call<'_>, array: &mut Array, f: FnPtr| -> Res<Dynamic> {
            let sorted = sorted(array.clone(), &mut |a, b| {
                host.order_said(&ctx, name, f.call_raw(&ctx, None, [a.clone(), b.clone()])?)
            })?;
            Ok(given(array, sorted, sorts))
        };
        reg.engine.register_fn(name, put);
    }
    let host = reg.host.clone();
    reg.engine.register_fn("dedup", move |ctx: Call<'_>, array: &mut Array| {
        unrepeated(array, &mut |a, b| host.compare_any(&ctx, "==", Comparison::Equal, a, b))
    });
    reg.engine.register_fn("dedup", |ctx: Call<'_>, array: &mut Array, f: FnPtr| {
        unrepeated(array, &mut |a, b| {
            yes_or_no("dedup", f.call_raw(&ctx, None, [a.clone(), b.clone()])?)
        })
    });
}

/// What `sort` (in place) or `order` (a new array) gives.
fn given(array: &mut Array, sorted: Array, in_place: bool) -> Dynamic {
    if in_place {
        *array = sorted;
        Dynamic::UNIT
    } else {
        Dynamic::from(sorted)
    }
}

fn yes_or_no(name: &str, said: Dynamic) -> Res<bool> {
    said.as_bool().or_else(|_| {
        let gives = type_words(said.type_name());
        say_help(
            format!("the function that `{name}` is given gives {gives}, not yes or no"),
            "end it with a comparison",
        )
    })
}

/// The place of the first item, from one on, for which a function says what is wanted.
fn first(
    ctx: &Call<'_>,
    name: &str,
    array: &mut Array,
    f: &FnPtr,
    from: INT,
    wanted: bool,
) -> Res<Option<usize>> {
    let size = INT::try_from(array.len()).unwrap_or(INT::MAX);
    let from = if from < 0 { (size + from).max(0) } else { from };
    for (at, item) in array.iter_mut().enumerate().skip(usize::try_from(from).unwrap_or(0)) {
        if says(ctx, name, f, item, at)? == wanted {
            return Ok(Some(at));
        }
    }
    Ok(None)
}

fn says(ctx: &Call<'_>, name: &str, f: &FnPtr, item: &mut Dynamic, at: usize) -> Res<bool> {
    let at = Dynamic::from(INT::try_from(at).unwrap_or(INT::MAX));
    yes_or_no(name, f.call_raw_with_extra_args(name, ctx, Some(item), [], [at], Some(0))?)
}

fn parted(ctx: &Call<'_>, name: &str, array: Array, f: &FnPtr) -> Res<(Array, Array)> {
    let (mut yes, mut no) = (Array::new(), Array::new());
    for (at, mut item) in array.into_iter().enumerate() {
        if says(ctx, name, f, &mut item, at)? { &mut yes } else { &mut no }.push(item);
    }
    Ok((yes, no))
}

fn parted_map(ctx: &Call<'_>, name: &str, map: Map, f: &FnPtr) -> Res<(Map, Map)> {
    let (mut yes, mut no) = (Map::new(), Map::new());
    for (key, mut item) in map {
        let of: Dynamic = key.clone().into();
        let said = f.call_raw_with_extra_args(name, ctx, Some(&mut item), [of], [], Some(1))?;
        if yes_or_no(name, said)? { &mut yes } else { &mut no }.insert(key, item);
    }
    Ok((yes, no))
}

/// Drops items that follow one they are the same as.
fn unrepeated(array: &mut Array, same: &mut dyn FnMut(&Dynamic, &Dynamic) -> Res<bool>) -> Res<()> {
    let mut kept = Array::with_capacity(array.len());
    for item in std::mem::take(array) {
        let repeated = match kept.last() {
            Some(last) => same(&item, last)?,
            None => false,
        };
        if !repeated {
            kept.push(item);
        }
    }
    *array = kept;
    Ok(())
}

/// In order, what is alike staying as it stood. Merging by hand, since what a script says of two
/// items may be no order at all, or an error.
fn sorted(
    mut items: Array,
    order: &mut dyn FnMut(&Dynamic, &Dynamic) -> Res<Ordering>,
) -> Res<Array> {
    if items.len() < 2 {
        return Ok(items);
    }
    let later = items.split_off(items.len() / 2);
    let mut left = sorted(items, order)?.into_iter().peekable();
    let mut right = sorted(later, order)?.into_iter().peekable();
    let mut all = Array::new();
    while let (Some(a), Some(b)) = (left.peek(), right.peek()) {
        let next = if order(a, b)?.is_gt() { right.next() } else { left.next() };
        all.extend(next);
    }
    all.extend(left.chain(right));
    Ok(all)
}

impl Host {
    /// The order of two values, put to the build where they are of it.
    fn order(self: &Rc<Self>, ctx: &Call<'_>, a: &Dynamic, b: &Dynamic) -> Res<Ordering> {
        if self.compare_any(ctx, "<", Comparison::Less, a, b)? {
            return Ok(Ordering::Less);
        }
        let greater = self.compare_any(ctx, "<", Comparison::Less, b, a)?;
        Ok(if greater { Ordering::Greater } else { Ordering::Equal })
    }

    /// What a function that orders two items said: a number below, at or above 0, or whether the
    /// first comes first.
    fn order_said(self: &Rc<Self>, ctx: &Call<'_>, name: &str, said: Dynamic) -> Res<Ordering> {
        if let Ok(first) = said.as_bool() {
            return Ok(if first { Ordering::Less } else { Ordering::Greater });
        }
        if self.as_num(&said).is_none() {
            return say_help(
                format!(
                    "the function that `{name}` is given gives {}, and no order",
                    type_words(said.type_name())
                ),
                "a number below 0 where the first comes first, such as `|a, b| a - b`",
            );
        }
        self.order(ctx, &said, &Dynamic::from(0 as INT))
    }
}
