//! `dryfit rules lint`: what is odd in rules that run: helpers, settings and values that nobody
//! uses, rules that another implies, holes that nothing fills, the same asked twice, words that
//! people do not say.

use std::collections::BTreeSet;

use super::{idle_rules, plain_words};
use crate::audit::message::holes_of;
use crate::kit::{Kit, Layers};
use crate::rules::loader::{RuleSet, ScriptFile};
use crate::rules::outline::{Outline, closing};
use crate::rules::tokens::{Kind, Token};
use crate::source::{Problem, Span};
use crate::whatif::mend::LITTLE_MORE;
use crate::whatif::plan::{CAUTION_WORTH, REFUSED_WORTH};

/// Words that raise a finding or say a step.
const RAISES: &[&str] = &["stop", "caution", "advice", "step"];

/// Everything odd in the files and settings of one layer, in order of file and place.
pub fn lint(kit: &Kit, layers: &Layers) -> Vec<Problem> {
    let layer = layers.rules.last().map_or("", |top| top.label.as_str());
    let rules = kit.rules();
    let files: Vec<(&ScriptFile, Outline<'_>)> =
        rules.files.iter().map(|f| (f, Outline::read(&f.source.text))).collect();
    let mut found = Vec::new();
    for (file, outline) in files.iter().filter(|(file, _)| file.layer == layer) {
        let look = Look { file, outline };
        look.helpers(&files, &mut found);
        look.conditions(&mut found);
        look.messages(&mut found);
        look.measures(&rules, &mut found);
    }
    for rule in rules.rules.iter().filter(|r| r.layer == layer) {
        let Some(file) = rules.files.get(rule.file_at as usize) else { continue };
        let texts = [&*rule.title, &rule.why, &rule.remedy];
        let words: Vec<_> = texts.iter().flat_map(|t| plain_words::found(t, true)).collect();
        found.extend(words.into_iter().map(|w| unplain(w, file, rule.span())));
    }
    settings(kit, layer, &files, &mut found);
    idle_rules::implied(kit, layers, layer, &mut found);
    idle_rules::tables(kit, layers, &mut found);
    let place = |p: &Problem| p.labels.first().map(|l| (l.source.name.clone(), l.span.start()));
    found.sort_by_key(place);
    found
}

struct Look<'l, 't> {
    file: &'l ScriptFile,
    outline: &'l Outline<'t>,
}

impl<'t> Look<'_, 't> {
    fn odd(&self, code: &'static str, message: String, span: Span, label: &str) -> Problem {
        Problem::new(message).code(code).at(&self.file.source, span, label)
    }

    /// Helpers that nothing calls: private functions, and those of a library that no file names.
    fn helpers(&self, files: &[(&ScriptFile, Outline<'_>)], found: &mut Vec<Problem>) {
        for function in &self.outline.functions {
            let at = function.tokens.start;
            let Some(name) = self.outline.tokens.get(at + 1) else { continue };
            let private = at > 0 && self.outline.near(at, -1).is_some_and(|t| t.word("private"));
            if !private && !self.file.lib {
                continue;
            }
            let outside = |i: usize| !function.tokens.contains(&i);
            let named = |t: &Token<'_>| t.word(function.name) || t.quoted() == Some(function.name);
            let own = self.outline.tokens.iter().enumerate();
            let mut used = own.filter(|(i, _)| outside(*i)).any(|(_, t)| named(t));
            if !private {
                used |= files.iter().any(|(_, other)| {
                    let names = |i: usize| {
                        other.is(i, -1, "::")
                            && other.near(i, -2).is_some_and(|t| t.word(&self.file.stem))
                    };
                    let all = other.tokens.iter().enumerate();
                    all.filter(|(_, t)| t.word(function.name)).any(|(i, _)| names(i))
                });
            }
            if !used {
                let message = format!("nothing calls `{}`", function.name);
                let problem = self.odd("unused-helper", message, name.span, "a helper");
                found.push(problem.help("call it, or take it out"));
            }
        }
    }

    /// The same asked twice in one condition, and something compared with itself.
    fn conditions(&self, found: &mut Vec<Problem>) {
        let tokens = &self.outline.tokens;
        let ends = |t: &Token<'_>| {
            ["{", "}", ";", ",", "=", "=>", "#{", ":", "(", "[", ")", "]", "|", "?["]
                .iter()
                .any(|s| t.is(s))
                || ["if", "return", "while", "until", "in"].iter().any(|w| t.word(w))
        };
        for start in 0..tokens.len() {
            // An expression begins at the start and behind whatever ends one.
            if start > 0 && !tokens.get(start - 1).is_some_and(ends) {
                continue;
            }
            let mut at = start;
            while let Some(token) = tokens.get(at) {
                // A call or an index is part of it; a block, or what closes one around it, ends it.
                let inner = token.is("(") || token.is("[");
                match closing(tokens, at).filter(|_| inner) {
                    Some(close) => at = close + 1,
                    None if ends(token) => break,
                    None => at += 1,
                }
            }
            self.chain(start, at, found);
        }
    }

    fn chain(&self, start: usize, end: usize, found: &mut Vec<Problem>) {
        for either in self.split(start, end, &["||"], "||", found) {
            for (from, to) in self.split(either.0, either.1, &["&&"], "&&", found) {
                let signs = ["<", "<=", ">", ">=", "==", "!="];
                let sides = self.parts(from, to, &signs);
                if let [left, right] = sides.as_slice()
                    && self.words(*left) == self.words(*right)
                    && left.0 < left.1
                {
                    let span = self.span(from, to);
                    let message = "a value is compared with itself".to_owned();
                    let problem = self.odd("compared-with-itself", message, span, "here");
                    found.push(problem.help("name what it should be compared with"));
                }
            }
        }
    }

    /// The operands of a sign; one that is there twice is odd.
    fn split(
        &self,
        start: usize,
        end: usize,
        signs: &[&str],
        sign: &str,
        found: &mut Vec<Problem>,
    ) -> Vec<(usize, usize)> {
        let parts = self.parts(start, end, signs);
        for (at, part) in parts.iter().enumerate() {
            let same = |other: &&(usize, usize)| self.words(**other) == self.words(*part);
            if let Some(first) = parts.iter().take(at).find(same).filter(|f| f.0 < f.1) {
                let span = self.span(part.0, part.1);
                let message = format!("the same is asked twice, with `{sign}` between");
                let problem = self.odd("asked-twice", message, span, "here again");
                let before = self.span(first.0, first.1);
                found.push(
                    problem
                        .at(&self.file.source, before, "here first")
                        .help("take one out, or write what it should be"),
                );
            }
        }
        parts
    }

    /// What stands between signs that no bracket encloses.
    fn parts(&self, start: usize, end: usize, signs: &[&str]) -> Vec<(usize, usize)> {
        let mut parts = Vec::new();
        let (mut from, mut at) = (start, start);
        while at < end {
            let token = self.outline.tokens.get(at);
            let opens = token.is_some_and(|t| t.is("(") || t.is("["));
            match closing(&self.outline.tokens, at).filter(|_| opens) {
                Some(close) => at = close + 1,
                None => {
                    if token.is_some_and(|t| signs.iter().any(|s| t.is(s))) {
                        parts.push((from, at));
                        from = at + 1;
                    }
                    at += 1;
                }
            }
        }
        parts.push((from, end));
        parts
    }

    fn words(&self, (from, to): (usize, usize)) -> Vec<&'t str> {
        self.outline.tokens.get(from..to).unwrap_or(&[]).iter().map(|t| t.text).collect()
    }

    fn span(&self, from: usize, to: usize) -> Span {
        let of = |at: usize| self.outline.tokens.get(at).map_or_else(Span::default, |t| t.span);
        Span::new(of(from).start(), of(to.saturating_sub(1)).end())
    }

    /// Holes that nothing fills, values that do nothing, and words that people do not say.
    fn messages(&self, found: &mut Vec<Problem>) {
        let all = self.outline.tokens.iter().enumerate();
        for (at, _) in all.filter(|(_, t)| RAISES.iter().any(|w| t.word(w))) {
            let template = self.outline.near(at, 2).filter(|_| self.outline.is(at, 1, "("));
            let Some((template, text)) = template.and_then(|t| Some((t, t.quoted()?))) else {
                continue;
            };
            let words = plain_words::found(text, true);
            found.extend(words.into_iter().map(|w| unplain(w, self.file, template.span)));
            let holes: BTreeSet<&str> =
                holes_of(text).map(|(_, name, _)| name).filter(|n| !n.is_empty()).collect();
            let values = match (self.outline.is(at, 3, ")"), self.outline.is(at, 4, "#{")) {
                (true, _) => Vec::new(),
                (_, true) => self.values(at + 4),
                // What a variable holds is known when the rule runs.
                _ => continue,
            };
            for hole in holes.iter().filter(|hole| !values.iter().any(|v| v.name == **hole)) {
                let message = format!("the message has a hole {{{hole}}} and nothing to fill it");
                let problem = self.odd("unfilled-hole", message, template.span, "this message");
                found.push(problem.help(format!("give it: #{{ {hole}: … }}")));
            }
            let idle = |v: &&Value<'_>| v.written && !holes.contains(v.name);
            for value in values.iter().filter(idle) {
                let message = format!("`{}` fills no hole, and points at nothing", value.name);
                let problem = self.odd("unused-value", message, value.span, "a plain value");
                found.push(problem.help("name it in the message, or take it out"));
            }
        }
    }

    /// The keys of a map that opens here.
    fn values(&self, open: usize) -> Vec<Value<'t>> {
        let tokens = &self.outline.tokens;
        let end = closing(tokens, open).unwrap_or(open);
        let mut values = Vec::new();
        let mut at = open + 1;
        while at < end {
            if let (Some(key), true) = (tokens.get(at), self.outline.is(at, 1, ":")) {
                let plain = tokens.get(at + 2).is_some_and(|t| t.kind != Kind::Name)
                    && (at + 3 == end || self.outline.is(at, 3, ","));
                let name = key.quoted().unwrap_or(key.text);
                values.push(Value { name, span: key.span, written: plain });
            }
            // On to the next key, past whatever is in brackets.
            while at < end && !self.outline.is(at, 0, ",") {
                let close = closing(tokens, at);
                at = close.filter(|c| *c > at).map_or(at + 1, |close| close + 1);
            }
            at += 1;
        }
        values
    }

    /// Measures that are not to be relied on any more.
    fn measures(&self, rules: &RuleSet, found: &mut Vec<Problem>) {
        for (at, token) in self.outline.tokens.iter().enumerate().filter(|(_, t)| t.word("measure"))
        {
            let name = self.outline.near(at, 2).filter(|_| self.outline.is(at, 1, "("));
            let Some(name) = name.and_then(Token::quoted) else { continue };
            let own = rules.rule(&format!("{}.{name}", self.file.stem));
            let Some(rule) = own.or_else(|| rules.rule(name)) else { continue };
            if let Some(instead) = &rule.deprecated {
                let message = format!("measure {} is deprecated", rule.id);
                let problem = self.odd("deprecated-measure", message, token.span, "asked for here");
                found.push(problem.help(instead.clone()));
            }
        }
    }
}

