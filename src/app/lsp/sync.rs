//! What the editor says of its texts, and what is said back of each: texts that changed are looked
//! at between two messages, the one being typed in first.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use lsp_server::Notification;
use lsp_types::{
    Diagnostic, DiagnosticSeverity, DidChangeTextDocumentParams, DidCloseTextDocumentParams,
    DidOpenTextDocumentParams, DidSaveTextDocumentParams, Range,
};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use toml::de::DeTable;

use super::diagnostics::{Page, at_top};
use super::documents::{Document, Kept, Sort};
use super::list_view::{ListView, Seen};
use super::positions::Lines;
use super::searcher::CasesRun;
use super::server::Server;
use super::shops::{ShopKey, key_of};
use super::uris;
use crate::app::lists;
use crate::config;
use crate::source::{Source, Span};
use crate::whatif::brief_rules::wished;

/// Most that is said of one text.
const MOST_SAID: usize = 400;

impl Server {
    pub(super) fn notice(&mut self, notification: Notification) {
        let Notification { method, params } = notification;
        let taken = match method.as_str() {
            "textDocument/didOpen" => read(params).map(|p| self.opened(p)),
            "textDocument/didChange" => read(params).map(|p| self.changed(p)),
            "textDocument/didClose" => read(params).map(|p| self.closed(&p)),
            "textDocument/didSave" => read(params).map(|p| self.saved(&p)),
            "workspace/didChangeWatchedFiles" => {
                self.look_at_disk(false);
                Ok(())
            }
            "workspace/didChangeWorkspaceFolders" => {
                self.folders_changed(&params);
                Ok(())
            }
            // What begins with `$/` may be passed over, and so may what is new.
            _ => Ok(()),
        };
        if let Err(why) = taken {
            self.log(&format!("{method} is not understood: {why}"));
        }
    }

    /// Writes a line into the editor's log.
    pub(super) fn log(&mut self, message: &str) {
        self.tell("window/logMessage", json!({ "type": 2, "message": message }));
    }

    fn opened(&mut self, params: DidOpenTextDocumentParams) {
        let item = params.text_document;
        let uri = item.uri.as_str().to_owned();
        let path = uris::path_of(&uri);
        let name = path.as_deref().map_or_else(|| uri.clone(), shown);
        let source = Source::new(name.clone(), item.text);
        let shop = self.key_for(path.as_deref());
        let canonical = path.as_deref().map_or_else(|| uri.clone(), uris::uri_of);
        let mut doc = Document {
            canonical,
            lines: Lines::of(&source.text),
            sort: Sort::Other,
            version: item.version,
            uri: uri.clone(),
            path,
            name,
            source,
            shop,
            seen: None,
            kept: Vec::new(),
        };
        doc.sort = sort_of(&doc, &item.language_id, None);
        self.overlay_due |= doc.sort == Sort::Layer;
        if doc.sort == Sort::Layer && !self.shops_due.contains(&doc.shop) {
            self.shops_due.push(doc.shop.clone());
        }
        self.docs.insert(uri.clone(), doc);
        self.mark(&uri);
    }

    fn changed(&mut self, params: DidChangeTextDocumentParams) {
        let uri = params.text_document.uri.as_str().to_owned();
        let encoding = self.places.encoding;
        let Some(doc) = self.docs.get_mut(&uri) else {
            return self.log(&format!("a text changed that is not open: {uri}"));
        };
        let version = params.text_document.version;
        if doc.change(version, params.content_changes, encoding).is_err() {
            let name = doc.name.clone();
            return self.log(&format!("{name} would become larger than any file may be"));
        }
        if doc.sort == Sort::Layer {
            self.overlay_due = true;
        } else {
            doc.sort = sort_of(doc, "", Some(doc.sort));
        }
        self.searcher.outdated(&uri);
        self.mark(&uri);
    }

    fn closed(&mut self, params: &DidCloseTextDocumentParams) {
        let uri = params.text_document.uri.as_str();
        let Some(doc) = self.docs.remove(uri) else { return };
        self.searcher.outdated(uri);
        self.cases.remove(&doc.canonical);
        self.dirty.retain(|held| held != uri);
        if doc.sort == Sort::Layer {
            // What was never saved is as it is on disk again.
            self.look_at_disk(true);
            if !self.shops_due.contains(&doc.shop) {
                self.shops_due.push(doc.shop.clone());
            }
        }
        self.publish(uri, None, &[]);
    }

    fn saved(&mut self, params: &DidSaveTextDocumentParams) {
        let uri = params.text_document.uri.as_str().to_owned();
        self.look_at_disk(false);
        if uri.ends_with(".rhai") || uri.ends_with(".cases.toml") {
            self.run_cases(&uri);
        }
    }

