//! The catalogue: kinds, parts, tables and offers, read from layers of folders, each value with its
//! place.

mod boxes;
pub(crate) mod declared;
pub(crate) mod field_reader;
pub mod kinds;
pub mod market;
pub mod offered;
pub mod offers;
pub mod ranks;
mod schema;
pub mod tables;
pub mod value;

use std::collections::HashMap;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::layer::Layer;
use crate::source::{Problem, Problems, Source, Span};
use crate::trade::money::Currency;
use crate::words::clip;
use boxes::{Unpacked, included_span, includes, unpack};
pub(crate) use field_reader::LeftOut;
use field_reader::{Allowed, Reader, Texts, found, key_span};
use kinds::{Kind, KindId};
use market::Market;
use offers::Offers;
use tables::Table;
use value::Val;

pub use boxes::MAX_BOX;
pub(crate) use boxes::{Include, unboxed};

/// A part of the catalogue.
#[derive(Debug)]
pub struct Part {
    /// `kind/name`.
    pub id: Arc<str>,
    /// Its kind.
    pub kind: KindId,
    /// What people call it.
    pub name: Arc<str>,
    /// Its values in the order of the kind's fields.
    #[doc(hidden)]
    pub values: Box<[Val]>,
    /// Where each value is written; empty where it is a default or absent.
    #[doc(hidden)]
    pub spans: Box<[Span]>,
    /// Where the part is named.
    #[doc(hidden)]
    pub head: Span,
    /// The part of a lower layer that it lies over: what it leaves out is there.
    pub under: Option<Arc<Part>>,
    /// The file.
    #[doc(hidden)]
    pub source: Arc<Source>,
    /// Its place in its catalogue.
    pub(crate) place: Place,
}

impl Part {
    /// The same part with other values, of no catalogue.
    pub(crate) fn with_values(&self, values: Box<[Val]>) -> Self {
        Self {
            id: self.id.clone(),
            kind: self.kind,
            name: self.name.clone(),
            values,
            spans: self.spans.clone(),
            head: self.head,
            under: self.under.clone(),
            source: self.source.clone(),
            place: Place::NONE,
        }
    }

    /// The file and the place where a field is written, in whichever layer; none where it is
    /// written nowhere.
    pub fn written_at(&self, field: u16) -> Option<(&Arc<Source>, Span)> {
        match self.spans.get(field as usize).filter(|s| !s.is_empty()) {
            Some(span) => Some((&self.source, *span)),
            None => self.under.as_ref().and_then(|under| under.written_at(field)),
        }
    }

    /// The fields that nobody said, by their place among the kind's; a record's own are not among
    /// them.
    pub fn unknown(&self) -> impl Iterator<Item = u16> {
        self.values.iter().zip(0u16..).filter(|(v, _)| v.is_unknown()).map(|(_, at)| at)
    }
}

/// Where a part stands among all that were ever loaded: a part of another catalogue is told from
/// one of the same number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    /// Which catalogue.
    catalogue: u32,
    /// Its number among the parts there.
    at: u32,
}

impl Place {
    /// Of a part that a rule case writes on the spot: it is of no catalogue.
    pub(crate) const NONE: Self = Self { catalogue: 0, at: u32::MAX };
}

