//! `dryfit rules explain`: all of one rule on a page, with what its cases show.

use std::collections::BTreeSet;

use super::reads::reads;
use crate::app::report::escape::{inert, inert_char};
use crate::app::report::style::{Look, Tone};
use crate::cases::{Case, Suite, first_in_force};
use crate::kit::{Audit, Kit, Layers};
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::rules::loader::Rule;
use crate::source::Problem;

/// All of one rule.
///
/// # Errors
/// There is no such rule.
pub fn explain(look: Look, kit: &Kit, layers: &Layers, id: &str) -> Result<String, Problem> {
    let rules = kit.rules();
    let Some(rule) = rules.rule(id) else {
        return Err(Problem::new(format!("there is no rule `{id}`"))
            .suggest(id, rules.rules.iter().map(|r| &*r.id)));
    };
    let shown = Shown::gather(kit, layers, id);
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
            &rule.levels.iter().map(Level::to_string).collect::<Vec<_>>().join(", "),
        )),
    }
    if let Some(choice) = kit.settings().choices.get(id) {
        out.push_str(&look.noted("This shop:", &choice.words()));
    }
    out.push_str(&look.noted("Fix:", &rule.remedy));
    out.push_str(&look.noted("Source:", &rule.basis));
    out.push_str(&settings_named(look, kit, rule));
    out.push_str(&look.noted(
        "Reads, over its cases:",
        &shown.reads.iter().cloned().collect::<Vec<_>>().join(", "),
    ));
    let over = rule.over.as_ref().map(|over| format!(", in place of the {} rule", over.layer));
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
        out.push_str(&look.problem(Tone::Broken, &BrokenRule::new(rule, flaw).told()));
    }
    out.push_str(&script(kit, rule));
    Ok(out)
}

fn script(kit: &Kit, rule: &Rule) -> String {
    let rules = kit.rules();
    let Some(file) = rules.files.get(rule.file_at as usize) else { return String::new() };
    let (line, _) = file.source.line_column(rule.span.start());
    let start = file
        .source
        .text
        .get(..rule.span.start())
        .and_then(|t| t.rfind('\n'))
        .map_or(0, |at| at + 1);
    let text = file.source.text.get(start..rule.end).unwrap_or("").trim_end();
    format!("\nIts script ({}:{line}):\n{}", inert(&file.source.name), indented_text(text))
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
    let rules = kit.rules();
    let text = rules.files.get(rule.file_at as usize).map_or("", |f| f.source.text.as_str());
    let body = text.get(rule.span.start()..rule.end).unwrap_or("");
    let settings = kit.settings();
    let mut out = String::new();
    for setting in settings.all() {
        let short = setting.name.strip_prefix(&format!("{}.", rule.file));
        let named = |name: &str| body.contains(&format!("setting(\"{name}\")"));
        if named(&setting.name) || short.is_some_and(named) {
            let words = format!(
                "{} = {} {} ({}; {})",
                setting.name,
                setting.value.show(),
                setting.unit,
                setting.meaning,
                setting.layer
            );
            out.push_str(&look.noted("Setting:", &words));
        }
    }
    out
}

/// A case, as an example.
struct Example {
    place: String,
    text: String,
    said: Vec<String>,
}

/// What the cases show of a rule.
#[derive(Default)]
struct Shown {
    reads: BTreeSet<String>,
    fires: Option<Example>,
    silent: Option<Example>,
}

impl Shown {
    fn gather(kit: &Kit, layers: &Layers, id: &str) -> Self {
        let mut shown = Self::default();
        for layer in layers.rules.get(first_in_force(layers)..).unwrap_or(&[]) {
            let suite = Suite::read(layer, None, kit.catalogue(), &kit.rules(), &kit.settings());
            for case in suite.cases.iter().filter(|c| c.rules.contains(id)) {
                case.run(kit, |audit| shown.take(audit, case, id));
            }
        }
        shown
    }

    /// The shortest case of each sort is the example.
    fn take(&mut self, audit: &Audit, case: &Case, id: &str) {
        self.reads.extend(reads(audit, id));
        let mut said: Vec<String> = audit
            .findings()
            .iter()
            .filter(|f| f.rule == id)
            .map(|f| format!("{}: {}", f.level, f.message))
            .collect();
        said.extend(
            audit
                .measures()
                .iter()
                .filter(|m| *m.id == *id && m.value.is_some())
                .map(|m| m.words.clone()),
        );
        let slot = match (case.fires(id) && !said.is_empty(), case.silences(id) && said.is_empty())
        {
            (true, _) => &mut self.fires,
            (_, true) => &mut self.silent,
            _ => return,
        };
        let text = case.source.slice(case.whole);
        if slot.as_ref().is_none_or(|held| text.len() < held.text.len()) {
            let (line, _) = case.source.line_column(case.head.start());
            *slot = Some(Example {
                place: format!("{}:{line}", case.source.name),
                text: text.to_owned(),
                said,
            });
        }
    }
}
