//! Names in a script that nothing answers to, found when it is loaded, so that a branch seldom
//! reached holds no surprise.

use std::collections::{BTreeSet, HashSet};
use std::sync::{Arc, OnceLock};

use rhai::{Engine, FnAccess};

use crate::audit::derived::DERIVED;
use crate::build::fields::BUILD_FIELDS;
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::FieldType;
use crate::rules::engine::{standard, word_names};
use crate::rules::line_names::{OTHER_BUILD_WORDS, build_names, line_names};
use crate::rules::loader::{RuleSet, ScriptFile};
use crate::rules::outline::Outline;
use crate::rules::tokens::{Kind, Token};
use crate::settings::Settings;
use crate::source::{Problem, Source};
use crate::words::{clip, is_one_of, nearest, some_of};

/// Keys of the maps that the host hands out.
const HOST_KEYS: &[&str] = &["placed", "unplaced", "spare", "lead", "header", "via", "gbps", "why"];
/// Names by which scripts elsewhere look beyond what they are given.
const OUTSIDE: &str = "timestamp now today sleep time env getenv open open_file read_file \
    read_string rand random rand_float http_get elapsed";
/// Words by which rules ask and answer, which no function of a file may stand in for.
const HOST_WORDS: &str = "stop caution advice measure setting table table_opt derived wiring at \
    opt has all count sum contains print debug";
/// Keywords that a bracket may follow.
const KEYWORDS: &str = "if else while until loop for in return let const fn private do is_def_var \
    is_def_fn type_of print debug Fn call this";

/// Names of functions and getters that every script has.
struct Standard {
    functions: HashSet<String>,
    getters: HashSet<String>,
}

static STANDARD: OnceLock<Standard> = OnceLock::new();
static FUNCTIONS: OnceLock<HashSet<String>> = OnceLock::new();

fn names_of(engine: &Engine) -> HashSet<String> {
    engine
        .collect_fn_metadata(None, |info| Some(info.metadata.name.to_string()), true)
        .into_iter()
        .collect()
}

fn the_standard() -> &'static Standard {
    STANDARD.get_or_init(|| {
        let all = names_of(&standard());
        let getters =
            all.iter().filter_map(|n| n.strip_prefix("get$")).map(str::to_owned).collect();
        Standard { functions: all, getters }
    })
}

/// What scripts may name.
pub(crate) struct Names<'a> {
    catalogue: &'a Catalogue,
    settings: &'a Settings,
    set: &'a RuleSet,
    functions: &'static HashSet<String>,
    properties: BTreeSet<&'a str>,
    fields: BTreeSet<&'a str>,
}

impl<'a> Names<'a> {
    /// Gathers them.
    pub(crate) fn new(
        engine: &Engine,
        catalogue: &'a Catalogue,
        settings: &'a Settings,
        set: &'a RuleSet,
        libs: impl Iterator<Item = &'a Outline<'a>>,
    ) -> Self {
        // Functions do not depend on the catalogue; what does are getters, which are gathered
        // below.
        let functions = FUNCTIONS
            .get_or_init(|| names_of(engine).into_iter().filter(|n| !n.contains('$')).collect());
        let mut fields: BTreeSet<&str> = catalogue.kinds.iter().flat_map(line_names).collect();
        for field in catalogue.kinds.iter().flat_map(|k| &k.fields) {
            if let FieldType::Records(subs) = &field.ty {
                fields.extend(subs.iter().map(|s| &*s.name));
            }
        }
        fields.extend(BUILD_FIELDS.iter().map(|f| f.name).chain(OTHER_BUILD_WORDS.iter().copied()));
        let mut properties = fields.clone();
        properties.extend(build_names(catalogue));
        properties.extend(HOST_KEYS);
        // A helper may hand out a map, whose keys its callers then name.
        libs.for_each(|lib| properties.extend(lib.own.iter().copied()));
        Self { catalogue, settings, set, functions, properties, fields }
    }

    /// Everything that a script names and nobody knows.
    pub(crate) fn check(&self, file: &ScriptFile, outline: &Outline<'_>) -> Vec<Problem> {
        let mut checked = Check { names: self, file, outline, problems: Vec::new() };
        checked.own_words();
        for (at, token) in outline.tokens.iter().enumerate().filter(|(_, t)| t.kind == Kind::Name) {
            let called = outline.is(at, 1, "(");
            if outline.is(at, -1, ".") || outline.is(at, -1, "?.") {
                match called {
                    true => checked.method(at, token),
                    false => checked.property(at, token),
                }
            } else if called && outline.is(at, -1, "::") {
                checked.helper(at, token);
            } else if called {
                checked.function(at, token);
            }
        }
        checked.problems
    }
}

struct Check<'c, 't> {
    names: &'c Names<'c>,
    file: &'c ScriptFile,
    outline: &'c Outline<'t>,
    problems: Vec<Problem>,
}

