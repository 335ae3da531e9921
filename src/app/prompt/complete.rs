//! Completion: what may stand at the cursor, the likeliest first.

use std::path::Path;
use std::sync::Arc;

use jiff::civil::Date;
use rustyline::completion::Pair;

use crate::app::part_words;
use crate::app::prompt::command::{COMMANDS, Entry, called, words};
use crate::app::prompt::line_lookup;
use crate::app::report::page::safe;
use crate::build::fields::BUILD_FIELDS;
use crate::catalogue::kinds::{Kind, LINE_WORDS};
use crate::catalogue::{Catalogue, Part};
use crate::whatif::diff::LineView;
use crate::whatif::edit::LINE_KEYS;

/// Columns of an id in a list of candidates.
const ID_COLUMNS: usize = 30;

/// What completion knows of the trial, brought up to date before every prompt.
#[derive(Default)]
pub(super) struct Facts {
    pub catalogue: Option<Arc<Catalogue>>,
    pub lines: Vec<LineView>,
    /// Offers count as of this day.
    pub day: Option<Date>,
    /// Ids and titles of rules and measures, those with a finding first.
    pub rules: Vec<(String, String)>,
    pub measures: Vec<String>,
    pub settings: Vec<String>,
    pub marks: Vec<String>,
    pub variables: Vec<String>,
    /// Whether something else than a command is being asked for.
    pub quiet: bool,
}

fn pair(replacement: impl Into<String>, display: impl Into<String>) -> Pair {
    Pair { display: safe(&display.into()), replacement: replacement.into() }
}

fn plain(word: impl Into<String>) -> Pair {
    let word = word.into();
    pair(word.clone(), word)
}

/// Candidates that begin with what was typed, or where none does, those that have it anywhere in
/// their name or in what is shown of them.
fn beginning(partial: &str, candidates: impl IntoIterator<Item = Pair>) -> Vec<Pair> {
    let all: Vec<Pair> = candidates.into_iter().collect();
    let (first, rest): (Vec<Pair>, Vec<Pair>) =
        all.into_iter().partition(|c| c.replacement.starts_with(partial));
    if !first.is_empty() || partial.len() < 2 {
        return first;
    }
    let low = partial.to_lowercase();
    rest.into_iter()
        .filter(|c| {
            c.replacement.to_lowercase().contains(&low) || c.display.to_lowercase().contains(&low)
        })
        .collect()
}

/// A command and what it does, as a list of completions shows it.
fn what(entry: &Entry) -> String {
    format!("{:<9} {}", entry.name, entry.does)
}

impl Facts {
    /// What may stand before the cursor at the end of `text`: where it starts, and the candidates.
    pub(super) fn complete(&self, text: &str) -> (usize, Vec<Pair>) {
        if self.quiet {
            return (text.len(), Vec::new());
        }
        let line_start = text.rfind('\n').map_or(0, |at| at + 1);
        if text.trim_start().starts_with('=') {
            return self.expression(text);
        }
        let line = text.get(line_start..).unwrap_or("");
        let partial_at = line.rfind(char::is_whitespace).map_or(0, |at| {
            at + line.get(at..).and_then(|r| r.chars().next()).map_or(1, char::len_utf8)
        });
        let partial = line.get(partial_at..).unwrap_or("");
        let before = words(line.get(..partial_at).unwrap_or("")).unwrap_or_default();
        let candidates = match before.split_first() {
            None => {
                let own = COMMANDS.all.iter().map(|e| pair(format!("{} ", e.name), what(e)));
                let synonyms = COMMANDS.synonyms.iter();
                let others = synonyms
                    .filter(|_| !partial.is_empty())
                    .map(|(word, own)| pair(format!("{word} "), format!("{word:<9} = {own}")));
                let fit = own.chain(others).filter(|c| c.replacement.starts_with(partial));
                fit.collect()
            }
            Some((command, rest)) => {
                let command = command.trim_end_matches('!');
                self.argument(called(command).map_or(command, |e| &e.name), rest, partial)
            }
        };
        (line_start + partial_at, candidates)
    }

