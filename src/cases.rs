//! Rule cases: small builds in figures beside each rule file, with what must be found and what must not.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::{Date, date};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::audit::ask::{Answer, Pos};
use crate::audit::finding::Finding;
use crate::build::CaseBuild;
use crate::build::resolve::Resolved;
use crate::catalogue::read::{found, key_span, parse, plain_number};
use crate::catalogue::value::Val;
use crate::kit::{Audit, Kit, Layers, Outcome};
use crate::layer::Layer;
use crate::rules::script::RuleSet;
use crate::source::{Label, Problem, Problems, Source, Span};

const CASE_KEYS: &[&str] = &["name", "build", "line", "find", "silent", "measure", "setting", "note"];
const FIND_KEYS: &[&str] = &["rule", "level", "at", "says", "times"];
const MEASURE_KEYS: &[&str] = &["name", "value", "within", "absent"];
/// The day of a case that gives none.
const DAY: Date = date(2026, 11, 20);

/// What came of all cases.
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
    /// Comparisons that every case answered the same way: place, and the answer that was never seen.
    pub one_sided: Vec<(Label, bool)>,
    /// Rule files that cannot be read.
    pub broken: Vec<Problem>,
}

impl CasesReport {
    /// Whether all is well; comparisons seen from one side only are remarks, not failures.
    pub fn good(&self) -> bool {
        self.failures.is_empty() && self.unfired.is_empty() && self.unsilent.is_empty() && self.broken.is_empty()
    }
}

/// Runs the cases of every layer in force, each layer's with the rules and settings up to it.
///
/// # Errors
/// The catalogue or the settings cannot be read.
pub fn run(layers: &Layers, only: Option<&str>) -> Result<CasesReport, Problems> {
    let mut report = CasesReport::default();
    let first = layers.rules.len() - Layer::in_force(&layers.rules).len();
    for top in first..layers.rules.len() {
        let rules = layers.rules.get(..=top).unwrap_or(&layers.rules);
        let kit = Kit::load(&Layers { catalogue: layers.catalogue.clone(), rules: rules.to_vec() })?;
        let Some(layer) = rules.last() else { continue };
        Runner { kit: &kit, report: &mut report, seen: Seen::default() }.layer(layer, only);
    }
    Ok(report)
}

/// What the cases saw of the rules.
#[derive(Default)]
struct Seen {
    fired: HashSet<String>,
    silent: HashSet<String>,
    answers: BTreeMap<(u16, u16, u16), BTreeSet<bool>>,
}

struct Runner<'a> {
    kit: &'a Kit,
    report: &'a mut CasesReport,
    seen: Seen,
}