/// Catalogues loaded so far. Parts of the first catalogue and of the one after the last number
/// there is would be taken for one another.
static LOADED: AtomicU32 = AtomicU32::new(0);

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
    pub parts: Vec<Arc<Part>>,
    part_ids: HashMap<Arc<str>, usize>,
    /// Tables in order of name.
    #[doc(hidden)]
    pub tables: Vec<Table>,
    table_ids: HashMap<Arc<str>, u16>,
    /// Dated prices.
    #[doc(hidden)]
    pub offers: Offers,
    /// Row ids and column values that schemas allow.
    vocabulary: HashMap<String, Vec<Arc<str>>>,
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
    /// Every problem found in every file.
    pub fn load(layers: &[Layer]) -> Result<Self, Problems> {
        let mut loader = Loader {
            texts: Texts::default(),
            problems: Problems::default(),
            catalogue: Self {
                number: LOADED.fetch_add(1, Ordering::Relaxed).wrapping_add(1),
                ..Self::default()
            },
            homes: HashMap::new(),
        };
        loader.problems.0.extend(Layer::replaces_nothing(layers));
        let files: Files<'_> = Layer::files_in_force(layers).collect();
        loader.kinds(&files);
        loader.tables(&files);
        for (depth, below, source) in files {
            match below.split_once('/') {
                Some(("parts", name)) if name.ends_with(".toml") => loader.parts(source, depth),
                Some(("offers", name)) if name.ends_with(".csv") => {
                    loader.catalogue.offers.read(source, &mut loader.texts, &mut loader.problems);
                }
                Some(("kinds" | "tables" | "parts" | "offers", _)) => {}
                // What customers' words mean: for the reader of lists.
                None if below == "aliases.toml" => {}
                _ => loader.stray(source),
            }
        }
        loader.finish()
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

    /// A part by its id.
    pub fn part(&self, id: &str) -> Option<&Arc<Part>> {
        self.parts.get(*self.part_ids.get(id)?)
    }

    /// Every part of a kind, in order of reading.
    pub fn parts_of(&self, kind: KindId) -> impl Iterator<Item = &Arc<Part>> {
        self.parts.iter().filter(move |p| p.kind == kind)
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

    /// A table by its place.
    #[doc(hidden)]
    pub fn table(&self, id: u16) -> Option<&Table> {
        self.tables.get(id as usize)
    }

    /// Reads a part that is not in the catalogue, from a table of its fields; `left_out` says what
    /// leaving a field out means.
    ///
    /// # Errors
    /// What is wrong with the fields, added to `problems`.
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

    fn allowed(&self, table: &str, word: &str) -> Allowed {
        match self.vocabulary.get(table) {
            None => Allowed::NoTable,
            Some(words) if words.iter().any(|w| &**w == word) => Allowed::Yes,
            Some(words) => Allowed::No(words.clone()),
        }
    }
}

// What a part is read from comes from several places, so it has many names.
#[allow(clippy::too_many_arguments)]
fn read_part(
    reader: &mut Reader<'_>,
    schema: &Kind,
    kind: KindId,
    id: Arc<str>,
    table: &DeTable<'_>,
    skip: &[&str],
    head: Span,
    under: Option<Arc<Part>>,
) -> Part {
    let mut values = vec![Val::Absent; schema.fields.len()].into_boxed_slice();
    let mut spans = vec![Span::default(); schema.fields.len()].into_boxed_slice();
    for (key, value) in table {
        let name: &str = key.get_ref();
        if skip.contains(&name) || name == "lacks" {
            continue;
        }
        match schema.field(name) {
            Some((at, field)) => {
                let read = reader.field(field, value);
                if let (Some(slot), Some(span)) =
                    (values.get_mut(at as usize), spans.get_mut(at as usize))
                {
                    *slot = read;
                    *span = value.span().into();
                }
            }
            None => reader.unknown(
                &format!("{} (a {})", clip(&id, 60), schema.title),
                key,
                schema.fields.iter().map(|f| &*f.name),
            ),
        }
    }
    if let Some(under) = &under {
        for ((value, span), below) in values.iter_mut().zip(&spans).zip(&under.values) {
            // What the lower layer does not know may still be known to be absent here.
            if span.is_empty() && !(below.is_unknown() && reader.left_out == LeftOut::Known) {
                *value = below.clone();
            }
        }
    }
    let settled: Vec<bool> = values.iter().map(Val::is_absent).collect();
    reader.lacks(schema, table, &mut values);
    reader.fill(&clip(&id, 60), &schema.fields, table, &mut values, head);
    if let Some(under) = &under {
        for ((value, empty), below) in values.iter_mut().zip(settled).zip(&under.values) {
            if empty && below.is_absent() {
                *value = Val::Absent;
            }
        }
    }
    let name = schema
        .field("name")
        .and_then(|(at, _)| values.get(at as usize))
        .and_then(Val::as_text)
        .cloned()
        .unwrap_or_else(|| id.clone());
    Part {
        id,
        kind,
        name,
        values,
        spans,
        head,
        under,
        source: reader.source.clone(),
        place: Place::NONE,
    }
}

/// Files that count, the lowest layer's first: layer, path and text.
type Files<'l> = Vec<(usize, &'l str, &'l Arc<Source>)>;

/// The TOML files of one folder.
fn of_folder<'l>(
    files: &'l Files<'_>,
    folder: &'l str,
) -> impl Iterator<Item = (usize, &'l Arc<Source>)> {
    let wanted = move |below: &str| below.starts_with(folder) && below.ends_with(".toml");
    files.iter().filter(move |(_, below, _)| wanted(below)).map(|(at, _, source)| (*at, *source))
}

