//! Which request is answered by what; searches are handed on, and answered when they end.

use std::rc::Rc;
use std::sync::Arc;

use lsp_server::{Request, RequestId};
use lsp_types::{CodeActionKind, CodeActionParams, Position, Range};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use super::diagnostics::Page;
use super::documents::{Document, Sort};
use super::fixes::Wanted;
use super::list_actions::{self, Known, PRICES};
use super::list_view::ListView;
use super::searcher::{Ground, Job, Task};
use super::server::{Failure, Server};
use super::shops::Shop;
use super::sync::read;
use super::uris;
use crate::app::commands::ask;
use crate::app::report::Report;
use crate::app::report::json::{self as report_json, FORMAT};
use crate::layer::read_source;
use crate::source::Problems;

/// The requests that other programs may make, beside those of the protocol.
pub(crate) const OWN: &[&str] = &[
    "dryfit/audit",
    "dryfit/ask",
    "dryfit/fit",
    "dryfit/mend",
    "dryfit/swap",
    "dryfit/text",
    "dryfit/why",
];

/// An answer, or why there is none; nothing where a search gives it later.
pub(super) type Answer = Option<Result<Value, Failure>>;

/// What every request of ours may say.
#[derive(Debug, Deserialize)]
struct Own {
    uri: String,
    /// A line of the list, from 1.
    line: Option<usize>,
    part: Option<String>,
    rule: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct At {
    text_document: Named,
    #[serde(default)]
    pub(super) position: Position,
    /// Lines that are wanted.
    pub(super) range: Option<Range>,
    pub(super) new_name: Option<String>,
}

#[derive(Debug, Deserialize)]
struct Named {
    uri: String,
}

impl Server {
    pub(super) fn handle(&mut self, request: Request) -> Answer {
        let Request { id, method, params } = request;
        match method.as_str() {
            "textDocument/codeAction" => self.with(params, |server, p| server.code_actions(id, p)),
            "dryfit/audit" => self.with(params, |server, own| Some(server.own_audit(&own))),
            "dryfit/ask" => self.with(params, |server, own| Some(server.own_ask(&own))),
            "dryfit/text" => self.with(params, |server, own| Some(server.own_text(&own))),
            "dryfit/fit" | "dryfit/mend" | "dryfit/swap" | "dryfit/why" => {
                self.with(params, |server, own| server.own_search(id, &method, own))
            }
            _ => self.at_cursor(&method, params),
        }
    }

    fn with<P: DeserializeOwned>(
        &mut self,
        params: Value,
        then: impl FnOnce(&mut Self, P) -> Answer,
    ) -> Answer {
        match read(params) {
            Ok(params) => then(self, params),
            Err(why) => Some(Err(Failure::params(why))),
        }
    }

    /// Requests of the protocol that are about a place in an open text, or about all of it.
    fn at_cursor(&mut self, method: &str, params: Value) -> Answer {
        let known = super::cursor_requests::answers(method);
        let Some(answer) = known else {
            return Some(Err(Failure::unknown(method)));
        };
        self.with(params, |server, at: At| {
            let uri = at.text_document.uri.clone();
            server.refresh(&uri);
            // A text that is not open has nothing to say.
            if !server.docs.contains_key(&uri) {
                return Some(Ok(Value::Null));
            }
            Some(answer(server, &uri, &at))
        })
    }

    /// An open text and its shop.
    pub(super) fn looked_at(&self, uri: &str) -> Option<(&Document, &Shop)> {
        let doc = self.docs.get(uri)?;
        Some((doc, self.shops.find(&doc.shop)?))
    }

    /// The list as it reads now, or as it read last.
    pub(super) fn view(&self, uri: &str) -> Option<Rc<ListView>> {
        let seen = self.docs.get(uri)?.seen.as_ref()?;
        seen.outcome.as_ref().ok().or(seen.last.as_ref()).cloned()
    }

    /// What a search of a list is run on; the list may not be open.
    fn ground(&mut self, uri: &str) -> Result<Ground, Failure> {
        self.refresh(uri);
        let today = self.shops.base().today();
        let docs: Vec<&Document> = self.docs.values().collect();
        let (source, key, path) = match self.docs.get(uri) {
            Some(doc) => (doc.source.clone(), doc.shop.clone(), doc.path.clone()),
            None => {
                let path = uris::path_of(uri).ok_or_else(|| not_there(uri))?;
                let source = read_source(&path).map_err(|p| Failure::new(p.to_string()))?;
                (source, super::shops::key_of(&path), Some(path))
            }
        };
        let root = || self.roots.first().cloned().unwrap_or_else(|| ".".into());
        let shop = self.shops.shop(&key, &path.unwrap_or_else(root), &docs);
        let Some(kit) = &shop.kit else {
            return Err(Failure::new(shop.why_not().to_string()));
        };
        Ok(Ground {
            source,
            layers: shop.layers.clone(),
            catalogue: kit.catalogue().clone(),
            generation: shop.generation,
            today,
        })
    }

