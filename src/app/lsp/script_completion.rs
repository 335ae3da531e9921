//! What may be written at the cursor of a rule script, and the lens over each rule: what its cases
//! show, and which of the open lists it fires on now.

use lsp_types::{
    CodeLens, Command, CompletionItem, CompletionItemKind, CompletionTextEdit, TextEdit,
};
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::documents::Document;
use super::requests::At;
use super::script_words::{build_fields, kind_before, open_call, stem};
use super::searcher::CasesRun;
use super::server::Failure;
use crate::app::counted::count;
use crate::app::writing::signatures::parts;
use crate::catalogue::kinds::LINE_WORDS;
use crate::rules::loader::Rule;
use crate::rules::outline::Outline;
use crate::source::{Label, Span};
use crate::words::some_of;

/// Lists that are named in a lens.
const LISTS: usize = 4;

/// What may stand at the cursor.
pub(super) fn complete(here: &Here<'_>) -> Vec<CompletionItem> {
    let text = here.text();
    let before = text.get(..here.offset).unwrap_or("");
    let of_word = |c: char| c.is_alphanumeric() || c == '_';
    let start = before.trim_end_matches(of_word).len();
    let mut found = Found { here, at: Span::new(start, here.offset), items: Vec::new() };
    let outline = Outline::read(text);
    if let Some(quote) = open_quote(before) {
        found.at = Span::new(quote, here.offset);
        let call = open_call(&outline, quote - 1).map(|(name, _)| name);
        found.names(call.unwrap_or(""));
    } else if before.get(..start).is_some_and(|b| b.ends_with("::")) {
        let stem = before.get(..start - 2).unwrap_or("");
        let stem = stem.get(stem.trim_end_matches(of_word).len()..).unwrap_or("");
        found.helpers(stem);
    } else if before.get(..start).is_some_and(|b| b.ends_with('.')) {
        found.after_point(&outline, start);
    } else {
        found.bare(&outline);
    }
    found.items
}

/// Where a text in quotes begins that is still open at the end.
fn open_quote(before: &str) -> Option<usize> {
    let line = before.rfind('\n').map_or(0, |at| at + 1);
    let body = before.get(line..)?;
    let mut open = None;
    let mut escaped = false;
    for (at, c) in body.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' if open.is_some() => escaped = true,
            '"' => open = if open.is_some() { None } else { Some(line + at + 1) },
            '/' if open.is_none() && body.get(at..).is_some_and(|r| r.starts_with("//")) => {
                return None;
            }
            _ => {}
        }
    }
    open
}

struct Found<'h, 'a> {
    here: &'h Here<'a>,
    at: Span,
    items: Vec<CompletionItem>,
}

impl Found<'_, '_> {
    fn add(&mut self, word: &str, kind: CompletionItemKind, detail: &str) {
        if self.items.iter().any(|item| item.label == word) {
            return;
        }
        let range = self.here.doc.range(self.at, self.here.encoding);
        let edit = TextEdit { range, new_text: word.to_owned() };
        self.items.push(CompletionItem {
            label: word.to_owned(),
            kind: Some(kind),
            detail: (!detail.is_empty()).then(|| detail.to_owned()),
            text_edit: Some(CompletionTextEdit::Edit(edit)),
            ..CompletionItem::default()
        });
    }

