//! The application's limits, as the engine has its own.

use crate::app::prompt::history;
use crate::app::prompt::search_report::MOST_ROWS;
use crate::app::report::terminal::MOST_POINTERS;
use crate::limits::{Limit, limit};

/// Those of the application: what is kept of a session, and how much is shown at once.
pub fn limits() -> Vec<Limit> {
    vec![
        limit("lines of history", history::MOST, "", "tests/limits.rs"),
        limit(
            "rows shown by `fit`, without `all`",
            MOST_ROWS,
            "more that raise more or cost more",
            "tests/limits.rs",
        ),
        limit(
            "values shown with a finding, without `--all`",
            MOST_POINTERS,
            "Evidence:",
            "tests/cases/good/much_evidence/stdout",
        ),
    ]
}
