//! What a word of a rule script means: the host's words, fields of the kinds, settings, tables,
//! measures and helpers; and what a call takes.

use lsp_types::{ParameterInformation, ParameterLabel, SignatureHelp, SignatureInformation};
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::hover::rule_view;
use super::requests::At;
use super::server::Failure;
use super::toml_cursor::KnownKey;
use crate::app::writing::signatures::parts;
use crate::build::fields::BUILD_FIELDS;
use crate::catalogue::Part;
use crate::catalogue::kinds::{Field, Kind};
use crate::catalogue::tables::Table;
use crate::rules::loader::{Rule, ScriptFile};
use crate::rules::outline::Outline;
use crate::rules::tokens::Kind as TokenKind;
use crate::settings::Setting;
use crate::source::Span;

/// What stands under the cursor.
pub(super) enum Meaning<'k> {
    Part(&'k Part),
    /// A key of a list or of a file of the shop's own.
    Key(KnownKey),
    Field(&'k Kind, Field),
    /// A kind, or lines of it.
    Kind(&'k Kind),
    Setting(Setting),
    Table(&'k Table),
    /// A rule or a measure.
    Rule(Box<Rule>),
    /// A function of a file: its place among the files, and its name.
    Function(usize, String),
    /// A word of the host: how it is written, and what it gives.
    Host(Vec<(String, String)>),
}

/// The name of a script's file, as settings and ids begin with.
pub(super) fn stem(here: &Here<'_>) -> String {
    let name = here.doc.path.as_deref().and_then(|p| p.file_stem());
    name.map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// The word under the cursor with what it stands for.
pub(super) fn meaning<'h>(here: &'h Here<'_>) -> Option<(Meaning<'h>, Span)> {
    let outline = Outline::read(here.text());
    let on = |t: &crate::rules::tokens::Token<'_>| {
        t.span.start() <= here.offset && here.offset <= t.span.end()
    };
    let whole = |t: &crate::rules::tokens::Token<'_>| t.kind != TokenKind::Sign && on(t);
    let at = outline.tokens.iter().position(whole)?;
    let token = outline.tokens.get(at)?;
    let kit = here.kit()?;
    let catalogue = kit.catalogue();
    let found = match token.kind {
        TokenKind::Text => named(here, &outline, at)?,
        TokenKind::Name if outline.is(at, -1, ".") || outline.is(at, -1, "?.") => {
            let kind = kind_before(&outline, at).and_then(|word| catalogue.kind_named(word));
            let own = kind.and_then(|kind| Some((kind, kind.field(token.text)?.1)));
            let first = || {
                let (id, at) = catalogue.kinds_with(token.text).first()?;
                let kind = catalogue.kind(*id)?;
                Some((kind, kind.fields.get(*at as usize)?))
            };
            let lines = || catalogue.kind_named(token.text);
            let of_build = outline.near(at, -2).is_some_and(|t| t.word("build"));
            match (of_build.then(lines).flatten(), own.or_else(first)) {
                (Some(kind), _) => Meaning::Kind(kind),
                (None, Some((kind, field))) => Meaning::Field(kind, field.clone()),
                (None, None) => host(here, token.text)?,
            }
        }
        TokenKind::Name => function(here, &outline, at).or_else(|| host(here, token.text))?,
        _ => return None,
    };
    Some((found, token.span))
}

/// The kind of the line that stands before a point: of a variable, or of `build.supply`.
pub(super) fn kind_before<'t>(outline: &Outline<'t>, at: usize) -> Option<&'t str> {
    let before = outline.near(at, -2)?;
    if outline.is(at, -3, ".") && outline.near(at, -4).is_some_and(|t| t.word("build")) {
        return Some(before.text);
    }
    outline.function_of(at)?.holds.get(before.text).copied().flatten()
}

/// The call that a text in quotes is the first argument of.
fn call_of<'o>(outline: &'o Outline<'_>, at: usize) -> Option<&'o str> {
    let open = outline.is(at, -1, "(");
    open.then(|| outline.near(at, -2)).flatten().map(|t| t.text)
}

fn named<'h>(here: &'h Here<'_>, outline: &Outline<'_>, at: usize) -> Option<Meaning<'h>> {
    let word = outline.tokens.get(at)?.quoted()?;
    let kit = here.kit()?;
    let catalogue = kit.catalogue();
    match call_of(outline, at)? {
        "setting" => {
            let settings = kit.settings();
            let found = settings.find(&stem(here), word).and_then(|at| settings.get(at))?;
            Some(Meaning::Setting(found.clone()))
        }
        "measure" => {
            let rules = kit.rules();
            let own = format!("{}.{word}", stem(here));
            let rule = rules.rule(word).or_else(|| rules.rule(&own))?;
            Some(Meaning::Rule(Box::new(rule.clone())))
        }
        "table" | "table_opt" | "rows" => catalogue.table_named(word).map(Meaning::Table),
        "all" | "count" | "has" if catalogue.kind_id(word).is_some() => {
            catalogue.kind_named(word).map(Meaning::Kind)
        }
        _ => {
            let (id, at) = catalogue.kinds_with(word).first()?;
            let kind = catalogue.kind(*id)?;
            Some(Meaning::Field(kind, kind.fields.get(*at as usize)?.clone()))
        }
    }
}

