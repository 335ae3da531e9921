//! Parts that a sentence asks for: "a PC with a Dotterel 506P, a Kerf P1M and a Weir 1000".

use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::Meaning;
use super::matching::Found;
use super::rows::RawRow;
use super::strip::{claims, is_talk};
use super::words::{plain, word_ranges, words};
use super::{Row, State};
use crate::source::Problem;

/// Most words of a sentence that says no more than that the customer has a part.
const LONGEST_CLAIM: usize = 6;

impl Interpreter<'_> {
    /// The rows of a sentence that asks for parts of two kinds or more, each named beyond doubt.
    /// None for a row of a list, and for a sentence that compares, refuses or asks back.
    ///
    /// # Errors
    /// A count that no list has.
    pub(super) fn told(&self, raw: &RawRow) -> Result<Option<Vec<Row>>, Problem> {
        if raw.listed || !is_talk(&raw.text) {
            return Ok(None);
        }
        let says = |set: &str, text: &str| words().says(set, text);
        let whole = raw.text.trim_end();
        let asking = says("asking", whole);
        let mut rows = Vec::new();
        let mut kinds = Vec::new();
        // "I own the monitor already, a Seaglass 34": the kind is said beside the part.
        let mut kinds_said = true;
        for sentence in sentences(&raw.text) {
            let owned = claims(sentence);
            let asks = asking || !self.marked && !sentence.trim_end().ends_with('?');
            if says("against", sentence) || !(owned || asks) || Self::put_off(sentence) {
                // What names parts and does not ask for them leaves the whole row in doubt.
                let list = items(self.lexicon, sentence);
                if list.iter().any(|i| self.names_exactly(i)) {
                    return Ok(None);
                }
                continue;
            }
            let mut own: Vec<Row> = Vec::new();
            for clause in clauses(sentence) {
                let Some((kind, row)) = self.of_clause(raw, clause)? else { continue };
                if !kinds.contains(&kind) {
                    kinds.push(kind);
                }
                let said = items(self.lexicon, sentence);
                // "I keep my Offing 24" says little else.
                let short = word_ranges(sentence).len() <= LONGEST_CLAIM;
                kinds_said &=
                    short || said.iter().any(|i| i.meanings.contains(&Meaning::Kind(kind)));
                own.push(row);
            }
            for row in &mut own {
                // "Marl 8 TB for 159, and I have a Silt": what has a price is bought.
                row.owned |= owned && row.price.is_none() && !says("asking", sentence);
            }
            rows.extend(own);
        }
        let sure = rows.iter().filter(|r| r.state == State::Matched).count();
        let owned = rows.iter().all(|r| r.owned) && kinds_said;
        Ok((kinds.len() >= 2 && sure >= 2 || owned && sure >= 1).then_some(rows))
    }

    /// The rows of a line of several sentences, where each is of a part of another kind: one that
    /// it names, or one of which it says that the customer has it.
    ///
    /// # Errors
    /// A count that no list has.
    pub(super) fn of_sentences(
        &mut self,
        raw: &RawRow,
        next: Option<&RawRow>,
    ) -> Result<Option<Vec<Row>>, Problem> {
        let pieces = sentences(&raw.text);
        let cells = [&raw.price, &raw.count, &raw.maker, &raw.details];
        if pieces.len() < 2 || cells.iter().any(|cell| !cell.trim().is_empty()) {
            return Ok(None);
        }
        let mut rows: Vec<Row> = Vec::new();
        for piece in pieces {
            let text = piece.trim().trim_end_matches('.').to_owned();
            let refused = text.ends_with('?') || words().says("against", &text);
            let own = self.rows_of(&RawRow { text, listed: true, ..raw.clone() }, next)?;
            let sure = |row: &Row| row.part.is_some() || row.owned && row.kind.is_some();
            match own.as_slice() {
                [row] if !refused && sure(row) && rows.iter().all(|r| r.kind != row.kind) => {
                    rows.push(row.clone());
                }
                _ => return Ok(None),
            }
        }
        Ok(Some(rows))
    }

    /// The rows of a line of talk that names parts beyond doubt and asks nothing: in a list told
    /// in sentences each is asked for, elsewhere it is counted.
    ///
    /// # Errors
    /// A count that no list has.
    pub(super) fn of_sentence(&mut self, raw: &RawRow) -> Result<Option<Vec<Row>>, Problem> {
        if raw.listed || raw.quoted || raw.signed || self.marked || !is_talk(&raw.text) {
            return Ok(None);
        }
        let refused = |clause: &&str| {
            let says = |set: &str| words().says(set, clause);
            says("against") || says("changes") || says("faults") || Self::put_off(clause)
        };
        let mut rows = Vec::new();
        for sentence in sentences(&raw.text).into_iter().filter(|s| !s.trim_end().ends_with('?')) {
            let bare = sentence.trim().trim_end_matches('.');
            let clauses =
                bare.split(['(', ')']).flat_map(|c| c.split(", ")).flat_map(|c| c.split(" - "));
            let kept: Vec<&str> = clauses.filter(|clause| !refused(clause)).collect();
            for piece in self.parted_at_talk(&kept.join(", ")) {
                let row =
                    |text: &str| RawRow { text: text.to_owned(), listed: true, ..raw.clone() };
                let whole = self.of_parts(&row(piece))?;
                // "System on the Scurry 1000": what leads to the name may hide it.
                let named = whole.iter().any(|row| row.part.is_some());
                let name = self.name_in(piece).filter(|_| !named);
                rows.extend(name.map_or(Ok(whole), |name| self.of_parts(&row(name)))?);
            }
        }
        rows.retain(|row| row.part.is_some() || row.owned && row.kind.is_some());
        self.untold += usize::from(rows.iter().any(|row| row.part.is_some()));
        Ok(Some(rows).filter(|rows| self.told && !rows.is_empty()))
    }

    /// "The Dotterel 616P goes on the Strand P6": a text parted where small words stand between the
    /// names of two parts.
    fn parted_at_talk<'t>(&self, text: &'t str) -> Vec<&'t str> {
        let (mut out, mut from, mut talk) = (Vec::new(), 0, Vec::new());
        let mut any = false;
        for range in word_ranges(text) {
            if self.names_at(text, &range) {
                let cut = talk.first().copied().filter(|_| any && talk.len() > 1);
                out.extend(cut.and_then(|cut| text.get(from..cut)));
                (from, any) = (cut.unwrap_or(from), true);
            }
            if is_small(text, &range) { talk.push(range.start) } else { talk.clear() }
        }
        out.extend(text.get(from..));
        out
    }

    /// A text from the first word of a part's name on, where a small word stands before it.
    fn name_in<'t>(&self, text: &'t str) -> Option<&'t str> {
        let ranges = word_ranges(text);
        let at = ranges.iter().position(|range| self.names_at(text, range))?;
        let before = ranges.get(at.checked_sub(1)?)?;
        text.get(ranges.get(at)?.start..).filter(|_| is_small(text, before))
    }

    fn names_at(&self, text: &str, range: &std::ops::Range<usize>) -> bool {
        let word = text.get(range.clone()).unwrap_or("");
        !is_small(text, range) && items(self.lexicon, word).iter().any(|i| self.names_exactly(i))
    }

    pub(super) fn names_exactly(&self, item: &Item) -> bool {
        self.names_family(item) && item.is_exact()
    }

    /// Whether a line that says nothing against it begins with a kind and a part's name, or with
    /// the name: "The processor will be a Dotterel 508", "Offing 27, two of them if you can". In a
    /// `sentence` small words may stand before the kind: "Beim Speicher bleibt es bei Almanac".
    pub(super) fn begins_with_part(&self, raw: &RawRow, list: &[Item], sentence: bool) -> bool {
        let exact = |i: &Item| self.names_exactly(i) && i.key.len() > 3;
        // "A USB headset, the Bittern one": what it is to be may stand before the kind.
        let value = |i: &Item| !i.is_loose() && !i.prose && !i.names_kind() && !exact(i);
        let first = list.iter().find(|i| !(i.filler || sentence && i.prose || value(i)));
        let kind = |i: &Item| i.names_kind() && list.iter().any(exact);
        let led = first.is_some_and(|i| !sentence && exact(i) || kind(i));
        let refused = if sentence { &["against", "faults", "changes"][..] } else { &["against"] };
        led && !refused.iter().any(|set| words().says(set, &raw.text))
    }

    /// Whether a line begins as a greeting does.
    pub(super) fn greets(&self, text: &str) -> bool {
        let first = word_ranges(text).into_iter().next().and_then(|r| text.get(r));
        first.is_some_and(|w| words().has("greeting", &plain(w)))
    }

    /// The part that a clause names by a word as it is written, and its kind.
    fn of_clause(&self, raw: &RawRow, clause: &str) -> Result<Option<(u16, Row)>, Problem> {
        let stripped = self.strip(raw, clause)?;
        let list = items(self.lexicon, &self.without_asides(&stripped.text));
        let exact = list.iter().any(|i| self.names_exactly(i));
        let found = if exact { self.find(raw, &list) } else { Found::Nothing };
        // One word of a name among others of a sentence asks for nothing.
        let weak = |f: &Found| matches!(f, Found::Unsure(all) if all.iter().all(|c| c.score < 0.6));
        let found = if weak(&found) { Found::Nothing } else { found };
        let kind = self.kind_found(&found);
        Ok(kind.map(|kind| (kind, self.row(raw, clause, stripped, found, &list))))
    }
}

