//! Findings signed off: how a waiver is written, what it covers, and what is odd about one.

use std::sync::Arc;

use jiff::civil::Date;
use toml::Spanned;
use toml::de::DeValue;

use super::Waiver;
use crate::catalogue::field_reader::{found, key_span, parse};
use crate::source::{Problem, Problems, Source, Span};
use crate::words::clip;

/// Keys of a waiver, all of them needed.
pub const WAIVER_KEYS: &[(&str, &str)] = &[
    ("rule", "the rule's id"),
    (
        "subject",
        "the part or kind of line it is about, such as \"supply/tarn-650\" or \"memory\"; \
         \"build\" for the list as a whole",
    ),
    ("reason", "why it may stay"),
    ("by", "initials of who signed it off"),
    ("until", "the last day on which it counts"),
];
/// The subject of a finding that is about the list as a whole.
pub const WHOLE_BUILD: &str = "build";

/// Reads a shop's `waivers.toml`.
pub(crate) fn read_file(source: &Arc<Source>, problems: &mut Problems) -> Vec<Waiver> {
    let before = problems.0.len();
    let parsed = parse(source, problems);
    if problems.0.len() > before {
        return Vec::new();
    }
    let mut waivers = Vec::new();
    for (key, value) in parsed.get_ref() {
        if &**key.get_ref() == "waive" {
            waivers = read_all(source, value, problems);
        } else {
            let problem = Problem::new(format!(
                "a file of waivers has no `{}`",
                clip(key.get_ref(), 60)
            ))
            .at(source, key_span(key), "unknown");
            problems.push(problem.help("each waiver is written under `[[waive]]`"));
        }
    }
    waivers
}

/// Reads a list of waivers.
pub(crate) fn read_all(
    source: &Arc<Source>,
    value: &Spanned<DeValue<'_>>,
    problems: &mut Problems,
) -> Vec<Waiver> {
    let Some(items) = value.get_ref().as_array() else {
        let problem = Problem::new("`waive` must be a list").at(
            source,
            value.span().into(),
            format!("this is {}", found(value.get_ref())),
        );
        problems.push(problem.help("write each waiver under `[[waive]]`"));
        return Vec::new();
    };
    items.iter().filter_map(|item| read_one(source, item, problems)).collect()
}

fn read_one(
    source: &Arc<Source>,
    item: &Spanned<DeValue<'_>>,
    problems: &mut Problems,
) -> Option<Waiver> {
    let whole = Span::from(item.span());
    let Some(table) = item.get_ref().as_table() else {
        problems.push(Problem::new("a waiver is a table").at(
            source,
            whole,
            format!("this is {}", found(item.get_ref())),
        ));
        return None;
    };
    let keys = || WAIVER_KEYS.iter().map(|(k, _)| *k);
    for (key, _) in table.iter().filter(|(k, _)| !keys().any(|known| known == k.get_ref())) {
        let problem = Problem::new(format!("a waiver has no `{}`", clip(key.get_ref(), 60))).at(
            source,
            key_span(key),
            "unknown",
        );
        problems.push(problem.suggest(key.get_ref(), keys()));
    }
    let missing: Vec<&str> = keys().filter(|key| !table.contains_key(*key)).collect();
    if !missing.is_empty() {
        let help: Vec<String> = WAIVER_KEYS
            .iter()
            .filter(|(k, _)| missing.contains(k))
            .map(|(k, meaning)| format!("{k}: {meaning}"))
            .collect();
        problems.push(
            Problem::new(format!("this waiver gives no `{}`", missing.join("`, no `")))
                .at(source, whole, "here")
                .help(help.join("; ")),
        );
    }
    let mut text = |key: &str| {
        let value = table.get(key)?;
        let text =
            value.get_ref().as_str().map(str::trim).filter(|t| !t.is_empty()).map(str::to_owned);
        if text.is_none() {
            let this = if value.get_ref().as_str().is_some() {
                "nothing is written here"
            } else {
                found(value.get_ref())
            };
            problems.push(Problem::new(format!("`{key}` of a waiver must be a text")).at(
                source,
                value.span().into(),
                format!("this is {this}").replace("this is nothing", "nothing"),
            ));
        }
        text
    };
    let (rule, subject, reason, by) = (text("rule"), text("subject"), text("reason"), text("by"));
    let until = table.get("until").and_then(|value| {
        let day = day(value.get_ref());
        if day.is_none() {
            problems.push(Problem::new("a day is written YYYY-MM-DD").at(
                source,
                value.span().into(),
                format!("this is {}", found(value.get_ref())),
            ));
        }
        day
    });
    Some(Waiver {
        rule: rule?,
        subject,
        reason: reason?,
        by: by?,
        until: until?,
        span: whole,
        source: source.clone(),
    })
    .filter(|w| w.subject.is_some())
}

/// A day as TOML writes it, or as a text.
pub(crate) fn day(value: &DeValue<'_>) -> Option<Date> {
    let text = match value {
        DeValue::Datetime(day) if day.time.is_none() && day.offset.is_none() => day.to_string(),
        DeValue::String(text) => text.to_string(),
        _ => return None,
    };
    text.parse().ok()
}

impl Waiver {
    /// Whether it is about one of these parts, or about the list as a whole.
    pub fn is_about(&self, subjects: &[String]) -> bool {
        match self.subject.as_deref() {
            None | Some(WHOLE_BUILD) => true,
            Some(subject) => {
                subjects.iter().any(|id| id == subject || id.split('/').next() == Some(subject))
            }
        }
    }
}
