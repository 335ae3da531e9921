//! What a user means by a line or a part: never guessed where two fit.

use std::sync::Arc;

use crate::catalogue::{Catalogue, Part};
use crate::intake::{Aliases, Intake};
use crate::source::Problem;
use crate::whatif::diff::{LineView, views};
use crate::whatif::trial::Snapshot;
use crate::words::{clip, nearest, some_of};

/// The lines that a name fits, as places in the list: one at least.
///
/// # Errors
/// None fits; the message says what was most likely meant.
pub fn find(
    views: &[LineView],
    catalogue: &Catalogue,
    words: &[String],
) -> Result<Vec<usize>, Problem> {
    let whole = words.join(" ");
    let kind_of = |kind: &str| {
        views
            .iter()
            .enumerate()
            .filter(|(_, v)| v.kind == kind)
            .map(|(at, _)| at)
            .collect::<Vec<_>>()
    };
    let (name, nth) = match words {
        [one] => match numbered(one) {
            Some(number) => return by_number(views, number),
            None => split_index(one),
        },
        [kind, number] => match number.trim_start_matches('#').parse::<usize>() {
            Ok(n) if n > 0 => (kind.as_str(), Some(n - 1)),
            _ => return Err(no_line(views, catalogue, &whole)),
        },
        _ => return Err(no_line(views, catalogue, &whole)),
    };
    // `psu`, `cpu`, `case`: a kind by another of its names.
    let called = catalogue.kind_called(name).and_then(|k| catalogue.kind(k));
    let name = called.map_or(name, |kind| &*kind.name);
    let fits = if catalogue.kind_id(name).is_some() { kind_of(name) } else { by_part(views, name) };
    match (nth, fits.as_slice()) {
        (_, []) if catalogue.kind_id(name).is_some() => {
            Err(Problem::new(format!("there is no {name} line"))
                .help(format!("`add {name}/…` adds one")))
        }
        (_, []) => Err(no_line(views, catalogue, &whole)),
        (None, _) => Ok(fits),
        (Some(nth), _) => match fits.get(nth) {
            Some(at) => Ok(vec![*at]),
            None => Err(Problem::new(format!(
                "there {} only",
                if fits.len() == 1 {
                    format!("is 1 {name} line")
                } else {
                    format!("are {} {name} lines", fits.len())
                }
            ))
            .help("`lines` shows them")),
        },
    }
}

/// The one line that a name means: `ask` decides where several fit.
///
/// # Errors
/// None fits, or several do and nobody says which.
pub fn one(
    list: &Snapshot,
    catalogue: &Catalogue,
    words: &[String],
    ask: &mut dyn FnMut(&str, &[String]) -> Option<usize>,
) -> Result<(usize, LineView), Problem> {
    let views = views(list);
    let fits = find(&views, catalogue, words)?;
    let at = match fits.as_slice() {
        [one] => *one,
        several => {
            let labels: Vec<String> =
                several.iter().filter_map(|at| views.get(*at)).map(label).collect();
            let name = words.join(" ");
            let Some(chosen) =
                ask(&format!("{} lines fit `{name}`: which?", several.len()), &labels)
            else {
                let name = clip(&name, 40);
                return Err(Problem::new(format!("{} lines fit `{name}`", several.len()))
                    .help(format!("say which: {}", labels.join("; "))));
            };
            several.get(chosen).copied().unwrap_or_default()
        }
    };
    let view = views.into_iter().nth(at).ok_or_else(|| Problem::new("there is no such line"))?;
    Ok((at, view))
}

fn numbered(word: &str) -> Option<usize> {
    word.strip_prefix('#').unwrap_or(word).parse().ok()
}

/// `fan[1]`, as findings write it: counted from 0.
fn split_index(word: &str) -> (&str, Option<usize>) {
    match word.strip_suffix(']').and_then(|w| w.split_once('[')) {
        Some((name, index)) => index.parse().map_or((word, None), |n| (name, Some(n))),
        None => (word, None),
    }
}

fn by_number(views: &[LineView], number: usize) -> Result<Vec<usize>, Problem> {
    match number.checked_sub(1).filter(|at| *at < views.len()) {
        Some(at) => Ok(vec![at]),
        None => Err(Problem::new(format!(
            "there is no line #{number}: they go from #1 to #{}",
            views.len()
        ))
        .help("`lines` shows them")),
    }
}

fn by_part(views: &[LineView], name: &str) -> Vec<usize> {
    let fits = |v: &LineView| {
        v.part
            .as_deref()
            .is_some_and(|id| id == name || id.split_once('/').is_some_and(|(_, n)| n == name))
    };
    let places = |fits: &dyn Fn(&LineView) -> bool| -> Vec<usize> {
        views.iter().enumerate().filter(|(_, v)| fits(v)).map(|(at, _)| at).collect()
    };
    let found = places(&fits);
    let low = name.to_lowercase();
    if !found.is_empty() || low.chars().count() < 3 {
        return found;
    }
    // The shown name, or a piece of it.
    places(&|v: &LineView| v.name.to_lowercase().contains(&low))
}