/// Whether a word is one of talk, which names no part.
fn is_small(text: &str, range: &std::ops::Range<usize>) -> bool {
    let word = plain(text.get(range.clone()).unwrap_or(""));
    ["prose", "verbs", "articles", "filler"].iter().any(|set| words().has(set, &word))
}

/// The sentences of a text, each with its mark: up to one with a blank behind it, so that "2.5"
/// ends none; nor do "max. 120 W" and "B. Smith".
pub(crate) fn sentences(text: &str) -> Vec<&str> {
    let cut_short = |before: &str| {
        let word = before.rsplit([' ', '(']).next().unwrap_or("");
        let letter = word.len() == 1 && word.chars().all(char::is_alphabetic);
        letter && super::units_of(word).is_empty() || words().has("abbreviations", &plain(word))
    };
    let ends = |at: &usize| {
        let before = text.get(..*at).unwrap_or("");
        !text.get(*at..).is_some_and(|t| t.starts_with('.')) || !cut_short(before)
    };
    let marks = [". ", "! ", "? "].into_iter();
    let mut cuts: Vec<usize> = marks
        .flat_map(|mark| text.match_indices(mark).map(|(at, _)| at).filter(ends))
        .map(|at| at + 1)
        .collect();
    cuts.extend([0, text.len()]);
    cuts.sort_unstable();
    cuts.windows(2).filter_map(|pair| text.get(*pair.first()?..*pair.last()?)).collect()
}

/// The clauses of a sentence: between commas, and at the words that join parts.
pub(super) fn clauses(text: &str) -> Vec<&str> {
    let mut cuts: Vec<(usize, usize)> = Vec::new();
    for mark in [", ", "; ", ". ", ": ", " + ", " & "] {
        cuts.extend(text.match_indices(mark).map(|(at, m)| (at, at + m.len())));
    }
    for set in ["joining", "beside"] {
        cuts.extend(words().find(set, text).into_iter().map(|r| (r.start, r.end)));
    }
    cuts.sort_unstable();
    let mut out = Vec::new();
    let mut from = 0;
    for (start, end) in cuts.into_iter().chain([(text.len(), text.len())]) {
        if let Some(clause) = text.get(from..start).filter(|c| !c.trim().is_empty()) {
            let bare = clause.trim().trim_end_matches('.');
            out.push(bare);
        }
        from = from.max(end);
    }
    out.retain(|c| !plain(c).is_empty());
    out
}
