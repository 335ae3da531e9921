//! Running scripts: rules and measures from memory where the answers are known, by their scripts
//! where not.

use std::rc::Rc;

use rhai::{CallFnOptions, Dynamic, Engine, EvalAltResult, Position, Scope};

use crate::audit::eval::View;
use crate::audit::expr::Expr;
use crate::audit::memory::Walk;
use crate::audit::verdict::Verdict;
use crate::rules::errors;
use crate::rules::host::{Call, Cut, Frame, Host, Res, State, say, say_help};
use crate::rules::line_names::no_such_word;
use crate::rules::tracked::{BuildRef, Num, type_words};
use crate::source::Problem;

/// Stack for scripts, in bytes: a chain of closures is dropped by recursion.
const SCRIPT_STACK: usize = 64 << 20;

/// A script that failed, already put in words with its place; passes through calling scripts
/// unchanged.
#[derive(Debug, Clone)]
pub struct Failed(pub Problem);

/// Runs something with stack enough for any script. Who runs many scripts calls this once around
/// them all, so that each finds the stack there.
pub(crate) fn on_script_stack<T>(run: impl FnOnce() -> T) -> T {
    stacker::maybe_grow(SCRIPT_STACK / 2, SCRIPT_STACK, run)
}

/// Runs a script in a frame of its own, which then holds what it asked, raised and printed. Every
/// script of rules, measures and expressions runs through here.
pub(crate) fn framed(
    host: &Host,
    rule: u16,
    run: impl FnOnce() -> Res<Dynamic>,
) -> (Res<Dynamic>, Frame) {
    host.state.borrow_mut().frames.push(Frame::new(rule));
    let result = on_script_stack(run);
    let mut frame = host.state.borrow_mut().frames.pop().unwrap_or_default();
    let result = match frame.unheard.take() {
        Some(error) => result.and(Err(error)),
        None => result,
    };
    let result = match result {
        // A cut is sticky: a callback that swallowed it does not turn it into a result.
        Ok(_) if host.cut().is_some() => {
            Err(Box::new(EvalAltResult::ErrorTerminated(Dynamic::UNIT, Position::NONE)))
        }
        other => other,
    };
    (result, frame)
}

/// Looks a rule up in memory.
pub fn recall(host: &Host, rule: u16) -> Walk {
    if host.is_exploring() {
        return recall_by_force(host, rule);
    }
    let state = host.state.borrow();
    let (Some(tree), Some(build), true) =
        (state.trees.get(rule as usize), &state.build, state.remember)
    else {
        return Walk::Unknown;
    };
    tree.walk(View { pool: &state.pool, settings: &state.settings, build })
}

/// The same while a rule is explored: where a question has several answers, one is forced.
fn recall_by_force(host: &Host, rule: u16) -> Walk {
    let mut guard = host.state.borrow_mut();
    let State { pool, settings, build, explorer, trees, remember, .. } = &mut *guard;
    let (Some(tree), Some(build), Some(explorer), true) =
        (trees.get(rule as usize), build, explorer, *remember)
    else {
        return Walk::Unknown;
    };
    let view = View { pool, settings, build };
    tree.walk_by(|ask| explorer.answer(view, ask))
}

/// Runs a rule's script on the build being looked at, and remembers the way it took.
/// Errors: what the script engine says, or a [`Failed`] with its place.
pub fn script(host: &Host, engine: &Engine, rule: u16) -> Res<Rc<Verdict>> {
    let rules = host.rules.borrow().clone();
    let Some(entry) = rules.rules.get(rule as usize) else { return say("there is no such rule") };
    let Some(file) = rules.files.get(entry.file_at as usize) else {
        return say("this rule has no file");
    };
    let (result, frame) = framed(host, rule, || {
        let options = CallFnOptions::new().eval_ast(false).rewind_scope(true);
        let scope = &mut Scope::new();
        engine.call_fn_with_options(options, scope, &file.ast, &entry.function, (BuildRef,))
    });
    let verdict = result
        .and_then(|value| finish(host, entry.unit.is_some(), value, frame))
        .and_then(|verdict| remember(host, rule, verdict));
    match verdict {
        Err(error) if host.cut().is_none_or(|c| !matches!(c, Cut::Lack(_))) => {
            let failed = Failed(errors::explain(host, &rules, rule, &error));
            Err(Box::new(EvalAltResult::ErrorRuntime(Dynamic::from(failed), Position::NONE)))
        }
        other => other,
    }
}

