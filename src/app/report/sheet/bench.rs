//! The bench leaf: the order of work that the rules' steps tell of this build, each with the
//! findings that touch it.

use serde::Serialize;

use super::findings::{Entry, entry};
use super::queries::{Look, NAME, SENTENCE};
use crate::kit;
use crate::level::Level;
use crate::words::clip;

#[derive(Debug, Serialize)]
pub(super) struct Bench {
    /// What stops the build: while there is any, nothing is to be built.
    stops: Vec<Entry>,
    /// What to do, in order; empty while something stops.
    steps: Vec<Step>,
    /// Findings for the bench that no step is about.
    notes: Vec<Entry>,
}

/// A step: what to do, and which findings touch it.
#[derive(Debug, Serialize)]
struct Step {
    title: String,
    lines: Vec<String>,
    notes: Vec<Entry>,
}

pub(super) fn bench(look: &Look<'_>) -> Bench {
    let stops: Vec<Entry> = look.audited.at(Level::Stop).map(entry).collect();
    if !stops.is_empty() || !look.audited.broken.is_empty() {
        return Bench { stops, steps: Vec::new(), notes: Vec::new() };
    }
    let work = look.kit.work(&look.build);
    let mut steps: Vec<Step> = work
        .iter()
        .map(|step| Step {
            title: clip(&step.title, NAME),
            lines: step.tasks.iter().map(|t| clip(&t.words, SENTENCE)).collect(),
            notes: Vec::new(),
        })
        .collect();
    let mut notes = Vec::new();
    for merged in look.audited.at(Level::Caution).chain(&look.audited.bench) {
        let at = touched(&work, &merged.finding.subjects);
        match at.and_then(|at| steps.get_mut(at)) {
            // A step may say the very thing.
            Some(step) if step.lines.contains(&clip(&merged.finding.message, SENTENCE)) => {}
            Some(step) => step.notes.push(entry(merged)),
            None => notes.push(entry(merged)),
        }
    }
    Bench { stops, steps, notes }
}

/// The last step that is about every part of a finding: the more is built, the closer it gets.
fn touched(work: &[kit::Step], parts: &[String]) -> Option<usize> {
    let is_about = |step: &kit::Step| {
        let about = |part: &String| step.tasks.iter().any(|t| t.parts.contains(part));
        !parts.is_empty() && parts.iter().all(about)
    };
    work.iter().rposition(is_about)
}