    /// Names in quotes, by the call that they are an argument of.
    fn names(&mut self, call: &str) {
        let Some(kit) = self.here.kit() else { return };
        let catalogue = kit.catalogue().clone();
        let own = format!("{}.", stem(self.here));
        match call {
            "setting" => {
                for setting in kit.settings().all() {
                    let name = setting.name.strip_prefix(&own).unwrap_or(&setting.name);
                    let value =
                        format!("{} {}: {}", setting.value.show(), setting.unit, setting.meaning);
                    self.add(name, CompletionItemKind::CONSTANT, &value);
                }
            }
            "measure" => {
                for rule in kit.rules().rules.iter().filter(|r| r.unit.is_some()) {
                    let name = rule.id.strip_prefix(&own).unwrap_or(&rule.id);
                    self.add(name, CompletionItemKind::FUNCTION, &rule.title);
                }
            }
            "table" | "table_opt" | "rows" => {
                for table in &catalogue.tables {
                    self.add(&table.name, CompletionItemKind::STRUCT, &table.meaning);
                }
            }
            "all" | "count" => self.kinds(),
            "has" | "opt" | "sum" | "at" => {
                for kind in &catalogue.kinds {
                    for field in &kind.fields {
                        self.add(&field.name, CompletionItemKind::FIELD, &field.meaning);
                    }
                }
            }
            _ => {}
        }
    }

    fn kinds(&mut self) {
        let Some(kit) = self.here.kit() else { return };
        for kind in &kit.catalogue().kinds {
            self.add(&kind.name, CompletionItemKind::CLASS, &kind.title);
        }
    }

    fn helpers(&mut self, stem: &str) {
        let Some(kit) = self.here.kit() else { return };
        let rules = kit.rules();
        for file in rules.files.iter().filter(|f| f.lib && *f.stem == *stem) {
            for function in file.ast.iter_functions() {
                let head = format!("{}({})", function.name, function.params.join(", "));
                self.add(function.name, CompletionItemKind::FUNCTION, &head);
            }
        }
    }

    /// Words behind a point: fields of a line, or what a list answers.
    fn after_point(&mut self, outline: &Outline<'_>, start: usize) {
        let Some(kit) = self.here.kit() else { return };
        let catalogue = kit.catalogue().clone();
        // The token that stands, or would stand, behind the point.
        let at = outline.tokens.iter().position(|t| t.span.start() >= start);
        let at = at.unwrap_or(outline.tokens.len());
        let owner = at.checked_sub(2).and_then(|at| outline.tokens.get(at));
        if owner.is_some_and(|t| t.word("build")) {
            self.kinds();
            for (name, meaning) in build_fields() {
                self.add(name, CompletionItemKind::FIELD, meaning);
            }
            return self.host("build.");
        }
        let kind = kind_before(outline, at).and_then(|word| catalogue.kind_named(word));
        let kinds: Vec<_> = match kind {
            Some(kind) => vec![kind],
            None => catalogue.kinds.iter().collect(),
        };
        for kind in kinds {
            for field in &kind.fields {
                let unit = if field.unit.is_empty() {
                    String::new()
                } else {
                    format!(" ({})", field.unit)
                };
                let detail = format!("{}{unit}", field.meaning);
                self.add(&field.name, CompletionItemKind::FIELD, &detail);
            }
        }
        for word in LINE_WORDS.split(' ') {
            self.add(word, CompletionItemKind::PROPERTY, "");
        }
        self.host("line.");
        self.host("finding.");
    }

    /// The host's words of an owner, `build.`; of none where it is empty.
    fn host(&mut self, owner: &str) {
        let Some(kit) = self.here.kit() else { return };
        let words: Vec<(String, String)> = kit
            .words()
            .iter()
            .flat_map(|word| parts(&word.signature).into_iter().map(|p| (p, &word.meaning)))
            .filter_map(|(part, meaning)| {
                let head = part.split('(').next().unwrap_or(part).trim();
                let name = match owner {
                    "" => (!head.contains('.')).then_some(head),
                    owner => head.strip_prefix(owner),
                }?;
                let word = name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
                (word && !name.is_empty()).then(|| (name.to_owned(), format!("{part}: {meaning}")))
            })
            .collect();
        for (name, detail) in words {
            self.add(&name, CompletionItemKind::FUNCTION, &detail);
        }
    }