    fn argument(&self, command: &str, rest: &[String], partial: &str) -> Vec<Pair> {
        match (command, rest) {
            ("swap", []) => self.slots(partial, true),
            ("swap", slot) => self.parts(partial, self.kind_of(slot).as_deref(), true),
            ("add", []) => self.parts(partial, None, true),
            ("add", [.., last]) if last == "mount" => self.rows("mount", partial),
            ("add", [.., last]) if last == "flow" => beginning(partial, ["in", "out"].map(plain)),
            ("add", _) => beginning(partial, ["x2", "mount ", "flow ", "owned"].map(plain)),
            ("drop", []) => self.slots(partial, false),
            ("take", []) => beginning(partial, self.kinds().map(|k| plain(format!("{} ", k.name)))),
            ("take", [.., last]) if last == "from" => files(partial),
            ("take", _) => beginning(partial, [plain("from ")]),
            ("set", []) => self.settable(partial),
            ("set", rest) => self.set_value(rest, partial),
            ("back" | "diff", _) => beginning(
                partial,
                self.marks.iter().map(String::as_str).chain(["start"]).map(plain),
            ),
            ("why", []) => beginning(partial, self.rules()),
            ("why" | "audit", _) => beginning(partial, [plain("all")]),
            ("mix", []) => files(partial),
            ("fit" | "mix", [.., last]) if last == "by" => {
                beginning(partial, self.measures.iter().map(plain))
            }
            ("fit" | "steps", []) => self.slots(partial, false),
            ("parts", []) => beginning(partial, self.kinds().map(|kind| plain(&*kind.name))),
            ("fit", _) => beginning(partial, ["by ", "all"].map(plain)),
            ("mix", [_]) => beginning(partial, [plain("by ")]),
            ("measures" | "watch", []) => beginning(partial, self.measures.iter().map(plain)),
            ("save" | "sheet" | "source" | "log", _) => files(partial),
            ("help", []) => {
                let commands = COMMANDS.all.iter().map(|e| pair(&e.name, what(e)));
                beginning(partial, commands.chain(self.rules()))
            }
            _ => Vec::new(),
        }
    }

    fn rules(&self) -> impl Iterator<Item = Pair> {
        let shown = |(id, title): &(String, String)| format!("{id:<ID_COLUMNS$} {title}");
        self.rules.iter().map(move |rule| pair(&rule.0, shown(rule)))
    }

    fn kinds(&self) -> impl Iterator<Item = &Kind> {
        self.catalogue.iter().flat_map(|c| &c.kinds)
    }

    fn kind_of(&self, slot: &[String]) -> Option<String> {
        let catalogue = self.catalogue.as_ref()?;
        let fits = line_lookup::find(&self.lines, catalogue, slot).ok()?;
        self.lines.get(*fits.first()?).map(|v| v.kind.clone())
    }

    /// Lines by name; with `parts`, a part's id may stand there as well.
    fn slots(&self, partial: &str, parts: bool) -> Vec<Pair> {
        let mut pairs = Vec::new();
        for (at, view) in self.lines.iter().enumerate() {
            let same: Vec<usize> = self
                .lines
                .iter()
                .enumerate()
                .filter(|(_, v)| v.kind == view.kind)
                .map(|(at, _)| at)
                .collect();
            let name = match same.as_slice() {
                [_] => view.kind.clone(),
                several => format!(
                    "{} {}",
                    view.kind,
                    several.iter().position(|s| *s == at).unwrap_or_default() + 1
                ),
            };
            pairs
                .push(pair(format!("{name} "), format!("{name:<14} {}", line_lookup::label(view))));
        }
        let mut found = beginning(partial, pairs);
        if let Some(number) = partial.strip_prefix('#') {
            found = self
                .lines
                .iter()
                .filter(|v| v.number.to_string().starts_with(number))
                .map(|v| pair(format!("#{} ", v.number), line_lookup::label(v)))
                .collect();
        }
        if found.is_empty() && parts {
            found = self.parts(partial, None, false);
        }
        found
    }

