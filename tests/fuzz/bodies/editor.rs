//! What an editor says to the language server.

use std::sync::mpsc::channel;
use std::thread;
use std::time::Duration;

use dryfit::inside::app::lsp::answer;
use jiff::civil::date;
use lsp_server::{Connection, Message, RequestId};
use serde_json::{Value, json};

use super::desk::text;

/// Most steps of a session: each may be followed by an audit.
const MOST_STEPS: usize = 24;
/// The longest time that a search takes here.
const LIMIT: Duration = Duration::from_millis(50);

/// A file's name, a line end, its text; after each `=====` a step. Every request is answered once.
pub(crate) fn lsp(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let mut pieces = text.split("\n=====\n");
    let (name, own) = pieces.next().unwrap_or("").split_once('\n').unwrap_or_default();
    let uri = format!("file:///no-such-desk/{name}");
    let open = |version: usize, text: &str| {
        let document =
            json!({ "uri": uri, "languageId": "toml", "version": version, "text": text });
        say("didOpen", json!({ "textDocument": document }))
    };
    let mut messages = vec![
        json!({ "id": 0, "method": "initialize", "params": { "capabilities": {} } }),
        json!({ "method": "initialized", "params": {} }),
        open(1, own),
    ];
    for (step, at) in pieces.take(MOST_STEPS).zip(1usize..) {
        let (head, rest) = step.split_once('\n').unwrap_or((step, ""));
        let words: Vec<&str> = head.split(' ').collect();
        let number = |at: usize| words.get(at).and_then(|n| n.parse::<u32>().ok()).unwrap_or(0);
        let place = |at: usize| json!({ "line": number(at), "character": number(at + 1) });
        let document = json!({ "uri": uri, "version": at + 1 });
        let changed = |change: Value| {
            say("didChange", json!({ "textDocument": document, "contentChanges": [change] }))
        };
        messages.push(match words[0] {
            "change" => {
                let range = json!({ "start": place(1), "end": place(3) });
                changed(json!({ "range": range, "text": rest }))
            }
            "whole" => changed(json!({ "text": rest })),
            "open" => open(at + 1, rest),
            "close" | "save" => {
                let what = if words[0] == "close" { "didClose" } else { "didSave" };
                say(what, json!({ "textDocument": document }))
            }
            // What any request may ask for; each takes what it knows.
            _ => json!({ "id": at, "method": words.get(1).unwrap_or(&""), "params": {
                "textDocument": document, "uri": uri, "position": place(2), "newName": rest,
                "range": { "start": place(2), "end": place(4) }, "query": rest,
                "context": { "diagnostics": [], "triggerKind": 1, "includeDeclaration": true },
                "options": { "tabSize": 2, "insertSpaces": true }, "expression": rest,
            } }),
        });
    }
    let counts = answers(messages);
    assert!(counts.iter().all(|count| *count == 1), "{counts:?}");
}

fn say(what: &str, params: Value) -> Value {
    json!({ "method": format!("textDocument/{what}"), "params": params })
}

/// Says these messages to a server of its own, the first of them `initialize`, and takes leave when
/// every request has its answer. What cannot be a message is passed over.
///
/// Gives how many answers each request got, in order of asking, once the server has ended.
fn answers(messages: Vec<Value>) -> Vec<usize> {
    let (server, editor) = Connection::memory();
    let serving = thread::spawn(move || answer(server, date(2026, 11, 20), LIMIT));
    let messages: Vec<Message> =
        messages.into_iter().filter_map(|m| serde_json::from_value(m).ok()).collect();
    let asked = messages.iter().filter_map(|message| match message {
        Message::Request(request) => Some(request.id.clone()),
        _ => None,
    });
    let asked: Vec<RequestId> = asked.collect();
    let mut counts = vec![0; asked.len()];
    let (all_answered, answered) = channel::<()>();
    let says = editor.sender;
    // Aside: the server may have something to say before it listens again.
    thread::spawn(move || {
        let leave = answered;
        for message in messages {
            if says.send(message).is_err() {
                return;
            }
        }
        if leave.recv().is_ok() {
            for said in
                [json!({ "id": "leave", "method": "shutdown" }), json!({ "method": "exit" })]
            {
                if let Ok(message) = serde_json::from_value::<Message>(said) {
                    let _ = says.send(message);
                }
            }
        }
    });
    for message in editor.receiver {
        let Message::Response(response) = message else { continue };
        if let Some(at) = asked.iter().position(|id| *id == response.id)
            && let Some(count) = counts.get_mut(at)
        {
            *count += 1;
        }
        if counts.iter().all(|count| *count > 0) {
            let _ = all_answered.send(());
        }
    }
    if let Err(panic) = serving.join() {
        std::panic::resume_unwind(panic);
    }
    counts
}
