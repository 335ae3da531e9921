//! What the handbook says: rules by subject, kinds with who reads their fields, tables, words and
//! settings, each with its page's address.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use crate::app::report::json::join;
use crate::app::writing::examples::{Example, Shown, gather as examples, readers};
use crate::app::writing::kind_fields::field_rows;
use crate::app::writing::rule_page::{script_of, settings_of};
use crate::catalogue::tables::Table;
use crate::kit::{Kit, Layers};
use crate::level::Level;
use crate::rules::loader::Rule;

/// A page, not yet drawn.
pub(super) struct Page {
    pub(super) below: String,
    pub(super) template: &'static str,
    pub(super) values: Value,
}

/// Everything the handbook holds.
pub(super) struct Subjects {
    pages: Vec<Page>,
    /// What is searched: title, address, and the words beside it.
    index: Vec<[String; 3]>,
}

/// A name as a file's: letters that paths or addresses read otherwise are written in figures.
fn file_name(name: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-');
    name.chars()
        .map(|c| if plain(c) { c.to_string() } else { format!("~{:x}", u32::from(c)) })
        .collect()
}

fn rule_page(id: &str) -> String {
    format!("rules/{}.html", file_name(id))
}

fn kind_page(name: &str) -> String {
    format!("kinds/{}.html", file_name(name))
}

fn table_page(name: &str) -> String {
    format!("tables/{}.html", file_name(name))
}

fn subject_page(stem: &str) -> String {
    format!("subjects/{}.html", file_name(stem))
}

/// Gathers it from a kit; the cases of all rules are run for it.
pub(super) fn gather(kit: &Kit, layers: &Layers) -> Subjects {
    let shown = examples(kit, layers, |_| true);
    let mut book = Subjects { pages: Vec::new(), index: Vec::new() };
    let readers = readers(&shown);
    book.rules(kit, &shown);
    book.kinds(kit, &readers);
    book.tables(kit, &readers);
    book.words(kit);
    book.settings(kit);
    book
}

fn links(ids: &[String]) -> Value {
    ids.iter().map(|id| json!({ "id": id, "page": rule_page(id) })).collect()
}

fn example(example: Option<&Example>) -> Value {
    example.map_or(Value::Null, |e| json!({ "place": e.place, "text": e.text, "said": e.said }))
}

/// What a rule is, in a word or two.
fn sort_of(rule: &Rule) -> String {
    match &rule.unit {
        Some(unit) if unit.is_empty() => "measure".to_owned(),
        Some(unit) => format!("measure, {unit}"),
        None if rule.step.is_some() => "step of the work".to_owned(),
        None => rule.levels().iter().map(Level::to_string).collect::<Vec<_>>().join(", "),
    }
}

impl Subjects {
    pub(super) fn pages(&self) -> impl Iterator<Item = Page> {
        self.pages.iter().map(|page| Page {
            below: page.below.clone(),
            template: page.template,
            values: page.values.clone(),
        })
    }

    /// What the search looks through, as a script, since pages on a disk may load no other file.
    pub(super) fn search_index(&self) -> String {
        let rows: Vec<Value> = self.index.iter().map(|row| json!(row)).collect();
        // Inside a script nothing may end it.
        let text = Value::from(rows).to_string().replace('<', "\\u003c");
        format!("const FOUND = {text};\n")
    }

    /// Adds a page, with what every page has.
    fn add(&mut self, below: String, template: &'static str, title: &str, words: &str, own: Value) {
        let up = "../".repeat(below.matches('/').count());
        let head = json!({ "title": title, "up": up, "version": env!("CARGO_PKG_VERSION") });
        let values = join(head, own);
        self.index.push([title.to_owned(), below.clone(), words.to_owned()]);
        self.pages.push(Page { below, template, values });
    }

