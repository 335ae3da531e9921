//! What searches find as JSON for other programs: one shape each, formats `dryfit-plan`,
//! `dryfit-fit`, `dryfit-steps`, `dryfit-mend`, `dryfit-mix` and `dryfit-compare`, version 1.
//!
//! Each is one document that begins with `format` and `version`; `list` is the build or the brief
//! that was asked about. Within a version keys are only ever added. Money is in the list's
//! currency, lines count from 1, texts are data with whatever acts on a terminal escaped. What
//! every key holds is written in the schema, `dryfit schema search`.

use serde_json::{Value, json};

use crate::app::prompt::search_commands::LineSteps;
use crate::app::report::json::{join, number, problem};
use crate::audit::finding::Brief as Finding;
use crate::build::brief::Brief;
use crate::build::{Build, Line};
use crate::catalogue::Part;
use crate::level::Level;
use crate::trade::money::Money;
use crate::whatif::diff::{Change as Difference, LineChange, LineView};
use crate::whatif::fit::{Fit, FitRow, Step};
use crate::whatif::mend::{Mend, MendChange, MendLoss, MendWay};
use crate::whatif::mix::Mix;
use crate::whatif::plan::{Plan, PlanAnswer, PlanCost, PlanWayOut, PlanWish, WhyNot};
use crate::whatif::trial::Snapshot;

/// Version of every format.
const VERSION: u32 = 1;

/// What the formats promise, as a JSON Schema.
pub(crate) const SCHEMA: &str = include_str!("search.schema.json");

fn document(format: &str, body: Value) -> Value {
    join(json!({ "format": format, "version": VERSION }), body)
}

fn all<T>(items: &[T], as_json: impl Fn(&T) -> Value) -> Value {
    items.iter().map(as_json).collect()
}

/// An answer that says of itself when it trusts facts that nobody said.
pub(crate) fn trusting(mut document: Value, trusts: bool) -> Value {
    if let Some(object) = document.as_object_mut().filter(|_| trusts) {
        object.insert("trusts_unknown".to_owned(), json!(true));
    }
    document
}

fn head(build: &Build) -> Value {
    json!({
        "file": build.source.name,
        "title": build.title(),
        "priced_on": build.priced_on.to_string(),
        "currency": &*build.currency,
    })
}

/// A list, with the parts that its open lines are judged with.
fn list_head(list: &Snapshot) -> Value {
    let open =
        all(&list.chosen, |c| json!({ "line": c.line + 1, "kind": &*c.kind, "part": &*c.part.id }));
    let left = all(&list.left, problem);
    join(head(list.build()), json!({ "open": open, "left": left }))
}

/// An amount in the list's currency.
pub(crate) fn money(amount: &Money) -> Value {
    number(amount.to_f64())
}

/// Rules with the level that each raised.
pub(crate) fn levels(found: &[(String, Level)]) -> Value {
    all(found, |(rule, level)| json!({ "rule": rule, "level": level.to_string() }))
}

fn finding(found: &Finding) -> Value {
    json!({
        "rule": &*found.rule,
        "level": found.level.to_string(),
        "message": found.message,
        "waived": found.waived,
    })
}

fn view(line: &LineView) -> Value {
    json!({
        "line": line.number,
        "kind": line.kind,
        "part": line.part,
        "chosen": line.chosen,
        "name": line.name,
        "count": line.count,
        "mount": line.mount.as_deref(),
        "flow": line.flow.as_deref(),
        "owned": line.owned,
        "included": line.included,
    })
}

/// What could stand on a line.
pub(crate) fn fit(list: &Snapshot, line: &LineView, fit: &Fit) -> Value {
    let body = json!({
        "list": list_head(list),
        "line": view(line),
        "waiting": levels(&fit.waiting),
        "rows": all(&fit.rows, |row| self::row(fit, row)),
        "complete": fit.complete,
    });
    document("dryfit-fit", body)
}

pub(crate) fn row(fit: &Fit, row: &FitRow) -> Value {
    let moved = row.moved.iter().filter_map(|(at, from, to)| {
        let told = fit.measures.get(*at)?;
        Some(json!({ "measure": told.id, "unit": &*told.unit, "from": number(*from),
        "to": number(*to) }))
    });
    json!({
        "part": &*row.part.id,
        "name": &*row.part.name,
        "price": row.price.as_ref().map(money),
        "more": row.more.as_ref().map(money),
        "unmet": row.unmet,
        "raised": levels(&row.raised),
        "opened": levels(&row.opened),
        "cleared": levels(&row.cleared),
        "broken": row.broken,
        "moved": moved.collect::<Vec<_>>(),
        "beaten": row.beaten,
    })
}

