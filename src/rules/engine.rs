//! The script engine as rules get it: no clock, no files, no evaluation of text, and a limit on
//! everything.

use std::rc::Rc;
use std::sync::OnceLock;

use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicFnPackage, BasicIteratorPackage, BasicMapPackage,
    BasicMathPackage, BasicStringPackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{AST, ASTNode, Engine, Stmt};

use crate::catalogue::Catalogue;
use crate::rules::compile::OPTIMIZE;
use crate::rules::host::{Host, MAX_OPERATIONS};
use crate::rules::word_table::{Registrar, Word};
use crate::rules::{
    array_words, assign_words, finding_words, line_words, number_words, text_words,
};

/// Longest text a script may make, in bytes. Small, because one `replace` can square it before the
/// engine looks.
pub const MAX_TEXT: usize = 4096;
/// Longest array a script may make.
pub const MAX_ARRAY: usize = 16_384;
/// Largest map a script may make.
pub const MAX_MAP: usize = 8_192;
/// Deepest calls.
pub const MAX_CALLS: usize = 48;
/// Deepest expressions, outside and inside functions.
pub const MAX_DEPTH: (usize, usize) = (64, 48);
/// Most functions in a rule file.
pub const MAX_FUNCTIONS: usize = 400;
/// Most variables in scope.
pub const MAX_VARIABLES: usize = 200;

/// Symbols that rules do not have. A shift loses what it moves past the end without a word.
const OFF: &[&str] = &[
    "switch", "try", "catch", "throw", "eval", "import", "export", "curry", "<<", ">>", "<<=",
    ">>=",
];

static NAMES: OnceLock<Vec<String>> = OnceLock::new();

/// Names of host words, for suggestions.
pub(crate) fn word_names() -> &'static [String] {
    NAMES.get().map_or(&[], Vec::as_slice)
}

/// An engine with the packages that rules get, and no word of the host's.
pub(crate) fn standard() -> Engine {
    let mut engine = Engine::new_raw();
    ArithmeticPackage::new().register_into_engine(&mut engine);
    LogicPackage::new().register_into_engine(&mut engine);
    BasicMathPackage::new().register_into_engine(&mut engine);
    BasicStringPackage::new().register_into_engine(&mut engine);
    MoreStringPackage::new().register_into_engine(&mut engine);
    BasicIteratorPackage::new().register_into_engine(&mut engine);
    BasicArrayPackage::new().register_into_engine(&mut engine);
    BasicMapPackage::new().register_into_engine(&mut engine);
    BasicFnPackage::new().register_into_engine(&mut engine);
    engine
}

/// An engine with the host's words, and what they mean.
pub(crate) fn engine(host: &Rc<Host>, catalogue: &Catalogue) -> (Engine, Vec<Word>) {
    let mut engine = standard();
    limit(&mut engine, host);
    let words = {
        let mut reg =
            Registrar { engine: &mut engine, host: host.clone(), words: Vec::new(), subject: "" };
        line_words::register(&mut reg, catalogue);
        number_words::register(&mut reg);
        text_words::register(&mut reg);
        finding_words::register(&mut reg);
        assign_words::register(&mut reg);
        array_words::register(&mut reg);
        number_words::guard(&mut reg);
        reg.words
    };
    NAMES.get_or_init(|| words.iter().flat_map(|w| names_in(&w.signature)).collect());
    (engine, words)
}

fn names_in(signature: &str) -> Vec<String> {
    let mut names: Vec<String> = signature
        .split('(')
        .filter_map(|head| head.rsplit(|c: char| !(c.is_alphanumeric() || c == '_')).next())
        .filter(|n| !n.is_empty())
        .map(str::to_owned)
        .collect();
    names.dedup();
    names
}

fn limit(engine: &mut Engine, host: &Rc<Host>) {
    engine.set_optimization_level(OPTIMIZE);
    // Strict comparison of plain values too: `650 > "700"` must not pass for false.
    engine.set_fast_operators(false);
    engine.set_strict_variables(true);
    engine.set_fail_on_invalid_map_property(true);
    engine.set_max_operations(MAX_OPERATIONS);
    engine.set_max_call_levels(MAX_CALLS);
    engine.set_max_expr_depths(MAX_DEPTH.0, MAX_DEPTH.1);
    engine.set_max_string_size(MAX_TEXT);
    engine.set_max_array_size(MAX_ARRAY);
    engine.set_max_map_size(MAX_MAP);
    engine.set_max_variables(MAX_VARIABLES);
    engine.set_max_functions(MAX_FUNCTIONS);
    for symbol in OFF {
        engine.disable_symbol(*symbol);
    }
    let ticker = host.clone();
    engine.on_progress(move |_| ticker.tick());
    watch_shared(engine, host);
    let log = host.clone();
    engine.on_print(move |text| log.log(text));
    let log = host.clone();
    engine.on_debug(move |text, _, _| log.log(text));
}

/// Has every variable that closures share kept until its run is over. Scripts without such closures
/// pay nothing for it but the look at a flag.
// The engine calls this interface volatile, nothing more.
#[allow(deprecated)]
fn watch_shared(engine: &mut Engine, host: &Rc<Host>) {
    let host = host.clone();
    engine.on_var(move |name, index, context| {
        if host.shares.get() {
            let scope = context.scope();
            let at = scope.len().checked_sub(index).filter(|_| index > 0);
            let cell = match at {
                Some(at) => scope.iter_raw().nth(at),
                None => scope.iter_raw().filter(|(n, ..)| *n == name).last(),
            };
            if let Some((_, _, cell)) = cell {
                host.shared_cell(cell);
            }
        }
        Ok(None)
    });
}

/// Whether a script has closures that share variables with what stands around them.
pub(crate) fn shares_variables(ast: &AST) -> bool {
    let shares = |path: &[ASTNode<'_>]| matches!(path.last(), Some(ASTNode::Stmt(Stmt::Share(_))));
    !ast.walk(&mut |path| !shares(path))
}