/// A value that a message is given.
struct Value<'t> {
    name: &'t str,
    span: Span,
    /// Whether it is a number or text that the script itself holds.
    written: bool,
}

fn unplain((word, instead): (String, String), file: &ScriptFile, span: Span) -> Problem {
    let problem = Problem::new(format!("`{word}` is a word that messages do not use"))
        .code("plain-words")
        .at(&file.source, span, "here");
    match instead.is_empty() {
        true => problem.help("say it in other words"),
        false => problem.help(format!("write: {instead}")),
    }
}

/// Settings of a layer that no script asks for.
fn settings(
    kit: &Kit,
    layer: &str,
    files: &[(&ScriptFile, Outline<'_>)],
    found: &mut Vec<Problem>,
) {
    let settings = kit.settings();
    let own =
        [LITTLE_MORE, CAUTION_WORTH, REFUSED_WORTH].map(|(file, name)| settings.find(file, name));
    let own: Vec<_> = own.into_iter().flatten().filter_map(|at| settings.get(at)).collect();
    let is_own = |name: &str| own.iter().any(|own| *own.name == *name);
    for setting in settings.all().into_iter().filter(|s| s.layer == layer && !is_own(&s.name)) {
        let (stem, short) = setting.name.split_once('.').unwrap_or(("", &setting.name));
        let asks = |file: &ScriptFile, text: &str| {
            text == &*setting.name || text == short && (file.lib || *file.stem == *stem)
        };
        let asked = files.iter().any(|(file, outline)| {
            outline.tokens.iter().filter_map(Token::quoted).any(|text| asks(file, text))
        });
        if !asked {
            let problem = Problem::new(format!("no rule asks for setting `{}`", setting.name))
                .code("unused-setting")
                .at(&setting.source, setting.span, "nobody reads it");
            found.push(problem.help("take it out, or ask for it with `setting(\"…\")`"));
        }
    }
}
