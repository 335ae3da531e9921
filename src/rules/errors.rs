//! Script errors in plain words, with a caret in the script; no word of the engine's own types gets
//! through.

use std::sync::Arc;

use rhai::{EvalAltResult, ParseError, ParseErrorType, Position};

use crate::rules::engine::{MAX_DEPTH, MAX_FUNCTIONS, MAX_VARIABLES};
use crate::rules::host::{Cut, Host, HostError, MAX_OPERATIONS, MAX_QUESTIONS, MAX_TIME};
use crate::rules::loader::{Rule, RuleSet};
use crate::rules::outline::Outline;
use crate::rules::run::Failed;
use crate::rules::tokens::{Token, token_at};
use crate::rules::tracked::type_words;
use crate::source::{Label, Problem, Source, Span};
use crate::words::nearest;

/// The code of a script that cannot be read.
pub(crate) const SYNTAX: &str = "script-syntax";
/// Most loops, or calls of functions to themselves, that are pointed at.
const MOST_PLACES: usize = 4;

/// Words that are switched off, and what to write instead.
const OFF: &[(&str, &str)] = &[
    (
        "switch",
        "`switch` would take its default in silence on a tracked value: use `if … else if …`",
    ),
    ("try", "rules have no `try`: a failing rule is reported, never passed over"),
    ("catch", "rules have no `catch`: a failing rule is reported, never passed over"),
    ("throw", "rules have no `throw`: raise a finding with stop, caution or advice"),
    ("eval", "rules do not evaluate text"),
    ("import", "helpers in rules/lib/NAME.rhai are there as NAME::function(…) with no import"),
    ("export", "public functions of a lib file are there for all"),
    ("curry", "write a closure instead: |x| f(a, x)"),
    ("<<", "numbers here are figures, not bits: write `x * 2 ** n`"),
    (">>", "numbers here are figures, not bits: write `x / 2 ** n`"),
    ("<<=", "numbers here are figures, not bits: write `x * 2 ** n`"),
    (">>=", "numbers here are figures, not bits: write `x / 2 ** n`"),
];

/// A parse error, put in words.
pub(crate) fn syntax(source: &Arc<Source>, error: &ParseError) -> Problem {
    let span = token_span(source, error.position());
    let word = source.slice(span);
    let problem =
        Problem::new(format!("{} cannot be read as a rule file", source.name)).code(SYNTAX);
    if let Some((_, help)) =
        OFF.iter().find(|(w, _)| *w == word || error.to_string().contains(&format!("'{w}'")))
    {
        return problem.at(source, span, format!("`{word}` is not for rules")).help(*help);
    }
    let (text, help) = match error.err_type() {
        ParseErrorType::VariableUndefined(name) => return undefined(source, span, problem, name),
        ParseErrorType::WrongDocComment => hint(
            "a doc comment does not belong here",
            "`///` goes only before a function; write `//` before a constant",
        ),
        ParseErrorType::ModuleUndefined(name) => hint(
            format!("there is no helper file `{name}`"),
            format!("it would be rules/lib/{name}.rhai"),
        ),
        ParseErrorType::Reserved(name) if name.chars().all(char::is_alphabetic) => {
            hint(format!("`{name}` is a word of Rhai's own"), "choose another name")
        }
        ParseErrorType::ExprTooDeep => hint(
            format!("this nests deeper than {} expressions", MAX_DEPTH.1),
            "give parts of it names with `let`, or move them to helpers",
        ),
        ParseErrorType::TooManyFunctions => hint(
            format!("a rule file has {MAX_FUNCTIONS} functions at the most"),
            "split it into several rule files",
        ),
        ParseErrorType::MismatchedType(wanted, got) => {
            let wanted = if wanted.contains("boolean") { "yes or no" } else { type_words(wanted) };
            (format!("{wanted} is wanted here, and this is {}", type_words(got)), None)
        }
        other => (clean(&other.to_string()), None),
    };
    let problem = problem.at(source, span, text);
    Problem { help, ..problem }
}

/// A name that is no variable here: perhaps a function, or a variable of the file's outside.
fn undefined(source: &Arc<Source>, span: Span, problem: Problem, name: &str) -> Problem {
    let outline = Outline::read(&source.text);
    let problem = problem.at(source, span, format!("there is no variable `{name}`"));
    if outline.functions.iter().any(|f| f.name == name) {
        problem.help(format!(
            "`{name}` is a function: write {name}(…), and |x| {name}(x) where \
             one is to be handed on"
        ))
    } else if outline.own.contains(name) {
        problem.help(
            "of what is brought in outside, a function sees constants only: write \
             `const`, or `let` inside it",
        )
    } else {
        problem.suggest(name, outline.own.iter().copied().chain(["build"]))
    }
}

