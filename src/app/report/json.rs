//! The report as JSON for other programs: format `dryfit-audit`, version 2.
//!
//! Always one document, whether of one list or of a thousand; it is written as the lists are
//! audited. As JSON Lines each line is one of its `audits`, with `format` and `version` in front.
//! Within a version keys are only ever added.
//!
//! - `format`, `version`: `"dryfit-audit"`, `2`
//! - `audits`: one a list, in the order of their names
//! - `passed_over`: how many files were no lists
//! - `code`: the exit code: 0, 1, 2 or 3
//!
//! And of each audit:
//!
//! - `build`: `file`, `title`, `priced_on` (YYYY-MM-DD), `currency`, `total`, `budget`, `unpriced`
//!   (lines without an offer), `open` (kinds left open)
//! - `verdict`: `"build"`, `"care"`, `"stop"`, `"open"`, or `"broken"` when the input or a rule is
//! - `findings`: the worst first, waived ones last: `id` (the same while lines move and figures
//!   change), `rule`, `level`, `settled` (`"certain"` or `"as usual"`), `title`, `message`,
//!   `template` and `values` (the message with holes and what fills them), `times`, `pointers`,
//!   `margin`, `remedy`, `basis`, `subjects` (part ids), `waived`, `fixes`
//! - `findings[].pointers`: `place`, `value`, `file`, `line`, `column`, `length`; `brought_in` is
//!   the line of the build that brought in a catalogue value
//! - `findings[].margin`: `left`, `left_value`, `sign`, `right`, `right_value`, `unit`, `words`;
//!   null when no comparison of numbers decided
//! - `findings[].waived`: `reason`, `by`, `until`; null when it is in force
//! - `findings[].fixes`: proven changes that clear it, the best first; null unless `--fixes` asked:
//!   `title`, `changes` (as `dryfit mend --json` writes them), `more` (what the list costs more),
//!   `clears` and `raises` (`rule`, `level`), `replacements` in the list's text: `line`, `column`,
//!   `end_line`, `end_column`, `text`
//! - `fixes_complete`: whether all fixes were looked for; false when the time was over; else null
//! - `accepted`: findings accepted as they were, in the same shape
//! - `open`: rules that facts decide which nobody said: `rule`, `level` (the worst it may come to),
//!   `title`, `message`, `as_usual`, `waived`
//! - `questions`: the facts to look up, those that decide most first: `place`, `part`, `name`,
//!   `field`, `unit`, `meaning`, `usual`, `after` (the place of the fact that says whether this one
//!   matters; else null), `decides`
//! - `off_as_usual`: stops ruled out where parts are as usual: `rule`, `message`
//! - `measures`: `id`, `title`, `value` (null when it does not apply, or is not known), `range`
//!   (the least and the most it can be where facts are missing, an end null that nothing bounds;
//!   else null), `unit`
//! - `waiting`: `rule`, and the `kind` of the open line it waits for
//! - `decided`: what the shop decided of single rules: `rule`, `by` (the id, pattern or tag that
//!   the settings name), `off`, `level`, `reason`, `file`
//! - `layered`: rules that are not those of the lowest layer: `added` (`rule`, `layer`), `replaced`
//!   (with the layer it is `over`), `files` whose place was taken whole (with `reason`)
//! - `broken`, `waiver_problems`, `warnings`: `code`, `message`, `help`, `places` with `file`,
//!   `line`, `column`, `length`, `text`
//!
//! Lines and columns count from 1; columns and lengths are in Unicode scalars; a place that is
//! written nowhere has nulls. Names and texts are data: they are written as they are, with whatever
//! acts on a terminal escaped.

use std::io;

use serde_json::{Value, json};

use crate::app::commands::ask::question;
use crate::app::repairs::Repair;
use crate::app::replacements::Replacement;
use crate::app::report::escape::inert_json;
use crate::app::report::search_json::{change, levels, money};
use crate::app::report::{Audited, Layered, Merged, Out, Report, Stream, Tally};
use crate::audit::finding::{Filled, Pointer, Settled};
use crate::kit::OpenRule;
use crate::source::{Label, Problem};
use crate::trade::money::Money;
use crate::whatif::open_lines::Choice;

/// Name of the format.
pub const FORMAT: &str = "dryfit-audit";
pub const VERSION: u32 = 2;

/// What the format promises, as a JSON Schema.
pub const SCHEMA: &str = include_str!("audit.schema.json");

/// One document with all lists in it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Json {
    begun: bool,
}

impl Stream for Json {
    fn begin(&mut self, out: Out<'_>) -> io::Result<()> {
        let head = format!("\"format\": \"{FORMAT}\",\n  \"version\": {VERSION}");
        write!(out, "{{\n  {head},\n  \"audits\": [")
    }

    fn report(&mut self, report: Report, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        element(&document(&report), &mut self.begun, "    ", out)
    }

