//! What may stand at the cursor of a TOML text: keys with their meaning, ids of parts with price
//! and telling figures, kinds, mounts, rules, words of a table.

use std::collections::HashSet;

use lsp_types::{
    CompletionItem, CompletionItemKind, CompletionList, CompletionTextEdit, Documentation,
    MarkupContent, MarkupKind, TextEdit,
};
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::documents::Sort;
use super::hover::md;
use super::requests::At;
use super::script_completion;
use super::server::Failure;
use super::toml_cursor::Cursor;
use crate::app::part_words;
use crate::build::waivers::WHOLE_BUILD;
use crate::catalogue::declared::Takes;
use crate::catalogue::kinds::{FieldType, Words};
use crate::catalogue::{Catalogue, Part};
use crate::source::Span;

/// Most that is offered at once; what is typed next narrows it.
pub(super) const MOST: usize = 200;

/// What may stand at the cursor.
pub(super) fn complete(here: &Here<'_>, _: &At) -> Result<Value, Failure> {
    if here.is_script() {
        return Ok(json!(script_completion::complete(here)));
    }
    if here.doc.uri.ends_with(".csv") {
        let mut found = Found { here, items: Vec::new(), whole: true };
        found.cells();
        return Ok(json!(CompletionList { is_incomplete: !found.whole, items: found.items }));
    }
    let Some(cursor) = Cursor::at(&here.outline, here.text(), here.offset) else {
        return Ok(Value::Null);
    };
    let mut found = Found { here, items: Vec::new(), whole: true };
    if cursor.on_heading {
        found.headings(&cursor);
    } else if cursor.in_value {
        found.values(&cursor);
    } else {
        found.keys(&cursor);
    }
    Ok(json!(CompletionList { is_incomplete: !found.whole, items: found.items }))
}

pub(super) struct Found<'h, 'a> {
    pub(super) here: &'h Here<'a>,
    items: Vec<CompletionItem>,
    pub(super) whole: bool,
}

impl Found<'_, '_> {
    /// Adds a word that takes the place of what stands at the cursor.
    pub(super) fn add(
        &mut self,
        word: &str,
        kind: CompletionItemKind,
        detail: String,
        at: Span,
        text: String,
    ) {
        if self.items.len() >= MOST {
            self.whole = false;
            return;
        }
        let range = self.here.doc.range(at, self.here.encoding);
        self.items.push(CompletionItem {
            label: word.to_owned(),
            kind: Some(kind),
            detail: (!detail.is_empty()).then_some(detail),
            sort_text: Some(format!("{:04}", self.items.len())),
            filter_text: Some(text.clone()),
            text_edit: Some(CompletionTextEdit::Edit(TextEdit { range, new_text: text })),
            ..CompletionItem::default()
        });
    }

    /// A word of a text in quotes, with the quotes where there are none yet.
    fn quoted(
        &mut self,
        word: &str,
        kind: CompletionItemKind,
        detail: String,
        cursor: &Cursor<'_>,
    ) {
        match cursor.string {
            Some(span) => self.add(word, kind, detail, span, word.to_owned()),
            None => self.add(word, kind, detail, self.bare(), format!("\"{word}\"")),
        }
    }

    /// The word at the cursor, without quotes.
    fn bare(&self) -> Span {
        let text = self.here.text();
        let before = text.get(..self.here.offset).unwrap_or("");
        let of_word = |c: char| c.is_alphanumeric() || "_-/.".contains(c);
        Span::new(before.trim_end_matches(of_word).len(), self.here.offset)
    }

    /// What was typed so far of the word at the cursor, in lower case.
    fn typed(&self, cursor: &Cursor<'_>) -> String {
        let from = cursor.string.map_or_else(|| self.bare().start(), Span::start);
        self.here.text().get(from..self.here.offset).unwrap_or("").to_lowercase()
    }

