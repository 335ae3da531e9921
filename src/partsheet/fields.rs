//! What a statement says of one field: a number in its unit, a word of its list, a flag.

use serde_json::{Value, json};

use super::records;
use super::words::{
    all_of, doubted, find_word, has, holds, number as words_number, of as words_of,
};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Words};
use crate::intake::{figures, plain_text};

/// The result of asking a text for a field.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Answer {
    /// It says so.
    Said(Value),
    /// It says nothing of the field.
    Silent,
    /// It says several things, or nothing certain: why.
    Unclear(String),
}

/// Asks a text for a field of a plain type. `unit` is the unit that the label gave.
pub(crate) fn ask(
    catalogue: &Catalogue,
    field: &Field,
    label: &str,
    text: &str,
    sole: bool,
) -> Answer {
    let low = plain_text(text);
    if has("nothing", &low) || low.is_empty() {
        return Answer::Silent;
    }
    if doubted(&field.name).is_some_and(|set| holds(set, &low)) {
        return Answer::Unclear("what is said besides leaves it open".to_owned());
    }
    match &field.ty {
        FieldType::Number => number(field, label, text, sole),
        FieldType::Flag => flag(field, &low, sole),
        FieldType::Text(words) => word(catalogue, field, words, text, sole),
        FieldType::List(words) => list(catalogue, field, words, &given(&low)),
        FieldType::Counts(_) | FieldType::Records(_) => Answer::Silent,
    }
}

/// Figures of a text in a unit: values in order.
pub(crate) fn in_unit(text: &str, unit: &str) -> Vec<f64> {
    figures(text)
        .into_iter()
        .flat_map(|f| f.readings.into_iter().find(|(u, _)| u == unit).map(|(_, v)| v))
        .collect()
}

/// How far apart two figures are at the most that are one in two units, each rounded.
const SAME_IN_ANOTHER_UNIT: f64 = 0.02;

/// Of "88.5 CFM (150 m³/h)" the figure within the brackets, as it stands in the field's own unit.
pub(crate) fn same_in_own_unit(text: &str, inside: &str, unit: &str) -> Option<f64> {
    let as_written = |f: &crate::intake::Figure| {
        let value = f.readings.iter().find(|(u, _)| u == unit).map(|(_, v)| *v)?;
        f.number.filter(|n| (n - value).abs() < 1e-9)
    };
    let outside = in_unit(&without_brackets(text), unit);
    let all: Vec<f64> = figures(inside).iter().filter_map(as_written).collect();
    let ([value], [own]) = (outside.as_slice(), all.as_slice()) else { return None };
    let apart = (value - own).abs();
    (apart > 0.0 && apart <= value.abs() * SAME_IN_ANOTHER_UNIT).then_some(*own)
}

/// Whether a text is a figure, with words of little weight at the most: "max. 1.8 W".
pub(crate) fn figures_only(text: &str) -> bool {
    let low = plain_text(text);
    let worded = low.split([' ', '(', ')', '\u{a0}']).filter(|w| !w.is_empty());
    let other = worded.filter(|w| {
        let unit = !crate::intake::units_of(w).is_empty();
        let figure = w.starts_with(|c: char| c.is_ascii_digit());
        !(unit || figure || holds("up_to", w) || holds("typical", w))
    });
    other.count() == 0 && figures(text).len() == 1
}

/// Bare numbers of a text.
fn bare(text: &str) -> Vec<f64> {
    figures(text).into_iter().filter(|f| f.readings.is_empty()).filter_map(|f| f.number).collect()
}

/// Without what is said to be no part of it: "T6 with the optional kit", "HDMI cable not included".
fn given(low: &str) -> String {
    let kept = records::clauses(low).into_iter().filter(|c| !holds("not_given", c));
    kept.collect::<Vec<_>>().join(", ")
}

/// A text with one dash for what stands between the ends of a range.
pub(super) fn with_dashes(text: &str) -> String {
    let plain = text.replace(['–', '—'], "-").replace(" - ", "-");
    words_of("range").fold(plain, |text, word| text.replace(&format!(" {word} "), "-"))
}

/// The two ends of a range in a unit: `100-240 V`, `48 to 170 Hz`.
pub(crate) fn range(text: &str, unit: &str) -> Option<(f64, f64)> {
    let low = with_dashes(&plain_text(text)).replace('…', "-");
    let low = low.replace("- ", "-").replace(" -", "-");
    low.match_indices('-').find_map(|(at, _)| {
        let before = low.get(..at)?;
        let start =
            before.trim_end_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ',')).len();
        let first: f64 = before.get(start..)?.replace(',', ".").parse().ok()?;
        let after = low.get(at + 1..)?.split([';', '(']).next()?;
        let behind = after.starts_with(|c: char| c.is_ascii_digit()).then(|| figures(after))?;
        let reads = |(u, v): &(String, f64)| (u == unit).then_some(*v);
        let second = behind.first()?.readings.iter().find_map(reads)?;
        // The first end has the unit of the second.
        let factor = second / behind.first()?.number.filter(|n| *n > 0.0)?;
        (first * factor < second).then_some((first * factor, second))
    })
}

