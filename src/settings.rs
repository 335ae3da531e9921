//! The numbers that rules ask for and a shop may change, and what a shop decided of single rules.

use std::collections::HashMap;
use std::sync::Arc;

use toml::de::DeTable;

use crate::catalogue::declared::{Declared, Reading, Takes, key, needed};
use crate::catalogue::field_reader::{found, key_span, sound};
use crate::catalogue::value::Val;
use crate::layer::{Layer, carried_rules};
use crate::level::{LEVELS, Level};
use crate::source::{Problem, Problems, Source, Span};

/// A number or text that rules ask for.
pub(crate) const SETTING: Declared = Declared {
    of: "a setting",
    keys: &[
        needed("value", Takes::Figure, "the number or text that rules get"),
        key("unit", Takes::Text, "unit of a number"),
        key("meaning", Takes::Text, "what it means"),
        key("basis", Takes::Text, "where the figure comes from"),
    ],
};
/// A decision on one rule.
pub(crate) const CHOICE: Declared = Declared {
    of: "a decision on a rule",
    keys: &[
        key("level", Takes::Words(LEVELS), "another level for its findings"),
        key("off", Takes::Flag, "whether it is switched off"),
        needed("reason", Takes::Text, "why, for the next person"),
    ],
};

/// One setting.
#[derive(Debug, Clone)]
pub struct Setting {
    /// `file.name`, or a bare name for one that all files share.
    pub name: Arc<str>,
    /// A number or a text.
    pub value: Val,
    /// Unit of a number.
    pub unit: Arc<str>,
    /// What it means.
    pub meaning: String,
    /// Where the figure comes from.
    pub basis: String,
    /// Where its value is written.
    pub span: Span,
    /// In which file.
    pub source: Arc<Source>,
    /// In which layer.
    pub layer: String,
}

/// What a shop decided of one rule, or of all that a pattern or tag chooses.
#[derive(Debug, Clone)]
pub struct RuleChoice {
    /// What it names: an id, a pattern such as `bench.*`, or `tag:electrical`.
    pub names: String,
    /// Another level for its findings.
    pub level: Option<Level>,
    /// Switched off.
    pub off: bool,
    /// Why.
    pub reason: String,
    /// Where it is written.
    pub span: Span,
    /// In which file.
    pub source: Arc<Source>,
    /// In which layer.
    pub layer: String,
}

/// What a choice of rules by tag begins with.
pub(crate) const TAG: &str = "tag:";

/// Whether a word may choose several rules.
pub(crate) fn is_pattern(word: &str) -> bool {
    word.starts_with(TAG) || word.contains(['*', '?'])
}

impl RuleChoice {
    /// What was decided, in words: `switched off in rules/settings.toml: no supplies of that sort
    /// here`.
    pub fn words(&self) -> String {
        let what = match (self.off, self.level) {
            (true, _) => "switched off".to_owned(),
            (_, Some(level)) => format!("counts as {level}"),
            _ => "as it is".to_owned(),
        };
        let by = match is_pattern(&self.names) {
            true => format!(" by {}", self.names),
            false => String::new(),
        };
        format!("{what}{by} in {}: {}", self.source.name, self.reason)
    }
}

/// All settings in force.
#[derive(Debug, Default, Clone)]
pub struct Settings {
    entries: Vec<Setting>,
    by_name: HashMap<Arc<str>, u16>,
    /// Whether the program's own settings are there.
    carried: bool,
    /// Whether a layer gives a setting another unit than the one below.
    other_units: bool,
    /// Decisions as written, the lower layers' first.
    pub(crate) written: Vec<RuleChoice>,
    /// The decision that holds for each rule, by its id.
    pub choices: HashMap<String, RuleChoice>,
}

impl Settings {
    /// Reads `settings.toml` of every layer; a later layer overrides by name.
    pub fn load(layers: &[Layer]) -> Result<Self, Problems> {
        let mut settings = Self::default();
        let mut problems = Problems::default();
        for layer in Layer::in_force(layers) {
            for (_, source) in layer.files.iter().filter(|(below, _)| below == "settings.toml") {
                settings.carried |= carried_rules("settings.toml") == Some(&source.text);
                settings.read(source, &layer.label, &mut problems);
            }
        }
        problems.or(settings)
    }

    /// Whether the settings that the program carries are there, in their units.
    pub(crate) fn units_as_carried(&self) -> bool {
        self.carried && !self.other_units
    }

    /// A setting by its place.
    pub fn get(&self, at: u16) -> Option<&Setting> {
        self.entries.get(at as usize)
    }

    /// The value of a setting.
    pub fn value(&self, at: u16) -> &Val {
        self.entries.get(at as usize).map_or(&Val::Absent, |s| &s.value)
    }

    /// The number of a setting.
    pub(crate) fn number(&self, file: &str, name: &str) -> Option<f64> {
        self.value(self.find(file, name)?).as_num()
    }

    /// Finds a setting as a script in `file` names it: `name` is `file.name` first, then as
    /// written.
    pub fn find(&self, file: &str, name: &str) -> Option<u16> {
        self.by_name
            .get(format!("{file}.{name}").as_str())
            .or_else(|| self.by_name.get(name))
            .copied()
    }

    /// Every setting, in order of name.
    pub fn all(&self) -> Vec<&Setting> {
        let mut all: Vec<&Setting> = self.entries.iter().collect();
        all.sort_by(|a, b| a.name.cmp(&b.name));
        all
    }

