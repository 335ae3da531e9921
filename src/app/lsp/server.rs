//! The server: it says what it can do, takes events one after the other, and between them looks at
//! the texts that changed.

use std::collections::{HashMap, HashSet, VecDeque};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use lsp_server::{Connection, ErrorCode, Message, Notification, Request, RequestId, Response};
use lsp_types::{
    CodeActionKind, CodeActionOptions, CodeActionProviderCapability, CodeLensOptions,
    CompletionOptions, FoldingRangeProviderCapability, HoverProviderCapability,
    ImplementationProviderCapability, InitializeParams, OneOf, RenameOptions, SaveOptions,
    ServerCapabilities, SignatureHelpOptions, TextDocumentSyncCapability, TextDocumentSyncKind,
    TextDocumentSyncOptions, TextDocumentSyncSaveOptions, TypeDefinitionProviderCapability,
};
use serde_json::{Value, json};

use super::documents::Document;
use super::inbox::{Event, Inbox};
use super::positions::{Encoding, Places};
use super::searcher::{CasesRun, Searcher};
use super::shops::{ShopKey, Shops};
use super::uris;
use crate::app::args::BaseArgs;

/// How long nothing happens before files on disk are looked at.
const IDLE: Duration = Duration::from_secs(2);

/// How the server is started.
pub(crate) struct LspOptions {
    /// Folders laid over those found, and the day.
    pub(crate) base: BaseArgs,
    /// The longest time that a search takes.
    pub(crate) limit: Duration,
}

/// Everything that the server holds.
pub(crate) struct Server {
    pub(super) docs: HashMap<String, Document>,
    pub(super) shops: Shops,
    pub(super) places: Places,
    pub(super) roots: Vec<PathBuf>,
    /// Texts to look at, the one being typed in first.
    pub(super) dirty: VecDeque<String>,
    /// Files that are not open and of which something was said.
    pub(super) told: HashSet<String>,
    pub(super) searcher: Searcher,
    /// The result of the cases of each rule file.
    pub(super) cases: HashMap<String, CasesRun>,
    /// Whether open texts of layers changed since they were laid over those on disk.
    pub(super) overlay_due: bool,
    /// Shops of which something new is to be said.
    pub(super) shops_due: Vec<ShopKey>,
    /// Whether the editor can be asked to fetch lenses, and hints, again.
    pub(super) asks_refresh: (bool, bool),
    inbox: Inbox,
    out: Box<dyn Fn(Message) -> bool>,
    parent: Option<u32>,
    requests: i32,
    /// Whether the editor asked for the end.
    closing: bool,
    /// Whether what is written arrives nowhere.
    gone: bool,
}

/// Why a request has no answer.
pub(crate) struct Failure {
    code: ErrorCode,
    message: String,
}

impl Failure {
    /// Something is wrong with what was asked.
    pub(crate) fn new(message: impl Into<String>) -> Self {
        Self { code: ErrorCode::RequestFailed, message: message.into() }
    }

    /// The parameters are not those of the request.
    pub(crate) fn params(message: impl Into<String>) -> Self {
        Self { code: ErrorCode::InvalidParams, message: message.into() }
    }

    /// There is no such request.
    pub(crate) fn unknown(method: &str) -> Self {
        Self {
            code: ErrorCode::MethodNotFound,
            message: format!("dryfit does not answer {method}"),
        }
    }

    /// The request was called back.
    pub(crate) fn cancelled() -> Self {
        Self { code: ErrorCode::RequestCanceled, message: "called back".to_owned() }
    }

    /// As the protocol writes it.
    pub(crate) fn response(self, id: RequestId) -> Response {
        Response::new_err(id, self.code as i32, self.message)
    }
}

/// Runs the server until the editor ends it; 0 when it said so beforehand, 1 when it just went.
pub(crate) fn run(options: LspOptions) -> u8 {
    // The threads end with the process: one of them may wait for an editor that does not go.
    let (connection, _threads) = Connection::stdio();
    converse(connection, options)
}

/// The same for tests, which make up what an editor says.
pub fn answer(connection: Connection, today: jiff::civil::Date, limit: Duration) -> u8 {
    let base = BaseArgs { date: Some(today), ..BaseArgs::default() };
    converse(connection, LspOptions { base, limit })
}