/// Whether a field asks for the most of what is given.
pub(crate) fn superlative(field: &Field) -> bool {
    let first = field.meaning.split(' ').next().unwrap_or("");
    field.name.contains("max")
        || ["highest", "fastest", "longest", "largest", "tallest", "deepest", "most"]
            .contains(&first)
}

/// Figures in a field's unit as written in ways of their own: `DDR5-6400`, `32-39-39-102`, `99 %`,
/// `ten-year`.
fn written(text: &str, unit: &str) -> Vec<f64> {
    let low = plain_text(text);
    let number = |t: &str| {
        let end = t.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(t.len());
        t.get(..end).and_then(|n| n.parse::<f64>().ok())
    };
    match unit {
        "MT/s" => ["ddr4", "ddr5"]
            .iter()
            .flat_map(|ddr| low.match_indices(ddr).map(|(at, m)| at + m.len()))
            .filter_map(|at| {
                let behind = low.get(at..)?.trim_start_matches(['-', ' ', ',']);
                let most = words_of("up_to").filter_map(|w| behind.strip_prefix(w)).next();
                number(most.unwrap_or(behind).trim_start())
            })
            .filter(|n| *n >= 800.0)
            .collect(),
        "clocks" => {
            let first = low.trim_start_matches("cl").trim_start();
            let dashes = first.split(' ').next().unwrap_or("").matches('-').count();
            number(first).filter(|_| dashes >= 2).into_iter().collect()
        }
        "of sRGB" => records::pieces(&low, &[';', ','])
            .into_iter()
            .filter(|p| p.contains("srgb") || !low.contains("srgb"))
            .filter_map(|p| p.split_once('%'))
            .filter_map(|(before, _)| {
                number(before.trim().rsplit(' ').next()?.replace(',', ".").as_str())
            })
            .map(|n| n / 100.0)
            .collect(),
        // "Gigabit Ethernet" is one; "2.5 Gigabit" has its number.
        "Mbit/s" => low
            .match_indices("gigabit")
            .filter(|(at, _)| {
                let before = low.get(..*at).unwrap_or("").trim_end_matches([' ', '-']);
                !before.ends_with(|c: char| c.is_ascii_digit())
            })
            .map(|_| 1000.0)
            .collect(),
        "years" => {
            let words: Vec<&str> = low.split([' ', '-']).collect();
            let worded = words.windows(2).filter(|w| w.last().is_some_and(|u| holds("years", u)));
            worded
                .filter_map(|w| w.first())
                .filter_map(|w| words_number(w))
                .map(f64::from)
                .collect()
        }
        _ => Vec::new(),
    }
}

fn number(field: &Field, label: &str, text: &str, sole: bool) -> Answer {
    let low = plain_text(text);
    if field.unit.contains("dB")
        && (holds("other_noise", &low) || holds("other_noise", &plain_text(label)))
    {
        return Answer::Unclear("the noise is not at the load of this field".to_owned());
    }
    if let Some((value, _)) =
        field.spelled.iter().find(|(_, all)| all.iter().any(|s| find_word(&low, s).is_some()))
    {
        return value.parse::<f64>().map_or(Answer::Silent, |n| Answer::Said(json!(n)));
    }
    if let Some((least, most)) = range(text, &field.unit).filter(|_| !field.unit.is_empty()) {
        let loud = field.unit.contains("dB") || field.name.starts_with("rpm");
        let ends = [field.name.contains("min"), superlative(field) || loud];
        let value = match ends {
            [true, _] => least,
            [_, true] => in_unit(text, &field.unit).into_iter().fold(most, f64::max),
            _ => return Answer::Unclear("a range is given".to_owned()),
        };
        return settle(field, &low, &[value], vec![thousands(value, text, field)]);
    }
    // "Cards up to 325 x 145 x 62 mm": the longest side.
    let sides = super::measures::cubed_mm(text).filter(|_| field.meaning.starts_with("longest"));
    if let Some(longest) = sides.and_then(|all| all.into_iter().reduce(f64::max)) {
        return settle(field, &low, &[longest], vec![longest]);
    }
    // What is in brackets counts where nothing else says it.
    let outside = without_brackets(text);
    let told = !superlative(field) && !in_unit(&outside, &field.unit).is_empty();
    let main = if told { outside } else { text.to_owned() };
    // "220 (OC 240)": the one number outside the brackets.
    let outside = without_brackets(text);
    let alone = bare(&outside).len() == 1 && !outside.contains(char::is_alphabetic);
    let text = if alone { outside.as_str() } else { text };
    let mut values = if field.unit.is_empty() { Vec::new() } else { in_unit(&main, &field.unit) };
    if values.is_empty() || superlative(field) {
        values.extend(written(text, &field.unit));
    }
    if values.is_empty() {
        values = headed(label, text, field);
    }
    if values.is_empty() && sole {
        let numbers = bare(text);
        // A bare number under the field's own label; a count may have its noun behind it.
        let clean = field.unit.is_empty() || figures(text).iter().all(|f| f.readings.is_empty());
        if numbers.len() == 1 && clean {
            values = numbers;
        }
    }
    let whole: Vec<f64> = values.iter().map(|v| thousands(*v, text, field)).collect();
    let within: Vec<f64> =
        whole.iter().copied().filter(|v| (field.min..=field.max).contains(v)).collect();
    settle(field, &low, &whole, within)
}

