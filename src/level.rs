//! How bad a finding is.

use std::fmt;

use serde::{Deserialize, Serialize};

/// How bad a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "app", derive(clap::ValueEnum))]
pub enum Level {
    /// Good to know.
    Advice,
    /// Works, with a cost the customer should know.
    Caution,
    /// Must not be built so.
    Stop,
}

/// Their words in files and scripts, the worst first.
pub(crate) const LEVELS: &[&str] = &["stop", "caution", "advice"];

impl Level {
    /// A level by its word in files and scripts.
    pub fn by_name(word: &str) -> Option<Self> {
        match word {
            "stop" => Some(Self::Stop),
            "caution" => Some(Self::Caution),
            "advice" => Some(Self::Advice),
            _ => None,
        }
    }
}

impl Level {
    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Advice => "advice",
            Self::Caution => "caution",
            Self::Stop => "stop",
        }
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
