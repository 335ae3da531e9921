//! One case as it is written: a build, and what the rules must say of it.

use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::{Date, date};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::base_build;
use crate::build::resolve::Resolved;
use crate::build::{Build, CaseBuild};
use crate::catalogue::Catalogue;
use crate::catalogue::declared::{Declared, Reading, Takes, key, needed};
use crate::catalogue::field_reader::{found, key_span, plain_number};
use crate::catalogue::value::Val;
use crate::kit::{Audit, Kit};
use crate::level::LEVELS;
use crate::rules::loader::RuleSet;
use crate::settings::Settings;
use crate::source::{Problem, Problems, Source, Span};
use crate::words::clip;

/// A case.
pub(crate) const CASE: Declared = Declared {
    of: "a case",
    keys: &[
        needed("name", Takes::Text, "what it shows, in a few words"),
        key("base", Takes::Text, "a build file to start from, counted from the cases file"),
        key("without", Takes::Texts, "kinds or parts of the base to take out"),
        key("build", Takes::Other, "the build's own fields, such as { mains_v = 115 }"),
        key("line", Takes::Other, "the build's lines"),
        key("find", Takes::Tables(&FIND), "what must be found"),
        key("silent", Takes::Texts, "the ids of rules that find nothing"),
        key("open", Takes::Texts, "the ids of rules that unknown facts decide"),
        key("measure", Takes::Tables(&MEASURE), "what measures must give"),
        key("setting", Takes::Other, "settings that are otherwise here"),
        key("note", Takes::Text, "for people"),
    ],
};
/// A finding that must be there.
pub(crate) const FIND: Declared = Declared {
    of: "`find`",
    keys: &[
        needed("rule", Takes::Text, "the rule's id, \"file.name\""),
        key("level", Takes::Words(LEVELS), "its level"),
        key("at", Takes::Texts, "places it points at: kind.field, build.field or setting:name"),
        key("says", Takes::Text, "words of its message"),
        key("times", Takes::Whole(1, 200), "how many such findings there are"),
    ],
};
/// A number that a measure must give.
pub(crate) const MEASURE: Declared = Declared {
    of: "`measure`",
    keys: &[
        needed("name", Takes::Text, "the measure's id, \"file.name\""),
        key("value", Takes::Number(-1e15, 1e15), "the number"),
        key("within", Takes::Number(0.0, 1e15), "how far from it is still right"),
        key("absent", Takes::Flag, "whether it must not apply"),
    ],
};
/// The day of a case that gives none.
const DAY: Date = date(2026, 11, 20);

/// What a case may name.
#[derive(Clone, Copy)]
pub(super) struct Known<'a> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) rules: &'a RuleSet,
    pub(super) settings: &'a Settings,
}

/// One case.
#[derive(Debug)]
pub struct Case {
    /// What it shows.
    pub name: String,
    /// Its place among the cases of its file, from 0.
    pub nth: usize,
    /// Its file.
    pub source: Arc<Source>,
    /// Where its name stands.
    pub head: Span,
    /// All of it.
    pub whole: Span,
    /// The build in figures.
    pub build: Arc<Build>,
    /// Rules and measures it names: only these are run.
    pub rules: BTreeSet<String>,
    pub(crate) finds: Vec<Find>,
    pub(crate) silent: Vec<(String, Span)>,
    pub(crate) open: Vec<(String, Span)>,
    pub(crate) measures: Vec<Wanted>,
    pub(crate) settings: Vec<(String, Val)>,
}

/// A finding that must be there.
#[derive(Debug)]
pub(crate) struct Find {
    pub(crate) rule: String,
    pub(crate) level: Option<String>,
    pub(crate) at: Vec<String>,
    pub(crate) says: Option<String>,
    pub(crate) times: Option<usize>,
    pub(crate) span: Span,
}

/// A number that a measure must give.
#[derive(Debug)]
pub(crate) struct Wanted {
    pub(crate) name: String,
    pub(crate) value: Option<f64>,
    pub(crate) within: f64,
    pub(crate) span: Span,
}

impl Case {
    /// Checks it makes.
    pub fn checks(&self) -> usize {
        self.finds.len() + self.silent.len() + self.open.len() + self.measures.len()
    }

    /// Whether it wants a finding of this rule, or a number of this measure.
    pub fn fires(&self, id: &str) -> bool {
        self.finds.iter().any(|f| f.rule == id)
            || self.measures.iter().any(|m| m.name == id && m.value.is_some())
    }

    /// Whether it wants this rule silent, or this measure absent.
    pub fn silences(&self, id: &str) -> bool {
        self.silent.iter().any(|(rule, _)| rule == id)
            || self.measures.iter().any(|m| m.name == id && m.value.is_none())
    }

