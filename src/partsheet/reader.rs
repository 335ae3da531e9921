//! One part, statement by statement: which field a label means, and what a clause says of it.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::fields::{Answer, ask};
use super::pages::{Described, Statement};
use super::{Imported, Read, SheetMap, case_records, records, words};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::intake::{compact_text, figures, plain_text};

/// A part as it is being read.
pub(super) struct Reader<'a> {
    catalogue: &'a Catalogue,
    kind: &'a Kind,
    map: &'a SheetMap,
    read: BTreeMap<String, Read>,
    /// Fields that were said twice, and not alike.
    torn: Vec<String>,
    mounts: Vec<Map<String, Value>>,
    mounts_from: Option<(String, usize)>,
    unread: Vec<String>,
    notes: Vec<String>,
}

impl<'a> Reader<'a> {
    /// A reader of one part of a kind.
    pub(super) fn new(catalogue: &'a Catalogue, kind: &'a Kind, map: &'a SheetMap) -> Self {
        Self {
            catalogue,
            kind,
            map,
            read: BTreeMap::new(),
            torn: Vec::new(),
            mounts: Vec::new(),
            mounts_from: None,
            unread: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// Reads all that is said of the part.
    pub(super) fn part(mut self, described: &Described) -> Imported {
        for statement in &described.statements {
            for one in paired(statement) {
                if !self.statement(&one) && !words::has("nothing", &one.text) {
                    self.unread.push(format!("{} {}", one.label, one.text).trim().to_owned());
                }
            }
        }
        if let Some((from, line)) = self.mounts_from.take() {
            let value = Value::Array(
                std::mem::take(&mut self.mounts).into_iter().map(Value::Object).collect(),
            );
            self.keep("mounts", value, &from, line);
        }
        if !described.maker.is_empty() {
            self.keep("maker", json!(described.maker), &described.maker, described.line);
        }
        let name = self
            .read
            .remove("name")
            .map_or_else(|| described.name.clone(), |r| r.value.as_str().unwrap_or("").to_owned());
        let fields: Vec<(String, Read)> = self
            .kind
            .fields
            .iter()
            .filter_map(|f| self.read.remove(&*f.name).map(|r| (f.name.to_string(), r)))
            .collect();
        let missing = self
            .kind
            .fields
            .iter()
            .filter(|f| {
                &*f.name != "name"
                    && f.absent.is_none()
                    && !f.optional
                    && fields.iter().all(|(n, _)| *n != *f.name)
            })
            .map(|f| f.name.to_string())
            .collect();
        Imported {
            id: format!("{}/{}", self.kind.name, slug(&name)),
            name,
            fields,
            unread: self.unread,
            notes: self.notes,
            missing,
        }
    }

    fn keep(&mut self, field: &str, value: Value, from: &str, line: usize) -> bool {
        if self.torn.iter().any(|t| t == field) {
            return true;
        }
        match self.read.get(field) {
            Some(held) if held.value != value => {
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

    /// The fields that a label names.
    fn labelled(&self, label: &str) -> Vec<&'a Field> {
        let bare = label.split(['(', '[']).next().unwrap_or(label).trim();
        let bare = bare
            .rsplit_once('/')
            .filter(|(_, unit)| !crate::intake::units_of(unit).is_empty())
            .map_or(bare, |(l, _)| l);
        let (whole, key) = (compact_text(label), compact_text(bare));
        if let Some(field) = self.map.labels.get(&whole).or_else(|| self.map.labels.get(&key)) {
            return self.kind.field(field).map(|(_, f)| f).into_iter().collect();
        }
        let own = |f: &&Field| {
            [&*f.name].into_iter().chain(f.also.iter().map(|a| &**a)).any(|w| {
                let w = compact_text(w);
                w == key || w == whole
            })
        };
        let exact: Vec<&Field> = self.kind.fields.iter().filter(own).collect();
        if !exact.is_empty() {
            return exact;
        }
        let low = plain_text(bare);
        self.claimed(&low).into_iter().collect()
    }

    /// The field whose longest label a text holds.
    fn claimed(&self, low: &str) -> Option<&'a Field> {
        let mut best: Option<(usize, &Field)> = None;
        for field in &self.kind.fields {
            for word in field.also.iter().filter(|w| w.chars().count() > 2) {
                if words::find_word(low, &word.to_lowercase()).is_some()
                    && best.is_none_or(|(n, _)| word.len() > n)
                {
                    best = Some((word.len(), field));
                }
            }
        }
        best.map(|(_, f)| f)
    }

    fn statement(&mut self, s: &Statement) -> bool {
        if s.text.is_empty() {
            return true;
        }
        let fields = self.labelled(&s.label);
        let mut any = self.sizes(s);
        any |= self.mounted(s, &fields);
        any |= self.records(s, &fields);
        let plain: Vec<&Field> = fields
            .iter()
            .copied()
            .filter(|f| !matches!(f.ty, FieldType::Records(_) | FieldType::Counts(_)))
            .collect();
        match plain.as_slice() {
            [] => {}
            [only] => any |= self.put(only, s, &s.text, true),
            several => any |= self.several(several, s),
        }
        // `PCIe 4.0 x16` under one label gives the lanes too.
        if fields.iter().any(|f| &*f.name == "gen")
            && self.kind.field("lanes").is_some()
            && let [wired] = records::lanes(&plain_text(&s.text)).as_slice()
        {
            any |= self.keep("lanes", json!(wired), &s.text, s.line);
        }
        if plain.len() < 2 {
            any |= self.clauses(s, &fields);
        }
        any
    }

    fn put(&mut self, field: &Field, s: &Statement, text: &str, sole: bool) -> bool {
        if &*field.name == "sata" {
            let count = records::counted(text)
                .0
                .max(figures(text).first().and_then(|f| f.number).unwrap_or(0.0) as u32);
            let ports: Vec<String> = (1..=count.min(24)).map(|n| format!("SATA{n}")).collect();
            return count > 0 && sole && self.keep("sata", json!(ports), text, s.line);
        }
        if matches!(field.ty, FieldType::Number)
            && field.unit.is_empty()
            && sole
            && let Some(count) = plain_count(field, text)
        {
            return self.keep(&field.name, json!(count), text, s.line);
        }
        match ask(self.catalogue, field, &s.label, text, sole) {
            Answer::Said(value) => self.keep(&field.name, value, text, s.line),
            Answer::Silent => false,
            Answer::Unclear(why) => {
                self.notes.push(format!("{}: {why} (line {}: {})", field.name, s.line, text));
                true
            }
        }
    }

    /// A label that several fields share: each clause goes to the field that it names, or whose
    /// unit or words it has.
    fn several(&mut self, fields: &[&'a Field], s: &Statement) -> bool {
        let mut any = false;
        for clause in records::pieces(&s.text, &[',', ';']) {
            let low = plain_text(clause);
            let claimed = self.claimed(&low).filter(|f| {
                !f.also.iter().any(|w| compact_text(w) == compact_text(&s.label))
                    || fields.len() == 1
            });
            if let Some(field) = claimed
                && self.put(field, s, clause, true)
            {
                any = true;
                continue;
            }
            let mut units: Vec<&str> = Vec::new();
            for field in fields {
                if let FieldType::Number = field.ty {
                    if field.unit.is_empty() {
                        let (count, rest) = records::counted(clause);
                        let named = field
                            .also
                            .iter()
                            .any(|w| words::find_word(&rest, &w.to_lowercase()).is_some());
                        let counts =
                            clause.trim_start().starts_with(|c: char| c.is_ascii_digit()) && named;
                        if counts && (field.min..=field.max).contains(&f64::from(count)) {
                            any |= self.keep(&field.name, json!(count), clause, s.line);
                        } else if !field.spelled.is_empty() {
                            any |= self.put(field, s, clause, false);
                        }
                        continue;
                    }
                    if units.contains(&&*field.unit) {
                        continue;
                    }
                }
                if self.put(field, s, clause, false) {
                    any = true;
                    units.push(&field.unit);
                }
            }
        }
        any
    }

    /// Clauses that name a field themselves: `+12 V 45.8 A; +5 V 20 A`.
    fn clauses(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let pieces = records::pieces(&s.text, &[',', ';']);
        if pieces.len() < 2 && !fields.is_empty() {
            return false;
        }
        let mut any = false;
        for clause in pieces {
            let low = plain_text(clause);
            let Some(field) = self.claimed(&low) else { continue };
            let plain =
                matches!(field.ty, FieldType::Number | FieldType::Flag) && !field.unit.is_empty();
            if plain
                && fields.iter().all(|f| f.name != field.name)
                && !self.read.contains_key(&*field.name)
            {
                any |= self.put(field, s, clause, false);
            }
        }
        any
    }

    /// Records and counts, by the field that the label names.
    fn records(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let mut any = false;
        let has = |name: &str| {
            self.kind.field(name).is_some_and(|(_, f)| matches!(f.ty, FieldType::Records(_)))
        };
        let mut wanted: Vec<&str> = fields
            .iter()
            .filter(|f| matches!(f.ty, FieldType::Records(_) | FieldType::Counts(_)))
            .map(|f| &*f.name)
            .collect();
        if fields.iter().any(|f| &*f.name == "rear_usb") && has("video_out") {
            wanted.push("video_out");
        }
        if fields.iter().any(|f| &*f.name == "socket") && has("processors") {
            wanted.push("processors");
        }
        for name in wanted {
            let list = match name {
                "m2" => records::m2(&s.text),
                "slots" => records::slots(&s.text),
                "video_out" | "inputs" => records::video(&s.text),
                "fan_headers" => records::fan_headers(&s.text),
                "lighting_headers" => records::lighting_headers(&s.text),
                "headers" => case_records::usb_leads(&s.text, false),
                "front_leads" => case_records::usb_leads(&s.text, true),
                "leads" => records::leads(&s.text),
                "processors" => records::families(inner(&s.text)),
                "power_in" => match records::connectors(&s.text) {
                    Some(value) => {
                        any |= self.keep("power_in", value, &s.text, s.line);
                        continue;
                    }
                    None => Vec::new(),
                },
                _ => Vec::new(),
            };
            if !list.is_empty() {
                any |= self.grow(name, list, s);
            }
        }
        any
    }

    /// Records of one field may stand on several lines.
    fn grow(&mut self, name: &str, list: Vec<Value>, s: &Statement) -> bool {
        match self.read.get_mut(name) {
            Some(held) => {
                if let (Value::Array(all), true) = (&mut held.value, held.line != s.line) {
                    all.extend(list);
                }
                true
            }
            None => self.keep(name, Value::Array(list), &s.text, s.line),
        }
    }

    fn mounted(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let has = self.kind.field("mounts").is_some();
        let low = plain_text(&s.label);
        let about =
            ["fan", "lüfter", "ventil", "radiator", "radiateur", "filter", "filtre", "cooling"]
                .iter()
                .any(|w| low.contains(w));
        let other = fields.iter().any(|f| &*f.name != "mounts");
        if !has || other || !(about || fields.iter().any(|f| &*f.name == "mounts")) {
            return false;
        }
        let any = case_records::mounts(&mut self.mounts, &s.label, &s.text);
        if any && self.mounts_from.is_none() {
            self.mounts_from = Some((s.text.clone(), s.line));
        }
        any
    }

    /// `215 × 470 × 440 mm` with its letters in the label or the text.
    fn sizes(&mut self, s: &Statement) -> bool {
        let bare = plain_text(s.label.split(['(', '[']).next().unwrap_or("").trim());
        let whole = plain_text(&s.label);
        if !(words::has("sizes", &bare) || words::has("sizes", &whole)) {
            return false;
        }
        let clause = records::pieces(&s.text, &[',', ';'])
            .into_iter()
            .find(|c| c.matches(['x', '×', 'X']).count() >= 1 && figures(c).len() >= 2);
        let Some(clause) = clause else { return false };
        let unit = if plain_text(clause).contains("cm") { 10.0 } else { 1.0 };
        let numbers: Vec<f64> = clause
            .replace(['x', '×', 'X'], " ")
            .split(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')))
            .filter_map(|n| n.replace(',', ".").trim_matches('.').parse::<f64>().ok())
            .map(|n| n * unit)
            .collect();
        let axes = axes(&s.label).or_else(|| axes(clause)).unwrap_or_else(|| match numbers.len() {
            2 => vec!["width", "depth"],
            _ => Vec::new(),
        });
        let mut any = false;
        if axes.len() == numbers.len() {
            for (axis, mm) in axes.iter().zip(&numbers) {
                let name = [format!("{axis}_mm"), "length_mm".to_owned()].into_iter().find(|n| {
                    self.kind.field(n).is_some() && (*axis == "depth" || n.starts_with(axis))
                });
                if let Some((_, field)) = name.as_deref().and_then(|n| self.kind.field(n))
                    && (field.min..=field.max).contains(mm)
                {
                    any |= self.keep(&field.name, json!(mm), clause, s.line);
                }
            }
        }
        any
    }
}

/// `W × H × D`, `B x H x T`: which number is which.
fn axes(text: &str) -> Option<Vec<&'static str>> {
    let low = plain_text(text);
    let inner = low.split_once(['(', '[']).map_or(low.as_str(), |(_, rest)| rest);
    let french = inner.contains('p') && inner.contains('l');
    let letters: Vec<&'static str> = inner
        .split(|c: char| !c.is_alphabetic() || c == '×')
        .filter_map(|w| match w {
            "w" | "b" | "width" | "breite" | "largeur" => Some("width"),
            "h" | "height" | "höhe" | "hauteur" => Some("height"),
            "l" if french => Some("width"),
            "d" | "t" | "p" | "l" | "depth" | "tiefe" | "profondeur" | "länge" | "length"
            | "longueur" => Some("depth"),
            _ => None,
        })
        .collect();
    (letters.len() >= 2).then_some(letters)
}

/// What stands in brackets, or all of it.
fn inner(text: &str) -> &str {
    text.split_once('(').and_then(|(_, rest)| rest.split_once(')')).map_or(text, |(inner, _)| inner)
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
    let digits: String = low.chars().take_while(char::is_ascii_digit).collect();
    let rest = low.get(digits.len()..)?.trim_start();
    let plain = rest.is_empty()
        || rest.starts_with(['x', '×', '+', '(', ','])
        || rest.starts_with(char::is_alphabetic);
    let unit = figures(&low).first().is_some_and(|f| !f.readings.is_empty());
    let count = digits.parse::<u32>().ok().filter(|_| plain && !unit)?;
    (field.min..=field.max).contains(&f64::from(count)).then_some(count)
}

/// `3.5" / 2.5" bays  2 / 2` is two statements.
fn paired(s: &Statement) -> Vec<Statement> {
    let labels: Vec<&str> = s.label.split('/').map(str::trim).collect();
    let texts: Vec<&str> = s.text.split('/').map(str::trim).collect();
    let numeric = texts.iter().all(|t| t.starts_with(|c: char| c.is_ascii_digit()));
    if labels.len() < 2 || labels.len() != texts.len() || !numeric {
        return vec![s.clone()];
    }
    let noun = labels
        .last()
        .and_then(|l| l.split(' ').next_back())
        .filter(|w| w.chars().all(char::is_alphabetic))
        .unwrap_or("");
    let named = |label: &&str| {
        if label.contains(char::is_alphabetic) {
            (*label).to_owned()
        } else {
            format!("{label} {noun}")
        }
    };
    labels
        .iter()
        .zip(&texts)
        .map(|(label, text)| Statement {
            label: named(label).trim().to_owned(),
            text: (*text).to_owned(),
            line: s.line,
        })
        .collect()
}

/// A name as an id: lower case, digits, hyphens.
fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in crate::intake::folded_text(name).chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c);
        } else if !out.ends_with('-') && !out.is_empty() {
            out.push('-');
        }
    }
    let out = out.trim_matches('-');
    let short: String = out.chars().take(60).collect();
    if short.is_empty() { "part".to_owned() } else { short }
}
