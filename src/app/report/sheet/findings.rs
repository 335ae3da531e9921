//! Findings and waivers as the sheet shows them.

use serde::Serialize;

use super::queries::{Look, NAME, SENTENCE};
use crate::app::report::Merged;
use crate::app::report::unsettled::sentences;
use crate::audit::finding::Finding;
use crate::level::Level;
use crate::source::Problem;
use crate::words::clip;

/// Findings by level, the waived ones apart.
#[derive(Debug, Serialize)]
pub(super) struct Groups {
    /// What is at fault, with the stops that another part there clears.
    causes: Vec<(String, Vec<Entry>)>,
    /// Stops that no single line is at fault for.
    stop: Vec<Entry>,
    caution: Vec<Entry>,
    advice: Vec<Entry>,
    waived: Vec<Entry>,
    broken: Vec<String>,
    odd: Vec<String>,
    waiting: Vec<String>,
    /// The facts to look up, and what is taken as usual.
    questions: Vec<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct Entry {
    pub(super) rule: String,
    pub(super) level: String,
    pub(super) message: String,
    margin: String,
    remedy: String,
    basis: String,
    times: usize,
    values: Vec<(String, String, String)>,
    waiver: Option<Waiver>,
}

/// Who signed it off.
#[derive(Debug, Serialize)]
struct Waiver {
    reason: String,
    by: String,
    until: String,
}

/// Whether a finding is nothing to the customer, by its rule's `For:` line.
pub(super) fn is_for_office(look: &Look<'_>, merged: &Merged) -> bool {
    let rules = look.kit.rules();
    rules.rule(&merged.finding.rule).and_then(|r| r.audience.as_deref()) == Some("office")
}

/// Sorts them out.
pub(super) fn groups(look: &Look<'_>) -> Groups {
    let audited = look.audited;
    let at = |level| audited.at(level).map(entry).collect::<Vec<_>>();
    let words = |p: &Problem| clip(&p.message, SENTENCE);
    let blamed: Vec<usize> = audited.causes.iter().flat_map(|c| c.findings.clone()).collect();
    let rest = audited.findings.iter().enumerate().filter(|(at, m)| {
        m.finding.level == Level::Stop && m.finding.waived.is_none() && !blamed.contains(at)
    });
    Groups {
        causes: audited
            .causes
            .iter()
            .map(|cause| {
                let of = cause.findings.iter().filter_map(|at| audited.findings.get(*at));
                let name = format!("{} {}", cause.kind, clip(&cause.name, NAME));
                (name.trim_start().to_owned(), of.map(entry).collect::<Vec<_>>())
            })
            .filter(|(_, of)| !of.is_empty())
            .collect(),
        stop: rest.map(|(_, m)| entry(m)).collect(),
        caution: at(Level::Caution),
        advice: at(Level::Advice),
        waived: audited.waived().map(entry).collect(),
        broken: audited.broken.iter().map(|b| words(&b.told())).collect(),
        odd: audited.waivers.iter().map(words).collect(),
        waiting: audited
            .waiting
            .iter()
            .map(|(rule, kind)| {
                format!("{} waits for the {} line", clip(rule, NAME), clip(kind, NAME))
            })
            .collect(),
        questions: sentences(audited, true).iter().map(|s| clip(s, SENTENCE)).collect(),
    }
}

pub(super) fn entry(merged: &Merged) -> Entry {
    let finding: &Finding = &merged.finding;
    let place = |p: &crate::audit::finding::Pointer| {
        p.label.as_ref().map_or_else(String::new, |l| {
            format!(
                "{} line {}",
                clip(&l.source.name, NAME),
                l.source.line_column(l.span.start()).0
            )
        })
    };
    Entry {
        rule: clip(&finding.rule, NAME),
        level: finding.level.to_string(),
        message: clip(&finding.message, SENTENCE),
        margin: finding.margin.as_ref().map_or_else(String::new, |m| clip(&m.words, NAME)),
        remedy: clip(&finding.remedy, SENTENCE),
        basis: clip(&finding.basis, SENTENCE),
        times: merged.times,
        values: finding
            .pointers
            .iter()
            .map(|p| (clip(&p.place, NAME), clip(&p.value, NAME), place(p)))
            .collect(),
        waiver: finding.waived.as_ref().map(|w| Waiver {
            reason: clip(&w.reason, SENTENCE),
            by: clip(&w.by, 40),
            until: w.until.to_string(),
        }),
    }
}
