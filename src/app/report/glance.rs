//! A build's report in a few words: the verdict, how many findings there are, what it costs, and
//! what to do next.

use crate::app::counted::count;
use crate::app::report::escape::inert;
use crate::app::report::{Audited, Report};
use crate::kit::{Ruling, asked_first};
use crate::level::Level;

/// The verdict on a build; one with a line that no part fits is not settled.
pub fn verdict(audited: &Audited) -> Ruling {
    match audited.ruling {
        Ruling::Care | Ruling::Build if audited.code != 0 => Ruling::Open,
        ruling => ruling,
    }
}

/// How many findings there are, those signed off included; advice where it is wanted too.
pub fn counts(audited: &Audited, with_advice: bool) -> String {
    let at = |level| audited.at(level).count();
    let cautions = at(Level::Caution) + audited.waivers.len();
    let found: Vec<String> = [
        (audited.broken.len(), "broken rule"),
        (at(Level::Stop), "stop"),
        (audited.left.len(), "open line"),
        (cautions, "caution"),
        (asked_first(&audited.questions), "fact to look up"),
        (if with_advice { at(Level::Advice) } else { 0 }, "advice"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, noun)| count(n, noun))
    .chain(Some(audited.waived().count()).filter(|n| *n > 0).map(|n| format!("{n} waived")))
    .chain(accepted(audited))
    .collect();
    if found.is_empty() { "no stops, no cautions".to_owned() } else { found.join(", ") }
}

/// What was accepted as it was; stops among it are told, since the verdict leaves them out.
fn accepted(audited: &Audited) -> Option<String> {
    let stops = audited.accepted.iter().filter(|m| m.finding.level == Level::Stop).count();
    match (audited.accepted.len(), stops) {
        (0, _) => None,
        (all, 0) => Some(format!("{all} accepted")),
        (all, stops) => Some(format!("{all} accepted with {}", count(stops, "stop"))),
    }
}

/// What it costs, against what it may cost.
pub fn money(audited: &Audited) -> String {
    let total = audited.paid;
    let bare = |amount: f64| {
        let words = audited.money(amount);
        words.split(' ').next().map_or_else(String::new, ToOwned::to_owned)
    };
    let mut words = match audited.budget.map(|b| b - audited.total) {
        Some(left) if left < 0.0 => format!("{total}, {} over", bare(-left)),
        Some(left) if audited.unpriced == 0 => format!("{total}, {} under", bare(left)),
        _ => total.to_string(),
    };
    if audited.unpriced > 0 {
        words.push_str(&format!(", {} without a price", count(audited.unpriced, "line")));
    }
    words
}

/// A build in one line: `quay-salvage: do not build; 12 stops; 3135.65 EUR, 1635.65 over`.
pub fn summary(report: &Report) -> String {
    let name = inert(report.name());
    let audited = match &report.outcome {
        Ok(audited) => audited,
        Err(problems) => {
            return format!(
                "{name}: not audited; {} to put right",
                count(problems.0.len(), "thing")
            );
        }
    };
    let mut words = vec![verdict(audited).words().to_owned(), counts(audited, true)];
    if !audited.open.is_empty() {
        words.push(format!("{} left open", audited.open.join(", ")));
    }
    if !audited.chosen.is_empty() {
        let kinds: Vec<&str> = audited.chosen.iter().map(|c| &*c.kind).collect();
        words.push(format!("{} chosen", kinds.join(", ")));
    }
    words.push(money(audited));
    inert(&format!("{name}: {}", words.join("; ")))
}

/// What to do next with a build, as a sentence with a command.
pub fn next(report: &Report, audited: &Audited, prompt: bool) -> String {
    let list = quoted(&report.file);
    let typed = |command: &str, rest: &str| match prompt {
        true => format!("`{command}{rest}`"),
        false => format!("`dryfit {command} {list}{rest}`"),
    };
    match verdict(audited) {
        Ruling::Broken => "Next: correct what is broken, then audit again.".to_owned(),
        Ruling::Stop if audited.at(Level::Stop).next().is_none() => {
            let kind = audited.open.first().map_or_else(String::new, |kind| format!(" {kind}"));
            format!("Next: {}, to see what comes nearest there.", typed("fit", &kind))
        }
        Ruling::Stop => {
            format!("Next: {}, to find the fewest swaps that clear every stop.", typed("mend", ""))
        }
        Ruling::Open => match audited.open.first() {
            Some(kind) => {
                format!("Next: {}, to see what fits there.", typed("fit", &format!(" {kind}")))
            }
            None if prompt => "Next: look them up; `know PLACE VALUE` writes one down.".to_owned(),
            None => format!(
                "Next: look up the facts above; `dryfit ask {list}` lists them all, and `know` at \
                 the prompt of `dryfit try {list}` writes one down."
            ),
        },
        Ruling::Care | Ruling::Build if prompt => "Next: `save` writes this list.".to_owned(),
        Ruling::Care | Ruling::Build => {
            format!("Next: `dryfit sheet {list} -o sheet.html` writes the sheet.")
        }
    }
}

/// A file's name as a shell takes it.
fn quoted(name: &str) -> String {
    let name = inert(name);
    let plain = |c: char| c.is_alphanumeric() || "._-/\\:".contains(c);
    if name.chars().all(plain) { name } else { format!("'{}'", name.replace('\'', "'\\''")) }
}

/// How many pieces of advice there are, by the subject of their rules.
pub fn advice(audited: &Audited) -> String {
    let mut subjects: Vec<(&str, usize)> = Vec::new();
    for merged in audited.at(Level::Advice) {
        let subject = merged.finding.rule.split('.').next().unwrap_or("");
        match subjects.iter_mut().find(|(held, _)| *held == subject) {
            Some((_, n)) => *n += 1,
            None => subjects.push((subject, 1)),
        }
    }
    subjects.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
    let all: usize = subjects.iter().map(|(_, n)| n).sum();
    let words: Vec<String> = subjects.iter().map(|(s, n)| format!("{n} {s}")).collect();
    let them = if all == 1 { "it" } else { "them" };
    format!("{all} advice: {}; `--all` shows {them}.", words.join(", ").replace('_', " "))
}