    fn folders_changed(&mut self, params: &Value) {
        let of = |key: &str| -> Vec<PathBuf> {
            let folders = params.pointer(&format!("/event/{key}")).and_then(Value::as_array);
            let uris = folders.into_iter().flatten().filter_map(|f| f.get("uri")?.as_str());
            uris.filter_map(uris::path_of).collect()
        };
        let gone = of("removed");
        self.roots.retain(|root| !gone.contains(root));
        self.roots.extend(of("added"));
    }

    /// Files on disk may have changed: folders are read again, and a list may belong to another
    /// shop by now.
    pub(super) fn look_at_disk(&mut self, all: bool) {
        let docs: Vec<&Document> = self.docs.values().collect();
        let changed = self.shops.reread(all, &docs);
        self.shops_changed(changed);
        let mut moved: Vec<(String, ShopKey)> = Vec::new();
        // Lists of one folder belong to one shop.
        let mut keys: HashMap<Option<&Path>, ShopKey> = HashMap::new();
        for doc in self.docs.values() {
            let folder = doc.path.as_deref().and_then(Path::parent);
            let path = doc.path.as_deref();
            let now = keys.entry(folder).or_insert_with(|| self.key_for(path));
            if *now != doc.shop {
                moved.push((doc.uri.clone(), now.clone()));
            }
        }
        for (uri, key) in moved {
            if let Some(doc) = self.docs.get_mut(&uri) {
                doc.shop = key;
                doc.seen = None;
                self.overlay_due |= doc.sort == Sort::Layer;
            }
            self.mark(&uri);
        }
    }

    /// Every list of a shop is looked at again.
    fn shops_changed(&mut self, changed: Vec<ShopKey>) {
        for key in changed {
            let of_shop = self.docs.values().filter(|doc| doc.shop == key);
            let uris: Vec<String> = of_shop.map(|doc| doc.uri.clone()).collect();
            for uri in uris {
                if !self.dirty.contains(&uri) {
                    self.dirty.push_back(uri);
                }
            }
            if !self.shops_due.contains(&key) {
                self.shops_due.push(key);
            }
        }
    }

    fn key_for(&self, path: Option<&Path>) -> ShopKey {
        key_of(&self.beside(path))
    }

    /// The file or folder that layers are found from.
    fn beside(&self, path: Option<&Path>) -> PathBuf {
        let root = || self.roots.first().cloned().unwrap_or_else(|| PathBuf::from("."));
        path.map_or_else(root, Path::to_path_buf)
    }

    /// A text is to be looked at, before any other.
    fn mark(&mut self, uri: &str) {
        self.dirty.retain(|held| held != uri);
        self.dirty.push_front(uri.to_owned());
    }

    /// Looks at one thing that changed; false when nothing is left to look at.
    pub(super) fn look_at_one(&mut self) -> bool {
        if self.overlay_due {
            self.overlay();
            return true;
        }
        if let Some(uri) = self.dirty.pop_front() {
            self.look_at(&uri);
            return true;
        }
        if let Some(key) = self.shops_due.pop() {
            self.tell_of_shop(&key);
            // Other rules or prices: what is shown within every list may differ.
            if self.asks_refresh.1 {
                self.ask("workspace/inlayHint/refresh", Value::Null);
            }
            if self.asks_refresh.0 {
                self.ask("workspace/codeLens/refresh", Value::Null);
            }
            return true;
        }
        false
    }

    fn overlay(&mut self) {
        self.overlay_due = false;
        let docs: Vec<&Document> = self.docs.values().collect();
        let changed = self.shops.overlay(&docs);
        self.shops_changed(changed);
    }

    fn look_at(&mut self, uri: &str) {
        self.refresh(uri);
        let Some(doc) = self.docs.get(uri) else { return };
        let version = doc.version;
        match doc.sort {
            Sort::List | Sort::Brief => {
                let said = self.said_of(uri);
                self.publish(uri, Some(version), &said);
            }
            Sort::Layer => {
                let key = doc.shop.clone();
                if !self.shops_due.contains(&key) {
                    self.shops_due.push(key);
                }
            }
            Sort::Other => self.publish(uri, Some(version), &[]),
        }
    }

    /// Brings what is known of a text up to date.
    pub(super) fn refresh(&mut self, uri: &str) {
        if self.overlay_due {
            self.overlay();
        }
        let today = self.shops.base().today();
        let Some(doc) = self.docs.get(uri) else { return };
        let (key, beside) = (doc.shop.clone(), self.beside(doc.path.as_deref()));
        let docs: Vec<&Document> = self.docs.values().collect();
        let shop = self.shops.shop(&key, &beside, &docs);
        let generation = shop.generation;
        let fresh = doc.seen.as_ref().is_some_and(|seen| {
            (seen.version, seen.generation, seen.today) == (doc.version, generation, today)
        });
        if fresh || !matches!(doc.sort, Sort::List | Sort::Brief) {
            return;
        }
        let outcome = match (&shop.kit, doc.sort) {
            (None, _) => Err(shop.why_not()),
            (Some(kit), Sort::List) => ListView::of_list(kit, &doc.source, today),
            (Some(kit), _) => ListView::of_brief(kit, &doc.source, today)
                .and_then(|(view, brief)| wished(&shop.layers, kit, &brief).map(|_| view)),
        };
        let outcome = outcome.map(Rc::new).map_err(Rc::new);
        let Some(doc) = self.docs.get_mut(uri) else { return };
        let before = doc.seen.take();
        let last = match &outcome {
            Ok(_) => None,
            Err(_) => before.and_then(|seen| seen.outcome.ok().or(seen.last)),
        };
        doc.seen = Some(Seen { version: doc.version, generation, today, outcome, last });
    }