/// The same, however the messages come and go.
fn converse(connection: Connection, options: LspOptions) -> u8 {
    let Ok((id, params)) = connection.initialize_start() else { return 1 };
    let params: InitializeParams = match serde_json::from_value(params) {
        Ok(params) => params,
        Err(error) => {
            let failure = Failure::params(format!("the first request is not understood: {error}"));
            let _ = connection.sender.send(Message::Response(failure.response(id)));
            return 1;
        }
    };
    let offered = params.capabilities.general.as_ref();
    let offered = offered.and_then(|g| g.position_encodings.as_deref());
    let encoding = Encoding::choose(offered);
    let answer = json!({
        "capabilities": capabilities(encoding),
        "serverInfo": { "name": "dryfit", "version": env!("CARGO_PKG_VERSION") },
    });
    if connection.initialize_finish(id, answer).is_err() {
        return 1;
    }
    let Connection { sender, receiver } = connection;
    let inbox = Inbox::read(receiver.into_iter());
    let out = Box::new(move |message| sender.send(message).is_ok());
    Server::new(options, &params, encoding, inbox, out).serve()
}

impl Server {
    fn new(
        options: LspOptions,
        params: &InitializeParams,
        encoding: Encoding,
        inbox: Inbox,
        out: Box<dyn Fn(Message) -> bool>,
    ) -> Self {
        let searcher = Searcher::start(options.limit, encoding, inbox.sender());
        let workspace = params.capabilities.workspace.as_ref();
        let lens = workspace.and_then(|w| w.code_lens.as_ref()?.refresh_support);
        let hints = workspace.and_then(|w| w.inlay_hint.as_ref()?.refresh_support);
        let mut server = Self {
            docs: HashMap::new(),
            shops: Shops::new(options.base),
            places: Places::new(encoding),
            roots: roots(params),
            dirty: VecDeque::new(),
            told: HashSet::new(),
            searcher,
            cases: HashMap::new(),
            overlay_due: false,
            shops_due: Vec::new(),
            asks_refresh: (lens == Some(true), hints == Some(true)),
            inbox,
            out,
            parent: params.process_id,
            requests: 0,
            closing: false,
            gone: false,
        };
        let files = workspace.and_then(|w| w.did_change_watched_files.as_ref());
        if files.and_then(|f| f.dynamic_registration) == Some(true) {
            server.watch_files();
        }
        server
    }

    fn serve(mut self) -> u8 {
        while !self.gone {
            let event = match self.inbox.next_now() {
                Some(event) => event,
                None if self.look_at_one() => continue,
                None => match self.inbox.next_within(IDLE) {
                    Some(event) => event,
                    None if self.is_orphan() => return 1,
                    None => {
                        self.look_at_disk(false);
                        continue;
                    }
                },
            };
            match event {
                Event::Message(Message::Request(request)) => self.request(request),
                Event::Message(Message::Notification(n)) if n.method == "exit" => {
                    return u8::from(!self.closing);
                }
                Event::Message(Message::Notification(notification)) => self.notice(notification),
                Event::Message(Message::Response(_)) => {}
                Event::Answer(response) => self.answer(response),
                Event::Cases(uri, run) => self.cases_came(uri, run),
                Event::Closed => return 1,
            }
        }
        1
    }

    fn request(&mut self, request: Request) {
        let id = request.id.clone();
        if self.closing {
            let failure = Failure { code: ErrorCode::InvalidRequest, message: CLOSING.to_owned() };
            return self.answer(failure.response(id));
        }
        if self.inbox.pending.halt(&id).load(Ordering::Relaxed) {
            return self.answer(Failure::cancelled().response(id));
        }
        if request.method == "shutdown" {
            self.closing = true;
            return self.answer(Response::new_ok(id, Value::Null));
        }
        match self.handle(request) {
            // The searcher answers it.
            None => {}
            Some(Ok(value)) => self.answer(Response::new_ok(id, value)),
            Some(Err(failure)) => self.answer(failure.response(id)),
        }
    }

    /// Sends an answer, once; a request that was called back is told so.
    fn answer(&mut self, response: Response) {
        let cancelled = self.inbox.pending.end(&response.id);
        // A search that its text ended says so itself.
        let outdated = ErrorCode::ContentModified as i32;
        let says_so = response.response_result.as_ref().is_err_and(|e| e.code == outdated);
        let response = match cancelled && !says_so {
            true => Failure::cancelled().response(response.id),
            false => response,
        };
        self.send(Message::Response(response));
    }

    /// What calls a request back.
    pub(super) fn halt_of(&self, id: &RequestId) -> Arc<AtomicBool> {
        self.inbox.pending.halt(id)
    }

