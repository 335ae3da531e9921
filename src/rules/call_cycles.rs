//! Helper files that call one another in a circle: told with the way round, since at run time only
//! a stack too deep would show.

use crate::rules::loader::ScriptFile;
use crate::rules::outline::Outline;
use crate::rules::tokens::{Kind, Token};
use crate::source::Problem;

/// A helper file, and the first call in it of each other one.
struct Helper<'c, 't> {
    file: &'c ScriptFile,
    calls: Vec<(usize, &'c Token<'t>)>,
}

/// Every circle among the helper files, each once, with a caret at a call that belongs to it.
pub(crate) fn circles(libs: &[(&ScriptFile, &Outline<'_>)]) -> Vec<Problem> {
    let helpers: Vec<Helper<'_, '_>> = libs
        .iter()
        .map(|(file, outline)| Helper { file, calls: calls(file, outline, libs) })
        .collect();
    (0..helpers.len()).filter_map(|at| circle(&helpers, at)).collect()
}

/// The other helper files named before `::`.
fn calls<'c, 't>(
    own: &ScriptFile,
    outline: &'c Outline<'t>,
    libs: &[(&ScriptFile, &Outline<'_>)],
) -> Vec<(usize, &'c Token<'t>)> {
    let mut calls: Vec<(usize, &Token<'_>)> = Vec::new();
    for (_, token) in outline
        .tokens
        .iter()
        .enumerate()
        .filter(|(i, t)| t.kind == Kind::Name && outline.is(*i, 1, "::"))
    {
        let called =
            libs.iter().position(|(file, _)| *file.stem == *token.text && *file.stem != *own.stem);
        if let Some(called) = called.filter(|c| calls.iter().all(|(other, _)| other != c)) {
            calls.push((called, token));
        }
    }
    calls
}

/// The shortest way from a file back to itself, told of the first file of the circle only.
fn circle(helpers: &[Helper<'_, '_>], start: usize) -> Option<Problem> {
    let mut ways = vec![vec![start]];
    let mut been = vec![start];
    let mut next = 0;
    while let Some(way) = ways.get(next).cloned() {
        next += 1;
        for (called, _) in &helpers.get(*way.last()?)?.calls {
            if *called == start {
                return way.iter().all(|w| *w >= start).then(|| told(helpers, &way)).flatten();
            }
            if !been.contains(called) {
                been.push(*called);
                ways.push([way.clone(), vec![*called]].concat());
            }
        }
    }
    None
}

fn told(helpers: &[Helper<'_, '_>], way: &[usize]) -> Option<Problem> {
    let first = helpers.get(*way.first()?)?;
    let (_, token) = first.calls.iter().find(|(called, _)| Some(called) == way.get(1))?;
    let names: Vec<&str> = way
        .iter()
        .chain(way.first())
        .filter_map(|w| helpers.get(*w))
        .map(|h| &*h.file.stem)
        .collect();
    let problem =
        Problem::new(format!("helper files call one another in a circle: {}", names.join(" → ")));
    Some(
        problem
            .at(&first.file.source, token.span, "called here")
            .help("take what both need out into a third file"),
    )
}
