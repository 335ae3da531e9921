//! Expressions at the prompt: the same words that rules have, over one build, with variables that
//! last.

use std::rc::Rc;

use rhai::{Dynamic, FnPtr, Scope};

use crate::audit::eval::View;
use crate::audit::expr::Expr;
use crate::audit::finding::{RuleWords, finding};
use crate::audit::verdict::{Hole, Verdict};
use crate::audit::wording::{self, Names};
use crate::build::resolve::Resolved;
use crate::catalogue::value::Val;
use crate::kit::Kit;
use crate::rules::host::{Frame, Host, PoolGuard};
use crate::rules::tracked::{
    BuildRef, Counts, FindingRef, LineRef, List, Num, RecordRef, Text, id_of, type_words,
};
use crate::source::Problem;
use crate::words::clip;

/// Most entries of a list that are shown.
pub const MOST_SHOWN: usize = 40;

/// The variable that holds the last result; `_` is short for it.
const LAST: &str = "last";

/// The text with `_`, where it stands for the last result, as that variable's name. It is a word
/// of the language in `switch` and in texts.
fn with_last(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut quote: Option<char> = None;
    let mut before = ' ';
    let word = |c: char| c.is_alphanumeric() || c == '_';
    let mut letters = text.chars().peekable();
    while let Some(c) = letters.next() {
        match quote {
            Some(end) if c == end && before != '\\' => quote = None,
            None if matches!(c, '"' | '`' | '\'') => quote = Some(c),
            _ => {}
        }
        let alone = c == '_' && quote.is_none() && !word(before) && before != '|';
        let arrow = || letters.clone().skip_while(|c| c.is_whitespace()).take(2).eq("=>".chars());
        if alone && !letters.clone().next().is_some_and(word) && !arrow() {
            out.push_str(LAST);
        } else {
            out.push(c);
        }
        before = c;
    }
    out
}

/// Variables that last from one expression to the next. They hold what was worked out, not the
/// formula.
#[derive(Default)]
pub struct Variables {
    scope: Scope<'static>,
    /// Of the kit that their values belong to.
    pool_guard: Option<PoolGuard>,
    gone: Vec<String>,
}

impl Variables {
    /// Their names, in the order they were made.
    pub fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for (name, ..) in self.scope.iter() {
            if name != "build" && name != LAST && !names.iter().any(|n| n == name) {
                names.push(name.to_owned());
            }
        }
        names
    }

    /// Names of those that are no more since this was asked last: they held a function, or a line
    /// of a list read with another catalogue.
    pub fn take_gone(&mut self) -> Vec<String> {
        self.gone.retain(|name| name != LAST);
        std::mem::take(&mut self.gone)
    }
}

/// The result of an expression.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Evaluated {
    /// The value in words, a line an entry; nothing for a statement without a value.
    pub words: Vec<String>,
    /// The formula behind a number.
    pub formula: Option<String>,
    /// What `print` and `debug` wrote.
    pub log: Vec<String>,
    /// Findings that it raised, in words.
    pub raised: Vec<String>,
}

impl Kit {
    /// Works out an expression over a build.
    #[doc(hidden)]
    pub fn evaluate(
        &self,
        build: &Rc<Resolved>,
        variables: &mut Variables,
        text: &str,
    ) -> Result<Evaluated, Box<Problem>> {
        let (host, _) = self.inside();
        self.runner().look_at(build);
        variables.belong_to(host);
        let scope = &mut variables.scope;
        if scope.contains("build") {
            scope.set_value("build", BuildRef);
        } else {
            scope.push("build", BuildRef);
        }
        let names: Vec<String> = scope.iter().map(|(name, ..)| name.to_owned()).collect();
        let text = &with_last(text);
        let expression = self.expression(scope, text, |problem, name| {
            problem.suggest(name, names.iter().map(String::as_str))
        })?;
        let (result, frame) = self.run_expression(&expression, scope);
        if let Ok(value) = &result
            && !value.is_unit()
        {
            scope.set_value(LAST, value.clone());
        }
        let shown = result.map(|value| self.show_value(build, &value, &frame));
        variables.gone.extend(freeze_all(scope, |value| freeze(host, value)));
        shown
    }

