//! Rule files: which functions are rules and measures, and what their doc comments say.

use std::collections::HashMap;
use std::sync::Arc;

use rhai::{AST, Engine, FnAccess, Module, OptimizationLevel, Scope};

use crate::audit::wording::Names;
use crate::catalogue::Catalogue;
use crate::layer::Layer;
use crate::level::Level;
use crate::rules::check_names::Names as Known;
use crate::rules::check_units::Units;
use crate::rules::errors;
use crate::rules::host::Host;
use crate::rules::outline::Outline;
use crate::rules::{call_cycles, tokens};
use crate::settings::Settings;
use crate::source::{Label, Problem, Source, Span};
use crate::words::nearest;

/// Largest rule file, in bytes.
pub const MAX_SCRIPT_BYTES: usize = 256 << 10;

/// One rule file.
#[derive(Debug)]
pub struct ScriptFile {
    /// Its name without folder and ending; the first half of its rules' ids.
    pub stem: Arc<str>,
    /// Its text.
    pub source: Arc<Source>,
    /// What the `//!` lines say.
    pub about: String,
    /// The compiled script.
    pub ast: AST,
    /// Where it comes from.
    pub layer: String,
    /// Whether it holds helpers only.
    pub lib: bool,
}

/// Which way a measure is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// The more the better.
    More,
    /// The less the better.
    Less,
}

/// A rule, or a measure when it has a unit.
#[derive(Debug, Clone)]
pub struct Rule {
    /// `file.function`.
    pub id: Arc<str>,
    /// Its file's stem.
    pub file: Arc<str>,
    /// Its function.
    pub function: String,
    /// First line of the doc comment.
    pub title: Arc<str>,
    /// The rest of the doc comment.
    pub why: String,
    /// Where the knowledge comes from.
    pub basis: String,
    /// What would clear it.
    pub remedy: String,
    /// The unit of a measure; none for a rule.
    pub unit: Option<Arc<str>>,
    /// Whether more of a measure is better (`Better: more`), or less; none where neither is.
    pub better: Option<Better>,
    /// Levels its text raises, worst first.
    pub levels: Vec<Level>,
    /// Its file.
    pub file_at: u16,
    /// Where its name stands.
    pub span: Span,
    /// Where its body ends.
    pub end: usize,
    /// Where it comes from.
    pub layer: String,
    /// What it names and nobody knows: such a rule does not run.
    pub flaw: Option<Box<Problem>>,
    /// Whether the shop switched it off.
    pub off: bool,
    /// The level that the shop's settings give its findings, if they do.
    pub counts_as: Option<Level>,
}

/// Everything loaded from the rule folders.
#[derive(Debug, Default)]
pub struct RuleSet {
    /// Rule files, and lib files after them.
    pub files: Vec<ScriptFile>,
    /// Rules and measures in order of id.
    pub rules: Vec<Rule>,
    by_id: HashMap<Arc<str>, u16>,
    /// Files that could not be read as rules, and why.
    pub broken: Vec<Problem>,
    /// What is odd and still runs.
    pub warnings: Vec<Problem>,
}

impl RuleSet {
    /// A rule's place by its id.
    pub fn find(&self, id: &str) -> Option<u16> {
        self.by_id.get(id).copied()
    }

    /// A rule by its id.
    pub fn rule(&self, id: &str) -> Option<&Rule> {
        self.find(id).and_then(|at| self.rules.get(at as usize))
    }

