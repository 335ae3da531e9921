//! One part, statement by statement: which field a label means, and what a clause says of it.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::fields::{Answer, ask};
use super::label_fields::Labels;
use super::measures::joined_thousands;
use super::pages::{Described, Statement};
use super::{Imported, Read, SheetMap, records, words};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::intake::{Fact, Intake, figures, plain_text};
use crate::words::slug;

/// Letters of a statement that are read.
pub(super) const MOST_OF_A_STATEMENT: usize = 4_000;
/// Most words of a clause below a part's name that says what it is.
const MOST_OF_A_HEADLINE: usize = 6;

/// A part as it is being read.
pub(super) struct Reader<'a> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) kind: &'a Kind,
    pub(super) labels: &'a Labels<'a>,
    pub(super) map: &'a SheetMap,
    /// Knows what words and figures mean by themselves.
    pub(super) words: &'a Intake<'a>,
    pub(super) read: BTreeMap<String, Read>,
    /// Fields that were said twice, and not alike.
    torn: Vec<String>,
    pub(super) mounts: Vec<Map<String, Value>>,
    pub(super) mounts_from: Option<(String, usize)>,
    unread: Vec<String>,
    notes: Vec<String>,
    /// The size of the fans that were counted.
    pub(super) fan_size: Option<Read>,
}

impl<'a> Reader<'a> {
    /// A reader of one part of a kind.
    pub(super) fn new(
        catalogue: &'a Catalogue,
        labels: &'a Labels<'a>,
        map: &'a SheetMap,
        words: &'a Intake<'a>,
    ) -> Self {
        Self {
            catalogue,
            kind: labels.kind,
            labels,
            map,
            words,
            read: BTreeMap::new(),
            torn: Vec::new(),
            mounts: Vec::new(),
            mounts_from: None,
            unread: Vec::new(),
            notes: Vec::new(),
            fan_size: None,
        }
    }

    /// Reads all that is said of the part.
    pub(super) fn part(mut self, described: &Described) -> Imported {
        for statement in self.gathered(&described.statements) {
            let bounded = self.within_bounds(statement);
            let statements = self.sublabelled(&bounded);
            let statements = statements.iter().flat_map(|s| self.parted(s)).collect::<Vec<_>>();
            for one in statements.iter().flat_map(paired) {
                if !self.statement(&one) && !words::has("nothing", &one.text) {
                    self.unread.push(format!("{} {}", one.label, one.text).trim().to_owned());
                }
            }
        }
        if let Some(sockets) = self.read.get_mut("m2") {
            super::sockets::with_disabled(&mut sockets.value, &described.statements);
        }
        if let Some((from, line)) = self.mounts_from.take() {
            let value = Value::Array(
                std::mem::take(&mut self.mounts).into_iter().map(Value::Object).collect(),
            );
            self.keep("mounts", value, &from, line);
        }
        let (maker, name, rest) = self.headed(described);
        self.below_name(described);
        self.headline(&rest, described, true);
        self.figures_of_name(described);
        let liquid = self.read.get("cooling").is_some_and(|r| r.value == "liquid");
        let liquid = liquid || self.read.contains_key("radiator_mm");
        if let (Some(size), true) = (self.fan_size.take(), liquid) {
            self.read.entry("radiator_fan_mm".to_owned()).or_insert(size);
        }
        if !maker.is_empty() {
            self.keep("maker", json!(maker), &maker, described.line);
        }
        let name =
            self.read.remove("name").map_or(name, |r| r.value.as_str().unwrap_or("").to_owned());
        if name.is_empty() {
            self.notes.push("name: the page does not say what the part is called".to_owned());
        }
        let all = &self.kind.fields;
        let read = |f: &Field| Some((f.name.to_string(), self.read.remove(&*f.name)?));
        let fields: Vec<(String, Read)> = all.iter().filter_map(read).collect();
        let told = |f: &Field| fields.iter().any(|(name, _)| *name == *f.name);
        // The line that gave a value says nothing more of it: "120 x 120 x 25 mm".
        let given = |note: &String| {
            fields.iter().any(|(name, read)| {
                let rest = note.strip_prefix(name.as_str());
                rest.is_some_and(|r| r.starts_with(':') && r.contains(&by_line(read.line)))
            })
        };
        self.notes.retain(|note| !given(note));
        let asked = |f: &&Field| &*f.name != "name" && f.absent.is_none() && !f.optional;
        let missing = all.iter().filter(asked).filter(|f| !told(f));
        let missing = missing.map(|f| f.name.to_string()).collect();
        Imported {
            id: format!("{}/{}", self.kind.name, slug(&crate::intake::folded_text(&name))),
            name,
            fields,
            unread: self.unread,
            notes: self.notes,
            missing,
        }
    }

