//! How bad a finding is.

use std::fmt;

use serde::{Deserialize, Serialize};

/// How bad a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Good to know.
    Advice,
    /// Works, with a cost the customer should know.
    Caution,
    /// Must not be built so.
    Stop,
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Advice => "advice",
            Self::Caution => "caution",
            Self::Stop => "stop",
        })
    }
}
