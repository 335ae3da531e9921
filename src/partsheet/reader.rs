//! One part, statement by statement: which field a label means, and what a clause says of it.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::fields::{Answer, ask};
use super::measures::joined_thousands;
use super::pages::{Described, Statement};
use super::{Imported, Read, SheetMap, case_records, records, sockets, words};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::intake::{Fact, Intake, compact_text, figures, plain_text};

/// A part as it is being read.
pub(super) struct Reader<'a> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) kind: &'a Kind,
    map: &'a SheetMap,
    /// Knows what words and figures mean by themselves.
    words: &'a Intake<'a>,
    pub(super) read: BTreeMap<String, Read>,
    /// Fields that were said twice, and not alike.
    torn: Vec<String>,
    mounts: Vec<Map<String, Value>>,
    mounts_from: Option<(String, usize)>,
    unread: Vec<String>,
    notes: Vec<String>,
    /// The size of the fans that were counted.
    pub(super) fan_size: Option<Read>,
}

impl<'a> Reader<'a> {
    /// A reader of one part of a kind.
    pub(super) fn new(
        catalogue: &'a Catalogue,
        kind: &'a Kind,
        map: &'a SheetMap,
        words: &'a Intake<'a>,
    ) -> Self {
        Self {
            catalogue,
            kind,
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
        let (maker, name, rest) = self.headed(described);
        self.headline(&rest, described);
        if let (Some(size), true) = (self.fan_size.take(), self.read.contains_key("radiator_mm")) {
            self.read.entry("radiator_fan_mm".to_owned()).or_insert(size);
        }
        if !maker.is_empty() {
            self.keep("maker", json!(maker), &maker, described.line);
        }
        let name =
            self.read.remove("name").map_or(name, |r| r.value.as_str().unwrap_or("").to_owned());
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

    /// What the page's head says beside the part's name, where no label says it.
    fn headline(&mut self, rest: &str, described: &Described) {
        for (field, fact) in self.words.said_of(self.kind, rest) {
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

    pub(super) fn keep(&mut self, field: &str, value: Value, from: &str, line: usize) -> bool {
        if self.torn.iter().any(|t| t == field) {
            return true;
        }
        match self.read.get(field) {
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
        self.claiming(&low)
    }

    /// The field whose longest label a text holds.
    pub(super) fn claimed(&self, low: &str) -> Option<&'a Field> {
        self.claiming(low).into_iter().next()
    }

    /// The fields that share the longest label which a text holds.
    fn claiming(&self, low: &str) -> Vec<&'a Field> {
        let low = decimal_points(low);
        let mut best: (String, Vec<&Field>) = (String::new(), Vec::new());
        for field in &self.kind.fields {
            for word in field.also.iter().filter(|w| w.chars().count() > 2) {
                let word = decimal_points(&word.to_lowercase());
                if word.len() < best.0.len() || words::find_word(&low, &word).is_none() {
                    continue;
                }
                if word.len() > best.0.len() {
                    best = (word, vec![field]);
                } else if word == best.0 {
                    best.1.push(field);
                }
            }
        }
        best.1
    }

    /// Whether a label is that of a field.
    pub(super) fn knows_label(&self, label: &str) -> bool {
        !self.labelled(label).is_empty()
    }

    fn statement(&mut self, s: &Statement) -> bool {
        if s.text.is_empty() {
            return true;
        }
        let fields = self.labelled(&s.label);
        let s = &Statement { text: joined_thousands(&s.text), ..s.clone() };
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
        any |= self.link(s, &fields) | self.upright(s, &fields) | self.bracketed(s);
        any |= self.clauses(s, &fields);
        any
    }

    pub(super) fn put(&mut self, field: &Field, s: &Statement, text: &str, sole: bool) -> bool {
        if &*field.name == "sata" {
            let low = plain_text(text);
            let shared = ["m.2", "pcie", "key "].iter().any(|w| low.contains(w));
            let own = |c: &&str| {
                let low = plain_text(c);
                words::find_word(&low, "sata").is_some()
                    && !["m.2", "pcie", "22"].iter().any(|w| low.contains(w))
            };
            let pieces = records::pieces(text, &[',', ';']);
            let text = if shared { pieces.into_iter().find(own).unwrap_or("") } else { text };
            let count = records::counted(text)
                .0
                .max(figures(text).first().and_then(|f| f.number).unwrap_or(0.0) as u32);
            if text.is_empty() {
                return false;
            }
            let ports: Vec<String> = (1..=count.min(24)).map(|n| format!("SATA{n}")).collect();
            return count > 0 && sole && self.keep("sata", json!(ports), text, s.line);
        }
        if matches!(field.ty, FieldType::Number)
            && (field.unit.is_empty() || &*field.unit == "slots")
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
                "m2" => sockets::m2(&s.text),
                "slots" => sockets::slots(&s.text),
                "video_out" | "inputs" => {
                    let rear = fields.iter().any(|f| &*f.name == "rear_usb");
                    records::video(&s.text, rear)
                }
                "fan_headers" => records::fan_headers(&s.text),
                "lighting_headers" => records::lighting_headers(&s.text),
                "headers" => case_records::usb_leads(&s.text, false),
                "front_leads" => case_records::usb_leads(&s.text, true),
                "leads" => records::leads(&s.text),
                "processors" => sockets::families(&s.text),
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
        // "Front: 2 x 120 mm fans": the label is the place and no more.
        let placed = words::first_of("mounts", &low).is_some()
            && !low.contains(' ')
            && !plain_text(&s.text).contains("usb");
        let about = about || placed;
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
}

/// A decimal comma as a point.
fn decimal_points(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit =
        |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(char::is_ascii_digit);
    let point = |(at, c): (usize, &char)| match c {
        ',' if digit(at.checked_sub(1)) && digit(Some(at + 1)) => '.',
        c => *c,
    };
    chars.iter().enumerate().map(point).collect()
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
