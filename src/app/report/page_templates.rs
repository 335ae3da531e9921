//! Pages whose words stand in templates under `page/`: a template's lines become rows of a page.
//!
//! A template says what stands in which role, in which column, and where text begins that is set
//! in; breaking and painting is the page's. What it is given is cleaned beforehand, so that the
//! signs by which its filters mark pieces of a line come from nothing but them.

use std::sync::{LazyLock, Mutex, PoisonError};

use minijinja::{Environment, Error, State, UndefinedBehavior, Value};
use serde_json::Value as Json;

use crate::app::counted::count;
use crate::app::report::escape::{inert, width};
use crate::app::report::page::Page;
use crate::app::report::style::Role;
use crate::audit::wording::figure;
use crate::level::Level;
use crate::source::Problem;
use crate::words::{and, some_of};

/// What templates call upon; each of them is read when it is first filled.
static TEMPLATES: LazyLock<Mutex<Environment<'static>>> = LazyLock::new(|| Mutex::new(filters()));

/// The templates by name.
const TEXTS: &[(&str, &str)] = &[
    ("ask.txt", include_str!("page/ask.txt")),
    ("audit.txt", include_str!("page/audit.txt")),
    ("cases.txt", include_str!("page/cases.txt")),
    ("change.txt", include_str!("../prompt/page/change.txt")),
    ("change_head.txt", include_str!("../prompt/page/change_head.txt")),
    ("differences.txt", include_str!("page/differences.txt")),
    ("drift.txt", include_str!("page/drift.txt")),
    ("fit.txt", include_str!("../prompt/page/fit.txt")),
    ("help.txt", include_str!("../prompt/page/help.txt")),
    ("import.txt", include_str!("page/import.txt")),
    ("kind.txt", include_str!("page/kind.txt")),
    ("lines.txt", include_str!("../prompt/page/lines.txt")),
    ("measures.txt", include_str!("../prompt/page/measures.txt")),
    ("mend.txt", include_str!("../prompt/page/mend.txt")),
    ("mix.txt", include_str!("../prompt/page/mix.txt")),
    ("mutation.txt", include_str!("page/mutation.txt")),
    ("plan.txt", include_str!("../prompt/page/plan.txt")),
    ("profile.txt", include_str!("page/profile.txt")),
    ("rule.txt", include_str!("page/rule.txt")),
    ("rules.txt", include_str!("page/rules.txt")),
    ("steps.txt", include_str!("../prompt/page/steps.txt")),
    ("why.txt", include_str!("../prompt/page/why.txt")),
    ("why_said.txt", include_str!("../prompt/page/why_said.txt")),
    (WORDS, include_str!("../prompt/page/words.txt")),
];

/// What several templates import.
const WORDS: &str = "words.txt";

/// The templates with this one among them.
fn with(name: &str) -> Result<Environment<'static>, Error> {
    let mut env = TEMPLATES.lock().unwrap_or_else(PoisonError::into_inner);
    if env.get_template(name).is_err() {
        let of = |name: &str| TEXTS.iter().find(|(known, _)| *known == name);
        let text = of(name).map_or("", |(_, text)| text);
        for (name, text) in of(WORDS).filter(|_| text.contains(WORDS)).into_iter().chain(of(name)) {
            env.add_template(name, text)?;
        }
    }
    Ok(env.clone())
}

fn filters() -> Environment<'static> {
    let mut env = Environment::new();
    env.set_trim_blocks(true);
    env.set_lstrip_blocks(true);
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.add_filter("role", role);
    env.add_filter("cell", |text: String, wide: usize| format!("{text}{} ", pad(&text, wide)));
    env.add_filter("right", right);
    env.add_filter("widest", |texts: Vec<String>| texts.iter().map(|t| wide(t)).max().unwrap_or(0));
    env.add_filter("figure", number);
    env.add_filter("bare", bare);
    env.add_filter("money", money);
    env.add_filter("signed", |state: &State<'_, '_>, n: Option<f64>, instead: String| {
        let sign = if n.is_some_and(|n| n > 0.0) { "+" } else { "" };
        format!("{sign}{}", money(state, n, instead))
    });
    env.add_filter("counted", |n: usize, noun: String| count(n, &noun));
    env.add_filter("and", |all: Vec<String>| and(&all));
    env.add_filter("some", |all: Vec<String>, most: usize| {
        some_of(all.iter().map(String::as_str), most)
    });
    env.add_function("ending", |word: String| format!("{ENDED}{word}"));
    env.add_function("block", |number: usize| format!("{BLOCK}{number}"));
    env.add_function("flow", |indent: usize| format!("{FLOW}{indent}{FLOW}"));
    env
}

/// Begins a piece in a role, with the role's letter behind it.
const BEGIN: char = '\u{1}';
const END: char = '\u{2}';
/// Stands around the columns by which the further lines of what follows are set in.
const FLOW: char = '\u{3}';
/// Stands before the word at the right end of what flows.
const ENDED: char = '\u{4}';

/// Stands before the number of a text that the page keeps.
const BLOCK: char = '\u{5}';

/// The roles by their names in templates; a level is one by its own.
const ROLES: &[(&str, Role)] = &[
    ("plain", Role::Plain),
    ("strong", Role::Strong),
    ("faint", Role::Faint),
    ("good", Role::Good),
    ("wrong", Role::Wrong),
    ("command", Role::Command),
    ("part", Role::Part),
    ("number", Role::Number),
    ("stop", Role::Level(Level::Stop)),
    ("caution", Role::Level(Level::Caution)),
    ("advice", Role::Level(Level::Advice)),
];

