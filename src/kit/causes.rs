//! Causes with their names: the lines at fault, each with the stops that a change there clears.

use crate::audit::finding::Finding;
use crate::kit::Audit;
use crate::level::Level;
use crate::source::Label;

/// A line of the list with the stops that another part there clears.
#[derive(Debug, Clone)]
pub struct Cause {
    /// What its kind is called; empty for stops that no single line's change clears.
    pub kind: String,
    /// What its part is called.
    pub name: String,
    /// Where the list names the part.
    pub at: Option<Label>,
    /// Places of its stops among the findings given, in that order.
    pub findings: Vec<usize>,
}

/// Groups every stop in force under one line each, the line that clears most first; those that no
/// single line clears come last, together.
pub fn causes(audit: &Audit, findings: &[Finding]) -> Vec<Cause> {
    let blames = audit.blames(findings);
    let mut causes: Vec<Cause> =
        blames.lines.into_iter().map(|b| cause(audit, b.line, b.clears)).collect();
    // Every stop is told: one that holds only where parts are as usual is put down to no line.
    let told: Vec<usize> = causes.iter().flat_map(|c| c.findings.iter().copied()).collect();
    let stops = |f: &Finding| f.level == Level::Stop && f.waived.is_none();
    let rest: Vec<usize> = findings
        .iter()
        .enumerate()
        .filter(|(at, f)| stops(f) && !told.contains(at))
        .map(|(at, _)| at)
        .collect();
    if !rest.is_empty() {
        causes.push(Cause {
            kind: String::new(),
            name: "list as a whole".to_owned(),
            at: None,
            findings: rest,
        });
    }
    causes
}

fn cause(audit: &Audit, line: usize, findings: Vec<usize>) -> Cause {
    let build = audit.build();
    let of_line = build.all().find(|(_, _, slot)| slot.line == line && !slot.included);
    let Some((kind, nth, slot)) = of_line else {
        return Cause {
            kind: String::new(),
            name: format!("line {}", line + 1),
            at: None,
            findings,
        };
    };
    Cause {
        kind: build.catalogue.kind(kind).map_or_else(String::new, |k| k.title.clone()),
        name: slot.part.as_ref().map_or_else(String::new, |p| p.name.to_string()),
        at: audit.with_view(|view, _| crate::audit::place::build_line(view, kind, nth)),
        findings,
    }
}
