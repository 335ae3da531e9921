//! Many lists at once: which layers, one kit a thread, and the reports handed on in order.

use std::collections::{BTreeMap, HashMap, VecDeque};
use std::io::{IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;
use std::{io, thread};

use crate::app::left_out;
use crate::app::lists::{self, Entry, Sort, not_a_list};
use crate::app::repairs::{self, Bench};
use crate::app::report::{Audited, Report};
use crate::catalogue::Catalogue;
use crate::config::{self, Config, Origin};
use crate::kit::{Kit, Layers};
use crate::layer::{find_above, find_upward, read_all, read_source, text_of};
use crate::source::{Problem, Problems, Source};
use crate::whatif::open_lines::settle;
use jiff::civil::Date;

use crate::app::args::BaseArgs;

/// Stack of a thread that audits: scripts recurse.
const STACK: usize = 64 << 20;
/// How far the threads may be ahead of what is written.
const AHEAD: usize = 64;
/// Kits that a thread keeps, for lists that take turns between shops.
const KITS: usize = 4;
/// What the memory of a thread's kit may hold, in nodes and steps; some 15 MB.
const MEMORY: usize = 200_000;
/// How many expressions a thread's kit may know; some 8 MB.
const EXPRESSIONS: usize = 50_000;

/// The layers for a build: those found beside it, and what the user named on top.
/// Errors: a folder that can't be read.
pub(crate) fn layers(beside: &Path, base: &BaseArgs) -> Result<Layers, Problems> {
    let mut config = Config::beside(beside)?;
    if let Some((name, folder)) = &base.pack {
        for pack in config.packs.iter_mut().filter(|pack| pack.name == *name) {
            (pack.origin, pack.sha256) = (Origin::Folder(folder.clone()), None);
        }
    }
    Layers::beside_set(beside, config, base.rules.as_deref(), base.catalogue.as_deref())
}

/// The result of auditing a file.
pub(crate) enum Came {
    /// A list, audited or not.
    Report(Box<Report>),
    /// No list, and nobody said that it was one; nothing need be said of a file of ours.
    PassedOver(Option<Problem>),
}

/// How lists are audited.
pub(crate) struct How<'a> {
    pub(crate) base: &'a BaseArgs,
    /// Whether a count of what is done may run along.
    pub(crate) plain: bool,
    /// Whether the report shows what is at fault.
    pub(crate) causes: bool,
    /// How long changes that clear the findings of a list are looked for; not at all when none.
    pub(crate) fixes: Option<Duration>,
    /// Whether named files that are no lists are passed over.
    pub(crate) from_hook: bool,
    /// What the list that comes through standard input is called.
    pub(crate) stdin_name: Option<&'a Path>,
}

/// Layers with their catalogue, shared by the lists of a shop.
struct Base {
    layers: Layers,
    catalogue: Arc<Catalogue>,
}

type Shared<T> = Result<T, Arc<Problems>>;

/// What tells one shop from another: its `dryfit.toml`, rules and catalogue.
type Shop = [Option<PathBuf>; 3];

/// What one shop's lists share, loaded once.
type Held = (Shop, Arc<OnceLock<Shared<Base>>>);

/// What every thread shares.
struct Job<'a> {
    entries: &'a [Entry],
    how: &'a How<'a>,
    today: Date,
    next: AtomicUsize,
    bases: Mutex<VecDeque<Held>>,
    done: Mutex<Done>,
    /// Something was done.
    came: Condvar,
    /// Something was written.
    went: Condvar,
    /// Nobody reads any more.
    over: AtomicBool,
}

#[derive(Default)]
struct Done {
    ready: BTreeMap<usize, Came>,
    written: usize,
}

/// Audits lists over as many threads as there are cores, and hands on what comes of each in order,
/// while others are still at work; `take` says whether to go on.
pub(crate) fn audit(entries: &[Entry], how: &How<'_>, mut take: impl FnMut(Came) -> bool) {
    let job = Job {
        entries,
        how,
        today: how.base.today(),
        next: AtomicUsize::new(0),
        bases: Mutex::default(),
        done: Mutex::default(),
        came: Condvar::new(),
        went: Condvar::new(),
        over: AtomicBool::new(false),
    };
    let threads = thread::available_parallelism().map_or(1, usize::from).min(entries.len());
    let watched = entries.len() > 1 && !how.plain && io::stderr().is_terminal();
    thread::scope(|scope| {
        let builder = || thread::Builder::new().stack_size(STACK);
        let started =
            (0..threads).filter(|_| builder().spawn_scoped(scope, || job.work()).is_ok()).count();
        if started == 0 {
            let mut kits = Kits::default();
            for entry in entries {
                if !take(job.one(entry, &mut kits)) {
                    break;
                }
            }
            return;
        }
        for at in 0..entries.len() {
            if !take(job.wait_for(at)) {
                job.over.store(true, Ordering::Relaxed);
                job.went.notify_all();
                break;
            }
            if watched {
                let _ = write!(io::stderr(), "\r{} of {} lists audited", at + 1, entries.len());
            }
        }
    });
    if watched {
        // A count that cannot be shown is not missed.
        let _ = write!(io::stderr(), "\r\u{1b}[K");
    }
    std::mem::forget(job.bases);
}

/// Kits of the shops that came last.
#[derive(Default)]
struct Kits {
    shops: HashMap<PathBuf, Shop>,
    kits: VecDeque<(Shop, Shared<Rc<Kit>>)>,
}

