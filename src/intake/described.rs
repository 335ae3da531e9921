//! What a piece of a row comes to: the part that is meant, or what is said of it.

use std::ops::Range;

use super::called::part_name;
use super::count::before;
use super::facts;
use super::interpret::Interpreter;
use super::items::{Item, items};
use super::lexicon::Meaning;
use super::matching::{Candidate, Found};
use super::rows::RawRow;
use super::segments::to_clause_end;
use super::strip::{Stripped, is_talk, tidy};
use super::words::{plain, words};
use super::{Row, State, set_price};

impl Interpreter<'_> {
    pub(super) fn row(
        &self,
        raw: &RawRow,
        text: &str,
        stripped: Stripped,
        found: Found,
        list: &[Item],
    ) -> Row {
        let mut limited = stripped.limited;
        let limit = stripped.limit;
        let mut row = Row {
            line: raw.line,
            text: tidy(text),
            count: stripped.count.unwrap_or(1),
            price: stripped.price,
            currency: stripped.currency,
            owned: stripped.owned,
            two_prices: stripped.two_prices,
            uneven_sum: stripped.uneven_sum,
            ..Row::ignored(raw)
        };
        let id =
            |c: &Candidate| self.catalogue.part_at(c.part).map(|p| (p.id.to_string(), c.score));
        let kind_name = |at: u16| self.catalogue.kinds.get(at as usize).map(|k| k.name.to_string());
        row.kind = self.kind_found(&found).and_then(kind_name);
        match found {
            Found::Sure(one) => {
                row.state = State::Matched;
                row.candidates = id(&one).into_iter().collect();
                row.part = row.candidates.first().map(|(id, _)| id.clone());
                if !stripped.priced_each {
                    set_price::part(self.catalogue, &mut row);
                }
            }
            Found::Unsure(many) => {
                row.state = State::Unsure;
                row.candidates = many.iter().filter_map(id).collect();
                self.describe(&mut row, raw, text, list, stripped.vague);
            }
            Found::Nothing => {
                let kind = self.kind_told(raw, text, list, [stripped.vague, stripped.owned]);
                row.kind = kind.and_then(kind_name);
                // A row in which every word says what is wanted, and none what it is called.
                let said = self.without_purpose(&stripped.text);
                let whole = items(self.lexicon, &said);
                let family = |i: &Item| self.names_family(i) && !i.wish;
                let unnamed = raw.maker.is_empty()
                    && !whole.iter().any(family)
                    && self.calls_nothing(kind, text, &said, &whole);
                // What the customer has is a part, whatever it is called: nothing is to be chosen.
                // "Dotterel 712X, or whatever is faster" names one that the catalogue lacks.
                let loosely = stripped.vague && self.kind_of_family(&whole).is_none();
                let vague = (loosely || unnamed) && !stripped.owned;
                row.state = if vague && kind.is_some() { State::Open } else { State::Unknown };
                // Of an open row each range counts by its low end.
                let low = facts::low_ends(&stripped.text);
                if row.state == State::Open && low != stripped.text {
                    self.describe(&mut row, raw, text, &items(self.lexicon, &low), vague);
                } else {
                    self.describe(&mut row, raw, text, list, vague);
                }
                if row.state == State::Open {
                    row.wants.extend(limit.map(|most| format!("price <= {most}")));
                    let counted = self.count_modules(&mut row, text);
                    limited |= names_half(text) || self.wish(kind, &self.unchecked(text, counted));
                }
            }
        }
        // An unknown part is called all that the row says.
        let kept = limited && row.state != State::Unknown;
        row.note = kept.then(|| tidy(&text.replace('|', " ")));
        row
    }

    /// The kind of a row that names no part: left open, or the customer's.
    fn kind_told(&self, raw: &RawRow, text: &str, list: &[Item], how: [bool; 2]) -> Option<u16> {
        let [vague, owned] = how;
        let hint = self.hint(raw);
        let kind = facts::kind_of(self.catalogue, self.lexicon, list, hint);
        // What a column of kinds says, and a section of what is left open.
        let section = hint.map(|(kind, _)| kind).filter(|_| vague);
        // "Cooler: one that fits the board" is of a cooler.
        let label = self.label(text).filter(|_| vague || owned);
        let label = label.and_then(|(label, _)| self.heading(label));
        let told = label.or(kind).or_else(|| self.heading(&raw.kind)).or(section);
        told.or_else(|| self.kind_of_family(list))
    }

    /// The kind of all parts of the family that a row begins with: "Dotterel 712X" is a processor,
    /// whichever it is.
    fn kind_of_family(&self, list: &[Item]) -> Option<u16> {
        let proper = |i: &&Item| self.names_proper(i) && i.is_exact() && !i.is_maker();
        let first = list.iter().find(|i| !i.filler).filter(proper)?;
        let mut kinds = self.words_of(first, 0.85);
        let [kind] = *kinds.next()?.kinds.as_slice() else { return None };
        kinds.all(|word| word.kinds == [kind]).then_some(kind)
    }

    /// "32 GB, 2 sticks" is one kit of two modules: for a kind that is sold in packs, what its text
    /// counts is no count of parts.
    fn count_modules(&self, row: &mut Row, text: &str) -> bool {
        let kind = row.kind.as_deref().and_then(|kind| self.catalogue.kind_named(kind));
        let packs = kind.and_then(|k| k.figures.iter().find_map(|f| f.split_once('*')));
        let Some((modules, _)) = packs else { return false };
        let counted = |at| before(text, &at).map(|(count, ..)| count);
        let said = words().find("modules", text).into_iter().find_map(counted);
        let said = said.filter(|count| *count == row.count);
        if let Some(count) = said {
            row.count = 1;
            row.wants.push(format!("{} == {count}", modules.trim()));
        }
        said.is_some()
    }

    /// What a row asks for, without the modules that became a want.
    fn unchecked(&self, text: &str, counted: bool) -> Vec<Item> {
        let bounds = ["or_better", "at_least"];
        let asked = words().without(&bounds, &self.without_purpose(text), " ");
        let modules = words().find("modules", &asked);
        let mut list = items(self.lexicon, &asked);
        list.retain(|i| !(counted && modules.iter().any(|at| at.contains(&i.range.start))));
        list
    }

    /// What the row itself says, where no part is sure.
    pub(super) fn describe(
        &self,
        row: &mut Row,
        raw: &RawRow,
        text: &str,
        list: &[Item],
        vague: bool,
    ) {
        // "PSU: Tovell 650" is called Tovell 650.
        let text = self.label(text).map_or(text, |(_, rest)| rest);
        let text = self.without_leading_kind(row.kind.as_deref(), text);
        let kind = row.kind.as_deref().and_then(|k| self.catalogue.kind_id(k)).map(|k| k.0);
        let Some(kind) = kind else {
            row.name = Some(part_name(raw, text));
            return;
        };
        if row.state == State::Open && vague {
            let least = self.widened(text);
            row.wants = facts::wants(self.catalogue, self.lexicon, kind, list, &least);
        } else {
            // "The monitor stays" calls it nothing.
            let title = || self.catalogue.kinds.get(kind as usize).map(|k| k.title.to_string());
            let name = Some(part_name(raw, text)).filter(|name| !name.is_empty());
            row.name = name.or_else(title);
            row.facts = facts::facts(self.catalogue, kind, list);
        }
    }

    /// What a text says is the least: "gold or better", "at least 27 inches".
    fn widened(&self, text: &str) -> Vec<String> {
        let said = |text: &str, last: bool| {
            let list = items(self.lexicon, text);
            let says = |i: &&Item| !(i.filler || i.prose || i.names_kind() && i.number.is_none());
            let mut said = list.iter().filter(says).map(|i| i.key.clone());
            if last { said.next_back() } else { said.next() }
        };
        let before = |r: &Range<usize>| said(text.get(..r.start)?, true);
        let behind = |r: &Range<usize>| said(to_clause_end(text.get(r.end..)?), false);
        let better = words().find("or_better", text).into_iter().filter_map(|r| before(&r));
        let least = words().find("at_least", text).into_iter();
        better.chain(least.filter_map(|r| behind(&r).or_else(|| before(&r)))).collect()
    }

    /// Whether an open row wishes for more than a kind's fields hold: "quiet", "USB-C in front".
    pub(super) fn wish(&self, kind: Option<u16>, list: &[Item]) -> bool {
        let held = |m: &Meaning| match m {
            Meaning::Kind(of) | Meaning::Value { kind: of, .. } => Some(*of) == kind,
            Meaning::Maker(_) => false,
        };
        let says = |i: &Item| i.wish || i.is_loose() && !i.prose;
        list.iter()
            .any(|i| i.negated || says(i) || !i.meanings.is_empty() && !i.meanings.iter().any(held))
    }

    /// "Ein externes Laufwerk Whelk Disc Outside": without what stands before a kind, where a name
    /// of it follows at once and what stands before are small words.
    pub(super) fn without_lead<'t>(&self, text: &'t str) -> &'t str {
        let list = items(self.lexicon, text);
        let exact = |i: &Item| self.names_exactly(i);
        let Some(at) = list.iter().position(|i| i.names_kind() && !self.names_family(i)) else {
            return text;
        };
        let small = |i: &Item| {
            let written = text.get(i.range.clone()).unwrap_or("");
            let figure = i.number.is_some() || i.is_figure();
            !figure && i.meanings.is_empty() && written.starts_with(char::is_lowercase)
        };
        let lead = list.get(..at).unwrap_or(&[]);
        let named = list.get(at + 1).is_some_and(|next| exact(next) && !next.apart);
        let cased = named && lead.iter().any(Item::is_loose) && lead.iter().all(small);
        let behind = list.get(at).and_then(|kind| text.get(kind.range.end..));
        behind.filter(|_| cased).map_or(text, str::trim_start)
    }

    /// "PSU Ballast 650" is called Ballast 650; "SSD 2 TB" has no other name.
    pub(super) fn without_leading_kind<'t>(&self, kind: Option<&str>, text: &'t str) -> &'t str {
        let text = text.trim_start_matches([' ', '|', ',']);
        let list = items(self.lexicon, text);
        let place = kind.and_then(|k| self.catalogue.kind_id(k)).map(|k| k.0);
        let [first, next, ..] = list.as_slice() else { return text };
        let own = place.is_some_and(|k| first.meanings.contains(&Meaning::Kind(k)));
        let named = next.is_loose() || next.is_exact();
        if own && named && first.names.is_empty() && first.range.start == 0 {
            text.get(first.range.end..).unwrap_or(text)
        } else {
            text
        }
    }

    /// Whether a text says what is wanted of a kind and not what it is called.
    fn calls_nothing(&self, kind: Option<u16>, text: &str, said: &str, whole: &[Item]) -> bool {
        // "A case with two USB-C": what it is to have is no name of it.
        let mut items = whole.iter().skip_while(|i| i.filler);
        let named = items.next().is_some_and(|i| i.names_kind() && !i.is_exact());
        let has = named && items.next().is_some_and(|i| words().has("beside", &i.key));
        // "Watercooling 360"
        let kind = kind.and_then(|at| Some((at, self.catalogue.kinds.get(usize::from(at))?)));
        let figure = |i: &Item| {
            kind.is_some_and(|(at, kind)| facts::bare_figure(self.lexicon, kind, at, i).is_some())
        };
        has || facts::only(whole, &figure)
            || indefinite(said, whole)
            || is_talk(text) && nothing_called(said, whole)
    }

    /// The kind that a row's column or section says, and how much that counts: in a row of the
    /// column "GPU" a figure such as 9000 makes no memory of it.
    pub(super) fn hint(&self, raw: &RawRow) -> Option<(u16, f64)> {
        let column = items(self.lexicon, &raw.kind).iter().find_map(|i| i.kind());
        column.map(|kind| (kind, 2.5)).or(self.section.map(|kind| (kind, 0.5)))
    }
}

