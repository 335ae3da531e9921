//! Whether a case's audit is as it wants it, and how to say that it is not.

use super::case::{Case, Find};
use crate::audit::finding::Finding;
use crate::kit::{Audit, Outcome};
use crate::rules::loader::BrokenRule;
use crate::source::{Label, Problem, Span};
use crate::words::clip;

/// A tolerance that only lets the dust of binary fractions through.
const DUST: f64 = 1e-8;

impl Case {
    /// Everything in which an audit differs from what the case wants.
    pub(crate) fn problems(&self, audit: &Audit) -> Vec<Problem> {
        let mut out = Vec::new();
        // A rule that names what nobody knows is told once, with its file, not once a case.
        if audit.outcomes().any(|(rule, _)| rule.flaw.is_some()) {
            return out;
        }
        let findings = [audit.findings(), audit.sheet_findings()].concat();
        for (rule, outcome) in audit.outcomes() {
            match outcome {
                Outcome::Broken(problem) => {
                    let mut problem = BrokenRule::new(rule, problem).told();
                    problem.message = format!("case \"{}\": {}", self.name, problem.message);
                    problem.labels.push(Label {
                        source: self.source.clone(),
                        span: self.head,
                        text: "in this case".to_owned(),
                    });
                    out.push(problem);
                }
                Outcome::Waits(_) => out.push(self.fail(
                    &format!("rule {} waits for an open line", rule.id),
                    self.head,
                    "in this case",
                )),
                Outcome::Known(_) | Outcome::Explored(_) => {}
            }
        }
        for find in &self.finds {
            out.extend(find.problem(&findings).map(|(message, help)| {
                let why = reason(audit, &find.rule);
                self.fail(&message, find.span, "expected here").help(format!("{help}{why}"))
            }));
        }
        for (rule, span) in &self.silent {
            if let Some(found) = findings.iter().find(|f| f.rule == *rule) {
                let said = format!(
                    "{rule} must be silent, and it gives {}: {}",
                    found.level, found.message
                );
                let problem = self.fail(&said, *span, "must be silent");
                let why = reason(audit, rule);
                out.push(match why.strip_prefix("; ") {
                    Some(why) => problem.help(why),
                    None => problem,
                });
            }
        }
        self.settled(audit, &mut out);
        self.measured(audit, &mut out);
        out
    }

    /// Rules that wait for a fact: those that the case names as open do, those it calls silent do
    /// not.
    fn settled(&self, audit: &Audit, out: &mut Vec<Problem>) {
        let open = audit.open_rules();
        let is_open = |rule: &str| open.iter().any(|o| o.rule == rule);
        for (rule, span) in self.open.iter().filter(|(rule, _)| !is_open(rule)) {
            let message = format!("{rule} must be open, and no fact that is unknown decides it");
            out.push(self.fail(&message, *span, "must be open"));
        }
        for (rule, span) in self.silent.iter().filter(|(rule, _)| is_open(rule)) {
            let message = format!("{rule} must be silent, and it waits for a fact");
            out.push(self.fail(&message, *span, "must be silent"));
        }
    }

    fn fail(&self, message: &str, span: Span, label: &str) -> Problem {
        Problem::new(format!("case \"{}\": {message}", self.name)).at(&self.source, span, label)
    }

