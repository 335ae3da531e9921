//! What a build file says of money beside its prices: quotes on its lines, and the bundles that are
//! worth having.

use std::sync::Arc;

use super::Quote;
use crate::catalogue::Catalogue;
use crate::catalogue::declared::{Declared, Reading, Row, Takes, needed};
use crate::source::Problem;
use crate::words::clip;

/// A price that was quoted.
pub(crate) const QUOTE: Declared = Declared {
    of: "a quote",
    keys: &[
        needed("price", Takes::Money, "price of one; `dryfit prices quote BUILD` writes it"),
        needed("on", Takes::Day, "the day it was quoted"),
    ],
};

/// The quote of a line that was checked.
pub(super) fn read(line: &Row<'_, '_>) -> Option<Quote> {
    let table = line.get("quoted")?.get_ref().as_table()?;
    let row = Row { table, whole: line.span("quoted") };
    Some(Quote { price: row.money("price")?, on: row.day("on")?, span: row.whole })
}

/// Reads `bundles = ["paste/…", …]`.
pub(super) fn bundles(
    row: &Row<'_, '_>,
    catalogue: &Catalogue,
    reading: &mut Reading<'_>,
) -> Vec<Arc<str>> {
    let mut wanted = Vec::new();
    for (id, span) in row.texts("bundles") {
        match catalogue.part(id) {
            Some(part) => wanted.push(part.id.clone()),
            None => {
                let problem =
                    Problem::new(format!("there is no part {} in the catalogue", clip(id, 60)))
                        .code("unknown-part")
                        .at(reading.source, span, "unknown part");
                let ids = catalogue.parts().map(|p| &*p.id);
                reading.problems.push(problem.suggest(id, ids));
            }
        }
    }
    wanted
}
