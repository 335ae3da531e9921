//! Looks loaded scripts through: a rule that names what nobody knows is broken, and says so before
//! it runs.

use std::sync::Arc;

use rhai::Engine;

use crate::catalogue::Catalogue;
use crate::layer::carried_scripts;
use crate::rules::check_names::Names;
use crate::rules::check_units::Units;
use crate::rules::loader::{LazyOutline, Rule, RuleSet, ScriptFile};
use crate::rules::outline::Outline;
use crate::rules::{call_cycles, reach};
use crate::settings::Settings;
use crate::source::{Label, Problem};

/// What looking through the scripts found.
#[derive(Default)]
struct Looked {
    /// What is wrong, with the place of its file.
    found: Vec<(u16, Problem)>,
    warnings: Vec<Problem>,
    /// Rules that give a value and raise nothing.
    valued: Vec<Arc<str>>,
    circles: Vec<Problem>,
}

impl RuleSet {
    /// Looks every script through for names that nobody knows and for comparisons that cannot be
    /// meant.
    pub(crate) fn check(
        &mut self,
        outlines: &[LazyOutline<'_>],
        engine: &Engine,
        catalogue: &Catalogue,
        settings: &Settings,
    ) {
        let Looked { found, warnings, valued, circles } =
            self.look_through(outlines, engine, catalogue, settings);
        self.warnings = warnings;
        self.broken.extend(circles);
        for (at, problem) in found {
            let start = problem.labels.first().map_or(0, |l| l.span.start());
            match self
                .rules
                .iter_mut()
                .find(|r| r.file_at == at && (r.span().start()..r.end()).contains(&start))
            {
                Some(rule) => rule.add_flaw(problem),
                None => self.broken.push(problem),
            }
        }
        // What a broken rule raises cannot be told.
        for rule in self.rules.iter_mut().filter(|r| r.flaw.is_none() && valued.contains(&r.id)) {
            let Some(file) = self.files.get(rule.file_at as usize) else { continue };
            let name = &rule.function;
            let problem = Problem::new(format!("`{name}` gives a value and raises no finding"))
                .code("rule-without-finding")
                .at(&file.source, rule.span(), "a rule, as it has no `Unit:` line");
            rule.add_flaw(problem.help(
                "raise stop(…), caution(…) or advice(…) where it finds something, or give a \
                 measure its `Unit:` line",
            ));
        }
    }
}

impl RuleSet {
    fn look_through(
        &self,
        outlines: &[LazyOutline<'_>],
        engine: &Engine,
        catalogue: &Catalogue,
        settings: &Settings,
    ) -> Looked {
        let mut looked = Looked::default();
        let sound = self.carried_are_sound(catalogue, settings);
        let looked_at = |file: &ScriptFile| !(sound && file.carried);
        if self.files.iter().any(looked_at) {
            let libs = self.files.iter().zip(outlines).filter(|(file, _)| file.lib);
            let libs: Vec<(&ScriptFile, &Outline<'_>)> = libs.map(|(f, o)| (f, &**o)).collect();
            looked.circles = call_cycles::circles(&libs);
            let names = Names::new(engine, catalogue, settings, self, libs.iter().map(|(_, o)| *o));
            let units = Units::new(catalogue, settings, self);
            for ((file, outline), at) in self.files.iter().zip(outlines).zip(0u16..) {
                // A file that can't be compiled has said what is wrong with it already.
                if looked_at(file) && file.ast.iter_functions().next().is_some() {
                    looked.found.extend(names.check(file, outline).into_iter().map(|p| (at, p)));
                    looked.warnings.extend(units.check(file, outline));
                }
            }
        }
        for rule in &self.rules {
            let file = self.files.get(rule.file_at as usize).filter(|file| looked_at(file));
            let outline = outlines.get(rule.file_at as usize);
            let Some((file, outline)) = file.zip(outline) else { continue };
            looked.found.extend(misused_step(rule, file, outline).map(|p| (rule.file_at, p)));
            // What a rule can raise is asked last: it is read off every script there is.
            if rule.unit.is_none()
                && rule.step.is_none()
                && reach::only_gives_a_value(outline, &rule.function)
                && rule.levels().is_empty()
            {
                looked.valued.push(rule.id.clone());
            }
        }
        looked
    }

    /// Whether looking through the files that the program carries would find nothing, as it found
    /// nothing when the program was tested: all of them count, and so do the kinds, tables and
    /// units that they name. What lies over them only adds names.
    fn carried_are_sound(&self, catalogue: &Catalogue, settings: &Settings) -> bool {
        self.files.iter().filter(|file| file.carried).count() == carried_scripts()
            && self.rules.iter().all(|rule| rule.over.is_none())
            && catalogue.names_as_carried
            && settings.units_as_carried()
    }
}

impl Rule {
    fn add_flaw(&mut self, problem: Problem) {
        match &mut self.flaw {
            Some(flaw) => {
                let said = format!(
                    "{}{}",
                    problem.message,
                    problem.help.map_or_else(String::new, |h| format!(": {h}"))
                );
                flaw.labels
                    .extend(problem.labels.into_iter().map(|l| Label { text: said.clone(), ..l }));
            }
            None => self.flaw = Some(Box::new(problem)),
        }
    }
}

/// What is wrong where a step of the work judges, or a rule says what to do and not when.
fn misused_step(rule: &Rule, file: &ScriptFile, outline: &Outline<'_>) -> Option<Problem> {
    let function = outline.functions.iter().find(|f| f.name == rule.function)?;
    let says = function
        .tokens
        .clone()
        .any(|at| outline.tokens.get(at).is_some_and(|t| t.word("step")) && outline.is(at, 1, "("));
    let (message, help) =
        if rule.step.is_some() && (!rule.levels().is_empty() || rule.unit.is_some()) {
            (
                "a step of the work judges and measures nothing",
                "say what to do with `step(\"…\", #{ … })`, or take its `Step:` out",
            )
        } else if rule.step.is_none() && says {
            (
                "`step` says what to do, and nothing says when",
                "write `/// Step: 20` above the function: its place in the order of work",
            )
        } else {
            return None;
        };
    Some(Problem::new(message).at(&file.source, rule.span(), "here").help(help))
}
