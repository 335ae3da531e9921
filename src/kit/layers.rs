//! The folders that a kit is loaded from: what the program carries, packs over that, and a shop's
//! own on top.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::config::Config;
use crate::layer::{Layer, find_upward};
use crate::packs;
use crate::source::Problems;

/// The layers that a kit is loaded from.
#[derive(Debug, Clone)]
pub struct Layers {
    /// Catalogue folders, the lowest first.
    pub catalogue: Vec<Layer>,
    /// Rule folders, the lowest first.
    pub rules: Vec<Layer>,
    /// What the shop set in its `dryfit.toml`.
    #[doc(hidden)]
    pub config: Arc<Config>,
}

impl Layers {
    /// What the binary carries, and nothing else.
    pub fn built_in() -> Self {
        Self::new(vec![Layer::built_in_catalogue()], vec![Layer::built_in_rules()])
    }

    /// Layers of one's own, with nothing set.
    pub fn new(catalogue: Vec<Layer>, rules: Vec<Layer>) -> Self {
        Self { catalogue, rules, config: Arc::default() }
    }

    /// What the binary carries, with the `catalogue` and `rules` folders and the `dryfit.toml`
    /// found beside a file or above it.
    ///
    /// # Errors
    /// A folder or file that is there and can't be read.
    pub fn beside(file: &Path) -> Result<Self, Problems> {
        Self::beside_with(file, None, None)
    }

    /// The same, with folders of rules and parts that are named laid over them. A folder that is
    /// both named and found counts once.
    ///
    /// # Errors
    /// A folder or file that is there and can't be read.
    pub fn beside_with(
        file: &Path,
        rules: Option<&Path>,
        catalogue: Option<&Path>,
    ) -> Result<Self, Problems> {
        Self::beside_set(file, Config::beside(file)?, rules, catalogue)
    }

    /// The same with what a `dryfit.toml` says read already.
    pub(crate) fn beside_set(
        file: &Path,
        config: Config,
        rules: Option<&Path>,
        catalogue: Option<&Path>,
    ) -> Result<Self, Problems> {
        let mut layers = Self::built_in();
        layers.lay_packs(&config)?;
        let (carried, parts) = (layers.rules.len(), layers.catalogue.len());
        let found = |set: &Option<PathBuf>, name: &str, named: Option<&Path>| {
            let folder = set.clone().or_else(|| find_upward(file, name))?;
            named.is_none_or(|named| !same_folder(named, &folder)).then_some(folder)
        };
        if let Some(folder) = found(&config.catalogue, "catalogue", catalogue) {
            layers.lay_catalogue(&folder, &config)?;
        }
        if let Some(folder) = found(&config.rules, "rules", rules) {
            layers.lay_rules(&folder, &config)?;
        }
        let shops = (layers.rules.len() > carried, layers.catalogue.len() > parts);
        if let Some(folder) = catalogue {
            layers.lay_catalogue(folder, &Config::beside(folder)?)?;
        }
        if let Some(folder) = rules {
            layers.lay_rules(folder, &Config::beside(folder)?)?;
        }
        config.check_folders(shops.0 || rules.is_some(), shops.1 || catalogue.is_some())?;
        layers.config = Arc::new(config);
        Ok(layers)
    }

    /// Whether what takes the place of a file has one to take.
    ///
    /// # Errors
    /// Each file that is named and that no layer below has.
    #[doc(hidden)]
    pub fn check(&self) -> Result<(), Problems> {
        let mut problems = Problems(Layer::replaces_nothing(&self.rules));
        problems.0.extend(Layer::replaces_nothing(&self.catalogue));
        problems.or(())
    }

    /// The catalogue of these layers.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn load_catalogue(&self) -> Result<Arc<Catalogue>, Problems> {
        let mut catalogue = Catalogue::load(&self.catalogue)?;
        if let Some(currency) = self.config.currency {
            catalogue.currency = currency;
        }
        Ok(Arc::new(catalogue))
    }

    /// Lays the packs of a shop over what the program carries.
    /// Errors: a pack that is not here, or is not as it should be.
    pub(crate) fn lay_packs(&mut self, config: &Config) -> Result<(), Problems> {
        for pack in packs::read_all(config, (&self.rules, &self.catalogue))? {
            self.rules.extend(pack.rules);
            self.catalogue.extend(pack.catalogue);
        }
        Ok(())
    }

    /// Lays a folder of rules over those there are.
    #[doc(hidden)]
    pub fn lay_rules(&mut self, folder: &Path, config: &Config) -> Result<(), Problems> {
        let layer = Layer { replaces: config.replaces_rules(), ..Layer::read(folder)? };
        self.rules.push(layer);
        Ok(())
    }

    /// Lays a catalogue folder over those there are.
    #[doc(hidden)]
    pub fn lay_catalogue(&mut self, folder: &Path, config: &Config) -> Result<(), Problems> {
        let layer = Layer { replaces: config.replaces_catalogue(), ..Layer::read(folder)? };
        self.catalogue.push(layer);
        Ok(())
    }
}

fn same_folder(a: &Path, b: &Path) -> bool {
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}

#[cfg(test)]
#[path = "../../tests/unit/kit/layers.rs"]
mod tests;