/// An error while a file's constants or a lib file are worked out.
pub(crate) fn load_problem(source: &Arc<Source>, error: &EvalAltResult) -> Problem {
    let (message, help) = words(None, error);
    let problem = Problem::new(format!("{} cannot be loaded", source.name)).at(
        source,
        token_span(source, error.position()),
        message,
    );
    Problem { help, ..problem }
}

/// A run's error in words, with the place of the innermost call and the way there.
pub(crate) fn explain(host: &Host, rules: &RuleSet, rule: u16, error: &EvalAltResult) -> Problem {
    let entry = rules.rules.get(rule as usize);
    let id = entry.map_or("", |r| &*r.id);
    let mut source_name = entry.map_or_else(String::new, |r| r.file_at.to_string());
    let mut at = error;
    let mut way: Vec<(String, String, Position)> = Vec::new();
    while let EvalAltResult::ErrorInFunctionCall(name, source, inner, pos) = at {
        way.push((name.clone(), source_name.clone(), *pos));
        if !source.is_empty() {
            source_name.clone_from(source);
        }
        at = inner;
    }
    if let EvalAltResult::ErrorRuntime(payload, _) = at
        && let Some(Failed(problem)) = payload.clone().try_cast::<Failed>()
    {
        let mut problem = problem;
        if let Some(file) = file_of(rules, &source_name) {
            let span = entry.map_or_else(Span::default, |r| r.span());
            problem.labels.push(Label { source: file, span, text: format!("{id} needs it") });
        }
        return problem;
    }
    let (message, help) =
        constant(at, rules, &source_name).unwrap_or_else(|| words(Some(host), at));
    let mut problem = Problem::new(message).code("script-failed");
    if let Some(file) = file_of(rules, &source_name) {
        let pos = if at.position().is_none() {
            way.last().map_or(Position::NONE, |w| w.2)
        } else {
            at.position()
        };
        match entry.filter(|_| pos.is_none()) {
            Some(rule) => problem.labels.extend(endless(&file, rule, at)),
            None => problem = problem.at(&file, token_span(&file, pos), "here"),
        }
    }
    for (name, source, pos) in
        way.iter().rev().filter(|(name, ..)| entry.is_none_or(|r| r.function != *name))
    {
        if let Some(file) = file_of(rules, source) {
            problem = problem.at(
                &file,
                token_span(&file, *pos),
                format!(
                    "{} is called here",
                    if name.starts_with("anon$") { "the closure" } else { name }
                ),
            );
        }
    }
    problem.labels.extend(being_read(host));
    let help = help.or_else(|| unknown_function(at, rules));
    Problem { help, ..problem }
}

/// Where a rule may go on without end. The engine forgets the place of a cut on its way out, so the
/// text has to tell: the calls of functions to themselves for a stack too deep, the rule's own
/// loops for what runs too long, its name where it has neither.
fn endless(file: &Arc<Source>, rule: &Rule, error: &EvalAltResult) -> Vec<Label> {
    let outline = Outline::read(&file.text);
    let calls_itself = |(i, t): (usize, &Token<'_>)| {
        let of = outline.function_of(i).filter(|f| f.name == t.text && i > f.tokens.start + 1);
        of.filter(|_| outline.is(i, 1, "(")).map(|_| t.span)
    };
    let (spans, text): (Vec<Span>, &str) = match error {
        EvalAltResult::ErrorStackOverflow(_) => {
            (outline.tokens.iter().enumerate().filter_map(calls_itself).collect(), "calls itself")
        }
        EvalAltResult::ErrorTerminated(..) | EvalAltResult::ErrorTooManyOperations(_) => {
            let own = outline
                .tokens
                .iter()
                .filter(|t| (rule.span().start()..rule.end()).contains(&t.span.start()));
            (
                own.filter(|t| ["loop", "while", "until", "for"].iter().any(|w| t.word(w)))
                    .map(|t| t.span)
                    .collect(),
                "a loop",
            )
        }
        _ => (Vec::new(), "here"),
    };
    let label =
        |span: Span, text: &str| Label { source: file.clone(), span, text: text.to_owned() };
    match spans.as_slice() {
        [] => vec![label(rule.span(), "here")],
        _ => spans.into_iter().take(MOST_PLACES).map(|span| label(span, text)).collect(),
    }
}

