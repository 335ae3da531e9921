//! Searches, on a thread of their own with kits of their own, so that verdicts never wait for them.
//! A search ends early when its request is called back, or when its text changes.

use std::collections::HashMap;
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use jiff::civil::Date;
use lsp_server::{ErrorCode, RequestId, Response};
use serde_json::{Value, json};

use super::answers;
use super::fixes::{self, Wanted};
use super::inbox::Event;
use super::positions::Encoding;
use crate::app::repairs::Bench;
use crate::cases::{CasesReport, run_top};
use crate::catalogue::Catalogue;
use crate::kit::{Kit, Layers};
use crate::source::{Problems, Source};
use crate::whatif::search::SearchLimits;

/// Stack of the thread: scripts recurse.
const STACK: usize = 64 << 20;

/// What a search is run on.
#[derive(Clone)]
pub(crate) struct Ground {
    pub(crate) source: Arc<Source>,
    /// The shop's layers, open texts included.
    pub(crate) layers: Layers,
    pub(crate) catalogue: Arc<Catalogue>,
    /// The number of the layers.
    pub(crate) generation: u64,
    /// The day that prices are of where the list gives none.
    pub(crate) today: Date,
}

pub(crate) enum Task {
    /// Changes that clear findings, as code actions, beside those that are `ready`.
    Fixes { wanted: Wanted, ready: Vec<Value> },
    /// What could stand on a line, counted from 0.
    Fit(usize),
    /// The fewest changes that clear every stop.
    Mend,
    /// What another part on a line, counted from 0, would change.
    Swap(usize, String),
    /// Why a rule says what it says.
    Why(String),
}

/// A search for a request.
pub(crate) struct Job {
    pub(crate) id: RequestId,
    /// The text's name in the editor.
    pub(crate) uri: String,
    /// Set when the request is called back, or its text changed.
    pub(crate) halt: Arc<AtomicBool>,
    pub(crate) ground: Ground,
    pub(crate) task: Task,
}

/// The result of the cases of a rule file.
pub(crate) type CasesRun = Result<CasesReport, Problems>;

enum Order {
    Search(Box<Job>, Arc<AtomicBool>),
    /// Cases of a rule file: its name in the editor, the layers, the file's stem.
    Cases(String, Box<Layers>, String),
}

/// A search that was ordered: its text, what tells that the text changed, and what ends it.
struct Ordered {
    uri: String,
    outdated: Arc<AtomicBool>,
    halt: Arc<AtomicBool>,
}

type Running = Arc<Mutex<HashMap<RequestId, Ordered>>>;

/// The thread that searches.
pub(crate) struct Searcher {
    orders: Sender<Order>,
    running: Running,
}

impl Searcher {
    /// Starts it; answers go where other events go.
    pub(crate) fn start(limit: Duration, encoding: Encoding, answers: Sender<Event>) -> Self {
        let (orders, taken) = channel();
        let running = Running::default();
        let of_thread = running.clone();
        // Where no thread can be had, requests for searches are refused when they are made.
        let _ = thread::Builder::new().name("lsp-searcher".to_owned()).stack_size(STACK).spawn(
            move || {
                // Kits belong to the thread that they are made on.
                let work = Work { limit, encoding, answers, running: of_thread, held: None };
                work.run(&taken);
            },
        );
        Self { orders, running }
    }

    /// Searches for a request; false where that cannot be.
    pub(crate) fn search(&self, job: Job) -> bool {
        let outdated = Arc::new(AtomicBool::new(false));
        let (uri, halt) = (job.uri.clone(), job.halt.clone());
        let ordered = Ordered { uri, outdated: outdated.clone(), halt };
        self.locked().insert(job.id.clone(), ordered);
        self.orders.send(Order::Search(Box::new(job), outdated)).is_ok()
    }

    /// Runs the cases of a rule file.
    pub(crate) fn run_cases(&self, uri: &str, layers: Layers, stem: &str) {
        let order = Order::Cases(uri.to_owned(), Box::new(layers), stem.to_owned());
        let _ = self.orders.send(order);
    }

    /// A text changed: searches for it are of no use any more.
    pub(crate) fn outdated(&self, uri: &str) {
        for ordered in self.locked().values().filter(|ordered| ordered.uri == uri) {
            ordered.outdated.store(true, Ordering::Relaxed);
            ordered.halt.store(true, Ordering::Relaxed);
        }
    }

    fn locked(&self) -> MutexGuard<'_, HashMap<RequestId, Ordered>> {
        self.running.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What the thread holds.
struct Work {
    limit: Duration,
    encoding: Encoding,
    answers: Sender<Event>,
    running: Running,
    /// The last list, with the number of its layers.
    held: Option<(u64, Bench)>,
}

impl Work {
    fn run(mut self, orders: &Receiver<Order>) {
        for order in orders {
            let event = match order {
                Order::Cases(uri, layers, stem) => Event::Cases(uri, run_top(&layers, Some(&stem))),
                Order::Search(job, outdated) => {
                    let id = job.id.clone();
                    let answer = match job.halt.load(Ordering::Relaxed) {
                        true => Ok(Value::Null),
                        false => self.search(*job),
                    };
                    let mut running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
                    running.remove(&id);
                    drop(running);
                    Event::Answer(answered(id, answer, outdated.load(Ordering::Relaxed)))
                }
            };
            if self.answers.send(event).is_err() {
                return;
            }
        }
    }

    fn search(&mut self, job: Job) -> Result<Value, Problems> {
        let limits = SearchLimits {
            until: Instant::now().checked_add(self.limit),
            ..SearchLimits::new(&job.halt)
        };
        let encoding = self.encoding;
        let bench = self.bench(job.ground)?;
        match job.task {
            Task::Fixes { wanted, ready } => {
                let mut all = fixes::found(bench, &wanted, encoding, limits);
                all.extend(ready);
                Ok(json!(all))
            }
            Task::Fit(line) => answers::fit(bench, line, limits),
            Task::Mend => answers::mend(bench, encoding, limits),
            Task::Swap(line, part) => answers::swap(bench, line, &part, encoding),
            Task::Why(rule) => answers::why(bench, &rule),
        }
    }

    /// A kit of the job's layers with its list read; the last one where nothing changed.
    fn bench(&mut self, ground: Ground) -> Result<&mut Bench, Problems> {
        let Ground { source, layers, catalogue, generation, today } = ground;
        let kit = match self.held.take() {
            Some((known, bench)) if known == generation => {
                let same = bench.source.text == source.text && bench.source.name == source.name;
                if same && bench.today == today {
                    return Ok(&mut self.held.insert((known, bench)).1);
                }
                bench.kit
            }
            _ => Rc::new(Kit::with_catalogue(catalogue, &layers.rules)?),
        };
        Ok(&mut self.held.insert((generation, Bench::new(kit, source, today)?)).1)
    }
}

fn answered(id: RequestId, answer: Result<Value, Problems>, outdated: bool) -> Response {
    match answer {
        _ if outdated => {
            let code = ErrorCode::ContentModified as i32;
            Response::new_err(id, code, "the text changed meanwhile".to_owned())
        }
        Ok(value) => Response::new_ok(id, value),
        Err(problems) => {
            Response::new_err(id, ErrorCode::RequestFailed as i32, problems.to_string())
        }
    }
}
