//! From a raw row to what it asks for: part, count, price, owned, or nothing.

use super::changes::begins_with_drop;
use super::described::{indefinite, names_half, price_of_several};
use super::digits::without_article_number;
use super::facts;
use super::items::{Item, items};
use super::lexicon::{Lexicon, Meaning, NameWord};
use super::matching::{Candidate, Found, look_up};
use super::partly::partly;
use super::rows::RawRow;
use super::sections::Section;
use super::strip::{Stripped, is_talk, tidy};
use super::words::{plain, word_ranges, words};
use super::{Aliases, Row, State, packs, price, sums};
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
    /// Whether the line at once above, with no blank between, is a row of the list.
    pub(crate) below_row: bool,
    /// The kind that the section's heading names.
    pub(crate) section: Option<u16>,
    /// Whether numbers before the rows number them.
    pub(crate) numbered: bool,
    /// What the section's heading says of all its rows.
    pub(crate) common: Section,
    /// How many of each the rows below "three PCs, each with" are for.
    pub(crate) times: u32,
    /// Whether the list is told in sentences, so that one that names a part asks for it.
    pub(crate) told: bool,
    /// Sentences that would be rows of such a list.
    pub(crate) untold: usize,
}

/// The kind that a text names and nothing else: a heading.
pub(super) fn heading(lexicon: &Lexicon, text: &str) -> Option<u16> {
    let text = text.trim().trim_end_matches(':').trim();
    // "SSD 2" heads the second.
    let numbered = text.strip_suffix(|c: char| c.is_ascii_digit());
    let text = numbered.and_then(|t| t.strip_suffix([' ', '#'])).map_or(text, str::trim_end);
    // No heading is so long, and a cell may hold a page.
    if text.len() > 80 {
        return None;
    }
    let cut = text.strip_suffix('.').filter(|t| t.chars().all(char::is_alphabetic));
    if let Some(cut) = cut.filter(|t| t.chars().count() > 2 && !words().has("labels", &plain(t))) {
        return super::labels::kind_cut_short(lexicon, &super::tokens::compact(&plain(cut)));
    }
    let list = items(lexicon, text);
    let kind = list.iter().find_map(|i| i.kind())?;
    let only = list.iter().all(|i| {
        i.filler && !i.wish || i.names_kind() && i.number.is_none() || words().has("labels", &i.key)
    });
    (only && list.len() <= 4).then_some(kind)
}