impl<'c, 't> Check<'c, 't> {
    fn source(&self) -> &'c Arc<Source> {
        &self.file.source
    }

    fn unknown<'n>(
        &mut self,
        token: &Token<'_>,
        lead: &str,
        names: impl IntoIterator<Item = &'n str>,
    ) {
        let word = token.quoted().unwrap_or(token.text);
        let names: Vec<&str> = names.into_iter().collect();
        let problem = Problem::new(format!("{lead} `{}`", clip(word, 60))).code("unknown-name").at(
            self.source(),
            token.span,
            "unknown",
        );
        if is_one_of(OUTSIDE, word) {
            self.problems.push(
                problem.help(
                    "a rule looks at the build and nothing else: no clock, no file, no chance",
                ),
            );
            return;
        }
        let near = nearest(word, names.iter().copied());
        self.problems.push(match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None if names.len() <= 40 && !names.is_empty() => {
                problem.help(format!("known here: {}", some_of(names, 40)))
            }
            None => problem,
        });
    }

    /// Functions of the file's own that would stand in for a word of the host's.
    fn own_words(&mut self) {
        for function in self.outline.functions.iter().filter(|f| is_one_of(HOST_WORDS, f.name)) {
            let Some(name) = self.outline.tokens.get(function.tokens.start + 1) else { continue };
            let problem = Problem::new(format!("`{}` is a word of the host's", function.name))
                .code("host-word");
            self.problems.push(
                problem
                    .at(self.source(), name.span, "a function of the file's own")
                    .help("every call of it in this file would mean this one: choose another name"),
            );
        }
    }

    fn function(&mut self, at: usize, token: &Token<'_>) {
        let outline = self.outline;
        let own = outline.functions.iter().map(|f| f.name);
        let known = is_one_of(KEYWORDS, token.text)
            || self.names.functions.contains(token.text)
            || own.clone().any(|n| n == token.text);
        if !known && outline.own.contains(token.text) {
            let problem = Problem::new(format!("`{}` is a variable, not a function", token.text))
                .at(self.source(), token.span, "called as a function");
            self.problems.push(
                problem
                    .help(format!("a closure kept in a variable is run by {}.call(…)", token.text)),
            );
            return;
        }
        if !known && !outline.near(at, -1).is_some_and(|t| t.word("fn")) {
            return self.unknown(
                token,
                "there is no function",
                own.chain(word_names().iter().map(String::as_str))
                    .chain(the_standard().functions.iter().map(String::as_str))
                    .filter(|n| n.chars().all(|c| c.is_alphanumeric() || c == '_')),
            );
        }
        let arguments = outline.arguments(at);
        let first = arguments.first().copied().flatten();
        let quoted = first.and_then(|t| t.quoted().map(|q| (t, q)));
        match (token.text, quoted) {
            ("setting", Some((token, name))) => self.setting(token, name),
            ("measure", Some((token, name))) => self.measure(token, name),
            ("derived", Some((token, name))) if !DERIVED.iter().any(|d| d.name == name) => {
                self.unknown(token, "the host works out no", DERIVED.iter().map(|d| d.name))
            }
            ("table" | "table_opt", Some((token, name))) => {
                self.table(token, name, arguments.get(2).copied().flatten())
            }
            _ => {}
        }
    }

    /// `file::function(…)`, out of a lib file.
    fn helper(&mut self, at: usize, token: &Token<'_>) {
        let Some(file) = self.outline.near(at, -2) else { return };
        let libs = || self.names.set.files.iter().filter(|f| f.lib);
        let named: Vec<_> = libs().filter(|f| *f.stem == *file.text).collect();
        if named.is_empty() {
            let names: Vec<&str> = libs().map(|f| &*f.stem).collect();
            return self.unknown(&file.clone(), "there is no helper file", names);
        }
        let public: Vec<&str> = named
            .iter()
            .flat_map(|lib| lib.ast.iter_functions())
            .filter(|f| f.access == FnAccess::Public)
            .map(|f| f.name)
            .collect();
        // A lib file that can't be read has said so itself.
        if !public.is_empty() && !public.contains(&token.text) {
            self.unknown(token, &format!("`{}` has no function", file.text), public);
        }
    }

    fn setting(&mut self, token: &Token<'_>, name: &str) {
        if self.names.settings.find(&self.file.stem, name).is_none() {
            let own = format!("{}.", self.file.stem);
            let all = self.names.settings.all();
            let names: Vec<String> = all
                .iter()
                .flat_map(|s| {
                    [Some(s.name.to_string()), s.name.strip_prefix(&own).map(str::to_owned)]
                })
                .flatten()
                .collect();
            self.unknown(token, "there is no setting", names.iter().map(String::as_str));
        }
    }

    fn measure(&mut self, token: &Token<'_>, name: &str) {
        let set = self.names.set;
        let own = format!("{}.{name}", self.file.stem);
        match set.rule(&own).or_else(|| set.rule(name)) {
            Some(rule) if rule.unit.is_some() => {}
            Some(rule) => {
                let problem = Problem::new(format!("`{}` is a rule, not a measure", rule.id)).at(
                    self.source(),
                    token.span,
                    "this needs a measure",
                );
                self.problems.push(problem.help("a measure has a `Unit:` line in its doc comment"));
            }
            None => {
                let names: Vec<&str> = set
                    .rules
                    .iter()
                    .filter(|r| r.unit.is_some())
                    .flat_map(|r| {
                        [Some(&*r.id), (*r.file == *self.file.stem).then_some(r.function.as_str())]
                    })
                    .flatten()
                    .collect();
                self.unknown(token, "there is no measure", names);
            }
        }
    }

    fn table(&mut self, token: &Token<'_>, name: &str, column: Option<&Token<'_>>) {
        let catalogue = self.names.catalogue;
        let Some(table) = catalogue.table_named(name) else {
            return self.unknown(
                token,
                "there is no table",
                catalogue.tables.iter().map(|t| &*t.name),
            );
        };
        if let Some((column, word)) = column.and_then(|c| c.quoted().map(|q| (c, q)))
            && table.column(word).is_none()
        {
            self.unknown(
                column,
                &format!("table `{name}` has no column"),
                table.columns.iter().map(|c| &*c.name),
            );
        }
    }

    fn method(&mut self, at: usize, token: &Token<'_>) {
        let first = self.outline.arguments(at).first().copied().flatten();
        let quoted = first.and_then(|t| t.quoted().map(|q| (t, q)));
        let names = self.names;
        match (token.text, quoted) {
            ("all" | "count", Some((token, name))) if self.of_build(at) => {
                if names.catalogue.kind_id(name).is_none() {
                    self.unknown(
                        token,
                        "there is no kind",
                        names.catalogue.kinds.iter().map(|k| &*k.name),
                    );
                }
            }
            ("sum", Some((token, name))) if self.of_build(at) => {
                if !names.catalogue.kinds.iter().any(|k| k.field(name).is_some()) {
                    self.unknown(token, "no kind has a field", names.fields.iter().copied());
                }
            }
            ("opt" | "has", Some((token, name))) => self.field(at, token, name),
            _ if is_one_of(KEYWORDS, token.text)
                || names.functions.contains(token.text)
                || self.outline.functions.iter().any(|f| f.name == token.text)
                || self.outline.own.contains(token.text) => {}
            _ => self.unknown(
                token,
                "there is no function",
                names.functions.iter().map(String::as_str),
            ),
        }
    }

    fn property(&mut self, at: usize, token: &Token<'_>) {
        if self.outline.own.contains(token.text) || the_standard().getters.contains(token.text) {
            return;
        }
        self.field(at, token, token.text);
    }

    /// A field by name: of a known kind where the variable tells, of any kind otherwise.
    fn field(&mut self, at: usize, token: &Token<'_>, name: &str) {
        let names = self.names;
        if self.of_build(at) {
            let known = || build_names(names.catalogue);
            if !known().any(|n| n == name) {
                self.unknown(token, "a build has no", known());
            }
            return;
        }
        if let Some(kind) = self
            .kind_of(at)
            .and_then(|k| names.catalogue.kind_id(k))
            .and_then(|id| names.catalogue.kind(id))
        {
            let known = || line_names(kind);
            if !known().any(|n| n == name) {
                let others: Vec<&str> = names
                    .catalogue
                    .kinds
                    .iter()
                    .filter(|k| k.field(name).is_some())
                    .map(|k| k.title.as_str())
                    .collect();
                if others.is_empty() {
                    return self.unknown(token, &format!("a {} has no", kind.title), known());
                }
                let problem = Problem::new(format!("a {} has no `{name}`", kind.title)).at(
                    self.source(),
                    token.span,
                    "unknown",
                );
                self.problems
                    .push(problem.help(format!("that is a field of: {}", some_of(others, 6))));
            }
            return;
        }
        if !names.properties.contains(name)
            && !self.outline.own.contains(name)
            && !self.written(name)
        {
            self.unknown(token, "no kind has a field", names.fields.iter().copied());
        }
    }

    /// Whether the script writes the word in quotes somewhere, as a key that it may put into a map.
    fn written(&self, name: &str) -> bool {
        self.outline.tokens.iter().any(|t| t.quoted() == Some(name) && t.span.start() > 0)
            && self
                .outline
                .tokens
                .iter()
                .zip(self.outline.tokens.iter().skip(1))
                .any(|(a, b)| a.is("[") && b.quoted() == Some(name))
    }

    /// Whether what stands before the point is `build` itself.
    fn of_build(&self, at: usize) -> bool {
        self.outline.near(at, -2).is_some_and(|t| t.word("build"))
            && !self.outline.is(at, -3, ".")
            && !self.outline.is(at, -3, "?.")
    }

    /// The kind of the line before the point: `build.supply.`, or a variable that holds one.
    fn kind_of(&self, at: usize) -> Option<&'t str> {
        let before = self.outline.near(at, -2).filter(|t| t.kind == Kind::Name)?;
        if self.outline.is(at, -3, ".") {
            return self.outline.near(at, -4).filter(|t| t.word("build")).map(|_| before.text);
        }
        (!self.outline.is(at, -3, "?."))
            .then(|| self.outline.function_of(at)?.holds.get(before.text).copied().flatten())
            .flatten()
    }
}
