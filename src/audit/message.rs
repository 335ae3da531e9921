//! A message with holes, taken apart once, when a script raises it; what fills the holes is put in
//! words for each build.

use std::ops::Range;
use std::sync::Arc;

use crate::audit::verdict::Hole;

/// A message and what fills its holes.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// As the script wrote it, with holes in braces: `{name}`, or `{name:unit}` with a unit of the
    /// script's own.
    pub template: Arc<str>,
    /// What fills them, each name once.
    pub holes: Vec<(Arc<str>, Hole)>,
    pieces: Box<[Piece]>,
}

/// Part of a template, by its bytes.
#[derive(Debug, Clone, PartialEq)]
enum Piece {
    Text(Range<usize>),
    Hole { which: usize, unit: Option<Range<usize>> },
}

/// A piece as it is put together again.
pub(crate) enum Said<'a> {
    /// Text of the template.
    Text(&'a str),
    /// A hole, and the unit that the script asked for.
    Hole(&'a Hole, Option<&'a str>),
}

impl Message {
    /// Takes a template apart. A hole that nothing fills stays as it is written.
    pub fn new(template: &str, holes: Vec<(Arc<str>, Hole)>) -> Self {
        let mut pieces = Vec::new();
        let mut text = 0;
        for (place, name, unit) in holes_of(template) {
            if let Some(which) = holes.iter().position(|(known, _)| **known == *name) {
                pieces.extend((text < place.start).then_some(Piece::Text(text..place.start)));
                pieces.push(Piece::Hole { which, unit });
                text = place.end;
            }
        }
        pieces.extend((text < template.len()).then_some(Piece::Text(text..template.len())));
        Self { template: template.into(), holes, pieces: pieces.into() }
    }

    /// Bytes held beside the message itself.
    pub(crate) fn bytes(&self) -> usize {
        let hole = |(name, hole): &(Arc<str>, Hole)| size_of_val(name) + name.len() + hole.bytes();
        let pieces = self.pieces.len() * size_of::<Piece>();
        self.template.len() + pieces + self.holes.iter().map(hole).sum::<usize>()
    }

    /// Its pieces from first to last.
    pub(crate) fn said(&self) -> impl Iterator<Item = Said<'_>> {
        let text = |range: &Range<usize>| self.template.get(range.clone()).unwrap_or_default();
        self.pieces.iter().filter_map(move |piece| match piece {
            Piece::Text(range) => Some(Said::Text(text(range))),
            Piece::Hole { which, unit } => {
                self.holes.get(*which).map(|(_, hole)| Said::Hole(hole, unit.as_ref().map(text)))
            }
        })
    }
}

/// The holes of a template: where each stands with its braces, its name, and where the unit behind
/// a colon stands.
pub(crate) fn holes_of(
    template: &str,
) -> impl Iterator<Item = (Range<usize>, &str, Option<Range<usize>>)> {
    let mut from = 0;
    std::iter::from_fn(move || {
        let open = from + template.get(from..)?.find('{')?;
        let close = open + template.get(open..)?.find('}')?;
        from = close + 1;
        let inside = template.get(open + 1..close)?;
        let (name, unit) = inside
            .split_once(':')
            .map_or((inside, None), |(name, _)| (name, Some(open + 2 + name.len()..close)));
        Some((open..from, name.trim(), unit))
    })
}

#[cfg(test)]
#[path = "../../tests/unit/audit/message.rs"]
mod tests;