impl Runner<'_> {
    fn layer(&mut self, layer: &Layer, only: Option<&str>) {
        let rules = self.kit.rules();
        self.kit.remember(false);
        for (below, source) in layer.files.iter().filter(|(below, _)| below.ends_with(".cases.toml")) {
            if only.is_none_or(|o| below.starts_with(o)) {
                self.file(source, &rules);
            }
        }
        self.report.broken.extend(rules.broken.iter().cloned());
        for rule in rules.rules.iter().filter(|r| r.layer == layer.label && only.is_none_or(|o| *r.file == *o)) {
            if !self.seen.fired.contains(&rule.id) {
                self.report.unfired.push(rule.id.clone());
            }
            if rule.unit.is_none() && !self.seen.silent.contains(&rule.id) {
                self.report.unsilent.push(rule.id.clone());
            }
        }
        for ((file, line, column), answers) in &self.seen.answers {
            if let (1, Some(file)) = (answers.len(), rules.files.get(*file as usize).filter(|f| f.layer == layer.label)) {
                let at = file.source.offset(*line as usize, *column as usize);
                let label = Label { source: file.source.clone(), span: Span::new(at, at + 1), text: String::new() };
                self.report.one_sided.push((label, !answers.contains(&true)));
            }
        }
    }

    fn file(&mut self, source: &Arc<Source>, rules: &RuleSet) {
        let mut problems = Problems::default();
        let parsed = parse(source, &mut problems);
        for (key, value) in parsed.get_ref() {
            match (key.get_ref().as_ref(), value.get_ref()) {
                ("case", DeValue::Array(cases)) => {
                    for case in cases {
                        self.case(source, rules, case);
                    }
                }
                (other, _) => problems.push(Problem::new(format!("a cases file has no `{other}`")).at(source, key_span(key), "unknown").help("each case is written under `[[case]]`")),
            }
        }
        self.report.failures.append(&mut problems.0);
    }

    fn case(&mut self, source: &Arc<Source>, rules: &RuleSet, entry: &Spanned<DeValue<'_>>) {
        self.report.cases += 1;
        let mut problems = Problems::default();
        let case = Case::read(source, entry, rules, &mut problems);
        let Some(case) = case.filter(|_| problems.0.is_empty()) else {
            self.report.failures.append(&mut problems.0);
            return;
        };
        let empty = DeTable::new();
        let table = case.table.get("build").and_then(|v| v.get_ref().as_table()).unwrap_or(&empty);
        let build = CaseBuild::read(source, self.kit.catalogue(), table, case.table.get("line"), DAY, &mut problems);
        if !problems.0.is_empty() {
            self.report.failures.append(&mut problems.0);
            return;
        }
        let which: Vec<u16> = case.rules.iter().filter_map(|id| rules.find(id)).collect();
        let resolved = Rc::new(Resolved::new(Arc::new(build), self.kit.catalogue().clone()));
        let audit = self.kit.audit_case(&resolved, &which, &case.settings);
        self.look(&audit);
        self.judge(source, &case, &audit);
        self.kit.end_case();
    }

    /// Notes which rules fired or stayed silent, and how their comparisons were answered.
    fn look(&mut self, audit: &Audit) {
        for (rule, outcome) in audit.outcomes() {
            let Outcome::Known(verdict) = outcome else { continue };
            let fired = if rule.unit.is_some() { verdict.value.is_some() } else { !verdict.drafts.is_empty() };
            if fired { self.seen.fired.insert(rule.id.clone()) } else { self.seen.silent.insert(rule.id.clone()) };
            for step in verdict.path.iter() {
                if let (Answer::Bool(answer), Pos { file, line, column }, true) = (&step.answer, step.pos, step.ask.compares()) {
                    self.seen.answers.entry((file, line, column)).or_default().insert(*answer);
                }
            }
        }
    }

    fn judge(&mut self, source: &Arc<Source>, case: &Case<'_, '_>, audit: &Audit) {
        let findings = audit.findings();
        for problem in case_problems(source, case, audit, &findings) {
            self.report.failures.push(problem);
        }
        self.report.checks += case.finds.len() + case.silent.len() + case.measures.len();
    }
}

fn case_problems(source: &Arc<Source>, case: &Case<'_, '_>, audit: &Audit, findings: &[Finding]) -> Vec<Problem> {
    let mut out = Vec::new();
    let fail = |message: String, span: Span, label: &str| Problem::new(format!("case \"{}\": {message}", case.name)).at(source, span, label);
    for (rule, outcome) in audit.outcomes() {
        match outcome {
            Outcome::Broken(problem) => {
                let mut problem = (**problem).clone();
                problem.message = format!("case \"{}\": {}", case.name, problem.message);
                problem.labels.push(Label { source: source.clone(), span: case.span, text: "in this case".to_owned() });
                out.push(problem);
            }
            Outcome::Waits(_) => out.push(fail(format!("rule {} waits for an open line", rule.id), case.span, "in this case")),
            Outcome::Known(_) => {}
        }
    }
    for find in &case.finds {
        out.extend(find.problem(findings).map(|(message, help)| fail(message, find.span, "expected here").help(help)));
    }
    for (rule, span) in &case.silent {
        if let Some(found) = findings.iter().find(|f| f.rule == *rule) {
            out.push(fail(format!("{rule} must be silent, and it says: {} — {}", found.level, found.message), *span, "must be silent"));
        }
    }
    let measures = audit.measures();
    for wanted in &case.measures {
        let got = measures.iter().find(|m| m.id == wanted.name).and_then(|m| m.value);
        let good = match (got, wanted.value) {
            (Some(got), Some(value)) => (got - value).abs() <= wanted.within,
            (None, None) => true,
            _ => false,
        };
        if !good {
            let show = |n: Option<f64>| n.map_or_else(|| "does not apply".to_owned(), |n| n.to_string());
            out.push(fail(format!("{} is {}, expected {} within {}", wanted.name, show(got), show(wanted.value), wanted.within), wanted.span, "expected here"));
        }
    }
    out
}