fn no_line(views: &[LineView], catalogue: &Catalogue, name: &str) -> Problem {
    let problem = Problem::new(format!("no line is called `{}`", clip(name, 60)));
    if catalogue.part(name).is_some() {
        return problem.help("this part is not on the list; `lines` shows what is");
    }
    let names = views
        .iter()
        .flat_map(|v| {
            [
                Some(v.kind.as_str()),
                v.part.as_deref(),
                v.part.as_deref().and_then(|id| id.split_once('/')).map(|(_, n)| n),
            ]
        })
        .flatten();
    problem
        .help(
            "name it by kind (supply), kind and number (fan 2), number (#3) or \
         part id; `lines` shows them",
        )
        .suggest(name, names.chain(catalogue.kinds.iter().map(|k| &*k.name)))
}

/// A line in a few words, for choosing.
pub fn label(view: &LineView) -> String {
    let mut words = format!("#{} {}", view.number, view.part.as_deref().unwrap_or(&view.name));
    if let Some(chosen) = &view.chosen {
        words.push_str(&format!(": {chosen}"));
    }
    if view.count > 1 {
        words.push_str(&format!(" x{}", view.count));
    }
    for (key, value) in [("mount", &view.mount), ("flow", &view.flow)] {
        if let Some(value) = value {
            words.push_str(&format!(" {key} {value}"));
        }
    }
    words
}

/// The part that a user means: its id, or its second half with the kind known, or where only one
/// part has it.
///
/// # Errors
/// None fits or several do; the message names the likely ones.
pub fn part(catalogue: &Catalogue, word: &str, kind: Option<&str>) -> Result<Arc<Part>, Problem> {
    if let Some(part) = catalogue.part(word) {
        return Ok(part.clone());
    }
    if let Some(part) = kind.and_then(|k| catalogue.part(&format!("{k}/{word}"))) {
        return Ok(part.clone());
    }
    let fits: Vec<&Arc<Part>> = catalogue
        .parts
        .iter()
        .filter(|p| p.id.split_once('/').is_some_and(|(_, n)| n == word))
        .collect();
    match (kind, fits.as_slice()) {
        (None, [part]) => return Ok((*part).clone()),
        (None, [_, _, ..]) => {
            return Err(Problem::new(format!("several parts are called `{word}`"))
                .help(format!("say which: {}", some_of(fits.iter().map(|p| &*p.id), 8))));
        }
        _ => {}
    }
    if let Some(part) = by_words(catalogue, word, kind)? {
        return Ok(part);
    }
    let problem = Problem::new(format!("there is no part {} in the catalogue", clip(word, 60)));
    let wanted = word.split_once('/').map(|(k, _)| k).or(kind);
    let of_kind: Vec<&str> = catalogue
        .parts
        .iter()
        .filter(|p| wanted.is_none_or(|k| p.id.split_once('/').is_some_and(|(pk, _)| pk == k)))
        .map(|p| &*p.id)
        .collect();
    let short = of_kind.iter().filter_map(|id| id.split_once('/')).map(|(_, n)| n);
    let near = nearest(word, of_kind.iter().copied()).or_else(|| {
        nearest(word, short)
            .and_then(|n| of_kind.iter().copied().find(|id| id.ends_with(&format!("/{n}"))))
    });
    let near = near.or_else(|| nearest(word, catalogue.parts.iter().map(|p| &*p.id)));
    Err(match near {
        Some(near) => problem.help(format!("did you mean {near}?")),
        None => problem.help(format!(
            "Tab shows the parts; `dryfit parts {}` lists them",
            wanted.unwrap_or("KIND")
        )),
    })
}

/// The part that a shown name, or a piece of one, means.
///
/// # Errors
/// Several parts may be meant.
fn by_words(
    catalogue: &Catalogue,
    text: &str,
    kind: Option<&str>,
) -> Result<Option<Arc<Part>>, Problem> {
    let (found, sure) = Intake::new(catalogue, Aliases::default()).parts_named(text);
    let of_kind =
        |p: &&Arc<Part>| kind.is_none_or(|k| p.id.split_once('/').is_some_and(|(own, _)| own == k));
    let parts: Vec<&Arc<Part>> =
        found.iter().filter_map(|at| catalogue.parts.get(*at)).filter(of_kind).collect();
    match parts.as_slice() {
        [only] if sure => Ok(Some((*only).clone())),
        [] => Ok(None),
        several => Err(Problem::new(format!("`{}` may be several parts", clip(text, 60)))
            .help(format!("say which: {}", some_of(several.iter().map(|p| &*p.id), 8)))),
    }
}
