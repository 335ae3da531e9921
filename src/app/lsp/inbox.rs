//! What comes in: messages of the editor, read by a thread of its own so that a request can be
//! called back while another is answered, and what the searches found.

use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, TryRecvError, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;

use lsp_server::{Message, RequestId, Response};
use serde_json::Value;

/// Something that happened.
pub(crate) enum Event {
    /// The editor said something.
    Message(Message),
    /// A search came to its end.
    Answer(Response),
    /// The rule cases of a file were run: its name in the editor, and the result.
    Cases(String, super::searcher::CasesRun),
    /// The editor is gone.
    Closed,
}

/// Requests that are not answered yet, each with what calls it back.
#[derive(Clone, Default)]
pub(crate) struct Pending(Arc<Mutex<HashMap<RequestId, Arc<AtomicBool>>>>);

impl Pending {
    fn locked(&self) -> MutexGuard<'_, HashMap<RequestId, Arc<AtomicBool>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn begin(&self, id: &RequestId) {
        self.locked().insert(id.clone(), Arc::default());
    }

    /// Calls a request back; one that is answered already, or was never made, is passed over.
    fn cancel(&self, id: &RequestId) {
        if let Some(halt) = self.locked().get(id) {
            halt.store(true, Ordering::Relaxed);
        }
    }

    /// What calls a request back.
    pub(crate) fn halt(&self, id: &RequestId) -> Arc<AtomicBool> {
        self.locked().entry(id.clone()).or_default().clone()
    }

    /// Ends a request; whether it was called back.
    pub(crate) fn end(&self, id: &RequestId) -> bool {
        self.locked().remove(id).is_some_and(|halt| halt.load(Ordering::Relaxed))
    }

    /// Calls every request back.
    pub(crate) fn cancel_all(&self) {
        self.locked().values().for_each(|halt| halt.store(true, Ordering::Relaxed));
    }
}

/// The queue of what happened.
pub(crate) struct Inbox {
    events: Receiver<Event>,
    sender: Sender<Event>,
    /// Requests that are not answered yet.
    pub(crate) pending: Pending,
}

impl Inbox {
    /// Reads messages from now on, until there are no more.
    pub(crate) fn read(messages: impl Iterator<Item = Message> + Send + 'static) -> Self {
        let (sender, events) = channel();
        let pending = Pending::default();
        let inbox = Self { events, sender: sender.clone(), pending: pending.clone() };
        let started = thread::Builder::new().name("lsp-inbox".to_owned()).spawn({
            let sender = sender.clone();
            move || {
                for message in messages {
                    match &message {
                        Message::Request(request) => pending.begin(&request.id),
                        Message::Notification(n) if n.method == "$/cancelRequest" => {
                            if let Some(id) = n.params.get("id").and_then(request_id) {
                                pending.cancel(&id);
                            }
                            continue;
                        }
                        _ => {}
                    }
                    if sender.send(Event::Message(message)).is_err() {
                        return;
                    }
                }
                // Nobody waits for answers any more.
                pending.cancel_all();
                let _ = sender.send(Event::Closed);
            }
        });
        if started.is_err() {
            let _ = sender.send(Event::Closed);
        }
        inbox
    }

    /// What happened first of what was not looked at yet; none where nothing did.
    pub(crate) fn next_now(&self) -> Option<Event> {
        match self.events.try_recv() {
            Ok(event) => Some(event),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Event::Closed),
        }
    }

    /// The same, waiting for some time.
    pub(crate) fn next_within(&self, time: Duration) -> Option<Event> {
        match self.events.recv_timeout(time) {
            Ok(event) => Some(event),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => Some(Event::Closed),
        }
    }

    /// A way in for another thread.
    pub(crate) fn sender(&self) -> Sender<Event> {
        self.sender.clone()
    }
}

fn request_id(id: &Value) -> Option<RequestId> {
    match id {
        Value::String(id) => Some(RequestId::from(id.clone())),
        Value::Number(id) => Some(RequestId::from(i32::try_from(id.as_i64()?).ok()?)),
        _ => None,
    }
}
