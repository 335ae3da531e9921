//! `dryfit rules pack`: a folder of rules, whose cases pass, made into a pack.

use std::fs;
use std::path::{Path, PathBuf};

use crate::config::packs::is_prefix;
use crate::kit::Layers;
use crate::layer::Layer;
use crate::packs::{CARD, read_folder};
use crate::source::{Problem, Problems};

pub(crate) struct Wanted<'w> {
    pub(crate) into: &'w Path,
    /// What it is called; the folder's name when left out.
    pub(crate) name: Option<&'w str>,
    pub(crate) version: &'w str,
}

/// A pack that was made.
pub(crate) struct Made {
    pub(crate) name: String,
    pub(crate) files: usize,
    /// The checksum of its files.
    pub(crate) sha256: String,
}

/// Writes the topmost layers of rules and catalogue as a pack.
/// Errors: the folder holds something, or the files are no pack; nothing is left behind then.
pub(crate) fn make(layers: &Layers, wanted: &Wanted<'_>) -> Result<Made, Problems> {
    let name = match wanted.name {
        Some(name) => name.to_owned(),
        None => wanted.into.file_name().map_or_else(String::new, |n| n.to_string_lossy().into()),
    };
    let prefix = name.replace('-', "_");
    if !is_prefix(&prefix) {
        return Err(Problem::new(format!("`{name}` is no name of a pack"))
            .help("lower-case letters, digits, `-` and `_`, a letter first: --name quay")
            .into());
    }
    let into = wanted.into;
    if into.is_file() || fs::read_dir(into).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(Problem::new(format!("{} holds something already", into.display()))
            .help("name a folder that is empty or not there")
            .into());
    }
    let beside = Beside(PathBuf::from(format!("{}.new-{}", into.display(), std::process::id())));
    let version = wanted.version;
    let needs = format!(">= {}", env!("CARGO_PKG_VERSION"));
    let card = toml::Table::from_iter([
        ("name".to_owned(), toml::Value::String(name.clone())),
        ("version".to_owned(), toml::Value::String(version.to_owned())),
        ("needs".to_owned(), toml::Value::String(needs)),
    ]);
    write(&beside.0, CARD, &card.to_string())?;
    let mut files = 0;
    let tops = [("rules", top(&layers.rules)), ("catalogue", top(&layers.catalogue))];
    for (folder, layer) in tops {
        for (below, source) in layer.map_or(&[][..], |layer| &layer.files) {
            write(&beside.0, &format!("{folder}/{below}"), &source.text)?;
            files += 1;
        }
    }
    let held = read_folder(&beside.0, &name, &prefix)?;
    let _ = fs::remove_dir(into);
    fs::rename(&beside.0, into)
        .map_err(|e| Problem::new(format!("cannot write {}: {e}", into.display())))?;
    Ok(Made { name, files, sha256: held.sha256 })
}

/// The shop's own layer: what lies over what the program carries.
fn top(layers: &[Layer]) -> Option<&Layer> {
    layers.last().filter(|layer| layer.label != "built in")
}

fn write(folder: &Path, below: &str, text: &str) -> Result<(), Problem> {
    let path = folder.join(below);
    let parent = path.parent().unwrap_or(folder);
    fs::create_dir_all(parent)
        .and_then(|()| fs::write(&path, text))
        .map_err(|e| Problem::new(format!("cannot write {}: {e}", path.display())))
}

/// A folder that goes away when it is not put in its place.
struct Beside(PathBuf);

impl Drop for Beside {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}