    fn end(&mut self, tally: &Tally, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        let close = if self.begun { "\n  ]" } else { "]" };
        writeln!(
            out,
            "{close},\n  \"passed_over\": {},\n  \"code\": {}\n}}",
            tally.passed_over,
            tally.code()
        )
    }
}

/// A line a list, each a document of its own.
#[derive(Debug, Clone, Copy)]
pub struct JsonLines;

impl Stream for JsonLines {
    fn report(&mut self, report: Report, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        let head = json!({ "format": FORMAT, "version": VERSION });
        let line = join(head, document(&report)).to_string();
        writeln!(out, "{}", inert_json(&line))?;
        // A reader at the other end of a pipe has it while the next list is looked at.
        out.flush()
    }
}

/// Writes an element of an array that is written bit by bit.
pub(super) fn element(
    value: &Value,
    begun: &mut bool,
    indent: &str,
    out: Out<'_>,
) -> io::Result<()> {
    let text = serde_json::to_string_pretty(value).map_err(io::Error::other)?;
    // Texts hold no line ends of their own in JSON.
    let text = inert_json(&text).replace('\n', &format!("\n{indent}"));
    let comma = if std::mem::replace(begun, true) { "," } else { "" };
    write!(out, "{comma}\n{indent}{text}")
}

/// Writes a document, safe to show on a terminal too.
pub fn write(document: &Value, out: Out<'_>) -> io::Result<()> {
    let text = serde_json::to_string_pretty(document).map_err(io::Error::other)?;
    writeln!(out, "{}", inert_json(&text))
}

pub(crate) fn join(mut head: Value, rest: Value) -> Value {
    if let (Some(head), Value::Object(rest)) = (head.as_object_mut(), rest) {
        head.extend(rest);
    }
    head
}

pub(crate) fn document(report: &Report) -> Value {
    match &report.outcome {
        Ok(audited) => audit(&report.file, audited),
        Err(problems) => json!({
            "build": { "file": report.file, "title": null, "priced_on": null, "currency": null,
            "total": null, "shipping": null, "budget": null, "unpriced": null, "open": [] },
            "chosen": [], "left_open": [], "verdict": "broken", "findings": [],
            "fixes_complete": null, "accepted": [], "open": [], "questions": [],
            "off_as_usual": [], "measures": [], "waiting": [],
            "broken": problems.0.iter().map(problem).collect::<Vec<_>>(),
            "waiver_problems": [], "decided": [],
            "layered": layered(&Layered::default()), "warnings": [],
        }),
    }
}

fn audit(file: &str, audited: &Audited) -> Value {
    json!({
        "build": {
            "file": file,
            "title": audited.title,
            "priced_on": audited.priced_on.to_string(),
            "currency": &*audited.currency,
            "total": number(audited.total),
            "shipping": number(audited.paid.shipping.to_f64()),
            "budget": audited.budget.map(number),
            "unpriced": audited.unpriced,
            "open": audited.open,
        },
        "chosen": audited.chosen.iter().map(choice).collect::<Vec<_>>(),
        "left_open": audited.left.iter().map(problem).collect::<Vec<_>>(),
        "verdict": audited.verdict(),
        "findings": audited.findings.iter().map(|m| finding(audited, m)).collect::<Vec<_>>(),
        "fixes_complete": audited.fixes_searched,
        "accepted": audited.accepted.iter().map(|m| finding(audited, m)).collect::<Vec<_>>(),
        "open": audited.open_rules.iter().map(open).collect::<Vec<_>>(),
        "questions": audited.questions.iter().map(question).collect::<Vec<_>>(),
        "off_as_usual": audited.off.iter().map(|(rule, message)| json!({ "rule": rule,
        "message": message })).collect::<Vec<_>>(),
        "measures": audited.measures.iter().map(|m| json!({ "id": &*m.id, "title": &*m.title,
        "value": m.value.map(number), "range": m.range.map(range),
        "unit": &*m.unit })).collect::<Vec<_>>(),
        "waiting": audited.waiting.iter().map(|(rule, kind)| json!({ "rule": rule,
        "kind": kind })).collect::<Vec<_>>(),
        "broken": audited
            .broken
            .iter()
            .map(|b| join(json!({ "rule": b.rule.as_deref() }), problem(&b.told())))
            .collect::<Vec<_>>(),
        "waiver_problems": audited.waivers.iter().map(problem).collect::<Vec<_>>(),
        "decided": audited.decided.iter().map(|(rule, c)| json!({ "rule": rule, "off": c.off,
        "by": c.names, "level": c.level.map(|l| l.to_string()), "reason": c.reason,
        "file": c.source.name })).collect::<Vec<_>>(),
        "layered": layered(&audited.layered),
        "warnings": audited.warnings.iter().map(problem).collect::<Vec<_>>(),
    })
}

/// A rule that facts decide which nobody said.
fn open(open: &OpenRule) -> Value {
    json!({ "rule": open.rule, "level": open.level.to_string(), "title": open.title,
    "message": open.message, "as_usual": open.as_usual, "waived": open.waived })
}

