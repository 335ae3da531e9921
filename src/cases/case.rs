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
use crate::catalogue::field_reader::{found, key_span, plain_number};
use crate::catalogue::value::Val;
use crate::kit::{Audit, Kit};
use crate::rules::loader::RuleSet;
use crate::settings::Settings;
use crate::source::{Problem, Problems, Source, Span};
use crate::words::clip;

/// Keys of a case.
pub(crate) const CASE_KEYS: &[&str] =
    &["name", "base", "without", "build", "line", "find", "silent", "measure", "setting", "note"];
/// Keys of what must be found.
pub(crate) const FIND_KEYS: &[&str] = &["rule", "level", "at", "says", "times"];
/// Keys of what must be measured.
pub(crate) const MEASURE_KEYS: &[&str] = &["name", "value", "within", "absent"];
const LEVELS: &[&str] = &["stop", "caution", "advice"];
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
    pub(super) finds: Vec<Find>,
    pub(super) silent: Vec<(String, Span)>,
    pub(super) measures: Vec<Wanted>,
    settings: Vec<(String, Val)>,
}

/// A finding that must be there.
#[derive(Debug)]
pub(super) struct Find {
    pub(super) rule: String,
    pub(super) level: Option<String>,
    pub(super) at: Vec<String>,
    pub(super) says: Option<String>,
    pub(super) times: Option<usize>,
    pub(super) span: Span,
}

/// A number that a measure must give.
#[derive(Debug)]
pub(super) struct Wanted {
    pub(super) name: String,
    pub(super) value: Option<f64>,
    pub(super) within: f64,
    pub(super) span: Span,
}

