//! What is not settled, in words: the facts to look up, and what each decides.

use crate::app::counted::count;
use crate::app::report::Audited;
use crate::audit::wording::figure;
use crate::kit::{Decides, Fits, Question, asked_first};
use crate::level::Level;
use crate::words::some_of;

/// Questions that are told in full; the rest are counted.
const SHOWN: usize = 3;

/// The sentences of what is not settled, empty where all is: what may be found, the facts to look
/// up with what fits, and what was taken as usual. Three facts first, all with `all`.
pub fn sentences(audited: &Audited, all: bool) -> Vec<String> {
    let mut out = Vec::new();
    let first = asked_first(&audited.questions);
    let most = if all { first } else { SHOWN.min(first) };
    out.extend(audited.questions.iter().take(most).map(question));
    if first > most {
        out.push(format!("{} more to look up", count(first - most, "fact")));
    }
    out.extend(later(&audited.questions));
    if !audited.off.is_empty() {
        let rules: Vec<&str> = audited.off.iter().map(|(rule, _)| rule.as_str()).collect();
        out.push(format!(
            "{} ruled out, as long as parts are as usual: {}",
            count(rules.len(), "stop"),
            some_of(rules, 4)
        ));
    }
    out
}

/// What is asked once other facts are known, in a sentence; none where nothing is.
pub fn later(questions: &[Question]) -> Option<String> {
    let waits = questions.iter().filter(|question| question.after.is_some());
    let places: Vec<&str> = waits.map(|question| question.place.as_str()).collect();
    (!places.is_empty()).then(|| format!("then perhaps {}", some_of(places, 4)))
}

/// A question as one sentence: the fact, whose it is, and which values fit.
pub fn question(question: &Question) -> String {
    let fits = question.decides.iter().find_map(|d| {
        d.fits.as_ref().map(|fits| format!(": {} {}", d.rule, fits_words(fits, &question.unit)))
    });
    let fits = fits.unwrap_or_else(|| format!(" ({})", rules(&question.decides)));
    format!("{} of {}, {}{fits}", question.place, question.part, question.meaning)
}

fn rules(decides: &[Decides]) -> String {
    let stops: Vec<&str> =
        decides.iter().filter(|d| d.level == Level::Stop).map(|d| d.rule.as_str()).collect();
    let all = decides.iter().map(|d| d.rule.as_str()).collect();
    let (word, named) = if stops.is_empty() { ("may caution", all) } else { ("may stop", stops) };
    format!("{word}: {}", some_of(named, 3))
}

pub fn fits_words(fits: &Fits, unit: &str) -> String {
    match fits {
        Fits::Between(Some(lo), Some(hi)) => {
            format!("passes from {} to {}", figure(*lo, unit, ""), figure(*hi, unit, ""))
        }
        Fits::Between(Some(lo), None) => format!("passes from {} up", figure(*lo, unit, "")),
        Fits::Between(None, Some(hi)) => format!("passes up to {}", figure(*hi, unit, "")),
        Fits::Between(None, None) => "passes".to_owned(),
        Fits::Words(words) => {
            format!("passes with {}", some_of(words.iter().map(String::as_str), 6))
        }
    }
}
