//! `dryfit rules list`: rules and measures under their files, with the layer of each and what a
//! shop decided of it.

use std::collections::BTreeSet;

use crate::app::counted::count;
use crate::app::report::escape::{indented, inert, width};
use crate::app::report::style::Look;
use crate::kit::Kit;
use crate::level::Level;
use crate::rules::loader::Rule;
use crate::settings::RuleChoice;
use crate::source::Problem;
use crate::words::some_of;

/// Which rules are listed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted<'a> {
    /// Those of one rule file.
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
        None => rule.levels.clone(),
    }
}

/// Rules and measures with their levels, titles and bases, under the heading of their file.
///
/// # Errors
/// There is no such subject or layer.
pub fn list(look: Look, kit: &Kit, wanted: Wanted<'_>) -> Result<String, Problem> {
    let rules = kit.rules();
    let settings = kit.settings();
    let layers = layers(kit);
    check(kit, &layers, wanted)?;
    let in_layer = |layer: &str| wanted.layer.is_none_or(|l| layer.contains(l));
    let choice = |rule: &Rule| settings.choices.get(&*rule.id);
    let shown: Vec<&Rule> = rules
        .rules
        .iter()
        .filter(|r| {
            wanted.subject.is_none_or(|s| *r.file == *s)
                && wanted.level.is_none_or(|l| levels(r, choice(r)).contains(&l))
        })
        .filter(|r| in_layer(&r.layer) || choice(r).is_some_and(|c| in_layer(&c.layer)))
        .collect();
    let mut out = String::new();
    let mut file = "";
    for rule in &shown {
        if *rule.file != *file {
            if !file.is_empty() {
                out.push('\n');
            }
            file = &rule.file;
            let about = rules.files.iter().filter(|f| f.stem == rule.file && !f.about.is_empty());
            let about = about.map(|f| f.about.as_str()).next().unwrap_or(file);
            out.push_str(&indented(&inert(about), "", "  ", look.width));
        }
        let layer = rules.added().any(|r| r.id == rule.id).then_some(rule.layer.as_str());
        out.push_str(&entry(look, rule, layer, choice(rule)));
    }
    if wanted.settings {
        out.push_str(&settings_text(look, kit, wanted, &in_layer, layers.len() > 1));
    }
    for taken in &rules.taken {
        let text = inert(&format!(
            "{} takes the place of the whole {} file {}: {}",
            taken.layer, taken.over, taken.file, taken.reason
        ));
        out.push('\n');
        out.push_str(&indented(&text, "", "  ", look.width));
    }
    let off = shown.iter().filter(|r| choice(r).is_some_and(|c| c.off)).count();
    out.push_str(&totals(&shown, off));
    Ok(out)
}

/// The layers that rules and settings come from.
fn layers(kit: &Kit) -> BTreeSet<String> {
    let (rules, settings) = (kit.rules(), kit.settings());
    let of_rules = rules.files.iter().map(|f| f.layer.clone());
    of_rules.chain(settings.all().into_iter().map(|s| s.layer.clone())).collect()
}

/// Whether there are such a rule file and such a layer.
fn check(kit: &Kit, layers: &BTreeSet<String>, wanted: Wanted<'_>) -> Result<(), Problem> {
    let rules = kit.rules();
    if let Some(subject) = wanted.subject
        && !rules.rules.iter().any(|r| *r.file == *subject)
    {
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

/// How many rules, measures and steps are shown, and how many are switched off.
fn totals(shown: &[&Rule], off: usize) -> String {
    let measures = shown.iter().filter(|r| r.unit.is_some()).count();
    let steps = shown.iter().filter(|r| r.step.is_some()).count();
    let worked = if steps > 0 { format!(", {}", count(steps, "step")) } else { String::new() };
    let off = if off > 0 { format!(", {off} switched off") } else { String::new() };
    format!(
        "\n{}, {}{worked}{off}\n",
        count(shown.len() - measures - steps, "rule"),
        count(measures, "measure")
    )
}

fn entry(look: Look, rule: &Rule, layer: Option<&str>, choice: Option<&RuleChoice>) -> String {
    let raised = || rule.levels.iter().map(Level::to_string).collect::<Vec<_>>().join(" or ");
    let what = match &rule.unit {
        Some(unit) if unit.is_empty() => "measure".to_owned(),
        Some(unit) => format!("measure in {unit}"),
        None if rule.step.is_some() => "step of the work".to_owned(),
        None if rule.levels.is_empty() => "rule".to_owned(),
        None => raised(),
    };
    let flaw = if rule.flaw.is_some() { "; broken" } else { "" };
    let basis = if rule.basis.is_empty() { "none given" } else { rule.basis.trim_end_matches('.') };
    let mut text =
        inert(&format!("{} ({what}{flaw}). Basis: {basis}", rule.title.trim_end_matches('.')));
    match (&rule.over, layer) {
        (Some(over), _) => text
            .push_str(&inert(&format!(" [{}, in place of the {} rule]", rule.layer, over.layer))),
        (None, Some(layer)) => text.push_str(&inert(&format!(" [{layer}]"))),
        (None, None) => {}
    }
    if let Some(choice) = choice {
        text.push_str(&inert(&format!(" — {}", choice.words())));
    }
    if look.width < 60 {
        return indented(&format!("{} {text}", rule.id), "  ", "    ", look.width);
    }
    let pad = " ".repeat(30usize.saturating_sub(width(&rule.id)));
    indented(&text, &format!("  {}{pad}  ", rule.id), &" ".repeat(34), look.width)
}

fn settings_text(
    look: Look,
    kit: &Kit,
    wanted: Wanted<'_>,
    in_layer: &dyn Fn(&str) -> bool,
    told: bool,
) -> String {
    let settings = kit.settings();
    let mut out = "\nSettings\n".to_owned();
    for setting in settings.all().into_iter().filter(|s| {
        in_layer(&s.layer) && wanted.subject.is_none_or(|w| s.name.split('.').next() == Some(w))
    }) {
        let layer = if told { format!(" [{}]", setting.layer) } else { String::new() };
        let text = inert(&format!(
            "{} {}; {}{layer}",
            setting.value.show(),
            setting.unit,
            setting.meaning
        ));
        if look.width < 60 {
            out.push_str(&indented(&format!("{} {text}", setting.name), "  ", "    ", look.width));
        } else {
            let pad = " ".repeat(30usize.saturating_sub(width(&setting.name)));
            out.push_str(&indented(
                &text,
                &format!("  {}{pad}  ", setting.name),
                &" ".repeat(34),
                look.width,
            ));
        }
    }
    out
}
