//! The engine's limits in one place. Each is a constant beside the code that keeps it; the table in
//! DEVELOPERS.md says what is told where one is met, and a test holds it to these and to that test.

pub use crate::audit::expr::MAX_EXTENT;
pub use crate::build::brief::{MAX_AIMS, MAX_WANT, MAX_WANTS};
pub use crate::build::read::{MAX_BYTES, MAX_COUNT, MAX_LINES};
pub use crate::catalogue::MAX_BOX;
pub use crate::kit::expression::MAX_EXPRESSION;
pub use crate::kit::prompt_eval::MOST_SHOWN as MOST_VALUES;
pub use crate::kit::{MAX_EXPRESSIONS, MAX_MEMORY};
pub use crate::layer::{
    MAX_BUILD_FOLDERS, MAX_BUILDS, MAX_DEPTH as MAX_FOLDERS, MAX_FILE_BYTES, MAX_FILES,
};
pub use crate::prices::import::MOST_TOLD;
pub use crate::prices::import::feed::{MAX_CELLS, MAX_ROW};
pub use crate::rules::compile::MAX_SCRIPT_BYTES;
pub use crate::rules::engine::{
    MAX_ARRAY, MAX_CALLS, MAX_DEPTH, MAX_FUNCTIONS, MAX_MAP, MAX_TEXT, MAX_VARIABLES,
};
pub use crate::rules::finding_words::{MAX_HOLES, MAX_VALUES};
pub use crate::rules::host::{MAX_FINDINGS, MAX_OPERATIONS, MAX_QUESTIONS, MAX_TIME};
pub use crate::rules::tokens::MAX_ARGUMENTS;
pub use crate::whatif::mend::MOST_ELEMENTS;
pub use crate::whatif::mix::{MOST_DIFFERENCES, MOST_EXTRA};
pub use crate::whatif::open_lines::MOST_AUDITS;
pub use crate::whatif::search::space::MOST_OPEN;
pub use crate::whatif::trial::{MAX_HELD, MAX_STEPS};
pub use crate::whatif::why::{MOST_TIME, MOST_TRIED};
