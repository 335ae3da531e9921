//! Many builds at once: which files, which layers, and one kit a thread.

use std::collections::HashMap;
use std::io::{IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock};
use std::{fs, io, thread};

use crate::app::report::{Audited, Report};
use crate::catalogue::Catalogue;
use crate::kit::{Kit, Layers};
use crate::layer::{MAX_BUILD_FOLDERS, MAX_BUILDS, read_bytes, read_source};
use crate::source::{Problem, Problems};
use crate::whatif::open_lines::settle;
use jiff::civil::Date;

use crate::app::args::BaseArgs;

/// Stack of a thread that audits: scripts recurse.
const STACK: usize = 64 << 20;
/// The layers for a build: those found beside it, and what the user named on top.
///
/// # Errors
/// A folder that can't be read.
pub(crate) fn layers(beside: &Path, base: &BaseArgs) -> Result<Layers, Problems> {
    Layers::beside_with(beside, base.rules.as_deref(), base.catalogue.as_deref())
}

/// The build files that the arguments name: files as they are, folders with every build under them,
/// in order of path.
///
/// # Errors
/// A folder that can't be read, or that holds no build.
pub(crate) fn files(named: &[PathBuf]) -> Result<Vec<PathBuf>, Problem> {
    let mut files = Vec::new();
    for path in named {
        if path.is_dir() {
            let before = files.len();
            let mut seen = Vec::new();
            search(path, 0, &mut seen, &mut files)?;
            if files.len() == before {
                return Err(Problem::new(format!("{} holds no build", path.display()))
                    .help("a build is a .toml file with at least one `[[line]]`"));
            }
        } else {
            files.push(path.clone());
        }
    }
    Ok(files)
}

fn search(
    folder: &Path,
    depth: usize,
    seen: &mut Vec<PathBuf>,
    into: &mut Vec<PathBuf>,
) -> Result<(), Problem> {
    let cannot =
        |e: &std::io::Error| Problem::new(format!("cannot read {}: {e}", folder.display()));
    let real = fs::canonicalize(folder).map_err(|e| cannot(&e))?;
    // A link back up is a circle, and what was seen already is not seen twice.
    if seen.contains(&real) {
        return Ok(());
    }
    if depth > MAX_BUILD_FOLDERS {
        return Err(Problem::new(format!(
            "{} lies more than {MAX_BUILD_FOLDERS} folders deep",
            folder.display()
        ))
        .help("name it on the command line"));
    }
    seen.push(real);
    let mut entries = fs::read_dir(folder)
        .map_err(|e| cannot(&e))?
        .map(|e| e.map(|e| e.path()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| cannot(&e))?;
    entries.sort();
    for path in entries {
        let hidden = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.'));
        if hidden {
            continue;
        }
        if path.is_dir() {
            search(&path, depth + 1, seen, into)?;
        } else if path.extension().is_some_and(|e| e == "toml") && looks_like_a_build(&path) {
            if into.len() >= MAX_BUILDS {
                return Err(Problem::new(format!(
                    "more than {MAX_BUILDS} builds under {}",
                    folder.display()
                )));
            }
            into.push(path);
        }
    }
    Ok(())
}

/// A file that can't be read is not passed over: its audit says why.
fn looks_like_a_build(path: &Path) -> bool {
    match read_bytes(path) {
        Ok(bytes) => String::from_utf8_lossy(&bytes)
            .lines()
            .any(|l| l.split_whitespace().collect::<String>().starts_with("[[line]]")),
        Err(_) => true,
    }
}

/// Layers with their catalogue, shared by the builds that lie beside one another.
struct Base {
    layers: Layers,
    catalogue: Arc<Catalogue>,
}

type Shared<T> = Result<T, Arc<Problems>>;

/// What every thread shares.
struct Job<'a> {
    files: &'a [PathBuf],
    base: &'a BaseArgs,
    today: Date,
    next: AtomicUsize,
    bases: Mutex<HashMap<PathBuf, Arc<OnceLock<Shared<Base>>>>>,
    done: Mutex<Vec<(usize, Report)>>,
    /// Whether somebody watches: then a count of what is done runs along.
    watched: bool,
    /// Whether the report shows what is at fault.
    causes: bool,
}