    /// A statement, or its beginning where it is longer than any page has one: what a clause says
    /// is looked for among all of them.
    fn within_bounds(&mut self, mut s: Statement) -> Statement {
        let end = s.text.char_indices().map(|(at, _)| at).nth(MOST_OF_A_STATEMENT);
        if let Some(end) = end {
            s.text.truncate(end);
            self.notes.push(format!(
                "line {} is read up to its letter {MOST_OF_A_STATEMENT}: no page says so much in \
                 one",
                s.line
            ));
        }
        s
    }

    /// What stands below the name, before the first label, says what it is too.
    fn below_name(&mut self, described: &Described) {
        let below = described.statements.iter().take_while(|s| s.label.is_empty());
        for (at, clause) in below
            .enumerate()
            .flat_map(|(at, s)| records::clauses(&s.text).into_iter().map(move |c| (at, c)))
        {
            let word = |w: &&str| {
                w.len() > 1
                    && w.chars().all(char::is_alphabetic)
                    && crate::intake::units_of(w).is_empty()
            };
            let words = || clause.split_whitespace();
            let short = at == 0 && words().count() <= MOST_OF_A_HEADLINE;
            let figures = clause.contains(|c: char| c.is_ascii_digit());
            let whole = short || !figures || words().filter(word).count() == 0;
            if whole || at == 0 {
                self.headline(clause, described, whole);
            }
        }
    }

    /// What the page's head says beside the part's name, where no label says it: all, or what a
    /// name may tell.
    fn headline(&mut self, rest: &str, described: &Described, whole: bool) {
        let said = self.words.said_of(self.kind, rest).into_iter();
        for (field, fact) in said.filter(|(f, _)| whole || words::has("name_tells", f)) {
            let value = match fact {
                Fact::Number(number) => json!(number),
                Fact::Word(word) => json!(word),
                Fact::Yes => json!(true),
            };
            if !self.read.contains_key(&field) && !self.torn.contains(&field) {
                self.keep(&field, value, rest, described.line);
            }
        }
    }

    /// What a part's name says that no label gives: "Lathe 2TB" holds 2 TB, "Pollack DDR5" is DDR5.
    fn figures_of_name(&mut self, described: &Described) {
        for (field, fact) in self.words.said_of(self.kind, &described.name) {
            let fresh = !self.read.contains_key(&field) && !self.torn.contains(&field);
            // Many a word may be a name; one with a digit is none.
            let coded = |word: &str| word.contains(|c: char| c.is_ascii_digit());
            if fact == Fact::Yes && fresh && words::has("name_tells", &field) {
                self.keep(&field, json!(true), &described.name, described.line);
            }
            if let Fact::Word(word) = &fact
                && fresh
                && (coded(word) || words::has("name_tells", &field))
            {
                self.keep(&field, json!(word), &described.name, described.line);
            }
            let Fact::Number(number) = fact else { continue };
            // A bare number of a name may be any: only those with a unit are taken.
            let unit = self.kind.field(&field).map_or("", |(_, f)| &*f.unit);
            if matches!(unit, "MT/s" | "clocks") {
                continue;
            }
            if fresh {
                self.keep(&field, json!(number), &described.name, described.line);
            }
        }
    }

