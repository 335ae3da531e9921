//! Folders of files, one over the other: what the binary carries at the bottom, a shop's own folder
//! on top.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::source::{Label, Problem, Problems, Source, Span};

include!(concat!(env!("OUT_DIR"), "/embedded.rs"));

/// Largest file that is read, in bytes; a larger one is refused before it is read.
pub const MAX_FILE_BYTES: u64 = 64 << 20;
/// Deepest folder below a layer's root.
pub const MAX_DEPTH: usize = 8;
/// Most files in a layer.
pub const MAX_FILES: usize = 10_000;
/// Deepest folder that is searched for builds.
pub const MAX_BUILD_FOLDERS: usize = 16;
/// Most builds in one call.
pub const MAX_BUILDS: usize = 50_000;

/// The text of a file of the rules that the program carries.
pub(crate) fn carried_rules(below: &str) -> Option<&'static str> {
    text_among(RULES, below)
}

/// How many files of rules the program carries.
pub(crate) fn carried_scripts() -> usize {
    RULES.iter().filter(|(below, _)| below.ends_with(".rhai")).count()
}

/// The text of a file of the catalogue that the program carries.
pub(crate) fn carried_catalogue(below: &str) -> Option<&'static str> {
    text_among(CATALOGUE, below)
}

/// The files of a folder of the catalogue that the program carries.
pub(crate) fn carried_below(folder: &str) -> impl Iterator<Item = &'static str> {
    CATALOGUE.iter().map(|(below, _)| *below).filter(move |below| below.starts_with(folder))
}

fn text_among(files: &'static [(&str, &str)], below: &str) -> Option<&'static str> {
    files.iter().find(|(name, _)| *name == below).map(|(_, text)| *text)
}

/// A file of the layers below that a layer takes the place of, with every rule, table or kind of
/// it.
#[derive(Debug, Clone)]
pub struct Replaces {
    /// The file's path below its folder, without ending: `fit`, `lib/air`, `tables/efficiency`.
    pub file: String,
    /// Why.
    pub reason: String,
    /// Where it is written.
    pub place: Label,
}

/// One folder's files.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Where it comes from: `built in`, or the folder's path.
    pub label: String,
    /// Whether it stands alone: the layers under it do not count (`alone = true` in its
    /// `layer.toml`).
    pub alone: bool,
    /// Files of the layers below whose place it takes as a whole, as its `dryfit.toml` says.
    pub replaces: Vec<Replaces>,
    /// Path below the folder, with `/` between names, and the text.
    pub files: Vec<(String, Arc<Source>)>,
}

impl Layer {
    /// The catalogue that the binary was built with.
    pub fn built_in_catalogue() -> Self {
        Self::built_in("catalogue", CATALOGUE)
    }

    /// The rules that the binary was built with.
    pub fn built_in_rules() -> Self {
        Self::built_in("rules", RULES)
    }

    fn built_in(folder: &str, files: &[(&str, &str)]) -> Self {
        Self { label: "built in".to_owned(), alone: true, ..Self::from_texts(folder, files) }
    }

    /// A layer made of texts, for tests and for embedding: pairs of a path below the folder and its
    /// text.
    pub fn from_texts(label: &str, files: &[(&str, &str)]) -> Self {
        let files = files
            .iter()
            .map(|(below, text)| {
                ((*below).to_owned(), Source::new(format!("{label}/{below}"), *text))
            })
            .collect();
        Self { label: label.to_owned(), alone: false, replaces: Vec::new(), files }
    }

    /// Reads a folder: its `.toml`, `.csv` and `.rhai` files, sorted by path; hidden names are
    /// passed over.
    ///
    /// # Errors
    /// A folder or file that can't be read, is too large, is not UTF-8, or lies outside the folder.
    pub fn read(folder: &Path) -> Result<Self, Problems> {
        let root = fs::canonicalize(folder).map_err(|e| cannot_read(folder, &e))?;
        let mut paths = Vec::new();
        list(folder, &root, 0, &mut paths)?;
        paths.sort();
        let mut problems = Problems::default();
        let mut files = Vec::with_capacity(paths.len());
        for path in paths {
            let below =
                path.strip_prefix(folder).unwrap_or(&path).to_string_lossy().replace('\\', "/");
            match read_source(&path) {
                Ok(source) => files.push((below, source)),
                Err(problem) => problems.push(problem),
            }
        }
        let marker = files.iter().position(|(below, _)| below == "layer.toml");
        let alone = match marker.map(|at| files.remove(at).1) {
            Some(source) => match read_marker(&source) {
                Ok(alone) => alone,
                Err(problem) => {
                    problems.push(problem);
                    false
                }
            },
            None => false,
        };
        let label = folder.display().to_string();
        problems.or(Self { label, alone, replaces: Vec::new(), files })
    }

    /// The layers that count: from the topmost one that stands alone upward.
    pub fn in_force(layers: &[Self]) -> &[Self] {
        let base = layers.iter().rposition(|layer| layer.alone).unwrap_or(0);
        layers.get(base..).unwrap_or(layers)
    }