fn finish(host: &Host, is_measure: bool, value: Dynamic, frame: Frame) -> Res<Verdict> {
    let mut verdict = Verdict { drafts: frame.drafts, value: None, path: frame.path.into() };
    if is_measure {
        if !verdict.drafts.is_empty() {
            return say_help(
                "a measure raises no findings",
                "make a rule of it: take out its `Unit:` line and ask for the number with \
                 measure(…)",
            );
        }
        if !value.is_unit() {
            match host.as_num(&value) {
                Some(num) => verdict.value = Some(num.id),
                None => {
                    return say_help(
                        format!(
                            "a measure gives a number, and this gives {}",
                            type_words(value.type_name())
                        ),
                        "end it with the number, or with () when it does not apply",
                    );
                }
            }
        }
    }
    Ok(verdict)
}

fn remember(host: &Host, rule: u16, verdict: Verdict) -> Res<Rc<Verdict>> {
    let verdict = Rc::new(verdict);
    let mut state = host.state.borrow_mut();
    if !state.remember {
        return Ok(verdict);
    }
    let Some(tree) = state.trees.get_mut(rule as usize) else { return Ok(verdict) };
    let before = tree.weight();
    let inserted = tree.insert(&verdict.path, &verdict);
    let added = tree.weight() - before;
    state.held += added;
    if inserted.is_err() {
        return say_help(
            "this rule answered otherwise than before on the same figures",
            "a rule looks only at the build: no state may be carried from one run to the next",
        );
    }
    Ok(verdict)
}

/// The number of a measure, as `measure("…")` asks for it.
pub(crate) fn measure(host: &Rc<Host>, ctx: &Call<'_>, name: &str) -> Res<Dynamic> {
    let rules = host.rules.borrow().clone();
    let own = format!("{}.{name}", host.file());
    let Some(at) = rules.find(&own).or_else(|| rules.find(name)) else {
        let names: Vec<&str> =
            rules.rules.iter().filter(|r| r.unit.is_some()).map(|r| &*r.id).collect();
        return no_such_word("there is no measure", name, &mut names.into_iter());
    };
    if rules.rules.get(at as usize).is_none_or(|r| r.unit.is_none()) {
        return say_help(
            format!("`{name}` is a rule, not a measure"),
            "a measure has a `Unit:` line in its doc comment",
        );
    }
    let circle: Option<Vec<String>> = {
        let state = host.state.borrow();
        let from = state.frames.iter().position(|f| f.rule == at);
        from.map(|from| {
            state
                .frames
                .iter()
                .skip(from)
                .filter_map(|f| rules.rules.get(f.rule as usize))
                .map(|r| r.id.to_string())
                .collect()
        })
    };
    if let Some(circle) = circle {
        return say_help(
            format!(
                "measures ask for one another in a circle: {} → {}",
                circle.join(" → "),
                circle.first().map_or("", String::as_str)
            ),
            "take the common part out into a third measure",
        );
    }
    let verdict = match recall(host, at) {
        Walk::Known(verdict) => verdict,
        Walk::Waits(open) => return host.stop(Cut::Lack(open)),
        Walk::Unknown => script(host, ctx.engine(), at)?,
    };
    if let Some(frame) = host.state.borrow_mut().frames.last_mut() {
        frame.append(&verdict.path, at);
    }
    match verdict.value {
        None => Ok(Dynamic::UNIT),
        Some(inner) => {
            let id = host.compound(Expr::Measure(at, inner))?;
            Ok(Dynamic::from(Num { id, value: host.number(id)? }))
        }
    }
}