    pub(super) fn keep(&mut self, field: &str, value: Value, from: &str, line: usize) -> bool {
        if self.torn.iter().any(|t| t == field) {
            return true;
        }
        // "Capacity 32 GB" and "2 x 16 GB" are one kit: the less is what each holds.
        if let Some(value) = self.each_of_kit(field, &value) {
            self.read.insert(field.to_owned(), Read { value, from: from.to_owned(), line });
            return true;
        }
        match self.read.get_mut(field) {
            // "A tower for Micro-ATX", and below it the whole list.
            Some(held) if holds_all(&held.value, &value) => {}
            Some(held) if holds_all(&value, &held.value) => {
                *held = Read { value, from: from.to_owned(), line };
            }
            Some(held) if !alike(&held.value, &value) => {
                self.notes.push(format!(
                    "{field}: line {} says {}, line {line} says {value}",
                    held.line, held.value
                ));
                self.read.remove(field);
                self.torn.push(field.to_owned());
            }
            Some(_) => {}
            None => {
                self.read.insert(field.to_owned(), Read { value, from: from.to_owned(), line });
            }
        }
        true
    }

    fn statement(&mut self, s: &Statement) -> bool {
        if s.text.is_empty() {
            return true;
        }
        let mut fields = self.labelled(&s.label);
        let generic = plain_text(s.label.split(' ').next().unwrap_or(""));
        if fields.is_empty() && words::has("generic", &generic) {
            fields = self.labelled(&s.section);
        }
        let label = plain_text(&s.label);
        // "Power, idle" gives no draw at work.
        if words::holds("idle", &label) {
            fields.retain(|f| f.also.iter().any(|w| words::holds("idle", w)));
        }
        // "Power, maximum" is not what a field of common use asks for.
        let usual =
            |f: &&Field| &*f.unit == "W" && f.also.iter().any(|w| words::holds("typical", w));
        if words::holds("most_power", &label) && fields.iter().any(usual) {
            return false;
        }
        // "Power, read/write: 7.2 W": of the fields that the label names, that of the unit.
        if !fields.is_empty()
            && fields.iter().all(|f| lacks_unit(f, &s.text))
            && let Some(other) = self.of_unit_in(&label, &s.text)
        {
            fields = vec![other];
        }
        let other_weight = words::holds("other_weight", &label);
        if other_weight && fields.iter().any(|f| &*f.unit == "kg") {
            return true;
        }
        let text = super::measures::without_conditions(&s.text);
        let s = &Statement { text: respelled(&text), ..s.clone() };
        let mut any = self.sizes(s) | self.pairs(s, &fields);
        any |= self.mounted(s, &fields);
        any |= self.records(s, &fields);
        let plain: Vec<&Field> = fields
            .iter()
            .copied()
            .filter(|f| !matches!(f.ty, FieldType::Records(_) | FieldType::Counts(_)))
            .filter(|f| !(any && (f.name.contains("radiator") || &*f.unit == "px")))
            .collect();
        match plain.as_slice() {
            [] => {}
            [only] => {
                let own = self.own_clauses(only, s);
                any |= self.put(only, s, &own, true);
            }
            several => any |= self.several(several, s),
        }
        any |= self.link(s, &fields) | self.upright(s, &fields) | self.bracketed(s, &fields);
        any |= self.plugs(s, &fields);
        if self.deep_board(s, &fields) {
            return true;
        }
        any |= self.clauses(s, &fields);
        if fields.is_empty() {
            any |= self.before_noun(s);
        }
        any |= self.other_words(s, &fields);
        any |= self.counted_things(s, &fields);
        any | (s.label.is_empty() && self.of_section(s))
    }

    /// What a line without a label says of a field that the heading above it names: below "Memory"
    /// the rates.
    fn of_section(&mut self, s: &Statement) -> bool {
        let mut fields = self.labelled(&s.section);
        let told = |name: &str| self.read.contains_key(name) || self.torn.iter().any(|t| t == name);
        fields.retain(|f| is_measured(f) && !told(&f.name));
        fields.into_iter().fold(false, |any, f| any | self.put(f, s, &s.text, false))
    }

