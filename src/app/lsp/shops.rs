//! What lists are audited with: the layers found beside each list, with the texts that are open in
//! the editor in the place of those on disk, and one kit a shop that lives on between edits.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use super::documents::Document;
use super::uris;
use crate::app::args::BaseArgs;
use crate::app::batch;
use crate::app::stamp::Stamp;
use crate::cases::Suite;
use crate::catalogue::Catalogue;
use crate::kit::{Kit, Layers};
use crate::layer::Layer;
use crate::settings::Settings;
use crate::source::{Problem, Problems, Source};
use crate::waivers;

/// Shops that are kept; the one that was not used for longest goes first.
const SHOPS: usize = 8;
/// What the memory of a kit may hold, in nodes and steps; some 35 MB.
const MEMORY: usize = 500_000;
/// How many expressions a kit may know; some 15 MB.
const EXPRESSIONS: usize = 100_000;

/// What tells one shop from another: its `dryfit.toml`, rules and catalogue.
pub(crate) type ShopKey = [Option<PathBuf>; 3];

pub(crate) fn key_of(file: &Path) -> ShopKey {
    batch::shop(file).map(|found| found.map(|path| uris::real(&path)))
}

/// A shop's layers and what was loaded from them.
pub(crate) struct Shop {
    key: ShopKey,
    /// A file or folder that the layers are found from.
    beside: PathBuf,
    disk: Layers,
    /// What is wrong with the folders themselves.
    unread: Vec<Problem>,
    stamp: Stamp,
    /// The layers with the texts that are open in the place of those on disk.
    pub(crate) layers: Layers,
    /// The kit of the newest texts that load.
    pub(crate) kit: Option<Rc<Kit>>,
    /// Whether the kit is of older texts, since the newest do not load.
    pub(crate) stale: bool,
    /// Everything that is wrong with the layers.
    pub(crate) problems: Vec<Problem>,
    /// What is odd in the rules and still runs.
    pub(crate) warnings: Vec<Problem>,
    /// A number that changes whenever the layers do.
    pub(crate) generation: u64,
    catalogue: Option<Arc<Catalogue>>,
    /// Texts of open documents under the names that layers give them.
    overlaid: HashMap<String, Arc<Source>>,
    /// Where each file is, by the name that messages call it.
    places: HashMap<String, String>,
    /// The same by the text itself, where it lies in memory: the layers hold each of them.
    texts: HashMap<usize, String>,
    used: u64,
}

/// The shops of the lists that are open.
pub(crate) struct Shops {
    base: BaseArgs,
    held: Vec<Shop>,
    clock: u64,
    generations: u64,
}

impl Shops {
    /// None yet; `base` names folders that are laid over those found.
    pub(crate) fn new(base: BaseArgs) -> Self {
        Self { base, held: Vec::new(), clock: 0, generations: 0 }
    }

    /// What the user named.
    pub(crate) fn base(&self) -> &BaseArgs {
        &self.base
    }

    pub(crate) fn held(&self) -> &[Shop] {
        &self.held
    }

    /// The shop of a key, loaded if it is not; `beside` is a file that belongs to it.
    pub(crate) fn shop(&mut self, key: &ShopKey, beside: &Path, docs: &[&Document]) -> &Shop {
        self.clock += 1;
        let at = match self.held.iter().position(|shop| shop.key == *key) {
            Some(at) => at,
            None => {
                if self.held.len() >= SHOPS {
                    let oldest = (0..self.held.len())
                        .min_by_key(|at| self.held.get(*at).map_or(0, |s| s.used));
                    oldest.map(|at| self.held.swap_remove(at));
                }
                let mut shop = Shop::new(key, beside);
                shop.read_disk(&self.base);
                self.generations += 1;
                shop.load(docs, self.generations);
                self.held.push(shop);
                self.held.len() - 1
            }
        };
        if let Some(shop) = self.held.get_mut(at) {
            shop.used = self.clock;
        }
        // There is one at that place: it was found or put there.
        &self.held[at]
    }

    /// Takes over the texts that are open by now; gives the keys of the shops that changed.
    pub(crate) fn overlay(&mut self, docs: &[&Document]) -> Vec<ShopKey> {
        let mut changed = Vec::new();
        for shop in &mut self.held {
            if shop.load(docs, self.generations + 1) {
                self.generations += 1;
                changed.push(shop.key.clone());
            }
        }
        changed
    }

    /// Reads the folders again that differ on disk from what was read, or all of them; gives the
    /// keys of the shops that changed.
    pub(crate) fn reread(&mut self, all: bool, docs: &[&Document]) -> Vec<ShopKey> {
        let mut changed = Vec::new();
        for shop in &mut self.held {
            if !all && !shop.differs_on_disk() {
                continue;
            }
            shop.read_disk(&self.base);
            if shop.load(docs, self.generations + 1) {
                self.generations += 1;
                changed.push(shop.key.clone());
            }
        }
        changed
    }

