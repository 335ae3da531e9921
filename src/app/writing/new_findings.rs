//! `dryfit rules test --write`: what cases would have to say for the rules as they are. A text is
//! made of each cases file whose cases do not say it; whether it is written is the user's decision.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use crate::app::writing::case_edits::{CaseEdit, Entry, FindEdit, Number, edited};
use crate::audit::finding::Finding;
use crate::cases::case::{Case, Find, Wanted};
use crate::cases::{Suite, expectations};
use crate::kit::{Audit, Kit, Layers, Outcome};
use crate::rules::loader::RuleSet;
use crate::source::{Problem, Problems, Source};

/// Most places that a new expectation names.
const MOST_PLACES: usize = 4;

/// A cases file with the findings that its rules raise.
pub struct Rewritten {
    pub source: Arc<Source>,
    pub text: String,
    pub cases: Vec<String>,
}

/// The cases files of the topmost layer that would have to change, of those that `only` and `case`
/// choose; cases whose rules break are left as they are.
/// Errors: the rules cannot be loaded, or a file cannot be edited without loss.
pub fn rewritten(
    layers: &Layers,
    only: Option<&str>,
    case: Option<&str>,
) -> Result<Vec<Rewritten>, Problems> {
    let kit = Kit::load(layers)?;
    kit.remember(false);
    let Some(layer) = layers.rules.last() else { return Ok(Vec::new()) };
    let rules = kit.rules();
    let mut suite = Suite::read(layer, only, kit.catalogue(), &rules, &kit.settings());
    suite.keep(case, &rules);
    let mut files: Vec<(Arc<Source>, Vec<CaseEdit>)> = Vec::new();
    for case in &suite.cases {
        let Some(edit) = edit_of(case, &kit, &rules) else { continue };
        match files.iter_mut().find(|(source, _)| Arc::ptr_eq(source, &case.source)) {
            Some((_, edits)) => edits.push(edit),
            None => files.push((case.source.clone(), vec![edit])),
        }
    }
    let mut all = Vec::new();
    for (source, edits) in files {
        let text = edited(&source.text, &edits).map_err(|p| named(p, &source))?;
        let cases = edits.into_iter().map(|edit| edit.name).collect();
        all.push(Rewritten { source, text, cases });
    }
    Ok(all)
}

fn named(mut problem: Problem, source: &Source) -> Problem {
    problem.message = format!("{}: {}", source.name, problem.message);
    problem
}

/// What a case would have to say; none where it says it, or where a rule breaks on it.
fn edit_of(case: &Case, kit: &Kit, rules: &RuleSet) -> Option<CaseEdit> {
    let bare = case.rules.is_empty();
    let of_file = || of_file(&case.source.name, rules);
    let which = if bare { of_file() } else { case.rules.clone() };
    let edit = case.run_rules(kit, &which, |audit| {
        let breaks = |o: &Outcome| matches!(o, Outcome::Broken(_) | Outcome::Waits(_));
        if audit.outcomes().any(|(rule, outcome)| rule.flaw.is_some() || breaks(outcome)) {
            return None;
        }
        Some(Wish::of(case, audit).edit(&which, bare))
    })?;
    (!edit.is_empty()).then_some(edit)
}

/// The rules of the file that a cases file goes with: `fit_edges.cases.toml` with `fit.rhai`.
fn of_file(name: &str, rules: &RuleSet) -> BTreeSet<String> {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    let file = file.strip_suffix(".cases.toml").unwrap_or(file);
    let goes_with = |stem: &str| {
        file.strip_prefix(stem).is_some_and(|rest| rest.is_empty() || rest.starts_with('_'))
    };
    let stem = |id: &str| id.split('.').next().unwrap_or("").to_owned();
    let stems = rules.rules.iter().map(|rule| stem(&rule.id)).filter(|s| goes_with(s));
    let Some(longest) = stems.max_by_key(String::len) else { return BTreeSet::new() };
    let own = rules.rules.iter().filter(|r| r.unit.is_none() && stem(&r.id) == longest);
    own.map(|rule| rule.id.to_string()).collect()
}

/// A case beside what the rules say of its build.
struct Wish<'a> {
    case: &'a Case,
    findings: Vec<Finding>,
    open: BTreeSet<String>,
    measures: HashMap<String, Option<f64>>,
}

impl<'a> Wish<'a> {
    fn of(case: &'a Case, audit: &Audit) -> Self {
        let measures = audit.measures().into_iter().map(|m| (m.id.to_string(), m.value)).collect();
        Self {
            case,
            findings: [audit.findings(), audit.sheet_findings()].concat(),
            open: audit.open_rules().into_iter().map(|o| o.rule).collect(),
            measures,
        }
    }

    fn edit(&self, which: &BTreeSet<String>, bare: bool) -> CaseEdit {
        let mut edit = CaseEdit::new(self.case.nth, &self.case.name);
        for rule in which {
            self.rule(rule, bare, &mut edit);
        }
        for (at, wanted) in self.case.measures.iter().enumerate() {
            edit.measures.extend(self.number(wanted).map(|number| (at, number)));
        }
        edit
    }

