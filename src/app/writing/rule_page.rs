//! `dryfit rules explain`: all of one rule on a page, with what its cases show.

use super::examples::gather;
use crate::app::report::escape::{inert, inert_char};
use crate::app::report::style::{Look, Role};
use crate::kit::{Kit, Layers};
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::rules::loader::Rule;
use crate::settings::Setting;
use crate::source::Problem;

pub fn explain(look: Look, kit: &Kit, layers: &Layers, id: &str) -> Result<String, Problem> {
    let rules = kit.rules();
    let Some(rule) = rules.rule(id) else {
        return Err(Problem::new(format!("there is no rule `{id}`"))
            .suggest(id, rules.rules.iter().map(|r| &*r.id)));
    };
    let shown = gather(kit, layers, |of| of == id).remove(id).unwrap_or_default();
    let mut out = format!("{}\n", rule.id);
    out.push_str(&look.paragraph(&rule.title));
    if !rule.why.is_empty() {
        out.push('\n');
        out.push_str(&look.paragraph(&rule.why));
    }
    out.push('\n');
    match &rule.unit {
        None if rule.step.is_some() => out.push_str(&look.paragraph("A step of the work.")),
        Some(unit) => out.push_str(
            &look.noted("A measure in:", if unit.is_empty() { "plain numbers" } else { unit }),
        ),
        None => out.push_str(&look.noted(
            "Raises:",
            &rule.levels().iter().map(Level::to_string).collect::<Vec<_>>().join(", "),
        )),
    }
    if let Some(choice) = kit.settings().choices.get(id) {
        out.push_str(&look.noted("This shop:", &choice.words()));
    }
    out.push_str(&look.noted("Fix:", &rule.remedy));
    out.push_str(&look.noted("Source:", &rule.basis));
    for (word, text) in rule.notes() {
        out.push_str(&look.noted(&format!("{word}:"), &text));
    }
    out.push_str(&settings_named(look, kit, rule));
    out.push_str(&look.noted(
        "Reads, over its cases:",
        &shown.reads.iter().cloned().collect::<Vec<_>>().join(", "),
    ));
    let over = rule.over.as_ref().map(|over| format!(", in place of the {over} rule"));
    out.push_str(&look.noted("Layer:", &format!("{}{}", rule.layer, over.unwrap_or_default())));
    for (words, example) in [
        (if rule.unit.is_some() { "Gives a number" } else { "Fires" }, &shown.fires),
        (if rule.unit.is_some() { "Does not apply" } else { "Stays silent" }, &shown.silent),
    ] {
        if let Some(example) = example {
            out.push_str(&format!("\n{words} in this case ({}):\n", inert(&example.place)));
            out.push_str(&indented_text(&example.text));
            for said in &example.said {
                out.push_str(&look.noted("It says:", said));
            }
        }
    }
    if let Some(flaw) = &rule.flaw {
        out.push('\n');
        out.push_str(&look.problem(Role::Wrong, &BrokenRule::new(rule, flaw).told()));
    }
    out.push_str(&script(kit, rule));
    Ok(out)
}

fn script(kit: &Kit, rule: &Rule) -> String {
    script_of(kit, rule).map_or_else(String::new, |(file, line, text)| {
        format!("\nIts script ({}:{line}):\n{}", inert(&file), indented_text(&text))
    })
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

fn settings_named(look: Look, kit: &Kit, rule: &Rule) -> String {
    let settings = settings_of(kit, rule);
    let words = settings.iter().map(|setting| {
        format!(
            "{} = {} {} ({}; {})",
            setting.name,
            setting.value.show(),
            setting.unit,
            setting.meaning,
            setting.layer
        )
    });
    words.map(|words| look.noted("Setting:", &words)).collect()
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
