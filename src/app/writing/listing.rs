//! `dryfit rules list`: rules and measures under their files, with the layer of each and what a
//! shop decided of it.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::app::report::json::join;
use crate::app::report::layered::taken;
use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::kit::Kit;
use crate::level::Level;
use crate::rules::choice;
use crate::rules::loader::{Better, Rule, RuleSet};
use crate::settings::{RuleChoice, Setting};
use crate::source::Problem;
use crate::words::some_of;

/// Which rules are listed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted<'a> {
    /// Those of one rule file, or those that an id, a pattern or a tag chooses.
    pub subject: Option<&'a str>,
    /// Those that can raise this level here.
    pub level: Option<Level>,
    /// Those of layers with this in their name.
    pub layer: Option<&'a str>,
    /// The settings too.
    pub settings: bool,
}

/// The levels a rule raises here, a shop's choice included.
fn levels(rule: &Rule, choice: Option<&RuleChoice>) -> Vec<Level> {
    match choice.and_then(|c| c.level) {
        Some(level) => vec![level],
        None => rule.levels().to_vec(),
    }
}

impl Wanted<'_> {
    fn in_layer(&self, layer: &str) -> bool {
        self.layer.is_none_or(|l| layer.contains(l))
    }

    fn is_of_subject(&self, rule: &Rule) -> bool {
        self.subject.is_none_or(|s| *rule.file == *s || choice::chooses(s, rule))
    }

    /// Settings of the rules that are wanted.
    fn settings(&self, kit: &Kit) -> Vec<Setting> {
        let rules = kit.rules();
        let of_subject = |s: &Setting| {
            let file = s.name.split('.').next();
            let named = |r: &Rule| file == Some(&*r.file) && self.is_of_subject(r);
            self.subject.is_none() || rules.rules.iter().any(named)
        };
        let settings = kit.settings();
        let wanted = |s: &&Setting| self.settings && self.in_layer(&s.layer) && of_subject(s);
        settings.all().into_iter().filter(wanted).cloned().collect()
    }
}

/// The rules that are wanted, by their places in the set.
pub fn chosen(kit: &Kit, wanted: Wanted<'_>) -> Result<Vec<usize>, Problem> {
    let rules = kit.rules();
    let settings = kit.settings();
    check(&rules, &layers(kit), wanted)?;
    let shown = |r: &Rule| {
        let choice = settings.choices.get(&*r.id);
        wanted.is_of_subject(r)
            && wanted.level.is_none_or(|l| levels(r, choice).contains(&l))
            && (wanted.in_layer(&r.layer) || choice.is_some_and(|c| wanted.in_layer(&c.layer)))
    };
    Ok(rules.rules.iter().enumerate().filter(|(_, r)| shown(r)).map(|(at, _)| at).collect())
}

/// Rules and measures with their levels, titles and bases, under the heading of their file.
pub fn list(look: Look, kit: &Kit, wanted: Wanted<'_>) -> Result<String, Problem> {
    let rules = kit.rules();
    let settings = kit.settings();
    let rule = |rule: &Rule| {
        let mut about = rules.files.iter().filter(|f| f.stem == rule.file && !f.about.is_empty());
        let choice = settings.choices.get(&*rule.id);
        let more = json!({ "about": about.next().map_or(&*rule.file, |f| f.about.as_str()),
        "added": rules.added().any(|r| r.id == rule.id), "notes": rule.notes(),
        "choice": choice.map(RuleChoice::words), "off": choice.is_some_and(|c| c.off) });
        join(rule_json(kit, &rules, rule), more)
    };
    let setting = |s: Setting| {
        json!({ "name": &*s.name, "layer": s.layer,
        "words": format!("{} {}; {}", s.value.show(), s.unit, s.meaning) })
    };
    let chosen = chosen(kit, wanted)?;
    let shown = chosen.iter().filter_map(|at| rules.rules.get(*at));
    let about = json!({
        "rules": shown.map(rule).collect::<Vec<_>>(),
        "with_settings": wanted.settings,
        "settings": wanted.settings(kit).into_iter().map(setting).collect::<Vec<_>>(),
        "several_layers": layers(kit).len() > 1,
        "taken": rules.taken.iter().map(taken).collect::<Vec<_>>(),
    });
    Ok(Page::new(look).filled("rules.txt", "", about))
}

