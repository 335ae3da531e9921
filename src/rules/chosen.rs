//! Which rule files count, of all layers, and which of them took the place of others.

use std::sync::Arc;

use rhai::{AST, Engine};

use crate::layer::{Layer, carried_rules, without_ending};
use crate::rules::compile::compile;
use crate::rules::host::Host;
use crate::rules::loader::LazyOutline;
use crate::source::{Problem, Source};

/// A whole rule file that a layer took the place of.
#[derive(Debug, Clone)]
pub struct Taken {
    /// The file, without ending.
    pub file: String,
    /// The layer that has it now.
    pub layer: String,
    /// The layer that it was of.
    pub over: String,
    /// Why.
    pub reason: String,
}

/// A rule file that counts.
pub(super) struct Chosen<'l> {
    pub(super) below: &'l str,
    pub(super) source: &'l Arc<Source>,
    pub(super) layer: &'l str,
    pub(super) depth: usize,
    /// Whether its text is one that the program carries.
    pub(super) carried: bool,
}

/// The rule files that count, helpers last, those of a lower layer first within a name, so that
/// what comes later counts.
pub(super) fn chosen(layers: &[Layer]) -> Vec<Chosen<'_>> {
    let mut chosen: Vec<Chosen<'_>> = Layer::files_in_force(layers)
        .filter(|(_, below, _)| below.ends_with(".rhai"))
        .map(|(depth, below, source)| Chosen {
            below,
            source,
            layer: layers.get(depth).map_or("", |l| &l.label),
            depth,
            carried: carried_rules(below) == Some(&source.text),
        })
        .collect();
    chosen.sort_by(|a, b| (a.lib(), a.below, a.depth).cmp(&(b.lib(), b.below, b.depth)));
    chosen
}

impl<'l> Chosen<'l> {
    pub(super) fn lib(&self) -> bool {
        self.below.starts_with("lib/")
    }

    pub(super) fn stem(&self) -> &'l str {
        stem(self.below)
    }

    /// Compiles it; strictly where its place is given. The program's own calls are known to be
    /// short enough.
    pub(super) fn compile(
        &self,
        engine: &mut Engine,
        host: &Host,
        outline: &LazyOutline<'_>,
        strict: Option<u16>,
    ) -> Result<AST, Box<Problem>> {
        let tokens = if self.carried { &[] } else { outline.tokens.as_slice() };
        compile(engine, host, self.source, self.stem(), tokens, strict)
    }
}

/// Whole rule files that a layer takes the place of.
pub(super) fn taken(layers: &[Layer]) -> Vec<Taken> {
    let layers = Layer::in_force(layers);
    let mut taken = Vec::new();
    for (at, layer) in layers.iter().enumerate() {
        for replaces in &layer.replaces {
            let under = layers.iter().take(at).rev();
            let lower = under
                .into_iter()
                .find(|l| l.files.iter().any(|(below, _)| without_ending(below) == replaces.file));
            taken.extend(lower.map(|lower| Taken {
                file: replaces.file.clone(),
                layer: layer.label.clone(),
                over: lower.label.clone(),
                reason: replaces.reason.clone(),
            }));
        }
    }
    taken
}

fn stem(below: &str) -> &str {
    below.strip_prefix("lib/").unwrap_or(below).trim_end_matches(".rhai")
}
