//! Reads the layers of a catalogue into one: kinds first, then tables, then parts and offers, and
//! what they name of one another.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::broken::{self, BrokenParts};
use super::field_reader::{self, LeftOut, Reader, Texts, found, key_span};
use super::kinds::{KindId, is_part_name};
use super::part::{Part, Place, contradictions, read_part};
use super::tables::{self, Table};
use super::unread::{self, Slot, names_as_carried};
use super::{Catalogue, KNOWN_FACTS, schema};
use crate::layer::{Layer, carried_catalogue};
use crate::source::{Problem, Problems, Source, Span};
use crate::words::clip;

/// Catalogues loaded so far. Parts of the first catalogue and of the one after the last number
/// there is would be taken for one another.
static LOADED: AtomicU32 = AtomicU32::new(0);

/// Files that count, the lowest layer's first: layer, path and text.
pub(super) type Files<'l> = Vec<(usize, &'l str, &'l Arc<Source>)>;

/// The TOML files of one folder.
pub(super) fn of_folder<'l>(
    files: &'l Files<'_>,
    folder: &'l str,
) -> impl Iterator<Item = (usize, &'l Arc<Source>)> {
    let wanted = move |below: &str| below.starts_with(folder) && below.ends_with(".toml");
    files.iter().filter(move |(_, below, _)| wanted(below)).map(|(at, _, source)| (*at, *source))
}

/// Reads layers, the lowest first, and says every problem found in every file.
pub(super) fn load(layers: &[Layer]) -> Result<Catalogue, Problems> {
    let mut loader = Loader {
        texts: Texts::default(),
        problems: Problems::default(),
        catalogue: Catalogue {
            number: LOADED.fetch_add(1, Ordering::Relaxed).wrapping_add(1),
            ..Catalogue::default()
        },
        homes: HashMap::new(),
        broken: BrokenParts::default(),
    };
    loader.problems.0.extend(Layer::replaces_nothing(layers));
    let mut files: Files<'_> = Layer::files_in_force(layers).collect();
    // Facts that were looked up lie over the parts of their own layer.
    files.sort_by_key(|(depth, below, _)| (*depth, *below == KNOWN_FACTS));
    loader.catalogue.names_as_carried = names_as_carried(&files);
    loader.kinds(&files);
    loader.tables(&files);
    for (depth, below, source) in files {
        match below.split_once('/') {
            Some(_) if below == KNOWN_FACTS => loader.known_facts(source, depth),
            Some(("parts", name)) if name.ends_with(".toml") => {
                let home = Home { layer: depth, facts: false };
                let carried = carried_catalogue(below) == Some(&*source.text);
                if !(carried && loader.wait(source, home)) {
                    loader.parts(source, home);
                }
            }
            Some(("offers", name)) if name.ends_with(".csv") => {
                let carried = carried_catalogue(below) == Some(&*source.text);
                let (texts, problems) = (&mut loader.texts, &mut loader.problems);
                loader.catalogue.offers.read(source, carried, texts, problems);
            }
            Some(("kinds" | "tables" | "parts" | "offers", _)) => {}
            // What customers' words mean: for the reader of lists.
            None if below == "aliases.toml" => {}
            _ => loader.stray(source),
        }
    }
    loader.finish()
}

/// Where a part was read last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Home {
    /// Which layer.
    layer: usize,
    /// Whether it is the layer's file of known facts.
    facts: bool,
}

struct Loader {
    texts: Texts,
    problems: Problems,
    catalogue: Catalogue,
    /// Which layer each part came from, to tell a replacement from a duplicate.
    homes: HashMap<Arc<str>, Home>,
    /// Parts that cannot be read.
    broken: BrokenParts,
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
                    let problem =
                        Problem::new(format!("table `{}` is there twice", clip(&table.name, 60)))
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

    fn parts(&mut self, source: &Arc<Source>, home: Home) {
        let Some(parsed) = field_reader::sound(source, &mut self.problems) else { return };
        let top = parsed.get_ref();
        let mut wrong = Problems::default();
        let kind = self.kind_of(source, top, &mut wrong);
        let complete = flag(source, top, "complete", &mut wrong);
        let parts =
            || top.iter().filter(|(key, _)| !matches!(&**key.get_ref(), "kind" | "complete"));
        let Some(kind) = kind.filter(|_| wrong.0.is_empty()) else {
            // Nothing of the file can be read, whatever it says of its parts.
            let prefix = kind.and_then(|kind| self.catalogue.kind(kind)).map(|k| k.name.clone());
            let id = |name: &str| match &prefix {
                Some(kind) => format!("{kind}/{name}").into(),
                None => name.into(),
            };
            let named = parts().map(|(key, _)| id(key.get_ref())).collect();
            return self.broken.add(named, wrong.0);
        };
        for (key, value) in parts() {
            self.part(source, home, (kind, complete), key.get_ref(), key_span(key), value);
        }
    }