    /// Compiles the rule files of all layers: a later layer's file replaces one of the same name.
    pub(crate) fn load(layers: &[Layer], engine: &mut Engine, host: &Host) -> Self {
        let mut set = Self::default();
        let mut chosen: Vec<(&str, &Arc<Source>, &str)> = Vec::new();
        for layer in Layer::in_force(layers) {
            for (below, source) in layer.files.iter().filter(|(below, _)| below.ends_with(".rhai"))
            {
                chosen.retain(|(b, ..)| *b != below);
                chosen.push((below, source, &layer.label));
            }
        }
        chosen.sort_by(|a, b| (a.0.starts_with("lib/"), a.0).cmp(&(b.0.starts_with("lib/"), b.0)));
        for (at, (_, source, _)) in chosen.iter().enumerate() {
            host.files
                .borrow_mut()
                .insert(source.name.clone(), u16::try_from(at).unwrap_or(u16::MAX));
        }
        set.libraries(&chosen, engine, host);
        for (below, source, layer) in &chosen {
            let stem = stem(below);
            let ast = compile(engine, host, source, stem, true).unwrap_or_else(|mut problem| {
                helper_meant(&mut problem, &chosen);
                set.broken.push(*problem);
                // An empty script keeps the places of files in step with their names.
                AST::empty()
            });
            set.files.push(ScriptFile {
                stem: stem.into(),
                source: (*source).clone(),
                about: about(&source.text),
                ast,
                layer: (*layer).to_owned(),
                lib: below.starts_with("lib/"),
            });
        }
        set.rules(&chosen);
        set
    }

    /// Files that can't be read, and rules that name what nobody knows.
    pub fn problems(&self) -> impl Iterator<Item = &Problem> {
        self.broken.iter().chain(self.rules.iter().filter_map(|r| r.flaw.as_deref()))
    }

    /// Looks every script through for names that nobody knows and for comparisons that cannot be
    /// meant.
    pub(crate) fn check(&mut self, engine: &Engine, catalogue: &Catalogue, settings: &Settings) {
        let mut found = Vec::new();
        let mut warnings = Vec::new();
        let circles;
        {
            let outlines: Vec<Outline<'_>> =
                self.files.iter().map(|f| Outline::read(&f.source.text)).collect();
            let libs: Vec<_> = self.files.iter().zip(&outlines).filter(|(f, _)| f.lib).collect();
            circles = call_cycles::circles(&libs);
            let names = Known::new(engine, catalogue, settings, self, libs.iter().map(|(_, o)| *o));
            let units = Units::new(catalogue, settings, self);
            for ((file, outline), at) in self.files.iter().zip(&outlines).zip(0u16..) {
                // A file that can't be compiled has said what is wrong with it already.
                if file.ast.iter_functions().next().is_some() {
                    found.extend(names.check(file, outline).into_iter().map(|p| (at, p)));
                    warnings.extend(units.check(file, outline));
                }
            }
        }
        self.warnings = warnings;
        self.broken.extend(circles);
        for (at, problem) in found {
            let start = problem.labels.first().map_or(0, |l| l.span.start());
            match self
                .rules
                .iter_mut()
                .find(|r| r.file_at == at && (r.span.start()..r.end).contains(&start))
            {
                Some(rule) => rule.add_flaw(problem),
                None => self.broken.push(problem),
            }
        }
    }

    /// Lib files may call one another, so they are all known by name before any is read strictly.
    fn libraries(
        &mut self,
        chosen: &[(&str, &Arc<Source>, &str)],
        engine: &mut Engine,
        host: &Host,
    ) {
        for (below, source, _) in chosen.iter().filter(|(below, ..)| below.starts_with("lib/")) {
            // What fails here fails again below, where it is said.
            let Ok(ast) = compile(engine, host, source, stem(below), false) else { continue };
            host.start();
            match Module::eval_ast_as_new(Scope::new(), &ast, engine) {
                Ok(module) => {
                    engine.register_static_module(stem(below), module.into());
                }
                Err(error) => self.broken.push(errors::load_problem(source, &error)),
            }
        }
    }

    fn rules(&mut self, chosen: &[(&str, &Arc<Source>, &str)]) {
        let mut rules = Vec::new();
        for ((file, (below, ..)), at) in self.files.iter().zip(chosen).zip(0u16..) {
            if below.starts_with("lib/") {
                continue;
            }
            if below.contains('/') {
                self.broken.push(
                    Problem::new(format!("{} is in a folder of its own", file.source.name)).help(
                        "rule files stand in the rules folder itself, shared helpers in lib/",
                    ),
                );
                continue;
            }
            for function in file
                .ast
                .iter_functions()
                .filter(|f| f.access == FnAccess::Public && !f.name.starts_with("anon$"))
            {
                match rule(file, at, function.name, function.params.len(), &function.comments) {
                    Ok(rule) => rules.push(rule),
                    Err(problem) => self.broken.push(*problem),
                }
            }
        }
        rules.sort_by(|a: &Rule, b: &Rule| a.id.cmp(&b.id));
        self.by_id = rules.iter().zip(0u16..).map(|(r, at)| (r.id.clone(), at)).collect();
        self.rules = rules;
    }
}