/// The next steps up and down.
pub(crate) fn steps(list: &Snapshot, found: &[LineSteps]) -> Value {
    let lines = all(found, |one| {
        json!({
            "line": view(&one.line),
            "waiting": levels(&one.fit.waiting),
            "up": all(&one.up, |s| step(&one.fit, s)),
            "down": all(&one.down, |s| step(&one.fit, s)),
            "complete": one.fit.complete,
        })
    });
    document("dryfit-steps", json!({ "list": list_head(list), "lines": lines }))
}

pub(crate) fn step(fit: &Fit, step: &Step) -> Value {
    let gains = step.buys.iter().filter_map(|gain| {
        let told = fit.measures.get(gain.measure)?;
        Some(json!({ "measure": told.id, "unit": &*told.unit, "from": number(gain.from),
        "to": number(gain.to), "each": gain.each.map(number) }))
    });
    json!({
        "part": &*step.row.part.id,
        "name": &*step.row.part.name,
        "more": step.row.more.as_ref().map(money),
        "raised": levels(&step.row.raised),
        "opened": levels(&step.row.opened),
        "better": all(&step.better, |l| lost(l, true)),
        "worse": all(&step.worse, |l| lost(l, false)),
        "gains": gains.collect::<Vec<_>>(),
    })
}

/// The fewest changes that clear every stop.
pub(crate) fn mend(list: &Snapshot, mend: &Mend, code: u8) -> Value {
    let way = |way: &MendWay| {
        json!({
            "changes": all(&way.changes, change),
            "loss": way.loss,
            "raises": way.raises,
            "offered": way.offered,
            "total": money(&way.total.money),
            "shipping": money(&way.total.shipping),
            "more": money(&way.more),
        })
    };
    let nearest = mend.nearest.as_ref().map(|nearest| {
        json!({
            "without": nearest.without,
            "total": money(&nearest.total.money),
            "shipping": money(&nearest.total.shipping),
            "proven": nearest.proven,
            "findings": all(&nearest.findings, finding),
        })
    });
    let body = json!({
        "list": list_head(list),
        "stops": mend.stops,
        "ways": all(&mend.ways, way),
        "proven": mend.proven,
        "least": mend.least,
        "conflict": mend.conflict,
        "conflict_smallest": mend.conflict_smallest,
        "in_the_way": all(&mend.in_the_way, finding),
        "nearest": nearest,
        "unsold": all(&mend.unsold, |part| json!(&*part.id)),
        "left_out": mend.left_out,
        "code": code,
    });
    document("dryfit-mend", body)
}

/// A figure in which a part is worse, or the other way about, better than the one before it.
fn lost(loss: &MendLoss, turned: bool) -> Value {
    let (from, to) = (json!(number(loss.from)), json!(loss.to.map(number)));
    let (from, to) = if turned { (to, from) } else { (from, to) };
    json!({ "figure": &*loss.name, "unit": &*loss.unit, "from": from, "to": to })
}

pub(crate) fn change(change: &MendChange) -> Value {
    match change {
        MendChange::Swap { line, from, to, losses } => json!({
            "do": "swap", "line": line + 1, "from": &*from.id, "to": &*to.id,
            "losses": all(losses, |l| lost(l, false)),
        }),
        MendChange::Count { line, part, from, to } => {
            json!({ "do": "count", "line": line + 1, "part": &*part.id, "from": from, "to": to })
        }
        MendChange::Place { line, part, mount, flow } => json!({
            "do": "place", "line": line + 1, "part": &*part.id,
            "mount": mount.as_deref(), "flow": flow.as_deref(),
        }),
        MendChange::Drop { line, part } => {
            json!({ "do": "drop", "line": line + 1, "part": &*part.id })
        }
        MendChange::Add { part, mount, flow } => json!({
            "do": "add", "part": &*part.id, "mount": mount.as_deref(), "flow": flow.as_deref(),
        }),
    }
}