    /// Part ids: those of the kind, the cheapest first, each with its price and a telling figure.
    fn parts(&self, partial: &str, kind: Option<&str>, kinds_first: bool) -> Vec<Pair> {
        let Some(catalogue) = &self.catalogue else { return Vec::new() };
        if kind.is_none() && !partial.contains('/') && kinds_first {
            let kinds = beginning(
                partial,
                self.kinds()
                    .map(|k| pair(format!("{}/", k.name), format!("{:<14} {}", k.name, k.title))),
            );
            if !kinds.is_empty() {
                return kinds;
            }
        }
        let short = |id: &str| id.split_once('/').is_some_and(|(_, n)| n.starts_with(partial));
        let of_kind =
            |id: &str| kind.is_none_or(|k| id.split_once('/').is_some_and(|(pk, _)| pk == k));
        let priced = |fits: &dyn Fn(&Part) -> bool| -> Vec<(f64, &Arc<Part>)> {
            let fitting = catalogue.parts().filter(|p| of_kind(&p.id) && fits(p));
            fitting.map(|p| (self.price(catalogue, p).unwrap_or(f64::INFINITY), p)).collect()
        };
        let mut found = priced(&|p| p.id.starts_with(partial) || short(&p.id));
        let low = partial.to_lowercase();
        if found.is_empty() && partial.len() > 1 {
            found = priced(&|p| p.id.contains(&low) || p.name.to_lowercase().contains(&low));
        }
        if found.is_empty() && kind.is_some() {
            return self.parts(partial, None, false);
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.id.cmp(&b.1.id)));
        found
            .into_iter()
            .map(|(price, part)| pair(part.id.to_string(), candidate(catalogue, part, price)))
            .collect()
    }

    fn price(&self, catalogue: &Catalogue, part: &Part) -> Option<f64> {
        let offers = catalogue.offers.on(&part.id, self.day?);
        offers.iter().filter(|o| o.stock != Some(0)).map(|o| o.till().to_f64()).reduce(f64::min)
    }

    fn rows(&self, table: &str, partial: &str) -> Vec<Pair> {
        let rows = self.catalogue.as_ref().map_or(&[][..], |c| c.words(table));
        beginning(partial, rows.iter().map(|row| plain(row.to_string())))
    }

    fn settable(&self, partial: &str) -> Vec<Pair> {
        let fields = BUILD_FIELDS
            .iter()
            .map(|f| pair(format!("{} ", f.name), format!("{:<14} {}", f.name, f.meaning)));
        let mut found = beginning(partial, fields.chain([plain("priced_on ")]));
        found.extend(self.slots(partial, false));
        found
    }

    fn set_value(&self, rest: &[String], partial: &str) -> Vec<Pair> {
        let yes_no = || beginning(partial, ["yes", "no"].map(plain));
        match rest {
            [field] if field == "purpose" => self.rows("purpose", partial),
            [field] if BUILD_FIELDS.iter().any(|f| f.name == field) || field == "priced_on" => {
                beginning(partial, [plain("none")])
            }
            [.., key] if key == "mount" => self.rows("mount", partial),
            [.., key] if key == "flow" => beginning(partial, ["in", "out"].map(plain)),
            [.., key] if key == "owned" || key == "included" => yes_no(),
            [.., key] if LINE_KEYS.contains(&key.as_str()) => Vec::new(),
            _ => beginning(partial, LINE_KEYS.iter().map(|k| plain(format!("{k} ")))),
        }
    }

    /// Inside an expression: fields after a dot, names in quotes, variables and words.
    fn expression(&self, text: &str) -> (usize, Vec<Pair>) {
        let start =
            text.rfind(|c: char| !(c.is_alphanumeric() || c == '_' || c == '.')).map_or(0, |at| {
                at + text.get(at..).and_then(|r| r.chars().next()).map_or(1, char::len_utf8)
            });
        let token = text.get(start..).unwrap_or("");
        let before = text.get(..start).unwrap_or("").trim_end();
        if let Some(names) = self.call_arguments(before) {
            return (start, beginning(token, names.map(|name| plain(format!("{name}\")")))));
        }
        let Some((base, partial)) = token.rsplit_once('.') else {
            let words = ["build", "measure(\"", "setting(\"", "table(\"", "let "];
            let words = words.map(str::to_owned).into_iter().chain(self.variables.iter().cloned());
            return (start, beginning(token, words.map(plain)));
        };
        (start + base.len() + 1, beginning(partial, self.members(base)))
    }

    /// What may stand in the quotes of the call that ends the text, such as `measure("`.
    fn call_arguments(&self, before: &str) -> Option<impl Iterator<Item = String>> {
        let names: Vec<String> = if before.ends_with("measure(\"") {
            self.measures.clone()
        } else if before.ends_with("setting(\"") {
            self.settings.clone()
        } else if before.ends_with("all(\"") || before.ends_with("count(\"") {
            self.kinds().map(|kind| kind.name.to_string()).collect()
        } else {
            return None;
        };
        Some(names.into_iter())
    }

    /// What may follow `base` and a dot: words of the build, or fields and words of a line.
    fn members(&self, base: &str) -> Vec<Pair> {
        if base == "build" {
            let kinds = self.kinds().map(|k| (&*k.name, &*k.title));
            let fields = BUILD_FIELDS.iter().map(|f| (f.name, f.meaning));
            let calls =
                ["total", "unpriced", "lines", "all(\"", "count(\"", "sum(\"", "opt(\"", "has(\""];
            let named = kinds.chain(fields).map(|(n, means)| pair(n, format!("{n:<16} {means}")));
            return named.chain(calls.map(plain)).collect();
        }
        let kind = base
            .strip_prefix("build.")
            .and_then(|name| self.kinds().find(|k| *k.name == *name.trim_end_matches('?')));
        let fields = kind.into_iter().flat_map(|kind| &kind.fields).map(|f| {
            let shown = format!("{:<18} {}, {}", f.name, f.meaning, f.type_in_words());
            pair(f.name.to_string(), shown)
        });
        let words = LINE_WORDS.split(' ').filter(|w| *w != "at").map(plain);
        fields.chain(words).collect()
    }
}