    /// The files of all layers that count, the lowest first, each with its layer's place in
    /// `layers`, without those whose place a later layer takes.
    pub(crate) fn files_in_force(
        layers: &[Self],
    ) -> impl Iterator<Item = (usize, &str, &Arc<Source>)> {
        let first = layers.len() - Self::in_force(layers).len();
        layers.iter().enumerate().skip(first).flat_map(move |(at, layer)| {
            let above = layers.get(at + 1..).unwrap_or(&[]);
            let files = layer.files.iter().map(move |(below, source)| (at, below.as_str(), source));
            files.filter(move |(_, below, _)| !above.iter().any(|l| l.takes_place_of(below)))
        })
    }

    /// Whether it takes the place of a file of the layers below.
    fn takes_place_of(&self, below: &str) -> bool {
        let name = without_ending(below);
        self.replaces.iter().any(|r| r.file == name)
    }

    /// What a layer says it takes the place of, and no layer below has.
    pub(crate) fn replaces_nothing(layers: &[Self]) -> Vec<Problem> {
        let mut problems = Vec::new();
        let layers = Self::in_force(layers);
        for (at, layer) in layers.iter().enumerate() {
            let below = || layers.iter().take(at).flat_map(|l| &l.files);
            for replaces in &layer.replaces {
                if below().any(|(name, _)| without_ending(name) == replaces.file) {
                    continue;
                }
                let problem = Problem::new(format!(
                    "no file below is called `{}`, so nothing takes its place",
                    replaces.file
                ));
                let names = below().map(|(name, _)| without_ending(name));
                let place = &replaces.place;
                problems.push(
                    problem
                        .at(&place.source, place.span, "unknown")
                        .suggest(&replaces.file, names.filter(|n| *n != "settings")),
                );
            }
        }
        problems
    }
}

/// A file's path without its ending.
pub(crate) fn without_ending(below: &str) -> &str {
    below.rsplit_once('.').map_or(below, |(name, _)| name)
}

/// A folder named `name` beside the file (or in the folder, when it is one) or in a folder above,
/// as users expect of a project's settings. One that holds none of our files is another's, and is
/// passed over; one that cannot be looked into is found, so that reading it says why, and so is
/// what is no folder where one is looked for first.
pub fn find_upward(file: &Path, name: &str) -> Option<PathBuf> {
    let mut first = true;
    let ours = |folder: &Path| {
        let beside = std::mem::take(&mut first) && folder.file_name() != file.file_name();
        match fs::symlink_metadata(folder) {
            Err(error) => error.kind() != std::io::ErrorKind::NotFound,
            Ok(meta) if meta.is_dir() || meta.is_symlink() => {
                holds_files(folder, 0).unwrap_or(true)
            }
            Ok(_) => beside,
        }
    };
    find_above(file, name, ours)
}

/// The first path called `name` beside a file or above it that is wanted; a file that is not there
/// counts as if it were.
pub(crate) fn find_above(
    file: &Path,
    name: &str,
    mut wanted: impl FnMut(&Path) -> bool,
) -> Option<PathBuf> {
    let mut up = match file.is_dir() {
        true => file.to_path_buf(),
        false => file.parent().map(Path::to_path_buf).unwrap_or_default(),
    };
    let here = if up.as_os_str().is_empty() { Path::new(".") } else { up.as_path() };
    let start = fs::canonicalize(here).ok()?;
    let mut folder = start.as_path();
    loop {
        let candidate = folder.join(name);
        if wanted(&candidate) {
            return Some(tidy(&up.join(name), &candidate));
        }
        folder = folder.parent()?;
        // Through a link, `..` leads elsewhere than leaving the name out.
        up = match up.parent() {
            Some(above) if up.file_name().is_some() && !up.is_symlink() => above.to_path_buf(),
            _ => up.join(".."),
        };
    }
}

/// Prefers the short way of writing a folder's path.
fn tidy(relative: &Path, absolute: &Path) -> PathBuf {
    let here = std::env::current_dir().ok().and_then(|d| fs::canonicalize(d).ok());
    match here.and_then(|h| absolute.strip_prefix(&h).map(Path::to_path_buf).ok()) {
        Some(below) => below,
        None if relative.components().count() <= absolute.components().count() => {
            relative.to_path_buf()
        }
        None => absolute.to_path_buf(),
    }
}

/// Deepest folder that is looked into for a file of ours.
const LOOK_DEPTH: usize = 2;

/// Whether a folder holds a file that a layer is made of.
fn holds_files(folder: &Path, depth: usize) -> std::io::Result<bool> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.')) {
            continue;
        }
        let ours = is_ours(&path)
            || depth < LOOK_DEPTH && path.is_dir() && {
                // A folder below that cannot be read is an error of the layer, which says so.
                holds_files(&path, depth + 1).unwrap_or(true)
            };
        if ours {
            return Ok(true);
        }
    }
    Ok(false)
}

