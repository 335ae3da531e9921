//! Compiles a rule file, once it is known that the engine can take it.

use std::sync::Arc;

use rhai::{AST, Engine, OptimizationLevel, Scope};

use crate::rules::errors::{self, SYNTAX};
use crate::rules::host::Host;
use crate::rules::tokens::{self, Token};
use crate::source::{Problem, Source};

/// Largest rule file, in bytes.
pub const MAX_SCRIPT_BYTES: usize = 256 << 10;

/// The level of optimisation that folds constants and runs no host function at compile time.
pub(crate) const OPTIMIZE: OptimizationLevel = OptimizationLevel::Simple;

/// What the engine knows a file by: names may be the same in two layers.
pub(super) fn key(at: u16) -> String {
    at.to_string()
}

/// Compiles a file of these tokens; strictly where its place among the files is given, which it is
/// then known by.
pub(super) fn compile(
    engine: &mut Engine,
    host: &Host,
    source: &Arc<Source>,
    stem: &str,
    tokens: &[Token<'_>],
    strict: Option<u16>,
) -> Result<AST, Box<Problem>> {
    if source.text.len() > MAX_SCRIPT_BYTES {
        return Err(Box::new(
            Problem::new(format!("{} is larger than {} KiB", source.name, MAX_SCRIPT_BYTES >> 10))
                .help("split it into several rule files"),
        ));
    }
    let good = !stem.is_empty()
        && stem.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
    if !good {
        return Err(Box::new(
            Problem::new(format!(
                "{}: a rule file's name is of lower-case letters, digits and _",
                source.name
            ))
            .help("rename the file"),
        ));
    }
    if let Some(open) = tokens::open_comment(&source.text) {
        let problem = Problem::new(format!("{} cannot be read as a rule file", source.name))
            .code(SYNTAX)
            .at(source, open, "nothing closes this comment");
        return Err(Box::new(problem.help(
            "everything after it would be left out: write `*/` where \
         it ends, or `//` before each of its lines",
        )));
    }
    if let Some(call) = tokens::long_call(tokens) {
        let problem = Problem::new(format!("{} cannot be read as a rule file", source.name))
            .code(SYNTAX)
            .at(source, call, "more than this call can take");
        let most = tokens::MAX_ARGUMENTS;
        return Err(Box::new(problem.help(format!("a call takes {most} arguments at the most"))));
    }
    let mut scope = Scope::new();
    if source.text.contains("const ") {
        // Constants of a file are invisible inside its functions unless they are known when it is
        // compiled: run it once to know them.
        engine.set_strict_variables(false);
        let first = engine.compile(&source.text);
        engine.set_strict_variables(true);
        let first = first.map_err(|e| Box::new(errors::syntax(source, &e)))?;
        host.start();
        engine
            .run_ast_with_scope(&mut scope, &first)
            .map_err(|e| Box::new(errors::load_problem(source, &e)))?;
    }
    engine.set_strict_variables(strict.is_some());
    let ast = engine.compile_with_scope(&scope, &source.text);
    engine.set_strict_variables(true);
    let mut ast = ast.map_err(|e| Box::new(errors::syntax(source, &e)))?;
    if let Some(at) = strict {
        ast.set_source(key(at));
    }
    host.note_shares(&ast);
    Ok(ast)
}