impl Names for RuleSet {
    fn measure(&self, at: u16) -> Option<(&str, &str)> {
        self.rules.get(at as usize).map(|r| (&*r.id, r.unit.as_deref().unwrap_or("")))
    }
}

impl Rule {
    fn add_flaw(&mut self, mut problem: Problem) {
        match &mut self.flaw {
            Some(flaw) => {
                let said = format!(
                    "{}{}",
                    problem.message,
                    problem.help.map_or_else(String::new, |h| format!(": {h}"))
                );
                flaw.labels
                    .extend(problem.labels.into_iter().map(|l| Label { text: said.clone(), ..l }));
            }
            None => {
                problem.message = format!("rule {} is broken: {}", self.id, problem.message);
                self.flaw = Some(Box::new(problem));
            }
        }
    }
}

/// Names the helper file that a script most likely meant by one that is not there.
fn helper_meant(problem: &mut Problem, chosen: &[(&str, &Arc<Source>, &str)]) {
    let word = problem
        .labels
        .first()
        .filter(|l| l.text.starts_with("there is no helper file"))
        .map(|l| l.source.slice(l.span));
    let libs = chosen
        .iter()
        .filter(|(below, ..)| below.starts_with("lib/"))
        .map(|(below, ..)| stem(below));
    if let Some((word, near)) = word.and_then(|w| nearest(w, libs).map(|n| (w, n))) {
        problem.help = Some(if near == word {
            format!("rules/lib/{near}.rhai is there, but cannot be read itself")
        } else {
            format!("did you mean `{near}`?")
        });
    }
}

fn about(text: &str) -> String {
    text.lines()
        .filter_map(|l| l.strip_prefix("//!"))
        .map(str::trim)
        .collect::<Vec<_>>()
        .join(" ")
        .trim()
        .to_owned()
}

fn stem(below: &str) -> &str {
    below.strip_prefix("lib/").unwrap_or(below).trim_end_matches(".rhai")
}

fn compile(
    engine: &mut Engine,
    host: &Host,
    source: &Arc<Source>,
    stem: &str,
    strict: bool,
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
        let problem = Problem::new(format!("{} cannot be read as a rule file", source.name)).at(
            source,
            open,
            "nothing closes this comment",
        );
        return Err(Box::new(problem.help(
            "everything after it would be left out: write `*/` where \
         it ends, or `//` before each of its lines",
        )));
    }
    let mut scope = Scope::new();
    if source.text.contains("const ") {
        // Constants of a file are invisible inside its functions unless they are known when it is
        // compiled: run it once to know them.
        engine.set_strict_variables(false);
        let first = engine.compile(&source.text);
        engine.set_strict_variables(true);
        let mut first = first.map_err(|e| Box::new(errors::syntax(source, &e)))?;
        first.set_source(source.name.as_str());
        host.start();
        engine
            .run_ast_with_scope(&mut scope, &first)
            .map_err(|e| Box::new(errors::load_problem(source, &e)))?;
    }
    engine.set_strict_variables(strict);
    let ast = engine.compile_with_scope(&scope, &source.text);
    engine.set_strict_variables(true);
    let mut ast = ast.map_err(|e| Box::new(errors::syntax(source, &e)))?;
    ast.set_source(source.name.as_str());
    Ok(ast)
}