    fn bare(&mut self, outline: &Outline<'_>) {
        self.add("build", CompletionItemKind::VARIABLE, "the list that is audited");
        for function in &outline.functions {
            self.add(function.name, CompletionItemKind::FUNCTION, "of this file");
        }
        self.host("");
        let Some(kit) = self.here.kit() else { return };
        for file in kit.rules().files.iter().filter(|f| f.lib) {
            self.add(&file.stem, CompletionItemKind::MODULE, &file.about);
        }
        let mut own: Vec<&str> = outline.own.iter().copied().collect();
        own.sort_unstable();
        for name in own {
            self.add(name, CompletionItemKind::VARIABLE, "");
        }
    }
}

/// The lenses of a script: over each rule what its cases show, and which open lists it fires on.
pub(super) fn lenses(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    let Some(kit) = here.kit().filter(|_| here.is_script()) else { return Ok(json!([])) };
    let rules = kit.rules();
    let run = here.server.cases.get(&here.doc.canonical);
    let mut lenses = Vec::new();
    for rule in &rules.rules {
        let file = rules.files.get(rule.file_at as usize);
        if file.is_none_or(|file| file.source.name != here.source.name) {
            continue;
        }
        let range = here.doc.range(rule.span(), here.encoding);
        for title in [of_cases(rule, run), fires_on(here, rule)].into_iter().flatten() {
            let command = Command { title, command: String::new(), arguments: None };
            lenses.push(CodeLens { range, command: Some(command), data: None });
        }
    }
    Ok(json!(lenses))
}

fn of_cases(rule: &Rule, run: Option<&CasesRun>) -> Option<String> {
    let report = match run {
        None => return Some("save the file to run its cases".to_owned()),
        Some(Err(_)) => return Some("no cases".to_owned()),
        Some(Ok(report)) => report,
    };
    let in_rule = |label: &Label| {
        let outline = Outline::read(&label.source.text);
        let (name, end) = outline.place(&rule.function);
        *rule.file == *file_stem(&label.source.name)
            && name.start() <= label.span.start()
            && label.span.start() < end
    };
    let failed = report.failures.len();
    let mut words = vec![match failed {
        0 => format!("{} passed", count(report.cases, "case")),
        n => format!("{} of {} in error", n, count(report.checks, "check")),
    }];
    if report.unfired.iter().any(|id| **id == *rule.id) {
        words.push("no case fires it".to_owned());
    }
    if report.unsilent.iter().any(|id| **id == *rule.id) {
        words.push("no case leaves it silent".to_owned());
    }
    let one_sided = report.one_sided.iter().filter(|(label, _)| in_rule(label)).count();
    let unreached = report.unreached.iter().filter(|label| in_rule(label)).count();
    match one_sided + unreached {
        0 => words.push("every branch seen".to_owned()),
        1 => words.push("1 branch unseen".to_owned()),
        n => words.push(format!("{n} branches unseen")),
    }
    Some(words.join(", "))
}

fn file_stem(name: &str) -> &str {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    file.strip_suffix(".rhai").unwrap_or(file)
}

/// The open lists that a rule fires on as they are now.
fn fires_on(here: &Here<'_>, rule: &Rule) -> Option<String> {
    if rule.unit.is_some() {
        return None;
    }
    let lists: Vec<&Document> =
        here.server.docs.values().filter(|d| d.shop == here.doc.shop).collect();
    let audited = |doc: &Document| {
        let view = doc.seen.as_ref()?.outcome.as_ref().ok()?.clone();
        let audited = view.audited.as_ref()?;
        let fires = audited.findings.iter().any(|m| *m.finding.rule == *rule.id);
        Some((doc.name.clone(), fires))
    };
    let all: Vec<(String, bool)> = lists.into_iter().filter_map(audited).collect();
    if all.is_empty() {
        return None;
    }
    let mut names: Vec<&str> = all.iter().filter(|(_, f)| *f).map(|(n, _)| n.as_str()).collect();
    names.sort_unstable();
    Some(match names.len() {
        0 => format!("silent on {}", count(all.len(), "open list")),
        _ => format!("fires on {}", some_of(names, LISTS)),
    })
}