    pub(crate) fn find(&self, key: &ShopKey) -> Option<&Shop> {
        self.held.iter().find(|shop| shop.key == *key)
    }
}

impl Shop {
    fn new(key: &ShopKey, beside: &Path) -> Self {
        Self {
            key: key.clone(),
            beside: beside.to_path_buf(),
            disk: Layers::built_in(),
            unread: Vec::new(),
            stamp: Stamp::default(),
            layers: Layers::new(Vec::new(), Vec::new()),
            kit: None,
            stale: false,
            problems: Vec::new(),
            warnings: Vec::new(),
            generation: 0,
            catalogue: None,
            overlaid: HashMap::new(),
            places: HashMap::new(),
            texts: HashMap::new(),
            used: 0,
        }
    }

    /// What tells it from others.
    pub(crate) fn key(&self) -> &ShopKey {
        &self.key
    }

    fn differs_on_disk(&self) -> bool {
        Stamp::of(&self.disk) != self.stamp || self.config_differs()
    }

    fn config_differs(&self) -> bool {
        let Some(path) = self.key.first().and_then(Option::as_ref) else { return false };
        let held = self.disk.config.source.as_ref().map_or("", |s| s.text.as_str());
        std::fs::read(path).map_or(true, |now| now != held.as_bytes())
    }

    /// Reads the folders; what cannot be read leaves what was read before.
    fn read_disk(&mut self, base: &BaseArgs) {
        match batch::layers(&self.beside, base) {
            Ok(mut layers) => {
                keep_texts(&self.disk, &mut layers);
                self.disk = layers;
                self.unread.clear();
            }
            Err(problems) => self.unread = problems.0,
        }
        self.stamp = Stamp::of(&self.disk);
    }

    /// Lays open texts over those on disk and loads what changed by it; false where nothing did.
    fn load(&mut self, docs: &[&Document], generation: u64) -> bool {
        let layers = self.overlaid(docs);
        let first = self.generation == 0;
        let parts_same = same_files(&layers.catalogue, &self.layers.catalogue)
            && layers.config.currency == self.layers.config.currency;
        let rules_same = same_files(&layers.rules, &self.layers.rules);
        if !first && parts_same && rules_same && self.unread.is_empty() {
            return false;
        }
        self.layers = layers;
        self.generation = generation;
        self.name_places();
        let mut problems = self.unread.clone();
        let mut whole = self.unread.is_empty();
        if !parts_same || self.catalogue.is_none() || self.stale {
            match self.layers.load_catalogue() {
                Ok(catalogue) => self.catalogue = Some(catalogue),
                Err(wrong) => {
                    whole = false;
                    problems.extend(wrong.0);
                }
            }
        }
        // Parts that cannot be read hurt only the lists that use them.
        let left_out = self.catalogue.iter().flat_map(|catalogue| catalogue.broken());
        problems.extend(left_out.flat_map(|broken| broken.problems.iter().cloned()));
        whole &= self.load_rules(&mut problems);
        self.stale = !whole;
        self.problems = problems;
        true
    }

    fn load_rules(&mut self, problems: &mut Vec<Problem>) -> bool {
        let settings = Settings::load(&self.layers.rules).map(drop);
        let waivers = waivers::load(&self.layers.rules).map(drop);
        let sound = settings.is_ok() && waivers.is_ok();
        for wrong in [settings, waivers].into_iter().filter_map(Result::err) {
            problems.extend(wrong.0);
        }
        let Some(catalogue) = self.catalogue.clone().filter(|_| sound) else { return false };
        match Kit::with_catalogue(catalogue, &self.layers.rules) {
            Ok(kit) => {
                kit.limit_memory(MEMORY);
                kit.limit_expressions(EXPRESSIONS);
                let rules = kit.rules();
                problems.extend(rules.problems());
                self.warnings = rules.warnings.clone();
                problems.extend(self.wrong_cases(&kit));
                self.kit = Some(Rc::new(kit));
                true
            }
            Err(wrong) => {
                problems.extend(wrong.0);
                false
            }
        }
    }

    /// What is wrong with the cases files, without running one; the carried layer has been tested.
    fn wrong_cases(&self, kit: &Kit) -> Vec<Problem> {
        let rules = kit.rules();
        let read = |layer| Suite::read(layer, None, kit.catalogue(), &rules, &kit.settings());
        let own = Layer::in_force(&self.layers.rules).iter().filter(|l| l.label != BUILT_IN);
        own.flat_map(|layer| read(layer).problems).collect()
    }

    /// The layers with what is open in the place of what is on disk.
    fn overlaid(&mut self, docs: &[&Document]) -> Layers {
        let mut layers = self.disk.clone();
        self.overlaid.retain(|uri, _| docs.iter().any(|doc| doc.uri == *uri));
        for layer in layers.catalogue.iter_mut().chain(&mut layers.rules) {
            let Some(root) = folder_of(layer) else { continue };
            for doc in docs {
                let below = doc.path.as_deref().and_then(|path| path.strip_prefix(&root).ok());
                let Some(below) = below.and_then(|b| b.to_str()).filter(|b| counts(b)) else {
                    continue;
                };
                self.lay(layer, &below.replace('\\', "/"), doc);
            }
        }
        layers
    }

