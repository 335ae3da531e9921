//! `dryfit rules explain`: all of one rule on a page, with what its cases show.

use serde_json::json;

use super::examples::{Example, gather};
use super::listing::rule_json;
use crate::app::report::escape::inert_char;
use crate::app::report::json::join;
use crate::app::report::page::Page;
use crate::app::report::style::{Look, Role};
use crate::kit::{Kit, Layers};
use crate::rules::loader::{BrokenRule, Rule};
use crate::settings::{RuleChoice, Setting};
use crate::source::Problem;

pub fn explain(look: Look, kit: &Kit, layers: &Layers, id: &str) -> Result<String, Problem> {
    let rules = kit.rules();
    let Some(rule) = rules.rule(id) else {
        return Err(Problem::new(format!("there is no rule `{id}`"))
            .suggest(id, rules.rules.iter().map(|r| &*r.id)));
    };
    let shown = gather(kit, layers, |of| of == id).remove(id).unwrap_or_default();
    let mut page = Page::new(look);
    let words = match rule.unit {
        Some(_) => ["Gives a number", "Does not apply"],
        None => ["Fires", "Stays silent"],
    };
    let mut example = |example: &Option<Example>| {
        example.as_ref().map(|e| {
            json!({ "place": e.place, "text": page.keep(indented_text(&e.text)), "said": e.said })
        })
    };
    let (fires, silent) = (example(&shown.fires), example(&shown.silent));
    let flaw = rule.flaw.as_ref().map(|flaw| BrokenRule::new(rule, flaw).told());
    let script = script_of(kit, rule).map(|(file, line, text)| {
        json!({ "file": file, "line": line, "text": page.keep(indented_text(&text)) })
    });
    let about = json!({
        "choice": kit.settings().choices.get(id).map(RuleChoice::words),
        "notes": rule.notes(),
        "settings": settings_of(kit, rule).iter().map(setting_words).collect::<Vec<_>>(),
        "reads": shown.reads,
        "examples": [(words[0], fires), (words[1], silent)],
        "flaw": flaw.map(|flaw| page.keep(look.problem(Role::Wrong, &flaw))),
        "script": script,
    });
    Ok(page.filled("rule.txt", "", join(rule_json(kit, &rules, rule), about)))
}

fn indented_text(text: &str) -> String {
    text.lines()
        .map(|line| {
            format!(
                "{}\n",
                format!("    {}", line.chars().map(inert_char).collect::<String>()).trim_end()
            )
        })
        .collect()
}

fn setting_words(setting: &Setting) -> String {
    let Setting { name, value, unit, meaning, layer, .. } = setting;
    format!("{name} = {} {unit} ({meaning}; {layer})", value.show())
}

/// The settings that a rule's script names.
pub(crate) fn settings_of(kit: &Kit, rule: &Rule) -> Vec<Setting> {
    let rules = kit.rules();
    let text = rules.files.get(rule.file_at as usize).map_or("", |f| f.source.text.as_str());
    let body = text.get(rule.span().start()..rule.end()).unwrap_or("");
    let named = |name: &str| body.contains(&format!("setting(\"{name}\")"));
    let settings = kit.settings();
    let of_rule = |setting: &&Setting| {
        let short = setting.name.strip_prefix(&format!("{}.", rule.file));
        named(&setting.name) || short.is_some_and(named)
    };
    settings.all().into_iter().filter(of_rule).cloned().collect()
}

/// A rule's script, from the line its name stands on, and that line.
pub(crate) fn script_of(kit: &Kit, rule: &Rule) -> Option<(String, usize, String)> {
    let rules = kit.rules();
    let source = &rules.files.get(rule.file_at as usize)?.source;
    let (line, _) = source.line_column(rule.span().start());
    let before = source.text.get(..rule.span().start()).unwrap_or("");
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let text = source.text.get(start..rule.end()).unwrap_or("").trim_end();
    Some((source.name.clone(), line, text.to_owned()))
}
