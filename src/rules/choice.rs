//! Rules chosen by a word: an id, a pattern of ids (`bench.*`), or a tag (`tag:electrical`).

use crate::rules::loader::{Rule, RuleSet};
use crate::settings::{RuleChoice, Settings, TAG, is_pattern};
use crate::source::Problem;
use crate::words::{clip, nearest};

/// Whether a word chooses a rule.
pub(crate) fn chooses(word: &str, rule: &Rule) -> bool {
    match word.strip_prefix(TAG) {
        Some(tag) => rule.tags.iter().any(|t| t == tag),
        None => matches(word.as_bytes(), rule.id.as_bytes()),
    }
}

/// Finds out which rules the decisions are about. A later layer's counts over a lower one's;
/// in one layer that on a rule by its id counts over one by pattern or tag.
pub(crate) fn decide(settings: &mut Settings, rules: &RuleSet) -> Vec<Problem> {
    let mut problems = Vec::new();
    for written in &settings.written {
        let chosen: Vec<&Rule> =
            rules.rules.iter().filter(|r| chooses(&written.names, r)).collect();
        if chosen.is_empty() {
            let names = clip(&written.names, 60);
            let problem = match is_pattern(&written.names) {
                true => Problem::new(format!("settings decide on `{names}`, which fits no rule")),
                false => {
                    Problem::new(format!("settings decide on rule `{names}`, which does not exist"))
                }
            };
            let problem = problem.at(&written.source, written.span, "unknown rule");
            problems.push(Problem { help: meant(rules, &written.names), ..problem });
        }
        for rule in chosen {
            let held = settings.choices.get(&*rule.id).filter(|h| h.layer == written.layer);
            let exact = |c: &RuleChoice| !is_pattern(&c.names);
            match held {
                Some(held) if exact(held) => continue,
                Some(held)
                    if !exact(written)
                        && (held.off, held.level) != (written.off, written.level) =>
                {
                    let said = format!(
                        "`{}` and `{}` decide differently on rule {}",
                        held.names, written.names, rule.id
                    );
                    let problem = Problem::new(said).at(&written.source, written.span, "here");
                    problems.push(
                        problem
                            .at(&held.source, held.span, "and here")
                            .help(format!("decide on it by its id: [rule.\"{}\"]", rule.id)),
                    );
                    break;
                }
                _ => {}
            }
            settings.choices.insert(rule.id.to_string(), written.clone());
        }
    }
    problems
}

/// What to say of a word that chooses no rule.
#[cfg(feature = "app")]
pub(crate) fn none(set: &RuleSet, word: &str) -> Problem {
    let problem = Problem::new(match word.strip_prefix(TAG) {
        Some(tag) => format!("no rule has the tag `{}`", clip(tag, 60)),
        None => format!("no rule is called `{}`", clip(word, 60)),
    });
    Problem { help: meant(set, word), ..problem }
}

/// What may have been meant by a word that chooses no rule.
pub(crate) fn meant(set: &RuleSet, word: &str) -> Option<String> {
    let instead = |near: &str| format!("did you mean `{near}`?");
    if let Some(tag) = word.strip_prefix(TAG) {
        let tags = set.tags();
        return Some(match nearest(tag, tags.iter().copied()) {
            Some(near) => instead(&format!("{TAG}{near}")),
            None if tags.is_empty() => "a rule's comment gives it tags: `Tags: …`".to_owned(),
            None => format!("tags: {}", tags.join(", ")),
        });
    }
    let stems = || set.rules.iter().map(|r| &*r.file);
    match word.strip_suffix(".*") {
        Some(stem) => nearest(stem, stems()).map(|near| instead(&format!("{near}.*"))),
        None if stems().any(|stem| stem == word) => {
            Some(format!("for all rules of that file, write `{word}.*`"))
        }
        None => nearest(word, set.rules.iter().map(|r| &*r.id)).map(instead),
    }
}

/// Whether a pattern, where `*` stands for any run of letters and `?` for one, is a text.
fn matches(pattern: &[u8], text: &[u8]) -> bool {
    let (mut p, mut t) = (0, 0);
    // Where the last `*` stands, and how far the text was when it was met.
    let mut star: Option<(usize, usize)> = None;
    while let Some(letter) = text.get(t) {
        match pattern.get(p) {
            Some(b'*') => {
                star = Some((p, t));
                p += 1;
            }
            Some(b'?') => (p, t) = (p + 1, t + 1),
            Some(own) if own == letter => (p, t) = (p + 1, t + 1),
            _ => match star {
                Some((at, met)) => {
                    star = Some((at, met + 1));
                    (p, t) = (at + 1, met + 1);
                }
                None => return false,
            },
        }
    }
    pattern.get(p..).unwrap_or(&[]).iter().all(|b| *b == b'*')
}

#[cfg(test)]
#[path = "../../tests/unit/rules/choice.rs"]
mod tests;
