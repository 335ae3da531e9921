//! The catalogue: kinds, parts, tables and offers, read from layers of folders, each value with its
//! place.

mod boxes;
mod broken;
pub(crate) mod declared;
pub(crate) mod field_reader;
pub(crate) mod kind_keys;
pub mod kinds;
mod loader;
pub mod market;
pub mod offered;
pub mod offers;
mod part;
pub mod ranks;
pub mod roles;
mod schema;
pub mod tables;
mod unread;
pub mod value;
pub(crate) mod want_words;

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use toml::de::DeTable;

use crate::layer::Layer;
use crate::source::{Problems, Source, Span};
use crate::trade::money::Currency;
pub(crate) use field_reader::LeftOut;
use field_reader::{Allowed, Reader, Texts};
use kinds::{Kind, KindId, Words};
use market::Market;
use offers::Offers;
use part::read_part;
use tables::Table;
use unread::Slot;

/// The file of a catalogue that holds facts somebody looked up, of parts of any kind.
pub const KNOWN_FACTS: &str = "parts/known.toml";

pub use boxes::MAX_BOX;
pub(crate) use boxes::{Include, unboxed};
pub use broken::Broken;
pub use part::Part;
pub(crate) use part::Place;

/// Everything that is known of parts: an immutable snapshot.
#[derive(Debug, Default)]
pub struct Catalogue {
    /// Which catalogue this is, among all that were loaded.
    number: u32,
    /// Kinds in order of name.
    #[doc(hidden)]
    pub kinds: Vec<Kind>,
    kind_ids: HashMap<Arc<str>, KindId>,
    /// For each name of a field, the kinds that have it.
    sharing: HashMap<Arc<str>, Vec<(KindId, u16)>>,
    /// Parts in order of reading.
    slots: Vec<Slot>,
    part_ids: HashMap<Arc<str>, usize>,
    /// Parts left out, as what is written of them cannot be read.
    broken: Vec<Broken>,
    /// Tables in order of name.
    #[doc(hidden)]
    pub tables: Vec<Table>,
    table_ids: HashMap<Arc<str>, u16>,
    /// Dated prices.
    #[doc(hidden)]
    pub offers: Offers,
    /// Row ids and column values that schemas allow.
    vocabulary: HashMap<String, Vec<Arc<str>>>,
    /// Whether its kinds are those that the program carries, and its tables hold at least what
    /// those hold.
    pub(crate) names_as_carried: bool,
    /// The currency of lists that name none.
    pub currency: Currency,
    /// What the offers come to on the days that builds were priced on lately.
    markets: Mutex<Vec<Arc<Market>>>,
}

impl Catalogue {
    /// Reads layers, the lowest first. A later layer's fields of a kind and rows of a table come
    /// beside those of the layers below, or in the place of those of the same name; so do parts.
    ///
    /// # Errors
    /// Every problem found in every file, but for those of single parts: such a part is left out
    /// ([`Self::broken`]), and only lists that use it are refused.
    pub fn load(layers: &[Layer]) -> Result<Self, Problems> {
        loader::load(layers)
    }

    /// A kind by its word.
    pub fn kind_id(&self, name: &str) -> Option<KindId> {
        self.kind_ids.get(name).copied()
    }

    /// A kind by its word, its title or another of its names, in any case.
    pub fn kind_called(&self, name: &str) -> Option<KindId> {
        let low = name.to_lowercase();
        let called = |k: &Kind| {
            k.title.to_lowercase() == low || k.also.iter().any(|a| a.to_lowercase() == low)
        };
        self.kind_id(name).or_else(|| {
            let at = self.kinds.iter().position(called)?;
            u16::try_from(at).ok().map(KindId)
        })
    }

    /// A kind by its place.
    #[doc(hidden)]
    pub fn kind(&self, id: KindId) -> Option<&Kind> {
        self.kinds.get(id.0 as usize)
    }