struct Loader {
    texts: Texts,
    problems: Problems,
    catalogue: Catalogue,
    /// Which layer each part came from, to tell a replacement from a duplicate.
    homes: HashMap<Arc<str>, usize>,
}

impl Loader {
    fn kinds(&mut self, all: &Files<'_>) {
        let mut files: Vec<(usize, schema::KindFile)> = Vec::new();
        let mut every: Option<(usize, schema::KindFile)> = None;
        for (depth, source) in of_folder(all, "kinds/") {
            let Some(file) = schema::read_kind(source, &mut self.texts, &mut self.problems) else {
                continue;
            };
            let held = match &*file.name {
                "*" => every.as_mut(),
                name => files.iter_mut().find(|(_, f)| *f.name == *name),
            };
            match held {
                Some((layer, first)) if *layer == depth => {
                    self.problems.push(
                        Problem::new(format!(
                            "kind `{}` is declared twice, in {} and {}",
                            file.name, first.source.name, source.name
                        ))
                        .at(source, Span::default(), "second"),
                    );
                    *first = file;
                }
                Some((layer, lower)) => {
                    *layer = depth;
                    lower.add(file);
                }
                None if &*file.name == "*" => every = Some((depth, file)),
                None => files.push((depth, file)),
            }
        }
        let every = every.map(|(_, file)| file.fields);
        let mut files: Vec<schema::KindFile> = files.into_iter().map(|(_, file)| file).collect();
        files.sort_by(|a, b| a.name.cmp(&b.name));
        for (file, id) in files.into_iter().zip(0u16..) {
            let fields = every.clone().unwrap_or_else(|| schema::bare_fields(&file.source));
            let kind = file.join(&fields, &mut self.problems);
            self.catalogue.kind_ids.insert(kind.name.clone(), KindId(id));
            for (name, at) in &kind.by_name {
                self.catalogue.sharing.entry(name.clone()).or_default().push((KindId(id), *at));
            }
            self.catalogue.kinds.push(kind);
        }
    }

    fn tables(&mut self, all: &Files<'_>) {
        let mut held: Vec<(usize, Table)> = Vec::new();
        for (depth, source) in of_folder(all, "tables/") {
            let Some(table) = tables::read_table(source, &mut self.texts, &mut self.problems)
            else {
                continue;
            };
            match held.iter_mut().find(|(_, t)| t.name == table.name) {
                Some((layer, first)) if *layer == depth => {
                    let problem = Problem::new(format!(
                        "table `{}` stands twice",
                        clip(&table.name, 60)
                    ))
                    .at(source, Span::default(), "here again");
                    self.problems.push(
                        problem
                            .at(&first.source, Span::default(), "here first")
                            .help("give one of them another name"),
                    );
                    *first = table;
                }
                Some((layer, lower)) => {
                    *layer = depth;
                    lower.add(table, &mut self.problems);
                }
                None => held.push((depth, table)),
            }
        }
        let mut tables: Vec<Table> = held.into_iter().map(|(_, table)| table).collect();
        tables.sort_by(|a, b| a.name.cmp(&b.name));
        let catalogue = &mut self.catalogue;
        for (table, id) in tables.iter().zip(0u16..) {
            catalogue.table_ids.insert(table.name.clone(), id);
            catalogue.vocabulary.insert(table.name.to_string(), table.rows.clone());
            for (column, at) in table.columns.iter().zip(0u16..).filter(|(c, _)| !c.number) {
                catalogue
                    .vocabulary
                    .insert(format!("{}.{}", table.name, column.name), table.texts(at));
            }
        }
        catalogue.tables = tables;
    }