/// Rules that are not those of the lowest layer.
fn layered(layered: &Layered) -> Value {
    let added = layered.added.iter().map(|(id, layer)| json!({ "rule": &**id, "layer": layer }));
    let replaced = layered
        .replaced
        .iter()
        .map(|(id, layer, over)| json!({ "rule": &**id, "layer": layer, "over": over }));
    let files = layered.taken.iter().map(|taken| {
        json!({ "file": taken.file, "layer": taken.layer, "over": taken.over,
        "reason": taken.reason })
    });
    json!({
        "added": added.collect::<Vec<_>>(),
        "replaced": replaced.collect::<Vec<_>>(),
        "files": files.collect::<Vec<_>>(),
    })
}

/// What stands on a line that was left open. Amounts are texts, since they are exact.
fn choice(choice: &Choice) -> Value {
    json!({
        "line": choice.line + 1,
        "kind": &*choice.kind,
        "part": &*choice.part.id,
        "price": choice.price.bare(),
        "runner_up": choice.runner_up.as_ref().map(|(part, price)| json!({ "part": &*part.id,
        "price": price.bare() })),
        "difference": choice.difference.as_ref().map(Money::bare),
        "passed_over": choice
            .passed_over
            .iter()
            .map(|(part, rules)| json!({ "part": &*part.id, "rules": rules }))
            .collect::<Vec<_>>(),
    })
}

/// A number without the noise of binary fractions; whole numbers are written whole.
pub(crate) fn number(n: f64) -> Value {
    let rounded = (n * 1e6).round() / 1e6;
    if rounded.fract() == 0.0 && rounded.abs() < 9e15 {
        json!(rounded as i64)
    } else {
        json!(rounded)
    }
}

/// What a measure lies between; an end that nothing bounds is null.
fn range((low, high): (f64, f64)) -> Value {
    let end = |n: f64| if n.is_finite() { number(n) } else { Value::Null };
    json!([end(low), end(high)])
}

fn finding(audited: &Audited, merged: &Merged) -> Value {
    let finding = &merged.finding;
    json!({
        "id": merged.id,
        "rule": finding.rule,
        "level": finding.level.to_string(),
        "title": finding.title,
        "message": finding.message,
        "settled": match finding.settled {
            Settled::Certain => "certain",
            Settled::Usual => "as usual",
            Settled::Open => "open",
        },
        "template": &*finding.template,
        "values": finding.values.iter().map(filled).collect::<Vec<_>>(),
        "times": merged.times,
        "pointers": finding.pointers.iter().map(pointer).collect::<Vec<_>>(),
        "margin": finding.margin.as_ref().map(|m| json!({
            "left": m.left, "left_value": number(m.left_value), "sign": m.sign,
            "right": m.right, "right_value": number(m.right_value), "unit": &*m.unit,
            "words": m.words,
        })),
        "remedy": finding.remedy,
        "basis": finding.basis,
        "subjects": finding.subjects,
        "waived": finding.waived.as_ref().map(|w| json!({ "reason": w.reason, "by": w.by,
        "until": w.until.to_string() })),
        "fixes": audited.fixes_searched.map(|_| merged.fixes.iter().map(fix).collect::<Vec<_>>()),
    })
}

/// A proven change that clears a finding.
fn fix(fix: &Repair) -> Value {
    let replacement = |one: &Replacement| {
        let ((line, column), (end_line, end_column)) = fix.places(one);
        json!({ "line": line, "column": column, "end_line": end_line, "end_column": end_column,
        "text": one.text })
    };
    json!({
        "title": fix.title,
        "changes": fix.changes.iter().map(change).collect::<Vec<_>>(),
        "more": fix.more.as_ref().map(money),
        "clears": levels(&fix.clears),
        "raises": levels(&fix.raises),
        "replacements": fix.replacements.iter().map(replacement).collect::<Vec<_>>(),
    })
}

fn filled(filled: &Filled) -> Value {
    json!({ "name": &*filled.name, "words": filled.words, "value": filled.number.map(number),
    "unit": filled.unit })
}

fn pointer(pointer: &Pointer) -> Value {
    let head = json!({ "place": pointer.place, "value": pointer.value });
    let placed = join(head, place(pointer.label.as_ref()));
    join(placed, json!({ "brought_in": pointer.line.as_ref().map(|l| place(Some(l))) }))
}

/// File, line, column and length of a place, or nulls.
fn place(label: Option<&Label>) -> Value {
    let Some(label) = label else {
        return json!({ "file": null, "line": null, "column": null, "length": null });
    };
    let (line, column) = label.source.line_column(label.span.start());
    let length = label.source.slice(label.span).chars().count();
    json!({ "file": label.source.name, "line": line, "column": column, "length": length })
}

pub(super) fn problem(problem: &Problem) -> Value {
    let places: Vec<Value> =
        problem.labels.iter().map(|l| join(place(Some(l)), json!({ "text": l.text }))).collect();
    json!({
        "code": problem.code, "message": problem.message, "help": problem.help, "places": places,
    })
}