    fn headings(&mut self, cursor: &Cursor<'_>) {
        let words: &[&str] = match (self.here.doc.sort, self.here.below()) {
            (Sort::List | Sort::Brief, _) => &["[[line]]", "[[waive]]"],
            (_, Some(below)) if below == "waivers.toml" => &["[[waive]]"],
            (_, Some(below)) if below.ends_with(".cases.toml") => {
                &["[[case]]", "[[case.line]]", "[[case.find]]", "[[case.measure]]"]
            }
            (_, Some(below)) if below.starts_with("kinds/") => &["[field.name]"],
            (_, Some(below)) if below.starts_with("tables/") => &["[column.name]", "[row.name]"],
            (_, Some(below)) if below == "settings.toml" => &["[rule.\"file.name\"]"],
            _ if self.here.is_config() => {
                &["[shop]", "[shop.tax]", "[[shop.labour]]", "[packs.name]"]
            }
            _ => &[],
        };
        for word in words {
            let text = (*word).to_owned();
            self.add(word, CompletionItemKind::STRUCT, String::new(), cursor.table.head, text);
        }
    }

    fn keys(&mut self, cursor: &Cursor<'_>) {
        let at = match cursor.entry {
            Some(entry) if entry.key_span.start() <= self.here.offset => entry.key_span,
            _ => self.bare(),
        };
        let own = cursor.entry.map(|entry| entry.key.as_str());
        let written: HashSet<&str> = cursor.table.entries.iter().map(|e| e.key.as_str()).collect();
        let equals = cursor.entry.is_some_and(|entry| entry.after_equals.is_some());
        for key in self.here.keys(cursor) {
            if written.contains(key.name.as_str()) && own != Some(&key.name) {
                continue;
            }
            let open = match key.takes {
                _ if equals => String::new(),
                Takes::Tables(_) => {
                    let text = format!("[[{}]]", key.name);
                    self.add(&text, CompletionItemKind::STRUCT, key.meaning, at, text.clone());
                    continue;
                }
                _ => " = ".to_owned(),
            };
            let unit = if key.unit.is_empty() { String::new() } else { format!(" ({})", key.unit) };
            let text = format!("{}{open}", key.name);
            let detail = format!("{}{unit}", key.meaning);
            self.add(&key.name, CompletionItemKind::PROPERTY, detail, at, text);
        }
    }

    fn values(&mut self, cursor: &Cursor<'_>) {
        let Some(key) = cursor.key(self.here.text(), self.here.offset) else { return };
        let Some(kit) = self.here.kit() else { return };
        let catalogue = kit.catalogue().clone();
        if let Some(kind) = self.here.kind_at(cursor).filter(|_| self.here.takes_fields(cursor))
            && let Some((_, field)) = kind.field(&key)
        {
            return self.field_values(&field.ty, &catalogue, cursor);
        }
        let outer = cursor.entry.map_or("", |entry| entry.key.as_str());
        match (key.as_str(), outer) {
            ("part" | "bundles", _) => self.parts(&catalogue, None, cursor),
            ("any" | "kind" | "needs", _) => self.kinds(&catalogue, cursor),
            ("rule", _) | (_, "silent" | "open") => self.rules(cursor, false),
            ("subject", _) => self.subjects(&catalogue, cursor),
            ("minimise" | "maximise" | "name", _) if self.wants_measure(cursor) => {
                self.rules(cursor, true);
            }
            ("lacks" | "unknown" | "wants", _) => self.fields(cursor),
            // Between the braces, before any key.
            ("facts", "facts") => self.fields(cursor),
            ("figures" | "ranks" | "shown", _) if self.in_folder("kinds/") => {
                self.own_fields(cursor);
            }
            ("from" | "keys", _) if self.in_folder("kinds/") => {
                for table in &catalogue.tables {
                    let detail = table.meaning.clone();
                    self.quoted(&table.name, CompletionItemKind::CLASS, detail, cursor);
                }
            }
            _ => {
                let known = self.here.keys(cursor).into_iter().find(|known| known.name == key);
                for word in known.iter().flat_map(|known| &known.words) {
                    self.quoted(word, CompletionItemKind::ENUM_MEMBER, String::new(), cursor);
                }
                if let Some(known) = known {
                    self.takes(known.takes, &catalogue, cursor);
                }
            }
        }
    }