    /// Audits the case's build with the rules it names, and looks at the result before
    /// settings are put back.
    pub fn run<T>(&self, kit: &Kit, look: impl FnOnce(&Audit) -> T) -> T {
        self.run_rules(kit, &self.rules, look)
    }

    /// The same with other rules.
    pub fn run_rules<T>(
        &self,
        kit: &Kit,
        which: &BTreeSet<String>,
        look: impl FnOnce(&Audit) -> T,
    ) -> T {
        let rules = kit.rules();
        let which: Vec<u16> = which.iter().filter_map(|id| rules.find(id)).collect();
        let resolved = Rc::new(Resolved::new(self.build.clone(), kit.catalogue().clone()));
        let audit = kit.audit_case(&resolved, &which, &self.settings);
        let out = look(&audit);
        kit.end_case();
        out
    }

    /// Reads a case, or says everything that is wrong with it; one that checks nothing is wrong
    /// and can be read all the same.
    pub(super) fn read(
        source: &Arc<Source>,
        nth: usize,
        entry: &Spanned<DeValue<'_>>,
        known: &Known<'_>,
        problems: &mut Problems,
    ) -> Option<Self> {
        let before = problems.0.len();
        let mut reading = Reading { source, catalogue: Some(known.catalogue), problems };
        let row = CASE.row(entry, &mut reading)?;
        let (table, head) = (row.table, row.span_or_whole("name"));
        let name = row.text("name").filter(|n| !n.is_empty())?.to_owned();
        let mut reader = Reader { reading, known, rules: BTreeSet::new() };
        let finds = row.items("find").iter().filter_map(|v| reader.find(v)).collect();
        let mut named = |key: &str| -> Vec<(String, Span)> {
            row.texts(key)
                .map(|(id, span)| {
                    reader.rule(id, span);
                    (id.to_owned(), span)
                })
                .collect()
        };
        let (silent, open) = (named("silent"), named("open"));
        let measures = row.items("measure").iter().filter_map(|v| reader.measure(v)).collect();
        let settings = reader.settings(table);
        let rules = std::mem::take(&mut reader.rules);
        let build = build(source, table, known.catalogue, problems);
        let build = Arc::new(build.filter(|_| problems.0.len() == before)?);
        if rules.is_empty() {
            problems.push(
                Problem::new(format!("case \"{}\" checks nothing", clip(&name, 60)))
                    .at(source, head, "this case")
                    .help(
                        "add `find`, `silent`, `open` or `measure`; `--write` adds what is found",
                    ),
            );
        }
        Some(Self {
            name,
            nth,
            source: source.clone(),
            head,
            whole: whole(source, head),
            build,
            rules,
            finds,
            silent,
            open,
            measures,
            settings,
        })
    }
}

/// From a case's `[[case]]` to the next, without the blank lines and notes between them.
fn whole(source: &Source, head: Span) -> Span {
    let text = &source.text;
    let start = text.get(..head.start()).and_then(|t| t.rfind("[[case]]")).unwrap_or(head.start());
    let rest = text.get(head.end()..).unwrap_or("");
    let end = rest.find("\n[[case]]").map_or(text.len(), |at| head.end() + at);
    let mut kept = text.get(start..end).unwrap_or("").trim_end();
    while let Some((before, last)) =
        kept.rsplit_once('\n').filter(|(_, last)| last.trim().is_empty() || last.starts_with('#'))
    {
        let _ = last;
        kept = before.trim_end();
    }
    Span::new(start, start + kept.len())
}

/// The case's own build in figures, or a build of its own with edits.
fn build(
    source: &Arc<Source>,
    table: &DeTable<'_>,
    catalogue: &Catalogue,
    problems: &mut Problems,
) -> Option<Build> {
    let empty = DeTable::new();
    let keys = match table.get("build").map(|v| (v.get_ref(), v.span())) {
        None => &empty,
        Some((DeValue::Table(keys), _)) => keys,
        Some((other, span)) => {
            problems.push(
                Problem::new("`build` must be a table of the build's own fields")
                    .at(source, span.into(), format!("this is {}", found(other)))
                    .help("for example { mains_v = 115 }"),
            );
            return None;
        }
    };
    match table.get("base") {
        Some(base) => base_build::read(source, base, table, keys, catalogue, DAY, problems),
        None => {
            if let Some(without) = table.get("without") {
                problems.push(
                    Problem::new("`without` takes lines out of a `base`, and this case has none")
                        .at(source, without.span().into(), "here"),
                );
            }
            Some(CaseBuild::read(source, catalogue, keys, table.get("line"), DAY, problems))
        }
    }
}

struct Reader<'a> {
    reading: Reading<'a>,
    known: &'a Known<'a>,
    rules: BTreeSet<String>,
}