    /// The same settings with one value changed, for rule cases and mutation.
    pub fn set(&mut self, name: &str, value: Val) -> Result<(), Problem> {
        match self.by_name.get(name).and_then(|at| self.entries.get_mut(*at as usize)) {
            Some(setting) => {
                setting.value = value;
                Ok(())
            }
            None => Err(Problem::new(format!("there is no setting `{name}`"))
                .suggest(name, self.by_name.keys().map(|k| &**k))),
        }
    }

    fn read(&mut self, source: &Arc<Source>, layer: &str, problems: &mut Problems) {
        let Some(parsed) = sound(source, problems) else { return };
        for (key, value) in parsed.get_ref() {
            let Some(table) = value.get_ref().as_table() else {
                problems.push(
                    Problem::new(format!("`{}` is not a setting", key.get_ref()))
                        .at(
                            source,
                            value.span().into(),
                            format!("this is {}", found(value.get_ref())),
                        )
                        .help("a setting is written `[file.name]` and below it `value = …`"),
                );
                continue;
            };
            if &**key.get_ref() == "rule" {
                self.read_choices(table, source, layer, problems);
            } else if table.contains_key("value") {
                self.read_one(
                    key.get_ref().to_string(),
                    key_span(key),
                    table,
                    source,
                    layer,
                    problems,
                );
            } else {
                for (name, inner) in table {
                    let full = format!("{}.{}", key.get_ref(), name.get_ref());
                    match inner.get_ref().as_table() {
                        Some(table) => {
                            self.read_one(full, key_span(name), table, source, layer, problems)
                        }
                        None => problems.push(
                            Problem::new(format!("`{full}` is not a setting"))
                                .at(
                                    source,
                                    inner.span().into(),
                                    format!("this is {}", found(inner.get_ref())),
                                )
                                .help("write `value = …` under `[file.name]`"),
                        ),
                    }
                }
            }
        }
    }

    fn read_one(
        &mut self,
        name: String,
        head: Span,
        table: &DeTable<'_>,
        source: &Arc<Source>,
        layer: &str,
        problems: &mut Problems,
    ) {
        let mut reading = Reading { source, catalogue: None, problems };
        let row = SETTING.check(table, head, &mut reading);
        let text = |key: &str| row.text(key).unwrap_or("").to_owned();
        let value = match (row.number("value"), row.text("value")) {
            (Some(n), _) => Val::Num(n),
            (_, Some(text)) => Val::Text(text.into()),
            _ => return,
        };
        let place = row.span("value");
        let held = self.by_name.get(name.as_str()).and_then(|at| self.entries.get(*at as usize));
        let keep = |fresh: String, old: fn(&Setting) -> String| {
            if fresh.is_empty() { held.map_or(fresh, old) } else { fresh }
        };
        let unit: Arc<str> = keep(text("unit"), |s| s.unit.to_string()).into();
        self.other_units |= held.is_some_and(|held| held.unit != unit);
        let meaning = keep(text("meaning"), |s| s.meaning.clone());
        let basis = keep(text("basis"), |s| s.basis.clone());
        if held.is_some_and(|h| std::mem::discriminant(&h.value) != std::mem::discriminant(&value))
        {
            problems.push(
                Problem::new(format!("setting `{name}` changes from a number to a text or back"))
                    .code("wrong-type")
                    .at(source, place, "another type than in the layer below"),
            );
        }
        let setting = Setting {
            name: name.as_str().into(),
            value,
            unit,
            meaning,
            basis,
            span: place,
            source: source.clone(),
            layer: layer.to_owned(),
        };
        match self.by_name.get(name.as_str()) {
            Some(at) => {
                if let Some(slot) = self.entries.get_mut(*at as usize) {
                    *slot = setting;
                }
            }
            None => {
                self.by_name.insert(
                    setting.name.clone(),
                    u16::try_from(self.entries.len()).unwrap_or(u16::MAX),
                );
                self.entries.push(setting);
            }
        }
    }

    fn read_choices(
        &mut self,
        table: &DeTable<'_>,
        source: &Arc<Source>,
        layer: &str,
        problems: &mut Problems,
    ) {
        let before = self.written.len();
        for (key, value) in table {
            let id = key.get_ref().to_string();
            let Some(choice) = value.get_ref().as_table() else {
                problems.push(
                    Problem::new(format!("what is decided of rule `{id}` must be a table"))
                        .at(source, value.span().into(), found(value.get_ref()))
                        .help("write `[rule.\"file.name\"]`, with quotes"),
                );
                continue;
            };
            if let Some((inner, _)) = choice.iter().find(|(_, v)| v.get_ref().as_table().is_some())
            {
                let problem = Problem::new(format!(
                    "a decision on a rule names it in quotes: `{id}.{}`",
                    inner.get_ref()
                ))
                .at(source, key_span(inner), "here");
                problems.push(problem.help(format!("write `[rule.\"{id}.{}\"]`", inner.get_ref())));
                continue;
            }
            let mut reading = Reading { source, catalogue: None, problems };
            let row = CHOICE.check(choice, key_span(key), &mut reading);
            if row.get("off").is_none() && row.get("level").is_none() {
                problems.push(
                    Problem::new(format!("the decision on rule `{id}` decides nothing"))
                        .code("missing-key")
                        .at(source, key_span(key), "here")
                        .help("add `off = true` or `level = \"advice\"`"),
                );
            }
            let off = row.flag("off").unwrap_or(false);
            let level = row.text("level").and_then(Level::by_name);
            let reason = row.text("reason").unwrap_or("").to_owned();
            self.written.push(RuleChoice {
                names: id,
                level,
                off,
                reason,
                span: key_span(key),
                source: source.clone(),
                layer: layer.to_owned(),
            });
        }
        if let Some(own) = self.written.get_mut(before..) {
            own.sort_by_key(|choice| is_pattern(&choice.names));
        }
    }
}
