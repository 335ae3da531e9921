//! The application's limits, as the engine has its own.

pub use crate::app::prompt::history::MOST as MOST_HISTORY;
pub use crate::app::prompt::search_report::MOST_ROWS;
pub use crate::app::report::terminal::MOST_POINTERS;