/// A part in a list of candidates: id, price, telling figure, name.
fn candidate(catalogue: &Catalogue, part: &Part, price: f64) -> String {
    let price = if price.is_finite() { format!("{price:.2}") } else { "no price".to_owned() };
    let figures = part_words::figures(catalogue, part);
    let figure = figures.first().map_or("", String::as_str);
    format!("{:<ID_COLUMNS$} {price:>9}  {figure:<12} {}", part.id, part.name)
}

/// File and folder names that begin with what was typed; folders end with a slash, hidden names are
/// passed over.
fn files(partial: &str) -> Vec<Pair> {
    let (folder, name) = partial.rsplit_once('/').map_or(("", partial), |(f, n)| (f, n));
    let shown = if partial.starts_with('/') && folder.is_empty() {
        "/".to_owned()
    } else if folder.is_empty() {
        String::new()
    } else {
        format!("{folder}/")
    };
    let path = if shown.is_empty() { Path::new(".") } else { Path::new(&shown) };
    let mut found: Vec<Pair> = std::fs::read_dir(path)
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| {
            let file = entry.file_name().into_string().ok()?;
            let folder = entry.path().is_dir();
            let wanted = file.starts_with(name)
                && !file.starts_with('.')
                && !file.contains(char::is_whitespace)
                && (folder || file.ends_with(".toml"));
            wanted.then(|| {
                pair(format!("{shown}{file}{}", if folder { "/" } else { "" }), file.clone())
            })
        })
        .collect();
    found.sort_by(|a, b| a.replacement.cmp(&b.replacement));
    found
}