struct Case<'t, 'i> {
    name: String,
    span: Span,
    table: &'t DeTable<'i>,
    finds: Vec<Find>,
    silent: Vec<(String, Span)>,
    measures: Vec<Wanted>,
    settings: Vec<(String, Val)>,
    rules: BTreeSet<String>,
}

struct Find {
    rule: String,
    level: Option<String>,
    at: Vec<String>,
    says: Option<String>,
    times: Option<usize>,
    span: Span,
}

struct Wanted {
    name: String,
    value: Option<f64>,
    within: f64,
    span: Span,
}

impl Find {
    /// What is wrong with the findings, and what was found instead.
    fn problem(&self, findings: &[Finding]) -> Option<(String, String)> {
        let of_rule: Vec<&Finding> = findings.iter().filter(|f| f.rule == self.rule).collect();
        let good = |f: &&&Finding| {
            self.level.as_ref().is_none_or(|l| *l == f.level.to_string())
                && self.says.as_ref().is_none_or(|s| f.message.contains(s.as_str()))
                && self.at.iter().all(|at| f.pointers.iter().any(|p| same_place(at, &p.place)))
        };
        let matching = of_rule.iter().filter(good).count();
        if matching > 0 && self.times.is_none_or(|t| t == matching) {
            return None;
        }
        let seen: Vec<String> = of_rule
            .iter()
            .map(|f| format!("{} — {} [{}]", f.level, f.message, f.pointers.iter().map(|p| p.place.as_str()).collect::<Vec<_>>().join(", ")))
            .collect();
        let help = if seen.is_empty() { "it found nothing".to_owned() } else { format!("it found: {}", seen.join("; ")) };
        let mut wanted = self.level.clone().unwrap_or_else(|| "a finding".to_owned());
        if let Some(says) = &self.says {
            wanted.push_str(&format!(" saying \"{says}\""));
        }
        if !self.at.is_empty() {
            wanted.push_str(&format!(" at {}", self.at.join(", ")));
        }
        if let Some(times) = self.times {
            wanted.push_str(&format!(", {times} times, and there are {matching}"));
        }
        Some((format!("{} must give {wanted}", self.rule), help))
    }
}

/// Whether a place as a case writes it is the place of a pointer: `fan.flow` stands for any fan's.
fn same_place(wanted: &str, place: &str) -> bool {
    let wanted = wanted.strip_prefix("setting:").map_or_else(|| wanted.to_owned(), |s| format!("setting {s}"));
    let bare = |text: &str| {
        let mut out = String::new();
        let mut depth = 0;
        for c in text.chars() {
            match c {
                '[' => depth += 1,
                ']' => depth -= 1,
                c if depth == 0 => out.push(c),
                _ => {}
            }
        }
        out
    };
    wanted == place || wanted == bare(place)
}

impl<'t, 'i> Case<'t, 'i> {
    fn read(source: &Arc<Source>, entry: &'t Spanned<DeValue<'i>>, rules: &RuleSet, problems: &mut Problems) -> Option<Self> {
        let span = Span::from(entry.span());
        let Some(table) = entry.get_ref().as_table() else {
            problems.push(Problem::new("a case is a table").at(source, span, found(entry.get_ref())));
            return None;
        };
        check_keys("a case", table, CASE_KEYS, source, problems);
        let name = table.get("name").and_then(|v| v.get_ref().as_str()).unwrap_or("(no name)").to_owned();
        let head = table.get("name").map_or(span, |v| v.span().into());
        let mut case = Case { name, span: head, table, finds: Vec::new(), silent: Vec::new(), measures: Vec::new(), settings: Vec::new(), rules: BTreeSet::new() };
        for item in list(table, "find") {
            case.find(source, item, rules, problems);
        }
        for item in list(table, "silent") {
            let rule = item.get_ref().as_str().unwrap_or("").to_owned();
            case.rule(source, &rule, item.span().into(), rules, problems);
            case.silent.push((rule, item.span().into()));
        }
        for item in list(table, "measure") {
            case.measure(source, item, rules, problems);
        }
        for (key, value) in table.get("setting").and_then(|v| v.get_ref().as_table()).into_iter().flatten() {
            match (value.get_ref().as_str(), plain_number(value.get_ref())) {
                (Some(text), _) => case.settings.push((key.get_ref().to_string(), Val::Text(text.into()))),
                (_, Some(n)) => case.settings.push((key.get_ref().to_string(), Val::Num(n))),
                _ => problems.push(Problem::new("a setting is a number or a text").at(source, value.span().into(), found(value.get_ref()))),
            }
        }
        if case.rules.is_empty() {
            problems.push(Problem::new(format!("case \"{}\" checks nothing", case.name)).at(source, head, "this case").help("add `find`, `silent` or `measure`"));
        }
        Some(case)
    }