    fn in_folder(&self, folder: &str) -> bool {
        self.here.below().is_some_and(|below| below.starts_with(folder))
    }

    /// The fields that the text of a kind declares.
    fn own_fields(&mut self, cursor: &Cursor<'_>) {
        let here = self.here;
        for table in here.outline.tables.iter().filter(|t| t.path.len() == 2) {
            let meaning = table.text(here.text(), "meaning").unwrap_or("").to_owned();
            for name in table.path.iter().skip(1) {
                self.quoted(name, CompletionItemKind::FIELD, meaning.clone(), cursor);
            }
        }
    }

    fn wants_measure(&self, cursor: &Cursor<'_>) -> bool {
        self.here.doc.sort == Sort::Brief || cursor.table.is(&["case", "measure"])
    }

    fn takes(&mut self, takes: Takes, catalogue: &Catalogue, cursor: &Cursor<'_>) {
        match takes {
            Takes::Flag => self.plain(&["true", "false"], cursor),
            Takes::Words(words) => {
                for word in words {
                    self.quoted(word, CompletionItemKind::ENUM_MEMBER, String::new(), cursor);
                }
            }
            Takes::Rows(table) => self.rows(catalogue, table, cursor),
            Takes::Day => {
                let today = self.here.server.shops.base().today().to_string();
                self.plain(&[&today], cursor);
            }
            Takes::Other | Takes::Table(_) if cursor.string.is_none() => self.fields(cursor),
            _ => {}
        }
    }

    fn plain(&mut self, words: &[&str], cursor: &Cursor<'_>) {
        if cursor.string.is_some() {
            return;
        }
        for word in words {
            let at = self.bare();
            self.add(word, CompletionItemKind::VALUE, String::new(), at, (*word).to_owned());
        }
    }

    fn rows(&mut self, catalogue: &Catalogue, table: &str, cursor: &Cursor<'_>) {
        for word in catalogue.words(table) {
            self.quoted(word, CompletionItemKind::ENUM_MEMBER, String::new(), cursor);
        }
    }

    fn field_values(&mut self, ty: &FieldType, catalogue: &Catalogue, cursor: &Cursor<'_>) {
        match ty {
            FieldType::Flag => self.plain(&["true", "false"], cursor),
            FieldType::Text(words) | FieldType::List(words) | FieldType::Counts(words) => {
                match words {
                    Words::Any => {}
                    Words::OneOf(words) => {
                        for word in words {
                            let kind = CompletionItemKind::ENUM_MEMBER;
                            self.quoted(word, kind, String::new(), cursor);
                        }
                    }
                    Words::Table(table) => self.rows(catalogue, table, cursor),
                }
            }
            FieldType::Records(fields) => {
                // The keys of a record, and of each the words that it may be.
                let key = cursor.key(self.here.text(), self.here.offset).unwrap_or_default();
                match fields.iter().find(|f| *f.name == *key) {
                    Some(field) => self.field_values(&field.ty, catalogue, cursor),
                    None => {
                        for field in fields {
                            let (at, text) = (self.bare(), format!("{} = ", field.name));
                            let kind = CompletionItemKind::PROPERTY;
                            self.add(&field.name, kind, field.meaning.clone(), at, text);
                        }
                    }
                }
            }
            FieldType::Number => {}
        }
    }

    fn fields(&mut self, cursor: &Cursor<'_>) {
        let Some(kind) = self.here.kind_at(cursor) else { return };
        let at = match cursor.string {
            // The last word of an expression.
            Some(span) => {
                let bare = self.bare();
                Span::new(bare.start().max(span.start()), bare.end())
            }
            None => self.bare(),
        };
        for field in &kind.fields {
            let inside = cursor.string.is_some();
            let name = field.name.to_string();
            let text = if inside { name.clone() } else { format!("{name} = ") };
            self.add(&name, CompletionItemKind::FIELD, field.meaning.clone(), at, text);
        }
    }

    fn kinds(&mut self, catalogue: &Catalogue, cursor: &Cursor<'_>) {
        for kind in &catalogue.kinds {
            self.quoted(&kind.name, CompletionItemKind::CLASS, kind.title.clone(), cursor);
        }
    }