    fn parts(&mut self, source: &Arc<Source>, layer: usize) {
        let before = self.problems.0.len();
        let parsed = field_reader::parse(source, &mut self.problems);
        if self.problems.0.len() > before {
            return;
        }
        let top = parsed.get_ref();
        let Some(kind) = self.kind_of(source, top) else { return };
        let complete = self.flag(source, top, "complete");
        for (key, value) in top {
            if matches!(&**key.get_ref(), "kind" | "complete") {
                continue;
            }
            self.part(source, layer, (kind, complete), key, value);
        }
    }

    /// A yes or no of a file or a part, if it is said.
    fn flag(&mut self, source: &Arc<Source>, table: &DeTable<'_>, key: &str) -> Option<bool> {
        let value = table.get(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            self.problems.push(Problem::new(format!("`{key}` is `true` or `false`")).at(
                source,
                value.span().into(),
                format!("this is {}", found(value.get_ref())),
            ));
        }
        flag
    }

    fn kind_of(&mut self, source: &Arc<Source>, top: &DeTable<'_>) -> Option<KindId> {
        let Some(entry) = top.get("kind") else {
            self.problems.push(
                Problem::new(format!("{} does not say of which kind its parts are", source.name))
                    .at(source, Span::default(), "add `kind = \"…\"` at the top"),
            );
            return None;
        };
        let DeValue::String(word) = entry.get_ref() else {
            self.problems.push(Problem::new("`kind` must be a text").at(
                source,
                entry.span().into(),
                format!("this is {}", found(entry.get_ref())),
            ));
            return None;
        };
        let id = self.catalogue.kind_id(word);
        if id.is_none() {
            let problem = Problem::new(format!("there is no kind `{}`", clip(word, 40))).at(
                source,
                entry.span().into(),
                "unknown",
            );
            self.problems
                .push(problem.suggest(word, self.catalogue.kinds.iter().map(|k| &*k.name)));
        }
        id
    }

