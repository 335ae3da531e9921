//! The order of work at the bench: what the rules' steps say of a build, in order.

use std::rc::Rc;

use crate::audit::verdict::Hole;
use crate::build::lack::Lack;
use crate::build::resolve::Resolved;
use crate::kit::{Audit, Kit, Outcome};

/// The place in the order of work of what no step mentions.
const REST: u32 = 75;

/// A step of the work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// Id of its rule; empty for the parts that no step mentions.
    pub rule: String,
    /// Its heading.
    pub title: String,
    /// What to do, in order; never empty.
    pub tasks: Vec<Task>,
}

/// One thing to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Task {
    /// One sentence.
    pub words: String,
    /// Ids of the parts it is about.
    pub parts: Vec<String>,
}

impl Kit {
    /// The order of work for a build, by the steps of the rules: one after another, those with
    /// nothing to do left out, parts that no step mentions in a step of their own. A step that
    /// waits for an open line, or is broken, says so.
    pub fn work(&self, build: &Rc<Resolved>) -> Vec<Step> {
        let rules = self.rules();
        let mut steps: Vec<(u32, u16)> = rules
            .rules
            .iter()
            .zip(0u16..)
            .filter_map(|(rule, at)| rule.step.map(|order| (order, at)))
            .collect();
        let which: Vec<u16> = steps.iter().map(|(_, at)| *at).collect();
        let audit = self.run_all(build, &which, true);
        steps.sort_unstable();
        let mut work: Vec<(u32, Step)> =
            steps.iter().filter_map(|(order, at)| Some((*order, audit.step(*at)?))).collect();
        work.extend(rest(build, &audit).map(|step| (REST, step)));
        work.sort_by_key(|(order, _)| *order);
        work.into_iter().map(|(_, step)| step).collect()
    }
}

impl Audit {
    /// A step in words; none where it has nothing to do.
    fn step(&self, at: u16) -> Option<Step> {
        let (rule, outcome) =
            self.outcomes().find(|(rule, _)| self.rules.find(&rule.id) == Some(at))?;
        let task = |words: String| Task { words, parts: Vec::new() };
        let tasks = match outcome {
            Outcome::Waits(Lack::Open(kind, _)) => {
                let kind = self.build.catalogue.kind(*kind).map_or("", |k| &*k.title);
                vec![task(format!("Choose the {kind} first: this list leaves it open."))]
            }
            Outcome::Waits(Lack::Fact(fact)) => {
                vec![task(format!("Look up {} first: nobody said it.", fact.place(&self.build)))]
            }
            Outcome::Broken(problem) => {
                vec![task(format!("This step cannot be written: {}.", problem.message))]
            }
            _ => self
                .findings()
                .into_iter()
                .filter(|f| f.rule == *rule.id)
                .map(|f| Task { words: f.message, parts: f.subjects })
                .collect(),
        };
        let title = rule.title.trim_end_matches('.').to_owned();
        (!tasks.is_empty()).then(|| Step { rule: rule.id.to_string(), title, tasks })
    }

    /// Ids of the parts that the messages name.
    fn named(&self) -> Vec<&str> {
        let mut named = Vec::new();
        for (draft, ..) in self.outcomes().flat_map(|(_, outcome)| outcome.found()) {
            let mut holes: Vec<&Hole> =
                draft.message.holes.iter().map(|(_, hole)| hole).chain(&draft.at).collect();
            while let Some(hole) = holes.pop() {
                match hole {
                    Hole::Many(many) => holes.extend(many),
                    Hole::Line(kind, nth) | Hole::Record(kind, nth, ..) => named.extend(
                        self.build.slot(*kind, *nth).and_then(|s| s.part.as_ref()).map(|p| &*p.id),
                    ),
                    Hole::Expr(_) | Hole::Text(_) => {}
                }
            }
        }
        named
    }
}

/// The parts that no step mentions: a shop's own kinds have a place on the sheet before anyone
/// writes a step for them.
fn rest(build: &Resolved, audit: &Audit) -> Option<Step> {
    let named = audit.named();
    let tasks: Vec<Task> = build
        .all()
        .filter_map(|(kind, _, slot)| Some((kind, slot, slot.part.as_ref()?)))
        .filter(|(_, _, part)| !named.contains(&&*part.id))
        .map(|(kind, slot, part)| {
            let count =
                if slot.count > 1.0 { format!("{} × ", slot.count) } else { String::new() };
            let title = build.catalogue.kind(kind).map_or("", |k| &*k.title);
            Task {
                words: format!(
                    "{count}{} ({title}): fit or connect as its manual says.",
                    part.name
                ),
                parts: vec![part.id.to_string()],
            }
        })
        .collect();
    let title = "Everything else on the list".to_owned();
    (!tasks.is_empty()).then(|| Step { rule: String::new(), title, tasks })
}