    fn measured(&self, audit: &Audit, out: &mut Vec<Problem>) {
        let measures = audit.measures();
        for wanted in &self.measures {
            // A measure that broke has said so.
            let Some(got) = measures.iter().find(|m| *m.id == *wanted.name) else { continue };
            let good = match (got.value, wanted.value) {
                (Some(got), Some(value)) => (got - value).abs() <= wanted.within,
                (None, None) => true,
                _ => false,
            };
            if !good {
                let show = |n: Option<f64>| {
                    n.map_or_else(
                        || "absent".to_owned(),
                        |n| {
                            format!(
                                "{n} {}",
                                if &*got.unit == "money" {
                                    &*audit.build().build.currency
                                } else {
                                    &*got.unit
                                }
                            )
                            .trim_end()
                            .to_owned()
                        },
                    )
                };
                let within = if wanted.value.is_some() && wanted.within > DUST {
                    format!(" within {}", wanted.within)
                } else {
                    String::new()
                };
                let far = got.value.zip(wanted.value).map_or_else(String::new, |(a, b)| {
                    format!(", {} off", crate::audit::wording::figure((a - b).abs(), "", ""))
                });
                out.push(self.fail(
                    &format!(
                        "{} is {}, expected {}{within}{far}",
                        wanted.name,
                        show(got.value),
                        show(wanted.value)
                    ),
                    wanted.span,
                    "expected here",
                ));
            }
        }
    }
}

/// What a rule is for, in a sentence: who reads of a case that fails should not have to look it up.
fn reason(audit: &Audit, id: &str) -> String {
    let Some((rule, _)) = audit.outcomes().find(|(rule, _)| *rule.id == *id) else {
        return String::new();
    };
    let why = rule.why.split_inclusive(". ").next().unwrap_or("").trim();
    let why = if why.is_empty() { &rule.title } else { why };
    format!("; {id} is there for this: {}", clip(why, 160))
}

impl Find {
    /// What is wrong with the findings, and what was found instead.
    pub(crate) fn problem(&self, findings: &[Finding]) -> Option<(String, String)> {
        let of_rule: Vec<&Finding> = findings.iter().filter(|f| f.rule == self.rule).collect();
        let matching = of_rule.iter().filter(|f| self.is_met_by(f)).count();
        if matching > 0 && self.times.is_none_or(|t| t == matching) {
            return None;
        }
        let seen: Vec<String> = of_rule
            .iter()
            .map(|f| {
                format!(
                    "{}: {} (at {})",
                    f.level,
                    f.message,
                    f.pointers.iter().map(|p| p.place.as_str()).collect::<Vec<_>>().join(", ")
                )
            })
            .collect();
        let help = if seen.is_empty() {
            "it found nothing".to_owned()
        } else {
            format!("it found {}", seen.join("; "))
        };
        Some((format!("{} must give {}", self.rule, self.wanted(matching)), help))
    }

    /// Whether a finding is one that is wanted, however often.
    pub(crate) fn is_met_by(&self, finding: &Finding) -> bool {
        let points_at = |at: &String| finding.pointers.iter().any(|p| same_place(at, &p.place));
        self.rule == finding.rule
            && self.level.as_ref().is_none_or(|l| *l == finding.level.to_string())
            && self.says.as_ref().is_none_or(|s| finding.message.contains(s.as_str()))
            && self.at.iter().all(points_at)
    }

    fn wanted(&self, matching: usize) -> String {
        let mut wanted = self.level.clone().unwrap_or_else(|| "a finding".to_owned());
        if let Some(says) = &self.says {
            wanted.push_str(&format!(" saying \"{says}\""));
        }
        if !self.at.is_empty() {
            wanted.push_str(&format!(" at {}", self.at.join(", ")));
        }
        if let Some(times) = self.times {
            wanted.push_str(&format!(", {times} times, not {matching}"));
        }
        wanted
    }
}

/// Whether a place as a case writes it is the place of a pointer: `fan.flow` stands for any fan's.
pub(crate) fn same_place(wanted: &str, place: &str) -> bool {
    let wanted = wanted
        .strip_prefix("setting:")
        .map_or_else(|| wanted.to_owned(), |s| format!("setting {s}"));
    wanted == place || wanted == bare(place)
}

/// A place without its numbers in square brackets.
pub(crate) fn bare(place: &str) -> String {
    let mut out = String::new();
    let mut depth = 0;
    for c in place.chars() {
        match c {
            '[' => depth += 1,
            ']' => depth -= 1,
            c if depth == 0 => out.push(c),
            _ => {}
        }
    }
    out
}