    fn show_value(&self, build: &Rc<Resolved>, value: &Dynamic, frame: &Frame) -> Evaluated {
        let (host, _) = self.inside();
        let rules = self.rules();
        let state = host.state.borrow();
        let (view, names) = (View { pool: &state.pool, settings: &state.settings, build }, &*rules);
        let words = RuleWords { id: "", title: "", remedy: "", basis: "", level: None };
        let verdict =
            Verdict { drafts: Vec::new(), value: None, path: frame.path.as_slice().into() };
        let raised = frame
            .drafts
            .iter()
            .map(|draft| finding(view, names, &words, draft, &verdict))
            .map(|f| format!("{}: {}", f.level, f.message))
            .collect();
        let formula = value
            .clone()
            .try_cast::<Num>()
            .map(|n| n.id)
            .filter(|id| !matches!(view.pool.get(*id), Expr::Const(_)))
            .map(|id| wording::expression(view, names, id));
        Evaluated { words: lines_of(view, names, value), formula, log: frame.log.clone(), raised }
    }
}

impl Variables {
    /// Makes them of this kit; those that cannot be are gone: an expression's id and a line's kind
    /// mean nothing to another kit.
    fn belong_to(&mut self, host: &Host) {
        let pool_guard = host.pool_guard();
        if self.pool_guard.as_ref().is_some_and(|mine| mine.same(&pool_guard)) {
            return;
        }
        self.pool_guard = Some(pool_guard);
        let gone = freeze_all(&mut self.scope, |value| carry_over(host, value));
        self.gone.extend(gone);
    }
}

/// Variables keep the values they had: a formula carried over to another build could be of a branch
/// not taken there. Gives the names of those that have none to keep.
fn freeze_all(
    scope: &mut Scope<'static>,
    freeze: impl Fn(Dynamic) -> Option<Dynamic>,
) -> Vec<String> {
    let held: Vec<(String, bool, Dynamic)> =
        scope.iter().map(|(name, constant, value)| (name.to_owned(), constant, value)).collect();
    let mut fresh = Scope::new();
    let mut gone = Vec::new();
    for (name, constant, value) in held {
        match freeze(value) {
            None => gone.push(name),
            Some(value) if constant => {
                fresh.push_constant_dynamic(name, value);
            }
            Some(value) => {
                fresh.push_dynamic(name, value);
            }
        }
    }
    *scope = fresh;
    gone
}

/// A value as it stands; none of a function, whose words end with the expression they were written
/// in.
fn freeze(host: &Host, value: Dynamic) -> Option<Dynamic> {
    within(host, value, &|value| {
        if let Some(text) = value.clone().try_cast::<Text>() {
            return Some(text.value.as_ref().into());
        }
        if let Some(list) = value.clone().try_cast::<List>() {
            return Some(match host.look(list.id) {
                Ok(Val::List(words)) => words
                    .iter()
                    .map(|w| Dynamic::from(w.to_string()))
                    .collect::<rhai::Array>()
                    .into(),
                _ => Dynamic::UNIT,
            });
        }
        (!value.is::<FnPtr>()).then_some(value)
    })
}

/// A frozen value for another kit; none of what only the kit it came from knows.
fn carry_over(host: &Host, value: Dynamic) -> Option<Dynamic> {
    let bound = |value: &Dynamic| {
        value.is::<LineRef>()
            || value.is::<RecordRef>()
            || value.is::<Counts>()
            || value.is::<FindingRef>()
    };
    within(host, value, &|value| (!bound(&value)).then_some(value))
}

/// Numbers become figures by themselves, lists and maps are gone through, of the rest `other`
/// decides.
fn within(
    host: &Host,
    value: Dynamic,
    other: &dyn Fn(Dynamic) -> Option<Dynamic>,
) -> Option<Dynamic> {
    let value = value.flatten();
    if let Some(num) = value.clone().try_cast::<Num>() {
        let id = host.state.borrow_mut().pool.number(num.value);
        return Some(Dynamic::from(Num { id, value: num.value }));
    }
    if let Some(array) = value.clone().try_cast::<rhai::Array>() {
        return array
            .into_iter()
            .map(|v| within(host, v, other))
            .collect::<Option<rhai::Array>>()
            .map(Into::into);
    }
    if let Some(map) = value.clone().try_cast::<rhai::Map>() {
        return map
            .into_iter()
            .map(|(k, v)| Some((k, within(host, v, other)?)))
            .collect::<Option<rhai::Map>>()
            .map(Into::into);
    }
    other(value)
}