    fn lay(&mut self, layer: &mut Layer, below: &str, doc: &Document) {
        let held = layer.files.iter().position(|(name, _)| name == below);
        let on_disk = held.and_then(|at| layer.files.get(at));
        if on_disk.is_some_and(|(_, source)| source.text == doc.source.text) {
            return;
        }
        let name = match on_disk {
            Some((_, source)) => source.name.clone(),
            None => Path::new(&layer.label).join(below).display().to_string(),
        };
        // By the text itself: a file that is closed and opened again begins its versions anew.
        let known = self.overlaid.get(&doc.uri);
        let known = known.filter(|s| s.name == name && s.text == doc.source.text);
        let source = match known {
            Some(source) => source.clone(),
            None => Source::new(name, doc.source.text.clone()),
        };
        self.overlaid.insert(doc.uri.clone(), source.clone());
        match held.and_then(|at| layer.files.get_mut(at)) {
            Some(slot) => slot.1 = source,
            None => {
                layer.files.push((below.to_owned(), source));
                layer.files.sort_by(|a, b| a.0.cmp(&b.0));
            }
        }
    }

    fn name_places(&mut self) {
        self.places.clear();
        self.texts.clear();
        for layer in self.layers.catalogue.iter().chain(&self.layers.rules) {
            let carried = layer.label == BUILT_IN;
            for (_, source) in &layer.files {
                let uri = match carried {
                    true => uris::carried(&source.name),
                    false => uris::uri_of(&uris::real(Path::new(&source.name))),
                };
                self.texts.insert(Arc::as_ptr(source) as usize, uri.clone());
                self.places.insert(source.name.clone(), uri);
            }
        }
    }

    /// The name, as the editor writes it, of the file that a text was read from.
    pub(crate) fn uri_of(&self, source: &Source) -> Option<String> {
        // A shop's file may be called what the program's own is called: the text tells them apart.
        let text = self.texts.get(&(std::ptr::from_ref(source) as usize));
        if let Some(uri) = text.or(self.places.get(&source.name)) {
            return Some(uri.clone());
        }
        let path = Path::new(&source.name);
        path.is_file().then(|| uris::uri_of(&uris::real(path)))
    }

    /// The text of a file by its name in the editor: what is open counts, then what is on disk.
    pub(crate) fn source_of(&self, uri: &str) -> Option<&Arc<Source>> {
        let mut files = self.layers.catalogue.iter().chain(&self.layers.rules);
        files.find_map(|layer| {
            let mut own = layer.files.iter().map(|(_, source)| source);
            own.find(|s| {
                self.texts.get(&(Arc::as_ptr(s) as usize)).is_some_and(|place| place == uri)
            })
        })
    }

    /// Everything wrong, as for a list that nothing is known of.
    pub(crate) fn why_not(&self) -> Problems {
        Problems(self.problems.clone())
    }
}

/// The label of what the program carries.
pub(crate) const BUILT_IN: &str = "built in";

/// A layer's folder; none of what is no folder.
pub(crate) fn folder_of(layer: &Layer) -> Option<PathBuf> {
    let folder = Path::new(&layer.label);
    (layer.label != BUILT_IN && folder.is_dir()).then(|| uris::real(folder))
}

/// Whether a file below a layer's folder is one that a layer is made of.
fn counts(below: &str) -> bool {
    let hidden = below.split(['/', '\\']).any(|name| name.starts_with('.'));
    let ours = below.ends_with(".toml") || below.ends_with(".csv") || below.ends_with(".rhai");
    !hidden && ours && below != "layer.toml"
}

/// Texts that are the same as before stay the very same, so that what was made of them stays too.
fn keep_texts(before: &Layers, now: &mut Layers) {
    let old = before.catalogue.iter().chain(&before.rules).flat_map(|layer| &layer.files);
    let old: HashMap<&str, &Arc<Source>> = old.map(|(_, s)| (s.name.as_str(), s)).collect();
    let files = now.catalogue.iter_mut().chain(&mut now.rules).flat_map(|l| &mut l.files);
    for (_, source) in files {
        if let Some(held) = old.get(source.name.as_str()).filter(|held| held.text == source.text) {
            *source = (*held).clone();
        }
    }
}

fn same_files(a: &[Layer], b: &[Layer]) -> bool {
    let same = |a: &Layer, b: &Layer| {
        a.label == b.label
            && a.alone == b.alone
            && a.replaces.iter().map(|r| &r.file).eq(b.replaces.iter().map(|r| &r.file))
            && a.files.len() == b.files.len()
            && a.files.iter().zip(&b.files).all(|(x, y)| x.0 == y.0 && Arc::ptr_eq(&x.1, &y.1))
    };
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
}