    fn rules(&mut self, kit: &Kit, shown: &BTreeMap<String, Shown>) {
        let rules = kit.rules();
        let mut stems: Vec<&str> = rules.rules.iter().map(|rule| &*rule.file).collect();
        stems.dedup();
        let mut listed = Vec::new();
        for stem in stems {
            let of = || rules.rules.iter().filter(|rule| *rule.file == *stem);
            let about =
                rules.files.iter().find(|f| !f.lib && *f.stem == *stem && !f.about.is_empty());
            let about = about.map_or("", |file| &file.about);
            let rows: Vec<Value> = of()
                .map(|rule| {
                    json!({ "id": rule.id.to_string(), "page": rule_page(&rule.id),
                            "title": rule.title.to_string(), "sort": sort_of(rule) })
                })
                .collect();
            listed.push(json!({ "stem": stem, "about": about, "page": subject_page(stem),
                                "count": rows.len() }));
            let own = json!({ "about": about, "rules": rows });
            self.add(subject_page(stem), "subject.html", stem, about, own);
        }
        let own = json!({ "subjects": listed, "kinds": kit.catalogue().kinds.len(),
                          "tables": kit.catalogue().tables.len(), "rules": rules.rules.len() });
        self.add("index.html".to_owned(), "index.html", "The rules of this shop", "", own);
        for rule in &rules.rules {
            let nothing = Shown::default();
            let shown = shown.get(&*rule.id).unwrap_or(&nothing);
            let own = rule_values(kit, rule, shown);
            let words = format!("{} {} {}", rule.title, rule.why, rule.tags.join(" "));
            self.add(rule_page(&rule.id), "rule.html", &rule.id, &words, own);
        }
    }

    fn kinds(&mut self, kit: &Kit, readers: &BTreeMap<String, Vec<String>>) {
        let kinds = &kit.catalogue().kinds;
        let rows: Vec<Value> = kinds
            .iter()
            .map(|kind| {
                json!({ "name": kind.name.to_string(), "title": kind.title,
                        "meaning": kind.meaning, "page": kind_page(&kind.name) })
            })
            .collect();
        let own = json!({ "kinds": rows });
        self.add("kinds.html".to_owned(), "kinds.html", "Kinds of parts", "", own);
        for kind in kinds {
            let fields: Vec<Value> = field_rows(kind, readers)
                .into_iter()
                .map(|row| {
                    json!({ "inner": row.name.contains('.'), "name": row.name, "type": row.holds,
                            "meaning": row.meaning, "left_out": row.left_out,
                            "readers": links(&row.readers) })
                })
                .collect();
            let own = json!({ "name": kind.name.to_string(), "meaning": kind.meaning,
                              "also": kind.also.iter().map(|a| a.to_string()).collect::<Vec<_>>(),
                              "fields": fields });
            let words = format!("{} {} {}", kind.name, kind.meaning, kind.also.join(" "));
            self.add(kind_page(&kind.name), "kind.html", &kind.title, &words, own);
        }
    }

    fn tables(&mut self, kit: &Kit, readers: &BTreeMap<String, Vec<String>>) {
        let tables = &kit.catalogue().tables;
        let rows: Vec<Value> = tables
            .iter()
            .map(|table| {
                json!({ "name": table.name.to_string(), "meaning": table.meaning,
                        "citation": table.citation, "page": table_page(&table.name) })
            })
            .collect();
        let own = json!({ "tables": rows });
        self.add("tables.html".to_owned(), "tables.html", "Tables and their sources", "", own);
        for table in tables {
            let own = table_values(table, readers);
            let words = format!("{} {}", table.meaning, table.citation);
            let title = format!("Table {}", table.name);
            self.add(table_page(&table.name), "table.html", &title, &words, own);
        }
    }

