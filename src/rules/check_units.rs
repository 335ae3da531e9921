//! Comparisons that cannot be meant: a text where a number belongs, or watts against millimetres.

use std::collections::{BTreeMap, HashSet};
use std::ops::Range;

use crate::build::fields::BUILD_FIELDS;
use crate::catalogue::Catalogue;
use crate::catalogue::declared::Takes;
use crate::catalogue::kinds::{Field, FieldType};
use crate::catalogue::value::Val;
use crate::rules::loader::{RuleSet, ScriptFile};
use crate::rules::outline::{Function, Outline, closing, opening};
use crate::rules::tokens::{Kind, Token};
use crate::settings::Settings;
use crate::source::{Problem, Span};

const COMPARISONS: &[&str] = &["<", "<=", ">", ">=", "==", "!="];
/// What ends an operand.
const ENDS: &[&str] = &[
    "{", "}", ";", ",", "(", ")", "[", "]", "#{", "&&", "||", "=", "+=", "-=", "!", "=>", ":", "|",
    "<", "<=", ">", ">=", "==", "!=",
];
const END_WORDS: &[&str] = &["if", "else", "while", "until", "return", "let", "in", "const"];

/// What an operand is, as far as it can be told without running.
#[derive(Debug, Clone, PartialEq)]
enum Of {
    /// A number in a unit; none when the unit is not known, as of a plain number.
    Number(Option<String>),
    /// A text.
    Text,
    /// It can't be told.
    Unknown,
}

/// What can be told of fields by their name alone, gathered once for all scripts.
pub(crate) struct Units<'a> {
    settings: &'a Settings,
    catalogue: &'a Catalogue,
    set: &'a RuleSet,
    fields: BTreeMap<&'a str, Of>,
    /// Units that fields measure in: those that only count or share are left out.
    real: HashSet<&'a str>,
}

impl<'a> Units<'a> {
    /// Gathers it.
    pub(crate) fn new(catalogue: &'a Catalogue, settings: &'a Settings, set: &'a RuleSet) -> Self {
        let mut fields: BTreeMap<&str, Of> = BTreeMap::new();
        let mut real = HashSet::new();
        let mut note = |name: &'a str, of: Of| {
            // Kinds that disagree on a name leave it open.
            fields
                .entry(name)
                .and_modify(|held| *held = if *held == of { of.clone() } else { Of::Unknown })
                .or_insert(of.clone());
        };
        for field in catalogue.kinds.iter().flat_map(|k| &k.fields) {
            note(&field.name, of_field(field));
            real.insert(&*field.unit);
            if let FieldType::Records(subs) = &field.ty {
                for sub in subs {
                    note(&sub.name, of_field(sub));
                    real.insert(&*sub.unit);
                }
            }
        }
        for field in BUILD_FIELDS {
            note(field.name, of_build_field(field.name));
            real.insert(field.unit);
        }
        real.retain(|u| !u.is_empty() && !u.starts_with("of "));
        Self { settings, catalogue, set, fields, real }
    }

    /// Everything odd about a script's comparisons.
    pub(crate) fn check(&self, file: &ScriptFile, outline: &Outline<'_>) -> Vec<Problem> {
        let mut problems = Vec::new();
        for function in &outline.functions {
            let scope = Scope::read(self, file, outline, function);
            for at in function.tokens.clone() {
                let sign = outline.tokens.get(at).filter(|t| t.kind == Kind::Sign);
                let Some(sign) = sign.filter(|t| COMPARISONS.contains(&t.text)) else { continue };
                let (left, right) = (before(&outline.tokens, at), after(&outline.tokens, at));
                let (a, b) = (scope.operand(left.clone()), scope.operand(right.clone()));
                problems.extend(mismatch(file, sign, outline, (&left, a), (&right, b)));
            }
        }
        problems
    }
}

/// A function that is looked at, with its variables that are given one value once.
struct Scope<'s, 't> {
    units: &'s Units<'s>,
    file: &'s ScriptFile,
    outline: &'s Outline<'t>,
    function: &'s Function<'t>,
    variables: BTreeMap<&'t str, Of>,
}

