//! From a raw row to what it asks for: part, count, price, owned, or nothing.

use super::facts;
use super::items::{Item, items};
use super::lexicon::{Lexicon, Meaning};
use super::matching::{Candidate, Found, look_up};
use super::rows::RawRow;
use super::strip::{Stripped, is_talk, part_name, tidy};
use super::words::{plain, word_ranges, words};
use super::{Aliases, Row, State, price};
use crate::catalogue::Catalogue;
use crate::source::Problem;

/// What the reader of rows knows.
pub(crate) struct Interpreter<'a> {
    /// The catalogue.
    pub(crate) catalogue: &'a Catalogue,
    /// Its words.
    pub(crate) lexicon: &'a Lexicon,
    /// What people decided before.
    pub(crate) aliases: &'a Aliases,
    /// Whether rows of the list have bullets or cells, so that other lines are talk.
    pub(crate) marked: bool,
    /// The kind that the section's heading names.
    pub(crate) section: Option<u16>,
    /// Whether the section's heading says that the customer has all of it.
    pub(crate) owned_section: bool,
}

/// What stands between a row's label and its part.
const LABEL_MARKS: &[&str] = &[":", " – ", " — ", " - ", " = ", " | ", "→", "->", "=>", "➜"];

/// The kind that a text names and nothing else: a heading.
pub(super) fn heading(lexicon: &Lexicon, text: &str) -> Option<u16> {
    let text = text.trim().trim_end_matches(':').trim();
    // No heading is so long, and a cell may hold a page.
    if text.len() > 80 {
        return None;
    }
    let list = items(lexicon, text);
    let kind = list.iter().find_map(|i| {
        i.meanings.iter().find_map(|m| match m {
            Meaning::Kind(kind) => Some(*kind),
            _ => None,
        })
    })?;
    let only = list.iter().all(|i| {
        i.filler || i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_))) && i.number.is_none()
    });
    (only && list.len() <= 4).then_some(kind)
}