fn lines_of(view: View<'_>, names: &dyn Names, value: &Dynamic) -> Vec<String> {
    if value.is_unit() {
        return Vec::new();
    }
    if let Some(array) = value.clone().try_cast::<rhai::Array>() {
        if array.is_empty() {
            return vec!["none".to_owned()];
        }
        let mut lines: Vec<String> =
            array.iter().take(MOST_SHOWN).map(|v| words_of(view, names, v, 0)).collect();
        if array.len() > MOST_SHOWN {
            lines.push(format!("and {} more", array.len() - MOST_SHOWN));
        }
        return lines;
    }
    vec![words_of(view, names, value, 0)]
}

fn words_of(view: View<'_>, names: &dyn Names, value: &Dynamic, depth: usize) -> String {
    let cast = value.clone();
    if depth > 4 {
        return "…".to_owned();
    }
    if let Some(num) = cast.clone().try_cast::<Num>() {
        return wording::figure(
            num.value,
            wording::unit(view, names, num.id),
            &view.build.build.currency,
        );
    }
    if let Some(text) = cast.clone().try_cast::<Text>() {
        return text.value.to_string();
    }
    if let Some(id) = id_of(value) {
        return wording::value(view, names, id, None);
    }
    if let Some(line) = cast.clone().try_cast::<LineRef>() {
        return line_words(view, line);
    }
    if let Some(record) = cast.clone().try_cast::<RecordRef>() {
        return record_words(view, record);
    }
    if let Some(array) = cast.clone().try_cast::<rhai::Array>() {
        let shown: Vec<String> =
            array.iter().take(MOST_SHOWN).map(|v| words_of(view, names, v, depth + 1)).collect();
        return format!("[{}]", shown.join(", "));
    }
    if let Some(map) = cast.clone().try_cast::<rhai::Map>() {
        let shown: Vec<String> = map
            .iter()
            .take(MOST_SHOWN)
            .map(|(k, v)| format!("{k}: {}", words_of(view, names, v, depth + 1)))
            .collect();
        return format!("#{{ {} }}", shown.join(", "));
    }
    match (value.as_bool(), value.as_int(), value.as_float()) {
        (Ok(true), ..) => "yes".to_owned(),
        (Ok(false), ..) => "no".to_owned(),
        (_, Ok(n), _) => n.to_string(),
        (_, _, Ok(n)) => n.to_string(),
        _ if value.is_string() => clip(&value.to_string(), 2000),
        _ if cast.is::<BuildRef>() => format!("the build “{}”", view.build.build.title()),
        _ if cast.is::<FindingRef>() => String::new(),
        _ if value.is_unit() => "absent".to_owned(),
        _ => type_words(value.type_name()).to_owned(),
    }
}

fn line_words(view: View<'_>, line: LineRef) -> String {
    let name = crate::audit::place::handle_name(view, &Hole::Line(line.kind, line.nth))
        .unwrap_or_default();
    match view.build.slot(line.kind, line.nth) {
        None => "a line that is gone".to_owned(),
        Some(slot) => {
            let id = slot.part.as_ref().map_or_else(String::new, |p| format!(" ({})", p.id));
            let count =
                if slot.count > 1.0 { format!("{} × ", slot.count) } else { String::new() };
            format!("{count}{name}{id}")
        }
    }
}

fn record_words(view: View<'_>, record: RecordRef) -> String {
    use crate::catalogue::kinds::FieldType;
    let kind = view.build.catalogue.kind(record.line.kind);
    let part = view.build.slot(record.line.kind, record.line.nth).and_then(|s| s.part.as_ref());
    let (Some(FieldType::Records(fields)), Some(Val::Records(records))) = (
        kind.and_then(|k| k.fields.get(record.field as usize)).map(|f| &f.ty),
        part.and_then(|p| p.values.get(record.field as usize)),
    ) else {
        return "an entry that is gone".to_owned();
    };
    let Some(values) = records.get(record.index as usize) else {
        return "an entry that is gone".to_owned();
    };
    let given = fields.iter().zip(values.iter()).filter(|(_, v)| !v.is_absent());
    given
        .map(|(field, value)| {
            format!(
                "{} {}{}{}",
                field.name,
                value.show(),
                if field.unit.is_empty() { "" } else { " " },
                field.unit
            )
        })
        .collect::<Vec<_>>()
        .join(", ")
}

#[cfg(test)]
#[path = "../../tests/unit/kit/prompt_eval.rs"]
mod tests;
