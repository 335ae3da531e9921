//! The host's words: one definition site that feeds the engine, the reference page and completion.

use std::rc::Rc;

use rhai::{Dynamic, Engine, ImmutableString};

use crate::rules::host::{Call, Host, Res};

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

/// Names under which scripts and messages ask for the text of a value.
pub const AS_TEXT: &[&str] = &["to_string", "to_debug"];

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

    /// Puts in a function of one value.
    pub fn one<A: Clone + 'static, R: Clone + 'static>(
        &mut self,
        name: &str,
        run: impl Fn(&Rc<Host>, &Call<'_>, A) -> Res<R> + 'static,
    ) {
        let host = self.host.clone();
        self.engine.register_fn(name, move |ctx: Call<'_>, a: A| -> Res<R> { run(&host, &ctx, a) });
    }

    /// Puts in the text of a value, under several names.
    pub fn text<A: Clone + 'static>(
        &mut self,
        names: &[&str],
        run: impl Fn(&Rc<Host>, &Call<'_>, &mut A) -> Res<ImmutableString> + Copy + 'static,
    ) {
        for name in names {
            let host = self.host.clone();
            let call =
                move |ctx: Call<'_>, a: &mut A| -> Res<ImmutableString> { run(&host, &ctx, a) };
            self.engine.register_fn(*name, call);
        }
    }

    /// Puts in a function of two values.
    pub fn two<A: Clone + 'static, B: Clone + 'static, R: Clone + 'static>(
        &mut self,
        name: &str,
        run: impl Fn(&Rc<Host>, &Call<'_>, A, B) -> Res<R> + 'static,
    ) {
        let host = self.host.clone();
        let call = move |ctx: Call<'_>, a: A, b: B| -> Res<R> { run(&host, &ctx, a, b) };
        self.engine.register_fn(name, call);
    }

    /// Puts in a function of three values.
    pub fn three<A: Clone + 'static, B: Clone + 'static, C: Clone + 'static, R: Clone + 'static>(
        &mut self,
        name: &str,
        run: impl Fn(&Rc<Host>, &Call<'_>, A, B, C) -> Res<R> + 'static,
    ) {
        let host = self.host.clone();
        let call = move |ctx: Call<'_>, a: A, b: B, c: C| -> Res<R> { run(&host, &ctx, a, b, c) };
        self.engine.register_fn(name, call);
    }

    /// Puts in what `value["FIELD"]`, `value.opt("FIELD")` and `value.has("FIELD")` give; `run` is
    /// told whether the field may be left out.
    pub fn fields<A: Clone + 'static>(
        &mut self,
        run: fn(&Rc<Host>, &Call<'_>, &A, &str, bool) -> Res<Dynamic>,
    ) {
        type Name = ImmutableString;
        self.index(move |host, ctx, of: &mut A, name: Name| run(host, ctx, of, &name, false));
        self.two("opt", move |host, ctx, of: A, name: Name| run(host, ctx, &of, &name, true));
        self.two("has", move |host, ctx, of: A, name: Name| {
            Ok(!run(host, ctx, &of, &name, true)?.is_unit())
        });
    }

    /// Puts in what `value[key]` gives.
    pub fn index<A: Clone + 'static, B: Clone + 'static, R: Clone + 'static>(
        &mut self,
        run: impl Fn(&Rc<Host>, &Call<'_>, &mut A, B) -> Res<R> + 'static,
    ) {
        let host = self.host.clone();
        let call = move |ctx: Call<'_>, a: &mut A, key: B| -> Res<R> { run(&host, &ctx, a, key) };
        self.engine.register_indexer_get(call);
    }
}