/// The layers that rules and settings come from.
fn layers(kit: &Kit) -> BTreeSet<String> {
    let (rules, settings) = (kit.rules(), kit.settings());
    let of_rules = rules.files.iter().map(|f| f.layer.clone());
    of_rules.chain(settings.all().into_iter().map(|s| s.layer.clone())).collect()
}

/// Whether there are such a rule file and such a layer.
fn check(rules: &RuleSet, layers: &BTreeSet<String>, wanted: Wanted<'_>) -> Result<(), Problem> {
    if let Some(subject) = wanted.subject
        && !rules.rules.iter().any(|r| wanted.is_of_subject(r))
    {
        if crate::settings::is_pattern(subject) || subject.contains('.') {
            return Err(choice::none(rules, subject));
        }
        let files = rules.files.iter().filter(|f| !f.lib).map(|f| &*f.stem);
        return Err(
            Problem::new(format!("no rule file is called `{subject}`")).suggest(subject, files)
        );
    }
    if let Some(layer) = wanted.layer
        && !layers.iter().any(|l| l.contains(layer))
    {
        return Err(Problem::new(format!("no layer is called `{layer}`"))
            .help(format!("layers: {}", some_of(layers.iter().map(String::as_str), 12))));
    }
    Ok(())
}

/// For programs: format `dryfit-rules`, version 1. `rules` in order of id; `decided` is what the
/// shop's settings say of one, null where they say nothing; `settings` with `--settings` only;
/// `broken` are files and rules that cannot be used. Lines count from 1.
pub fn json(kit: &Kit, wanted: Wanted<'_>) -> Result<Value, Problem> {
    let rules = kit.rules();
    let chosen = chosen(kit, wanted)?;
    let shown = chosen.iter().filter_map(|at| rules.rules.get(*at));
    let settings = wanted.settings(kit).into_iter().map(|s| {
        let value = s.value.as_num().map_or_else(|| json!(s.value.show()), |n| json!(n));
        json!({ "name": &*s.name, "value": value, "unit": &*s.unit,
        "meaning": s.meaning, "basis": s.basis, "layer": s.layer })
    });
    Ok(json!({
        "format": "dryfit-rules",
        "version": 1,
        "rules": shown.map(|rule| rule_json(kit, &rules, rule)).collect::<Vec<_>>(),
        "settings": settings.collect::<Vec<_>>(),
        "broken": rules.problems().map(|p| p.to_string()).collect::<Vec<_>>(),
    }))
}

pub(crate) fn rule_json(kit: &Kit, rules: &RuleSet, rule: &Rule) -> Value {
    let sort = match (&rule.unit, rule.step) {
        (Some(_), _) => "measure",
        (_, Some(_)) => "step",
        _ => "rule",
    };
    let place = rules.files.get(rule.file_at as usize).map(|file| {
        json!({ "file": file.source.name, "line": file.source.line_column(rule.span().start()).0 })
    });
    let settings = kit.settings();
    let decided = settings.choices.get(&*rule.id).map(|c| {
        json!({ "by": c.names, "off": c.off, "level": c.level.map(|l| l.to_string()),
        "reason": c.reason, "file": c.source.name })
    });
    json!({
        "id": &*rule.id,
        "subject": &*rule.file,
        "sort": sort,
        "title": &*rule.title,
        "why": rule.why,
        "levels": rule.levels().iter().map(Level::to_string).collect::<Vec<_>>(),
        "unit": rule.unit.as_deref(),
        "better": rule.better.map(|b| if b == Better::More { "more" } else { "less" }),
        "basis": rule.basis,
        "remedy": rule.remedy,
        "tags": rule.tags,
        "since": rule.since,
        "deprecated": rule.deprecated,
        "step": rule.step,
        "for": rule.audience,
        "on_sheet": rule.on_sheet,
        "assumes_nothing": rule.assumes_nothing,
        "layer": rule.layer,
        "over": &rule.over,
        "place": place,
        "decided": decided,
        "broken": rule.flaw.as_ref().map(|flaw| &flaw.message),
    })
}
