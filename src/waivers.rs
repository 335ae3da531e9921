//! The shop's own waivers, and what is odd about any waiver: expired, unused, or for a rule that is
//! not there.

use jiff::civil::Date;

use crate::audit::finding::Finding;
use crate::build::resolve::Resolved;
use crate::build::waivers::{WHOLE_BUILD, read_file};
use crate::build::{Waiver, What};
use crate::layer::Layer;
use crate::source::{Problem, Problems};

/// Reads `waivers.toml` of every layer in force.
pub(crate) fn load(layers: &[Layer]) -> Result<Vec<Waiver>, Problems> {
    let mut problems = Problems::default();
    let mut waivers = Vec::new();
    for layer in Layer::in_force(layers) {
        for (_, source) in layer.files.iter().filter(|(below, _)| below == "waivers.toml") {
            waivers.extend(read_file(source, &mut problems));
        }
    }
    problems.or(waivers)
}

/// Whether a waiver signs a finding off on a day.
pub(crate) fn covers(waiver: &Waiver, finding: &Finding, day: Date) -> bool {
    waiver.rule == finding.rule && waiver.is_about(&finding.subjects) && waiver.until >= day
}

/// Which rules there are, and which of them gave a verdict.
pub(crate) struct Rules<'a> {
    /// Every rule's id.
    pub(crate) ids: Vec<&'a str>,
    /// Rules that gave a verdict.
    pub(crate) known: Vec<&'a str>,
}

/// What is odd about waivers: the build's own, and the shop's as far as they concern the build.
pub(crate) fn problems(
    build: &Resolved,
    shop: &[Waiver],
    findings: &[Finding],
    rules: &Rules<'_>,
) -> Vec<Problem> {
    let own = build.build.waivers.iter().filter_map(|w| odd(w, build, findings, rules, true));
    own.chain(shop.iter().filter_map(|w| odd(w, build, findings, rules, concerns(w, build))))
        .collect()
}

/// Whether a build has what a shop's waiver is about: one that is for other builds is not unused.
fn concerns(waiver: &Waiver, build: &Resolved) -> bool {
    build.build.lines.iter().any(|line| {
        let part =
            matches!(&line.what, What::Part(part) if waiver.subject.as_deref() == Some(&*part.id));
        part || build
            .catalogue
            .kind(line.kind())
            .is_some_and(|k| waiver.subject.as_deref() == Some(&*k.name))
    }) || waiver.subject.as_deref() == Some(WHOLE_BUILD)
}

fn odd(
    waiver: &Waiver,
    build: &Resolved,
    findings: &[Finding],
    rules: &Rules<'_>,
    concerned: bool,
) -> Option<Problem> {
    let problem =
        |message: String, label: &str| Problem::new(message).at(&waiver.source, waiver.span, label);
    let rule = &waiver.rule;
    if !rules.ids.contains(&rule.as_str()) {
        let problem = problem(
            format!("a waiver names rule `{}`, which does not exist", crate::words::clip(rule, 60)),
            "this waiver",
        );
        return Some(
            problem
                .help("take it out, or name the rule that took its place")
                .suggest(rule, rules.ids.iter().copied()),
        );
    }
    let day = build.build.priced_on;
    if waiver.until < day {
        return Some(
            problem(format!("the waiver of {rule} ended on {}", waiver.until), "expired")
                .help("renew it with a new date and initials, or mend the build"),
        );
    }
    // A rule that is switched off, broken or waiting has had no say yet.
    let used =
        findings.iter().any(|f| covers(waiver, f, day)) || !rules.known.contains(&rule.as_str());
    (concerned && !used).then(|| {
        let elsewhere: Vec<String> =
            findings.iter().filter(|f| f.rule == *rule).flat_map(|f| f.subjects.clone()).collect();
        let help = if elsewhere.is_empty() {
            "take it out".to_owned()
        } else {
            format!(
                "the rule speaks of {}; take the waiver out, or name that",
                elsewhere.join(", ")
            )
        };
        problem(format!("the waiver of {rule} covers nothing"), "unused").help(help)
    })
}
