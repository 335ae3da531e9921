//! What the program carries and nobody asked for yet.

use std::sync::{Arc, OnceLock};

use toml::de::DeTable;

use super::Catalogue;
use super::field_reader::{LeftOut, key_span};
use super::kinds::KindId;
use super::loader::{Files, of_folder};
use super::part::{Part, Place};
use crate::layer::{carried_below, carried_catalogue};
use crate::source::{Problems, Source, Span};

/// Whether the kinds are those that the program carries, and all its tables count. What lies over
/// a table only adds to it.
pub(super) fn names_as_carried(files: &Files<'_>) -> bool {
    let carried = || {
        let same = |below: &str, source: &Source| carried_catalogue(below) == Some(&*source.text);
        files
            .iter()
            .filter(move |(_, below, source)| same(below, source))
            .map(|(_, below, _)| *below)
    };
    let of = |folder: &'static str| move |below: &&str| below.starts_with(folder);
    let all = |folder| carried().filter(of(folder)).count() == carried_below(folder).count();
    all("kinds/")
        && all("tables/")
        && of_folder(files, "kinds/").count() == carried_below("kinds/").count()
}

/// A place for a part: the part, or where it is written.
#[derive(Debug)]
pub(super) struct Slot {
    pub(super) id: Arc<str>,
    pub(super) kind: KindId,
    part: OnceLock<Arc<Part>>,
    unread: Option<Unread>,
    at: u32,
}

/// A part's table in a file that the program carries.
#[derive(Debug)]
pub(super) struct Unread {
    source: Arc<Source>,
    /// From its header to the next.
    whole: Span,
    /// Whether all parts of the file are known whole.
    complete: bool,
}

/// A file of parts, cut before each table.
pub(super) struct Cut<'s> {
    /// What stands before the first.
    pub(super) top: &'s str,
    pub(super) tables: Vec<CutTable<'s>>,
}

pub(super) struct CutTable<'s> {
    pub(super) name: &'s str,
    whole: Span,
}

impl CutTable<'_> {
    pub(super) fn unread(&self, source: &Arc<Source>, complete: bool) -> Unread {
        Unread { source: source.clone(), whole: self.whole, complete }
    }
}

/// Cuts a file of parts at the lines that name them; none where one is written in another way.
pub(super) fn cut(source: &Source) -> Option<Cut<'_>> {
    let mut tables: Vec<CutTable<'_>> = Vec::new();
    let mut at = 0;
    let bare = |c: u8| c.is_ascii_lowercase() || c.is_ascii_digit() || c == b'-';
    for line in source.text.split_inclusive('\n') {
        if let Some(rest) = line.strip_prefix('[') {
            let name = rest.trim_end().strip_suffix(']')?;
            if name.is_empty() || !name.bytes().all(bare) {
                return None;
            }
            close(&mut tables, at);
            tables.push(CutTable { name, whole: Span::new(at, at) });
        }
        at += line.len();
    }
    close(&mut tables, at);
    let top = tables.first().map_or(source.text.len(), |first| first.whole.start());
    Some(Cut { top: source.text.get(..top)?, tables })
}

fn close(tables: &mut [CutTable<'_>], end: usize) {
    if let Some(last) = tables.last_mut() {
        last.whole = Span::new(last.whole.start(), end);
    }
}

impl Slot {
    /// Of a part that was read.
    pub(super) fn read(part: Arc<Part>) -> Self {
        let (id, kind, at) = (part.id.clone(), part.kind, part.place.at);
        Self { id, kind, part: part.into(), unread: None, at }
    }

    /// Of a part that waits until it is asked for.
    pub(super) fn waits(id: Arc<str>, kind: KindId, unread: Unread) -> Self {
        Self { id, kind, part: OnceLock::new(), unread: Some(unread), at: u32::MAX }
    }

    /// The same at another place in its catalogue.
    pub(super) fn moved(self, at: u32) -> Self {
        let part = self.part.into_inner().map(|part| part.moved(at));
        Self { part: part.map_or_else(OnceLock::new, OnceLock::from), at, ..self }
    }

    /// The part.
    pub(super) fn part(&self, catalogue: &Catalogue) -> &Arc<Part> {
        self.part.get_or_init(|| Arc::new(self.written(catalogue)))
    }

    /// Whether it may be one that comes with others in its box.
    fn may_hold_others(&self) -> bool {
        let text = self.unread.as_ref().map(|unread| unread.source.slice(unread.whole));
        text.is_none_or(|text| text.contains("includes"))
    }

    /// Reads the part. What the program carries is known to be free of mistakes, so none are told.
    fn written(&self, catalogue: &Catalogue) -> Part {
        let mut problems = Problems::default();
        let (source, whole) = match &self.unread {
            Some(unread) => (unread.source.clone(), unread.whole),
            None => (Source::new("", ""), Span::default()),
        };
        let empty = DeTable::new();
        let parsed = DeTable::parse(source.slice(whole)).ok();
        let entry = parsed.as_ref().and_then(|parsed| parsed.get_ref().iter().next());
        let table = entry.and_then(|(_, value)| value.get_ref().as_table()).unwrap_or(&empty);
        let head = entry.map_or_else(Span::default, |(key, _)| key_span(key));
        let said = table.get("complete").and_then(|value| value.get_ref().as_bool());
        let complete = said.unwrap_or(self.unread.as_ref().is_some_and(|u| u.complete));
        let left_out = if complete { LeftOut::Known } else { LeftOut::Unknown };
        let (id, head) = (&self.id, head.shifted(whole.start()));
        let skip = &["complete", "replace"];
        let read =
            catalogue.part_from(id, self.kind, table, skip, head, &source, &mut problems, left_out);
        let place = Place { catalogue: catalogue.number, at: self.at };
        // A kind's place is always that of a kind.
        let part = read.unwrap_or_else(|| Part {
            id: id.clone(),
            kind: self.kind,
            name: id.clone(),
            values: Box::default(),
            spans: Box::default(),
            head,
            under: None,
            source,
            place,
        });
        Part { place, ..part.shifted(whole.start()) }
    }
}

impl Catalogue {
    /// The parts that may come with others in their box.
    pub(super) fn boxes(&self) -> impl Iterator<Item = &Arc<Part>> {
        self.slots.iter().filter(|slot| slot.may_hold_others()).map(|slot| slot.part(self))
    }
}

#[cfg(test)]
#[path = "../../tests/unit/catalogue/unread.rs"]
mod tests;
