//! Rule cases: small builds in figures beside each rule file, with what must be found and what must
//! not.

mod base_build;
pub(crate) mod case;
mod coverage;
pub(crate) mod expectations;

use std::sync::Arc;

pub use case::Case;

use crate::catalogue::Catalogue;
use crate::catalogue::field_reader::{key_span, parse};
use crate::kit::{Kit, Layers};
use crate::layer::Layer;
use crate::rules::choice;
use crate::rules::loader::RuleSet;
use crate::settings::Settings;
use crate::source::{Label, Problem, Problems, Source};
use coverage::Seen;
use toml::de::DeValue;

/// The result of all cases.
#[derive(Debug, Default)]
pub struct CasesReport {
    /// Cases run.
    pub cases: usize,
    /// Checks made: findings, silences and measures.
    pub checks: usize,
    /// What failed, each with its place in the cases file.
    pub failures: Vec<Problem>,
    /// Rules that no case fires, and measures that no case reckons.
    pub unfired: Vec<String>,
    /// Rules that no case leaves silent.
    pub unsilent: Vec<String>,
    /// Comparisons that every case answered the same way: place, and the answer that was never
    /// seen.
    pub one_sided: Vec<(Label, bool)>,
    /// Functions of rule files that no case runs through: where their name stands.
    pub unreached: Vec<Label>,
    /// Rule files that cannot be read, and rules that name what nobody knows.
    pub broken: Vec<Problem>,
    /// What is odd in the scripts and still runs.
    pub warnings: Vec<Problem>,
}

impl CasesReport {
    /// Whether all is well; comparisons seen from one side only are remarks, not failures.
    pub fn good(&self) -> bool {
        self.failures.is_empty()
            && self.unfired.is_empty()
            && self.unsilent.is_empty()
            && self.broken.is_empty()
    }

    /// 0 when all is as expected, 1 when a case fails or is missing, 2 when a rule file is broken.
    pub fn exit_code(&self) -> u8 {
        match self.broken.is_empty() {
            false => 2,
            true => u8::from(!self.good()),
        }
    }
}

/// The cases of one layer, read and ready to run on any kit of the same catalogue.
#[derive(Debug, Default)]
pub struct Suite {
    /// The cases, in order of file and place.
    pub cases: Vec<Case>,
    /// What is wrong with the files.
    pub problems: Vec<Problem>,
}

impl Suite {
    /// Reads the cases files of a layer whose names begin with `only`.
    pub fn read(
        layer: &Layer,
        only: Option<&str>,
        catalogue: &Catalogue,
        rules: &RuleSet,
        settings: &Settings,
    ) -> Self {
        let mut suite = Self::default();
        for (below, source) in
            layer.files.iter().filter(|(below, _)| below.ends_with(".cases.toml"))
        {
            if only.is_none_or(|o| below.starts_with(o)) {
                suite.file(source, &case::Known { catalogue, rules, settings });
            }
        }
        suite
    }

    /// Leaves those alone whose name has a text in it, or that check a rule which it chooses by
    /// pattern or tag; all where there is none.
    pub fn keep(&mut self, named: Option<&str>, rules: &RuleSet) {
        let Some(named) = named else { return };
        let chosen = |id: &String| {
            crate::settings::is_pattern(named)
                && rules.rule(id).is_some_and(|r| choice::chooses(named, r))
        };
        self.cases.retain(|c| c.name.contains(named) || c.rules.iter().any(chosen));
    }

    fn file(&mut self, source: &Arc<Source>, known: &case::Known<'_>) {
        let mut problems = Problems::default();
        let parsed = parse(source, &mut problems);
        for (key, value) in parsed.get_ref() {
            match (key.get_ref().as_ref(), value.get_ref()) {
                ("case", DeValue::Array(cases)) => {
                    self.cases.extend(cases.iter().enumerate().filter_map(|(nth, entry)| {
                        Case::read(source, nth, entry, known, &mut problems)
                    }))
                }
                (other, _) => problems.push(
                    Problem::new(format!("a cases file has no `{other}`"))
                        .at(source, key_span(key), "unknown")
                        .help("each case is written under `[[case]]`"),
                ),
            }
        }
        if parsed.get_ref().is_empty() && problems.0.is_empty() {
            problems.push(
                Problem::new(format!("{} holds no case", source.name))
                    .help("each case is written under `[[case]]`"),
            );
        }
        self.problems.append(&mut problems.0);
    }
}

/// Runs the cases of the topmost layer only, with the rules and settings of all.
/// Errors: the catalogue, the settings or the waivers cannot be read.
pub fn run_top(layers: &Layers, only: Option<&str>) -> Result<CasesReport, Problems> {
    run_named(layers, only, None)
}

/// The same of the cases whose name has `case` in it, or that check a rule which it chooses by
/// pattern or tag. What they leave out is not missed then.
/// Errors: the catalogue, the settings or the waivers cannot be read.
pub fn run_named(
    layers: &Layers,
    only: Option<&str>,
    case: Option<&str>,
) -> Result<CasesReport, Problems> {
    let mut report = CasesReport::default();
    let kit = Kit::load(layers)?;
    if let Some(layer) = layers.rules.last() {
        if let Some(only) = only.filter(|o| {
            !layer
                .files
                .iter()
                .any(|(below, _)| below.starts_with(o) && below.ends_with(".cases.toml"))
        }) {
            let names =
                layer.files.iter().filter_map(|(below, _)| below.strip_suffix(".cases.toml"));
            return Err(Problem::new(format!("no cases file is called `{only}`"))
                .suggest(only, names)
                .into());
        }
        run_layer(&kit, layer, only, case, &mut report);
    }
    Ok(report)
}

/// The place of the lowest layer that counts.
pub fn first_in_force(layers: &Layers) -> usize {
    layers.rules.len() - Layer::in_force(&layers.rules).len()
}

fn run_layer(
    kit: &Kit,
    layer: &Layer,
    only: Option<&str>,
    named: Option<&str>,
    report: &mut CasesReport,
) {
    let rules = kit.rules();
    kit.remember(false);
    let mut suite = Suite::read(layer, only, kit.catalogue(), &rules, &kit.settings());
    suite.keep(named, &rules);
    let mut seen = Seen::default();
    report.cases += suite.cases.len();
    report.failures.extend(suite.problems);
    for case in &suite.cases {
        report.checks += case.checks();
        let problems = case.run(kit, |audit| {
            seen.look(audit);
            case.problems(audit)
        });
        report.failures.extend(problems);
    }
    let of_layer = |name: &str| layer.files.iter().any(|(_, s)| s.name == name);
    // What is wrong in a lower layer is told once, with that layer.
    report.broken.extend(
        rules.problems().filter(|p| p.labels.first().is_none_or(|l| of_layer(&l.source.name))),
    );
    report.warnings.extend(
        rules
            .warnings
            .iter()
            .filter(|p| p.labels.first().is_none_or(|l| of_layer(&l.source.name)))
            .cloned(),
    );
    if named.is_none() {
        seen.report(kit.catalogue(), &rules, &layer.label, only, report);
    }
}