    fn rules(&mut self, cursor: &Cursor<'_>, measures: bool) {
        let Some(kit) = self.here.kit() else { return };
        let rules = kit.rules();
        let found: HashSet<String> = self
            .here
            .view
            .iter()
            .filter_map(|view| view.audited.as_ref())
            .flat_map(|audited| audited.findings.iter().map(|m| m.finding.rule.clone()))
            .collect();
        let typed = self.typed(cursor);
        // Those that found something come first: they are what a waiver is for.
        for fires in [true, false] {
            for rule in &rules.rules {
                let fits = rule.unit.is_some() == measures
                    && found.contains(&*rule.id) == fires
                    && rule.id.contains(typed.as_str());
                if fits {
                    let kind = CompletionItemKind::FUNCTION;
                    self.quoted(&rule.id, kind, rule.title.to_string(), cursor);
                }
            }
        }
        self.whole = false;
    }

    fn subjects(&mut self, catalogue: &Catalogue, cursor: &Cursor<'_>) {
        let whole = "the list as a whole".to_owned();
        self.quoted(WHOLE_BUILD, CompletionItemKind::KEYWORD, whole, cursor);
        // By the text: it need not read while a waiver is typed into it.
        let here = self.here;
        let tables = here.outline.tables.iter().filter(|table| table.is(&["line"]));
        let ids = tables.filter_map(|table| table.text(here.text(), "part"));
        let parts: Vec<_> = ids.filter_map(|id| catalogue.part(id)).collect();
        for part in &parts {
            self.quoted(&part.id, CompletionItemKind::VALUE, part.name.to_string(), cursor);
        }
        self.kinds(catalogue, cursor);
    }

    /// Parts whose id or name has every word that was typed, those of what was typed so far first.
    fn parts(&mut self, catalogue: &Catalogue, kind: Option<&str>, cursor: &Cursor<'_>) {
        let typed = self.typed(cursor);
        let words: Vec<&str> = typed.split([' ', '/']).filter(|w| !w.is_empty()).collect();
        let of = |part: &Part| {
            let (id, name) = (part.id.as_ref(), part.name.to_lowercase());
            words.iter().all(|word| id.contains(word) || name.contains(word))
        };
        if !typed.contains('/') && kind.is_none() {
            for kind in catalogue.kinds.iter().filter(|k| k.name.starts_with(typed.as_str())) {
                let (word, title) = (format!("{}/", kind.name), kind.title.clone());
                self.quoted(&word, CompletionItemKind::CLASS, title, cursor);
            }
        }
        let list = self.here.view.as_ref().map(|view| view.list());
        let today = self.here.server.shops.base().today();
        let day = list.map_or(today, |list| list.priced_on);
        let currency =
            list.map_or_else(|| catalogue.currency.code().into(), |list| list.currency.clone());
        let market = catalogue.market(&currency, day);
        let mut parts: Vec<_> = catalogue.parts().filter(|part| of(part)).collect();
        parts.sort_by_key(|part| !part.id.starts_with(typed.as_str()));
        self.whole &= parts.len() <= MOST;
        for part in parts.into_iter().take(MOST) {
            let price = market.known(catalogue, part).and_then(|facts| facts.price);
            let price = price.map_or_else(|| "no offer".to_owned(), |price| price.to_string());
            let mut detail = vec![part.name.to_string(), price];
            detail.extend(part_words::figures(catalogue, part));
            self.quoted(&part.id, CompletionItemKind::VALUE, detail.join(" · "), cursor);
            if let Some(item) = self.items.last_mut().filter(|item| *item.label == *part.id) {
                item.documentation = Some(Documentation::MarkupContent(MarkupContent {
                    kind: MarkupKind::Markdown,
                    value: format!("**{}**", md(&part.name)),
                }));
                // What is typed may be of the name.
                let words = format!("{} {}", part.id, part.name);
                let bare = cursor.string.is_some();
                item.filter_text = Some(if bare { words } else { format!("\"{words}\"") });
            }
        }
    }
}
