//! Commands that look for better builds: fit, steps, mend, mix.

use std::sync::Arc;

use crate::app::interrupt;
use crate::app::prompt::output::Page;
use crate::app::prompt::search_report::{self, How};
use crate::app::prompt::session::{Ask, Session};
use crate::kit::Kit;
use crate::rules::loader::{Better, Rule, RuleSet};
use crate::source::{Problem, Problems};
use crate::whatif::diff::{LineView, views};
use crate::whatif::edit::Edit;
use crate::whatif::fit::{Fit, Step, fit, steps};
use crate::whatif::mend::{MOST_ELEMENTS, Mend, MendWay, edits, mend};
use crate::whatif::mix::{Difference, mix};
use crate::whatif::search::SearchLimits;
use crate::whatif::trial::Snapshot;
use crate::words::{clip, some_of};

/// The measure that a price is weighed against where none is named.
const USUAL: &str = "value.index";

/// A measure that tells better from worse.
pub(crate) struct Weighed {
    /// Its place among the rules, and whether more of it is better.
    pub(crate) rule: (u16, bool),
    pub(crate) id: String,
    /// What reports call it.
    pub(crate) name: Arc<str>,
    pub(crate) title: Arc<str>,
    pub(crate) unit: Arc<str>,
}

/// The measure that a name means: its id, the end of it, or what reports call it.
pub(super) fn measure_called<'r>(rules: &'r RuleSet, name: &str) -> Result<&'r Rule, Problem> {
    let found: Vec<&Rule> = rules
        .measures_called(name)
        .into_iter()
        .filter_map(|at| rules.rules.get(usize::from(at)))
        .collect();
    match found.as_slice() {
        [one] => Ok(one),
        [] => {
            let measures = || rules.rules.iter().filter(|rule| rule.unit.is_some());
            let names = measures().flat_map(|rule| [&*rule.id, &rule.function, &rule.name]);
            let problem = Problem::new(format!("there is no measure `{}`", clip(name, 40)));
            Err(problem.help("`measures` lists them").suggest(name, names))
        }
        several => {
            let ids = some_of(several.iter().map(|rule| &*rule.id), 8);
            let problem = Problem::new(format!("several measures are called `{name}`"));
            Err(problem.help(format!("say which: {ids}")))
        }
    }
}

/// The measure that a price is weighed against; none where none is named and the usual one is gone.
/// Errors: there is no such measure, or it does not tell better from worse.
pub(crate) fn weighed(kit: &Kit, by: Option<&str>) -> Result<Option<Weighed>, Problem> {
    let rules = kit.rules();
    let rule = match by {
        Some(name) => measure_called(&rules, name)?,
        None => match rules.rule(USUAL) {
            Some(rule) => rule,
            None => return Ok(None),
        },
    };
    let (Some(at), Some(better), Some(unit)) =
        (rules.find(&rule.id), rule.better, rule.unit.clone())
    else {
        return if by.is_some() { Err(no_better(&rules, rule)) } else { Ok(None) };
    };
    let (id, name, title) = (rule.id.to_string(), rule.name.clone(), rule.title.clone());
    Ok(Some(Weighed { rule: (at, better == Better::More), id, name, title, unit }))
}

/// Says which measures there are that tell better from worse.
fn no_better(rules: &RuleSet, rule: &Rule) -> Problem {
    let names = rules.rules.iter().filter(|r| r.better.is_some()).map(|r| &*r.id);
    let names: Vec<&str> = names.collect();
    Problem::new(format!("{} tells no better from worse", rule.id))
        .help(format!("those that do have a `Better:` line: {}", names.join(", ")))
}

/// The place of a measure among those of a fit.
pub(super) fn ordered_by(kit: &Kit, fit: &Fit, by: Option<&str>) -> Result<Option<usize>, Problem> {
    let rules = kit.rules();
    let place = |name: &str| {
        let rule = measure_called(&rules, name)?;
        let found = fit.measures.iter().position(|m| *m.id == *rule.id);
        found.ok_or_else(|| no_better(&rules, rule))
    };
    by.map(place).transpose()
}

pub(crate) struct LineSteps {
    pub(crate) line: LineView,
    pub(crate) fit: Fit,
    pub(crate) up: Vec<Step>,
    pub(crate) down: Vec<Step>,
}

/// The next steps on one line, or on each: what the customer has already is left alone unless it is
/// asked for.
pub(super) fn every_step(
    kit: &Kit,
    list: &Snapshot,
    one: Option<usize>,
    limits: SearchLimits<'_>,
) -> Vec<LineSteps> {
    let wanted = |(at, view): &(usize, LineView)| one.map_or(!view.owned, |one| one == *at);
    let lines = views(list).into_iter().enumerate().filter(wanted);
    let found = lines.map(|(at, line)| {
        let fit = fit(kit, list.build(), at, limits);
        let (up, down) = steps(&fit, at);
        LineSteps { line, fit, up, down }
    });
    let told =
        |s: &LineSteps| one.is_some() || !s.fit.complete || !(s.up.is_empty() && s.down.is_empty());
    found.filter(told).collect()
}