/// Mixtures of two lists; `measure` is the id and the unit of what the price is weighed against.
pub(crate) fn mix(
    list: &Snapshot,
    other: &Snapshot,
    measure: Option<(&str, &str)>,
    mix: &Mix,
) -> Value {
    let mixture = |m: &crate::whatif::mix::Mixture| {
        let taken = (0..mix.differences.len()).filter(|at| m.taken & (1 << at) != 0);
        json!({
            "taken": taken.map(|at| at + 1).collect::<Vec<_>>(),
            "total": money(&m.total.money),
            "shipping": money(&m.total.shipping),
            "value": m.value.map(number),
            "on_front": m.on_front,
        })
    };
    let side = |line: &Option<Line>| line.as_ref().map(mixed);
    let body = json!({
        "list": list_head(list),
        "other": list_head(other),
        "measure": measure.map(|(id, unit)| json!({ "id": id, "unit": unit })),
        "differences": all(&mix.differences, |d| json!({ "ours": side(&d.ours),
        "theirs": side(&d.theirs) })),
        "count": mix.count,
        "counted": mix.counted,
        "complete": mix.complete,
        "passing": all(&mix.passing, mixture),
        "path": mix.path.as_ref().map(|path| path.iter().map(|at| at + 1).collect::<Vec<_>>()),
        "path_proven": mix.path_proven,
        "left_out": mix.left_out,
    });
    document("dryfit-mix", body)
}

fn mixed(line: &Line) -> Value {
    json!({
        "part": line.part().map(|p| &*p.id),
        "count": line.count,
        "mount": line.mount.as_deref(),
        "flow": line.flow.as_deref(),
        "owned": line.owned,
        "included": line.included,
    })
}

/// What differs between two lists.
pub(crate) fn compare(was: &Snapshot, is: &Snapshot, change: &Difference, code: u8) -> Value {
    let numbers = |list: &Snapshot, id: &str| {
        let measure = list.measures.iter().find(|m| *m.id == *id);
        measure.and_then(|m| m.value).map(number)
    };
    let moved = all(&change.measures, |m| {
        let unit = is.measures.iter().find(|n| *n.id == *m.id).map(|n| &*n.unit);
        json!({ "measure": m.id, "unit": unit, "from": numbers(was, &m.id),
        "to": numbers(is, &m.id) })
    });
    let total = |list: &Snapshot| number(list.audit.build().total());
    let body = json!({
        "list": list_head(was),
        "other": list_head(is),
        "lines": all(&change.lines, line_change),
        "fields": all(&change.fields, |f| json!({ "name": f.name, "from": f.from, "to": f.to })),
        "raised": all(&change.raised, finding),
        "cleared": all(&change.cleared, finding),
        "changed": all(&change.shifted, |(a, b)| json!({ "from": finding(a), "to": finding(b) })),
        "broken": change.broken.0,
        "whole_again": change.broken.1,
        "moved": moved,
        "total": { "from": total(was), "to": total(is) },
        "verdict": { "from": was.ruling().key(), "to": is.ruling().key() },
        "text_only": change.text_differs && !change.says_more_than_text(),
        "code": code,
    });
    document("dryfit-compare", body)
}

fn line_change(change: &LineChange) -> Value {
    let (what, from, to) = match change {
        LineChange::Swapped(a, b) => ("swapped", view(a), view(b)),
        LineChange::Altered(a, b) => ("altered", view(a), view(b)),
        LineChange::Added(line) => ("added", Value::Null, view(line)),
        LineChange::Dropped(line) => ("dropped", view(line), Value::Null),
        LineChange::Boxed(joined, name, id) => {
            let what = if *joined { "joined" } else { "left" };
            return json!({ "what": what, "part": id, "name": name });
        }
    };
    json!({ "what": what, "from": from, "to": to })
}

