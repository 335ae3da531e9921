//! What a catalogue had to leave out, said aside: once in a run, by name.

use std::collections::HashSet;
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::app::counted::count;
use crate::catalogue::{Broken, Catalogue};
use crate::kit::{Kit, Layers};
use crate::source::{Problem, Problems};
use crate::words::some_of;

/// Reasons that are told in full; the rest are counted and named.
const SHOWN: usize = 5;
/// What is told of one part at most.
const WRONGS: usize = 6;
/// Parts that are named for one reason.
const NAMED: usize = 8;

/// What is to be said, and what was said already: no list and no reload repeats it.
#[derive(Default)]
struct Held {
    waiting: Vec<Broken>,
    known: Option<HashSet<String>>,
}

static HELD: Mutex<Held> = Mutex::new(Held { waiting: Vec::new(), known: None });

fn held() -> MutexGuard<'static, Held> {
    HELD.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Loads a kit, and notes what its catalogue leaves out.
pub(crate) fn kit(layers: &Layers) -> Result<Kit, Problems> {
    let kit = Kit::load(layers)?;
    note(kit.catalogue());
    Ok(kit)
}

/// Takes note of the parts that a catalogue leaves out.
pub(crate) fn note(catalogue: &Catalogue) {
    if catalogue.broken().is_empty() {
        return;
    }
    let mut held = held();
    for broken in catalogue.broken() {
        let key = broken.problems.iter().map(|problem| format!("{problem}\n")).collect();
        if held.known.get_or_insert_default().insert(key) {
            held.waiting.push(broken.clone());
        }
    }
}

/// Takes off what a list that uses such a part was refused with: it has been said.
pub(crate) fn told(problems: &Problems) {
    let mut held = held();
    if held.waiting.is_empty() {
        return;
    }
    let said: HashSet<String> = problems.0.iter().map(ToString::to_string).collect();
    held.waiting.retain(|broken| {
        let all = |mut told: Box<dyn Iterator<Item = Problem> + '_>| {
            told.all(|problem| said.contains(&problem.to_string()))
        };
        !all(Box::new(broken.problems.iter().cloned())) && !all(Box::new(reasons(broken)))
    });
}

/// What has not been said yet: which parts are left out and why.
pub(crate) fn take() -> Vec<Problem> {
    let waiting = std::mem::take(&mut held().waiting);
    let mut problems: Vec<Problem> = waiting.iter().take(SHOWN).flat_map(reasons).collect();
    let rest: Vec<&str> =
        waiting.iter().skip(SHOWN).flat_map(|b| &b.parts).map(|part| &**part).collect();
    if !rest.is_empty() {
        let number = count(rest.len(), "more part");
        let problem = Problem::new(format!("{number} left out: {}", some_of(rest, NAMED)));
        problems.push(problem.help("`dryfit parts check` says why"));
    }
    problems
}

/// Why parts are left out: what is wrong with them, the first with their names.
pub(crate) fn reasons(broken: &Broken) -> impl Iterator<Item = Problem> {
    let named = match broken.parts.as_slice() {
        [] => String::new(),
        [part] => format!("{part} is left out: "),
        parts => {
            format!("{} are left out: ", some_of(parts.iter().map(|part| &**part), NAMED))
        }
    };
    broken.problems.iter().take(WRONGS).enumerate().map(move |(at, problem)| {
        let lead = if at == 0 { named.as_str() } else { "" };
        Problem { message: format!("{lead}{}", problem.message), ..problem.clone() }
    })
}