/// Whether no word of a sentence that may be a name is written as one is: "a hub, so that all fans
/// can be run from it".
fn nothing_called(text: &str, list: &[Item]) -> bool {
    let written = |i: &Item| text.get(i.range.clone()).unwrap_or("");
    let name = |i: &Item| {
        i.is_loose() && !i.prose && (i.has_digit() || written(i).starts_with(char::is_uppercase))
    };
    list.iter().skip(1).all(|i| !name(i))
}

/// Whether a row begins as what is not named does, and no word of it is a name: "a good power
/// supply, 550 W or so".
pub(super) fn indefinite(text: &str, list: &[Item]) -> bool {
    let text = text.trim_start_matches([' ', '|', ',']);
    let first = text.split([' ', '|']).next().unwrap_or("");
    let name = |i: &&Item| i.is_loose() && !i.prose;
    let spoken = |i: &Item| i.wish || i.small || words().number(&i.key).is_some();
    words().has("articles", &plain(first)) && list.iter().filter(name).all(spoken)
}

/// One price behind several parts may be that of all of them: nobody's.
pub(super) fn price_of_several(raw: &RawRow, rows: &mut [Row]) {
    let priced = rows.iter().filter(|r| r.price.is_some() || r.uneven_sum.is_some()).count();
    let says = |set: &str| words().says(set, &raw.text);
    // "Lade 1000 and Lade 4000 (69 € and 249 €)": in their order.
    let amounts = super::price::amounts(&raw.text, false);
    let torn = rows.last().is_some_and(|row| row.two_prices);
    if rows.len() > 1 && priced == 0 && torn && amounts.len() == rows.len() && !says("together") {
        for (row, amount) in rows.iter_mut().zip(amounts) {
            (row.price, row.currency) = (Some(amount.value), amount.currency);
            row.two_prices = false;
        }
        return;
    }
    // Of several in one row of a table the column gives the price of all.
    if rows.len() > 1 && priced == rows.len() && !raw.price.trim().is_empty() {
        for row in rows.iter_mut() {
            (row.price, row.currency, row.uneven_sum) = (None, None, None);
        }
    }
    if rows.len() > 1 && priced == 1 && raw.price.trim().is_empty() {
        for row in rows.iter_mut().filter(|_| says("together")) {
            (row.price, row.currency, row.uneven_sum) = (None, None, None);
        }
        if let Some(last) = rows.last_mut().filter(|_| !says("each")) {
            (last.price, last.currency) = (None, None);
        }
    }
}

/// Whether a text names what only some parts of a kind are: "a keyboard" is no mouse, and "a
/// keyboard and a mouse" may be two parts.
pub(super) fn names_half(text: &str) -> bool {
    words().says("half_of_a_kind", text)
}