fn is_ours(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "toml" || e == "csv" || e == "rhai")
}

/// Reads one file as text, with a cap on its size, without a byte-order mark.
pub fn read_source(path: &Path) -> Result<Arc<Source>, Problem> {
    text_of(&path.display().to_string(), read_bytes(path)?)
}

/// Reads a file's bytes; one that is too large, or that has no end, is given up before it fills the
/// memory.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, Problem> {
    let shown = path.display().to_string();
    // Looked at before it is opened: a pipe would be waited for, and a device may act.
    let kind = fs::metadata(path).map_err(|e| cannot_read(path, &e))?.file_type();
    if kind.is_dir() {
        return Err(Problem::new(format!("{shown} is a folder, not a file")));
    }
    if !kind.is_file() {
        return Err(Problem::new(format!("{shown} is a pipe or a device, not a file"))
            .help("only plain files are read; what comes through a pipe is named `-`"));
    }
    let file = fs::File::open(path).map_err(|e| cannot_read(path, &e))?;
    read_all(file, &shown)?.map_err(|e| cannot_read(path, &e))
}

/// Reads a stream to its end, as far as a file may go.
/// Errors: it goes on beyond that.
pub(crate) fn read_all(stream: impl Read, name: &str) -> Result<std::io::Result<Vec<u8>>, Problem> {
    let mut bytes = Vec::new();
    let read = stream.take(MAX_FILE_BYTES + 1).read_to_end(&mut bytes);
    if bytes.len() as u64 > MAX_FILE_BYTES {
        return Err(Problem::new(format!("{name} is larger than {} MiB", MAX_FILE_BYTES >> 20))
            .help("split it into several files"));
    }
    Ok(read.map(|_| bytes))
}

/// Turns bytes into a source, or says where they stop being UTF-8.
/// Errors: the line and column of the first byte that is not UTF-8.
pub fn text_of(name: &str, bytes: Vec<u8>) -> Result<Arc<Source>, Problem> {
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Source::new(
            name,
            text.strip_prefix('\u{feff}').map_or_else(|| text.clone(), str::to_owned),
        )),
        Err(error) if error.as_bytes().starts_with(b"PK\x03\x04") => {
            Err(Problem::new(format!("{name} is a workbook or an archive, not a text"))
                .help(format!("a list in it is read by `dryfit intake {name}`")))
        }
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let lossy = Source::new(name, String::from_utf8_lossy(error.as_bytes()).into_owned());
            Err(Problem::new(format!("{name} is not UTF-8 text"))
                .at(&lossy, Span::new(at, at + 3), "this byte does not belong to UTF-8")
                .help("save the file as UTF-8"))
        }
    }
}

fn cannot_read(path: &Path, error: &std::io::Error) -> Problem {
    let why = match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        std::io::ErrorKind::PermissionDenied => "it may not be read".to_owned(),
        std::io::ErrorKind::NotADirectory => "it is not a folder".to_owned(),
        _ if error.to_string().contains("levels of symbolic links") => {
            "its links run in a circle".to_owned()
        }
        _ => error.to_string().split(" (os error").next().unwrap_or("").to_lowercase(),
    };
    Problem::new(format!("cannot read {}: {why}", path.display())).code("not-readable")
}

fn list(folder: &Path, root: &Path, depth: usize, into: &mut Vec<PathBuf>) -> Result<(), Problem> {
    if depth > MAX_DEPTH {
        return Err(Problem::new(format!(
            "{} is nested too deeply, or its links run in a circle",
            folder.display()
        )));
    }
    for entry in fs::read_dir(folder).map_err(|e| cannot_read(folder, &e))? {
        let path = entry.map_err(|e| cannot_read(folder, &e))?.path();
        if path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.')) {
            continue;
        }
        // A link that points out of the folder, or at nothing, is an error rather than a way round
        // the jail.
        let real = fs::canonicalize(&path).map_err(|e| cannot_read(&path, &e))?;
        if !real.starts_with(root) {
            return Err(Problem::new(format!("{} points outside its folder", path.display()))
                .help("copy the file instead of linking it"));
        }
        if real.is_dir() {
            list(&path, root, depth + 1, into)?;
        } else if is_ours(&path) {
            if into.len() >= MAX_FILES {
                return Err(Problem::new(format!(
                    "{} holds more than {MAX_FILES} files",
                    root.display()
                )));
            }
            into.push(path);
        }
    }
    Ok(())
}

fn read_marker(source: &Arc<Source>) -> Result<bool, Problem> {
    #[derive(serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Marker {
        alone: bool,
    }
    toml::from_str::<Marker>(&source.text).map(|m| m.alone).map_err(|e| {
        let span = e.span().map_or_else(Span::default, Span::from);
        Problem::new("layer.toml is not understood")
            .at(source, span, e.message().to_owned())
            .help("it holds one line: `alone = true` or `alone = false`")
    })
}
