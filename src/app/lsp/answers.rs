//! Answers of searches as JSON, for programs that ask on the editor's channel. Each has a `format`
//! and a `version`; within a version keys are only ever added.

use std::sync::Arc;

use serde_json::{Value, json};

use super::positions::Encoding;
use super::text_edits;
use crate::app::repairs::Bench;
use crate::app::report::json::number;
use crate::app::report::search_json::{self, levels};
use crate::app::report::why_json;
use crate::audit::finding::Brief;
use crate::build::Build;
use crate::source::{Problem, Problems, Source};
use crate::trade::money::Money;
use crate::whatif::diff::between;
use crate::whatif::edit::{self, Edit};
use crate::whatif::fit::Fit;
use crate::whatif::mend::{Mend, edits};
use crate::whatif::trial::Snapshot;
use crate::whatif::why;

/// Version of every answer here.
pub(crate) const VERSION: u32 = 1;

/// `dryfit/fit`: what could stand on a line.
pub(crate) fn fit(fit: &Fit, line: usize, build: &Build) -> Value {
    let row = |row: &crate::whatif::fit::FitRow| {
        let moved = row.moved.iter().filter_map(|(at, from, to)| {
            let measure = fit.measures.get(*at)?;
            Some(json!({ "id": measure.id, "unit": &*measure.unit, "from": number(*from),
            "to": number(*to) }))
        });
        json!({
            "part": &*row.part.id,
            "name": &*row.part.name,
            "price": row.price.as_ref().map(Money::bare),
            "more": row.more.as_ref().map(Money::bare),
            "unmet": row.unmet,
            "raised": levels(&row.raised),
            "opened": levels(&row.opened),
            "cleared": levels(&row.cleared),
            "broken": row.broken,
            "measures": moved.collect::<Vec<_>>(),
            "beaten": row.beaten,
        })
    };
    json!({
        "format": "dryfit-fit",
        "version": VERSION,
        "line": line + 1,
        "currency": &*build.currency,
        "now": fit.now.as_ref().map(|part| &*part.id),
        "waiting": levels(&fit.waiting),
        "complete": fit.complete,
        "parts": fit.rows.iter().map(row).collect::<Vec<_>>(),
    })
}

/// `dryfit/mend`: the fewest changes that clear every stop.
pub(crate) fn mend(mend: &Mend, source: &Arc<Source>, encoding: Encoding) -> Value {
    let ways = mend.ways.iter().map(|way| {
        let text = edit::apply(&source.text, &edits(&way.changes)).ok();
        json!({
            "changes": way.changes.iter().map(search_json::change).collect::<Vec<_>>(),
            "loss": way.loss,
            "raises": way.raises,
            "offered": way.offered,
            "total": way.total.money.bare(),
            "more": way.more.bare(),
            "edits": text.map(|text| text_edits::between(&source.text, &text, encoding)),
        })
    });
    json!({
        "format": "dryfit-mend",
        "version": VERSION,
        "stops": mend.stops,
        "ways": ways.collect::<Vec<_>>(),
        "proven": mend.proven,
        "conflict": mend.conflict,
        "unsold": mend.unsold.iter().map(|part| &*part.id).collect::<Vec<_>>(),
        "left_out": mend.left_out,
        "too_many": mend.too_many,
    })
}

fn brief(brief: &Brief) -> Value {
    json!({ "rule": &*brief.rule, "level": brief.level.to_string(), "message": brief.message })
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
    let before = Snapshot::of(&bench.kit, &bench.source, bench.today)?;
    let source = Source::new(bench.source.name.clone(), text);
    let after = Snapshot::of(&bench.kit, &source, bench.today)?;
    let change = between(&before, &after);
    let measures = change
        .measures
        .iter()
        .map(|m| json!({ "id": m.id, "from": m.from, "to": m.to, "difference": m.difference }));
    Ok(json!({
        "format": "dryfit-swap",
        "version": VERSION,
        "line": line + 1,
        "part": part,
        "verdict": { "from": before.ruling().key(), "to": after.ruling().key() },
        "total": { "from": change.total.0, "to": change.total.1 },
        "raised": change.raised.iter().map(brief).collect::<Vec<_>>(),
        "cleared": change.cleared.iter().map(brief).collect::<Vec<_>>(),
        "measures": measures.collect::<Vec<_>>(),
        "edits": text_edits::between(&bench.source.text, &source.text, encoding),
    }))
}

/// `dryfit/why`: why a rule says what it says.
pub(crate) fn why(bench: &Bench, rule: &str) -> Result<Value, Problems> {
    let at = why::rule_named(&bench.kit, rule)?;
    let now = Snapshot::of(&bench.kit, &bench.source, bench.today)?;
    Ok(why_json::why(&why::why(&bench.kit, &now, at)))
}
