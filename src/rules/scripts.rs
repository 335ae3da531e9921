//! What is read off the tokens of rule files when it is first asked for: where their functions
//! stand, and what these reach. An audit of a sound list asks for none of it.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, OnceLock};

use crate::level::Level;
use crate::rules::outline::Outline;
use crate::rules::reach::{Bodies, Reach};
use crate::source::{Source, Span};

/// Where a function's name stands, and where the function ends.
type Standing = (Span, usize);

/// All rule files, by their place.
#[derive(Default)]
pub(crate) struct Scripts {
    files: Vec<Script>,
    /// By file and function.
    reach: OnceLock<Vec<HashMap<String, Reach>>>,
}

struct Script {
    stem: Arc<str>,
    source: Arc<Source>,
    standing: OnceLock<HashMap<String, Standing>>,
}

impl Scripts {
    /// Of these files.
    pub(crate) fn new(files: impl Iterator<Item = (Arc<str>, Arc<Source>)>) -> Self {
        let script = |(stem, source)| Script { stem, source, standing: OnceLock::new() };
        Self { files: files.map(script).collect(), reach: OnceLock::new() }
    }

    /// Where a function stands; nowhere when it is not there.
    pub(crate) fn standing(&self, file: u16, function: &str) -> Standing {
        let Some(script) = self.files.get(file as usize) else { return Standing::default() };
        let standing = script.standing.get_or_init(|| {
            let outline = Outline::read(&script.source.text);
            let placed = |name: &str| (name.to_owned(), outline.place(name));
            outline.functions.iter().map(|f| placed(f.name)).collect()
        });
        standing.get(function).copied().unwrap_or_default()
    }

    /// Levels of the findings that a function can raise, worst first.
    pub(crate) fn levels(&self, file: u16, function: &str) -> &[Level] {
        self.reach(file, function).map_or(&[], |reach| &reach.levels)
    }

    /// What a function reaches.
    pub(crate) fn reach(&self, file: u16, function: &str) -> Option<&Reach> {
        let all = self.reach.get_or_init(|| self.all());
        all.get(file as usize)?.get(function)
    }

    fn all(&self) -> Vec<HashMap<String, Reach>> {
        let outlines: Vec<Outline<'_>> =
            self.files.iter().map(|f| Outline::read(&f.source.text)).collect();
        let all: Vec<_> = self.files.iter().map(|f| &*f.stem).zip(&outlines).collect();
        let bodies = Bodies::of(&all);
        let of_file = |(file, outline): (usize, &Outline<'_>)| {
            let own = outline.functions.iter();
            own.map(|f| (f.name.to_owned(), bodies.reach(file, f.name))).collect()
        };
        outlines.iter().enumerate().map(of_file).collect()
    }
}

impl fmt::Debug for Scripts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} scripts", self.files.len())
    }
}