/// Audits files, in their order, over as many threads as there are cores.
/// What is at fault is worked out where the report shows it.
pub(crate) fn audit(files: &[PathBuf], base: &BaseArgs, plain: bool, causes: bool) -> Vec<Report> {
    let watched = files.len() > 1 && !plain && io::stderr().is_terminal();
    let job = Job {
        files,
        base,
        today: base.today(),
        next: AtomicUsize::new(0),
        bases: Mutex::default(),
        done: Mutex::default(),
        watched,
        causes,
    };
    let threads = thread::available_parallelism().map_or(1, usize::from).min(files.len());
    thread::scope(|scope| {
        for _ in 0..threads {
            let job = &job;
            if thread::Builder::new().stack_size(STACK).spawn_scoped(scope, || job.work()).is_err()
            {
                job.work();
            }
        }
    });
    if watched {
        // A count that cannot be shown is not missed.
        let _ = write!(io::stderr(), "\r\u{1b}[K");
    }
    std::mem::forget(job.bases);
    let mut done = job.done.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    done.sort_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, report)| report).collect()
}

impl Job<'_> {
    fn work(&self) {
        let mut kits: HashMap<PathBuf, Shared<Kit>> = HashMap::new();
        loop {
            let at = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(file) = self.files.get(at) else { break };
            let folder = file.parent().map(Path::to_path_buf).unwrap_or_default();
            let kit = kits.entry(folder.clone()).or_insert_with(|| self.kit(&folder, file));
            let report = self.one(file, kit);
            if let Ok(mut done) = self.done.lock() {
                done.push((at, report));
                if self.watched {
                    let _ = write!(
                        io::stderr(),
                        "\r{} of {} lists audited",
                        done.len(),
                        self.files.len()
                    );
                }
            }
        }
        // The program is about to end: taking rules and catalogue apart piece by piece would only
        // keep its user waiting.
        std::mem::forget(kits);
    }

    /// A kit for the builds of one folder; its catalogue is loaded once for all threads.
    fn kit(&self, folder: &Path, file: &Path) -> Shared<Kit> {
        let cell = match self.bases.lock() {
            Ok(mut bases) => bases.entry(folder.to_path_buf()).or_default().clone(),
            Err(_) => Arc::default(),
        };
        let load = || {
            let layers = layers(file, self.base)?;
            let catalogue = layers.load_catalogue()?;
            Ok(Base { layers, catalogue })
        };
        match cell.get_or_init(|| load().map_err(Arc::new)) {
            Ok(base) => {
                Kit::with_catalogue(base.catalogue.clone(), &base.layers.rules).map_err(Arc::new)
            }
            Err(problems) => Err(problems.clone()),
        }
    }

    fn one(&self, file: &Path, kit: &Shared<Kit>) -> Report {
        let outcome = match read_source(file) {
            Err(problem) => Err(Arc::new(problem.into())),
            Ok(source) => match kit {
                Err(problems) => Err(problems.clone()),
                Ok(kit) => kit
                    .read(&source, self.today)
                    .and_then(|build| judged(kit, &build, self.causes))
                    .map(Box::new)
                    .map_err(Arc::new),
            },
        };
        Report { file: file.display().to_string(), outcome }
    }
}

/// Audits a build with its open lines resolved as far as they can be.
pub(crate) fn judged(
    kit: &Kit,
    build: &crate::build::Build,
    causes: bool,
) -> Result<Audited, Problems> {
    let settled = settle(kit, build)?;
    let audit = kit.audit(&settled.build);
    let mut audited = if causes { Audited::with_causes(&audit) } else { Audited::new(&audit) };
    audited.chosen = settled.choices;
    audited.left = settled.left;
    // What no part can be put into cannot be built.
    if !audited.left.is_empty() {
        audited.code = audited.code.max(1);
    }
    Ok(audited)
}
