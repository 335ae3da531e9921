//! Expressions over a build: read once, run on any number of builds. The prompt, the filters of
//! parts and the values of a page share them.

use std::sync::Arc;

use rhai::{AST, Dynamic, EvalAltResult, ParseErrorType, Scope};

use crate::kit::Kit;
use crate::rules::errors;
use crate::rules::host::{Cut, Frame, Host};
use crate::rules::run::{framed, on_script_stack};
use crate::rules::tokens;
use crate::source::{Label, Problem, Source};

/// Longest expression, in bytes.
pub const MAX_EXPRESSION: usize = 64 << 10;
/// The rule of a frame that belongs to none.
const NO_RULE: u16 = u16::MAX;

/// An expression ready to be run.
pub(crate) struct Expression {
    pub(crate) source: Arc<Source>,
    ast: AST,
}

impl Kit {
    /// Reads an expression that may name what stands in `scope`. `unknown` adds to a problem what a
    /// name that is not known may have meant.
    pub(crate) fn expression(
        &self,
        scope: &Scope<'_>,
        text: &str,
        unknown: impl FnOnce(Problem, &str) -> Problem,
    ) -> Result<Expression, Box<Problem>> {
        let source = Source::new("<expression>", text);
        if text.len() > MAX_EXPRESSION {
            let most = MAX_EXPRESSION >> 10;
            return Err(Box::new(Problem::new(format!("an expression is {most} KiB at the most"))));
        }
        if let Some(call) = tokens::long_call(&tokens::tokens(text)) {
            let problem = Problem::new("this expression cannot be read");
            let most = tokens::MAX_ARGUMENTS;
            return Err(Box::new(
                problem
                    .at(&source, call, "more than this call can take")
                    .help(format!("a call takes {most} arguments at the most")),
            ));
        }
        match on_script_stack(|| self.inside().1.compile_with_scope(scope, text)) {
            Ok(ast) => {
                self.inside().0.note_shares(&ast);
                Ok(Expression { source, ast })
            }
            Err(error) => {
                let mut problem = errors::syntax(&source, &error);
                problem.message = "this expression cannot be read".to_owned();
                Err(Box::new(match error.err_type() {
                    ParseErrorType::VariableUndefined(name) => unknown(problem, name),
                    _ => problem,
                }))
            }
        }
    }

    /// Runs an expression on the build being looked at; the frame holds what it asked, raised and
    /// printed.
    pub(crate) fn run_expression(
        &self,
        expression: &Expression,
        scope: &mut Scope<'static>,
    ) -> (Result<Dynamic, Box<Problem>>, Frame) {
        let (host, engine) = self.inside();
        host.start();
        let (result, frame) =
            framed(host, NO_RULE, || engine.eval_ast_with_scope::<Dynamic>(scope, &expression.ast));
        let result = result.map_err(|error| Box::new(explain(host, &expression.source, &error)));
        (result, frame)
    }
}

fn explain(host: &Host, source: &Arc<Source>, error: &EvalAltResult) -> Problem {
    if let (Some(Cut::Lack(lack)), Ok(build)) = (host.cut(), host.build()) {
        return lack.problem(&build);
    }
    let rules = host.rules.borrow().clone();
    let mut problem = errors::explain(host, &rules, NO_RULE, error);
    if !error.position().is_none() {
        let span = errors::token_span(source, error.position());
        problem.labels.insert(0, Label { source: source.clone(), span, text: "here".to_owned() });
    }
    problem
}
