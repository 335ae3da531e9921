//! Why a rule says what it says, for other programs and for the page of `why`: format `dryfit-why`,
//! version 1. Within a version keys are only ever added.

use serde_json::{Value, json};

use crate::app::report::json::number;
use crate::audit::finding::Finding;
use crate::whatif::why::{Choice, Operand, Question, Read, Said, Test, Turn, Why};

pub(crate) fn why(why: &Why) -> Value {
    json!({
        "format": "dryfit-why",
        "version": 1,
        "rule": why.rule,
        "title": why.title,
        "written": why.written,
        "basis": why.basis,
        "said": said(&why.said),
        "steps": why.steps.iter().map(step).collect::<Vec<_>>(),
        "formula": why.formula.as_ref().map(|(formula, _)| formula),
        "formula_reads": why.formula.as_ref().map(|(_, values)| reads(values)),
        "margin": why.margin.as_ref().map(|(by, unit)| json!({ "by": number(*by), "unit": unit })),
        "turns": why.turns.iter().map(turn).collect::<Vec<_>>(),
        "tried": why.tried.0,
        "tried_all": why.tried.1,
    })
}

fn said(said: &Said) -> Value {
    let found = |f: &Finding| {
        let waived = f
            .waived
            .as_ref()
            .map(|w| json!({ "by": w.by, "until": w.until.to_string(), "reason": w.reason }));
        json!({ "level": f.level.to_string(), "message": f.message, "waived": waived })
    };
    match said {
        Said::Found(all) => json!({ "found": all.iter().map(found).collect::<Vec<_>>() }),
        Said::Silent => json!({ "found": [] }),
        Said::Number(value, unit) => json!({ "number": value.map(number), "unit": &**unit }),
        Said::Waits(kind) => json!({ "waits_for": kind }),
        Said::Off(reason) => json!({ "off": reason }),
        Said::Broken(problem) => json!({ "broken": problem.to_string() }),
    }
}

fn step(step: &Question) -> Value {
    json!({ "question": question(step), "yes": step.yes, "measure": step.measure,
    "script": step.script, "decides": step.decides, "reads": reads(&step.reads) })
}

fn reads(reads: &[Read]) -> Vec<Value> {
    let one = |r: &Read| json!({ "place": r.place, "value": r.value, "at": r.at });
    reads.iter().map(one).collect()
}

fn turn(turn: &Turn) -> Value {
    let part = |choice: &Choice| {
        json!({ "part": choice.id, "name": choice.name, "price": choice.price.map(number),
        "left": choice.left, "stops": choice.stops, "opens": choice.opens })
    };
    json!({ "line": turn.line, "name": turn.name, "kind": turn.kind, "tried": turn.of,
    "count": turn.count, "parts": turn.parts.iter().map(part).collect::<Vec<_>>() })
}

/// A question with its answer, in words.
fn question(asked: &Question) -> String {
    let yes = asked.yes;
    let word = if yes { "yes" } else { "no" };
    let side = |o: &Operand| match &o.name {
        Some(name) => format!("{name} ({})", o.value),
        None => o.value.clone(),
    };
    let pair = |a: &Operand, held: &str, not: &str, b: &Operand| {
        format!("{} {} {}", side(a), if yes { held } else { not }, side(b))
    };
    match &asked.test {
        Test::Has(kind, 1) => format!("is there a {kind}? {word}"),
        Test::Has(kind, nth) => format!("is there a {kind} {nth}? {word}"),
        Test::Chosen(line) => format!("is the part of {line} chosen? {word}"),
        Test::Lines(kind, count) => format!("lines of {kind}: {count}"),
        Test::Present(value) => format!("is {value} given? {word}"),
        Test::Truth(value) => format!("{value}: {word}"),
        Test::Less(a, b) => pair(a, "<", ">=", b),
        Test::LessEqual(a, b) => pair(a, "<=", ">", b),
        Test::Equal(a, b) => pair(a, "=", "≠", b),
        Test::Contains(list, item) => pair(list, "holds", "does not hold", item),
        Test::Entries(list, count) => format!("entries of {list}: {count}"),
        Test::Placed(assignment, count) => format!("{assignment}: {count} placed"),
        Test::Value(o) => format!("{} is {}", o.name.as_deref().unwrap_or(""), o.value),
    }
}
