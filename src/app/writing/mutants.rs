//! Small wrongs put into rules, one at a time: if no case notices, a slip of the pen would go
//! unnoticed too.

use std::sync::Arc;

use crate::catalogue::value::Val;
use crate::layer::Layer;
use crate::rules::outline::Outline;
use crate::rules::tokens::{Kind, Token};
use crate::settings::Settings;
use crate::source::{Label, Source, Span};

/// Operators and what they are nudged to.
const NUDGES: &[(&str, &str)] = &[
    ("<", "<="),
    ("<=", "<"),
    (">", ">="),
    (">=", ">"),
    ("==", "!="),
    ("!=", "=="),
    ("&&", "||"),
    ("||", "&&"),
];
/// How far a setting or a large constant is nudged.
const SHARE: f64 = 0.1;

/// One small wrong.
#[derive(Debug, Clone)]
pub struct Mutant {
    pub file: String,
    /// Where, and what it becomes, in words.
    pub label: Label,
    /// What stands there instead.
    pub becomes: String,
    /// The function it is in, for a rule file.
    pub function: Option<String>,
    /// The rule file whose rules it touches.
    pub stem: String,
}

impl Mutant {
    /// The layer with the wrong in it.
    pub fn planted(&self, layer: &Layer) -> Layer {
        let mut layer = layer.clone();
        for (below, source) in &mut layer.files {
            if *below == self.file {
                let mut text = source.text.clone();
                text.replace_range(self.label.span.start()..self.label.span.end(), &self.becomes);
                *source = Source::new(source.name.clone(), text);
            }
        }
        layer
    }
}

/// Every small wrong that a layer's rule files, helpers and settings can have; `only` names one
/// rule file.
pub fn mutants(layer: &Layer, settings: &Settings, only: Option<&str>) -> Vec<Mutant> {
    let mut found = Vec::new();
    for (below, source) in layer.files.iter().filter(|(below, _)| below.ends_with(".rhai")) {
        let stem = below.strip_prefix("lib/").unwrap_or(below).trim_end_matches(".rhai");
        if only.is_none_or(|o| o == stem) {
            in_script(below, stem, source, &mut found);
        }
    }
    in_settings(layer, settings, only, &mut found);
    found
}

fn in_script(below: &str, stem: &str, source: &Arc<Source>, into: &mut Vec<Mutant>) {
    let outline = Outline::read(&source.text);
    for (at, token) in outline.tokens.iter().enumerate() {
        let closure = token.is("||")
            && (outline.is(at, -1, "(") || outline.is(at, -1, ",") || outline.is(at, -1, "="));
        let becomes: Vec<String> = match token.kind {
            Kind::Sign if !closure => NUDGES
                .iter()
                .filter(|(from, _)| *from == token.text)
                .map(|(_, to)| (*to).to_owned())
                .collect(),
            Kind::Number => nudged_number(token),
            _ => Vec::new(),
        };
        for becomes in becomes {
            let text = format!("`{}` as `{becomes}`", token.text);
            let function = outline.function_of(at).map(|f| f.name.to_owned());
            into.push(Mutant {
                file: below.to_owned(),
                label: Label { source: source.clone(), span: token.span, text },
                becomes,
                function,
                stem: stem.to_owned(),
            });
        }
    }
}

/// A number a little up and a little down: by one, or by a tenth where one would be nothing. Nought
/// goes up only, since no figure of the trade is less than nothing and a limit below it would be
/// the same limit.
fn nudged_number(token: &Token<'_>) -> Vec<String> {
    let plain: String = token.text.chars().filter(|c| *c != '_').collect();
    if let Ok(n) = plain.parse::<i64>() {
        let step = ((n as f64 * SHARE).round() as i64).max(1);
        return [n.checked_add(step), n.checked_sub(step)]
            .into_iter()
            .flatten()
            .filter(|n| *n >= 0)
            .map(|n| n.to_string())
            .collect();
    }
    plain
        .parse::<f64>()
        .map_or_else(|_| Vec::new(), |n| nudged(n).into_iter().map(|n| format!("{n:?}")).collect())
}

/// A number by a tenth up and down, without the dust of binary fractions.
fn nudged(n: f64) -> Vec<f64> {
    let clean = |n: f64| format!("{n:.9}").parse::<f64>().unwrap_or(n);
    if n == 0.0 { vec![SHARE] } else { vec![clean(n * (1.0 + SHARE)), clean(n * (1.0 - SHARE))] }
}

fn in_settings(layer: &Layer, settings: &Settings, only: Option<&str>, into: &mut Vec<Mutant>) {
    let Some((below, source)) = layer.files.iter().find(|(below, _)| below == "settings.toml")
    else {
        return;
    };
    for setting in settings.all().into_iter().filter(|s| Arc::ptr_eq(&s.source, source)) {
        let Val::Num(n) = setting.value else { continue };
        let stem = setting.name.split('.').next().unwrap_or("").to_owned();
        if only.is_some_and(|o| o != stem) {
            continue;
        }
        for becomes in nudged(n).into_iter().map(|n| n.to_string()) {
            let text = format!("setting {} as {becomes}", setting.name);
            into.push(Mutant {
                file: below.clone(),
                label: Label { source: source.clone(), span: setting.span, text },
                becomes,
                function: None,
                stem: stem.clone(),
            });
        }
    }
}

/// Whether a span covers nothing: a setting with no place can't be nudged.
pub(crate) fn placed(mutant: &Mutant) -> bool {
    mutant.label.span != Span::default()
}

#[cfg(test)]
#[path = "../../../tests/unit/app/writing/mutants.rs"]
mod tests;
