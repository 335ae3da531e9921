//! Rule files: which functions are rules and measures, and what their doc comments say.

use std::collections::HashMap;
use std::fmt;
use std::sync::Arc;

use rhai::{AST, Engine, FnAccess, Module, OptimizationLevel, Scope};

use crate::audit::wording::Names;
use crate::catalogue::Catalogue;
use crate::layer::{Layer, without_ending};
use crate::level::Level;
use crate::rules::check_names::Names as Known;
use crate::rules::check_units::Units;
use crate::rules::errors::{self, SYNTAX};
use crate::rules::host::Host;
use crate::rules::outline::Outline;
use crate::rules::{call_cycles, raises, tokens};
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
    /// The place of its layer, the lowest first.
    pub depth: usize,
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
    /// Whether it takes no fact to be what it commonly is (`Assume: never`): where being wrong
    /// can hurt somebody.
    pub assumes_nothing: bool,
    /// Whether its advice is for the sheet alone (`Shown: on the sheet`), and no audit's report.
    pub on_sheet: bool,
    /// Its place in the order of work at the bench (`Step: 20`); none for what judges a build.
    pub step: Option<u32>,
    /// Whose leaf its advice stands on (`For: office`); none for everyone's.
    pub audience: Option<String>,
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
    /// The rule of a lower layer whose place it takes.
    pub over: Option<Over>,
    /// What it names and nobody knows: such a rule does not run.
    pub flaw: Option<Box<Problem>>,
    /// Whether the shop switched it off.
    pub off: bool,
    /// The level that the shop's settings give its findings, if they do.
    pub counts_as: Option<Level>,
}

/// A rule of a lower layer that another of the same id took the place of.
#[derive(Debug, Clone)]
pub struct Over {
    /// Where it comes from.
    pub layer: String,
    /// Its file.
    pub file: u16,
    /// Where its name stands.
    pub place: Span,
}

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

/// A rule that gives no verdict, and why; or a file that cannot be read as rules.
#[derive(Debug, Clone)]
pub struct BrokenRule {
    /// The rule's id; none for a file.
    pub rule: Option<Arc<str>>,
    /// What is wrong, and where.
    pub problem: Problem,
}

impl BrokenRule {
    pub(crate) fn new(rule: &Rule, problem: &Problem) -> Self {
        Self { rule: Some(rule.id.clone()), problem: problem.clone() }
    }

    /// The problem, with the rule named in its message.
    pub fn told(&self) -> Problem {
        let mut problem = self.problem.clone();
        if let Some(rule) = &self.rule {
            problem.message = format!("rule {rule} is broken: {}", problem.message);
        }
        problem
    }
}

impl fmt::Display for BrokenRule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.told().fmt(f)
    }
}

impl From<Problem> for BrokenRule {
    fn from(problem: Problem) -> Self {
        Self { rule: None, problem }
    }
}

/// Everything loaded from the rule folders.
#[derive(Debug, Default)]
pub struct RuleSet {
    /// Rule files, and lib files after them.
    pub files: Vec<ScriptFile>,
    /// Rules and measures in order of id.
    pub rules: Vec<Rule>,
    by_id: HashMap<Arc<str>, u16>,
    /// Whole files that a layer took the place of.
    pub taken: Vec<Taken>,
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

    /// Compiles the rule files of all layers. A layer's file adds its rules to those of the layers
    /// below; a rule of the same id takes the lower one's place.
    pub(crate) fn load(layers: &[Layer], engine: &mut Engine, host: &Host) -> Self {
        let mut set = Self { broken: Layer::replaces_nothing(layers), ..Self::default() };
        set.taken = taken(layers);
        let mut chosen: Vec<Chosen<'_>> = Layer::files_in_force(layers)
            .filter(|(_, below, _)| below.ends_with(".rhai"))
            .map(|(depth, below, source)| Chosen {
                below,
                source,
                layer: layers.get(depth).map_or("", |l| &l.label),
                depth,
            })
            .collect();
        // Lower layers first within a name, so that what comes later counts.
        chosen.sort_by(|a, b| (a.lib(), a.below, a.depth).cmp(&(b.lib(), b.below, b.depth)));
        set.libraries(&chosen, engine, host);
        for (file, at) in chosen.iter().zip(0u16..) {
            let ast = compile(engine, host, file.source, file.stem(), Some(at)).unwrap_or_else(
                |mut problem| {
                    helper_meant(&mut problem, &chosen);
                    set.broken.push(*problem);
                    // An empty script keeps the places of files in step with their names.
                    AST::empty()
                },
            );
            set.files.push(ScriptFile {
                stem: file.stem().into(),
                source: file.source.clone(),
                about: about(&file.source.text),
                ast,
                layer: file.layer.to_owned(),
                depth: file.depth,
                lib: file.lib(),
            });
        }
        set.doubled_helpers();
        set.rules(&chosen);
        set
    }

