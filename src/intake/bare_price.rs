//! A bare number at the end of a row: a price, a figure, or a piece of the name.

use super::interpret::Interpreter;
use super::items::items;
use super::lexicon::{Meaning, NamePart, PartWords};
use super::matching::Found;
use super::rows::RawRow;
use super::strip::Stripped;
use super::{price, set_price};
use crate::source::Problem;

/// How sure a part is at least whose whole name a row says.
const WHOLE_NAME: f64 = 0.98;
/// The least number at once behind a name that may be its price, and no count.
const LEAST_JOINED: f64 = 10.0;

impl Interpreter<'_> {
    /// A row without the bare number at its end, where that is its price: what is before it names a
    /// part beyond doubt, and no part of its kind has such a figure.
    pub(super) fn bare_price(
        &self,
        raw: &RawRow,
        text: &str,
        stripped: &Stripped,
    ) -> Result<Option<Stripped>, Problem> {
        let free = stripped.price.is_none() && !stripped.two_prices && raw.price.trim().is_empty();
        let column = raw.apart && raw.text.trim_end().ends_with(text.trim_end());
        let Some(end) = price::bare_end(text, column).filter(|_| free) else { return Ok(None) };
        let price::BareEnd { before, value: price, number, said, joined } = end;
        let mut without = self.strip(raw, before)?;
        let list = items(self.lexicon, &self.without_asides(&without.text));
        let found = self.find(raw, &list);
        // "Around 160" is a price where the part is in doubt too.
        // "Whimbrel 306P 109": at once behind the whole name, and no small number.
        let behind = || {
            let last = items(self.lexicon, before).pop();
            let open = before.matches('(').count() > before.matches(')').count();
            number >= LEAST_JOINED && !open && last.is_some_and(|i| !i.is_loose() && !i.prose)
        };
        let known = match &found {
            Found::Sure(one) => !joined || one.score >= WHOLE_NAME && behind(),
            _ => said,
        };
        let Some(kind) = self.kind_found(&found).filter(|_| known) else {
            return Ok(None);
        };
        // What "around" says is a price, whatever its kind has.
        let near = |a: f64| !said && (a - number).abs() < 0.5;
        // In a column of its own it is a figure only of the very part.
        let own = |at: usize| matches!(&found, Found::Sure(one) if one.part == at);
        // Elsewhere it may be one of the same family: of "Haar 120, 140" and not of "Haar 120, 58".
        let family = |part: &PartWords| {
            let of = |word: &NamePart| self.lexicon.list.get(word.word as usize);
            let family = part.name.iter().filter(|w| of(w).is_some_and(|w| w.family));
            family.map(|w| w.word).collect::<Vec<_>>()
        };
        let families: Vec<u32> = match &found {
            Found::Sure(one) => self.lexicon.parts.get(one.part).map(family).unwrap_or_default(),
            _ => Vec::new(),
        };
        let akin = |p: &PartWords| {
            families.is_empty() || p.name.iter().any(|w| families.contains(&w.word))
        };
        let alike = self.lexicon.parts.iter().enumerate().filter(|(_, p)| p.kind == kind);
        let figure = alike.into_iter().any(|(at, part)| {
            let family = if column { own(at) } else { akin(part) };
            family && part.bare.iter().any(|n| near(*n))
                || own(at) && part.figures.iter().any(|f| near(f.value))
                || family && part.name.iter().any(|w| w.number.is_some_and(near))
        });
        let figure = figure || joined && self.is_told_of(kind, &near);
        // "Lade 4 TB, 22110": it names a length.
        let key = text.trim_end_matches([' ', '|', '.', ')']).rsplit([' ', ',', '(']).next();
        let meant = key.and_then(|key| self.lexicon.phrases.get(key)).is_some_and(|all| {
            all.iter().any(|m| matches!(m, Meaning::Value { kind: of, .. } if *of == kind))
        });
        // What no offer of it comes near is a figure or a piece of its name.
        let count = without.count.unwrap_or(1);
        let part = match &found {
            Found::Sure(one) if !said && !column => self.catalogue.part_at(one.part),
            _ => None,
        };
        let may_be = part.is_none_or(|p| set_price::may_be(self.catalogue, &p.id, number, count));
        without.price = Some(price);
        Ok((!figure && !meant && may_be).then_some(without))
    }

    /// Whether any part of a kind has a figure that lists tell of: the 144 of "Offing 27 144".
    fn is_told_of(&self, kind: u16, near: &dyn Fn(f64) -> bool) -> bool {
        let Some(own) = self.catalogue.kinds.get(usize::from(kind)) else { return false };
        let fields = own.figures.iter().filter_map(|f| own.field(f));
        let fields: Vec<usize> = fields.map(|(at, _)| usize::from(at)).collect();
        self.catalogue.parts().filter(|p| p.kind.0 == kind).any(|part| {
            let value = |at: &usize| part.values.get(*at).and_then(|v| v.as_num());
            fields.iter().filter_map(value).any(near)
        })
    }
}