impl Interpreter<'_> {
    /// The rows of all raw rows, each with the place of its own.
    pub(super) fn all(&mut self, raw: &[RawRow]) -> Result<Vec<(usize, Row)>, Problem> {
        let mut out = Vec::new();
        for (at, row) in raw.iter().enumerate() {
            self.below_row &= !row.parted && !row.signed;
            let rows = self.rows(row, raw.get(at + 1))?;
            self.below_row = rows.iter().any(|r| r.state != State::Ignored);
            out.extend(rows.into_iter().map(|r| (at, r)));
        }
        Ok(out)
    }

    pub(super) fn rows_of(
        &mut self,
        raw: &RawRow,
        next: Option<&RawRow>,
    ) -> Result<Vec<Row>, Problem> {
        let ignored = |kind| vec![Row { kind, ..Row::ignored(raw) }];
        if let Some(has) = self.behind_refusal(&raw.text) {
            return self.rows_of(&RawRow { text: has.to_owned(), ..raw.clone() }, next);
        }
        if raw.struck || raw.head || raw.text.trim().is_empty() {
            if let Some(kind) = self.heading(&raw.text) {
                self.section = Some(kind);
            }
            return Ok(ignored(None));
        }
        // "Some thermal paste" asks for one, and so does "thermal paste" between rows.
        let vague = words().says("vague", &raw.text);
        let bare = raw.price.is_empty() && raw.maker.is_empty() && raw.count.is_empty() && !vague;
        // "Cool." and "Pro." alone on a line are no kinds cut short, and "no monitor" is no row.
        let cut = raw.text.ends_with('.') && !raw.text.contains(' ');
        let heads = bare && !cut && words().leads("without", &raw.text).is_none();
        if let Some(kind) = self.heading(&raw.text).filter(|_| heads) {
            let row = raw.listed || self.stands_between(raw);
            if row && !raw.text.trim_end().ends_with(':') && self.stands_alone(kind, next) {
                return Ok(vec![self.of_kind_alone(raw, kind)?]);
            }
            // "SSD:" and "Storage" head what follows.
            self.section = Some(kind);
            return Ok(ignored(None));
        }
        if !raw.kind.trim().is_empty() {
            self.section = self.heading(&raw.kind);
        }
        let named = || self.named(&items(self.lexicon, &raw.text));
        let later = Self::begins_later(&raw.text) || Self::put_off(&raw.text) && !named();
        let later = later || words().has("agrees", &plain(&raw.text));
        if later || self.cancelled(raw) || self.is_total(raw) || self.asks_nothing(raw) {
            return Ok(ignored(None));
        }
        // What a person decided before, and an id, are a part's surest names.
        let pieces = raw.text.split([' ', ',', '|', '`', '(', ')']);
        let mut ids =
            self.aliases.get(&raw.text).into_iter().chain(pieces.filter(|w| w.contains('/')));
        if let Some(part) = ids.find_map(|id| self.place(id)) {
            let stripped = self.strip(raw, &raw.text)?;
            let found = Found::Sure(Candidate { part, score: 1.0 });
            return Ok(vec![self.row(raw, &raw.text, stripped, found, &[])]);
        }
        // "GPU maybe later, she has a Gannet Fetch 12": without what is for later.
        let rest = raw.text.split_once([',', ';']).filter(|(first, _)| Self::put_off(first));
        let rest =
            rest.map(|(_, rest)| RawRow { text: rest.trim_start().to_owned(), ..raw.clone() });
        let raw = rest.as_ref().unwrap_or(raw);
        let staying = self.staying(raw).or_else(|| super::labels::without_tag(raw));
        let raw = staying.as_ref().unwrap_or(raw);
        if let Some(rows) = self.told(raw)? {
            return Ok(rows);
        }
        if let Some(rows) = self.of_sentences(raw, next)? {
            return Ok(rows);
        }
        let rows = self.of_parts(raw)?;
        if rows.iter().any(|row| row.state != State::Ignored) {
            return Ok(rows);
        }
        Ok(self.of_sentence(raw)?.unwrap_or(rows))
    }

    /// The rows of the parts that a raw row names or describes.
    pub(super) fn of_parts(&self, raw: &RawRow) -> Result<Vec<Row>, Problem> {
        let text = self.without_loose_choice(&without_article_number(&raw.text));
        let text = packs::packs_joined(&self.without_included(&text));
        let text = self.with_label_mark(&self.after_change(&sums::before_price(&text)));
        let text = self.without_number(&text);
        let text = self.without_joint(self.without_answer(&text));
        let text = self.without_joint(self.without_refusal(self.without_label(text)));
        let text = &*self.with_pack(text);
        let mut out = Vec::new();
        let mut segments = self.segments(raw, self.without_kinds(text))?;
        let several = segments.len() > 1;
        // "My Tarn 650 died, so a Penstock 550": the first is told of.
        let gone = |text: &str| words().says("gone", text) && self.is_mine(text);
        segments.retain(|s| !Self::put_off(s) && !gone(s) && (raw.listed || !begins_with_drop(s)));
        let mut raw = raw.clone();
        for segment in segments {
            let rows = self.segment(&raw, &segment, several)?;
            // "Has a 500 W supply, needs 750 W": the second is of the first's kind.
            let first = rows.first().filter(|row| row.owned && raw.kind.is_empty());
            if let Some(kind) = first.and_then(|row| row.kind.clone()) {
                raw.kind = kind;
            }
            out.extend(rows);
        }
        let raw = &raw;
        // One part: its row is shown as it was written.
        if let ([only], false) = (out.as_mut_slice(), several) {
            only.text = tidy(&raw.text);
        }
        price_of_several(raw, &mut out);
        if out.is_empty() { Ok(vec![Row::ignored(raw)]) } else { Ok(out) }
    }

    /// The open row of a kind that stands alone.
    fn of_kind_alone(&self, raw: &RawRow, kind: u16) -> Result<Row, Problem> {
        let stripped = Stripped { text: String::new(), ..self.strip(raw, &raw.text)? };
        let mut row = self.row(raw, &raw.text, stripped, Found::Nothing, &[]);
        row.kind = self.catalogue.kinds.get(kind as usize).map(|k| k.name.to_string());
        (row.state, row.name) = (State::Open, None);
        row.note = names_half(&raw.text).then(|| tidy(&raw.text));
        Ok(row)
    }

    pub(super) fn place(&self, id: &str) -> Option<usize> {
        let part = self.catalogue.part(id)?;
        self.catalogue.parts().position(|p| p.id == part.id)
    }

    pub(super) fn heading(&self, text: &str) -> Option<u16> {
        heading(self.lexicon, text)
    }

    pub(super) fn names_family(&self, item: &Item) -> bool {
        self.words_of(item, 0.85).any(|word| word.family)
    }

    /// The words of names that an item may be, at least as sure as that.
    pub(super) fn words_of<'i>(
        &'i self,
        item: &'i Item,
        least: f64,
    ) -> impl Iterator<Item = &'i NameWord> {
        let sure = item.names.iter().filter(move |(_, sure)| *sure >= least);
        sure.filter_map(|(id, _)| self.lexicon.list.get(*id as usize))
    }

    /// The parts whose names have the word that an item is as written.
    pub(super) fn parts_of<'i>(&'i self, item: &'i Item) -> impl Iterator<Item = u32> {
        self.words_of(item, 1.0).flat_map(|word| word.parts.iter().copied())
    }

    /// The same, where that word says nothing else, as "fast" does.
    pub(super) fn names_proper(&self, item: &Item) -> bool {
        self.names_family(item) && !self.words_of(item, 0.0).any(|word| word.common)
    }

    /// Whether a line without a mark stands at once below a row: a word or two, and no refusal.
    fn stands_between(&self, raw: &RawRow) -> bool {
        let word = |c: char| c.is_alphanumeric() || c == ' ' || c == '-';
        let refuses = words().says("without", &raw.text);
        self.below_row && !raw.parted && raw.text.chars().all(word) && !refuses
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
        // Talk behind the list is of no kind.
        let ends = next.parted && !next.listed && other.is_none();
        ends || !next.below && other.is_some_and(|other| other != kind)
    }

    /// The kind of what was found.
    pub(super) fn kind_found(&self, found: &Found) -> Option<u16> {
        let first = found.clone().all().into_iter().next();
        first.and_then(|c| self.lexicon.parts.get(c.part)).map(|p| p.kind)
    }

    fn segment(&self, raw: &RawRow, whole: &str, several: bool) -> Result<Vec<Row>, Problem> {
        let partly = partly(whole, &raw.note);
        let fitted = self.fitted(raw, partly.as_ref().map_or(whole, |p| &p.rest))?;
        let text = &*fitted.rest;
        let mut stripped = self.strip(raw, text)?;
        let mut cleaned = self.without_asides(self.without_lead(&stripped.text));
        if let Some(priced) = self.bare_price(raw, text, &stripped)? {
            cleaned = self.without_asides(&priced.text);
            stripped = priced;
        }
        let mut list = items(self.lexicon, &cleaned);
        let choice = self.alternatives(raw, &cleaned);
        if choice.is_some() {
            // "Or" is gold too, in French.
            list.retain(|i| !words().has("alternative", &i.key));
        }
        let mut found = choice.unwrap_or_else(|| self.find(raw, &list));
        if stripped.vague && !list.iter().any(|i| self.names_family(i)) && raw.maker.is_empty() {
            found = Found::Nothing;
        }
        if !matches!(found, Found::Sure(_))
            && let Some((with, better)) = self.joined_by_pack(raw, &cleaned)
            && (found == Found::Nothing || matches!(better, Found::Sure(_)))
        {
            (list, found) = (with, better);
        }
        // "Penstock | 1200 W Platinum": a column beside the part's says which.
        if !matches!(found, Found::Sure(_)) && !raw.details.is_empty() {
            let more = items(self.lexicon, &format!("{cleaned}, {}", raw.details));
            let better = self.find(raw, &more);
            if matches!(better, Found::Sure(_)) {
                (list, found) = (more, better);
            }
        }
        if found == Found::Nothing {
            found = self.by_code(raw, &list);
        }
        if let Some(either) = self.count_or_pack(raw, &stripped, &list, &found) {
            found = either;
        }
        found = self.unless_more_is_said(text, found);
        // Of a row that names several, none is left out; nor is what a table has a price or a
        // count of.
        let told = [&raw.kind, &raw.price, &raw.count]
            .iter()
            .any(|cell| cell.contains(char::is_alphanumeric));
        // "Could you add three Lull 120 and a fan hub?"
        let asked = || indefinite(whole, &list) && list.iter().any(Item::names_kind);
        let to_get = || words().leads("to_get", whole).is_some();
        let counts = raw.listed && (told || !self.is_note(raw, &found, &list))
            || several && (found != Found::Nothing || to_get() || asked())
            || !raw.listed && self.counts_as_row(raw, &cleaned, &list, &found, &stripped);
        if !counts {
            return Ok(vec![]);
        }
        let given = stripped.count;
        let row = self.row(raw, text, stripped, found, &list);
        let rows = fitted.rows(whole, given, row);
        Ok(match partly {
            Some(partly) => partly.rows(given, rows),
            None => rows,
        })
    }

    pub(super) fn find(&self, raw: &RawRow, list: &[Item]) -> Found {
        let maker = items(self.lexicon, &raw.maker);
        look_up(self.lexicon, list, &maker)
    }

    /// Whether a row with a bullet is a remark on the row above it, or talk: a sentence that names
    /// no part.
    fn is_note(&self, raw: &RawRow, found: &Found, list: &[Item]) -> bool {
        let called = list.first().is_some_and(|i| self.names_proper(i) && i.is_exact());
        let says = called || list.iter().any(|i| i.names_kind() || !i.readings.is_empty());
        *found == Found::Nothing && is_talk(&raw.text) && (raw.below || !says)
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
        let unknown = || self.without_label(&raw.text).len() < raw.text.len();
        let labelled = self.label(&raw.text).is_some() || unknown();
        let asks = raw.text.trim_end().ends_with('?');
        if labelled && !asks && list.iter().any(|i| self.names_proper(i) && i.is_exact()) {
            return true;
        }
        if self.greets(&raw.text) && !matches!(found, Found::Sure(_)) {
            return false;
        }
        let named = matches!(found, Found::Sure(_))
            && (word_ranges(text).len() <= 5 || stripped.price.is_some() || labelled)
            || (labelled || stripped.count.is_some()) && *found != Found::Nothing
            || *found != Found::Nothing && self.begins_with_part(raw, list, false);
        // "Can you also take back my old card (Bonxie Fetch 8)?"
        let against = || words().says("against", &raw.text);
        let sentence = raw.text.trim_end().ends_with(['?', '!', '.'])
            && !ends_in_pieces(&raw.text)
            && (is_talk(&raw.text) || asks && !labelled && against());
        // "I'd go for the Strand P2 instead of the Kerf P4, because I need Wi-Fi."
        let chooses = words().leads("chooses", &raw.text).is_some() && !asks;
        let hedged = ["faults", "offers", "not_that", "without"];
        let chosen = || chooses && !hedged.iter().any(|set| words().says(set, &raw.text));
        if matches!(found, Found::Sure(_)) && (chosen() || self.begins_with_part(raw, list, true)) {
            return true;
        }
        let kind = list.iter().any(Item::names_kind);
        let said = matches!(found, Found::Sure(_)) || *found == Found::Nothing && kind;
        if stripped.owned && said && !sentence && !against() && is_brief(text) {
            return true;
        }
        if *found == Found::Nothing && !sentence && self.describes(raw, text, list) {
            return true;
        }
        if !named && is_talk(text) || !(labelled && matches!(found, Found::Sure(_))) && sentence {
            return false;
        }
        let stated = stripped.price.is_some() || stripped.count.is_some();
        let loose = list.iter().filter(|i| i.is_loose()).count();
        match found {
            Found::Sure(_) => true,
            Found::Unsure(_) => named || stated || loose <= 2,
            Found::Nothing => self.stands_unfound(raw, text, list, stated),
        }
    }

    /// Whether a line of which no part was found is a row: of a kind, a family, a figure or a name.
    fn stands_unfound(&self, raw: &RawRow, text: &str, list: &[Item], stated: bool) -> bool {
        let loose = list.iter().filter(|i| i.is_loose()).count();
        let figure = list.iter().any(|i| i.is_figure());
        let kind = list.iter().any(Item::names_kind);
        let family = list.iter().any(|i| self.names_family(i));
        let budget = !kind && !family && words().says("budget", &raw.text);
        // "Isn't 64 gig overkill" asks for nothing.
        let exact = list.iter().any(|i| self.names_exactly(i));
        let doubts = !kind && !exact && words().says("faults", &raw.text);
        if doubts || !figure && (names_kinds(list) > 2 || budget) {
            return false;
        }
        let short = is_brief(text);
        if short && family && loose < 2 {
            return true;
        }
        // A line at once below a row, with a name that nobody knows: "Quayle CR-3".
        let name = |i: &Item| {
            let written = text.get(i.range.clone()).unwrap_or("");
            i.is_loose() && !i.prose && written.starts_with(char::is_uppercase)
        };
        let told = raw.text.trim_end().ends_with([':', '?', '!', '.', ',']);
        if self.below_row && short && !told && list.iter().filter(|i| name(i)).count() > 1 {
            return true;
        }
        // A line without a mark among lines with marks is talk, unless it begins with what it is
        // of, as "GPU Smelt 200" does.
        let led = list.first().is_some_and(|i| i.names_kind());
        let stated = stated || led && (loose > 0 || figure);
        (!self.marked || stated)
            && short
            && (kind || figure && loose <= 2 || stated && loose < 4)
            && !raw.text.trim_end().ends_with([':', '?', '!'])
    }

    /// "Cooler that fits", "board - whatever goes with it": below a row, a line that begins with a
    /// kind, and goes on with what the part is to be.
    fn describes(&self, raw: &RawRow, text: &str, list: &[Item]) -> bool {
        let mut items = list.iter().skip_while(|i| i.filler || words().has("vague", &i.key));
        let kind = items.next().filter(|i| i.names_kind() && !i.fuzzy);
        let behind = kind.and_then(|i| text.get(i.range.end..)).map(str::trim_start);
        let goes_on = |rest: &str| {
            let marks = [':', '-', '–', '—', ',', '|'];
            let first = rest.split([' ', ',']).next().unwrap_or("");
            rest.starts_with(marks) || words().has("describing", &plain(first))
        };
        let first = raw.text.split_whitespace().next().unwrap_or("");
        let led = words().has("vague", &plain(first));
        self.below_row
            && !raw.parted
            && is_brief(text)
            && !["without", "faults", "changes"].iter().any(|set| words().says(set, text))
            && !raw.text.trim_end().ends_with([':', '?', '!'])
            && behind.is_some_and(|rest| led || goes_on(rest))
    }
}

/// Whether a text has as few words as a row of a list.
fn is_brief(text: &str) -> bool {
    word_ranges(text).len() <= 9
}

/// How many kinds items name: "I take CPU + board + RAM" asks for what others name.
pub(super) fn names_kinds(list: &[Item]) -> usize {
    let kinds = list.iter().flat_map(|i| &i.meanings).filter_map(|m| match m {
        Meaning::Kind(kind) => Some(kind),
        _ => None,
    });
    kinds.collect::<std::collections::BTreeSet<_>>().len()
}

/// Whether a row ends in what a price is of, cut short: "64,50 €/Stk."
fn ends_in_pieces(text: &str) -> bool {
    let each = words().find("each", text).pop();
    each.is_some_and(|range| text.get(range.end..).is_some_and(|rest| rest.trim() == "."))
}
