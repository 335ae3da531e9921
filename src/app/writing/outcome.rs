//! The result of rule cases, for people and for programs.

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::escape::inert;
use crate::app::report::page::Page;
use crate::app::report::style::{Look, Role};
use crate::app::writing::new_findings::Rewritten;
use crate::cases::CasesReport;
use crate::level::Level;
use crate::source::{Label, Problem};
use crate::whatif::text_diff::{DiffLine, unified};

pub fn text(look: Look, report: &CasesReport) -> String {
    let failed = |p| look.problem(Role::Level(Level::Stop), p).replacen("STOP", "FAILED", 1);
    let problems = report.broken.iter().map(|p| look.problem(Role::Wrong, p));
    let problems = problems.chain(report.failures.iter().map(failed));
    let problems = problems.chain(report.warnings.iter().map(|p| look.problem(Role::Strong, p)));
    let one_sided = report.one_sided.iter().map(|(label, answer)| {
        format!("{} never {}", label.address(), if *answer { "holds" } else { "fails" })
    });
    let mut page = Page::new(look);
    let about = json!({
        "problems": problems.map(|text| page.keep(text)).collect::<Vec<_>>(),
        "broken": report.broken.len(),
        "failed": report.failures.len(),
        "unfired": report.unfired,
        "unsilent": report.unsilent,
        "unreached": report.unreached.iter().map(Label::address).collect::<Vec<_>>(),
        "one_sided": one_sided.collect::<Vec<_>>(),
        "cases": report.cases,
        "checks": report.checks,
    });
    page.filled("cases.txt", "", about)
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