/// A text without what is in brackets.
pub(crate) fn without_brackets(text: &str) -> String {
    let mut depth = 0_i32;
    let outside = |c: &char| {
        depth += i32::from(*c == '(');
        let out = depth == 0;
        depth -= i32::from(*c == ')' && depth > 0);
        out
    };
    text.chars().filter(outside).collect()
}

fn settle(field: &Field, low: &str, whole: &[f64], mut within: Vec<f64>) -> Answer {
    within.dedup();
    let distinct = within.iter().all(|v| Some(v) == within.first());
    match within.as_slice() {
        [] if whole.is_empty() => Answer::Silent,
        [] => Answer::Unclear(format!(
            "{} is outside {} to {} {}",
            whole.first().unwrap_or(&0.0),
            field.min,
            field.max,
            field.unit
        )),
        [first, ..] if distinct => Answer::Said(json!(first)),
        many => {
            // A range of noise ends at its loudest; of two lengths the longer is the most there is.
            let top = many.iter().copied().fold(f64::MIN, f64::max);
            let ranged = ["-", "–", "—", "to", "bis", "à", "…"].iter().any(|m| low.contains(m));
            let loud = field.unit.contains("dB") || field.name.starts_with("rpm");
            let longest = superlative(field);
            if loud && ranged || longest {
                Answer::Said(json!(top))
            } else {
                Answer::Unclear("several values are given".to_owned())
            }
        }
    }
}

/// `Height/mm`, `Tiefe (mm)`: the label gives the unit of a bare number.
fn headed(label: &str, text: &str, field: &Field) -> Vec<f64> {
    let unit =
        label.rsplit(['/', '(', '[', ' ', ',']).next().unwrap_or("").trim_matches([')', ']', ' ']);
    let numbers = bare(text);
    let [one] = numbers.as_slice() else { return Vec::new() };
    if unit.is_empty() || figures(text).len() != 1 || text.chars().any(char::is_alphabetic) {
        return Vec::new();
    }
    in_unit(&format!("{one} {unit}"), &field.unit)
}

/// `7.000 MB/s` of a country that parts thousands with a point.
fn thousands(value: f64, text: &str, field: &Field) -> f64 {
    let grouped = text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).any(|n| {
        let own = n.replace(',', ".").parse::<f64>().is_ok_and(|n| (n - value).abs() < 1e-9);
        own && n
            .rsplit_once(['.', ','])
            .is_some_and(|(whole, rest)| rest.len() == 3 && !whole.is_empty() && whole != "0")
    });
    if grouped && value < field.min.max(20.0) { value * 1000.0 } else { value }
}

fn flag(field: &Field, low: &str, sole: bool) -> Answer {
    if !sole {
        return Answer::Silent;
    }
    let first = low.split([',', ';', '(', '.']).next().unwrap_or("").trim();
    for (set, value) in [("no", false), ("yes", true)] {
        let alone = format!("{set}_alone");
        if [low, first].iter().any(|t| has(set, t) || has(&alone, t)) {
            return Answer::Said(json!(value));
        }
    }
    // "Wi-Fi 6E" under "Wi-Fi", "tempered glass" under "Side panel".
    let no = holds("no", low);
    // "Is not supported" holds "supported" and says no.
    let low = &words_of("no")
        .filter(|w| w.contains(' '))
        .fold(low.to_owned(), |low, w| low.replace(w, " "));
    let says = |t: &str| field.also.iter().any(|w| find_word(t, &w.to_lowercase()).is_some());
    let named = says(low);
    // "Steel with sound damping, no window": it is something else that it comes with.
    let other = |b: &str| !says(&b.split(' ').take(2).collect::<Vec<_>>().join(" "));
    let low = &words_of("with").fold(low.clone(), |low, with| match low.split_once(with) {
        Some((a, b)) if no && other(b) => format!("{a} {b}"),
        _ => low,
    });
    match (holds("yes", low), no) {
        (false, false) if named => Answer::Said(json!(true)),
        (true, false) => Answer::Said(json!(true)),
        (false, true) => Answer::Said(json!(false)),
        (true, true) => Answer::Unclear("it is said both ways".to_owned()),
        (false, false) if low.chars().any(|c| c.is_ascii_digit()) => Answer::Said(json!(true)),
        (false, false) => Answer::Silent,
    }
}

