//! A row that names several parts: two that are asked for, or two of which one is.

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::Meaning;
use super::matching::{Candidate, Found};
use super::rows::RawRow;
use super::words::{plain, words};
use crate::source::Problem;

impl Interpreter<'_> {
    /// Two parts in one row are two segments.
    pub(super) fn segments(&self, raw: &RawRow, text: &str) -> Result<Vec<String>, Problem> {
        let whole = self.strip(raw, text)?;
        let list = items(self.lexicon, &whole.text);
        if matches!(self.find(raw, &list), Found::Sure(_)) && list.iter().all(|i| !i.is_loose()) {
            return Ok(vec![text.to_owned()]);
        }
        let Some((left, right)) = self.cut(raw, text) else { return Ok(vec![text.to_owned()]) };
        let mut out = vec![left];
        out.extend(self.segments(raw, &right)?);
        Ok(out)
    }

    /// Where a row falls into two parts: both sides name something, and not the same.
    fn cut(&self, raw: &RawRow, text: &str) -> Option<(String, String)> {
        let mut places: Vec<(usize, usize, bool)> = Vec::new();
        for mark in [" & ", " + ", "; ", " / ", ", ", " | "] {
            for (at, _) in text.match_indices(mark) {
                places.push((at, at + mark.len(), matches!(mark, " & " | " + ")));
            }
        }
        for set in ["joining", "beside"] {
            let found = words().find(set, text).into_iter();
            places.extend(found.map(|range| (range.start, range.end, true)));
        }
        places.sort_unstable();
        places.into_iter().find_map(|(end, start, strong)| {
            let (left, right) = (text.get(..end)?, text.get(start..)?);
            let (a, b) = (self.strip(raw, left).ok()?, self.strip(raw, right).ok()?);
            let (left_items, right_items) =
                (items(self.lexicon, &a.text), items(self.lexicon, &b.text));
            let family = |list: &[Item]| list.iter().any(|i| self.names_family(i));
            let kind = |list: &[Item]| {
                list.iter().any(|i| i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_))))
            };
            let (fa, fb) = (self.find(raw, &left_items), self.find(raw, &right_items));
            let sure = |f: &Found| matches!(f, Found::Sure(_));
            let of = |f: &Found| self.kind_found(f);
            let between = text.get(end..start).unwrap_or("").trim();
            // "A / B" of one kind is a choice; "A with B" is two parts only if both are sure.
            let choice = between == "/" && of(&fa).is_some() && of(&fa) == of(&fb);
            let with = words().has("beside", &plain(between))
                && !(sure(&fa) && sure(&fb) && of(&fa) != of(&fb));
            // "For the archive" tells what the part before it is for.
            let purpose = words().find("purpose", right).first().is_some_and(|r| {
                right.get(..r.start).is_some_and(|before| before.trim().is_empty())
            });
            if choice || with || purpose {
                return None;
            }
            let apart = match (family(&left_items), family(&right_items)) {
                (true, true) => {
                    strong
                        && (sure(&fa) || sure(&fb) || fa != Found::Nothing && fb != Found::Nothing)
                        || sure(&fa) && sure(&fb)
                }
                (true, false) => strong && kind(&right_items) && sure(&fa),
                (false, true) => strong && kind(&left_items) && sure(&fb),
                _ => false,
            };
            (apart && fa != fb).then(|| (left.to_owned(), right.to_owned()))
        })
    }

    /// `2 x 16 GB` may be a pack after all, or `2x` a count.
    pub(super) fn joined_by_pack(&self, raw: &RawRow, text: &str) -> Option<(Vec<Item>, Found)> {
        let spaced = text.replace(" x ", "x").replace(" × ", "x");
        if spaced == text {
            return None;
        }
        let list = items(self.lexicon, &spaced);
        let found = self.find(raw, &list);
        (found != Found::Nothing).then_some((list, found))
    }

    /// "A or B": both are candidates.
    pub(super) fn alternatives(&self, raw: &RawRow, text: &str) -> Option<Found> {
        let mut places: Vec<(usize, usize)> =
            words().find("alternative", text).into_iter().map(|r| (r.start, r.end)).collect();
        places.extend(text.match_indices(" / ").map(|(at, m)| (at, at + m.len())));
        for (end, start) in places {
            let (left, right) = (text.get(..end)?, text.get(start..)?);
            let first = items(self.lexicon, left);
            let mut second = items(self.lexicon, right);
            if !second.iter().any(|i| self.names_family(i)) {
                // "Tarn 650 or 750 Gold": the family is said once.
                let Some(family) = first.iter().find(|i| self.names_family(i)) else { continue };
                if second.is_empty() {
                    continue;
                }
                second.insert(0, family.clone());
            }
            let (a, b) = (self.find(raw, &first), self.find(raw, &second));
            let list = |f: Found| match f {
                Found::Sure(one) => vec![one],
                Found::Unsure(many) => many,
                Found::Nothing => vec![],
            };
            let (a, b) = (list(a), list(b));
            let kind = |list: &[Candidate]| {
                list.first().and_then(|c| self.lexicon.parts.get(c.part)).map(|p| p.kind)
            };
            // Parts of two kinds are no choice.
            if a.is_empty() || b.is_empty() || kind(&a) != kind(&b) {
                continue;
            }
            let mut out: Vec<Candidate> = Vec::new();
            for i in 0..a.len().max(b.len()) {
                for one in [a.get(i), b.get(i)].into_iter().flatten() {
                    if out.iter().all(|c| c.part != one.part) {
                        out.push(one.clone());
                    }
                }
            }
            return Some(Found::Unsure(out));
        }
        None
    }
}
