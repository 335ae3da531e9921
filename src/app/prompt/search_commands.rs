//! Commands that look for better builds: fit, steps, mend, mix.

use crate::app::prompt::output::Page;
use crate::app::prompt::session::{Ask, Session};
use crate::app::prompt::{interrupt, line_lookup, search_report};
use crate::rules::loader::Better;
use crate::source::{Problem, Problems};
use crate::whatif::diff::views;
use crate::whatif::edit::Edit;
use crate::whatif::fit::{fit, steps};
use crate::whatif::mend::{MOST_ELEMENTS, edits, mend};
use crate::whatif::mix::{Difference, mix};
use crate::words::{clip, nearest};

/// The measure that a price is weighed against where none is named.
const USUAL: &str = "value.index";

impl Session {
    pub(super) fn fit(
        &mut self,
        words: &[String],
        by: Option<&str>,
        all: bool,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let (_, view) = self.line(words, ask)?;
        let build = self.trial.now().build();
        let fit = interrupt::search(self.options.limit, |limits| {
            fit(self.trial.kit(), build, view.number - 1, limits)
        });
        let by = match by {
            None => None,
            Some(name) => Some(
                fit.measures
                    .iter()
                    .position(|m| m.id == name)
                    .ok_or_else(|| self.no_measure(name))?,
            ),
        };
        search_report::fit(page, &fit, by, all, &build.currency);
        Ok(())
    }

    /// Says which measures there are that tell better from worse.
    fn no_measure(&self, name: &str) -> Problem {
        let rules = self.trial.kit().rules();
        let names: Vec<&str> =
            rules.rules.iter().filter(|r| r.better.is_some()).map(|r| &*r.id).collect();
        let problem =
            Problem::new(format!("no measure `{}` tells better from worse", clip(name, 60)));
        match nearest(name, names.iter().copied()) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => {
                problem.help(format!("those that do have a `Better:` line: {}", names.join(", ")))
            }
        }
    }

    pub(super) fn steps(
        &mut self,
        words: &[String],
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let lines: Vec<usize> = match words {
            [] => (0..self.trial.now().build().lines.len()).collect(),
            words => vec![self.line(words, ask)?.1.number - 1],
        };
        let views = views(self.trial.now());
        let build = self.trial.now().build();
        let kit = self.trial.kit();
        interrupt::search(self.options.limit, |limits| {
            for line in lines {
                let fit = fit(kit, build, line, limits);
                let (up, down) = steps(&fit, line);
                // What the customer has already is left alone unless it is asked for.
                if let Some(view) = views
                    .iter()
                    .find(|v| v.number == line + 1)
                    .filter(|v| !v.owned || words.len() == 1)
                    && (words.len() == 1 || !fit.complete || !(up.is_empty() && down.is_empty()))
                {
                    let name = line_lookup::label(view);
                    search_report::steps(page, &name, &fit, (&up, &down), &build.currency);
                }
            }
        });
        Ok(())
    }

    pub(super) fn mend(&mut self, way: Option<usize>, page: &mut Page) -> Result<(), Problems> {
        let found = {
            let (kit, build) = (self.trial.kit().clone(), self.trial.now().build());
            interrupt::search(self.options.limit, |limits| mend(&kit, build, limits))
        };
        if let Some(count) = found.too_many {
            let problem = format!(
                "{count} lines and kinds could be changed, and a search takes {MOST_ELEMENTS} at \
                 the most"
            );
            return Err(Problem::new(problem)
                .help("`why RULE` and `fit LINE` look at one line at a time")
                .into());
        }
        let Some(number) = way else {
            search_report::mend(page, &found, &self.trial.now().build().currency);
            return Ok(());
        };
        let Some(way) = found.ways.get(number - 1) else {
            return Err(Problem::new(format!("there is no way {number} to mend this"))
                .help("`mend` lists the ways there are")
                .into());
        };
        self.make(&edits(&way.changes), page)
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
        let rules = kit.rules();
        let measure = match (by, rules.find(by.unwrap_or(USUAL))) {
            (None, None) => None,
            (Some(name), None) => return Err(self.no_measure(name).into()),
            (_, Some(at)) => rules.rules.get(at as usize).and_then(|r| {
                Some((at, r.better? == Better::More, r.id.to_string(), r.unit.clone()?))
            }),
        };
        if let (Some(name), None) = (by, &measure) {
            return Err(self.no_measure(name).into());
        }
        let build = self.trial.now().build();
        let found = interrupt::search(self.options.limit, |limits| {
            mix(&kit, build, &theirs, measure.as_ref().map(|(at, most, ..)| (*at, *most)), limits)
        })?;
        let Some(number) = take else {
            let named = measure.as_ref().map(|(.., id, unit)| (id.as_str(), &**unit));
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
