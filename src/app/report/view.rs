//! What templates are given of a report.

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::glance::{self, summary};
use crate::app::report::json::join;
use crate::app::report::located::{Located, label_at, with_help};
use crate::app::report::terminal::has_evidence;
use crate::app::report::unsettled::sentences;
use crate::app::report::{Audited, Merged, Report, Wishes};
use crate::audit::finding::Pointer;
use crate::kit::Cause;
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::source::{Label, Problem};
use crate::whatif::open_lines;

/// How a format tells of findings.
#[derive(Clone, Copy)]
pub(super) struct Telling {
    pub(super) wishes: Wishes,
    /// Findings of this level or above fail.
    pub(super) fail_on: Level,
    /// Whether values are told with their places, which take long to find.
    pub(super) has_places: bool,
}

/// What a template is given of a report.
pub(super) fn view(report: &Report, telling: Telling) -> Value {
    let file = report.file.as_str();
    let head = json!({ "file": file, "name": report.name(), "summary": summary(report) });
    let notes = |problems: &[Problem]| problems.iter().map(|p| note(p, file)).collect::<Value>();
    join(
        head,
        match &report.outcome {
            Ok(audited) => view_of(report, audited, telling, notes),
            Err(problems) => {
                json!({ "problems": notes(&problems.0), "findings": [], "open": [],
            "every_question": [], "left": [], "waivers": [], "broken": [] })
            }
        },
    )
}

fn view_of(
    report: &Report,
    audited: &Audited,
    telling: Telling,
    notes: impl Fn(&[Problem]) -> Value,
) -> Value {
    let (file, wishes) = (report.file.as_str(), telling.wishes);
    let evidence = has_evidence(wishes, audited);
    let telling = Telling { has_places: telling.has_places && evidence, ..telling };
    let open = audited.open_rules.iter().filter(|o| !o.waived).map(
        |open| json!({ "rule": open.rule, "level": open.level.to_string(), "words": open.words() }),
    );
    let waits = audited.waits().into_iter().map(|(kind, rules)| {
        json!({ "kind": kind, "number": count(rules.len(), "rule"), "rules": rules })
    });
    let measures = audited.measures.iter().filter(|_| wishes.measures);
    let has_advice = audited.at(Level::Advice).next().is_some();
    json!({
        "problems": [],
        "title": audited.title,
        "priced_on": audited.priced_on.to_string(),
        "paid": audited.paid.to_string(),
        "budget": audited.budget.map(|b| audited.money(b)),
        "ruling": audited.ruling.words(),
        "verdict": glance::verdict(audited).words(),
        "counts": glance::counts(audited, true),
        "money": glance::money(audited),
        "chosen": open_lines::words(&audited.chosen).into_iter().chain(audited.wish_sentences())
            .collect::<Vec<_>>(),
        "left": notes(&audited.left),
        "broken": broken(audited, file),
        "causes": audited.causes.iter().map(cause).collect::<Vec<_>>(),
        "findings": audited.findings.iter().map(|m| finding(m, file, telling)).collect::<Vec<_>>(),
        "evidence": evidence,
        "all": wishes.all,
        "waits": waits.collect::<Vec<_>>(),
        "open": open.collect::<Vec<_>>(),
        "questions": sentences(audited, false),
        "every_question": sentences(audited, true),
        "waivers": notes(&audited.waivers),
        "advice": has_advice.then(|| glance::advice(audited)),
        "measures": measures.map(|m| json!({ "id": &*m.id, "words": m.words })).collect::<Vec<_>>(),
        "warnings": notes(&audited.warnings),
        "decisions": audited.decisions(),
        "next": glance::next(report, audited, wishes.prompt),
    })
}

fn finding(merged: &Merged, file: &str, telling: Telling) -> Value {
    let finding = &merged.finding;
    let pointer = |p: &Pointer| {
        json!({ "words": pointer_words(p), "at": p.label.as_ref().map(label_at),
            "line": p.line.as_ref().map(label_at) })
    };
    let pointers = finding.pointers.iter().filter(|_| telling.has_places).map(pointer);
    let margin = finding.margin.as_ref().filter(|m| m.left_value != m.right_value);
    json!({
        "rule": finding.rule,
        "level": finding.level.to_string(),
        "message": finding.message,
        "times": merged.times,
        "fails": finding.waived.is_none() && finding.level >= telling.fail_on,
        "at": Located::finding(finding, file).json(),
        "pointers": pointers.collect::<Vec<_>>(),
        "margin": margin.map(|m| &m.words),
        "remedy": finding.remedy,
        "basis": finding.basis,
        "waived": finding.waived.as_ref().map(|w| json!({ "reason": w.reason, "by": w.by,
        "until": w.until.to_string() })),
    })
}

pub(super) fn note(problem: &Problem, file: &str) -> Value {
    let label = |l: &Label| join(label_at(l), json!({ "text": l.text }));
    json!({ "message": problem.message, "bare": problem.message, "help": problem.help,
    "with_help": with_help(problem), "at": Located::problem(problem, file).json(),
    "labels": problem.labels.iter().map(label).collect::<Vec<_>>() })
}

/// Broken rules; the first of those that break in the same way has the others behind it.
fn broken(audited: &Audited, file: &str) -> Vec<Value> {
    let groups = grouped(&audited.broken);
    let told = |one: &BrokenRule| {
        let same = groups.iter().find(|(first, _)| std::ptr::eq(*first, one));
        join(
            note(&one.told(), file),
            json!({ "rule": one.rule.as_deref(), "bare": one.problem.message,
            "same": same.map(|(_, others)| others) }),
        )
    };
    audited.broken.iter().map(told).collect()
}

fn cause(cause: &Cause) -> Value {
    let line = cause.at.as_ref().map(|l| l.source.line_column(l.span.start()).0);
    json!({ "name": format!("{} {}", cause.kind, cause.name).trim(), "line": line,
    "tally": count(cause.findings.len(), "stop"), "findings": cause.findings })
}

/// A pointer as words: its place and value.
pub(super) fn pointer_words(pointer: &Pointer) -> String {
    match &pointer.label {
        // The value of a place that is shown whole is its own name.
        Some(_) if pointer.value.is_empty() => pointer.place.clone(),
        Some(_) => format!("{} is {}", pointer.place, pointer.value),
        None => format!("{}, {}", pointer.place, pointer.value),
    }
}

/// Broken rules with the ids of others that broke at the same place.
pub(super) fn grouped(broken: &[BrokenRule]) -> Vec<(&BrokenRule, Vec<&str>)> {
    let place = |b: &BrokenRule| b.problem.labels.first().map(|l| (l.source.name.clone(), l.span));
    let mut groups: Vec<(&BrokenRule, Vec<&str>)> = Vec::new();
    for one in broken {
        let same = |(held, _): &&mut (&BrokenRule, Vec<&str>)| {
            held.problem.message == one.problem.message && place(held) == place(one)
        };
        match (groups.iter_mut().find(same), &one.rule) {
            (Some((_, others)), Some(rule)) => others.push(rule),
            _ => groups.push((one, Vec::new())),
        }
    }
    groups
}