    pub(super) fn put(&mut self, field: &Field, s: &Statement, text: &str, sole: bool) -> bool {
        if words::has("counted_lists", &field.name) {
            let low = plain_text(text);
            let shared = ["m.2", "pcie", "key "].iter().any(|w| low.contains(w));
            let own = |c: &&str| {
                let low = plain_text(c);
                words::find_word(&low, &field.name).is_some()
                    && !["m.2", "pcie", "22"].iter().any(|w| low.contains(w))
            };
            let pieces = records::pieces(text, &[',', ';', '&']);
            let mut pieces = pieces.into_iter().flat_map(records::joined);
            let text = if shared { pieces.find(own).unwrap_or("") } else { text };
            let (counted, rest) = records::counted(text);
            let first = || figures(text).first().and_then(|f| f.number).unwrap_or(0.0) as u32;
            let count = if rest == low { counted.max(first()) } else { counted };
            if text.is_empty() {
                return false;
            }
            let name = field.name.to_uppercase();
            let ports: Vec<String> = (1..=count.min(24)).map(|n| format!("{name}{n}")).collect();
            return count > 0 && sole && self.keep(&field.name, json!(ports), text, s.line);
        }
        if matches!(field.ty, FieldType::Number)
            && (field.unit.is_empty() || &*field.unit == "slots")
            && sole
            && let Some(count) = plain_count(field, text)
        {
            return self.keep(&field.name, json!(count), text, s.line);
        }
        // "Power: 2x 8-pin" gives no watts.
        let low = plain_text(text);
        let plug = words::first_of("connectors", &low).is_some();
        if &*field.unit == "W" && plug && super::fields::in_unit(text, "W").is_empty() {
            return false;
        }
        // "Adaptive sync: yes"
        let text = match &field.ty {
            FieldType::List(_) | FieldType::Text(_) if says_yes(&low) => s.label.as_str(),
            FieldType::List(_) if is_range(&low) => s.label.as_str(),
            _ => text,
        };
        match ask(self.catalogue, field, &s.label, text, sole) {
            Answer::Said(value) => self.keep(&field.name, value, text, s.line),
            Answer::Silent => false,
            Answer::Unclear(why) => {
                self.notes.push(format!("{}: {why} {} {text})", field.name, by_line(s.line)));
                true
            }
        }
    }
}

/// A text with its units, thousands and marks between clauses as the reader knows them.
fn respelled(text: &str) -> String {
    // "1.6 mm H2O" is one unit.
    let joined = words::pairs_of("units_spelled")
        .fold(text.to_owned(), |text, (spelled, unit)| text.replace(spelled, unit));
    let mut text = joined_thousands(&super::measures::joined_pixels(&joined));
    for mark in [" | ", " · ", " • "] {
        text = text.replace(mark, "; ");
    }
    // `125 / 63.5 / 100 mm` are three sides.
    let number = |side: &str| side.starts_with(|c: char| c.is_ascii_digit());
    let three = text.split(" / ").count() == 3 && text.split(" / ").all(number);
    if three && text.ends_with("mm") && in_units(&text).len() == 1 {
        text = text.replace(" / ", " x ");
    }
    // `DDR5 / 4 slots / 192 GB max`: clauses between strokes.
    let sides = text.split_once(" / ");
    let measured = |t: &str| in_units(t).len() == 1;
    // `650 VA / 390 W` are two, `120 mm / 140 mm` is a choice.
    let unlike = sides.is_some_and(|(a, b)| {
        measured(a) && measured(b) && in_units(a) != in_units(b) && !text.contains("USB")
    });
    let unlike = unlike || words::holds("other_weight", &plain_text(&text));
    if (text.matches(" / ").count() > 1 || unlike) && !text.contains(", ") {
        text = text.replace(" / ", ", ");
    }
    text
}

/// Whether a field is a number with a unit.
pub(super) fn is_measured(field: &Field) -> bool {
    matches!(field.ty, FieldType::Number) && !field.unit.is_empty()
}

/// Whether a field is a number in a unit that a text does not have, while it has others.
fn lacks_unit(field: &Field, text: &str) -> bool {
    is_measured(field)
        && super::fields::in_unit(text, &field.unit).is_empty()
        && !in_units(text).is_empty()
}

