//! The result of rule cases, for people and for programs.

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::escape::inert;
use crate::app::report::style::{Look, Role};
use crate::app::writing::new_findings::Rewritten;
use crate::cases::CasesReport;
use crate::level::Level;
use crate::source::{Label, Problem};
use crate::whatif::text_diff::{DiffLine, unified};

/// Most places that are listed for people.
const MOST_PLACES: usize = 12;

pub fn text(look: Look, report: &CasesReport) -> String {
    let mut out = String::new();
    for problem in &report.broken {
        out.push_str(&look.problem(Role::Wrong, problem));
        out.push('\n');
    }
    for problem in &report.failures {
        out.push_str(
            &look.problem(Role::Level(Level::Stop), problem).replacen("STOP", "FAILED", 1),
        );
        out.push('\n');
    }
    for problem in &report.warnings {
        out.push_str(&look.problem(Role::Strong, problem));
        out.push('\n');
    }
    out.push_str(&look.noted("No case fires or reckons:", &report.unfired.join(", ")));
    out.push_str(&look.noted("No case leaves silent:", &report.unsilent.join(", ")));
    let reached: Vec<String> = report.unreached.iter().map(Label::address).collect();
    out.push_str(&look.noted("No case gets to:", &some(&reached)));
    let sides: Vec<String> = report
        .one_sided
        .iter()
        .map(|(label, answer)| {
            format!("{} never {}", label.address(), if *answer { "holds" } else { "fails" })
        })
        .collect();
    out.push_str(&look.noted("Compared with one outcome only:", &some(&sides)));
    if !out.is_empty() {
        out.push('\n');
    }
    out.push_str(&summary(report));
    out
}

/// The line at the end.
fn summary(report: &CasesReport) -> String {
    let mut words = Vec::new();
    if !report.broken.is_empty() {
        words.push(format!("{} in the rules", count(report.broken.len(), "mistake")));
    }
    if !report.failures.is_empty() {
        words.push(format!("{} not as expected", report.failures.len()));
    }
    let missing = report.unfired.len() + report.unsilent.len();
    if missing > 0 {
        words.push(format!("{missing} still to be written"));
    }
    let words = if words.is_empty() { "all as expected".to_owned() } else { words.join(", ") };
    format!("{}, {}: {words}\n", count(report.cases, "case"), count(report.checks, "check"))
}

fn some(places: &[String]) -> String {
    let shown = places.iter().take(MOST_PLACES).cloned().collect::<Vec<_>>().join("; ");
    match places.len().saturating_sub(MOST_PLACES) {
        0 => shown,
        more => format!("{shown}; and {more} more, all listed by --format json"),
    }
}

/// What cases would have to say for the rules as they are, line by line.
pub fn changes(new: &[Rewritten], written: bool) -> String {
    let mut out = String::new();
    for file in new {
        let cases = count(file.cases.len(), "case");
        let name = inert(&file.source.name);
        out.push_str(&match written {
            true => format!("Written to {name} ({cases}); read it before you keep it:\n"),
            false => format!("`--write` would write to {name} ({cases}):\n"),
        });
        let mut number = 0;
        for line in unified(&file.source.text, &file.text) {
            let (sign, pieces) = match line {
                DiffLine::Head(first, ..) => {
                    number = first;
                    continue;
                }
                DiffLine::NoEnd => continue,
                DiffLine::Line(sign, pieces) => (sign, pieces),
            };
            let text: String = pieces.into_iter().map(|(_, text)| text).collect();
            let line = match sign {
                '+' => format!("       + {}", inert(&text)),
                '-' => format!("{number:>6} - {}", inert(&text)),
                _ => String::new(),
            };
            if sign != ' ' {
                out.push_str(line.trim_end());
                out.push('\n');
            }
            number += usize::from(sign != '+');
        }
    }
    out
}

/// For programs: format `dryfit-cases`, version 1.
pub fn json(report: &CasesReport, new: &[Rewritten], written: bool) -> Value {
    let problem = |p: &Problem| {
        json!({ "message": p.message, "help": p.help,
    "places": p.labels.iter().map(|l| json!({ "at": l.address(),
    "text": l.text })).collect::<Vec<Value>>() })
    };
    let all = |problems: &[Problem]| problems.iter().map(problem).collect::<Vec<_>>();
    json!({
        "format": "dryfit-cases",
        "version": 1,
        "good": report.good(),
        "cases": report.cases,
        "checks": report.checks,
        "failures": all(&report.failures),
        "broken": all(&report.broken),
        "warnings": all(&report.warnings),
        "new": new.iter().map(|n| json!({ "file": n.source.name, "cases": n.cases }))
            .collect::<Vec<Value>>(),
        "written": written,
        "unfired": report.unfired,
        "unsilent": report.unsilent,
        "unreached": report.unreached.iter().map(Label::address).collect::<Vec<_>>(),
        "one_sided": report
            .one_sided
            .iter()
            .map(|(l, answer)| json!({ "at": l.address(), "never": answer }))
            .collect::<Vec<Value>>(),
    })
}