impl<'s, 't> Scope<'s, 't> {
    fn read(
        units: &'s Units<'s>,
        file: &'s ScriptFile,
        outline: &'s Outline<'t>,
        function: &'s Function<'t>,
    ) -> Self {
        let mut scope = Self { units, file, outline, function, variables: BTreeMap::new() };
        for at in function.tokens.clone() {
            let Some(name) = outline.tokens.get(at).filter(|t| t.kind == Kind::Name) else {
                continue;
            };
            if outline.is(at, -1, ".") || outline.is(at, -1, "?.") {
                continue;
            }
            let of =
                if outline.is(at, 1, "=") && outline.near(at, -1).is_some_and(|t| t.word("let")) {
                    scope.operand(after(&outline.tokens, at + 1))
                } else if ["=", "+=", "-=", "*=", "/="].iter().any(|s| outline.is(at, 1, s))
                    || outline.near(at, -1).is_some_and(|t| t.word("for") || t.is("|"))
                {
                    Of::Unknown
                } else {
                    continue;
                };
            scope
                .variables
                .entry(name.text)
                .and_modify(|held| *held = if *held == of { of.clone() } else { Of::Unknown })
                .or_insert(of);
        }
        scope
    }

    /// What an operand is: terms joined by plus and minus share a unit.
    fn operand(&self, range: Range<usize>) -> Of {
        let tokens = &self.outline.tokens;
        let mut whole = Of::Number(None);
        let mut start = range.start;
        let mut at = range.start;
        let mut term = |range: Range<usize>| match (self.term(range), &whole) {
            (Of::Number(None), _) => {}
            (Of::Number(unit), Of::Number(None)) => whole = Of::Number(unit),
            (Of::Number(unit), Of::Number(held)) if unit == *held => {}
            (Of::Text, _) => whole = Of::Text,
            _ => whole = Of::Unknown,
        };
        while at < range.end {
            let Some(token) = tokens.get(at) else { break };
            if (token.is("+") || token.is("-")) && at > start {
                term(start..at);
                start = at + 1;
            }
            at = if token.is("(") || token.is("[") {
                closing(tokens, at).map_or(range.end, |c| c + 1)
            } else {
                at + 1
            };
        }
        term(start..range.end);
        whole
    }

    fn term(&self, range: Range<usize>) -> Of {
        let tokens = self.outline.tokens.get(range.clone()).unwrap_or(&[]);
        match tokens {
            [one] if one.kind == Kind::Number => Of::Number(None),
            [one] if one.kind == Kind::Text => Of::Text,
            [one] if one.kind == Kind::Name => {
                self.variables.get(one.text).cloned().unwrap_or(Of::Unknown)
            }
            [call, open, text, close] if open.is("(") && close.is(")") => {
                self.asked(call.text, text.quoted().unwrap_or(""))
            }
            // `x.opt("field") ?? 0` is what the field is.
            [.., sign, fallback] if sign.is("??") && fallback.kind == Kind::Number => {
                self.term(range.start..range.end - 2)
            }
            [.., opt, open, text, close]
                if opt.word("opt")
                    && open.is("(")
                    && close.is(")")
                    && chain(tokens.get(..tokens.len() - 4).unwrap_or(&[])) =>
            {
                let before = tokens.get(..tokens.len() - 3).unwrap_or(&[]);
                self.field(before, text.quoted().unwrap_or(""))
            }
            [.., last] if tokens.len() >= 3 && chain(tokens) => self.field(tokens, last.text),
            _ => Of::Unknown,
        }
    }

    /// A field by its name, of a known kind where the words before it tell.
    fn field(&self, tokens: &[Token<'_>], name: &str) -> Of {
        let kind = match tokens {
            [build, _, _] if build.word("build") => return of_build_field(name),
            [build, _, kind, _, _] if build.word("build") => Some(kind.text),
            [variable, _, _] => self.function.holds.get(variable.text).copied().flatten(),
            _ => None,
        };
        let kind = kind
            .and_then(|k| self.units.catalogue.kind_id(k))
            .and_then(|id| self.units.catalogue.kind(id));
        match kind {
            Some(kind) => kind.field(name).map_or(Of::Unknown, |(_, f)| of_field(f)),
            None => self.units.fields.get(name).cloned().unwrap_or(Of::Unknown),
        }
        .real(&self.units.real)
    }

    /// What `setting("…")`, `measure("…")` and `sum` give.
    fn asked(&self, call: &str, name: &str) -> Of {
        let number = |unit: &str| {
            Of::Number((!unit.is_empty()).then(|| unit.to_owned())).real(&self.units.real)
        };
        match call {
            "setting" => {
                match self
                    .units
                    .settings
                    .find(&self.file.stem, name)
                    .and_then(|at| self.units.settings.get(at))
                {
                    Some(setting) if matches!(setting.value, Val::Text(_)) => Of::Text,
                    Some(setting) => number(&setting.unit),
                    None => Of::Unknown,
                }
            }
            "measure" => {
                let own = format!("{}.{name}", self.file.stem);
                let rule = self.units.set.rule(&own).or_else(|| self.units.set.rule(name));
                rule.and_then(|r| r.unit.as_deref()).map_or(Of::Unknown, number)
            }
            _ => Of::Unknown,
        }
    }
}

impl Of {
    /// A unit that only counts or shares tells nothing.
    fn real(self, real: &HashSet<&str>) -> Self {
        match self {
            Self::Number(Some(unit)) if !real.contains(&*unit) => Self::Unknown,
            other => other,
        }
    }

