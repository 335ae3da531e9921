//! Rule files: which count, and which of their functions are rules and measures.

use std::cell::LazyCell;
use std::collections::{BTreeSet, HashMap};
use std::fmt;
use std::sync::Arc;

use rhai::{AST, Engine, FnAccess, Module, Scope};

use crate::audit::wording::Names;
use crate::catalogue::kinds::Kind;
use crate::layer::Layer;
use crate::level::Level;
use crate::rules::chosen::{Chosen, Taken, chosen, taken};
use crate::rules::compile::key;
use crate::rules::doc_comments;
use crate::rules::errors;
use crate::rules::host::Host;
use crate::rules::measure_names;
use crate::rules::outline::Outline;
use crate::rules::scripts::Scripts;
use crate::source::{Problem, Source, Span};
use crate::words::nearest;

/// One rule file.
#[derive(Debug)]
pub struct ScriptFile {
    /// Its name without folder and ending; the first half of its rules' ids.
    pub stem: Arc<str>,
    /// Its text.
    pub source: Arc<Source>,
    /// What the `//!` lines say.
    pub about: String,
    /// Tags of all its rules.
    pub tags: Vec<String>,
    /// The compiled script.
    pub ast: AST,
    /// Where it comes from.
    pub layer: String,
    /// The place of its layer, the lowest first.
    pub depth: usize,
    /// Whether it holds helpers only.
    pub lib: bool,
    /// Whether its text is one that the program carries.
    pub carried: bool,
}

/// A file's outline, read when it is first looked at.
pub(crate) type LazyOutline<'l> = LazyCell<Outline<'l>, Box<dyn FnOnce() -> Outline<'l> + 'l>>;

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
    /// What reports call a measure (`Name: spare watts`): its function's words where nothing else
    /// is said, its id where another measure has the same name.
    pub name: Arc<str>,
    /// The rest of the doc comment.
    pub why: String,
    /// Where the knowledge comes from.
    pub basis: String,
    /// What would clear it.
    pub remedy: String,
    /// What a customer is offered who does not take it as it is; empty where another part is meant.
    pub offer: String,
    /// The unit of a measure; none for a rule.
    pub unit: Option<Arc<str>>,
    /// Whether more of a measure is better (`Better: more`), or less; none where neither is.
    pub better: Option<Better>,
    /// Whether it takes no fact to be what it commonly is (`Assume: never`): where being wrong
    /// can hurt somebody.
    pub assumes_nothing: bool,
    /// Whether its advice is for the sheet alone (`Shown: on the sheet`), and no audit's report.
    pub on_sheet: bool,
    /// Whether a measure is a row where builds stand beside each other (`Shown: in comparisons`).
    pub compared: bool,
    /// Its place in the order of work at the bench (`Step: 20`); none for what judges a build.
    pub step: Option<u32>,
    /// Whose leaf its advice stands on (`For: office`); none for everyone's.
    pub audience: Option<String>,
    /// What it may be chosen by besides its id (`Tags: electrical`), in order.
    pub tags: Vec<String>,
    /// The version that brought it in (`Since: 1.2`).
    pub since: Option<String>,
    /// Why it is not to be relied on any more, and what to use instead (`Deprecated: …`).
    pub deprecated: Option<String>,
    /// Its file.
    pub file_at: u16,
    /// Where it comes from.
    pub layer: String,
    /// The layer of the rule of the same id whose place it takes.
    pub over: Option<String>,
    /// What is read off its file when it is asked for.
    pub(super) scripts: Arc<Scripts>,
    /// What it names and nobody knows: such a rule does not run.
    pub flaw: Option<Box<Problem>>,
    /// Whether the shop switched it off.
    pub off: bool,
    /// The level that the shop's settings give its findings, if they do.
    pub counts_as: Option<Level>,
}

impl Rule {
    /// Levels its text raises, worst first.
    pub fn levels(&self) -> &[Level] {
        self.scripts.levels(self.file_at, &self.function)
    }

    /// Whether it names a kind, itself or through its helpers.
    pub fn names(&self, kind: &str) -> bool {
        let reach = self.scripts.reach(self.file_at, &self.function);
        reach.is_some_and(|reach| reach.named.contains(kind))
    }

    /// Whether it reads a field of a kind, itself or through its helpers: it names the kind, or
    /// none at all.
    pub fn reads(&self, kinds: &[Kind], kind: &Kind, field: &str) -> bool {
        self.scripts.reach(self.file_at, &self.function).is_some_and(|reach| {
            let named = |kind: &Kind| reach.named.contains(&*kind.name);
            reach.read.contains(field) && (named(kind) || !kinds.iter().any(named))
        })
    }

    /// Where its name stands.
    pub fn span(&self) -> Span {
        self.scripts.standing(self.file_at, &self.function).0
    }

    /// Where its body ends.
    pub fn end(&self) -> usize {
        self.scripts.standing(self.file_at, &self.function).1
    }

    /// What its comment says besides: tags, the version it came in with, what to use instead.
    #[cfg(feature = "app")]
    pub(crate) fn notes(&self) -> Vec<(&'static str, String)> {
        let tags = (!self.tags.is_empty()).then(|| ("Tags", self.tags.join(", ")));
        let since = self.since.clone().map(|since| ("Since", since));
        let gone = self.deprecated.clone().map(|instead| ("Deprecated", instead));
        tags.into_iter().chain(since).chain(gone).collect()
    }
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

