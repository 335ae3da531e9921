//! What is read off the tokens of rule files when it is first asked for: where their functions
//! stand, and what these can raise. An audit of a sound list asks for none of it.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, OnceLock};

use crate::level::Level;
use crate::rules::outline::Outline;
use crate::rules::raises::Raises;
use crate::source::{Source, Span};

/// Where a function's name stands, and where the function ends.
type Standing = (Span, usize);

/// All rule files, by their place.
#[derive(Default)]
pub(crate) struct Scripts {
    files: Vec<Script>,
    /// By file and function.
    levels: OnceLock<Vec<HashMap<String, Vec<Level>>>>,
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
        Self { files: files.map(script).collect(), levels: OnceLock::new() }
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
        let levels = self.levels.get_or_init(|| self.all_levels());
        levels.get(file as usize).and_then(|own| own.get(function)).map_or(&[], Vec::as_slice)
    }

    fn all_levels(&self) -> Vec<HashMap<String, Vec<Level>>> {
        let outlines: Vec<Outline<'_>> =
            self.files.iter().map(|f| Outline::read(&f.source.text)).collect();
        let all: Vec<_> = self.files.iter().map(|f| &*f.stem).zip(&outlines).collect();
        let raises = Raises::of(&all);
        let of_file = |(file, outline): (usize, &Outline<'_>)| {
            let own = outline.functions.iter();
            own.map(|f| (f.name.to_owned(), raises.levels(file, f.name))).collect()
        };
        outlines.iter().enumerate().map(of_file).collect()
    }
}

impl fmt::Debug for Scripts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} scripts", self.files.len())
    }
}
