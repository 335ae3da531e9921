//! How people spell the words of a name: other units, mistakes, words joined and turned around.

use super::parts::{Part, is_number, num};
use super::rng::Rng;

/// A number as people spell it, in other units too.
pub(super) fn spelled(part: &Part, word: &str, rng: &mut Rng) -> (String, bool) {
    let gb = num(part, "gb");
    if part.kind == "storage"
        && let Some(gb) = gb.filter(|_| is_number(word) && !word.contains('.'))
    {
        let tb = gb / 1000.0;
        let options = if gb >= 1000.0 {
            vec![
                format!("{tb} TB"),
                format!("{tb}TB"),
                format!("{tb}tb"),
                format!("{gb} GB"),
                format!("{tb:.1} TB"),
                format!("{tb}T"),
                word.to_owned(),
            ]
        } else {
            vec![format!("{gb} GB"), format!("{gb}GB"), format!("{gb}gb"), word.to_owned()]
        };
        return (rng.pick(&options).clone(), true);
    }
    let liquid = num(part, "radiator_mm").is_some();
    let templates: &[&str] = match part.kind.as_str() {
        _ if !is_number(word) => &[],
        "supply" => &["{} W", "{}W", "{}w", "{} Watt", "{}"],
        "display" => &["{}\"", "{} inch", "{}-inch", "{}''", "{} Zoll", "{}"],
        "graphics" => &["{} GB", "{}GB", "{}G", "{}"],
        "cooler" if !liquid => &[],
        "fan" | "cooler" => &["{} mm", "{}mm", "{}", "{}"],
        _ => &[],
    };
    if !templates.is_empty() {
        return (rng.pick(templates).replace("{}", word), true);
    }
    if part.kind == "network" && word.ends_with('G') {
        return (
            rng.pick(&[format!("{word}bE"), word.to_owned(), format!("{word}bit")]).clone(),
            true,
        );
    }
    if word.contains(' ') {
        return (rng.pick(&[word.replace(' ', ""), word.to_owned()]).clone(), true);
    }
    (word.to_owned(), false)
}

/// Misspells, cuts, joins and turns words around.
pub(super) fn mangle(
    shown: &mut Vec<String>,
    part: &Part,
    rng: &mut Rng,
    tags: &mut Vec<&'static str>,
) {
    match rng.below(12) {
        0 => {
            let long: Vec<usize> = (0..shown.len())
                .filter(|i| {
                    shown[*i].len() >= 5 && shown[*i].chars().all(|c| c.is_ascii_alphabetic())
                })
                .collect();
            if !long.is_empty() {
                let at = *rng.pick(&long);
                shown[at] = typo(&shown[at], rng);
                tags.push("typo");
            }
        }
        1 if shown[0].len() >= 7 && shown[0].chars().all(char::is_alphabetic) => {
            let keep = 5 + rng.below(2);
            shown[0] = format!("{}.", &shown[0][..keep.min(shown[0].len() - 1)]);
            tags.push("abbreviated");
        }
        2 | 3 if shown.len() > 1 && part.kind != "adapter" => {
            let at = rng.below(shown.len() - 1);
            let mark = if shown[at].len() > 2 && !shown[at].ends_with(|c: char| c.is_ascii_digit())
            {
                *rng.pick(&["", "-", "_"])
            } else {
                "-"
            };
            let numbers = is_number(&shown[at]) && is_number(&shown[at + 1]);
            if !numbers && !shown[at].contains(' ') {
                let next = shown.remove(at + 1);
                let joined = format!("{}{mark}{next}", shown[at]);
                shown[at] = joined;
                tags.push("joined");
            }
        }
        4 | 5
            if shown.len() > 1
                && !matches!(part.kind.as_str(), "adapter" | "input" | "hub" | "memory") =>
        {
            let last = shown.pop().expect("it has words");
            shown.insert(0, last);
            tags.push("reordered");
        }
        6 => {
            // `506P` as `506-P`, `P5I` as `P5-I`.
            for word in shown.iter_mut() {
                let code = word.len() >= 3
                    && word.chars().any(|c| c.is_ascii_digit())
                    && word.ends_with(|c: char| c.is_ascii_uppercase())
                    && word.chars().all(char::is_alphanumeric);
                if code && matches!(part.kind.as_str(), "board" | "processor") {
                    word.insert(word.len() - 1, '-');
                    tags.push("joined");
                }
            }
        }
        _ => {}
    }
}

fn typo(word: &str, rng: &mut Rng) -> String {
    let mut chars: Vec<char> = word.chars().collect();
    let at = 1 + rng.below(chars.len() - 2);
    match rng.below(3) {
        0 => chars.swap(at, at + 1),
        1 => {
            chars.remove(at);
        }
        _ => chars.insert(at, chars[at]),
    }
    chars.into_iter().collect()
}