impl Reader<'_> {
    fn wrong(&mut self, what: &str, value: &Spanned<DeValue<'_>>, help: &str) {
        let this = format!("this is {}", found(value.get_ref()));
        self.reading.wrong("wrong-type", value.span(), what, this, help);
    }

    fn rule(&mut self, id: &str, span: Span) {
        let rules = self.known.rules;
        if rules.find(id).is_none() {
            let problem = Problem::new(format!("there is no rule or measure `{}`", clip(id, 60)))
                .at(self.reading.source, span, "unknown");
            self.reading.problems.push(problem.suggest(id, rules.rules.iter().map(|r| &*r.id)));
        }
        self.rules.insert(id.to_owned());
    }

    fn find(&mut self, item: &Spanned<DeValue<'_>>) -> Option<Find> {
        let row = FIND.row(item, &mut self.reading)?;
        let rule = row.text("rule")?.to_owned();
        self.rule(&rule, row.span("rule"));
        let text = |key: &str| row.text(key).map(str::to_owned);
        for (place, span) in row.texts("at") {
            self.place(place, span);
        }
        Some(Find {
            rule,
            level: text("level"),
            at: row.texts("at").map(|(place, _)| place.to_owned()).collect(),
            says: text("says"),
            times: row.number("times").map(|n| n as usize),
            span: row.whole,
        })
    }

    /// A place as `kind.field`, `build.field` or `setting:name`; the kind is checked, so that a
    /// slip is told apart from a miss.
    fn place(&mut self, place: &str, span: Span) {
        let first = place.split(['.', '[']).next().unwrap_or("");
        let (catalogue, plain) =
            (self.known.catalogue, place.contains('.') && !place.contains([' ', ':']));
        if plain && first != "build" && catalogue.kind_id(first).is_none() {
            let problem = Problem::new(format!("there is no kind `{}`", clip(first, 40)))
                .code("unknown-kind")
                .at(self.reading.source, span, "in this place");
            let kinds = catalogue.kinds.iter().map(|k| &*k.name);
            self.reading.problems.push(problem.suggest(first, kinds));
        }
    }

    fn measure(&mut self, item: &Spanned<DeValue<'_>>) -> Option<Wanted> {
        let row = MEASURE.row(item, &mut self.reading)?;
        let name = row.text("name")?.to_owned();
        self.rule(&name, row.span("name"));
        if self.known.rules.rule(&name).is_some_and(|r| r.unit.is_none()) {
            self.reading.wrong(
                "wrong-type",
                row.whole,
                format!("`{name}` is a rule, not a measure"),
                "a number is asked of it",
                "write it under `find` or `silent`",
            );
        }
        let absent = row.flag("absent").unwrap_or(false);
        let value = row.number("value").filter(|_| !absent);
        if value.is_none() && !absent {
            let message =
                format!("{name}: give `value`, or `absent = true` when it must not apply");
            self.reading.wrong("missing-key", row.whole, message, "here", "");
        }
        Some(Wanted { name, value, within: row.number("within").unwrap_or(1e-9), span: row.whole })
    }

    fn settings(&mut self, table: &DeTable<'_>) -> Vec<(String, Val)> {
        let Some(value) = table.get("setting") else { return Vec::new() };
        let Some(entries) = value.get_ref().as_table() else {
            self.wrong(
                "`setting` must be a table",
                value,
                "write { \"file.name\" = 1 }, with quotes",
            );
            return Vec::new();
        };
        let mut settings = Vec::new();
        for (key, value) in entries {
            let name: &str = key.get_ref();
            let Some(held) =
                self.known.settings.find("", name).and_then(|at| self.known.settings.get(at))
            else {
                let problem = Problem::new(format!("there is no setting `{}`", clip(name, 60))).at(
                    self.reading.source,
                    key_span(key),
                    "unknown",
                );
                let names = self.known.settings.all();
                self.reading.problems.push(match value.get_ref() {
                    DeValue::Table(_) => {
                        problem.help("write the whole name in quotes: { \"file.name\" = 1 }")
                    }
                    _ => problem.suggest(name, names.iter().map(|s| &*s.name)),
                });
                continue;
            };
            match (value.get_ref().as_str(), plain_number(value.get_ref()), &held.value) {
                (Some(text), _, Val::Text(_)) => {
                    settings.push((name.to_owned(), Val::Text(text.into())))
                }
                (_, Some(n), Val::Num(_)) => settings.push((name.to_owned(), Val::Num(n))),
                (_, _, Val::Text(_)) => {
                    self.wrong(&format!("setting `{name}` is a text"), value, "")
                }
                _ => self.wrong(&format!("setting `{name}` is a number"), value, ""),
            }
        }
        settings
    }
}