    fn search(&mut self, id: RequestId, uri: String, task: Task) -> Answer {
        let ground = match self.ground(&uri) {
            Ok(ground) => ground,
            Err(failure) => return Some(Err(failure)),
        };
        let halt = self.halt_of(&id);
        let started = self.searcher.search(Job { id, uri, halt, ground, task });
        (!started).then(|| Err(Failure::new("no thread can be had to search on")))
    }

    fn own_search(&mut self, id: RequestId, method: &str, own: Own) -> Answer {
        let line = own.line.and_then(|line| line.checked_sub(1));
        let task = match (method, line, own.part, own.rule) {
            ("dryfit/mend", ..) => Task::Mend,
            ("dryfit/fit", Some(line), ..) => Task::Fit(line),
            ("dryfit/swap", Some(line), Some(part), _) => Task::Swap(line, part),
            ("dryfit/why", _, _, Some(rule)) => Task::Why(rule),
            ("dryfit/fit", ..) => return missing("`line`, counted from 1"),
            ("dryfit/swap", ..) => return missing("`line`, counted from 1, and `part`"),
            _ => return missing("`rule`"),
        };
        self.search(id, own.uri, task)
    }

    /// A list audited afresh, as the shell writes it.
    fn own_audit(&mut self, own: &Own) -> Result<Value, Failure> {
        let (file, outcome) = self.audited(&own.uri)?;
        let report = Report { file, outcome: outcome.map_err(Arc::new) };
        Ok(json!({
            "format": FORMAT,
            "version": report_json::VERSION,
            "audits": [report_json::document(&report)],
            "passed_over": 0,
            "code": report.code(),
        }))
    }

    fn audited(
        &mut self,
        uri: &str,
    ) -> Result<(String, Result<Box<crate::app::report::Audited>, Problems>), Failure> {
        let ground = self.ground(uri)?;
        let kit = self.kit_of(ground.generation)?;
        let file = ground.source.name.clone();
        let outcome = ListView::of_list(&kit, &ground.source, ground.today);
        let outcome = outcome.and_then(|view| {
            view.audited.ok_or_else(|| crate::source::Problem::new("this is no list").into())
        });
        Ok((file, outcome))
    }

    fn kit_of(&self, generation: u64) -> Result<Rc<crate::kit::Kit>, Failure> {
        let shop = self.shops.held().iter().find(|shop| shop.generation == generation);
        let kit = shop.and_then(|shop| shop.kit.clone());
        kit.ok_or_else(|| Failure::new("the rules cannot be loaded"))
    }

    /// The facts to look up, as the shell writes them.
    fn own_ask(&mut self, own: &Own) -> Result<Value, Failure> {
        let ground = self.ground(&own.uri)?;
        let kit = self.kit_of(ground.generation)?;
        let build = kit.read(&ground.source, ground.today);
        let build = build.map_err(|problems| Failure::new(problems.to_string()))?;
        Ok(ask::document(&kit.audit(&build)))
    }

    /// The text of a file that the program carries.
    fn own_text(&self, own: &Own) -> Result<Value, Failure> {
        let found = self.shops.held().iter().find_map(|shop| shop.source_of(&own.uri));
        found.map(|source| json!({ "text": source.text })).ok_or_else(|| not_there(&own.uri))
    }