    /// Every tag, in order.
    pub(crate) fn tags(&self) -> Vec<&str> {
        let all: BTreeSet<&str> =
            self.rules.iter().flat_map(|r| r.tags.iter().map(String::as_str)).collect();
        all.into_iter().collect()
    }

    /// Compiles the rule files of all layers. A layer's file adds its rules to those of the layers
    /// below; a rule of the same id takes the lower one's place. The outlines are of the files, in
    /// their order.
    pub(crate) fn load<'l>(
        layers: &'l [Layer],
        engine: &mut Engine,
        host: &Host,
    ) -> (Self, Vec<LazyOutline<'l>>) {
        let mut set = Self { broken: Layer::replaces_nothing(layers), ..Self::default() };
        set.taken = taken(layers);
        let chosen = chosen(layers);
        let outlines: Vec<LazyOutline<'l>> = (chosen.iter().map(|file| &file.source.text))
            .map(|text| LazyCell::new(Box::new(|| Outline::read(text)) as Box<_>))
            .collect();
        let mut libraries = set.libraries(&chosen, &outlines, engine, host);
        for ((file, outline), at) in chosen.iter().zip(&outlines).zip(0u16..) {
            let ast = match libraries.remove(&at) {
                Some(ast) => Ok(ast),
                None => file.compile(engine, host, outline, Some(at)),
            };
            let ast = ast.unwrap_or_else(|mut problem| {
                helper_meant(&mut problem, &chosen);
                set.broken.push(*problem);
                // An empty script keeps the places of files in step with their names.
                AST::empty()
            });
            let tags =
                doc_comments::tags_of_file(&file.source.text).unwrap_or_else(|(at, help)| {
                    let problem =
                        Problem::new("the tags of this file are no tags").code("rule-comment");
                    set.broken.push(problem.at(file.source, at, "here").help(help));
                    Vec::new()
                });
            set.files.push(ScriptFile {
                stem: file.stem().into(),
                source: file.source.clone(),
                about: about(&file.source.text),
                tags,
                ast,
                layer: file.layer.to_owned(),
                depth: file.depth,
                lib: file.lib(),
                carried: file.carried,
            });
        }
        set.doubled_helpers();
        set.rules(&chosen);
        (set, outlines)
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

    /// Lib files may call one another, so they are all known by name before any is read strictly.
    /// What layers say in files of one name is one library. What comes back is what need not be
    /// read again, by the file's place: the program's own files are known to read strictly.
    fn libraries(
        &mut self,
        chosen: &[Chosen<'_>],
        outlines: &[LazyOutline<'_>],
        engine: &mut Engine,
        host: &Host,
    ) -> HashMap<u16, AST> {
        let mut modules: Vec<(&str, Module)> = Vec::new();
        let mut known = HashMap::new();
        let files = chosen.iter().zip(outlines).zip(0u16..);
        for ((file, outline), at) in files.filter(|((file, _), _)| file.lib()) {
            // What fails here fails again below, where it is said.
            let Ok(mut ast) = file.compile(engine, host, outline, None) else { continue };
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
            if file.carried {
                known.insert(at, ast);
            }
        }
        for (stem, mut module) in modules {
            module.build_index();
            engine.register_static_module(stem, module.into());
        }
        known
    }

    /// A helper of a layer below may not be changed in silence under the rules that call it.
    fn doubled_helpers(&mut self) {
        let libs: Vec<&ScriptFile> = self.files.iter().filter(|f| f.lib).collect();
        let public = |file: &ScriptFile| -> Vec<(String, usize)> {
            let all = file.ast.iter_functions().filter(|f| f.access == FnAccess::Public);
            all.map(|f| (f.name.to_owned(), f.params.len())).collect()
        };
        for (at, file) in libs.iter().enumerate() {
            for lower in libs.iter().take(at).filter(|l| l.stem == file.stem) {
                let own = public(file);
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
        let scripts = self.files.iter().map(|file| (file.stem.clone(), file.source.clone()));
        let scripts = Arc::new(Scripts::new(scripts));
        for ((file, chosen), at) in self.files.iter().zip(chosen).zip(0..) {
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
            let mut wrong = Vec::new();
            for function in file
                .ast
                .iter_functions()
                .filter(|f| f.access == FnAccess::Public && !f.name.starts_with("anon$"))
            {
                let params = function.params.len();
                match doc_comments::rule(
                    file,
                    at,
                    &scripts,
                    function.name,
                    params,
                    &function.comments,
                ) {
                    Ok(rule) => rules.push(rule),
                    Err(problem) => wrong.push(*problem),
                }
            }
            // Functions come in no order of their own.
            wrong.sort_by_key(|p| p.labels.first().map_or(0, |l| l.span.start()));
            self.broken.append(&mut wrong);
        }
        // Files come with the lower layer first, and so do rules of one id.
        rules.sort_by(|a: &Rule, b: &Rule| a.id.cmp(&b.id));
        let mut kept: Vec<Rule> = Vec::with_capacity(rules.len());
        for mut rule in rules {
            if let Some(lower) = kept.pop_if(|lower| lower.id == rule.id) {
                rule.over = Some(lower.layer);
            }
            kept.push(rule);
        }
        measure_names::tell_apart(&mut kept);
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

impl Names for RuleSet {
    fn measure(&self, at: u16) -> Option<(&str, &str)> {
        self.rules.get(at as usize).map(|r| (&*r.id, r.unit.as_deref().unwrap_or("")))
    }
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
        .filter(|l| !l.starts_with(doc_comments::FILE_TAGS))
        .collect::<Vec<_>>()
        .join(" ")
        .trim()
        .to_owned()
}
