//! The engine's limits: what each bounds, how much, what is said where it is met, and the test that
//! meets it.
//!
//! DEVELOPERS.md shows this table, and a test holds it to the table and each row to its test.

use crate::audit::expr::MAX_EXTENT;
use crate::build::brief::{MAX_AIMS, MAX_WANT, MAX_WANTS};
use crate::build::read::{MAX_BYTES, MAX_COUNT, MAX_LINES};
use crate::catalogue::MAX_BOX;
use crate::kit::expression::MAX_EXPRESSION;
use crate::kit::prompt_eval::MOST_SHOWN as MOST_VALUES;
use crate::kit::{MAX_EXPRESSIONS, MAX_MEMORY};
use crate::layer::{
    MAX_BUILD_FOLDERS, MAX_BUILDS, MAX_DEPTH as MAX_FOLDERS, MAX_FILE_BYTES, MAX_FILES,
};
use crate::prices::import::MOST_TOLD;
use crate::prices::import::feed::{MAX_CELLS, MAX_ROW};
use crate::rules::compile::MAX_SCRIPT_BYTES;
use crate::rules::engine::{
    MAX_ARRAY, MAX_CALLS, MAX_DEPTH, MAX_FUNCTIONS, MAX_MAP, MAX_TEXT, MAX_VARIABLES,
};
use crate::rules::finding_words::{MAX_HOLES, MAX_VALUES};
use crate::rules::host::{MAX_FINDINGS, MAX_OPERATIONS, MAX_QUESTIONS, MAX_TIME};
use crate::rules::tokens::MAX_ARGUMENTS;
use crate::whatif::mend::MOST_ELEMENTS;
use crate::whatif::mix::{MOST_DIFFERENCES, MOST_EXTRA};
use crate::whatif::open_lines::MOST_AUDITS;
use crate::whatif::search::space::MOST_OPEN;
use crate::whatif::trial::{MAX_HELD, MAX_STEPS};
use crate::whatif::why::{MOST_TIME, MOST_TRIED};

/// One limit.
#[derive(Debug, Clone)]
pub struct Limit {
    /// What it bounds.
    pub what: &'static str,
    /// How much, with its unit.
    pub value: String,
    /// Words that are said where it is met; empty where more is left out without an error.
    pub says: &'static str,
    /// The test that meets it, a folder or a file; empty where there is nothing to meet.
    pub test: &'static str,
}

/// One row.
pub(crate) fn limit(
    what: &'static str,
    value: impl ToString,
    says: &'static str,
    test: &'static str,
) -> Limit {
    Limit { what, value: value.to_string(), says, test }
}

fn kib(bytes: usize) -> String {
    format!("{} KiB", bytes >> 10)
}

fn mib(bytes: u64) -> String {
    format!("{} MiB", bytes >> 20)
}

