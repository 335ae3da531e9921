//! The host's words: one definition site that feeds the engine, the reference page and completion.

use std::rc::Rc;

use rhai::Engine;

use crate::rules::host::Host;

/// A word that scripts may use.
#[derive(Debug, Clone)]
pub struct Word {
    /// How it is written.
    pub signature: String,
    /// What it gives.
    pub meaning: String,
    /// Under which heading it stands.
    pub subject: &'static str,
}

/// Puts words into an engine and remembers what they mean.
pub struct Registrar<'e> {
    /// The engine.
    pub engine: &'e mut Engine,
    /// The host they speak to.
    pub host: Rc<Host>,
    /// What was put in.
    pub words: Vec<Word>,
    /// The heading for what follows.
    pub subject: &'static str,
}

impl Registrar<'_> {
    /// Describes the words that are put in next to it.
    pub fn word(&mut self, signature: &str, meaning: &str) {
        self.words.push(Word {
            signature: signature.to_owned(),
            meaning: meaning.to_owned(),
            subject: self.subject,
        });
    }
}
