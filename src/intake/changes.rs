//! What a row or a later text changes: "B instead of A", "A, now B", and above a quoted list "make
//! the drive a Weir 1000".

use super::called::bare_name;
use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::{Meaning, PartWords};
use super::matching::{Candidate, Found, distinct, look_up};
use super::rows::RawRow;
use super::tokens::Reading;
use super::words::{plain, words};
use super::{Row, State, price};

/// Most of a part that "3 instead of 2" asks for.
const MOST_CHANGED: u32 = 20;
/// How sure the part is that stood in the list before a text changed it.
const BEFORE_CHANGE: f64 = 0.5;
/// How sure a part is of whose name only the code is said.
const BY_CODE: f64 = 0.6;

impl Interpreter<'_> {
    /// Of "A -> B", "B instead of A": B.
    pub(super) fn after_change(&self, whole: &str) -> String {
        let text = match self.label(whole) {
            Some((label, rest))
                if !rest.starts_with('>')
                    && !whole.get(label.len()..).is_some_and(|t| t.starts_with(':')) =>
            {
                rest
            }
            _ => whole,
        };
        for arrow in ["-->", "->", "=>", "→", "➔"] {
            if let Some((before, after)) = text.split_once(arrow)
                && self.has_something(before)
            {
                // "Undertow 360 with other fans -> 3x Lull 120": a part of another kind is no
                // other part in its place.
                let kinds = self.kind_named_in(before).zip(self.kind_named_in(after));
                let part = |i: &Item| !i.names.is_empty() || i.filler;
                let more = !items(self.lexicon, before).iter().all(part);
                if more && kinds.is_some_and(|(a, b)| a != b) {
                    continue;
                }
                if self.has_something(after) {
                    return after.trim_start_matches('>').trim().to_owned();
                }
                if let Some(count) = self.only_count(after) {
                    return format!("{count}x {}", before.trim());
                }
            }
        }
        for range in words().find("becomes", text) {
            let (before, after) = around(text, &range);
            if self.names(before) && self.names(after) {
                return after.trim().to_owned();
            }
        }
        self.instead(text).unwrap_or_else(|| whole.to_owned())
    }

    /// "Instead of A please B", "B instead of A", "2 of B instead of 1": B.
    fn instead(&self, text: &str) -> Option<String> {
        let found = words().find("instead", text);
        if let Some(lead) = found.first().filter(|r| r.start == 0) {
            let rest = text.get(lead.end..)?;
            let cut = words().find("rather", rest).into_iter().next()?;
            let (_, new) = around(rest, &cut);
            return self.names(new).then(|| new.trim().to_owned());
        }
        for range in found {
            let (before, after) = around(text, &range);
            let before = before.trim().trim_end_matches([',', '(', '-']).to_owned();
            if !self.has_something(&before) {
                continue;
            }
            let amounts = price::amounts(after, false);
            if !self.names(after) {
                // "79 € instead of 99 €" is a price.
                let end = after.find([',', ';', ')', '(']).unwrap_or(after.len());
                let rest = after.get(end..).unwrap_or("");
                return amounts.is_empty().then(|| format!("{before}{rest}"));
            }
            let last = amounts.last().and_then(|a| after.get(a.range.clone()));
            let priced = !price::amounts(&before, false).is_empty();
            return Some(match last.filter(|_| !priced) {
                Some(price) => format!("{before}, {price}"),
                None => before,
            });
        }
        None
    }

    /// Whether an item is a word of a part's own name, as it is written.
    fn names_of(&self, item: &Item, part: &PartWords) -> bool {
        let own = |id: u32| part.name.iter().any(|w| w.word == id && !w.kind_word);
        self.names_exactly(item) && item.names.iter().any(|(id, sure)| *sure == 1.0 && own(*id))
    }

    /// The kind of the first part that a text names: by a word of no other kind, or by all of it.
    fn kind_named_in(&self, text: &str) -> Option<u16> {
        let list = items(self.lexicon, text);
        let kind = |at: &u32| self.lexicon.parts.get(*at as usize).map(|p| p.kind);
        let led = list.iter().find(|i| self.names_exactly(i)).and_then(|i| {
            let word = self.lexicon.list.get(i.names.first()?.0 as usize)?;
            let mut kinds = word.parts.iter().map(kind);
            let first = kinds.next()?;
            first.filter(|_| kinds.all(|kind| kind == first))
        });
        let known = || list.iter().filter(|i| !i.is_loose()).cloned().collect::<Vec<_>>();
        led.or_else(|| self.kind_found(&look_up(self.lexicon, &known(), &[])))
    }

    fn names(&self, text: &str) -> bool {
        self.named(&items(self.lexicon, text))
    }

    /// The number of a text that says no more: "please 3 instead of 2".
    fn only_count(&self, text: &str) -> Option<u32> {
        let end = words().find("instead", text).first().map_or(text.len(), |r| r.start);
        let list = items(self.lexicon, text.get(..end)?);
        let mut said = list.iter().filter(|i| !i.filler && !i.prose);
        let only = said.next().filter(|_| said.next().is_none())?;
        let bare = only.readings.is_empty() && only.pack.is_none();
        let count = only.number.filter(|n| bare && n.fract() == 0.0)?;
        (1..=MOST_CHANGED).find(|n| (f64::from(*n) - count).abs() < f64::EPSILON)
    }

    /// Puts in doubt what a later sentence of the writer's changes. A quoted list is older than all
    /// that the writer says; other rows are older than what stands below them.
    pub(super) fn doubted(&self, raw: &[RawRow], rows: &mut [(usize, Row)]) {
        for (at, line) in raw.iter().enumerate() {
            let changes = line.listed && begins_with_change(&line.text);
            let told = !(line.listed && !changes || line.head || line.struck || line.quoted);
            let above = at.checked_sub(1).and_then(|above| raw.get(above));
            if told && !line.parted && above.is_some_and(|row| row.quoted) {
                self.answer(line, rows, at);
            }
            let says = |set: &str| words().says(set, &line.text);
            self.instead_of_row(line, rows, at);
            // "Tarn 650 instead of Tarn 550" is a row, and says itself what it changes.
            let is_row = rows.iter().any(|(row, r)| *row == at && r.state != State::Ignored);
            // "Too dear, rather the Fetch 8"
            let begins = |clause: &&str| {
                let prefers = words().begins("prefers", &plain(clause)).is_some();
                prefers || begins_with_drop(clause)
            };
            let clauses = || super::told::clauses(&line.text);
            let told_of_row = changes || says("edits") || clauses().iter().any(begins);
            if !told || !says("changes") || is_row && !told_of_row {
                continue;
            }
            // "Swap the fans and the Tarn 550, the case is fine": the first two.
            let mut goes_on = false;
            for clause in clauses() {
                goes_on =
                    words().says("changes", clause) || goes_on && !super::strip::is_talk(clause);
                if goes_on {
                    let older = |row: usize| row < at || raw.get(row).is_some_and(|r| r.quoted);
                    let held = rows.iter_mut().filter(|(row, _)| older(*row)).map(|(_, r)| r);
                    let told = self.doubt_by(clause, held);
                    // "Rather 2 TB" is no row once it says which drive.
                    let own =
                        |(row, r): &&mut (usize, Row)| *row == at && (changes || r.part.is_none());
                    for (_, row) in rows.iter_mut().filter(own).filter(|_| told) {
                        (row.state, row.part, row.candidates) = (State::Ignored, None, vec![]);
                    }
                }
            }
        }
    }

    /// "Tarn 650 instead of the Leat?" below the row of the Leat puts that in doubt: asked with a
    /// question mark it is one question, of the two; said without one, the other is out.
    fn instead_of_row(&self, line: &RawRow, rows: &mut [(usize, Row)], at: usize) {
        let Some(range) = words().find("instead", &line.text).into_iter().next() else { return };
        let (before, after) = around(&line.text, &range);
        let asks = line.text.trim_end().ends_with('?');
        let taken = |row: &Row| matches!(row.state, State::Matched | State::Unsure);
        let own = rows.iter().position(|(row, r)| *row == at && taken(r));
        let Some(own) = own.filter(|_| self.names(before) && self.names(after)) else { return };
        let Some((_, new)) = rows.get(own).cloned() else { return };
        let old = items(self.lexicon, after);
        let names_it = |row: &Row| {
            let part = row.part.as_deref().and_then(|id| self.place(id));
            let part = part.and_then(|part| self.lexicon.parts.get(part));
            row.kind == new.kind
                && part.is_some_and(|part| old.iter().any(|i| self.names_of(i, part)))
        };
        let named = |(row, r): &&mut (usize, Row)| *row != at && names_it(r);
        let Some((_, other)) = rows.iter_mut().find(named) else {
            if let Some((_, row)) = rows.get_mut(own).filter(|_| asks) {
                let more = self.parts_in(&old).into_iter().filter_map(|c| self.shown(&c));
                row.candidates.extend(more);
                (row.state, row.part) = (State::Unsure, None);
                row.name = Some(bare_name(&row.text));
            }
            return;
        };
        let held = other.part.take().map(|part| (part, BEFORE_CHANGE));
        other.candidates = new.candidates.iter().cloned().chain(held).collect();
        (other.state, other.name) = (State::Unsure, Some(bare_name(&other.text)));
        if let Some((_, row)) = rows.get_mut(own).filter(|_| asks) {
            (row.state, row.part, row.candidates) = (State::Ignored, None, Vec::new());
        }
    }

    /// A candidate by its part's id.
    fn shown(&self, candidate: &Candidate) -> Option<(String, f64)> {
        Some((self.catalogue.part_at(candidate.part)?.id.to_string(), candidate.score))
    }

    /// What stands at once below a quoted row answers it: "too small, 1 TB please" puts it in
    /// doubt, "fine" asks for nothing.
    fn answer(&self, line: &RawRow, rows: &mut [(usize, Row)], at: usize) {
        let bare = plain(line.text.trim_end_matches(['.', '!', ',', ' ']));
        let agrees = words().has("agrees", &bare);
        let says = |set: &str| words().says(set, &line.text);
        let doubts = ["changes", "faults", "against", "none"].into_iter().any(says);
        let amounts = price::amounts(&line.text, false);
        let priced = match amounts.as_slice() {
            // "Yes, 154.00", "129.00, in stock"
            [only] if !self.has_something(&line.text) => Some(only),
            _ => None,
        };
        for (row, read) in rows.iter_mut() {
            if let Some(amount) = priced
                && (*row == at || *row + 1 == at && read.state == State::Matched)
            {
                if *row == at {
                    (read.state, read.candidates) = (State::Ignored, Vec::new());
                } else if read.price.is_none() {
                    read.price = Some(amount.value.clone());
                    read.currency = amount.currency.clone();
                }
            } else if *row == at && agrees {
                (read.state, read.candidates) = (State::Ignored, Vec::new());
            } else if *row + 1 == at && !agrees && doubts && read.state == State::Matched {
                (read.state, read.name) = (State::Unsure, Some(bare_name(&read.text)));
                read.part = None;
            }
        }
    }

    /// The parts of a labelled row that gives a code of one name only: "CPU: 606P".
    pub(super) fn by_code(&self, raw: &RawRow, list: &[Item]) -> Found {
        let kind = |i: &Item| i.kind();
        let Some(kind) = list.iter().find_map(kind).or_else(|| self.heading(&raw.kind)) else {
            return Found::Nothing;
        };
        let code = |i: &&Item| {
            i.has_digit() && i.key.contains(char::is_alphabetic) && i.readings.is_empty()
        };
        let exact = |i: &Item| i.names.iter().find(|(_, sure)| *sure == 1.0).map(|(id, _)| *id);
        let mut codes = list.iter().filter(code).filter_map(exact);
        let (Some(only), None) = (codes.next(), codes.next()) else { return Found::Nothing };
        let other = |i: &Item| i.is_loose() && !i.small && !i.prose;
        let parts = self.lexicon.list.get(only as usize).map(|w| w.parts.as_slice());
        let of_kind =
            |at: &&u32| self.lexicon.parts.get(**at as usize).is_some_and(|p| p.kind == kind);
        let found: Vec<Candidate> = parts
            .unwrap_or_default()
            .iter()
            .filter(of_kind)
            .map(|at| Candidate { part: *at as usize, score: BY_CODE })
            .collect();
        let few = (1..=3).contains(&found.len()) && !list.iter().any(other);
        if few { Found::Unsure(found) } else { Found::Nothing }
    }

    /// Puts in doubt the rows that a clause is of; whether there are any.
    fn doubt_by<'r>(&self, clause: &str, rows: impl Iterator<Item = &'r mut Row>) -> bool {
        let mut any = false;
        let list = items(self.lexicon, &price::take(clause).rest);
        // "Swap the Tarn 650 for the Leat": each side by itself.
        let mut sides = vec![clause];
        for range in words().find("swapped_for", clause) {
            sides.extend(clause.get(range.end..));
        }
        let parts = |side| self.parts_in(&items(self.lexicon, &price::take(side).rest));
        let new: Vec<Candidate> = sides.into_iter().rev().flat_map(parts).collect();
        // What an earlier clause of the sentence put in doubt may be told by a later one.
        let before = |r: &Row| {
            let held = r.candidates.iter().rev().find(|(_, score)| *score == BEFORE_CHANGE);
            r.part.clone().or_else(|| held.map(|(id, _)| id.clone()))
        };
        let doubted = |r: &Row| r.state == State::Unsure && r.part.is_none();
        for row in rows.filter(|r| r.state == State::Matched || doubted(r)) {
            let own = before(row).and_then(|id| self.place(&id));
            let Some(part) = own.and_then(|at| self.lexicon.parts.get(at)) else { continue };
            let kind = part.kind;
            let mut offered: Vec<Candidate> = new
                .iter()
                .filter(|c| self.lexicon.parts.get(c.part).is_some_and(|p| p.kind == kind))
                .cloned()
                .collect();
            let own_items = items(self.lexicon, &price::take(&row.text).rest);
            offered.extend(self.with_figures(&own_items, &list, kind));
            offered.retain(|c| Some(c.part) != own);
            // "The Skerry's fans" are not the Skerry Voe.
            let said = |i: &&Item| i.names_kind() && !i.fuzzy && !i.is_exact();
            let same = |i: &Item| i.meanings.contains(&Meaning::Kind(kind));
            let of_kind = list.iter().filter(said).any(same);
            let of_none = !list.iter().any(|i| said(&i));
            let meant = of_kind || of_none && list.iter().any(|i| self.names_of(i, part));
            if !meant && offered.is_empty() {
                continue;
            }
            offered.extend(own.map(|part| Candidate { part, score: BEFORE_CHANGE }));
            let offered = distinct(offered);
            row.candidates = offered.iter().filter_map(|c| self.shown(c)).collect();
            (row.state, row.part, row.name) = (State::Unsure, None, Some(bare_name(&row.text)));
            any = true;
        }
        any
    }

    /// Parts that a clause names.
    fn parts_in(&self, list: &[Item]) -> Vec<Candidate> {
        let known: Vec<Item> = list.iter().filter(|i| !i.is_loose()).cloned().collect();
        let named = known.iter().any(|i| self.names_family(i) && i.is_exact());
        if named { look_up(self.lexicon, &known, &[]).all() } else { Vec::new() }
    }

    /// Parts that a row names with a clause's figure in the place of its own: of "Tarn 550 Gold"
    /// and "the 650 W" the Tarn 650 Gold.
    fn with_figures(&self, row: &[Item], clause: &[Item], kind: u16) -> Vec<Candidate> {
        let mut out = Vec::new();
        for figure in clause.iter().filter(|i| i.is_figure()) {
            let of_unit = |i: &Item| {
                i.readings.iter().any(|r| figure.readings.iter().any(|f| f.unit == r.unit))
            };
            let kept = |i: &&Item| i.number.is_none() && i.pack.is_none() && !of_unit(i);
            let mut list: Vec<Item> = row.iter().filter(kept).cloned().collect();
            if list.len() == row.len() {
                continue;
            }
            list.push(figure.clone());
            // "2 TB" is no change of a card whose name has a 2.
            let has_it = |part: &PartWords| {
                let given = |r: &Reading| part.figures.contains(r);
                part.kind == kind
                    && (figure.readings.iter().any(given)
                        || figure.pack.is_some_and(|pack| part.packs.contains(&pack)))
            };
            let found = look_up(self.lexicon, &list, &[]).all().into_iter();
            out.extend(found.filter(|c| self.lexicon.parts.get(c.part).is_some_and(has_it)));
        }
        out
    }
}

/// Whether a row begins with what changes another: "please swap", "can we go up to".
fn begins_with_change(text: &str) -> bool {
    let found = words().find("changes", text).into_iter().next();
    found.is_some_and(|r| text.get(..r.start).is_some_and(super::strip::only_spoken))
}

/// Whether a clause takes a part off the list: "scrap the Fulmar 47".
pub(super) fn begins_with_drop(clause: &str) -> bool {
    words().begins("drops", &plain(clause)).is_some()
}

fn around<'t>(text: &'t str, range: &std::ops::Range<usize>) -> (&'t str, &'t str) {
    (text.get(..range.start).unwrap_or(""), text.get(range.end..).unwrap_or(""))
}
