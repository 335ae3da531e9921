//! `dryfit.toml`: what a shop sets once, in the nearest file of that name beside a list or above
//! it.

pub(crate) mod packs;
pub(crate) mod read;
mod shop;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::layer::{Replaces, find_above, read_source};
use crate::level::Level;
use crate::source::{Label, Problem, Problems, Source};
use crate::trade::money::Currency;

pub use packs::{Origin, Pack};
pub use shop::{ByKind, DateForm, Earned, Labour, NumberForm, Shop, Tax};

/// The file's name.
pub const NAME: &str = "dryfit.toml";

/// What a shop set.
#[derive(Debug, Clone, Default)]
pub struct Config {
    /// The file; none when there is none.
    pub source: Option<Arc<Source>>,
    /// The folder it lies in, which its paths start from.
    pub folder: PathBuf,
    /// The shop's rules, when it says where; `rules` beside a list or above it otherwise.
    pub rules: Option<PathBuf>,
    /// The shop's catalogue, likewise.
    pub catalogue: Option<PathBuf>,
    /// Files of the layers below whose place the shop's take.
    pub replaces: Vec<Replaces>,
    /// How `audit` writes when it is not told.
    pub format: Option<Given<String>>,
    /// The level that makes `audit` fail when it is not told.
    pub fail_on: Option<Level>,
    /// The currency of lists that name none.
    pub currency: Option<Currency>,
    /// The address of the shop's handbook, whose pages are named by rule.
    pub handbook: Option<String>,
    /// Rules and parts of others that are in use, in the order they are named in.
    pub packs: Vec<Pack>,
    /// What stands on the sheet.
    pub shop: Shop,
    /// Every value as it is written, in the order of the file.
    pub entries: Vec<Entry>,
}

/// A value with its place.
#[derive(Debug, Clone)]
pub struct Given<T> {
    /// The value.
    pub value: T,
    /// Where it is written.
    pub place: Label,
}

/// One value of the file, for listing.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its key, with the keys it is under: `shop.tax.percent`.
    pub key: String,
    /// The value as it is written.
    pub value: String,
    /// Where.
    pub place: Label,
}

impl Config {
    /// The nearest `dryfit.toml` beside a file (or in the folder, when it is one) or above it;
    /// nothing set when there is none.
    pub fn beside(file: &Path) -> Result<Self, Problems> {
        match find_above(file, NAME, |path| path.symlink_metadata().is_ok()) {
            None => Ok(Self::default()),
            Some(path) => {
                let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
                Self::read(&read_source(&path)?, &folder)
            }
        }
    }

    /// Reads a configuration whose paths start from `folder`.
    pub fn read(source: &Arc<Source>, folder: &Path) -> Result<Self, Problems> {
        read::read(source, folder)
    }

    /// The files of rules folders whose place the shop's take.
    pub(crate) fn replaces_rules(&self) -> Vec<Replaces> {
        self.replaces.iter().filter(|r| !is_of_catalogue(&r.file)).cloned().collect()
    }

    /// The files of catalogue folders whose place the shop's take.
    pub(crate) fn replaces_catalogue(&self) -> Vec<Replaces> {
        self.replaces.iter().filter(|r| is_of_catalogue(&r.file)).cloned().collect()
    }

    /// What it takes the place of with no folder of its own to do it.
    pub(crate) fn check_folders(&self, rules: bool, catalogue: bool) -> Result<(), Problems> {
        let mut problems = Problems::default();
        for replaces in &self.replaces {
            let of_catalogue = is_of_catalogue(&replaces.file);
            if (of_catalogue && !catalogue) || (!of_catalogue && !rules) {
                let folder = if of_catalogue { "catalogue" } else { "rules" };
                let place = &replaces.place;
                problems.push(
                    Problem::new(format!(
                        "nothing takes the place of `{}`: there is no {folder} folder here",
                        replaces.file
                    ))
                    .at(&place.source, place.span, "here")
                    .help(format!("add the folder, or say where it is: {folder} = \"…\"")),
                );
            }
        }
        problems.or(())
    }
}

fn is_of_catalogue(file: &str) -> bool {
    ["kinds/", "parts/", "tables/", "offers/"].iter().any(|folder| file.starts_with(folder))
}

#[cfg(test)]
#[path = "../../tests/unit/config.rs"]
mod tests;
