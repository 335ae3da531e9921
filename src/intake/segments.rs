//! A row that names several parts: two that are asked for, or two of which one is.

use super::facts;
use super::interpret::Interpreter;
use super::items::{Item, items};
use super::matching::{Candidate, Found, distinct};
use super::rows::RawRow;
use super::strip::{Stripped, claims, is_talk, only_spoken};
use super::words::{cut, plain, words};
use crate::source::Problem;

/// One side of a place where a row may fall into two parts.
struct Side<'t> {
    text: &'t str,
    stripped: Stripped,
    items: Vec<Item>,
    found: Found,
    kind: Option<u16>,
}

impl Side<'_> {
    fn is_sure(&self) -> bool {
        matches!(self.found, Found::Sure(_))
    }

    fn names_kind(&self) -> bool {
        self.items.iter().any(Item::names_kind)
    }
}

impl Interpreter<'_> {
    /// Two parts in one row are two segments.
    pub(super) fn segments(&self, raw: &RawRow, text: &str) -> Result<Vec<String>, Problem> {
        let whole = self.strip(raw, text)?;
        let list = items(self.lexicon, &whole.text);
        if matches!(self.find(raw, &list), Found::Sure(_)) && list.iter().all(|i| !i.is_loose()) {
            return Ok(vec![text.to_owned()]);
        }
        let cut = self.has_and_needs(text).or_else(|| self.cut(raw, text));
        let Some((left, right)) = cut else { return Ok(vec![text.to_owned()]) };
        let mut out = self.segments(raw, &left)?;
        // "Netloft Hush, the Skerry Voe is too loud": the second is what is not wanted.
        let refused = |set: &str| words().says(set, &right);
        if !(is_talk(&right) && (refused("faults") || refused("against"))) {
            out.extend(self.segments(raw, &self.with_pack(&right))?);
        }
        Ok(out)
    }

    /// "Has a 500 W supply, needs 750 W gold", "her old drive stays, she needs a 4 TB disk": what
    /// is there, and what is to be bought.
    fn has_and_needs(&self, text: &str) -> Option<(String, String)> {
        cuts(text).into_iter().find_map(|(end, start, _)| {
            let (has, needs) = (text.get(..end)?, text.get(start..)?);
            let verb = words().find("to_get", needs).into_iter().next()?;
            let before = needs.get(..verb.start)?;
            let only = only_spoken(before) && !words().says("without", before);
            let there = words().leads("have_verbs", has).is_some()
                || words().says("kept", has)
                || claims(has);
            let needs = needs.get(verb.start..)?;
            let said = |i: &Item| i.is_figure() || i.names_kind() || self.names_family(i);
            let asked = items(self.lexicon, needs).iter().any(said);
            (only && there && asked).then(|| (has.to_owned(), needs.to_owned()))
        })
    }

    /// The items of a text without what is said beside the part.
    fn items_of(&self, text: &str) -> Vec<Item> {
        items(self.lexicon, &self.without_asides(text))
    }

    fn open_kind(&self, list: &[Item]) -> Option<u16> {
        facts::kind_of(self.catalogue, self.lexicon, list, None)
    }

    /// Whether a side leaves a part open, by figures of a kind and no name, or says that one of a
    /// kind is there.
    fn is_wish(&self, side: &Side<'_>) -> bool {
        let figure = side.items.iter().any(Item::is_figure);
        let open = figure && facts::only(&side.items, &|_| false) || side.stripped.owned;
        open && self.open_kind(&side.items).is_some()
    }

    /// Whether two wishes are for two parts: "1440p and 144 Hz" are for one, and two of a kind give
    /// the same unit.
    fn are_two(&self, left: &[Item], right: &[Item]) -> bool {
        let mut units = left.iter().flat_map(|i| &i.readings).map(|r| &r.unit);
        self.open_kind(left) != self.open_kind(right)
            || units.any(|u| right.iter().flat_map(|i| &i.readings).any(|r| r.unit == *u))
    }

    /// One side of a cut, without its price.
    fn side<'t>(&self, raw: &RawRow, text: &'t str) -> Option<Side<'t>> {
        let packed = &*self.fitted(raw, &self.with_pack(text)).ok()?.rest;
        let whole = self.strip(raw, packed).ok()?;
        let stripped = self.bare_price(raw, packed, &whole).ok()?.unwrap_or(whole);
        let items = self.items_of(&stripped.text);
        let found = self.find(raw, &items);
        Some(Side { text, kind: self.kind_found(&found), stripped, found, items })
    }

    /// Where a row falls into two parts: both sides name something, and not the same.
    fn cut(&self, raw: &RawRow, text: &str) -> Option<(String, String)> {
        cuts(text).into_iter().find_map(|(end, start, strong)| {
            let (left, right) = (text.get(..end)?, text.get(start..)?);
            let joint = plain(text.get(end..start)?);
            // "3x Lull 120, 5 each, and a Haar 140": the price is of what stands before it.
            if only_priced(to_clause_end(right)) || belongs_together(left, right) {
                return None;
            }
            let (a, b) = (self.side(raw, left)?, self.side(raw, right)?);
            if self.is_one_name(&a, &b) {
                return None;
            }
            // "A / B" of one kind is a choice; "A with B" is two parts only if both are sure.
            let choice = joint == "/" && a.kind.is_some() && a.kind == b.kind;
            let sure = a.is_sure() && b.is_sure() && a.kind != b.kind;
            let with = words().has("beside", &joint);
            if choice || with && !sure && !self.adds_placed(&a, &b) {
                return None;
            }
            // "1 TB NVMe + 2 TB HDD", "a 2 TB SSD, + the old 4 TB disk"
            let twice = || b.names_kind() || self.are_two(&a.items, &b.items);
            let wishes = (strong || raw.owned) && self.is_wish(&a) && self.is_wish(&b) && twice();
            if !wishes && (a.found == b.found || !self.are_parts(raw, &a, &b, &joint, strong)) {
                return None;
            }
            // "16 Staithe Desk, each including a Leat TFX 250"
            let each = a.stripped.count.filter(|n| with && *n > 1 && b.stripped.count.is_none());
            let right = each.map_or(right.to_owned(), |count| format!("{count}x {right}"));
            Some((left.to_owned(), right))
        })
    }

    /// "Keyboard and mouse set, Dunlin": the words on both sides are those of one part's name, and
    /// neither begins another's.
    fn is_one_name(&self, a: &Side<'_>, b: &Side<'_>) -> bool {
        let named = |side: &Side<'_>| side.items.iter().any(|i| self.names_family(i));
        let (Some(last), Some(first)) = (a.items.last(), b.items.first()) else { return false };
        let both: Vec<u32> = self.parts_of(last).collect();
        named(a) != named(b)
            && !self.names_family(first)
            && !(last.has_digit() || first.has_digit())
            && self.parts_of(first).any(|part| both.contains(&part))
    }

    /// Whether the sides of a joint are two parts, by what they name.
    fn are_parts(
        &self,
        raw: &RawRow,
        a: &Side<'_>,
        b: &Side<'_>,
        joint: &str,
        strong: bool,
    ) -> bool {
        match (self.named(&a.items), self.named(&b.items)) {
            (true, true) if a.is_sure() && b.is_sure() => true,
            (true, true) => {
                let found = |side: &Side<'_>| side.found != Found::Nothing;
                // "Dotterel 508 210, Kerf P4 95, Dulse 6000 70": one after another.
                let next = || {
                    let next = self.side(raw, to_clause_end(b.text));
                    next.is_some_and(|next| next.is_sure() && next.kind != a.kind)
                };
                strong && (a.is_sure() || b.is_sure() || found(a) && found(b))
                    || a.is_sure() && matches!(joint, "," | ";") && next()
            }
            (true, false) => {
                strong && b.names_kind() && a.is_sure()
                    || a.found != Found::Nothing && self.adds_placed(a, b)
            }
            // "16 GB and my old Tarn 650"
            (false, true) => {
                let open = b.stripped.owned && a.items.iter().any(Item::is_figure);
                strong && b.is_sure() && (a.names_kind() || open)
            }
            (false, false) => false,
        }
    }

    /// "Skerry Reef 20, 3 fans front in, 1 rear out": what is counted and placed is added to what
    /// the row names.
    fn adds_placed(&self, a: &Side<'_>, b: &Side<'_>) -> bool {
        let kind = self.open_kind(&b.items).filter(|kind| a.kind != Some(*kind));
        let mounted = kind.and_then(|at| self.catalogue.kinds.get(usize::from(at)));
        mounted.is_some_and(|kind| kind.mounted)
            && b.stripped.count.is_some()
            && self.without_places(b.text).is_some()
    }

    /// "Skerry Reef 20 (3 fans included)": without a clause or a bracket of what the part brings
    /// along, which is not bought.
    pub(super) fn without_included(&self, text: &str) -> String {
        let names = |text: &str| {
            let list = items(self.lexicon, text);
            list.iter().any(|i| self.names_family(i) || i.names_kind())
        };
        let said = words().find("comes_with", text).into_iter().find_map(|range| {
            let before = text.get(..range.start)?;
            // "Fans: case comes with 2, adding a Lull 120"
            let label = self.label(text).map(|(label, _)| label.len());
            let label = label.filter(|at| *at < before.len() && text.is_char_boundary(at + 1));
            let start = before.rfind(['(', '[', ',', ';', '|']).or(label)?;
            let close = match before.get(start..)?.split_at_checked(1)?.0 {
                "(" => &[')'][..],
                "[" => &[']'],
                _ => &[',', ';', '|', ')'],
            };
            let behind = text.get(range.end..)?;
            let end = range.end + behind.find(close).unwrap_or(behind.len());
            let bracket = matches!(close, [')' | ']']) && text.len() > end;
            let clause = start..end + usize::from(bracket);
            let inner = items(self.lexicon, text.get(clause.clone())?);
            let nothing = !inner.iter().any(|i| self.names_family(i));
            let kind = inner.iter().any(Item::names_kind);
            (nothing && kind && names(text.get(..start)?)).then_some(clause)
        });
        said.map_or_else(|| text.to_owned(), |clause| cut(text, clause, ""))
    }

    /// What items name, without the talk between them where that hides it.
    fn find_spoken(&self, raw: &RawRow, list: &[Item]) -> Found {
        match self.find(raw, list) {
            Found::Nothing => {
                let told = list.iter().filter(|i| !i.is_loose() && !i.prose).cloned();
                self.find(raw, &told.collect::<Vec<_>>())
            }
            found => found,
        }
    }

    /// "A or B": both are candidates.
    pub(super) fn alternatives(&self, raw: &RawRow, text: &str) -> Option<Found> {
        let mut places: Vec<(usize, usize)> =
            words().find("alternative", text).into_iter().map(|r| (r.start, r.end)).collect();
        if words().says("undecided", text) {
            places.extend(words().find("joining", text).into_iter().map(|r| (r.start, r.end)));
        }
        places.extend(text.match_indices(" / ").map(|(at, m)| (at, at + m.len())));
        for (end, start) in places {
            let (left, right) = (text.get(..end)?, text.get(start..)?);
            let first = items(self.lexicon, left);
            let mut second = items(self.lexicon, right);
            let mut clause = items(self.lexicon, to_clause_end(right));
            // "Haar 140, otherwise watercooling with 280 mm" describes the other.
            let other = called(right, &second)
                || second.iter().any(|i| i.is_figure() || i.number.is_some());
            if !second.iter().any(|i| self.names_family(i)) {
                // "Tarn 650 or 750 Gold": the family is said once.
                let Some(family) = first.iter().find(|i| self.names_family(i)) else { continue };
                if second.is_empty() {
                    continue;
                }
                second.insert(0, family.clone());
                clause.insert(0, family.clone());
            }
            // "64 GB (2x32), Dulse or Ebb": the figures are said once.
            if !second.iter().any(Item::is_figure) {
                let shared = first.iter().filter(|i| i.is_figure()).cloned();
                let with: Vec<Item> = shared.chain(clause.iter().cloned()).collect();
                if self.find(raw, &with) != Found::Nothing {
                    second = with;
                }
            }
            let a = self.find_spoken(raw, &first);
            let b = match self.find(raw, &second) {
                // "(or the smaller 308, if that's enough)"
                Found::Nothing => self.find_spoken(raw, &clause),
                found => found,
            };
            // "Bonxie Fetch 12, or the Gannet one": all else is as it was said.
            let makers = second.iter().filter(|i| !i.names.is_empty()).all(Item::is_maker);
            let of_maker = || {
                let own = first.iter().filter(|i| !i.is_maker()).chain(&clause);
                self.find(raw, &own.cloned().collect::<Vec<_>>())
            };
            let b = Some(of_maker()).filter(|f| makers && matches!(f, Found::Sure(_))).unwrap_or(b);
            let (a, b) = (a.all(), b.all());
            let kind = |list: &[Candidate]| {
                list.first().and_then(|c| self.lexicon.parts.get(c.part)).map(|p| p.kind)
            };
            // "A Tovell 650 or a Tarn 650": one that the catalogue lacks is a choice too.
            let word = plain(text.get(end..start).unwrap_or(""));
            if words().has("alternative", &word)
                && (a.is_empty() && called(left, &first) || b.is_empty() && other)
            {
                return Some(Found::Unsure([a, b].concat()));
            }
            // Parts of two kinds are no choice.
            if a.is_empty() || b.is_empty() || kind(&a) != kind(&b) {
                continue;
            }
            let turns = (0..a.len().max(b.len())).flat_map(|i| [a.get(i), b.get(i)]);
            let out = distinct(turns.flatten().cloned().collect());
            return Some(Found::Unsure(out));
        }
        None
    }
}

