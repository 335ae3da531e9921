//! What a text says where no label says of what: by the noun behind a figure, by its unit, by what
//! a counted thing is called.

use serde_json::{Value, json};

use super::fields::{figures_only, in_unit};
use super::pages::Statement;
use super::reader::Reader;
use super::{Read, records, words};
use crate::catalogue::kinds::{Field, FieldType};
use crate::intake::{Fact, compact_text, figures, plain_text};

/// Most words of a thing that is named without a count.
const MOST_OF_A_THING: usize = 6;
/// Most words of a sentence before what it counts.
const MOST_BEFORE_A_THING: usize = 16;
/// Most words of a label whose mark was lost.
const MOST_OF_A_LABEL: usize = 6;

impl<'a> Reader<'a> {
    /// Statements with those whose labels are names of places of one kind as one: `M2A: PCIe 5.0
    /// x4` and `M2B: …` say what the board's M.2 sockets are.
    pub(super) fn gathered(&self, all: &[Statement]) -> Vec<Statement> {
        let mut out: Vec<Statement> = Vec::new();
        let mut open: Option<&str> = None;
        for s in all {
            let known = |name: &&str| self.kind.field(name).is_some();
            let named = words::named_place(&s.label).filter(known);
            let named = named.filter(|_| self.labelled(&s.label).is_empty() && !s.text.is_empty());
            let text = format!("{}, {}", s.label, s.text);
            match (named, out.last_mut().filter(|_| named.is_some() && open == named)) {
                (Some(_), Some(last)) => last.text = format!("{}; {text}", last.text),
                (Some(name), None) => {
                    out.push(Statement { label: name.to_owned(), text, ..s.clone() });
                }
                (None, _) => out.push(s.clone()),
            }
            open = named;
        }
        out
    }

    /// `USB: Rear: 4x USB 3.0; Front: 1x USB-C`: a statement for each label within the text, where
    /// a field is called so. Records know the places within theirs.
    pub(super) fn sublabelled(&self, s: &Statement) -> Vec<Statement> {
        let own = self.labelled(&s.label);
        let plain =
            |f: &&Field| matches!(f.ty, FieldType::Number | FieldType::Flag | FieldType::Text(_));
        if s.label.is_empty() || !own.iter().all(plain) {
            return vec![s.clone()];
        }
        let first = |all: &[&Field]| all.first().map(|f| f.name.clone());
        let other = |label: &String| {
            let name = first(&self.labelled(label));
            name.is_some() && name != first(&own)
        };
        let named = |piece: &&str| {
            let (sub, text) = piece.split_once(": ")?;
            let labels =
                [format!("{sub} {}", s.label), format!("{} {sub}", s.label), sub.to_owned()];
            let short = sub.split(' ').count() <= 3 && !sub.contains(',');
            let label = labels.into_iter().find(|l| short && other(l))?;
            Some(Statement { label, text: text.trim().to_owned(), ..s.clone() })
        };
        let pieces = records::pieces(&s.text, &[';']);
        let all: Option<Vec<Statement>> = pieces.iter().map(named).collect();
        all.filter(|all| !all.is_empty()).unwrap_or_else(|| vec![s.clone()])
    }

    /// `Board power 200 W`: a line whose mark between label and text was lost, as statements; one
    /// more for each label behind a comma.
    pub(super) fn parted(&self, s: &Statement) -> Vec<Statement> {
        // A sentence has no label.
        let told = s.text.contains(". ") || s.text.ends_with('.');
        if told || !s.label.is_empty() {
            return vec![s.clone()];
        }
        let mut out: Vec<Statement> = Vec::new();
        for piece in records::pieces(&s.text, &[',', ';']) {
            let label = self.leading_label(piece);
            // "Height 155 mm, Width 125 mm": a label too, if of no field.
            let begins = piece.starts_with(char::is_uppercase) && figures(piece).len() == 1;
            match (label, out.last_mut()) {
                (None, Some(last)) if !begins || last.label.is_empty() => {
                    last.text = format!("{}, {piece}", last.text)
                }
                (label, _) => {
                    let text = piece.get(label.map_or(0, str::len)..).unwrap_or("").trim();
                    let label = label.unwrap_or("").to_owned();
                    out.push(Statement { label, text: text.to_owned(), ..s.clone() });
                }
            }
        }
        if out.iter().all(|o| o.label.is_empty()) { vec![s.clone()] } else { out }
    }

