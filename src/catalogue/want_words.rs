//! What an open line wants, in words: "flash, nvme, 2000 GB or more" for the expressions of its
//! list.

use super::kinds::{FieldType, Kind};

/// A line of a kind that is left open: "any drive", "any drive: flash, nvme, 2000 GB or more".
pub(crate) fn open_words<'w>(kind: &Kind, wants: impl IntoIterator<Item = &'w str>) -> String {
    let wants: Vec<String> = wants.into_iter().map(|want| want_words(kind, want)).collect();
    let rest = if wants.is_empty() { String::new() } else { format!(": {}", wants.join(", ")) };
    format!("any {}{rest}", kind.title)
}

/// One want; as it is written where it is more than a field beside a value.
pub(crate) fn want_words(kind: &Kind, want: &str) -> String {
    simple(kind, want.trim()).unwrap_or_else(|| want.trim().to_owned())
}

fn simple(kind: &Kind, want: &str) -> Option<String> {
    let (name, sign, value) = ["==", ">=", "<="]
        .iter()
        .find_map(|sign| want.split_once(sign).map(|(l, r)| (l.trim(), *sign, r.trim())))?;
    let (_, field) = kind.field(name)?;
    // A size or a rate needs no name.
    let telling = matches!(&*field.unit, "GB" | "MT/s" | "Hz");
    let about = |words: String| match telling {
        true => words,
        false => {
            let meaning = field.meaning.split([':', ',', ';']).next().unwrap_or_default();
            format!("{meaning} {words}")
        }
    };
    match &field.ty {
        FieldType::Text(_) if sign == "==" => {
            let word = value.strip_prefix('"')?.strip_suffix('"')?;
            (!word.contains('"')).then(|| word.to_owned())
        }
        FieldType::Number => {
            value.parse::<f64>().ok()?;
            let figure = format!("{value} {}", field.unit).trim_end().to_owned();
            Some(about(match sign {
                ">=" => format!("{figure} or more"),
                "<=" => format!("{figure} at most"),
                _ => figure,
            }))
        }
        _ => None,
    }
}

#[cfg(test)]
#[path = "../../tests/unit/catalogue/want_words.rs"]
mod tests;