    /// A kind by its word.
    #[cfg(feature = "app")]
    pub(crate) fn kind_named(&self, name: &str) -> Option<&Kind> {
        self.kind(self.kind_id(name)?)
    }

    /// A part by its id.
    pub fn part(&self, id: &str) -> Option<&Arc<Part>> {
        self.part_at(*self.part_ids.get(id)?)
    }

    /// Every part, in order of reading.
    pub fn parts(&self) -> impl ExactSizeIterator<Item = &Arc<Part>> + Clone {
        self.slots.iter().map(|slot| slot.part(self))
    }

    /// A part by its place in that order.
    #[doc(hidden)]
    pub fn part_at(&self, at: usize) -> Option<&Arc<Part>> {
        self.slots.get(at).map(|slot| slot.part(self))
    }

    /// Parts left out, with what is wrong with them, in order of reading.
    pub fn broken(&self) -> &[Broken] {
        &self.broken
    }

    /// Why a part is left out; none where it is not.
    pub(crate) fn why_broken(&self, id: &str) -> Option<&Broken> {
        broken::reason(&self.broken, id)
    }

    /// Every part of a kind, in order of reading.
    pub fn parts_of(&self, kind: KindId) -> impl Iterator<Item = &Arc<Part>> {
        self.slots.iter().filter(move |slot| slot.kind == kind).map(|slot| slot.part(self))
    }

    /// The kinds that have a field of this name, and where each has it.
    #[doc(hidden)]
    pub fn kinds_with(&self, field: &str) -> &[(KindId, u16)] {
        self.sharing.get(field).map_or(&[], Vec::as_slice)
    }

    /// A table by its word.
    #[doc(hidden)]
    pub fn table_id(&self, name: &str) -> Option<u16> {
        self.table_ids.get(name).copied()
    }

    /// A table by its word, itself.
    pub(crate) fn table_named(&self, name: &str) -> Option<&Table> {
        self.table(self.table_id(name)?)
    }

    /// A table by its place.
    #[doc(hidden)]
    pub fn table(&self, id: u16) -> Option<&Table> {
        self.tables.get(id as usize)
    }

    /// Reads a part that is not in the catalogue, from a table of its fields; `left_out` says what
    /// leaving a field out means.
    // What a part is read from comes from two places, so it has many names.
    #[allow(clippy::too_many_arguments)]
    pub(crate) fn part_from(
        &self,
        id: &str,
        kind: KindId,
        table: &DeTable<'_>,
        skip: &[&str],
        whole: Span,
        source: &Arc<Source>,
        problems: &mut Problems,
        left_out: LeftOut,
    ) -> Option<Part> {
        let schema = self.kind(kind)?;
        let mut texts = Texts::default();
        let allowed = |table: &str, word: &str| self.allowed(table, word);
        let mut reader =
            Reader { source, texts: &mut texts, problems, allowed: &allowed, left_out };
        Some(read_part(&mut reader, schema, kind, id.into(), table, skip, whole, None))
    }

    /// The words that a schema's `from` or `keys` allows: rows of a table, or values of one of its
    /// columns.
    #[doc(hidden)]
    pub fn words(&self, table: &str) -> &[Arc<str>] {
        self.vocabulary.get(table).map_or(&[], Vec::as_slice)
    }

    /// The words that a text may be; none where it may be any.
    pub(crate) fn words_of<'w>(&'w self, words: &'w Words) -> &'w [Arc<str>] {
        match words {
            Words::Any => &[],
            Words::OneOf(list) => list,
            Words::Table(table) => self.words(table),
        }
    }

    fn allowed(&self, table: &str, word: &str) -> Allowed {
        match self.vocabulary.get(table) {
            None => Allowed::NoTable,
            Some(words) if words.iter().any(|w| &**w == word) => Allowed::Yes,
            Some(words) => Allowed::No(words.clone()),
        }
    }
}