/// Those of the engine: scripts, files, searches and what is remembered.
// A table: a row a limit.
#[allow(clippy::too_many_lines)]
pub fn limits() -> Vec<Limit> {
    let (outside, inside) = MAX_DEPTH;
    vec![
        limit(
            "operations of a rule",
            MAX_OPERATIONS,
            "it ran past",
            "tests/cases/bad/rules/loop_for_ever/stdout",
        ),
        limit(
            "time of a rule",
            format!("{} ms", MAX_TIME.as_millis()),
            "it ran longer than",
            "tests/refused/scripts/slow_in_few_steps.rhai.txt",
        ),
        limit(
            "questions of a rule",
            MAX_QUESTIONS,
            "questions of the build",
            "tests/cases/bad/rules/too_many_questions/stdout",
        ),
        limit(
            "findings of a rule",
            MAX_FINDINGS,
            "raises more than",
            "tests/cases/bad/rules/too_many_findings/stdout",
        ),
        limit(
            "holes of a message",
            MAX_HOLES,
            "holes at the most",
            "tests/refused/scripts/too_many_holes.rhai.txt",
        ),
        limit(
            "values of a finding",
            MAX_VALUES,
            "values at the most",
            "tests/refused/scripts/too_many_values.rhai.txt",
        ),
        limit(
            "arguments of a call",
            MAX_ARGUMENTS,
            "arguments at the most",
            "tests/refused/scripts/call_too_long.rhai.txt",
        ),
        limit(
            "steps of working out one number",
            MAX_EXTENT.1,
            "worked out over too many steps",
            "tests/cases/bad/rules/numbers_branch/stdout",
        ),
        limit(
            "steps within steps of working out one number",
            MAX_EXTENT.0,
            "worked out over too many steps",
            "tests/cases/bad/rules/numbers_chain/stdout",
        ),
        limit(
            "what rules remember, in nodes of their ways and steps to verdicts",
            MAX_MEMORY,
            "",
            "tests/laws/memory.rs",
        ),
        limit(
            "expressions that rules make, while nothing that was said of a build is kept",
            MAX_EXPRESSIONS,
            "",
            "tests/laws/memory.rs",
        ),
        limit(
            "calls within calls",
            MAX_CALLS,
            "call one another too deeply",
            "tests/cases/bad/rules/recursion/stdout",
        ),
        limit(
            "expressions within expressions",
            format!("{outside}, in functions {inside}"),
            "nests deeper than",
            "tests/cases/bad/rules/nested_deep/stdout",
        ),
        limit(
            "a script's text",
            format!("{MAX_TEXT} bytes"),
            "a text grows too large",
            "tests/cases/bad/rules/text_doubles/stdout",
        ),
        limit(
            "a script's list",
            MAX_ARRAY,
            "a list grows too large",
            "tests/cases/bad/rules/array_doubles/stdout",
        ),
        limit(
            "a script's map",
            MAX_MAP,
            "a map grows too large",
            "tests/cases/bad/rules/map_nests/stdout",
        ),
        limit(
            "variables at once",
            MAX_VARIABLES,
            "variables at once",
            "tests/refused/scripts/variables_by_hundreds.rhai.txt",
        ),
        limit(
            "functions of a rule file",
            MAX_FUNCTIONS,
            "functions at the most",
            "tests/cases/bad/rules/functions_by_hundreds/stdout",
        ),
        limit(
            "a rule file",
            kib(MAX_SCRIPT_BYTES),
            "is larger than",
            "tests/cases/bad/rules/file_too_large/stdout",
        ),
        limit(
            "an expression at the prompt or in `wants`",
            kib(MAX_EXPRESSION),
            "KiB at the most",
            "tests/cases/bad/build/want_too_long/stderr",
        ),
        limit(
            "any file",
            mib(MAX_FILE_BYTES),
            "is larger than",
            "tests/cases/bad/build/file_too_large/stderr",
        ),
        limit(
            "a build file",
            mib(MAX_BYTES as u64),
            "which no parts list is",
            "tests/cases/bad/build/long_line/stderr",
        ),
        limit(
            "lines of a build",
            MAX_LINES,
            "lines at the most",
            "tests/cases/bad/build/parts_by_thousands/stderr",
        ),
        limit(
            "pieces on a line",
            MAX_COUNT,
            "whole number from 1 to",
            "tests/cases/bad/build/counts_absurd/stderr",
        ),
        limit(
            "parts included with a part, theirs too",
            MAX_BOX,
            "are included with",
            "tests/cases/bad/catalogue/box_of_boxes/stderr",
        ),
        limit(
            "folders within a rules or catalogue folder",
            MAX_FOLDERS,
            "nested too deeply",
            "tests/cases/bad/catalogue/link_circle/stderr",
        ),
        limit("files of a rules or catalogue folder", MAX_FILES, "files", "tests/limits.rs"),
        limit(
            "folders within a folder of builds",
            MAX_BUILD_FOLDERS,
            "folders deep",
            "tests/limits.rs",
        ),
        limit("builds of one call", MAX_BUILDS, "lists under", "tests/limits.rs"),
        limit("columns of a seller's feed", MAX_CELLS, "columns", "tests/limits.rs"),
        limit(
            "a row of a seller's feed",
            kib(MAX_ROW as usize),
            "this row is longer",
            "tests/cases/bad/feed/cell_of_a_million/stderr",
        ),
        limit(
            "problems shown of a feed",
            MOST_TOLD,
            "more rows like these",
            "tests/cases/bad/feed/many_wrong/stderr",
        ),
        limit(
            "wants of a brief",
            MAX_WANTS,
            "wants at the most",
            "tests/cases/bad/brief/wants_too_many/stderr",
        ),
        limit(
            "a want or an aim of a brief",
            kib(MAX_WANT),
            "KiB at the most",
            "tests/cases/bad/brief/want_too_long/stderr",
        ),
        limit(
            "aims of a brief",
            MAX_AIMS,
            "things at the most",
            "tests/cases/bad/brief/aims_too_many/stderr",
        ),
        limit(
            "open lines of a search, in `plan`",
            MOST_OPEN,
            "a search takes 60 at the most",
            "tests/cases/bad/brief/lines_too_many/stderr",
        ),
        limit(
            "lines and kinds that `mend` may change",
            MOST_ELEMENTS,
            "lines and kinds could be changed, and a search takes",
            "tests/limits.rs",
        ),
        limit(
            "lines in which mixed lists differ",
            MOST_DIFFERENCES,
            "lines at the most",
            "tests/limits.rs",
        ),
        limit(
            "lines that only one of two mixed lists has",
            MOST_EXTRA,
            "of them in one list only",
            "tests/limits.rs",
        ),
        limit(
            "builds tried for open lines",
            MOST_AUDITS,
            "the search was cut short",
            "tests/limits.rs",
        ),
        limit(
            "parts tried by `why`",
            format!("{MOST_TRIED}, {} ms", MOST_TIME.as_millis()),
            "tried only",
            "tests/limits.rs",
        ),
        limit("steps that `undo` knows", MAX_STEPS, "", "tests/limits.rs"),
        limit("texts that `undo` holds", mib(MAX_HELD as u64), "", "tests/limits.rs"),
        limit("values shown of an expression", MOST_VALUES, "and 20 more", "tests/limits.rs"),
    ]
}
