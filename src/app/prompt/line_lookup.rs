//! What a user means by a line or a part: never guessed where two fit.

use crate::app::part_words;
use crate::catalogue::Catalogue;
use crate::source::Problem;
use crate::whatif::diff::{LineView, views};
use crate::whatif::trial::Snapshot;
use crate::words::clip;

/// The lines that a name fits, as places in the list: one at least.
/// Errors: none fits; the message says what was most likely meant.
pub fn find(
    views: &[LineView],
    catalogue: &Catalogue,
    words: &[String],
) -> Result<Vec<usize>, Problem> {
    let whole = words.join(" ");
    // `graphics card`, `power supply 2`: a kind by a name of several words.
    let split: Vec<&str> = words.iter().map(String::as_str).collect();
    let (kind, rest) = part_words::kind_first(catalogue, &split);
    if let Some(kind) =
        kind.and_then(|k| catalogue.kind(k)).filter(|_| split.len() > rest.len() + 1)
    {
        let short: Vec<String> =
            [&*kind.name].into_iter().chain(rest.iter().copied()).map(str::to_owned).collect();
        return find(views, catalogue, &short);
    }
    // `tarn 650`: a part's name before a number is no kind.
    if words.len() > 1 && kind.is_none() {
        let fits = by_part(views, &whole);
        if !fits.is_empty() {
            return Ok(fits);
        }
    }
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
    let is_kind = catalogue.kind_id(name).is_some();
    let fits = if is_kind { of_kind(views, name) } else { by_part(views, name) };
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

/// The places of the lines of a kind.
pub(super) fn of_kind(views: &[LineView], kind: &str) -> Vec<usize> {
    let all = views.iter().enumerate();
    all.filter(|(_, view)| view.kind == kind).map(|(at, _)| at).collect()
}

/// The one line that a name means: `ask` decides where several fit.
/// Errors: none fits, or several do and nobody says which.
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
    format!("#{} {}{}", view.number, names(view), placed(view, " "))
}

/// The name of a line's part, or what an open line asks for and is judged with.
pub(super) fn names(view: &LineView) -> String {
    match &view.chosen {
        Some(chosen) => format!("{}; now {chosen}", view.name),
        None => view.name.clone(),
    }
}

/// How many, and how they are fitted.
pub(super) fn placed(view: &LineView, before: &str) -> String {
    let mut words = if view.count > 1 { format!(" x{}", view.count) } else { String::new() };
    for (key, value) in [("mount", &view.mount), ("flow", &view.flow)] {
        if let Some(value) = value {
            words.push_str(&format!("{before}{key} {value}"));
        }
    }
    words
}