    fn rule(&mut self, source: &Arc<Source>, id: &str, span: Span, rules: &RuleSet, problems: &mut Problems) {
        if rules.find(id).is_none() {
            let problem = Problem::new(format!("there is no rule or measure `{}`", crate::source::clip(id, 60))).at(source, span, "unknown");
            problems.push(problem.suggest(id, rules.rules.iter().map(|r| r.id.as_str())));
        }
        self.rules.insert(id.to_owned());
    }

    fn find(&mut self, source: &Arc<Source>, item: &Spanned<DeValue<'_>>, rules: &RuleSet, problems: &mut Problems) {
        let span = Span::from(item.span());
        let Some(table) = item.get_ref().as_table() else {
            problems.push(Problem::new("`find` holds tables").at(source, span, found(item.get_ref())));
            return;
        };
        check_keys("`find`", table, FIND_KEYS, source, problems);
        let text = |key: &str| table.get(key).and_then(|v| v.get_ref().as_str()).map(str::to_owned);
        let Some(rule) = text("rule") else {
            problems.push(Problem::new("`find` names no `rule`").at(source, span, "here"));
            return;
        };
        self.rule(source, &rule, span, rules, problems);
        let at = list(table, "at").filter_map(|v| v.get_ref().as_str().map(str::to_owned)).collect();
        let times = table.get("times").and_then(|v| plain_number(v.get_ref())).map(|n| n as usize);
        self.finds.push(Find { rule, level: text("level"), at, says: text("says"), times, span });
    }

    fn measure(&mut self, source: &Arc<Source>, item: &Spanned<DeValue<'_>>, rules: &RuleSet, problems: &mut Problems) {
        let span = Span::from(item.span());
        let Some(table) = item.get_ref().as_table() else {
            problems.push(Problem::new("`measure` holds tables").at(source, span, found(item.get_ref())));
            return;
        };
        check_keys("`measure`", table, MEASURE_KEYS, source, problems);
        let Some(name) = table.get("name").and_then(|v| v.get_ref().as_str()).map(str::to_owned) else {
            problems.push(Problem::new("`measure` gives no `name`").at(source, span, "here"));
            return;
        };
        self.rule(source, &name, span, rules, problems);
        let number = |key: &str| table.get(key).and_then(|v| plain_number(v.get_ref()));
        let absent = matches!(table.get("absent").map(Spanned::get_ref), Some(DeValue::Boolean(true)));
        let value = number("value").filter(|_| !absent);
        if value.is_none() && !absent {
            problems.push(Problem::new(format!("{name}: give `value`, or `absent = true` when it must not apply")).at(source, span, "here"));
        }
        self.measures.push(Wanted { name, value, within: number("within").unwrap_or(1e-9), span });
    }
}

fn list<'t, 'i>(table: &'t DeTable<'i>, key: &str) -> impl Iterator<Item = &'t Spanned<DeValue<'i>>> + use<'t, 'i> {
    table.get(key).and_then(|v| v.get_ref().as_array()).into_iter().flatten()
}

fn check_keys(of: &str, table: &DeTable<'_>, known: &[&str], source: &Arc<Source>, problems: &mut Problems) {
    for (key, _) in table {
        if !known.contains(&key.get_ref().as_ref()) {
            let problem = Problem::new(format!("{of} has no `{}`", key.get_ref())).at(source, key_span(key), "unknown");
            problems.push(problem.suggest(key.get_ref(), known.iter().copied()));
        }
    }
}