    /// Leaves the parts of a file that the program carries until they are asked for, where what
    /// they are read by is carried too; whether it does.
    fn wait(&mut self, source: &Arc<Source>, home: Home) -> bool {
        let Some(file) = unread::cut(source) else { return false };
        let Ok(top) = DeTable::parse(file.top) else { return false };
        let mut wrong = Problems::default();
        let kind = self.kind_of(source, top.get_ref(), &mut wrong);
        let complete = flag(source, top.get_ref(), "complete", &mut wrong) == Some(true);
        let Some((id, kind)) = kind.and_then(|id| Some((id, self.catalogue.kind(id)?))) else {
            return false;
        };
        let named = |name: &str| Arc::<str>::from(format!("{}/{name}", kind.name));
        let slots = file.tables.into_iter().map(|table| {
            let named = named(table.name);
            Slot::waits(named, id, table.unread(source, complete))
        });
        let slots: Vec<Slot> = slots.collect();
        let known = |slot: &Slot| {
            self.catalogue.part_ids.contains_key(&slot.id) || self.broken.holds(&slot.id)
        };
        if !self.catalogue.names_as_carried || slots.iter().any(known) {
            return false;
        }
        for slot in slots {
            self.homes.insert(slot.id.clone(), home);
            let at = self.catalogue.slots.len();
            self.catalogue.part_ids.insert(slot.id.clone(), at);
            self.catalogue.slots.push(slot.moved(u32::try_from(at).unwrap_or(u32::MAX)));
        }
        true
    }

    /// Reads facts of parts that lower layers, or other files of the layer, name: the key of each
    /// is the part's id.
    fn known_facts(&mut self, source: &Arc<Source>, layer: usize) {
        let Some(parsed) = field_reader::sound(source, &mut self.problems) else { return };
        for (key, value) in parsed.get_ref() {
            let id: &str = key.get_ref();
            let known = id.split_once('/').and_then(|(kind, name)| {
                let held = self.catalogue.part(id).is_some() || self.broken.holds(id);
                Some((self.catalogue.kind_id(kind)?, name)).filter(|_| held)
            });
            if let Some((kind, name)) = known {
                let home = Home { layer, facts: true };
                self.part(source, home, (kind, None), name, key_span(key), value);
                continue;
            }
            let problem = Problem::new(format!(
                "there is no part {} in the catalogue that facts could be of",
                clip(id, 60)
            ))
            .at(source, key_span(key), "unknown part");
            let ids = self.catalogue.part_ids.keys().map(|k| &**k);
            self.broken.add(vec![id.into()], vec![problem.suggest(id, ids)]);
        }
    }