    fn rule(&self, rule: &str, bare: bool, edit: &mut CaseEdit) {
        let has = |named: &[(String, _)]| named.iter().any(|(id, _)| id == rule);
        let (silent, open) = (has(&self.case.silent), has(&self.case.open));
        let raised: Vec<&Finding> = self.findings.iter().filter(|f| f.rule == rule).collect();
        let is_open = self.open.contains(rule);
        let wanted = || self.case.finds.iter().enumerate().filter(|(_, f)| f.rule == rule);
        let new = bare || (silent || open) && !is_open && !raised.is_empty();
        if new {
            edit.finds.extend(entries(&raised).into_iter().map(FindEdit::Add));
        }
        let kept = self.finds(wanted(), &raised, edit);
        let expected = wanted().next().is_some();
        let nothing = expected && !kept && raised.is_empty();
        let quiet = (silent || open || nothing) && raised.is_empty() && !is_open;
        edit.silent.turn(rule, silent, quiet);
        edit.open.turn(rule, open, is_open && (open || silent || nothing || bare));
    }

    /// Puts expectations right that do not hold; whether one of them is left.
    fn finds<'f>(
        &self,
        wanted: impl Iterator<Item = (usize, &'f Find)> + Clone,
        raised: &[&Finding],
        edit: &mut CaseEdit,
    ) -> bool {
        let holds = |find: &Find| find.problem(&self.findings).is_none();
        let taken = |f: &&&Finding| wanted.clone().any(|(_, w)| holds(w) && w.is_met_by(f));
        let free: Vec<&Finding> = raised.iter().filter(|f| !taken(f)).copied().collect();
        let mut free = entries(&free).into_iter();
        let mut kept = false;
        for (at, find) in wanted.clone() {
            let met = raised.iter().filter(|f| find.is_met_by(f)).count();
            if holds(find) {
                kept = true;
            } else if met > 0 {
                // What it says is right, but for how often.
                let entry = Entry { times: Some(met), ..Entry::default() };
                edit.finds.push(FindEdit::Set(at, entry));
                kept = true;
            } else if let Some(entry) = free.next() {
                edit.finds.push(FindEdit::Set(at, narrowed(find, entry, raised)));
                kept = true;
            } else {
                edit.finds.push(FindEdit::Drop(at));
            }
        }
        kept
    }

    /// The number that a measure gives, where it is not the one that is wanted.
    fn number(&self, wanted: &Wanted) -> Option<Number> {
        let got = *self.measures.get(&wanted.name)?;
        match (got, wanted.value) {
            (Some(got), Some(value)) if (got - value).abs() <= wanted.within => None,
            (None, None) => None,
            (Some(got), _) => {
                let short = (got * 1e6).round() / 1e6;
                let near = (short - got).abs() <= wanted.within;
                Some(Number::Is(if near { short } else { got }))
            }
            (None, Some(_)) => Some(Number::Absent),
        }
    }
}

/// Findings as a case would expect them; the same said more than once is one.
fn entries(raised: &[&Finding]) -> Vec<Entry> {
    let mut all: Vec<Entry> = Vec::new();
    for finding in raised {
        let (level, says) = (finding.level.to_string(), &finding.message);
        let same =
            |e: &&mut Entry| e.level.as_ref() == Some(&level) && e.says.as_ref() == Some(says);
        if let Some(entry) = all.iter_mut().find(same) {
            entry.times = Some(entry.times.unwrap_or(1) + 1);
            continue;
        }
        all.push(Entry {
            rule: Some(finding.rule.clone()),
            level: Some(level),
            at: Some(places(finding)),
            says: Some(says.clone()),
            times: None,
        });
    }
    all
}

/// The places that a finding points at, as cases write them.
fn places(finding: &Finding) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for pointer in &finding.pointers {
        let bare = expectations::bare(&pointer.place);
        let place = match bare.strip_prefix("setting ") {
            Some(name) => format!("setting:{name}"),
            None => bare,
        };
        let plain = place.contains('.') && !place.contains(' ');
        if plain && !all.contains(&place) && all.len() < MOST_PLACES {
            all.push(place);
        }
    }
    all
}

/// A new expectation in place of one that does not hold: it names what that one named, and keeps
/// what of it is right.
fn narrowed(find: &Find, entry: Entry, raised: &[&Finding]) -> Entry {
    let of = raised.iter().find(|f| {
        Some(&f.message) == entry.says.as_ref() && Some(f.level.to_string()) == entry.level
    });
    let level = entry.level.filter(|level| find.level.as_ref().is_some_and(|l| l != level));
    let says = entry.says.filter(|m| find.says.as_ref().is_some_and(|s| !m.contains(s.as_str())));
    let still: Vec<String> =
        find.at.iter().filter(|at| of.is_some_and(|f| points_at(f, at))).cloned().collect();
    let at = match (find.at.len() == still.len(), still.is_empty()) {
        (true, _) => None,
        (false, true) => entry.at,
        (false, false) => Some(still),
    };
    let times =
        find.times.filter(|t| *t != entry.times.unwrap_or(1)).and(Some(entry.times.unwrap_or(1)));
    Entry { rule: None, level, at, says, times }
}

fn points_at(finding: &Finding, at: &str) -> bool {
    finding.pointers.iter().any(|p| expectations::same_place(at, &p.place))
}