impl Case {
    /// Checks it makes.
    pub fn checks(&self) -> usize {
        self.finds.len() + self.silent.len() + self.measures.len()
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

    /// Audits the case's build with the rules it names, and looks at what came of it before
    /// settings are put back.
    pub fn run<T>(&self, kit: &Kit, look: impl FnOnce(&Audit) -> T) -> T {
        let rules = kit.rules();
        let which: Vec<u16> = self.rules.iter().filter_map(|id| rules.find(id)).collect();
        let resolved = Rc::new(Resolved::new(self.build.clone(), kit.catalogue().clone()));
        let audit = kit.audit_case(&resolved, &which, &self.settings);
        let out = look(&audit);
        kit.end_case();
        out
    }

    /// Reads a case, or says everything that is wrong with it.
    pub(super) fn read(
        source: &Arc<Source>,
        entry: &Spanned<DeValue<'_>>,
        known: &Known<'_>,
        problems: &mut Problems,
    ) -> Option<Self> {
        let before = problems.0.len();
        let span = Span::from(entry.span());
        let Some(table) = entry.get_ref().as_table() else {
            problems.push(Problem::new("a case is a table").at(
                source,
                span,
                format!("this is {}", found(entry.get_ref())),
            ));
            return None;
        };
        let mut reader = Reader { source, known, problems, rules: BTreeSet::new() };
        reader.keys("a case", table, CASE_KEYS);
        let head = table.get("name").map_or(span, |v| v.span().into());
        let Some(name) = reader.text(table, "name") else {
            problems.push(
                Problem::new("this case gives no `name`")
                    .at(source, span, "here")
                    .help("say in a few words what it shows"),
            );
            return None;
        };
        let finds = reader
            .items(table, "find", "write each as { rule = \"file.name\", level = \"stop\" }")
            .iter()
            .filter_map(|v| reader.find(v))
            .collect();
        let silent = reader
            .items(table, "silent", "write the rules' ids: [\"file.name\"]")
            .iter()
            .filter_map(|v| reader.silent(v))
            .collect();
        let measures = reader
            .items(table, "measure", "write each as { name = \"file.name\", value = 1 }")
            .iter()
            .filter_map(|v| reader.measure(v))
            .collect();
        let settings = reader.settings(table);
        let rules = std::mem::take(&mut reader.rules);
        if rules.is_empty() && problems.0.len() == before {
            problems.push(
                Problem::new(format!("case \"{}\" checks nothing", clip(&name, 60)))
                    .at(source, head, "this case")
                    .help("add `find`, `silent` or `measure`"),
            );
        }
        let build = build(source, table, known.catalogue, problems);
        let build = Arc::new(build.filter(|_| problems.0.len() == before)?);
        Some(Self {
            name,
            source: source.clone(),
            head,
            whole: whole(source, head),
            build,
            rules,
            finds,
            silent,
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
    source: &'a Arc<Source>,
    known: &'a Known<'a>,
    problems: &'a mut Problems,
    rules: BTreeSet<String>,
}

impl Reader<'_> {
    fn keys(&mut self, of: &str, table: &DeTable<'_>, known: &[&str]) {
        for (key, _) in table {
            if !known.contains(&key.get_ref().as_ref()) {
                let problem = Problem::new(format!("{of} has no `{}`", clip(key.get_ref(), 60)))
                    .at(self.source, key_span(key), "unknown");
                let near = crate::words::nearest(key.get_ref(), known.iter().copied());
                self.problems.push(problem.help(near.map_or_else(
                    || format!("known here: {}", known.join(", ")),
                    |n| format!("did you mean `{n}`?"),
                )));
            }
        }
    }

    fn wrong(&mut self, what: &str, value: &Spanned<DeValue<'_>>, help: &str) {
        let problem = Problem::new(what).at(
            self.source,
            value.span().into(),
            format!("this is {}", found(value.get_ref())),
        );
        self.problems.push(if help.is_empty() { problem } else { problem.help(help) });
    }

    fn text(&mut self, table: &DeTable<'_>, key: &str) -> Option<String> {
        let value = table.get(key)?;
        let text = value.get_ref().as_str().map(str::to_owned);
        if text.is_none() {
            self.wrong(&format!("`{key}` must be a text"), value, "");
        }
        text
    }

    fn number(&mut self, table: &DeTable<'_>, key: &str) -> Option<f64> {
        let value = table.get(key)?;
        let number = plain_number(value.get_ref());
        if number.is_none() {
            self.wrong(&format!("`{key}` must be a number"), value, "");
        }
        number
    }

    fn items<'t, 'i>(
        &mut self,
        table: &'t DeTable<'i>,
        key: &str,
        help: &str,
    ) -> &'t [Spanned<DeValue<'i>>] {
        match table.get(key).map(|v| (v, v.get_ref())) {
            None => &[],
            Some((_, DeValue::Array(items))) => items,
            Some((value, _)) => {
                self.wrong(&format!("`{key}` must be a list"), value, help);
                &[]
            }
        }
    }

    fn rule(&mut self, id: &str, span: Span) {
        let rules = self.known.rules;
        if rules.find(id).is_none() {
            let problem = Problem::new(format!("there is no rule or measure `{}`", clip(id, 60)))
                .at(self.source, span, "unknown");
            self.problems.push(problem.suggest(id, rules.rules.iter().map(|r| &*r.id)));
        }
        self.rules.insert(id.to_owned());
    }

    fn silent(&mut self, item: &Spanned<DeValue<'_>>) -> Option<(String, Span)> {
        let Some(rule) = item.get_ref().as_str() else {
            self.wrong("`silent` holds the ids of rules", item, "write [\"file.name\"]");
            return None;
        };
        let span = item.span().into();
        self.rule(rule, span);
        Some((rule.to_owned(), span))
    }

    fn find(&mut self, item: &Spanned<DeValue<'_>>) -> Option<Find> {
        let span = Span::from(item.span());
        let Some(table) = item.get_ref().as_table() else {
            self.wrong(
                "`find` holds tables",
                item,
                "write { rule = \"file.name\", level = \"stop\" }",
            );
            return None;
        };
        self.keys("`find`", table, FIND_KEYS);
        let Some(rule) = self.text(table, "rule") else {
            self.problems.push(
                Problem::new("`find` names no `rule`")
                    .at(self.source, span, "here")
                    .help("add rule = \"file.name\""),
            );
            return None;
        };
        self.rule(&rule, table.get("rule").map_or(span, |v| v.span().into()));
        let level = self.text(table, "level");
        if let (Some(word), Some(value)) = (&level, table.get("level"))
            && !LEVELS.contains(&word.as_str())
        {
            let problem = Problem::new(format!("there is no level \"{}\"", clip(word, 40))).at(
                self.source,
                value.span().into(),
                "unknown",
            );
            self.problems.push(problem.help("stop, caution or advice"));
        }
        let at = self
            .items(table, "at", "write the places: [\"supply.rated_w\"]")
            .iter()
            .filter_map(|v| self.place(v))
            .collect();
        let times = match self.number(table, "times") {
            Some(n) if n.fract() != 0.0 || !(1.0..=200.0).contains(&n) => {
                self.problems.push(Problem::new("`times` is a whole number from 1 to 200").at(
                    self.source,
                    span,
                    "here",
                ));
                None
            }
            times => times.map(|n| n as usize),
        };
        Some(Find { rule, level, at, says: self.text(table, "says"), times, span })
    }

    /// A place as `kind.field`, `build.field` or `setting:name`; the kind is checked, so that a
    /// slip is told apart from a miss.
    fn place(&mut self, item: &Spanned<DeValue<'_>>) -> Option<String> {
        let Some(place) = item.get_ref().as_str() else {
            self.wrong(
                "a place is a text",
                item,
                "write \"kind.field\", \"build.field\" or \"setting:name\"",
            );
            return None;
        };
        let first = place.split(['.', '[']).next().unwrap_or("");
        let (catalogue, plain) =
            (self.known.catalogue, place.contains('.') && !place.contains([' ', ':']));
        if plain && first != "build" && catalogue.kind_id(first).is_none() {
            let problem = Problem::new(format!("there is no kind `{}`", clip(first, 40))).at(
                self.source,
                item.span().into(),
                "in this place",
            );
            self.problems.push(problem.suggest(first, catalogue.kinds.iter().map(|k| &*k.name)));
        }
        Some(place.to_owned())
    }

    fn measure(&mut self, item: &Spanned<DeValue<'_>>) -> Option<Wanted> {
        let span = Span::from(item.span());
        let Some(table) = item.get_ref().as_table() else {
            self.wrong("`measure` holds tables", item, "write { name = \"file.name\", value = 1 }");
            return None;
        };
        self.keys("`measure`", table, MEASURE_KEYS);
        let Some(name) = self.text(table, "name") else {
            self.problems.push(
                Problem::new("`measure` gives no `name`")
                    .at(self.source, span, "here")
                    .help("add name = \"file.name\""),
            );
            return None;
        };
        self.rule(&name, table.get("name").map_or(span, |v| v.span().into()));
        if self.known.rules.rule(&name).is_some_and(|r| r.unit.is_none()) {
            self.problems.push(
                Problem::new(format!("`{name}` is a rule, not a measure"))
                    .at(self.source, span, "a number is asked of it")
                    .help("write it under `find` or `silent`"),
            );
        }
        let absent =
            matches!(table.get("absent").map(Spanned::get_ref), Some(DeValue::Boolean(true)));
        let value = self.number(table, "value").filter(|_| !absent);
        if value.is_none() && !absent {
            self.problems.push(
                Problem::new(format!(
                    "{name}: give `value`, or `absent = true` when it must not apply"
                ))
                .at(self.source, span, "here"),
            );
        }
        let within = self.number(table, "within").unwrap_or(1e-9);
        Some(Wanted { name, value, within, span })
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
                    self.source,
                    key_span(key),
                    "unknown",
                );
                let names = self.known.settings.all();
                self.problems.push(match value.get_ref() {
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