impl Role {
    /// What templates call it.
    pub(crate) fn name(self) -> &'static str {
        ROLES.iter().find(|(_, role)| *role == self).map_or("plain", |(name, _)| name)
    }
}

fn role(text: String, name: String) -> Result<String, Error> {
    let at = ROLES.iter().position(|(known, _)| *known == name);
    let sign = at.and_then(|at| char::from_digit(at as u32, 36));
    let sign = sign.ok_or_else(|| Error::new(minijinja::ErrorKind::InvalidOperation, "no role"))?;
    Ok(format!("{BEGIN}{sign}{text}{END}"))
}

fn right(text: String, wide: usize) -> String {
    let pad = pad(&text, wide);
    match text.strip_prefix(BEGIN).and_then(|rest| rest.split_at_checked(1)) {
        Some((sign, rest)) => format!("{BEGIN}{sign}{pad}{rest} "),
        None => format!("{pad}{text} "),
    }
}

fn pad(text: &str, most: usize) -> String {
    " ".repeat(most.saturating_sub(wide(text)))
}

/// Columns of a text with its marks left out.
fn wide(text: &str) -> usize {
    pieces(text).iter().map(|(_, text)| width(text)).sum()
}

fn number(state: &State<'_, '_>, n: f64, unit: String) -> String {
    let currency = state.lookup("currency");
    figure(n, &unit, currency.as_ref().and_then(Value::as_str).unwrap_or(""))
}

/// An amount, or what stands where there is none.
fn money(state: &State<'_, '_>, n: Option<f64>, instead: String) -> String {
    n.map_or(instead, |n| number(state, n, "money".to_owned()))
}

/// A figure without its unit where its name ends in that: `value.index 168`, not `168 index`.
fn bare(words: String, name: String) -> String {
    let unit = name.rsplit('.').next();
    let number = words.rsplit_once(' ').filter(|(_, of)| unit == Some(of));
    number.map_or(words.clone(), |(number, _)| number.to_owned())
}

/// The pieces of a marked text.
fn pieces(text: &str) -> Vec<(Role, &str)> {
    let ends = text.split(END).filter(|piece| !piece.is_empty());
    let pieces = ends.flat_map(|piece| match piece.split_once(BEGIN) {
        None => [(Role::Plain, piece), (Role::Plain, "")],
        Some((before, marked)) => {
            let (sign, inner) = marked.split_at_checked(1).unwrap_or((marked, ""));
            let at = sign.chars().next().and_then(|c| c.to_digit(36));
            let role = at.and_then(|at| ROLES.get(at as usize)).map_or(Role::Plain, |(_, r)| *r);
            [(Role::Plain, before), (role, inner)]
        }
    });
    pieces.filter(|(_, text)| !text.is_empty()).collect()
}

/// Leaves nothing in the texts of a value that acts.
fn clean(value: &mut Json) {
    match value {
        // Most texts have nothing of the kind, and a look costs less than a copy.
        Json::String(text) if text.bytes().all(|b| matches!(b, b' '..=b'~')) => {}
        Json::String(text) => *text = inert(text),
        Json::Array(all) => all.iter_mut().for_each(clean),
        Json::Object(all) => all.values_mut().for_each(clean),
        _ => {}
    }
}

impl Page {
    /// Writes what a template says of a value; amounts are in the currency.
    pub(crate) fn fill(&mut self, template: &str, currency: &str, mut about: Json) -> &mut Self {
        clean(&mut about);
        let filled = with(template).and_then(|mut env| {
            env.add_global("currency", currency);
            env.add_global("arrow", self.arrow());
            env.add_global("page_width", self.look.width);
            env.get_template(template)?.render(about)
        });
        match filled {
            Ok(text) => text.lines().for_each(|line| {
                self.filled_row(line);
            }),
            Err(why) => {
                self.problem(&Problem::new(format!("the template of this page fails: {why:#}")));
            }
        }
        self
    }

    /// A page of one template as text.
    pub(crate) fn filled(mut self, template: &str, currency: &str, about: Json) -> String {
        self.fill(template, currency, about);
        self.text
    }

    fn filled_row(&mut self, line: &str) -> &mut Self {
        if let Some(number) = line.strip_prefix(BLOCK) {
            return self.kept(number.parse().unwrap_or(usize::MAX));
        }
        let (lead, flow) = line.split_once(FLOW).map_or((line, None), |(l, f)| (l, Some(f)));
        for (role, text) in pieces(lead) {
            self.put(role, text);
        }
        let Some((indent, rest)) = flow.and_then(|flow| flow.split_once(FLOW)) else {
            return self.end();
        };
        let indent = indent.parse().unwrap_or(0);
        let (rest, word) = rest.split_once(ENDED).map_or((rest, None), |(t, w)| (t, Some(w)));
        let marked = pieces(rest);
        let role = marked.first().map_or(Role::Plain, |(role, _)| *role);
        let text: String = marked.into_iter().map(|(_, text)| text).collect();
        match word {
            Some(word) => self.ended(role, &text, word, indent),
            None => self.flow(role, &text, indent),
        }
    }
}
