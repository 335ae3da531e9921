//! A client of the protocol over pipes: it speaks to the program that ships and nothing in between.

use std::collections::VecDeque;
use std::io::{BufReader, Write as _};
use std::path::Path;
use std::process::{Child, ChildStdin, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::common::desk::Desk;

/// Longest that anything is waited for; it only ends a test that hangs.
const CLOCK: Duration = Duration::from_secs(240);

/// An editor's side of a session.
pub(super) struct Client {
    pub(super) child: Child,
    input: Option<ChildStdin>,
    messages: Receiver<Value>,
    held: VecDeque<Value>,
    next: i64,
}

impl Client {
    /// Starts a server in a folder; `offers` are the encodings of positions that it is offered.
    pub(super) fn start(desk: &Desk, offers: &[&str]) -> Self {
        Self::begin(desk, offers, false)
    }

    /// The same for an editor that fetches hints again when it is asked to, as it is whenever all
    /// of a shop has been looked at.
    pub(super) fn start_asked_to_refresh(desk: &Desk, offers: &[&str]) -> Self {
        Self::begin(desk, offers, true)
    }

    fn begin(desk: &Desk, offers: &[&str], refresh: bool) -> Self {
        let mut client = Self::raw(desk, &["lsp", "--date", "2026-11-20", "--seconds", "5"]);
        let root = uri(&desk.0);
        let id = client.send(
            "initialize",
            json!({
                "processId": std::process::id(),
                "rootUri": root,
                "workspaceFolders": [{ "uri": root, "name": "desk" }],
                "capabilities": {
                    "general": { "positionEncodings": offers },
                    "workspace": {
                        "didChangeWatchedFiles": { "dynamicRegistration": true },
                        "inlayHint": { "refreshSupport": refresh },
                    },
                },
            }),
        );
        let answer = client.wait(id);
        let chosen = &answer["result"]["capabilities"]["positionEncoding"];
        assert_eq!(chosen, offers.first().unwrap_or(&"utf-16"), "{answer}");
        client.notify("initialized", json!({}));
        client
    }

    /// Starts the program with nothing said yet.
    pub(super) fn raw(desk: &Desk, arguments: &[&str]) -> Self {
        let mut child = desk
            .command(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (sender, messages) = channel();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        thread::spawn(move || {
            while let Some(message) = read_message(&mut out) {
                if sender.send(message).is_err() {
                    return;
                }
            }
        });
        Self { input: child.stdin.take(), child, messages, held: VecDeque::new(), next: 0 }
    }

    /// Writes bytes as they are.
    pub(super) fn write(&mut self, bytes: &[u8]) {
        let input = self.input.as_mut().unwrap();
        // A server that has ended closes the pipe; what it said before is looked at.
        let _ = input.write_all(bytes).and_then(|()| input.flush());
    }

    fn message(&mut self, message: &Value) {
        let text = message.to_string();
        self.write(format!("Content-Length: {}\r\n\r\n{text}", text.len()).as_bytes());
    }

    /// Asks; gives the number of the request.
    pub(super) fn send(&mut self, method: &str, params: Value) -> i64 {
        self.next += 1;
        let id = self.next;
        self.message(&json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params }));
        id
    }

    /// Says.
    pub(super) fn notify(&mut self, method: &str, params: Value) {
        self.message(&json!({ "jsonrpc": "2.0", "method": method, "params": params }));
    }

    /// Asks and waits for what comes of it.
    pub(super) fn ask(&mut self, method: &str, params: Value) -> Value {
        let id = self.send(method, params);
        let answer = self.wait(id);
        assert!(answer.get("error").is_none(), "{method}: {answer}");
        answer["result"].clone()
    }

    /// The answer to a request.
    pub(super) fn wait(&mut self, id: i64) -> Value {
        self.take(|m| m["id"] == id && m.get("method").is_none())
    }

    /// What is said of a text at a version, or of one that is not open.
    pub(super) fn said(&mut self, uri: &str, version: Option<i64>) -> Vec<Value> {
        let of = |m: &Value| {
            m["method"] == "textDocument/publishDiagnostics"
                && m["params"]["uri"] == uri
                && m["params"].get("version").and_then(Value::as_i64) == version
        };
        let message = self.take(of);
        message["params"]["diagnostics"].as_array().unwrap().clone()
    }

    /// The first message that is wanted; those before it are kept for later.
    pub(super) fn take(&mut self, wanted: impl Fn(&Value) -> bool) -> Value {
        if let Some(at) = self.held.iter().position(&wanted) {
            return self.held.remove(at).unwrap();
        }
        let begun = Instant::now();
        loop {
            let left = CLOCK.saturating_sub(begun.elapsed());
            let message = self.messages.recv_timeout(left).expect("the server says nothing");
            if wanted(&message) {
                return message;
            }
            self.held.push_back(message);
        }
    }

    /// Forgets what was said so far.
    pub(super) fn forget(&mut self) {
        self.held.clear();
    }

    /// Opens a text.
    pub(super) fn open(&mut self, uri: &str, text: &str) {
        let language = if uri.ends_with(".rhai") { "rhai" } else { "toml" };
        let item = json!({ "uri": uri, "languageId": language, "version": 1, "text": text });
        self.notify("textDocument/didOpen", json!({ "textDocument": item }));
    }

    /// Changes a text by ranges, or as a whole.
    pub(super) fn change(&mut self, uri: &str, version: i64, changes: Value) {
        self.notify(
            "textDocument/didChange",
            json!({ "textDocument": { "uri": uri, "version": version }, "contentChanges": changes }),
        );
    }

    /// Asks about a place.
    pub(super) fn at(&mut self, method: &str, uri: &str, (line, column): (usize, usize)) -> Value {
        let position = json!({ "line": line, "character": column });
        let text = json!({ "uri": uri });
        self.ask(method, json!({ "textDocument": text, "position": position, "newName": "x" }))
    }

    /// Ends the session as an editor does; gives the exit code.
    pub(super) fn end(mut self) -> Option<i32> {
        self.ask("shutdown", Value::Null);
        self.notify("exit", Value::Null);
        self.code()
    }

    /// Goes without a word; gives the exit code.
    pub(super) fn hang_up(mut self) -> Option<i32> {
        self.input = None;
        self.code()
    }

    fn code(&mut self) -> Option<i32> {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code();
            }
            assert!(begun.elapsed() < CLOCK, "the server does not end");
            thread::sleep(Duration::from_millis(5));
        }
    }

    /// The most memory that the server held so far, in MB.
    pub(super) fn peak_mb(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id()));
        let status = status.unwrap_or_default();
        let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or("0");
        line.split_whitespace().next().unwrap_or("0").parse::<u64>().unwrap_or(0) / 1024
    }
}

impl Drop for Client {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn read_message(out: &mut impl std::io::BufRead) -> Option<Value> {
    let mut length = 0;
    loop {
        let mut line = String::new();
        if out.read_line(&mut line).ok()? == 0 {
            return None;
        }
        match line.trim() {
            "" => break,
            line => {
                if let Some(value) = line.strip_prefix("Content-Length: ") {
                    length = value.parse().ok()?;
                }
            }
        }
    }
    let mut body = vec![0; length];
    out.read_exact(&mut body).ok()?;
    serde_json::from_slice(&body).ok()
}

/// A path as editors write it.
pub(super) fn uri(path: &Path) -> String {
    let real = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    format!("file://{}", real.display())
}