impl Job<'_> {
    fn locked(&self) -> MutexGuard<'_, Done> {
        self.done.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait_for(&self, at: usize) -> Came {
        let mut done = self.locked();
        loop {
            if let Some(came) = done.ready.remove(&at) {
                done.written = at + 1;
                self.went.notify_all();
                return came;
            }
            done = self.came.wait(done).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn work(&self) {
        let mut kits = Kits::default();
        loop {
            let at = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(entry) = self.entries.get(at) else { break };
            let mut done = self.locked();
            while at >= done.written + AHEAD && !self.over.load(Ordering::Relaxed) {
                done = self.went.wait(done).unwrap_or_else(PoisonError::into_inner);
            }
            drop(done);
            if self.over.load(Ordering::Relaxed) {
                break;
            }
            let came = self.one(entry, &mut kits);
            self.locked().ready.insert(at, came);
            self.came.notify_one();
        }
        // The program is about to end: taking rules and catalogue apart piece by piece would only
        // keep its user waiting.
        std::mem::forget(kits);
    }

    fn one(&self, entry: &Entry, kits: &mut Kits) -> Came {
        let piped = entry.path.as_os_str() == "-";
        let name = match (piped, self.how.stdin_name) {
            (true, Some(name)) => name,
            (true, None) => Path::new("stdin.toml"),
            (false, _) => &entry.path,
        };
        let file = name.display().to_string();
        let failed = |problems: Arc<Problems>| {
            left_out::told(&problems);
            Came::Report(Box::new(Report { file: file.clone(), outcome: Err(problems) }))
        };
        if self.how.from_hook && !piped && !lists::may_be_a_list(&entry.path) {
            return Came::PassedOver(Some(not_a_list(&file, Sort::Other)));
        }
        let source = match if piped { from_stdin(&file) } else { read_source(name) } {
            Ok(source) => source,
            Err(problem) => return failed(Arc::new(problem.into())),
        };
        let sort = Sort::of(&source.text);
        if sort != Sort::List {
            let problem = not_a_list(&file, sort);
            return match entry.named && !self.how.from_hook {
                true => failed(Arc::new(problem.into())),
                false => Came::PassedOver((sort != Sort::Accepted).then_some(problem)),
            };
        }
        let audited = self.kit(name, kits).and_then(|kit| {
            let build = kit.read(&source, self.today).map_err(Arc::new)?;
            let mut audited = judged(&kit, &build, self.how.causes).map_err(Arc::new)?;
            if let Some(time) = self.how.fixes {
                let bench = Bench::new(kit, source.clone(), self.today);
                repairs::attach(&mut bench.map_err(Arc::new)?, &mut audited, time);
            }
            Ok(audited)
        });
        match audited {
            Ok(audited) => Came::Report(Box::new(Report { file, outcome: Ok(Box::new(audited)) })),
            Err(problems) => failed(problems),
        }
    }

    /// A kit for the lists of one shop; its catalogue is loaded once for all threads.
    fn kit(&self, file: &Path, kits: &mut Kits) -> Shared<Rc<Kit>> {
        let folder = file.parent().map(Path::to_path_buf).unwrap_or_default();
        let shop = kits.shops.entry(folder).or_insert_with(|| shop(file)).clone();
        if let Some((_, kit)) = kits.kits.iter().find(|(held, _)| *held == shop) {
            return kit.clone();
        }
        let kit = self.load(file, &shop).map(Rc::new);
        if kits.kits.len() >= KITS {
            kits.kits.pop_front();
        }
        kits.kits.push_back((shop, kit.clone()));
        kit
    }

    fn load(&self, file: &Path, shop: &Shop) -> Shared<Kit> {
        let cell = {
            let mut bases = self.bases.lock().unwrap_or_else(PoisonError::into_inner);
            match bases.iter().find(|(held, _)| held == shop) {
                Some((_, cell)) => cell.clone(),
                None => {
                    if bases.len() >= KITS {
                        bases.pop_front();
                    }
                    let cell: Arc<OnceLock<Shared<Base>>> = Arc::default();
                    bases.push_back((shop.clone(), cell.clone()));
                    cell
                }
            }
        };
        let load = || {
            let layers = layers(file, self.how.base)?;
            let catalogue = layers.load_catalogue()?;
            left_out::note(&catalogue);
            Ok(Base { layers, catalogue })
        };
        match cell.get_or_init(|| load().map_err(Arc::new)) {
            Ok(base) => {
                let kit = Kit::with_catalogue(base.catalogue.clone(), &base.layers.rules);
                // However many lists there are, a thread holds no more than this of them.
                let bound = |kit: &Kit| {
                    kit.limit_memory(MEMORY);
                    kit.limit_expressions(EXPRESSIONS);
                };
                kit.inspect(bound).map_err(Arc::new)
            }
            Err(problems) => Err(problems.clone()),
        }
    }
}

pub(crate) fn shop(file: &Path) -> Shop {
    [
        find_above(file, config::NAME, |path| path.symlink_metadata().is_ok()),
        find_upward(file, "rules"),
        find_upward(file, "catalogue"),
    ]
}

fn from_stdin(name: &str) -> Result<Arc<Source>, Problem> {
    let bytes = read_all(io::stdin().lock(), name)?
        .map_err(|e| Problem::new(format!("cannot read standard input: {e}")))?;
    text_of(name, bytes)
}

/// Audits a build with its open lines resolved as far as they can be.
pub(crate) fn judged(
    kit: &Kit,
    build: &crate::build::Build,
    causes: bool,
) -> Result<Audited, Problems> {
    let settled = settle(kit, build)?;
    let audit = kit.audit(&settled.build);
    let mut audited = if causes { Audited::with_causes(&audit) } else { Audited::proven(&audit) };
    audited.chosen = settled.choices;
    audited.left = settled.left;
    audited.settle();
    Ok(audited)
}