/// A function of this file, or a helper named with its file.
fn function<'h>(here: &'h Here<'_>, outline: &Outline<'_>, at: usize) -> Option<Meaning<'h>> {
    let token = outline.tokens.get(at)?;
    let rules = here.kit()?.rules();
    let file = match outline.is(at, -1, "::") {
        true => {
            let stem = outline.near(at, -2)?.text;
            rules.files.iter().position(|f| f.lib && *f.stem == *stem && defines(f, token.text))?
        }
        false => {
            outline.functions.iter().find(|f| f.name == token.text)?;
            rules.files.iter().position(|f| f.source.name == here.source.name)?
        }
    };
    Some(Meaning::Function(file, token.text.to_owned()))
}

fn defines(file: &ScriptFile, name: &str) -> bool {
    Outline::read(&file.source.text).functions.iter().any(|f| f.name == name)
}

/// The host's words of a name.
fn host<'h>(here: &Here<'_>, name: &str) -> Option<Meaning<'h>> {
    let found = host_words(here, name);
    (!found.is_empty()).then_some(Meaning::Host(found))
}

fn host_words(here: &Here<'_>, name: &str) -> Vec<(String, String)> {
    let Some(kit) = here.kit() else { return Vec::new() };
    let called = |part: &str| {
        let head = part.split('(').next().unwrap_or(part).trim();
        head == name || head.rsplit('.').next() == Some(name)
    };
    let mut found = Vec::new();
    for word in kit.words() {
        for part in parts(&word.signature).into_iter().filter(|part| called(part)) {
            found.push((part.to_owned(), word.meaning.clone()));
        }
    }
    found
}

pub(super) fn function_view(here: &Here<'_>, file: usize, name: &str) -> Option<Value> {
    let rules = here.kit()?.rules();
    let file = rules.files.get(file)?;
    if let Some(rule) = rules.rule(&format!("{}.{name}", file.stem)).filter(|_| !file.lib) {
        return rule_view(here, rule);
    }
    let function = file.ast.iter_functions().find(|f| f.name == name)?;
    let comments = function.comments.iter().flat_map(|c| c.lines());
    let comments: Vec<&str> = comments.map(|line| line.trim_start_matches('/').trim()).collect();
    let head = format!("{name}({})", function.params.join(", "));
    Some(json!({ "sort": "words", "words": [[head, comments.join("\n")]] }))
}

/// What the call around the cursor takes.
pub(super) fn signature(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let found = || {
        if !here.is_script() {
            return None;
        }
        let outline = Outline::read(here.text());
        let (name, commas) = open_call(&outline, here.offset)?;
        let words = host_words(here, name);
        let own = own_signature(here, name);
        let words = words.into_iter().chain(own);
        let signatures: Vec<SignatureInformation> =
            words.map(|(how, what)| info(how, what)).collect();
        let last = u32::try_from(commas).ok();
        (!signatures.is_empty()).then_some(SignatureHelp {
            signatures,
            active_signature: Some(0),
            active_parameter: last,
        })
    };
    Ok(found().map_or(Value::Null, |help| json!(help)))
}

/// The name of the call that a byte stands in, and how many commas of it stand before.
pub(super) fn open_call<'t>(outline: &Outline<'t>, offset: usize) -> Option<(&'t str, usize)> {
    let (mut depth, mut commas) = (0usize, 0usize);
    let before = outline.tokens.iter().rposition(|t| t.span.end() <= offset)?;
    for at in (0..=before).rev() {
        let token = outline.tokens.get(at)?;
        match token.text {
            _ if token.kind != TokenKind::Sign => {}
            ")" | "]" | "}" => depth += 1,
            "(" if depth == 0 => {
                let name = at.checked_sub(1).and_then(|at| outline.tokens.get(at))?;
                return (name.kind == TokenKind::Name).then_some((name.text, commas));
            }
            "(" | "[" | "{" | "#{" | "?[" => depth = depth.checked_sub(1)?,
            "," if depth == 0 => commas += 1,
            ";" if depth == 0 => return None,
            _ => {}
        }
    }
    None
}

fn own_signature(here: &Here<'_>, name: &str) -> Option<(String, String)> {
    let rules = here.kit()?.rules();
    let own = rules.files.iter().filter(|f| f.lib || f.source.name == here.source.name);
    own.flat_map(|f| f.ast.iter_functions())
        .find(|f| f.name == name)
        .map(|f| (format!("{name}({})", f.params.join(", ")), f.comments.join("\n")))
}

fn info(how: String, what: String) -> SignatureInformation {
    let inner = how.split_once('(').and_then(|(_, rest)| rest.strip_suffix(')')).unwrap_or("");
    let parameters = parts(inner).into_iter().map(|parameter| ParameterInformation {
        label: ParameterLabel::Simple(parameter.to_owned()),
        documentation: None,
    });
    let parameters: Vec<ParameterInformation> = parameters.collect();
    SignatureInformation {
        parameters: Some(parameters),
        documentation: (!what.is_empty()).then_some(lsp_types::Documentation::String(what)),
        label: how,
        active_parameter: None,
    }
}

/// The fields of a list, which a script reads as `build.NAME`.
pub(super) fn build_fields() -> impl Iterator<Item = (&'static str, &'static str)> {
    BUILD_FIELDS.iter().map(|field| (field.name, field.meaning))
}