fn rule(
    file: &ScriptFile,
    file_at: u16,
    name: &str,
    params: usize,
    comments: &[&str],
) -> Result<Rule, Box<Problem>> {
    let span = find_function(&file.source.text, name);
    let problem = |message: String, help: &str| {
        Box::new(Problem::new(message).at(&file.source, span, "here").help(help))
    };
    if params != 1 {
        return Err(problem(
            format!("`{name}` takes {params} arguments, and a rule takes one, the build"),
            "write `private fn` before a helper",
        ));
    }
    let doc = Doc::read(comments);
    if doc.title.is_empty() {
        return Err(problem(
            format!("`{name}` is public and has no doc comment, so it is no rule"),
            "write `/// What it checks.` above it, or `private fn` for a helper",
        ));
    }
    let better = match doc.better.as_deref() {
        None => None,
        Some("more") => Some(Better::More),
        Some("less") => Some(Better::Less),
        Some(_) => {
            return Err(problem(
                format!("`{name}` says `Better:` and neither more nor less after it"),
                "write `Better: more` or `Better: less`",
            ));
        }
    };
    let end = body_end(&file.source.text, span.end());
    let body = file.source.text.get(span.start()..end).unwrap_or("");
    let levels = [("stop(", Level::Stop), ("caution(", Level::Caution), ("advice(", Level::Advice)]
        .iter()
        .filter(|(call, _)| body.contains(call))
        .map(|(_, l)| *l)
        .collect();
    Ok(Rule {
        id: format!("{}.{name}", file.stem).into(),
        file: file.stem.clone(),
        function: name.to_owned(),
        title: doc.title.into(),
        why: doc.why,
        basis: doc.basis,
        remedy: doc.remedy,
        unit: doc.unit.map(Into::into),
        better,
        levels,
        file_at,
        span,
        end,
        layer: file.layer.clone(),
        flaw: None,
        off: false,
        counts_as: None,
    })
}

fn find_function(text: &str, name: &str) -> Span {
    let mut from = 0;
    while let Some(at) = text.get(from..).and_then(|rest| rest.find("fn ")).map(|at| at + from) {
        let rest = text.get(at + 3..).unwrap_or("");
        let start = at + 3 + (rest.len() - rest.trim_start().len());
        if text.get(start..).is_some_and(|t| {
            t.strip_prefix(name).is_some_and(|after| after.trim_start().starts_with('('))
        }) {
            return Span::new(start, start + name.len());
        }
        from = at + 3;
    }
    Span::default()
}

/// Where the function's text ends: before the doc comment or head of the next.
fn body_end(text: &str, from: usize) -> usize {
    let rest = text.get(from..).unwrap_or("");
    let next = ["\n///", "\nfn ", "\nprivate fn "].iter().filter_map(|mark| rest.find(mark)).min();
    from + next.unwrap_or(rest.len())
}

/// A doc comment, taken apart.
#[derive(Debug, Default)]
struct Doc {
    title: String,
    why: String,
    basis: String,
    remedy: String,
    unit: Option<String>,
    better: Option<String>,
}

impl Doc {
    fn read(comments: &[&str]) -> Self {
        let mut doc = Self::default();
        let mut part = "";
        for line in
            comments.iter().flat_map(|c| c.lines()).map(|l| l.trim().trim_start_matches('/').trim())
        {
            let text = if let Some(rest) = line.strip_prefix("Basis:") {
                part = "basis";
                rest.trim()
            } else if let Some(rest) = line.strip_prefix("Remedy:") {
                part = "remedy";
                rest.trim()
            } else if let Some(rest) = line.strip_prefix("Unit:") {
                doc.unit = Some(rest.trim().to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Better:") {
                doc.better = Some(rest.trim().trim_end_matches('.').to_owned());
                part = "why";
                continue;
            } else {
                line
            };
            let into = match part {
                "basis" => &mut doc.basis,
                "remedy" => &mut doc.remedy,
                "why" => &mut doc.why,
                _ if text.is_empty() => continue,
                _ => {
                    part = "why";
                    &mut doc.title
                }
            };
            if !into.is_empty() && !text.is_empty() {
                into.push(' ');
            }
            into.push_str(text);
        }
        doc
    }
}

/// The level of optimisation that folds constants and runs no host function at compile time.
pub(crate) const OPTIMIZE: OptimizationLevel = OptimizationLevel::Simple;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doc_comments_come_apart() {
        let doc = Doc::read(&[
            "/// Title here.\n/// More of it.\n/// Unit: W\n/// Basis: a source,\n/// second \
             line.\n/// Remedy: do this.",
        ]);
        assert_eq!(doc.title, "Title here.");
        assert_eq!(doc.why, "More of it.");
        assert_eq!(doc.unit.as_deref(), Some("W"));
        assert_eq!(doc.basis, "a source, second line.");
        assert_eq!(doc.remedy, "do this.");
    }
}