    fn part(
        &mut self,
        source: &Arc<Source>,
        layer: usize,
        (kind, complete): (KindId, Option<bool>),
        key: &Spanned<std::borrow::Cow<'_, str>>,
        value: &Spanned<DeValue<'_>>,
    ) {
        let name: &str = key.get_ref();
        let head = key_span(key);
        let good = name.len() <= 60
            && name.starts_with(|c: char| c.is_ascii_alphanumeric())
            && name
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "-._".contains(c));
        let DeValue::Table(table) = value.get_ref() else {
            self.problems.push(
                Problem::new(format!(
                    "`{}` is not a part: a part is a table of fields",
                    clip(name, 40)
                ))
                .at(source, head, format!("this is {}", found(value.get_ref()))),
            );
            return;
        };
        if !good {
            self.problems.push(
                Problem::new(
                    "a part's name is of lower-case letters, digits, - . and _, 60 at the most",
                )
                .at(source, head, "not such a name"),
            );
            return;
        }
        let whole = self.flag(source, table, "replace") == Some(true);
        let complete = self.flag(source, table, "complete").or(complete) == Some(true);
        let catalogue = &self.catalogue;
        let Some(schema) = catalogue.kind(kind) else { return };
        let id = self.texts.get(&format!("{}/{name}", schema.name));
        let allowed = |table: &str, word: &str| catalogue.allowed(table, word);
        let under = catalogue
            .part(&id)
            .filter(|held| !whole && held.kind == kind && self.homes.get(&id) != Some(&layer))
            .cloned();
        let mut reader = Reader {
            source,
            texts: &mut self.texts,
            problems: &mut self.problems,
            allowed: &allowed,
            left_out: if complete { LeftOut::Known } else { LeftOut::Unknown },
        };
        let skip = &["complete", "replace"];
        let part = read_part(&mut reader, schema, kind, id, table, skip, head, under);
        self.keep(part, layer);
    }

    fn keep(&mut self, mut part: Part, layer: usize) {
        let known = self.catalogue.part_ids.get(&part.id).copied();
        part.place = Place {
            catalogue: self.catalogue.number,
            at: u32::try_from(known.unwrap_or(self.catalogue.parts.len())).unwrap_or(u32::MAX),
        };
        let part = Arc::new(part);
        match (known, self.homes.insert(part.id.clone(), layer)) {
            (Some(at), Some(home)) => {
                if let Some(held) = self.catalogue.parts.get_mut(at) {
                    if home == layer {
                        let problem = Problem::new(format!("part {} stands twice", part.id))
                            .at(&part.source, part.head, "here again")
                            .at(&held.source, held.head, "here first");
                        self.problems.push(problem.help("give one of them another name"));
                    }
                    *held = part;
                }
            }
            _ => {
                self.catalogue.part_ids.insert(part.id.clone(), self.catalogue.parts.len());
                self.catalogue.parts.push(part);
            }
        }
    }

    /// A file in no folder that is read would be passed over in silence: say so instead.
    fn stray(&mut self, source: &Source) {
        self.problems.push(
            Problem::new(format!("{} is in no folder that is read", source.name))
                .help("a catalogue holds kinds/, parts/, tables/ and offers/"),
        );
    }

    fn finish(mut self) -> Result<Catalogue, Problems> {
        self.catalogue.offers.sort();
        self.check_includes();
        self.check_offers();
        self.problems.or(self.catalogue)
    }

    fn check_includes(&mut self) {
        for part in &self.catalogue.parts {
            for (index, include) in includes(&self.catalogue, part).into_iter().enumerate() {
                if self.catalogue.part(&include.part).is_none() {
                    let span = included_span(&self.catalogue, part, index);
                    let problem = Problem::new(format!(
                        "{} includes {}, which is not in the catalogue",
                        part.id,
                        clip(&include.part, 60)
                    ))
                    .at(&part.source, span, "unknown part");
                    self.problems.push(
                        problem
                            .suggest(&include.part, self.catalogue.part_ids.keys().map(|k| &**k)),
                    );
                }
            }
        }
        let boxes: HashMap<&str, Vec<Arc<str>>> = (self.catalogue.parts.iter())
            .map(|part| {
                (
                    &*part.id,
                    includes(&self.catalogue, part).into_iter().map(|i| i.part).collect::<Vec<_>>(),
                )
            })
            .filter(|(_, held)| !held.is_empty())
            .collect();
        for part in self.catalogue.parts.iter().filter(|p| boxes.contains_key(&*p.id)) {
            let (message, help) = match unpack(&boxes, &part.id) {
                Unpacked::Held(count) if count <= MAX_BOX => continue,
                // Once is enough: at the first of its parts.
                Unpacked::Circle(chain) if chain.iter().any(|id| **id < *part.id) => continue,
                Unpacked::Held(_) => (
                    format!("more than {MAX_BOX} parts come in the box of {}", part.id),
                    "a line a part in the list says the same",
                ),
                Unpacked::Circle(chain) => (
                    format!("parts come in one another's boxes in a circle: {}", chain.join(" → ")),
                    "take one of them out of the box of the other",
                ),
            };
            self.problems.push(
                Problem::new(message)
                    .at(&part.source, included_span(&self.catalogue, part, 0), "in this box")
                    .help(help),
            );
        }
    }

    fn check_offers(&mut self) {
        let mut unknown: Vec<&Arc<str>> = self
            .catalogue
            .offers
            .parts()
            .filter(|id| !self.catalogue.part_ids.contains_key(*id))
            .collect();
        unknown.sort();
        for id in unknown.into_iter().take(20) {
            if let Some(offer) = self.catalogue.offers.history(id).first() {
                let problem = Problem::new(format!(
                    "an offer is for {}, which is not in the catalogue",
                    clip(id, 60)
                ))
                .at(&offer.place.0, offer.head, "unknown part");
                self.problems
                    .push(problem.suggest(id, self.catalogue.part_ids.keys().map(|k| &**k)));
            }
        }
    }
}