/// A constant of a file is known by its value where it is read, so writing to it looks for a
/// variable that is not there.
fn constant(error: &EvalAltResult, rules: &RuleSet, file: &str) -> Option<Words> {
    let EvalAltResult::ErrorVariableNotFound(name, _) = error else { return None };
    let text = &file_of(rules, file)?.text;
    text.contains(&format!("const {name} ")).then(|| {
        hint(
            format!("`{name}` is a constant: it never changes"),
            "keep a value of your own in a `let`; nothing is carried from one run to the next",
        )
    })
}

/// The line of the build that the rule looked at last.
fn being_read(host: &Host) -> Option<Label> {
    let (kind, nth) = host.reading.get()?;
    let resolved = host.state.borrow().build.clone()?;
    let slot = resolved.slot(kind, nth)?;
    let line = resolved.build.lines.get(slot.line)?;
    let name = slot.part.as_ref().map_or("this line", |p| &*p.name);
    let span = if line.spans.part.is_empty() { line.spans.whole } else { line.spans.part };
    let text = if slot.included {
        format!("while reading {name}, which is included with this")
    } else {
        format!("while reading {name}")
    };
    Some(Label { source: resolved.build.source.clone(), span, text })
}

/// A file by what the engine knows it by: its place.
fn file_of(rules: &RuleSet, key: &str) -> Option<Arc<Source>> {
    rules.files.get(key.parse::<usize>().ok()?).map(|f| f.source.clone())
}

fn unknown_function(error: &EvalAltResult, rules: &RuleSet) -> Option<String> {
    let EvalAltResult::ErrorFunctionNotFound(signature, _) = error else { return None };
    let name = signature.split(['(', ' ']).next()?;
    let words = crate::rules::engine::word_names();
    let own: Vec<String> = rules
        .files
        .iter()
        .flat_map(|f| f.ast.iter_functions().map(|m| m.name.to_owned()).collect::<Vec<_>>())
        .collect();
    let near =
        nearest(name, words.iter().map(String::as_str).chain(own.iter().map(String::as_str)))?;
    (near != name).then(|| format!("did you mean `{near}`?"))
}

/// What an error says, and what would fix it.
type Words = (String, Option<String>);

fn hint(message: impl Into<String>, help: impl Into<String>) -> Words {
    (message.into(), Some(help.into()))
}

fn words(host: Option<&Host>, error: &EvalAltResult) -> Words {
    let plain = |s: String| (s, None);
    match error {
        EvalAltResult::ErrorRuntime(payload, _) => match payload.clone().try_cast::<HostError>() {
            Some(said) => (said.message, said.help),
            None => plain("it stopped itself".to_owned()),
        },
        EvalAltResult::ErrorTerminated(..) => cut_words(host.and_then(Host::cut)),
        EvalAltResult::ErrorTooManyOperations(_) => cut_words(Some(Cut::Operations)),
        EvalAltResult::ErrorStackOverflow(_) => hint(
            "functions call one another too deeply",
            "look for a function that calls itself without end",
        ),
        EvalAltResult::ErrorDataTooLarge(what, _) => hint(
            format!("{} grows too large", large(what)),
            "a rule needs short texts and short lists only",
        ),
        EvalAltResult::ErrorTooManyVariables(_) => hint(
            format!("more than {MAX_VARIABLES} variables at once"),
            "keep values of one sort in a list",
        ),
        EvalAltResult::ErrorVariableNotFound(name, _) => {
            plain(format!("there is no variable `{name}`"))
        }
        EvalAltResult::ErrorPropertyNotFound(name, _) => plain(format!("this map has no `{name}`")),
        EvalAltResult::ErrorModuleNotFound(name, _) => hint(
            format!("there is no helper file `{name}`"),
            format!("it would be rules/lib/{}.rhai", name.trim_end_matches("::")),
        ),
        EvalAltResult::ErrorFunctionNotFound(signature, _) => {
            let joins = signature.starts_with('+').then(|| {
                "texts and figures come together in the \
                 message: caution(\"{a} beside {b}\", #{ a: a, b: b })"
                    .to_owned()
            });
            (no_function(signature), joins.filter(|_| no_function(signature).contains("text")))
        }
        EvalAltResult::ErrorMismatchDataType(wanted, got, _)
        | EvalAltResult::ErrorMismatchOutputType(wanted, got, _) => {
            plain(format!("{} is wanted here, and this is {}", type_words(wanted), type_words(got)))
        }
        other => value_words(other),
    }
}

