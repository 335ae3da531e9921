//! Commands that look for better builds: fit, steps, mend, mix.

use std::sync::Arc;
use std::time::Duration;

use serde_json::Value;

use crate::app::interrupt;
use crate::app::prompt::search_report::{self, How};
use crate::app::prompt::session::{Ask, Session};
use crate::app::report::page::Page;
use crate::app::report::search_json;
use crate::build::Build;
use crate::kit::Kit;
use crate::rules::loader::{Better, Rule, RuleSet};
use crate::source::{Problem, Problems};
use crate::whatif::diff::{LineView, views};
use crate::whatif::edit::Edit;
use crate::whatif::fit::{Fit, Step, fit, steps};
use crate::whatif::mend::{MOST_ELEMENTS, Mend, MendWay, edits, mend};
use crate::whatif::mix::{Difference, Mix, mix};
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
fn ordered_by(kit: &Kit, fit: &Fit, by: Option<&str>) -> Result<Option<usize>, Problem> {
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
fn every_step(
    kit: &Kit,
    list: &Snapshot,
    one: Option<usize>,
    limits: SearchLimits<'_>,
) -> Vec<LineSteps> {
    let wanted = |(at, view): &(usize, LineView)| one.map_or(!view.owned, |one| one == *at);
    let lines = views(list).into_iter().enumerate().filter(wanted);
    let found = lines.map(|(at, line)| {
        let fit = fit(kit, list.build(), at, limits);
        let (up, down) = steps(&fit);
        LineSteps { line, fit, up, down }
    });
    let told =
        |s: &LineSteps| one.is_some() || !s.fit.complete || !(s.up.is_empty() && s.down.is_empty());
    found.filter(told).collect()
}

/// Refuses a list that is too long to be mended.
pub(crate) fn small_enough(found: &Mend) -> Result<(), Problem> {
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

/// 0 when nothing stops a list or there is a way to mend it, else 1.
pub(crate) fn mend_code(list: &Snapshot, found: &Mend) -> u8 {
    let stays = found.ways.is_empty() && !found.stops.is_empty();
    u8::from(stays || !list.left.is_empty() && found.stops.is_empty())
}

/// A list that is searched, how long that may take and whether facts that nobody said are trusted,
/// at the prompt and in the shell alike.
pub(super) struct Searched<'a> {
    pub(super) kit: &'a Kit,
    pub(super) list: &'a Snapshot,
    pub(super) limit: Duration,
    pub(super) trust: bool,
    /// Whether a program is answered.
    pub(super) json: bool,
}

impl Searched<'_> {
    pub(super) fn within<T>(&self, run: impl FnOnce(SearchLimits<'_>) -> T) -> T {
        interrupt::search(self.limit, |limits| run(limits.trusting(self.trust)))
    }

    /// Writes the document, or what people read.
    pub(super) fn answer(
        &self,
        page: &mut Page,
        document: impl FnOnce() -> Value,
        text: impl FnOnce(&mut Page, &str),
    ) {
        if self.json {
            return page.json(&search_json::trusting(document(), self.trust));
        }
        search_report::open_lines(page, self.list, self.trust);
        text(page, &self.list.build().currency);
    }

    pub(super) fn fit(
        &self,
        page: &mut Page,
        (line, view): (usize, LineView),
        by: Option<&str>,
        all: bool,
    ) -> Result<(), Problem> {
        let found = self.within(|limits| fit(self.kit, self.list.build(), line, limits));
        let by = ordered_by(self.kit, &found, by)?;
        let document = || search_json::fit(self.list, &view, &found);
        self.answer(page, document, |page, currency| {
            search_report::fit(page, &found, by, all, currency);
        });
        Ok(())
    }

    pub(super) fn steps(&self, page: &mut Page, one: Option<usize>) {
        let found = self.within(|limits| every_step(self.kit, self.list, one, limits));
        let document = || search_json::steps(self.list, &found);
        self.answer(page, document, |page, currency| {
            search_report::every_step(page, &found, currency);
        });
    }

    /// Errors: the list is too long to be mended.
    pub(super) fn mend(&self) -> Result<Mend, Problem> {
        let found = self.within(|limits| mend(self.kit, self.list.build(), limits));
        small_enough(&found).map(|()| found)
    }

    pub(super) fn mix(&self, theirs: &Build, by: Option<&Weighed>) -> Result<Mix, Problems> {
        let by = by.map(|measure| measure.rule);
        self.within(|limits| mix(self.kit, self.list.build(), theirs, by, limits))
    }
}

impl Session {
    fn searched(&self) -> Searched<'_> {
        let (limit, trust) = (self.options.limit, self.options.trust_unknown);
        Searched { kit: self.trial.kit(), list: self.trial.now(), limit, trust, json: false }
    }

    pub(super) fn fit(
        &mut self,
        words: &[String],
        by: Option<&str>,
        all: bool,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let line = self.line(words, ask)?;
        Ok(self.searched().fit(page, line, by, all)?)
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
        self.searched().steps(page, one);
        Ok(())
    }

    pub(super) fn mend(
        &mut self,
        way: Option<usize>,
        all: bool,
        page: &mut Page,
    ) -> Result<(), Problems> {
        let found = self.searched().mend()?;
        let Some(number) = way else {
            let how =
                How { make: &["`mend 1` makes the first"], all: (!all).then_some("`mend all`") };
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
        let found = self.searched().mix(&theirs, measure.as_ref())?;
        let Some(number) = take else {
            let named = measure.as_ref().map(|m| (&*m.name, &*m.unit));
            let currency = &self.trial.now().build().currency;
            search_report::mix(page, &found, named, ("this list", file), currency);
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
        theirs: &Build,
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