/// What a brief leads to; `why` is a part with why it is not in the answer.
pub(crate) fn plan(brief: &Brief, plan: &Plan, why: Option<(&str, &WhyNot)>) -> Value {
    let goals = all(&plan.goals, |g| json!({ "name": g.name, "unit": &*g.unit, "most": g.most }));
    let unsold = plan.unsold.as_ref().map(|unsold| {
        json!({ "parts": all(&unsold.parts, |p| json!(&*p.id)), "gain": gain(unsold.gain) })
    });
    let body = json!({
        "list": head(&brief.build),
        "goals": goals,
        "best": all(&plan.best, answer),
        "front": all(&plan.front, answer),
        "proven": plan.proven,
        "front_proven": plan.front_proven,
        "bound": plan.bound.map(number),
        "cautioned": plan.cautioned,
        "spared": plan.spared,
        "spared_for": plan.spared_for.as_ref().map(money),
        "cautions": all(&plan.cautions, cost),
        "costs": all(&plan.costs, cost),
        "costs_proven": plan.costs_proven,
        "conflict": all(&plan.conflict, wish),
        "conflict_smallest": plan.conflict_smallest,
        "ways_out": all(&plan.ways_out, way_out),
        "ways_out_proven": plan.ways_out_proven,
        "unsold": unsold,
        "empty": all(&plan.empty, problem),
        "broken": all(&plan.broken, problem),
        "left_out": plan.left_out,
        "why": why.map(|(part, why)| why_not(part, why)),
        "code": plan.exit_code(),
    });
    document("dryfit-plan", body)
}

pub(crate) fn answer(answer: &PlanAnswer) -> Value {
    let line = |(part, count, price): &(std::sync::Arc<Part>, u32, Option<Money>)| {
        json!({ "part": &*part.id, "name": &*part.name, "count": count,
        "price": price.as_ref().map(money) })
    };
    json!({
        "lines": all(&answer.parts, line),
        "total": money(&answer.total.money),
            "shipping": money(&answer.total.shipping),
        "values": answer.values.iter().map(|v| number(*v)).collect::<Vec<_>>(),
        "remains": all(&answer.remains, finding),
    })
}

fn wish(wish: &PlanWish) -> Value {
    match wish {
        PlanWish::Want(text) => json!({ "what": "want", "text": text }),
        PlanWish::Budget => json!({ "what": "budget" }),
        PlanWish::Rule(rule) => json!({ "what": "rule", "rule": rule }),
        PlanWish::NoCaution(rule) => json!({ "what": "no caution", "rule": rule }),
    }
}

fn way_out(way: &PlanWayOut) -> Value {
    let reach = way.reach.as_ref().map(
        |reach| json!({ "figure": reach.figure, "more": reach.more, "value": number(reach.value) }),
    );
    json!({
        "of": all(&way.of, wish),
        "reach": reach,
        "total": money(&way.total.money),
        "over": way.over.as_ref().map(money),
        "proven": way.proven,
    })
}

fn gain(gain: Option<(usize, f64)>) -> Value {
    gain.map_or(Value::Null, |(goal, by)| json!({ "goal": goal + 1, "by": number(by) }))
}

fn cost(cost: &PlanCost) -> Value {
    json!({
        "of": wish(&cost.of),
        "gain": gain(cost.gain),
        "proven": cost.proven,
        "swaps": swaps(&cost.swaps),
        "adds": cost.adds.as_ref().map(|add| {
            json!({
                "part": &*add.part.id, "mount": add.mount.as_deref(),
                "flow": add.flow.as_deref(), "more": money(&add.more),
            })
        }),
    })
}

fn swaps(swaps: &[(std::sync::Arc<Part>, std::sync::Arc<Part>)]) -> Value {
    all(swaps, |(from, to)| json!({ "from": &*from.id, "to": &*to.id }))
}

fn why_not(part: &str, why: &WhyNot) -> Value {
    let said = |answer: &str| json!({ "part": part, "answer": answer });
    match why {
        WhyNot::InAnswer => said("in the best list"),
        WhyNot::NoLine => said("no open line"),
        WhyNot::NoSeller => said("no seller"),
        WhyNot::Unfinished => said("unfinished"),
        WhyNot::Unmet(wants) => {
            json!({ "part": part, "answer": "line's wants", "wants": wants })
        }
        WhyNot::Refused(wishes, smallest) => json!({ "part": part, "answer": "refused",
        "conflict": all(wishes, wish), "conflict_smallest": smallest }),
        WhyNot::Worse { goal, by, proven, with, swaps } => json!({
            "part": part,
            "answer": "worse",
            "gain": gain(Some((*goal, -by))),
            "proven": proven,
            "with": answer(with),
            "swaps": self::swaps(swaps),
        }),
    }
}