    fn kind_of(
        &self,
        source: &Arc<Source>,
        top: &DeTable<'_>,
        wrong: &mut Problems,
    ) -> Option<KindId> {
        let Some(entry) = top.get("kind") else {
            wrong.push(
                Problem::new(format!("{} does not say of which kind its parts are", source.name))
                    .at(source, Span::default(), "add `kind = \"…\"` at the top"),
            );
            return None;
        };
        let DeValue::String(word) = entry.get_ref() else {
            wrong.push(Problem::new("`kind` must be a text").at(
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
            wrong.push(problem.suggest(word, self.catalogue.kinds.iter().map(|k| &*k.name)));
        }
        id
    }

    fn part(
        &mut self,
        source: &Arc<Source>,
        home: Home,
        (kind, complete): (KindId, Option<bool>),
        name: &str,
        head: Span,
        value: &Spanned<DeValue<'_>>,
    ) {
        let Some(schema) = self.catalogue.kind(kind) else { return };
        let id = self.texts.get(&format!("{}/{name}", schema.name));
        let mut wrong = Problems::default();
        let good = name.len() <= 60 && is_part_name(name);
        let DeValue::Table(table) = value.get_ref() else {
            let problem = Problem::new(format!(
                "`{}` is not a part: a part is a table of fields",
                clip(name, 40)
            ))
            .at(source, head, format!("this is {}", found(value.get_ref())))
            .help(format!(
                "write `[name-of-the-part]` above its fields, for `{}/name-of-the-part`",
                schema.name
            ));
            return self.broken.add(vec![id], vec![problem]);
        };
        if !good {
            let problem = Problem::new(
                "a part's name is of lower-case letters, digits, - . and _, 60 at the most",
            )
            .at(source, head, "not such a name");
            return self.broken.add(vec![id], vec![problem]);
        }
        let whole = flag(source, table, "replace", &mut wrong) == Some(true);
        let complete = flag(source, table, "complete", &mut wrong).or(complete) == Some(true);
        let catalogue = &self.catalogue;
        let allowed = |table: &str, word: &str| catalogue.allowed(table, word);
        let under = catalogue
            .part(&id)
            .filter(|held| !whole && held.kind == kind && self.homes.get(&id) != Some(&home))
            .cloned();
        let mut reader = Reader {
            source,
            texts: &mut self.texts,
            problems: &mut wrong,
            allowed: &allowed,
            left_out: if complete { LeftOut::Known } else { LeftOut::Unknown },
        };
        let skip = &["complete", "replace"];
        let part = read_part(&mut reader, schema, kind, id.clone(), table, skip, head, under);
        if home.facts && self.homes.get(&id).is_some_and(|held| held.layer == home.layer) {
            wrong.0.extend(contradictions(schema, &part));
        }
        if !wrong.0.is_empty() {
            return self.broken.add(vec![id], wrong.0);
        }
        // What lies over a part that cannot be read is no whole part either.
        if self.broken.holds(&id) {
            if !whole {
                return;
            }
            self.broken.replace(&id);
        }
        self.keep(part, home);
    }

    fn keep(&mut self, mut part: Part, layer: Home) {
        let known = self.catalogue.part_ids.get(&part.id).copied();
        part.place = Place {
            catalogue: self.catalogue.number,
            at: u32::try_from(known.unwrap_or(self.catalogue.slots.len())).unwrap_or(u32::MAX),
        };
        let part = Arc::new(part);
        match (known, self.homes.insert(part.id.clone(), layer)) {
            (Some(at), Some(home)) => {
                let Some(held) = self.catalogue.part_at(at) else { return };
                if home == layer {
                    let problem = Problem::new(format!("part {} stands twice", part.id))
                        .at(&part.source, part.head, "here again")
                        .at(&held.source, held.head, "here first")
                        .help("give one of them another name");
                    return self.broken.add(vec![part.id.clone()], vec![problem]);
                }
                if let Some(slot) = self.catalogue.slots.get_mut(at) {
                    *slot = Slot::read(part);
                }
            }
            _ => {
                self.catalogue.part_ids.insert(part.id.clone(), self.catalogue.slots.len());
                self.catalogue.slots.push(Slot::read(part));
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
        self.leave_out();
        // What comes in the box of a part that is left out may be the last that others wait for.
        while self.check_includes() {
            self.leave_out();
        }
        self.check_offers();
        self.catalogue.broken = self.broken.into_groups();
        self.problems.or(self.catalogue)
    }

    /// Takes the parts that cannot be read out of those that are there.
    fn leave_out(&mut self) {
        if !self.broken.is_empty() {
            let slots = std::mem::take(&mut self.catalogue.slots);
            (self.catalogue.slots, self.catalogue.part_ids) = broken::without(slots, &self.broken);
        }
    }

    /// Leaves out the parts whose boxes cannot be opened; whether there was one.
    fn check_includes(&mut self) -> bool {
        let found = self.catalogue.wrong_boxes(&self.broken);
        let any = !found.is_empty();
        for (parts, problem) in found {
            self.broken.add(parts, vec![problem]);
        }
        any
    }

    fn check_offers(&mut self) {
        let mut unknown: Vec<&Arc<str>> = self
            .catalogue
            .offers
            .parts()
            .filter(|id| !self.catalogue.part_ids.contains_key(*id) && !self.broken.holds(id))
            .collect();
        unknown.sort();
        for id in unknown.into_iter().take(20) {
            if let Some(offer) = self.catalogue.offers.history(id).first() {
                let (source, at) = offer.head();
                let problem = Problem::new(format!(
                    "an offer is for {}, which is not in the catalogue",
                    clip(id, 60)
                ))
                .at(&source, at, "unknown part");
                self.problems
                    .push(problem.suggest(id, self.catalogue.part_ids.keys().map(|k| &**k)));
            }
        }
    }
}

/// A yes or no of a file or a part, if it is said.
fn flag(
    source: &Arc<Source>,
    table: &DeTable<'_>,
    key: &str,
    wrong: &mut Problems,
) -> Option<bool> {
    let value = table.get(key)?;
    let flag = value.get_ref().as_bool();
    if flag.is_none() {
        wrong.push(Problem::new(format!("`{key}` is `true` or `false`")).at(
            source,
            value.span().into(),
            format!("this is {}", found(value.get_ref())),
        ));
    }
    flag
}