    fn code_actions(&mut self, id: RequestId, params: CodeActionParams) -> Answer {
        let uri = params.text_document.uri.as_str().to_owned();
        self.refresh(&uri);
        let Some((doc, shop)) = self.looked_at(&uri) else { return Some(Ok(Value::Null)) };
        let asked = Asked::of(params.context.only.as_deref());
        let encoding = self.places.encoding;
        let span =
            (doc.offset(params.range.start, encoding), doc.offset(params.range.end, encoding));
        let (source, problems) = match (doc.sort, doc.seen.as_ref().map(|seen| &seen.outcome)) {
            (Sort::List | Sort::Brief, Some(Err(wrong))) => (doc.source.clone(), wrong.0.clone()),
            (Sort::List | Sort::Brief, _) => (doc.source.clone(), Vec::new()),
            _ => {
                let source = shop.source_of(&doc.canonical).unwrap_or(&doc.source).clone();
                (source, shop.problems.iter().chain(&shop.warnings).cloned().collect())
            }
        };
        let view = self.view(&uri).filter(|view| view.audited.is_some());
        match view.filter(|_| problems.is_empty()) {
            Some(view) => self.list_actions(id, uri, &view, span, asked),
            None if asked.quick => {
                let places = &mut self.places;
                Some(Ok(json!(list_actions::spelling(&problems, &source, &uri, span, places))))
            }
            None => Some(Ok(json!([]))),
        }
    }

    /// The actions of a list that reads: those that are ready, and those that a search finds.
    fn list_actions(
        &mut self,
        id: RequestId,
        uri: String,
        view: &ListView,
        span: (usize, usize),
        asked: Asked,
    ) -> Answer {
        let (encoding, today) = (self.places.encoding, self.shops.base().today());
        let Some(doc) = self.docs.get(&uri) else { return Some(Ok(Value::Null)) };
        let (source, lines) = (doc.source.clone(), doc.lines.clone());
        let Some(shop) = self.shops.find(&doc.shop) else { return Some(Ok(Value::Null)) };
        let known = Known { source: &source, uri: &uri, view, today, encoding };
        let mut ready = Vec::new();
        let mut findings = Vec::new();
        if asked.quick {
            ready = known.quick(span);
            let mut page = Page { source: &source, uri: &uri, shop, places: &mut self.places };
            let said = page.of_list(view);
            findings = known.findings(&said, span, |at| lines.offset(&source.text, at, encoding));
            ready.extend(known.waivers(&findings));
        }
        if asked.source {
            ready.extend(known.pin_all());
        }
        let all = known.is_stopped() && (asked.quick || asked.fix_all);
        if findings.is_empty() && !all {
            return Some(Ok(json!(ready)));
        }
        let fix_all = asked.fix_all;
        let wanted = Wanted { uri: uri.clone(), findings, all, fix_all };
        self.search(id, uri, Task::Fixes { wanted, ready })
    }

    /// Runs the cases of a rule file that was saved.
    pub(super) fn run_cases(&mut self, uri: &str) {
        let Some((doc, shop)) = self.looked_at(uri) else { return };
        let Some(path) = doc.path.as_deref() else { return };
        let name = path.file_name().and_then(|n| n.to_str()).unwrap_or("");
        let stem = name.trim_end_matches(".rhai").trim_end_matches(".cases.toml").to_owned();
        let mut layers = shop.layers.clone();
        // The layers up to the one that the file is of.
        let top = layers.rules.iter().rposition(|layer| {
            super::shops::folder_of(layer).is_some_and(|folder| path.starts_with(folder))
        });
        let Some(top) = top else { return };
        layers.rules.truncate(top + 1);
        let rule_file = match path.with_file_name(format!("{stem}.rhai")) {
            file if file.is_file() => uris::uri_of(&file),
            _ => doc.canonical.clone(),
        };
        self.searcher.run_cases(&rule_file, layers, &stem);
    }
}

/// Which sorts of code actions are asked for.
#[derive(Clone, Copy)]
struct Asked {
    quick: bool,
    source: bool,
    /// The smallest repair of all, and nothing else.
    fix_all: bool,
}

impl Asked {
    fn of(only: Option<&[CodeActionKind]>) -> Self {
        let wants = |kind: &CodeActionKind| {
            only.is_none_or(|only| only.iter().any(|o| is_under(kind.as_str(), o.as_str())))
        };
        let quick = wants(&CodeActionKind::QUICKFIX);
        let fix_all = only.is_some() && wants(&CodeActionKind::SOURCE_FIX_ALL) && !quick;
        let source = wants(&CodeActionKind::new(PRICES));
        Self { quick, source, fix_all }
    }
}

/// Whether a kind of action is one that was asked for: `quickfix` for `quickfix.spelling`.
fn is_under(kind: &str, asked: &str) -> bool {
    asked.is_empty()
        || kind == asked
        || kind.strip_prefix(asked).is_some_and(|rest| rest.starts_with('.'))
}

fn missing(what: &str) -> Answer {
    Some(Err(Failure::params(format!("this request wants {what}"))))
}

fn not_there(uri: &str) -> Failure {
    Failure::new(format!("there is no text {uri}"))
}