    /// Files that can't be read, and rules that name what nobody knows.
    pub(crate) fn broken_rules(&self) -> impl Iterator<Item = BrokenRule> {
        let flawed = |r: &Rule| r.flaw.as_ref().map(|flaw| BrokenRule::new(r, flaw));
        self.broken
            .iter()
            .cloned()
            .map(BrokenRule::from)
            .chain(self.rules.iter().filter_map(flawed))
    }

    /// The same in words.
    pub fn problems(&self) -> impl Iterator<Item = Problem> {
        self.broken_rules().map(|broken| broken.told())
    }

    /// Looks every script through for names that nobody knows and for comparisons that cannot be
    /// meant.
    pub(crate) fn check(&mut self, engine: &Engine, catalogue: &Catalogue, settings: &Settings) {
        let mut found = Vec::new();
        let mut warnings = Vec::new();
        let mut valued = Vec::new();
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
            let all: Vec<_> = self.files.iter().map(|f| &*f.stem).zip(&outlines).collect();
            for rule in &mut self.rules {
                rule.levels = raises::levels(&all, rule.file_at as usize, &rule.function);
                let outline = all.get(rule.file_at as usize).map(|(_, outline)| *outline);
                let file = self.files.get(rule.file_at as usize);
                found.extend(file.zip(outline).and_then(|(file, outline)| {
                    Some((rule.file_at, misused_step(rule, file, outline)?))
                }));
                if rule.unit.is_none()
                    && rule.step.is_none()
                    && rule.levels.is_empty()
                    && outline.is_some_and(|o| raises::only_gives_a_value(o, &rule.function))
                {
                    valued.push(rule.id.clone());
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
        // What a broken rule raises cannot be told.
        for rule in self.rules.iter_mut().filter(|r| r.flaw.is_none() && valued.contains(&r.id)) {
            let Some(file) = self.files.get(rule.file_at as usize) else { continue };
            let name = &rule.function;
            let problem = Problem::new(format!("`{name}` gives a value and raises no finding"))
                .code("rule-without-finding")
                .at(&file.source, rule.span, "a rule, as it has no `Unit:` line");
            rule.add_flaw(problem.help(
                "raise stop(…), caution(…) or advice(…) where it finds something, or give a \
                 measure its `Unit:` line",
            ));
        }
    }

    /// Lib files may call one another, so they are all known by name before any is read strictly.
    /// What layers say in files of one name is one library.
    fn libraries(&mut self, chosen: &[Chosen<'_>], engine: &mut Engine, host: &Host) {
        let mut modules: Vec<(&str, Module)> = Vec::new();
        for (file, at) in chosen.iter().zip(0u16..).filter(|(file, _)| file.lib()) {
            // What fails here fails again below, where it is said.
            let Ok(mut ast) = compile(engine, host, file.source, file.stem(), None) else {
                continue;
            };
            ast.set_source(key(at));
            host.start();
            match Module::eval_ast_as_new(Scope::new(), &ast, engine) {
                Ok(module) => match modules.iter_mut().find(|(stem, _)| *stem == file.stem()) {
                    Some((_, held)) => {
                        held.combine(module);
                    }
                    None => modules.push((file.stem(), module)),
                },
                Err(error) => self.broken.push(errors::load_problem(file.source, &error)),
            }
        }
        for (stem, mut module) in modules {
            module.build_index();
            engine.register_static_module(stem, module.into());
        }
    }

    /// A helper of a layer below may not be changed in silence under the rules that call it.
    fn doubled_helpers(&mut self) {
        let libs: Vec<&ScriptFile> = self.files.iter().filter(|f| f.lib).collect();
        let public = |file: &ScriptFile| -> Vec<(String, usize)> {
            let all = file.ast.iter_functions().filter(|f| f.access == FnAccess::Public);
            all.map(|f| (f.name.to_owned(), f.params.len())).collect()
        };
        for (at, file) in libs.iter().enumerate() {
            let own = public(file);
            for lower in libs.iter().take(at).filter(|l| l.stem == file.stem) {
                for (name, _) in public(lower).iter().filter(|f| own.contains(f)) {
                    let span = |f: &ScriptFile| Outline::read(&f.source.text).place(name).0;
                    self.broken.push(
                        Problem::new(format!(
                            "`{}::{name}` is a helper of the layer below already",
                            file.stem
                        ))
                        .at(&file.source, span(file), "here again")
                        .at(&lower.source, span(lower), "its rules call this one")
                        .help(format!(
                            "give it another name, or take the whole file's place in dryfit.toml: \
                             replaces = [\"lib/{}\"]",
                            file.stem
                        )),
                    );
                }
            }
        }
    }

    fn rules(&mut self, chosen: &[Chosen<'_>]) {
        let mut rules: Vec<Rule> = Vec::new();
        for ((file, chosen), at) in self.files.iter().zip(chosen).zip(0u16..) {
            if file.lib {
                continue;
            }
            if chosen.below.contains('/') {
                self.broken.push(
                    Problem::new(format!("{} is in a folder of its own", file.source.name)).help(
                        "rule files stand in the rules folder itself, shared helpers in lib/",
                    ),
                );
                continue;
            }
            let outline = Outline::read(&file.source.text);
            for function in file
                .ast
                .iter_functions()
                .filter(|f| f.access == FnAccess::Public && !f.name.starts_with("anon$"))
            {
                let params = function.params.len();
                match rule(file, at, &outline, function.name, params, &function.comments) {
                    Ok(rule) => rules.push(rule),
                    Err(problem) => self.broken.push(*problem),
                }
            }
        }
        // Files come with the lower layer first, and so do rules of one id.
        rules.sort_by(|a: &Rule, b: &Rule| a.id.cmp(&b.id));
        let mut kept: Vec<Rule> = Vec::with_capacity(rules.len());
        for mut rule in rules {
            if let Some(lower) = kept.pop_if(|lower| lower.id == rule.id) {
                rule.over =
                    Some(Over { layer: lower.layer, place: lower.span, file: lower.file_at });
            }
            kept.push(rule);
        }
        self.by_id = kept.iter().zip(0u16..).map(|(r, at)| (r.id.clone(), at)).collect();
        self.rules = kept;
    }

    /// Rules of layers over the lowest, in order of id.
    pub fn added(&self) -> impl Iterator<Item = &Rule> {
        let lowest = self.files.iter().map(|f| f.depth).min().unwrap_or(0);
        let depth = |rule: &Rule| self.files.get(rule.file_at as usize).map_or(0, |f| f.depth);
        self.rules.iter().filter(move |rule| depth(rule) > lowest)
    }
}

/// A rule file that counts.
struct Chosen<'l> {
    below: &'l str,
    source: &'l Arc<Source>,
    layer: &'l str,
    depth: usize,
}

impl<'l> Chosen<'l> {
    fn lib(&self) -> bool {
        self.below.starts_with("lib/")
    }

    fn stem(&self) -> &'l str {
        stem(self.below)
    }
}

/// Whole rule files that a layer takes the place of.
fn taken(layers: &[Layer]) -> Vec<Taken> {
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

/// What the engine knows a file by: names may be the same in two layers.
fn key(at: u16) -> String {
    at.to_string()
}

impl Names for RuleSet {
    fn measure(&self, at: u16) -> Option<(&str, &str)> {
        self.rules.get(at as usize).map(|r| (&*r.id, r.unit.as_deref().unwrap_or("")))
    }
}

impl Rule {
    fn add_flaw(&mut self, problem: Problem) {
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
            None => self.flaw = Some(Box::new(problem)),
        }
    }
}

/// What is wrong where a step of the work judges, or a rule says what to do and not when.
fn misused_step(rule: &Rule, file: &ScriptFile, outline: &Outline<'_>) -> Option<Problem> {
    let function = outline.functions.iter().find(|f| f.name == rule.function)?;
    let says = function
        .tokens
        .clone()
        .any(|at| outline.tokens.get(at).is_some_and(|t| t.word("step")) && outline.is(at, 1, "("));
    let (message, help) = if rule.step.is_some() && (!rule.levels.is_empty() || rule.unit.is_some())
    {
        (
            "a step of the work judges and measures nothing",
            "say what to do with `step(\"…\", #{ … })`, or take its `Step:` out",
        )
    } else if rule.step.is_none() && says {
        (
            "`step` says what to do, and nothing says when",
            "write `/// Step: 20` above the function: its place in the order of work",
        )
    } else {
        return None;
    };
    Some(Problem::new(message).at(&file.source, rule.span, "here").help(help))
}

/// Names the helper file that a script most likely meant by one that is not there.
fn helper_meant(problem: &mut Problem, chosen: &[Chosen<'_>]) {
    let word = problem
        .labels
        .first()
        .filter(|l| l.text.starts_with("there is no helper file"))
        .map(|l| l.source.slice(l.span));
    let libs = chosen.iter().filter(|file| file.lib()).map(Chosen::stem);
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

/// Compiles a file; strictly where its place among the files is given, which it is then known by.
fn compile(
    engine: &mut Engine,
    host: &Host,
    source: &Arc<Source>,
    stem: &str,
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
    if let Some(call) = tokens::long_call(&source.text) {
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

fn rule(
    file: &ScriptFile,
    file_at: u16,
    outline: &Outline<'_>,
    name: &str,
    params: usize,
    comments: &[&str],
) -> Result<Rule, Box<Problem>> {
    let (span, end) = outline.place(name);
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
    if let Some(head) = doc.empty_head() {
        return Err(problem(
            format!("`{name}` says `{head}:` and nothing after it"),
            "write what belongs there, such as `Unit: W`, or take the line out",
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
    let assumes_nothing = match doc.assume.as_deref() {
        None => false,
        Some("never") => true,
        Some(_) => {
            return Err(problem(
                format!("`{name}` says `Assume:` and not `never` after it"),
                "write `Assume: never`, or leave it out",
            ));
        }
    };
    let step = match doc.step.as_deref().map(str::parse) {
        None => None,
        Some(Ok(order)) => Some(order),
        Some(Err(_)) => {
            return Err(problem(
                format!("`{name}` says `Step:` and no whole number after it"),
                "write the step's place in the order of work, such as `Step: 20`",
            ));
        }
    };
    if let Some(other) = doc.audience.as_deref().filter(|a| *a != "office") {
        return Err(problem(
            format!("`{name}` says `For: {other}`, and there is no such leaf of its own"),
            "write `For: office`, or leave it out where everyone should see it",
        ));
    }
    Ok(Rule {
        id: format!("{}.{name}", file.stem).into(),
        file: file.stem.clone(),
        function: name.to_owned(),
        title: doc.title.into(),
        why: doc.why,
        basis: doc.basis,
        remedy: doc.remedy,
        on_sheet: doc.on_sheet,
        unit: doc.unit.map(Into::into),
        better,
        assumes_nothing,
        step,
        audience: doc.audience,
        levels: Vec::new(),
        file_at,
        span,
        end,
        layer: file.layer.clone(),
        over: None,
        flaw: None,
        off: false,
        counts_as: None,
    })
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
    assume: Option<String>,
    /// The heads that it has, in order.
    heads: Vec<&'static str>,
    on_sheet: bool,
    step: Option<String>,
    audience: Option<String>,
}

impl Doc {
    /// The first head that nothing follows.
    fn empty_head(&self) -> Option<&'static str> {
        let text = |head: &str| match head {
            "Unit" => self.unit.as_deref().unwrap_or(""),
            "Basis" => &self.basis,
            "Remedy" => &self.remedy,
            "Assume" => self.assume.as_deref().unwrap_or(""),
            "Step" => self.step.as_deref().unwrap_or(""),
            "For" => self.audience.as_deref().unwrap_or(""),
            _ => self.better.as_deref().unwrap_or(""),
        };
        self.heads.iter().copied().find(|head| text(head).is_empty())
    }

    fn read(comments: &[&str]) -> Self {
        let mut doc = Self::default();
        let mut part = "";
        for line in
            comments.iter().flat_map(|c| c.lines()).map(|l| l.trim().trim_start_matches('/').trim())
        {
            let heads = ["Unit", "Basis", "Remedy", "Better", "Assume", "Step", "For"];
            let after = |h: &&&str| line.strip_prefix(**h).is_some_and(|r| r.starts_with(':'));
            doc.heads.extend(heads.iter().find(after));
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
            } else if let Some(rest) = line.strip_prefix("Shown:") {
                doc.on_sheet = rest.trim().trim_end_matches('.') == "on the sheet";
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("For:") {
                doc.audience = Some(rest.trim().trim_end_matches('.').to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Step:") {
                doc.step = Some(rest.trim().to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Better:") {
                doc.better = Some(rest.trim().trim_end_matches('.').to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Assume:") {
                doc.assume = Some(rest.trim().trim_end_matches('.').to_owned());
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