    /// Sends a message; once nobody reads, the server ends.
    pub(super) fn send(&mut self, message: Message) {
        if !(self.out)(message) {
            self.gone = true;
        }
    }

    /// Tells the editor something.
    pub(super) fn tell(&mut self, method: &str, params: Value) {
        self.send(Message::Notification(Notification::new(method.to_owned(), params)));
    }

    /// Asks the editor something; its answer is not waited for.
    pub(super) fn ask(&mut self, method: &str, params: Value) {
        self.requests += 1;
        let id = RequestId::from(self.requests);
        self.send(Message::Request(Request::new(id, method.to_owned(), params)));
    }

    /// Has the editor say when files change that it does not show.
    fn watch_files(&mut self) {
        let globs = ["**/*.toml", "**/*.rhai", "**/*.csv"];
        let watchers: Vec<Value> = globs.iter().map(|g| json!({ "globPattern": g })).collect();
        let options = json!({ "watchers": watchers });
        let registration = json!({
            "id": "dryfit-files",
            "method": "workspace/didChangeWatchedFiles",
            "registerOptions": options,
        });
        self.ask("client/registerCapability", json!({ "registrations": [registration] }));
    }

    /// Whether the editor that started the server is no more, though its pipe stands open.
    fn is_orphan(&self) -> bool {
        #[cfg(unix)]
        {
            let pid = self.parent.and_then(|id| i32::try_from(id).ok());
            let pid = pid.and_then(rustix::process::Pid::from_raw);
            pid.is_some_and(|pid| {
                rustix::process::test_kill_process(pid) == Err(rustix::io::Errno::SRCH)
            })
        }
        #[cfg(not(unix))]
        {
            let _ = self.parent;
            false
        }
    }
}

const CLOSING: &str = "the server is about to end";

fn roots(params: &InitializeParams) -> Vec<PathBuf> {
    let folders = params.workspace_folders.iter().flatten();
    let named: Vec<String> = folders.map(|f| f.uri.as_str().to_owned()).collect();
    #[allow(deprecated)]
    let old = params.root_uri.as_ref().map(|uri| uri.as_str().to_owned());
    let all = if named.is_empty() { old.into_iter().collect() } else { named };
    all.iter().filter_map(|uri| uris::path_of(uri)).collect()
}

fn capabilities(encoding: Encoding) -> ServerCapabilities {
    let sync = TextDocumentSyncOptions {
        open_close: Some(true),
        change: Some(TextDocumentSyncKind::INCREMENTAL),
        save: Some(TextDocumentSyncSaveOptions::SaveOptions(SaveOptions {
            include_text: Some(false),
        })),
        ..TextDocumentSyncOptions::default()
    };
    let triggers = ["\"", "/", ".", "=", "[", " ", "("];
    ServerCapabilities {
        position_encoding: Some(encoding.kind()),
        text_document_sync: Some(TextDocumentSyncCapability::Options(sync)),
        hover_provider: Some(HoverProviderCapability::Simple(true)),
        completion_provider: Some(CompletionOptions {
            trigger_characters: Some(triggers.map(str::to_owned).to_vec()),
            ..CompletionOptions::default()
        }),
        signature_help_provider: Some(SignatureHelpOptions {
            trigger_characters: Some(vec!["(".to_owned(), ",".to_owned()]),
            ..SignatureHelpOptions::default()
        }),
        definition_provider: Some(OneOf::Left(true)),
        type_definition_provider: Some(TypeDefinitionProviderCapability::Simple(true)),
        implementation_provider: Some(ImplementationProviderCapability::Simple(true)),
        document_symbol_provider: Some(OneOf::Left(true)),
        folding_range_provider: Some(FoldingRangeProviderCapability::Simple(true)),
        document_formatting_provider: Some(OneOf::Left(true)),
        inlay_hint_provider: Some(OneOf::Left(true)),
        rename_provider: Some(OneOf::Right(RenameOptions {
            prepare_provider: Some(true),
            work_done_progress_options: Default::default(),
        })),
        code_action_provider: Some(CodeActionProviderCapability::Options(CodeActionOptions {
            code_action_kinds: Some(vec![
                CodeActionKind::QUICKFIX,
                CodeActionKind::SOURCE,
                CodeActionKind::SOURCE_FIX_ALL,
            ]),
            ..CodeActionOptions::default()
        })),
        code_lens_provider: Some(CodeLensOptions { resolve_provider: Some(false) }),
        experimental: Some(json!({ "dryfit": super::requests::OWN })),
        ..ServerCapabilities::default()
    }
}