    fn words(&self) -> String {
        match self {
            Self::Number(Some(unit)) => format!("a number in {unit}"),
            Self::Number(None) => "a number".to_owned(),
            Self::Text => "a text".to_owned(),
            Self::Unknown => "this".to_owned(),
        }
    }
}

fn of_field(field: &Field) -> Of {
    match field.ty {
        FieldType::Number => Of::Number((!field.unit.is_empty()).then(|| field.unit.to_string())),
        FieldType::Text(_) => Of::Text,
        _ => Of::Unknown,
    }
}

fn of_build_field(name: &str) -> Of {
    match BUILD_FIELDS.iter().find(|f| f.name == name) {
        Some(field) if matches!(field.takes, Takes::Text | Takes::Rows(_)) => Of::Text,
        Some(field) => Of::Number((!field.unit.is_empty()).then(|| field.unit.to_owned())),
        None => Of::Unknown,
    }
}

/// Names joined by points.
fn chain(tokens: &[Token<'_>]) -> bool {
    tokens
        .iter()
        .enumerate()
        .all(|(i, t)| if i % 2 == 0 { t.kind == Kind::Name } else { t.is(".") || t.is("?.") })
}

fn ends(token: &Token<'_>) -> bool {
    match token.kind {
        Kind::Sign => ENDS.contains(&token.text),
        Kind::Name => END_WORDS.contains(&token.text),
        _ => false,
    }
}

/// The operand before a sign.
fn before(tokens: &[Token<'_>], sign: usize) -> Range<usize> {
    let mut at = sign;
    while let Some(i) = at.checked_sub(1) {
        let Some(token) = tokens.get(i) else { break };
        if token.is(")") || token.is("]") {
            let Some(open) = opening(tokens, i) else { break };
            at = open;
        } else if ends(token) {
            break;
        } else {
            at = i;
        }
    }
    at..sign
}

/// The operand after a sign.
fn after(tokens: &[Token<'_>], sign: usize) -> Range<usize> {
    let mut at = sign + 1;
    while let Some(token) = tokens.get(at) {
        if token.is("(") || token.is("[") {
            let Some(close) = closing(tokens, at) else { break };
            at = close + 1;
        } else if ends(token) {
            break;
        } else {
            at += 1;
        }
    }
    sign + 1..at
}

/// What is wrong with a comparison of two things that are not alike.
fn mismatch(
    file: &ScriptFile,
    sign: &Token<'_>,
    outline: &Outline<'_>,
    left: (&Range<usize>, Of),
    right: (&Range<usize>, Of),
) -> Option<Problem> {
    let order = !matches!(sign.text, "==" | "!=");
    let (message, help) = match (&left.1, &right.1) {
        (Of::Text, Of::Text) if order => (
            format!(
                "`{}` puts two texts in the order of their letters, and numbers are meant",
                sign.text
            ),
            "compare the numbers behind them, or use == for texts",
        ),
        (Of::Text, Of::Number(_)) | (Of::Number(_), Of::Text) => (
            format!("`{}` is between {} and {}", sign.text, left.1.words(), right.1.words()),
            "compare like with like: this fails as soon as it runs",
        ),
        (Of::Number(Some(a)), Of::Number(Some(b))) if a != b && !alike(a, b) => (
            format!("`{}` compares {a} with {b}", sign.text),
            "compare one unit with the same unit, or turn one into the other first",
        ),
        _ => return None,
    };
    let span = |range: &Range<usize>| {
        let ends = outline
            .tokens
            .get(range.start)
            .zip(range.end.checked_sub(1).and_then(|e| outline.tokens.get(e)));
        ends.map_or(sign.span, |(a, b)| Span::new(a.span.start(), b.span.end()))
    };
    let problem = Problem::new(message)
        .code("unlike-compared")
        .at(&file.source, span(left.0), left.1.words())
        .at(&file.source, span(right.0), right.1.words());
    Some(problem.help(help))
}

/// Units that people compare without a thought.
fn alike(a: &str, b: &str) -> bool {
    matches!((a, b), ("K", "°C") | ("°C", "K") | ("money", "EUR") | ("EUR", "money"))
}