impl Interpreter<'_> {
    /// The rows that a raw row comes to: one, or one for each part in it.
    ///
    /// # Errors
    /// A count that no list has.
    pub(crate) fn rows(
        &mut self,
        raw: &RawRow,
        next: Option<&RawRow>,
    ) -> Result<Vec<Row>, Problem> {
        let mut rows = self.rows_of(raw, next)?;
        let heads = !raw.listed && raw.text.trim_end().ends_with(':') || raw.head;
        if heads && rows.iter().all(|r| r.state == State::Ignored) {
            self.owned_section = !words().find("owned", &raw.text).is_empty();
        }
        if raw.listed && self.owned_section {
            rows.iter_mut().for_each(|r| r.owned |= r.state != State::Ignored);
        }
        Ok(rows)
    }

    fn rows_of(&mut self, raw: &RawRow, next: Option<&RawRow>) -> Result<Vec<Row>, Problem> {
        let ignored = |kind| vec![Row { kind, ..Row::ignored(raw) }];
        if raw.struck || raw.head || raw.text.trim().is_empty() {
            if let Some(kind) = self.heading(&raw.text) {
                self.section = Some(kind);
            }
            return Ok(ignored(None));
        }
        let bare = raw.price.is_empty() && raw.maker.is_empty() && raw.count.is_empty();
        if let Some(kind) = self.heading(&raw.text).filter(|_| bare) {
            if raw.listed && !raw.text.trim_end().ends_with(':') && self.stands_alone(kind, next) {
                let stripped = self.strip(raw, "")?;
                let mut row = self.row(raw, &raw.text, stripped, Found::Nothing, &[]);
                row.kind = self.catalogue.kinds.get(kind as usize).map(|k| k.name.to_string());
                (row.state, row.name) = (State::Open, None);
                return Ok(vec![row]);
            }
            // "SSD:" and "Storage" head what follows.
            self.section = Some(kind);
            return Ok(ignored(None));
        }
        if !raw.kind.trim().is_empty() {
            self.section = self.heading(&raw.kind).or(self.section);
        }
        if self.cancelled(raw) || self.is_total(raw) || self.asks_nothing(raw) {
            return Ok(ignored(None));
        }
        if let Some(part) = self.aliases.get(&raw.text).and_then(|id| self.place(id)) {
            let stripped = self.strip(raw, &raw.text)?;
            return Ok(vec![self.row(
                raw,
                &raw.text,
                stripped,
                Found::Sure(Candidate { part, score: 1.0 }),
                &[],
            )]);
        }
        // An id is a part's surest name.
        let words = raw.text.split([' ', ',', '|', '`', '(', ')']);
        if let Some(part) = words.filter(|w| w.contains('/')).find_map(|id| self.place(id)) {
            let stripped = self.strip(raw, &raw.text)?;
            let found = Found::Sure(Candidate { part, score: 1.0 });
            return Ok(vec![self.row(raw, &raw.text, stripped, found, &[])]);
        }
        if let Some(rows) = self.told(raw)? {
            return Ok(rows);
        }
        let text = self.after_change(&raw.text);
        let text = self.without_joint(&text);
        let mut out = Vec::new();
        let segments = self.segments(raw, self.without_kinds(text))?;
        let several = segments.len() > 1;
        for segment in segments {
            out.extend(self.segment(raw, &segment, several)?);
        }
        price_of_several(raw, &mut out);
        if out.is_empty() { Ok(ignored(None)) } else { Ok(out) }
    }

    fn place(&self, id: &str) -> Option<usize> {
        let part = self.catalogue.part(id)?;
        self.catalogue.parts.iter().position(|p| p.id == part.id)
    }

    pub(super) fn heading(&self, text: &str) -> Option<u16> {
        heading(self.lexicon, text)
    }

    /// A row's label, which names its kind, and what follows it: `PSU: Tarn 550`, `PSU – Tarn 550`.
    pub(super) fn label<'t>(&self, text: &'t str) -> Option<(&'t str, &'t str)> {
        LABEL_MARKS.iter().find_map(|mark| {
            let (label, rest) = text.split_once(mark)?;
            let labels = !rest.trim().is_empty() && self.heading(label).is_some();
            labels.then_some((label, rest))
        })
    }

    /// Whether a row says that it asks for nothing: "GPU: none", "no graphics card".
    fn asks_nothing(&self, raw: &RawRow) -> bool {
        let none = |text: &str| {
            let first = text.split([',', ';', '(', '.']).next().unwrap_or("");
            let found = words().find("none", first).into_iter().next();
            let end = found.filter(|r| first.get(..r.start).is_some_and(|b| b.trim().is_empty()));
            let behind = end.and_then(|r| first.get(r.end..));
            let says = |i: &Item| !i.is_loose() && !i.filler && !i.prose && !i.fuzzy;
            words().has("none", first.trim())
                || behind.is_some_and(|b| !items(self.lexicon, b).iter().any(says))
        };
        if !raw.kind.trim().is_empty() && none(&raw.text) {
            return self.heading(&raw.kind).is_some();
        }
        let Some((_, rest)) = self.label(&raw.text) else {
            let mut ranges = word_ranges(&raw.text).into_iter();
            let first = ranges.next().and_then(|r| raw.text.get(r)).unwrap_or("");
            let behind = raw.text.split_once(first).map_or("", |(_, rest)| rest);
            return words().has("without", &plain(first)) && self.heading(behind).is_some();
        };
        none(rest)
    }

    fn cancelled(&self, raw: &RawRow) -> bool {
        let phrases = |text: &str| {
            words().find("cancelled", text).into_iter().any(|r| {
                let phrase = plain(text.get(r).unwrap_or(""));
                // A word that parts are named by says nothing by itself.
                !self.lexicon.names.contains_key(&super::tokens::compact(&phrase))
            })
        };
        let replaced = words().find("becomes", &raw.text).is_empty()
            && words().find("instead", &raw.text).is_empty()
            && !raw.text.contains("->")
            && !raw.text.contains('→');
        // "Existing, do not order": it is the customer's.
        let owned = |text: &str| !words().find("owned", text).is_empty();
        phrases(&raw.note) && !owned(&raw.note)
            || replaced && phrases(&raw.text) && !owned(&raw.text)
    }

    fn is_total(&self, raw: &RawRow) -> bool {
        let text = raw.text.trim();
        let first = word_ranges(text);
        let head = |n: usize| {
            first.get(n - 1).and_then(|last| text.get(first.first()?.start..last.end)).map(plain)
        };
        let total =
            (1..=first.len().min(3)).any(|n| head(n).is_some_and(|p| words().has("totals", &p)));
        let named = |i: &Item| self.names_family(i) && i.names.iter().any(|(_, s)| *s == 1.0);
        total && !items(self.lexicon, text).iter().any(named)
    }

    pub(super) fn names_family(&self, item: &Item) -> bool {
        item.names.iter().any(|(id, sure)| {
            *sure > 0.8 && self.lexicon.list.get(*id as usize).is_some_and(|w| w.family)
        })
    }

    /// Of "A -> B", "B instead of A": B.
    fn after_change(&self, text: &str) -> String {
        let text = self.label(text).map_or(text, |(label, rest)| match rest.get(..1) {
            Some(">") => text,
            _ if text.get(label.len()..).is_some_and(|t| t.starts_with(':')) => text,
            _ => rest,
        });
        for arrow in ["->", "=>", "→", "➔", "-->"] {
            if let Some((before, after)) = text.split_once(arrow)
                && self.has_something(after)
                && self.has_something(before)
            {
                return after.trim_start_matches('>').trim().to_owned();
            }
        }
        for range in words().find("becomes", text) {
            let (before, after) =
                (text.get(..range.start).unwrap_or(""), text.get(range.end..).unwrap_or(""));
            if items(self.lexicon, before).iter().any(|i| self.names_family(i))
                && items(self.lexicon, after).iter().any(|i| self.names_family(i))
            {
                return after.trim().to_owned();
            }
        }
        for range in words().find("instead", text) {
            let (before, after) =
                (text.get(..range.start).unwrap_or(""), text.get(range.end..).unwrap_or(""));
            if items(self.lexicon, after).iter().any(|i| self.names_family(i)) {
                let price = price::amounts(after, false)
                    .last()
                    .map(|a| after.get(a.range.clone()).unwrap_or("").to_owned());
                let before = before.trim().trim_end_matches([',', '(', '-']).to_owned();
                if self.has_something(&before) {
                    let priced = !price::amounts(&before, false).is_empty();
                    return price
                        .filter(|_| !priced)
                        .map_or(before.clone(), |p| format!("{before}, {p}"));
                }
            }
        }
        text.to_owned()
    }

    /// "Plus 3 Lull 120 fans" goes on with the list.
    fn without_joint<'t>(&self, text: &'t str) -> &'t str {
        let bare = text.trim_start();
        let Some((first, rest)) = bare.split_once(' ') else { return text };
        let first = plain(first.trim_end_matches([',', ':']));
        let joins = words().has("joining", &first) && !self.lexicon.names.contains_key(&first);
        if joins { rest } else { text }
    }

    fn has_something(&self, text: &str) -> bool {
        items(self.lexicon, text).iter().any(|i| {
            self.names_family(i) || i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_)))
        })
    }

    /// Whether a row of a list that names a kind alone asks for a part of it: what follows is of
    /// another kind, so that it heads nothing.
    fn stands_alone(&self, kind: u16, next: Option<&RawRow>) -> bool {
        let Some(next) = next else { return true };
        let other = self.heading(&next.text).or_else(|| {
            let list = items(self.lexicon, &price::take(&next.text).rest);
            let found = self.kind_found(&self.find(next, &list));
            found.or_else(|| facts::kind_of(self.catalogue, self.lexicon, &list, None))
        });
        !next.below && other.is_some_and(|other| other != kind)
    }

    /// The kind of what was found.
    pub(super) fn kind_found(&self, found: &Found) -> Option<u16> {
        let first = match found {
            Found::Sure(one) => Some(one),
            Found::Unsure(many) => many.first(),
            Found::Nothing => None,
        };
        first.and_then(|c| self.lexicon.parts.get(c.part)).map(|p| p.kind)
    }

    fn segment(&self, raw: &RawRow, text: &str, several: bool) -> Result<Vec<Row>, Problem> {
        let stripped = self.strip(raw, text)?;
        let cleaned = self.without_asides(&stripped.text);
        let mut list = items(self.lexicon, &cleaned);
        let mut found = self.alternatives(raw, &cleaned).unwrap_or_else(|| self.find(raw, &list));
        if stripped.vague && !list.iter().any(|i| self.names_family(i)) && raw.maker.is_empty() {
            found = Found::Nothing;
        }
        if !matches!(found, Found::Sure(_))
            && let Some((with, better)) = self.joined_by_pack(raw, &cleaned)
            && (found == Found::Nothing || matches!(better, Found::Sure(_)))
        {
            (list, found) = (with, better);
        }
        // Of a row that names several, none is left out.
        let counts = raw.listed && !self.is_note(raw, &found, &list)
            || several && found != Found::Nothing
            || !raw.listed && self.counts_as_row(raw, &cleaned, &list, &found, &stripped);
        if !counts {
            return Ok(vec![]);
        }
        let row = self.row(raw, text, stripped, found, &list);
        Ok(vec![row])
    }

    pub(super) fn find(&self, raw: &RawRow, list: &[Item]) -> Found {
        let maker = items(self.lexicon, &raw.maker);
        look_up(self.lexicon, list, &maker)
    }

    /// Whether a row with a bullet is a remark on the row above it, or talk: a sentence that names
    /// no part.
    fn is_note(&self, raw: &RawRow, found: &Found, list: &[Item]) -> bool {
        let says = list.iter().any(|i| {
            i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_))) || !i.readings.is_empty()
        });
        *found == Found::Nothing && is_talk(&raw.text) && (raw.below || !says)
    }

    /// Without the kinds that head several parts: `Case / PSU: Netloft Hush / Tarn 850 Gold`.
    fn without_kinds<'t>(&self, text: &'t str) -> &'t str {
        let Some((label, rest)) = self.label(text) else { return text };
        let kinds = |i: &Item| i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_)));
        let several = items(self.lexicon, label).iter().filter(|i| kinds(i)).count() > 1;
        if several && label.contains(['/', '+', '&']) { rest } else { text }
    }

    /// Whether a line that has no bullet and no cells is a row of the list.
    fn counts_as_row(
        &self,
        raw: &RawRow,
        text: &str,
        list: &[Item],
        found: &Found,
        stripped: &Stripped,
    ) -> bool {
        // "SSD: Lade 1000, if it is there": the label says that it is a row.
        let labelled = self.label(&raw.text).is_some();
        let named = matches!(found, Found::Sure(_)) && word_ranges(text).len() <= 5
            || labelled && *found != Found::Nothing;
        if !named && is_talk(text)
            || is_talk(&raw.text) && raw.text.trim_end().ends_with(['?', '!', '.'])
        {
            return false;
        }
        let stated = stripped.price.is_some() || stripped.count.is_some();
        let loose = list.iter().filter(|i| i.is_loose()).count();
        match found {
            Found::Sure(_) => true,
            Found::Unsure(_) => named || loose <= 2 || stated,
            Found::Nothing => {
                let kind =
                    list.iter().any(|i| i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_))));
                let figure = list.iter().any(|i| !i.readings.is_empty() || i.pack.is_some());
                let short = word_ranges(text).len() <= 9;
                if short && list.iter().any(|i| self.names_family(i)) && loose < 2 {
                    return true;
                }
                // A line without a mark among lines with marks is talk, unless it begins with what
                // it is of, as "GPU Smelt 200" does.
                let led = list
                    .first()
                    .is_some_and(|i| i.meanings.iter().any(|m| matches!(m, Meaning::Kind(_))));
                let stated = stated || led && (loose > 0 || figure);
                (!self.marked || stated)
                    && short
                    && (kind || figure && loose <= 2 || stated && loose < 4)
                    && !raw.text.trim_end().ends_with([':', '?', '!'])
            }
        }
    }

    pub(super) fn row(
        &self,
        raw: &RawRow,
        text: &str,
        stripped: Stripped,
        found: Found,
        list: &[Item],
    ) -> Row {
        let limit = stripped.limit;
        let mut row = Row {
            line: raw.line,
            text: tidy(text),
            count: stripped.count.unwrap_or(1),
            price: stripped.price,
            currency: stripped.currency,
            owned: stripped.owned,
            two_prices: stripped.two_prices,
            ..Row::ignored(raw)
        };
        let id =
            |c: &Candidate| self.catalogue.parts.get(c.part).map(|p| (p.id.to_string(), c.score));
        let kind_name = |at: u16| self.catalogue.kinds.get(at as usize).map(|k| k.name.to_string());
        match found {
            Found::Sure(one) => {
                row.state = State::Matched;
                row.candidates = id(&one).into_iter().collect();
                row.part = row.candidates.first().map(|(id, _)| id.clone());
                row.kind = self.lexicon.parts.get(one.part).and_then(|p| kind_name(p.kind));
            }
            Found::Unsure(many) => {
                row.state = State::Unsure;
                row.kind = many
                    .first()
                    .and_then(|c| self.lexicon.parts.get(c.part))
                    .and_then(|p| kind_name(p.kind));
                row.candidates = many.iter().filter_map(id).collect();
                self.describe(&mut row, raw, text, list, stripped.vague);
            }
            Found::Nothing => {
                let hint = self.hint(raw);
                let kind = facts::kind_of(self.catalogue, self.lexicon, list, hint);
                row.kind = kind.and_then(kind_name);
                row.state =
                    if stripped.vague && kind.is_some() { State::Open } else { State::Unknown };
                self.describe(&mut row, raw, text, list, stripped.vague);
                if row.state == State::Open {
                    row.wants.extend(limit.map(|most| format!("price <= {most}")));
                }
            }
        }
        row
    }

    /// What the row itself says, where no part is sure.
    fn describe(&self, row: &mut Row, raw: &RawRow, text: &str, list: &[Item], vague: bool) {
        // "PSU: Tovell 650" is called Tovell 650.
        let text = self.label(text).map_or(text, |(_, rest)| rest);
        let text = self.without_leading_kind(row.kind.as_deref(), text);
        let kind = row.kind.as_deref().and_then(|k| self.catalogue.kind_id(k)).map(|k| k.0);
        let Some(kind) = kind else {
            row.name = Some(part_name(raw, text));
            return;
        };
        if row.state == State::Open && vague {
            row.wants = facts::wants(self.catalogue, kind, list);
        } else {
            row.name = Some(part_name(raw, text));
            row.facts = facts::facts(self.catalogue, kind, list);
        }
    }

    /// "PSU Ballast 650" is called Ballast 650; "SSD 2 TB" has no other name.
    fn without_leading_kind<'t>(&self, kind: Option<&str>, text: &'t str) -> &'t str {
        let text = text.trim_start_matches([' ', '|', ',']);
        let list = items(self.lexicon, text);
        let place = kind.and_then(|k| self.catalogue.kind_id(k)).map(|k| k.0);
        let [first, next, ..] = list.as_slice() else { return text };
        let own = place.is_some_and(|k| first.meanings.contains(&Meaning::Kind(k)));
        let named = next.is_loose() || next.names.iter().any(|(_, sure)| *sure == 1.0);
        if own && named && first.names.is_empty() && first.range.start == 0 {
            text.get(first.range.end..).unwrap_or(text)
        } else {
            text
        }
    }

    fn hint(&self, raw: &RawRow) -> Option<u16> {
        let column = items(self.lexicon, &raw.kind).iter().find_map(|i| {
            i.meanings.iter().find_map(|m| match m {
                Meaning::Kind(kind) => Some(*kind),
                _ => None,
            })
        });
        column.or(self.section)
    }
}

/// One price behind several parts may be that of all of them: nobody's.
fn price_of_several(raw: &RawRow, rows: &mut [Row]) {
    let priced = rows.iter().filter(|r| r.price.is_some()).count();
    if let [_, .., last] = rows
        && priced == 1
        && last.price.is_some()
        && raw.price.trim().is_empty()
    {
        let each = words().find("each", &raw.text);
        if each.is_empty() {
            (last.price, last.currency) = (None, None);
        }
    }
}