/// Where a row may fall into two parts, and whether what stands between them joins parts.
fn cuts(text: &str) -> Vec<(usize, usize, bool)> {
    let mut places: Vec<(usize, usize, bool)> = Vec::new();
    for mark in [" & ", " + ", "; ", " / ", ", ", " | "] {
        for (at, _) in text.match_indices(mark) {
            places.push((at, at + mark.len(), matches!(mark, " & " | " + ")));
        }
    }
    let undecided = words().says("undecided", text);
    for set in ["joining", "beside"].into_iter().filter(|_| !undecided) {
        let found = words().find(set, text).into_iter();
        places.extend(found.map(|range| (range.start, range.end, true)));
    }
    places.sort_unstable();
    places
}

/// Whether what stands on the right is not bought beside the left: "for the archive", "or B".
fn belongs_together(left: &str, right: &str) -> bool {
    let begins = |set: &str| words().leads(set, right).is_some();
    let end = left.trim_end().len();
    let ends = words().find("alternative", left).last().is_some_and(|r| r.end == end);
    begins("purpose") || begins("alternative") || ends
}

/// Whether a clause says no more than what one costs.
fn only_priced(clause: &str) -> bool {
    let each = words().find("each", clause).pop().filter(|r| r.end == clause.trim_end().len());
    each.is_some_and(|r| super::price::is_price(clause.get(..r.start).unwrap_or("")))
}

/// A text up to the end of its first clause.
pub(super) fn to_clause_end(text: &str) -> &str {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let decimal = |at: usize, mark: &str| {
        mark == ","
            && digit(text.get(..at).and_then(|t| t.chars().next_back()))
            && digit(text.get(at + 1..).and_then(|t| t.chars().next()))
    };
    let mut ends = text.match_indices([',', ';', '(', ')', '|']);
    let end = ends.find(|(at, mark)| !decimal(*at, mark)).map_or(text.len(), |(at, _)| at);
    text.get(..end).unwrap_or(text)
}

/// Whether a side of a choice calls something by a name that nobody knows.
fn called(text: &str, list: &[Item]) -> bool {
    let capital =
        |i: &Item| text.get(i.range.clone()).is_some_and(|w| w.starts_with(char::is_uppercase));
    list.iter().any(|i| i.is_loose() && !i.prose && capital(i))
}
