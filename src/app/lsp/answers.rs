//! Answers of searches as JSON, for programs that ask on the editor's channel: as the shell writes
//! them, with the edits that make each change. Within a version keys are only ever added.

use serde_json::{Value, json};

use super::positions::Encoding;
use super::text_edits;
use crate::app::counted::count;
use crate::app::prompt::search_commands::{mend_code, small_enough};
use crate::app::repairs::Bench;
use crate::app::report::{search_json, why_json};
use crate::source::{Problem, Problems, Source};
use crate::whatif::diff::{between, views};
use crate::whatif::edit::{self, Edit};
use crate::whatif::mend::edits;
use crate::whatif::search::SearchLimits;
use crate::whatif::trial::Snapshot;
use crate::whatif::why;

/// `dryfit/fit`: what could stand on a line.
/// Errors: there is no such line.
pub(crate) fn fit(
    bench: &mut Bench,
    line: usize,
    limits: SearchLimits<'_>,
) -> Result<Value, Problems> {
    let list = bench.list()?;
    let lines = views(&list);
    let view = lines.get(line).ok_or_else(|| no_line(line, lines.len()))?;
    Ok(search_json::fit(&list, view, &bench.fit(line, limits)))
}

fn no_line(line: usize, lines: usize) -> Problem {
    Problem::new(format!("this list has no line {}", line + 1))
        .help(format!("it has {}", count(lines, "line")))
}

/// `dryfit/mend`: the fewest changes that clear every stop.
/// Errors: the list is too long to be mended.
pub(crate) fn mend(
    bench: &mut Bench,
    encoding: Encoding,
    limits: SearchLimits<'_>,
) -> Result<Value, Problems> {
    let (list, found) = (bench.list()?, bench.mend(limits));
    small_enough(&found)?;
    let mut answer = search_json::mend(&list, &found, mend_code(&list, &found));
    let old = &bench.source.text;
    let said = answer["ways"].as_array_mut().into_iter().flatten();
    for (way, said) in found.ways.iter().zip(said) {
        let text = edit::apply(old, &edits(&way.changes)).ok();
        said["edits"] = json!(text.map(|text| text_edits::between(old, &text, encoding)));
    }
    Ok(answer)
}

/// `dryfit/swap`: what another part on a line would change.
/// Errors: there is no such line or part, or the list cannot be edited without loss.
pub(crate) fn swap(
    bench: &Bench,
    line: usize,
    part: &str,
    encoding: Encoding,
) -> Result<Value, Problems> {
    if bench.kit.catalogue().part(part).is_none() {
        let problem = Problem::new(format!("there is no part {part} in the catalogue"));
        let ids = bench.kit.catalogue().parts().map(|p| &*p.id);
        return Err(problem.suggest(part, ids).into());
    }
    let text = edit::apply(&bench.source.text, &[Edit::Part { line, part: part.to_owned() }])?;
    let before = bench.list()?;
    let source = Source::new(bench.source.name.clone(), text);
    let after = Snapshot::of(&bench.kit, &source, bench.today)?;
    let change = between(&before, &after);
    let mut answer = search_json::compare(&before, &after, &change, 0);
    answer["format"] = json!("dryfit-swap");
    answer["line"] = json!(line + 1);
    answer["part"] = json!(part);
    answer["edits"] = json!(text_edits::between(&bench.source.text, &source.text, encoding));
    Ok(answer)
}

/// `dryfit/why`: why a rule says what it says.
pub(crate) fn why(bench: &Bench, rule: &str) -> Result<Value, Problems> {
    let at = why::rule_named(&bench.kit, rule)?;
    Ok(why_json::why(&why::why(&bench.kit, &bench.list()?, at)))
}