/// The same of errors about single values.
fn value_words(error: &EvalAltResult) -> Words {
    let plain = |s: String| (s, None);
    match error {
        EvalAltResult::ErrorIndexingType(..) => hint(
            "this has no entries to pick from or to set",
            "an array, a map and counts have; the build is only looked at",
        ),
        EvalAltResult::ErrorArrayBounds(len, index, _) => {
            plain(format!("entry {index} of an array of {len}"))
        }
        EvalAltResult::ErrorStringBounds(len, index, _) => {
            plain(format!("letter {index} of a text of {len}"))
        }
        EvalAltResult::ErrorFor(_) => hint(
            "`for` cannot go through this",
            "a list, an array or a range; for a figure of the catalogue write 0..x.to_int()",
        ),
        EvalAltResult::ErrorDotExpr(text, _) if text.contains("'()'") || text.contains("()") => {
            hint(
                "nothing is there to read from",
                "the list may have no such part: write `build.display?.…`, or return when it is ()",
            )
        }
        EvalAltResult::ErrorDotExpr(text, _) if text.contains("writable property") => hint(
            "the build is only looked at, never changed",
            "keep a value of your own in a `let`",
        ),
        EvalAltResult::ErrorDotExpr(text, _) => plain(clean(text)),
        EvalAltResult::ErrorDataRace(..) => hint(
            "the closure uses the list that is being walked",
            "give the list a second name for use inside: `let other = list;`",
        ),
        EvalAltResult::ErrorArithmetic(text, _) => plain(clean(text)),
        EvalAltResult::ErrorParsing(kind, _) => {
            let text = kind.to_string();
            match OFF.iter().find(|(w, _)| text.contains(&format!("'{w}'"))) {
                Some((word, help)) => hint(format!("`{word}` is not for rules"), *help),
                None => plain(clean(&text)),
            }
        }
        EvalAltResult::ErrorAssignmentToConstant(..)
        | EvalAltResult::ErrorNonPureMethodCallOnConstant(..) => hint(
            "the build is only looked at, never changed",
            "keep a value of your own in a `let`",
        ),
        other => plain(clean(&other.to_string())),
    }
}

/// What grows, in words: the engine names its own containers.
fn large(what: &str) -> &str {
    match what {
        w if w.contains("string") => "a text",
        w if w.contains("array") => "a list",
        w if w.contains("map") => "a map",
        other => type_words(other),
    }
}

fn cut_words(cut: Option<Cut>) -> Words {
    match cut {
        Some(Cut::Time) => hint(
            format!("it ran longer than {} ms", MAX_TIME.as_millis()),
            "look for a loop without end",
        ),
        Some(Cut::Questions) => hint(
            format!("it asked more than {MAX_QUESTIONS} questions of the build"),
            "look for a loop without end",
        ),
        _ => {
            hint(format!("it ran past {MAX_OPERATIONS} operations"), "look for a loop without end")
        }
    }
}

fn no_function(signature: &str) -> String {
    let (name, rest) = signature.split_once('(').unwrap_or((signature, ""));
    // A type may come with the others it could be read as: `&str | ImmutableString | String`.
    let first = rest
        .strip_suffix(')')
        .unwrap_or(rest)
        .split(',')
        .map(|a| a.split_once('|').map_or(a, |(first, _)| first).trim());
    let args: Vec<&str> = first.filter(|a| !a.is_empty()).map(type_words).collect();
    let name = name.trim();
    if let Some(field) = name.strip_prefix("set$").or_else(|| name.strip_prefix("index$set$")) {
        return format!("the build is only looked at, never changed (`{field}`)");
    }
    let operator = !name.is_empty() && name.chars().all(|c| !c.is_alphanumeric() && c != '_');
    match (operator, args.as_slice()) {
        (false, _) if name.starts_with("anon$") => {
            format!(
                "this calls its closure with {}, and the closure takes fewer or more values",
                args.join(" and ")
            )
        }
        (true, [a, b]) => format!("`{name}` between {a} and {b}"),
        (true, [a]) => format!("`{name}` of {a}"),
        (_, []) => format!("there is no function `{name}`"),
        _ => format!("there is no function `{name}` that takes {}", args.join(", ")),
    }
}

/// Words of the engine's own, made plain.
fn clean(text: &str) -> String {
    let mut out = text.to_owned();
    for (from, to) in [
        ("rhai::", ""),
        ("dryfit::rules::tracked::", ""),
        ("LineRef", "a line"),
        ("RecordRef", "a record"),
        ("BuildRef", "the build"),
        ("ImmutableString", "a text"),
        ("Dynamic", "a value"),
        ("i64", "a number"),
        ("f64", "a number"),
        ("'()'", "something absent"),
    ] {
        out = out.replace(from, to);
    }
    let mut letters = out.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// From the engine's line and column to the whole token there: the engine gives no widths.
pub(crate) fn token_span(source: &Source, pos: Position) -> Span {
    pos.line().map_or_else(Span::default, |line| {
        token_at(&source.text, source.offset(line, pos.position().unwrap_or(1)))
    })
}