/// Refuses a list that is too long to be mended.
pub(super) fn small_enough(found: &Mend) -> Result<(), Problem> {
    let Some(count) = found.too_many else { return Ok(()) };
    let problem = format!(
        "{count} lines and kinds could be changed, and a search takes {MOST_ELEMENTS} at the most"
    );
    Err(Problem::new(problem).help("`why RULE` and `fit LINE` look at one line at a time"))
}

/// One of the ways to mend a list, by its number.
pub(super) fn way(found: &Mend, number: usize) -> Result<&MendWay, Problem> {
    number.checked_sub(1).and_then(|at| found.ways.get(at)).ok_or_else(|| {
        Problem::new(format!("there is no way {number} to mend this"))
            .help("`mend` lists the ways there are")
    })
}

impl Session {
    /// Runs a search within the time of this session.
    fn search<T>(&self, run: impl FnOnce(SearchLimits<'_>) -> T) -> T {
        let trust = self.options.trust_unknown;
        interrupt::search(self.options.limit, |limits| run(limits.trusting(trust)))
    }

    pub(super) fn fit(
        &mut self,
        words: &[String],
        by: Option<&str>,
        all: bool,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let (line, _) = self.line(words, ask)?;
        let (kit, build) = (self.trial.kit(), self.trial.now().build());
        let fit = self.search(|limits| fit(kit, build, line, limits));
        let by = ordered_by(kit, &fit, by)?;
        search_report::open_lines(page, self.trial.now(), self.options.trust_unknown);
        search_report::fit(page, &fit, by, all, &build.currency);
        Ok(())
    }

    pub(super) fn steps(
        &mut self,
        words: &[String],
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let one = match words {
            [] => None,
            words => Some(self.line(words, ask)?.0),
        };
        let (kit, list) = (self.trial.kit(), self.trial.now());
        let found = self.search(|limits| every_step(kit, list, one, limits));
        search_report::open_lines(page, list, self.options.trust_unknown);
        search_report::every_step(page, &found, &list.build().currency);
        Ok(())
    }

    pub(super) fn mend(
        &mut self,
        way: Option<usize>,
        all: bool,
        page: &mut Page,
    ) -> Result<(), Problems> {
        let found = {
            let (kit, build) = (self.trial.kit().clone(), self.trial.now().build());
            self.search(|limits| mend(&kit, build, limits))
        };
        small_enough(&found)?;
        let Some(number) = way else {
            let how = How { make: "`mend 1` makes the first", all: (!all).then_some("`mend all`") };
            search_report::open_lines(page, self.trial.now(), self.options.trust_unknown);
            search_report::mend(page, self.trial.now(), &found, how);
            return Ok(());
        };
        self.make(&edits(&self::way(&found, number)?.changes), page)
    }

    pub(super) fn mix(
        &mut self,
        file: &str,
        by: Option<&str>,
        take: Option<usize>,
        page: &mut Page,
    ) -> Result<(), Problems> {
        let (source, theirs) = self.other(file)?;
        let kit = self.trial.kit().clone();
        let measure = weighed(&kit, by)?;
        let build = self.trial.now().build();
        let found = self
            .search(|limits| mix(&kit, build, &theirs, measure.as_ref().map(|m| m.rule), limits))?;
        let Some(number) = take else {
            let named = measure.as_ref().map(|m| (&*m.name, &*m.unit));
            search_report::mix(page, &found, named, ("this list", file), &build.currency);
            return Ok(());
        };
        let Some(mixture) = found.passing.iter().filter(|m| m.on_front).nth(number - 1) else {
            return Err(Problem::new(format!("there is no mixture {number} on the front"))
                .help(format!("`mix {file}` lists them"))
                .into());
        };
        let taken = mixture.taken;
        let edits = self.taking(&found.differences, taken, &source.text, &theirs);
        self.make(&edits, page)
    }

    /// The edits that take some of the differences from another file; lines go last, from the
    /// bottom up, so that numbers hold.
    fn taking(
        &self,
        differences: &[Difference],
        taken: u32,
        text: &str,
        theirs: &crate::build::Build,
    ) -> Vec<Edit> {
        let ours = self.trial.now().build();
        let (mut copies, mut drops) = (Vec::new(), Vec::new());
        for (_, difference) in
            differences.iter().enumerate().filter(|(at, _)| taken & (1 << at) != 0)
        {
            let our = difference
                .ours
                .as_ref()
                .and_then(|line| ours.lines.iter().position(|l| l.spans.whole == line.spans.whole));
            let their = difference.theirs.as_ref().and_then(|line| {
                theirs.lines.iter().position(|l| l.spans.whole == line.spans.whole)
            });
            match (our, their) {
                (our, Some(theirs)) => {
                    copies.push(Edit::Copy { from: text.to_owned(), theirs, ours: our })
                }
                (Some(line), None) => drops.push(line),
                (None, None) => {}
            }
        }
        drops.sort_unstable();
        copies.extend(drops.into_iter().rev().map(|line| Edit::Drop { line }));
        copies
    }
}