    fn words(&mut self, kit: &Kit) {
        let mut groups: Vec<(&str, Vec<Value>)> = Vec::new();
        for word in kit.words() {
            if groups.last().is_none_or(|(subject, _)| *subject != word.subject) {
                groups.push((word.subject, Vec::new()));
            }
            if let Some((_, words)) = groups.last_mut() {
                words.push(json!({ "signature": word.signature, "meaning": word.meaning }));
            }
        }
        let all: Vec<&str> = kit.words().iter().map(|word| word.signature.as_str()).collect();
        let groups: Vec<Value> = groups
            .into_iter()
            .map(|(subject, words)| json!({ "subject": subject, "words": words }))
            .collect();
        let own = json!({ "groups": groups });
        self.add("words.html".to_owned(), "words.html", "Words for scripts", &all.join(" "), own);
    }

    fn settings(&mut self, kit: &Kit) {
        let settings = kit.settings();
        let rows: Vec<Value> = settings
            .all()
            .into_iter()
            .map(|s| {
                json!({ "name": s.name.to_string(), "value": s.value.show(),
                        "unit": s.unit.to_string(), "meaning": s.meaning, "basis": s.basis,
                        "layer": s.layer })
            })
            .collect();
        let names: Vec<String> = settings.all().iter().map(|s| s.name.to_string()).collect();
        let own = json!({ "settings": rows });
        self.add("settings.html".to_owned(), "settings.html", "Settings", &names.join(" "), own);
    }
}

fn rule_values(kit: &Kit, rule: &Rule, shown: &Shown) -> Value {
    let settings: Vec<Value> = settings_of(kit, rule)
        .into_iter()
        .map(|s| {
            json!({ "name": s.name.to_string(), "value": s.value.show(),
                    "unit": s.unit.to_string(), "meaning": s.meaning, "basis": s.basis })
        })
        .collect();
    let choices = kit.settings();
    let choice = choices.choices.get(&*rule.id).map(|choice| choice.words());
    let script = script_of(kit, rule)
        .map(|(file, line, text)| json!({ "place": format!("{file}:{line}"), "text": text }));
    let reads: Vec<Value> = shown
        .reads
        .iter()
        .map(|place| {
            let kind = place.split(['.', '[']).next().unwrap_or(place);
            let page = kit.catalogue().kind_id(kind).map(|_| kind_page(kind));
            json!({ "place": place, "page": page })
        })
        .collect();
    let over = rule.over.clone();
    json!({
        "sentence": rule.title.to_string(), "why": rule.why, "sort": sort_of(rule),
        "measure": rule.unit.is_some(), "basis": rule.basis, "remedy": rule.remedy,
        "subject": rule.file.to_string(), "subject_page": subject_page(&rule.file),
        "layer": rule.layer, "over": over, "choice": choice, "settings": settings,
        "reads": reads, "fires": example(shown.fires.as_ref()),
        "silent": example(shown.silent.as_ref()), "script": script,
        "never_assumes": rule.assumes_nothing, "notes": rule.notes(),
        "flaw": rule.flaw.as_ref().map(|flaw| flaw.message.clone()),
    })
}

fn table_values(table: &Table, readers: &BTreeMap<String, Vec<String>>) -> Value {
    let columns: Vec<Value> = table
        .columns
        .iter()
        .map(|c| {
            json!({ "name": c.name.to_string(), "unit": c.unit.to_string(), "meaning": c.meaning })
        })
        .collect();
    let rows: Vec<Value> = table
        .rows
        .iter()
        .map(|row| {
            let cells: Vec<String> =
                (0u16..).take(table.columns.len()).map(|at| table.cell(row, at).show()).collect();
            json!({ "name": row.to_string(), "cells": cells })
        })
        .collect();
    let prefix = format!("table {}", table.name);
    let of = |place: &&String| {
        place
            .strip_prefix(&prefix)
            .is_some_and(|rest| rest.starts_with(['.', '[']) || rest.is_empty())
    };
    let mut read: Vec<String> = readers
        .keys()
        .filter(of)
        .filter_map(|place| readers.get(place))
        .flatten()
        .cloned()
        .collect();
    read.sort();
    read.dedup();
    json!({ "meaning": table.meaning, "citation": table.citation, "basis": table.basis,
            "columns": columns, "rows": rows, "readers": links(&read) })
}