/// The allowed values that a text holds, by where, the longest spelling at one place.
pub(crate) fn values_in(
    catalogue: &Catalogue,
    field: &Field,
    words: &Words,
    low: &str,
) -> Vec<String> {
    let mut found: Vec<(usize, usize, String)> = Vec::new();
    // "ATX12V v3.1"
    let number = |w: &&str| w.starts_with(|c: char| c.is_ascii_digit());
    let version = |w| str::strip_prefix(w, 'v').filter(number).unwrap_or(w);
    let low = &*low.split(' ').map(version).collect::<Vec<_>>().join(" ");
    for value in catalogue.words_of(words) {
        let spelled = field
            .spelled
            .iter()
            .find(|(v, _)| v == value)
            .map(|(_, s)| s.as_slice())
            .unwrap_or(&[]);
        for word in spelled
            .iter()
            .map(|s| s.to_lowercase())
            .chain([value.to_lowercase(), value.replace('_', " ").to_lowercase()])
        {
            let mut from = 0;
            while let Some(at) = low.get(from..).and_then(|t| find_word(t, &word)).map(|a| a + from)
            {
                found.push((at, at + word.len(), value.to_string()));
                from = at + word.len().max(1);
            }
        }
    }
    found.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.cmp(&a.1)));
    let mut out: Vec<String> = Vec::new();
    let mut end = 0;
    for (start, stop, value) in found {
        if start >= end {
            end = stop;
            if !out.contains(&value) {
                out.push(value);
            }
        }
    }
    out
}

fn word(catalogue: &Catalogue, field: &Field, words: &Words, text: &str, sole: bool) -> Answer {
    let low = plain_text(text);
    // The ends of a cable, by the names of its plugs.
    if matches!(words, Words::Any) && matches!(&*field.name, "takes" | "gives") {
        return match all_of("ports", &low).as_slice() {
            [(_, one)] => Answer::Said(json!(one)),
            _ => Answer::Silent,
        };
    }
    if matches!(words, Words::Any) {
        let bare = text.split(['(', ',', ';']).next().unwrap_or("").trim();
        return if sole && !bare.is_empty() && bare.chars().count() < 40 {
            Answer::Said(json!(bare))
        } else {
            Answer::Silent
        };
    }
    // "SFX (ATX adapter included)" is SFX.
    let main = values_in(catalogue, field, words, &without_brackets(&low));
    let all = if main.len() == 1 { main } else { values_in(catalogue, field, words, &low) };
    match all.as_slice() {
        [] => Answer::Silent,
        [one] => Answer::Said(json!(one)),
        many => Answer::Unclear(format!("it may be {}", many.join(" or "))),
    }
}

fn list(catalogue: &Catalogue, field: &Field, words: &Words, low: &str) -> Answer {
    let mut found = values_in(catalogue, field, words, low);
    if let [largest] = found.as_slice()
        && holds("up_to", low)
    {
        let smaller = smaller_forms(catalogue, words, largest);
        found.extend(smaller);
    }
    found.sort();
    if found.is_empty() { Answer::Silent } else { Answer::Said(json!(found)) }
}

/// Of "up to micro-ATX" the forms that are no larger either way, by the table of the words.
fn smaller_forms(catalogue: &Catalogue, words: &Words, largest: &str) -> Vec<String> {
    let Words::Table(name) = words else { return Vec::new() };
    let Some(table) = catalogue.table_id(name).and_then(|id| catalogue.table(id)) else {
        return Vec::new();
    };
    let size = |form: &str| {
        let side = |column| table.cell(form, table.column(column)?).as_num();
        Some((side("width_mm")?, side("depth_mm")?))
    };
    let Some((width, depth)) = size(largest) else { return Vec::new() };
    let fits = |form: &&std::sync::Arc<str>| {
        &***form != largest && size(form).is_some_and(|(w, d)| w <= width && d <= depth)
    };
    catalogue.words(name).iter().filter(fits).map(|form| form.to_string()).collect()
}