/// Whether a text says yes, with what it may in brackets.
fn says_yes(low: &str) -> bool {
    let bare = super::fields::without_brackets(low);
    // "Yes, 48 to 165 Hz"
    let first = bare.split([',', ';']).next().unwrap_or("").trim();
    words::has("yes", bare.trim()) || words::has("yes", first)
}

/// Whether a text is a range and no more: "48-165 Hz" under "Adaptive sync".
fn is_range(low: &str) -> bool {
    low.starts_with(|c: char| c.is_ascii_digit())
        && in_units(low).iter().any(|unit| super::fields::range(low, unit).is_some())
}

/// The units of a text's figures, each first reading only.
fn in_units(text: &str) -> Vec<String> {
    figures(text).into_iter().filter_map(|f| Some(f.readings.into_iter().next()?.0)).collect()
}

/// Whether a list of words holds another.
fn holds_all(list: &Value, other: &Value) -> bool {
    match (list.as_array(), other.as_array()) {
        (Some(list), Some(other)) => {
            list.iter().all(Value::is_string) && other.iter().all(|one| list.contains(one))
        }
        _ => false,
    }
}

/// Whether two values are the same; 2160 is 2160.0.
fn alike(a: &Value, b: &Value) -> bool {
    a == b || a.as_f64().is_some_and(|a| b.as_f64() == Some(a))
}

/// A count without a unit: `1x140`, `7 + 2 vertical`, `2 × 120 mm`, `6 cores`, `none`.
fn plain_count(field: &Field, text: &str) -> Option<u32> {
    let low = plain_text(text);
    if words::has("no", &low) && field.min <= 0.0 && !low.chars().any(|c| c.is_ascii_digit()) {
        return Some(0);
    }
    if &*field.name == "rear_usb" {
        return records::usb_ports(text);
    }
    // "Two, 120 x 120 x 25 mm"
    let first = low.split([' ', ',']).next().unwrap_or("");
    if let Some(count) = words::number(first).filter(|n| *n > 1 && low.len() > first.len()) {
        return (field.min..=field.max).contains(&f64::from(count)).then_some(count);
    }
    let digits: String = low.chars().take_while(char::is_ascii_digit).collect();
    let rest = low.get(digits.len()..)?.trim_start();
    // `2,5` is no count.
    let behind = rest.strip_prefix([',', '.']);
    if behind.is_some_and(|r| r.starts_with(|c: char| c.is_ascii_digit())) {
        return None;
    }
    let plain = rest.is_empty()
        || rest.starts_with(['x', '×', '+', '(', ','])
        || rest.starts_with(char::is_alphabetic);
    let times = rest.starts_with(['x', '×']);
    let unit = !times && figures(&low).first().is_some_and(|f| !f.readings.is_empty());
    let count = digits.parse::<u32>().ok().filter(|_| plain && !unit)?;
    (field.min..=field.max).contains(&f64::from(count)).then_some(count)
}

/// `3.5" / 2.5" bays  2 / 2` is two statements.
fn paired(s: &Statement) -> Vec<Statement> {
    let labels: Vec<&str> = s.label.split('/').map(str::trim).collect();
    let texts: Vec<&str> = s.text.split('/').map(str::trim).collect();
    let numeric = texts.iter().all(|t| t.starts_with(|c: char| c.is_ascii_digit()));
    // "Dimensions (W/H/D)" is one label.
    let within = s.label.contains('(') && s.label.find('(') < s.label.find('/');
    if labels.len() < 2 || labels.len() != texts.len() || !numeric || within {
        return vec![s.clone()];
    }
    let noun = labels
        .last()
        .and_then(|l| l.split(' ').next_back())
        .filter(|w| w.chars().all(char::is_alphabetic))
        .unwrap_or("");
    let named = |label: &str| {
        let noun = if label.contains(char::is_alphabetic) { "" } else { noun };
        format!("{label} {noun}").trim().to_owned()
    };
    let both = labels.iter().zip(&texts);
    both.map(|(label, text)| Statement {
        label: named(label),
        text: (*text).to_owned(),
        ..s.clone()
    })
    .collect()
}

/// How a note names the line that it is of.
fn by_line(line: usize) -> String {
    format!("(line {line}:")
}