    /// What is said of a list or a brief.
    fn said_of(&mut self, uri: &str) -> Vec<Diagnostic> {
        let Some(doc) = self.docs.get_mut(uri) else { return Vec::new() };
        let Some(shop) = self.shops.find(&doc.shop) else { return Vec::new() };
        let Some(seen) = &doc.seen else { return Vec::new() };
        let source = doc.source.clone();
        let mut page = Page { source: &source, uri, shop, places: &mut self.places };
        match &seen.outcome {
            Ok(view) => {
                let said = page.of_list(view);
                let encoding = self.places.encoding;
                doc.kept = said.iter().filter_map(|d| kept(doc, d, encoding)).collect();
                said
            }
            Err(problems) => {
                let mut said = page.of_problems(&problems.0);
                let encoding = self.places.encoding;
                said.extend(doc.kept.iter().map(|k| Diagnostic {
                    range: doc.range(k.span, encoding),
                    ..k.diagnostic.clone()
                }));
                said
            }
        }
    }

    /// Sends what is said of a text; with no version of one that is not open.
    pub(super) fn publish(&mut self, uri: &str, version: Option<i32>, said: &[Diagnostic]) {
        let mut said: Vec<Diagnostic> = said.to_vec();
        if said.len() > MOST_SAID {
            let more = said.len() - MOST_SAID;
            said.truncate(MOST_SAID);
            said.push(at_top(format!("{more} more are not shown"), DiagnosticSeverity::WARNING));
        }
        let mut params = json!({ "uri": uri, "diagnostics": said });
        if let (Some(version), Some(params)) = (version, params.as_object_mut()) {
            params.insert("version".to_owned(), version.into());
        }
        self.tell("textDocument/publishDiagnostics", params);
    }

    /// The cases of a rule file were run.
    pub(super) fn cases_came(&mut self, uri: String, run: CasesRun) {
        self.cases.insert(uri, run);
        if self.asks_refresh.0 {
            self.ask("workspace/codeLens/refresh", Value::Null);
        }
    }
}

/// A finding, to be kept while the text does not read; what is wrong with a text is found anew.
fn kept(doc: &Document, said: &Diagnostic, encoding: super::positions::Encoding) -> Option<Kept> {
    if said.range == Range::default() {
        return None;
    }
    let finding = said.data.as_ref()?.get("finding")?.clone();
    let start = doc.offset(said.range.start, encoding);
    let end = doc.offset(said.range.end, encoding);
    let mut diagnostic = said.clone();
    diagnostic.data = Some(json!({ "finding": finding, "before": true }));
    Some(Kept { span: Span::new(start, end), diagnostic })
}

/// Parameters of a message.
pub(super) fn read<T: DeserializeOwned>(params: Value) -> Result<T, String> {
    serde_json::from_value(params).map_err(|error| error.to_string())
}

/// A path as messages show it: from the folder the server was started in where it lies below.
fn shown(path: &Path) -> String {
    let here = std::env::current_dir().map(|here| uris::real(&here)).unwrap_or_default();
    path.strip_prefix(&here).unwrap_or(path).display().to_string()
}

/// What a file is for, by where it lies and by what stands in it; a text that cannot be read stays
/// what it was.
fn sort_of(doc: &Document, language: &str, before: Option<Sort>) -> Sort {
    let path = doc.path.as_deref();
    let ending = path.and_then(Path::extension).and_then(|e| e.to_str()).unwrap_or("");
    let [_, rules, catalogue] = &doc.shop;
    let within = |folder: &Option<PathBuf>| {
        path.zip(folder.as_ref()).is_some_and(|(path, folder)| path.starts_with(folder))
    };
    let named = path.and_then(Path::file_name).is_some_and(|n| n == config::NAME);
    if named || matches!(ending, "toml" | "rhai" | "csv") && (within(rules) || within(catalogue)) {
        return Sort::Layer;
    }
    if ending != "toml" && language != "toml" && !matches!(before, Some(Sort::List | Sort::Brief)) {
        return Sort::Other;
    }
    let (_, errors) = DeTable::parse_recoverable(&doc.source.text);
    match (before.filter(|_| !errors.is_empty()), lists::Sort::of(&doc.source.text)) {
        (Some(before), _) => before,
        (None, lists::Sort::List) => Sort::List,
        (None, lists::Sort::Brief) => Sort::Brief,
        (None, _) => Sort::Other,
    }
}
