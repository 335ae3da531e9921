//! What the cases show of each rule: what it reads, a build that it speaks of, and one that it does
//! not.

use std::collections::{BTreeMap, BTreeSet};

use super::reads::reads;
use crate::cases::{Case, Suite, first_in_force};
use crate::kit::{Audit, Kit, Layers};

pub(crate) struct Example {
    /// File and line.
    pub(crate) place: String,
    /// The case as it is written.
    pub(crate) text: String,
    /// What the rule says of it.
    pub(crate) said: Vec<String>,
}

/// What the cases show of a rule.
#[derive(Default)]
pub(crate) struct Shown {
    /// The places that it looks at, over all its cases.
    pub(crate) reads: BTreeSet<String>,
    /// The shortest case that it speaks of.
    pub(crate) fires: Option<Example>,
    /// The shortest case that it leaves alone.
    pub(crate) silent: Option<Example>,
}

/// Runs the cases of the rules that are wanted, and shows what comes of each.
pub(crate) fn gather(
    kit: &Kit,
    layers: &Layers,
    wanted: impl Fn(&str) -> bool,
) -> BTreeMap<String, Shown> {
    let mut all: BTreeMap<String, Shown> = BTreeMap::new();
    for layer in layers.rules.get(first_in_force(layers)..).unwrap_or(&[]) {
        let suite = Suite::read(layer, None, kit.catalogue(), &kit.rules(), &kit.settings());
        for case in &suite.cases {
            let ids: Vec<&String> = case.rules.iter().filter(|id| wanted(id)).collect();
            if ids.is_empty() {
                continue;
            }
            case.run(kit, |audit| {
                for id in &ids {
                    all.entry((*id).clone()).or_default().take(audit, case, id);
                }
            });
        }
    }
    all
}

/// Which rules look at a place, over all their cases.
pub(crate) fn readers(shown: &BTreeMap<String, Shown>) -> BTreeMap<String, Vec<String>> {
    let mut readers: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (id, shown) in shown {
        for place in &shown.reads {
            readers.entry(place.clone()).or_default().push(id.clone());
        }
    }
    readers
}

impl Shown {
    /// The shortest case of each sort is the example.
    fn take(&mut self, audit: &Audit, case: &Case, id: &str) {
        self.reads.extend(reads(audit, id));
        let mut said: Vec<String> = audit
            .findings()
            .iter()
            .filter(|f| f.rule == id)
            .map(|f| format!("{}: {}", f.level, f.message))
            .collect();
        said.extend(
            audit
                .measures()
                .iter()
                .filter(|m| *m.id == *id && m.value.is_some())
                .map(|m| m.words.clone()),
        );
        let slot = match (case.fires(id) && !said.is_empty(), case.silences(id) && said.is_empty())
        {
            (true, _) => &mut self.fires,
            (_, true) => &mut self.silent,
            _ => return,
        };
        let text = case.source.slice(case.whole);
        if slot.as_ref().is_none_or(|held| text.len() < held.text.len()) {
            let (line, _) = case.source.line_column(case.head.start());
            *slot = Some(Example {
                place: format!("{}:{line}", case.source.name),
                text: text.to_owned(),
                said,
            });
        }
    }
}