    /// The label that a text begins with, where a figure follows it.
    fn leading_label<'t>(&self, text: &'t str) -> Option<&'t str> {
        let figure = |w: &str| {
            w.starts_with(|c: char| c.is_ascii_digit()) || words::number(w).is_some_and(|n| n > 1)
        };
        let first = text.split(' ').take(MOST_OF_A_LABEL).take_while(|w| !figure(w));
        let label = text.get(..first.map(|w| w.len() + 1).sum::<usize>())?;
        let without = |low: String, word: &str| match words::find_word(&low, word) {
            Some(at) => {
                low.get(..at).unwrap_or("").to_owned() + low.get(at + word.len()..).unwrap_or("")
            }
            None => low,
        };
        let bare = words::of("up_to").fold(plain_text(label), without);
        // "Fully modular 80 PLUS Gold" measures nothing.
        let measured = |f: &&Field| !matches!(f.ty, FieldType::Flag);
        self.called(&[&compact_text(&bare)]).iter().any(measured).then_some(label.trim_end())
    }

    /// The figures of a clause whose unit alone tells of which field they are: one that no other
    /// field has, where the clause says no more than the figure, or where the unit says what is
    /// measured (rpm, dB, kg).
    pub(super) fn by_units(
        &mut self,
        s: &Statement,
        clause: &str,
        claimed: Option<&Field>,
        fields: &[&Field],
    ) -> bool {
        let other_weight = words::holds("other_weight", &plain_text(clause));
        // "USB-C (90 W)": under a label a bare figure is of what the label names.
        let alone = fields.is_empty() && figures_only(clause) && claimed.is_none();
        // "Model range: 1000 GB, 2000 GB" gives none.
        let sole = |unit: &str| in_unit(&s.text, unit).len() == 1;
        let mut any = false;
        for figure in figures(clause) {
            let of_unit = |f: &&'a Field| {
                let unit = figure.readings.iter().any(|(unit, _)| *unit == *f.unit);
                unit && matches!(f.ty, FieldType::Number) && !f.name.starts_with("lighting")
            };
            let mut own = self.kind.fields.iter().filter(of_unit);
            let Some(only) = own.next().filter(|_| own.next().is_none()) else { continue };
            if &*only.unit == "kg" && other_weight {
                continue;
            }
            let other = fields.iter().chain(&claimed).all(|f| f.name != only.name);
            let tells = alone && sole(&only.unit)
                || words::has("telling_units", &only.unit)
                || fields.is_empty() && sole(&only.unit) && &*only.unit == "V";
            if other && tells && !self.read.contains_key(&*only.name) {
                any |= self.put(only, s, clause, false);
            }
        }
        any
    }

    /// What the words of a statement say of other fields than its label's: under "Type" a drive is
    /// a "3.5-inch hard disk, SATA".
    pub(super) fn other_words(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let worded = |f: &Field| matches!(f.ty, FieldType::Text(_));
        let counts = |f: &Field| matches!(f.ty, FieldType::Number) && f.unit.is_empty();
        let sized = fields.is_empty() && words::has("sizes", &plain_text(&s.label));
        // "DDR4-3200" says of which kind a module is, under whatever label.
        let anywhere = !sized && !fields.iter().any(|f| worded(f) || counts(f));
        let mut any = false;
        for clause in records::clauses(&s.text) {
            // What the label's own field understands says nothing else: "ATX 3.1" is no form.
            let spelled = fields.iter().flat_map(|f| &f.spelled).flat_map(|(_, all)| all);
            let labels = fields.iter().flat_map(|f| &f.also);
            let mut own: Vec<&str> = spelled.chain(labels).map(|w| &**w).collect();
            own.sort_by_key(|w| std::cmp::Reverse(w.len()));
            let mut rest = plain_text(clause);
            for word in own {
                if let Some(at) = words::find_word(&rest, word) {
                    rest.replace_range(at..at + word.len(), " ");
                }
            }
            for (name, fact) in self.words.said_of(self.kind, &rest) {
                let Some((_, field)) = self.kind.field(&name) else { continue };
                let other = fields.iter().all(|f| f.name != field.name)
                    && (!anywhere || words::has("told_anywhere", &name));
                let lit = words::has("said_anywhere", &name)
                    && (words::holds("lit", &rest) || words::holds("lit", &plain_text(&s.label)));
                let value = match fact {
                    Fact::Word(word) if worded(field) && !words::has("no", &word) => json!(word),
                    Fact::Number(n) if words::has("told_anywhere", &name) => json!(n),
                    _ => continue,
                };
                if other && !lit && !self.read.contains_key(&name) {
                    any |= self.keep(&name, value, clause, s.line);
                }
            }
        }
        any
    }

    /// `a 140 mm fan`: a figure before the kind's own noun.
    pub(super) fn before_noun(&mut self, s: &Statement) -> bool {
        let low = plain_text(&s.text);
        let nouns = self.kind.also.iter().map(|w| &**w).chain([self.kind.title.as_str()]);
        let short = |t: &str| t.rsplit(' ').next().unwrap_or("").to_owned();
        let mut nouns: Vec<String> = nouns.flat_map(|w| [w.to_lowercase(), short(w)]).collect();
        nouns.sort_by_key(|w| std::cmp::Reverse(w.len()));
        // "Two 140 mm fans" of a cooler are fans, and no cooler of 140 mm.
        let own = |noun: &&String| self.called(&[&compact_text(noun)]).is_empty();
        let place = nouns.iter().filter(|w| w.len() > 2).filter(own).find_map(|noun| {
            let at = words::find_word(&low, noun)?;
            let before = low.get(..at)?.trim_end();
            let last = before.rsplit([' ', '-', '\u{a0}']).next()?;
            let start = before.len() - last.len();
            // "140 mm" and "140mm" before the noun.
            let number = before.get(..start)?.trim_end_matches([' ', '-', '\u{a0}']);
            let digits = number.rsplit(' ').next()?;
            let joined = last.starts_with(|c: char| c.is_ascii_digit());
            let text = if joined { last.to_owned() } else { format!("{digits} {last}") };
            text.starts_with(|c: char| c.is_ascii_digit()).then_some(text)
        });
        let Some(text) = place else { return false };
        let said = self.words.said_of(self.kind, &text);
        let fresh = said.into_iter().filter_map(|(field, fact)| match fact {
            Fact::Number(number) if !self.read.contains_key(&field) => Some((field, number)),
            _ => None,
        });
        let mut any = false;
        for (field, number) in fresh.collect::<Vec<_>>() {
            any |= self.keep(&field, json!(number), &s.text, s.line);
        }
        any
    }

    /// `1 x 24-pin, 3 x ARGB, 2 x 8-pin` under a label of no field: each counted thing by its name.
    pub(super) fn counted_things(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let mut by_field: Vec<(&'a Field, Vec<&str>)> = Vec::new();
        let text =
            if s.label.is_empty() { super::told::sentences(&s.text) } else { s.text.clone() };
        for piece in records::pieces(&text, &[',', ';']) {
            let piece = if s.label.is_empty() { from_count(piece) } else { piece };
            let (_, rest) = records::counted(piece);
            // "HDMI 2.1a, three DisplayPort 1.4a": one, where it says no more than what it is.
            let begins = |(at, _): &(usize, &str)| *at == 0;
            let sole = || {
                let things = words::all_of("things", &rest);
                let sole = things.iter().find(|thing| begins(thing)).map(|(_, field)| *field);
                sole.is_some_and(|field| words::has("one_by_one", field))
                    && piece.split_whitespace().count() <= MOST_OF_A_THING
            };
            let counts = rest != plain_text(piece);
            if !counts && !sole() {
                continue;
            }
            let record = |f: &&Field| {
                matches!(f.ty, FieldType::Records(_) | FieldType::Counts(_))
                    || words::has("counted_lists", &f.name)
            };
            let named = words::first_of("things", &rest);
            // "A DisplayPort cable comes with it" is no port.
            if named == Some("video_out") && words::holds("leads", &rest) {
                continue;
            }
            // Pictures go out of a card and into a monitor, power out of its supply.
            let pictures = named.filter(|n| *n == "video_out").map(|_| "inputs");
            let power = words::first_of("connectors", &rest).map(|_| "leads");
            let names = [named, pictures, power];
            let rear = self.kind.field("rear_usb").is_some();
            let names = names.into_iter().flatten().filter(|n| !(rear && *n == "video_out"));
            let mut fields_of = names.filter_map(|name| self.kind.field(name)).map(|(_, f)| f);
            let thing = fields_of.find(record);
            let Some(field) = thing.or_else(|| self.claimed(&rest)).filter(record) else {
                continue;
            };
            let read = self.read.get(&*field.name).is_some_and(|r| !counts || r.line == s.line);
            if read || fields.iter().any(|f| f.name == field.name) {
                continue;
            }
            match by_field.iter_mut().find(|(f, _)| f.name == field.name) {
                Some((_, pieces)) => pieces.push(piece),
                None => by_field.push((field, vec![piece])),
            }
        }
        let mut any = false;
        for (field, pieces) in by_field {
            let text = pieces.join(", ");
            let one = Statement { label: String::new(), text: text.clone(), ..s.clone() };
            any |= if matches!(field.ty, FieldType::List(_)) {
                !self.read.contains_key(&*field.name) && self.put(field, &one, &text, true)
            } else {
                self.records(&one, &[field])
            };
        }
        any
    }

    /// A column or a line whose label is a plug's name: `EPS  2x 4+4`.
    pub(super) fn plugs(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let named = words::first_of("connectors", &plain_text(&s.label)).is_some();
        let low = plain_text(&s.label);
        let port =
            words::all_of("ports", &low).iter().any(|(at, _)| *at == 0) && !low.contains(' ');
        let video = ["inputs", "video_out"].into_iter().find_map(|name| self.kind.field(name));
        if let (true, Some((_, video))) = (port && fields.is_empty(), video) {
            let count = records::counted(&s.text).0;
            let text = format!("{count} x {}", s.label);
            let one = Statement { label: String::new(), text, ..s.clone() };
            return self.records(&one, &[video]);
        }
        let Some((_, leads)) = self.kind.field("leads").filter(|_| named && fields.is_empty())
        else {
            return false;
        };
        let known = words::first_of("connectors", &plain_text(&s.text)).is_some();
        let text = match s.text.trim().parse::<u32>() {
            Ok(0) => return true,
            Ok(count) => format!("{count} x {}", s.label),
            Err(_) if known => s.text.clone(),
            Err(_) => format!("{} {}", s.text, s.label),
        };
        let one = Statement { text: text.replace(" + ", ", "), ..s.clone() };
        if !in_unit(&text, "W").is_empty() {
            return false;
        }
        let more = records::leads(&one.text);
        match self.read.get_mut(&*leads.name) {
            // Columns of one row, each with its plug.
            Some(Read { value: Value::Array(all), .. }) => all.extend(more),
            _ if more.is_empty() => return false,
            _ => return self.keep(&leads.name, Value::Array(more), &one.text, s.line),
        }
        true
    }
}

/// "It takes its power from two 8-pin plugs": from the count of what is known on.
fn from_count(piece: &str) -> &str {
    let starts = piece.match_indices(' ').map(|(at, _)| at + 1).take(MOST_BEFORE_A_THING);
    let tails = std::iter::once(0).chain(starts).filter_map(|at| piece.get(at..));
    let thing = |text: &str| {
        let begins = |group| words::all_of(group, text).first().is_some_and(|(at, _)| *at == 0);
        ["things", "connectors", "ports"].into_iter().any(begins)
    };
    let counts = |tail: &&str| {
        let (_, rest) = records::counted(tail);
        rest != plain_text(tail) && thing(&rest)
    };
    // "24-pin and two 8-pin sockets" begins with one.
    let mut tails = tails.filter(|_| !thing(&plain_text(piece))).filter(counts);
    tails.next().unwrap_or(piece)
}
