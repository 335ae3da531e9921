//! Clauses of a statement: those of a label that several fields share, those that name a field
//! themselves, words in brackets.

use serde_json::{Value, json};

use super::fields::{in_unit, range, superlative, without_brackets};
use super::pages::Statement;
use super::reader::Reader;
use super::told::{is_of_label, opened, sentence_with, sentences};
use super::{records, words};
use crate::catalogue::kinds::{Field, FieldType, Words};
use crate::intake::{compact_text, plain_text};

impl<'a> Reader<'a> {
    /// A label that several fields share: each clause goes to the field that it names, or whose
    /// unit or words it has.
    pub(super) fn several(&mut self, fields: &[&'a Field], s: &Statement) -> bool {
        let mut any = false;
        let mut units: Vec<&str> = Vec::new();
        // Fields that have read the whole text: another clause tells them no more.
        let mut whole: Vec<&str> = Vec::new();
        let pieces = records::pieces(&s.text, &[',', ';']);
        // Of "3200 MHz, 4000 MHz by profile" the fastest.
        let most = |f: &&Field| matches!(f.ty, FieldType::Number) && superlative(f);
        // "Power supply: ATX, up to 160 mm long" is of the power supply.
        let longest: Vec<&Field> = fields.iter().copied().filter(most).collect();
        let owns: Vec<Option<String>> =
            fields.iter().map(|f| most(f).then(|| self.own_clauses(f, s))).collect();
        for clause in records::clauses(&s.text) {
            // What is in brackets gives no second number in a unit that stands before them.
            if pieces.iter().any(|p| p.starts_with(clause)) {
                units.clear();
            }
            let low = plain_text(clause);
            let claimed = self.claimed(&low).filter(|f| {
                let own = f.also.iter().any(|w| compact_text(w) == compact_text(&s.label));
                (!own || fields.len() == 1) && !is_of_label(f, s, &longest)
            });
            let taken = claimed.is_some_and(|field| self.put(field, s, clause, true));
            any |= taken;
            for (field, own) in fields.iter().zip(&owns) {
                let number = matches!(field.ty, FieldType::Number);
                // A clause that names its field gives no other number; it may give words.
                let number_only = number && field.spelled.is_empty();
                if taken && (number_only || claimed.is_some_and(|c| c.name == field.name)) {
                    continue;
                }
                if number && is_count(field) && self.count_of(field, s, clause) {
                    any = true;
                    continue;
                }
                if number && field.unit.is_empty() {
                    continue;
                }
                let bound = field.name.contains("min") || field.name.contains("max");
                let ranged = bound && range(clause, &field.unit).is_some();
                if number && units.contains(&&*field.unit) && !ranged {
                    continue;
                }
                // "SFX, SFX-L" is one list.
                let listed = matches!(field.ty, FieldType::List(_));
                let clause = if listed { s.text.as_str() } else { clause };
                let again = whole.contains(&&*field.name);
                if (listed || own.is_some()) && !again {
                    whole.push(&field.name);
                }
                if again || self.put(field, s, own.as_deref().unwrap_or(clause), false) {
                    any = true;
                    // A number that is out of one field's bounds may be the next one's.
                    units.extend(self.read.contains_key(&*field.name).then_some(&*field.unit));
                }
            }
        }
        any
    }

    /// "Series Dotterel 6": the name behind the label of a field that takes any.
    fn named_after(&mut self, field: &Field, s: &Statement, clause: &str) -> bool {
        let low = clause.to_lowercase();
        let labels = field.also.iter().map(|w| format!("{} ", w.to_lowercase()));
        let label = labels.filter(|w| low.starts_with(w.as_str())).max_by_key(String::len);
        let behind = label.and_then(|w| clause.get(w.len()..)).map_or("", str::trim);
        let name = if behind.is_empty() { code_before(field, clause) } else { behind };
        let proper = name.starts_with(char::is_uppercase) && name.split(' ').count() < 4;
        let own = !matches!(&*field.name, "name" | "maker");
        own && proper && !self.read.contains_key(&*field.name) && self.put(field, s, name, true)
    }

    /// How many a clause counts of what a field's labels name: by the number at once before the
    /// name, or at the clause's start with no other between ("10 cores / 20 threads" are ten
    /// cores).
    pub(super) fn count_in(&self, field: &Field, clause: &str) -> Option<u32> {
        let low = plain_text(clause);
        let labels: Vec<String> = field.also.iter().map(|w| w.to_lowercase()).collect();
        let held = labels.iter().filter_map(|w| Some((words::find_word(&low, w)?, w.len())));
        let (at, _) = held.max_by_key(|(at, len)| (*len, std::cmp::Reverse(*at)))?;
        let before = low.get(..at)?.trim_end();
        let last = before.rsplit([' ', '(']).next().unwrap_or("");
        let digits = last.trim_end_matches(['x', '×']);
        let none = || words::has("no", last).then_some(0);
        if let Some(count) = digits.parse().ok().or_else(|| words::number(last)).or_else(none) {
            return Some(count);
        }
        let (count, rest) = records::counted(before);
        // A size before the noun counts nothing: "two 140 mm PWM fans".
        let other = crate::intake::figures(&rest).iter().any(|f| f.readings.is_empty());
        // Nor do the two of "dual channel memory" count memory.
        let numbers = self.kind.fields.iter().filter(|f| matches!(f.ty, FieldType::Number));
        let phrases = numbers.flat_map(|f| &f.spelled).flat_map(|(_, all)| all);
        let other = other || phrases.into_iter().any(|w| words::find_word(before, w).is_some());
        (rest != before && !other).then_some(count)
    }

    /// A number without a unit in a clause: `2 DIMM slots`, `two channels`, `dual channel`.
    pub(super) fn count_of(&mut self, field: &Field, s: &Statement, clause: &str) -> bool {
        let Some(count) = self.count_in(field, clause) else {
            return !field.spelled.is_empty() && self.put(field, s, clause, false);
        };
        let within = (field.min..=field.max).contains(&f64::from(count));
        within && self.keep(&field.name, json!(count), clause, s.line)
    }

    /// A text cut into clauses.
    fn pieces<'t>(&self, text: &'t str, told: bool) -> Vec<&'t str> {
        let pieces = with_tails(records::clauses(text));
        let pieces = pieces.into_iter().flat_map(|p| if told { opened(p) } else { vec![p] });
        pieces.flat_map(|p| self.joined(p, told)).collect()
    }

    /// Clauses that name a field themselves: `+12 V 45.8 A; +5 V 20 A`.
    pub(super) fn clauses(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let text = if s.label.is_empty() { sentences(&s.text) } else { s.text.clone() };
        let told = s.label.is_empty();
        let pieces = self.pieces(&text, told);
        let needs = || words::holds("flag_verbs", &plain_text(&text));
        if pieces.len() < 2 && !fields.is_empty() && !needs() {
            return false;
        }
        let mut any = false;
        // "8-phase VRM, up to 170 W": the clause behind gives what the one before names.
        let mut named: Option<&Field> = None;
        for clause in pieces {
            let low = plain_text(clause);
            let own = self.claimed_by(clause).filter(|own| !is_of_label(own, s, fields));
            any |= self.by_units(s, clause, own, fields);
            any |= told && self.spoken(s, clause, &low);
            let waits = |f: &&Field| {
                !f.unit.is_empty()
                    && (words::holds("up_to", &low) || super::fields::figures_only(clause))
                    && !in_unit(clause, &f.unit).is_empty()
            };
            let Some(field) = own.or(named.take().filter(waits)) else { continue };
            if &*field.unit == "W" && words::holds("other_power", &low) {
                continue;
            }
            let given = field.unit.is_empty() || !in_unit(clause, &field.unit).is_empty();
            named = own.filter(|_| !given && fields.iter().all(|f| f.name != field.name));
            let other = fields.iter().all(|f| f.name != field.name);
            if matches!(field.ty, FieldType::Number) && is_count(field) {
                let bracketed = s.text.contains(&format!("({clause})"));
                let most = words::of("up_to").find_map(|w| low.strip_prefix(w));
                let plain = s.label.is_empty() || !field.unit.is_empty();
                let counts = other && (most.is_some() || bracketed || plain);
                let done = counts && self.count_of(field, s, most.map_or(clause, str::trim));
                any |= done;
                if done || field.unit.is_empty() {
                    continue;
                }
            }
            if field.is_free_text() && fields.is_empty() {
                any |= self.named_after(field, s, clause);
            } else if other
                && !self.read.contains_key(&*field.name)
                && says_itself(field, clause, &low, fields)
            {
                // "Fits: ATX, Micro-ATX and Mini-ITX boards": the noun stands behind the last.
                let listed = matches!(field.ty, FieldType::List(_));
                let whole = if told { sentence_with(&text, clause) } else { s.text.as_str() };
                any |= self.with_twins(field, s, if listed { whole } else { clause }, clause);
            }
        }
        any
    }

    /// The value of a field as a text gives it, and of the field for the range's other end, which
    /// the clause names too: "Input 200-240 V", "Adaptive-Sync (48 to 165 Hz)".
    fn with_twins(&mut self, field: &Field, s: &Statement, text: &str, clause: &str) -> bool {
        let mut any = self.put(field, s, text, matches!(field.ty, FieldType::Flag));
        let bound = |f: &Field| f.name.contains("min") || f.name.contains("max");
        let shared = |f: &&Field| {
            f.name != field.name && (f.unit == field.unit || field.unit.is_empty() && bound(f))
        };
        let twins = self.claiming(&plain_text(clause)).into_iter().filter(shared);
        for twin in twins.filter(|f| range(text, &f.unit).is_some()) {
            any |= self.put(twin, s, text, false);
        }
        any
    }

    /// What a statement says under a field's label, but for the clauses that name another field of
    /// the same unit.
    pub(super) fn own_clauses(&self, field: &Field, s: &Statement) -> String {
        if !matches!(field.ty, FieldType::Number) || field.unit.is_empty() {
            return s.text.clone();
        }
        // "88.5 CFM (150 m³/h)"
        let inside = super::measures::bracketed(&s.text);
        if super::fields::same_in_own_unit(&s.text, &inside, &field.unit).is_some() {
            return inside;
        }
        // "Heatsink: yes, height 8 mm": the one figure is that of the label's own.
        let sole = in_unit(&s.text, &field.unit).len() == 1;
        let other = |clause: &&str| {
            let claimed = self.claimed(&plain_text(clause)).filter(|_| !sole);
            let low = plain_text(clause);
            claimed.is_some_and(|f| f.name != field.name && f.unit == field.unit)
                || &*field.unit == "kg" && words::holds("other_weight", &low)
        };
        // "5.3 W operating, 3.4 W idle": the draw is the first.
        let idle = |clause: &&str| {
            let low = plain_text(clause);
            words::holds("idle", &low) && !field.also.iter().any(|w| words::holds("idle", w))
        };
        // What is in brackets counts where nothing before them does.
        let outside = without_brackets(&s.text);
        // "110 W (sustained), 145 W (short peak)": the brackets say which is which.
        let which = records::clauses(&s.text).iter().filter(|c| c.ends_with(')')).count() > 1;
        let told = !which && !superlative(field) && !in_unit(&outside, &field.unit).is_empty();
        let text = if told { &outside } else { &s.text };
        let kept: Vec<&str> =
            records::clauses(text).into_iter().filter(|c| !other(c) && !idle(c)).collect();
        // Of "38 W typical, 95 W max." a screen's draw is the first, a part's at full load the
        // last.
        let wanted = words::wanted(field);
        let says = |c: &&str| wanted.is_some_and(|set| words::holds(set, &plain_text(c)));
        let kept: Vec<&str> = match kept.iter().copied().find(says) {
            Some(clause) if kept.len() > 1 => vec![clause],
            _ => kept,
        };
        let all = records::clauses(&s.text).len();
        if kept.is_empty() || kept.len() == all { s.text.clone() } else { kept.join("; ") }
    }

    /// `7 + 2 vertical`: the openings for a card that stands upright.
    pub(super) fn upright(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let named = fields.iter().any(|f| &*f.name == "slots");
        if !named || self.kind.field("upright_slots").is_none() {
            return false;
        }
        let low = plain_text(&s.text);
        let behind = ["+", "plus "].iter().find_map(|mark| low.split_once(mark));
        let behind = behind.map_or("", |(_, rest)| rest.trim_start());
        let digits: String = behind.chars().take_while(char::is_ascii_digit).collect();
        let count = digits.parse::<u32>().ok().filter(|_| behind.contains("verti"));
        count.is_some_and(|n| self.keep("upright_slots", json!(n), &s.text, s.line))
    }

    /// `140 mm (SFX / SFX-L)`: words in brackets that only one field has.
    pub(super) fn bracketed(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        // "48 to 165 Hz, Adaptive-Sync"
        let listed = fields.iter().any(|f| matches!(f.ty, FieldType::List(_)));
        let pieces = records::pieces(&s.text, &[',', ';']);
        let names = |p: &&str| {
            let short = !listed && !p.trim().contains(' ') && !fields.is_empty();
            let list = |f: &Field| matches!(f.ty, FieldType::List(_));
            short && self.claimed(&plain_text(p)).is_some_and(list)
        };
        let named = pieces.into_iter().filter(names).map(str::to_owned);
        let inner = [&s.text, &s.label].map(|t| super::measures::bracketed(t)).into_iter();
        let all: Vec<String> = inner.chain(named).filter(|t| !t.is_empty()).collect();
        all.iter().any(|inner| self.words_of_one(inner, s, fields))
    }

    fn words_of_one(&mut self, inner: &str, s: &Statement, fields: &[&Field]) -> bool {
        let low = plain_text(inner);
        let mut found: Vec<(&str, Value)> = Vec::new();
        for field in &self.kind.fields {
            let FieldType::List(allowed) = &field.ty else { continue };
            let pieces = low.split([',', '/']).map(str::trim);
            let values: Vec<Vec<String>> = pieces
                .map(|p| super::fields::values_in(self.catalogue, field, allowed, p))
                .collect();
            let words = low.split_whitespace().filter(|w| *w != "/").count();
            if words == values.len() && values.iter().all(|v| v.len() == 1) {
                let mut all = values.concat();
                all.sort();
                found.push((&field.name, json!(all)));
            }
        }
        // "Power supplies (ATX)": of several the one that the label names.
        if found.len() > 1 {
            let about = |name: &str| name.split('_').next().unwrap_or("").to_owned();
            found.retain(|(name, _)| fields.iter().any(|f| about(&f.name) == about(name)));
        }
        match found.as_slice() {
            [(field, value)] if !self.read.contains_key(*field) => {
                self.keep(field, value.clone(), inner, s.line)
            }
            _ => false,
        }
    }

    /// `E-ATX (up to 280 mm)`: how deep a board of the case may be.
    pub(super) fn deep_board(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let named = fields.iter().any(|f| &*f.name == "board_forms");
        let Some((_, deepest)) = self.kind.field("board_max_depth_mm").filter(|_| named) else {
            return false;
        };
        match super::fields::in_unit(&s.text, "mm").as_slice() {
            [mm] if (deepest.min..=deepest.max).contains(mm) => {
                self.keep("board_max_depth_mm", json!(mm), &s.text, s.line)
            }
            _ => false,
        }
    }

    /// `PCIe 4.0 x16` gives the generation and the lanes.
    pub(super) fn link(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let named = |name: &str| fields.iter().any(|f| &*f.name == name);
        let (gen_field, lanes_field) = (self.kind.field("gen"), self.kind.field("lanes"));
        // "PCIe: 5.0, 24 lanes": the label says of which bus.
        let label = plain_text(&s.label);
        let low = match plain_text(&s.text) {
            text if label.contains("pci") && !text.contains("pci") => format!("pcie {text}"),
            text => text,
        };
        let bus = low.contains("pci") || low.contains("nvme");
        let typed = named("interface") || named("media");
        let linked = named("gen") || bus && (typed || s.label.is_empty());
        if gen_field.is_none() || lanes_field.is_none() || !linked {
            return false;
        }
        let mut any = false;
        let other = !self.read.contains_key("gen");
        if let Some(generation) = records::generation(&low).filter(|_| other) {
            any |= self.keep("gen", generation, &s.text, s.line);
        }
        // "x16 (electrically x8)": as many as are wired.
        let lanes = records::lanes(&low);
        let told = words::holds("wired", &low) || words::holds("mechanical", &low);
        let fewest = lanes.iter().min().filter(|_| told);
        let wired = match lanes.as_slice() {
            [only] => Some(only),
            _ => fewest,
        };
        if let Some(wired) = wired {
            any |= self.keep("lanes", json!(wired), &s.text, s.line);
        }
        any
    }
}

/// "Built on the Q780 chipset": the code at once before a field's label.
fn code_before<'t>(field: &Field, clause: &'t str) -> &'t str {
    let low = plain_text(clause);
    let at = |w: &std::sync::Arc<str>| words::find_word(&low, &w.to_lowercase());
    let before = field.also.iter().filter_map(at).min().and_then(|at| clause.get(..at));
    let word = before.and_then(|t| t.trim_end_matches([' ', '-']).rsplit(' ').next()).unwrap_or("");
    let code = word.starts_with(char::is_uppercase) && word.contains(|c: char| c.is_ascii_digit());
    if code { word } else { "" }
}

/// Whether a field's number counts things.
pub(super) fn is_count(field: &Field) -> bool {
    field.unit.is_empty() || words::has("counted_units", &field.unit)
}

/// Clauses, and what stands behind "with" in each by itself.
fn with_tails(clauses: Vec<&str>) -> Vec<&str> {
    let mut out = Vec::with_capacity(clauses.len());
    for clause in clauses {
        let low = clause.to_lowercase();
        let cut = words::of("with").find_map(|w| low.find(w).map(|at| at + w.len()));
        out.push(clause);
        out.extend(cut.and_then(|at| clause.get(at..)));
    }
    out
}

/// Whether a clause names a thing and says no more of it than its edition: `Wi-Fi 6E and
/// Bluetooth`.
fn is_plainly(low: &str, word: &str) -> bool {
    let rest = low.strip_prefix(&*word.to_lowercase()).filter(|r| r.starts_with(' '));
    rest.is_some_and(|rest| {
        rest.split_whitespace()
            .all(|w| w.contains(|c: char| c.is_ascii_digit()) || words::has("beside", w))
    })
}

/// Whether a clause that names a field gives its value too, under a label of other fields.
fn says_itself(field: &Field, clause: &str, low: &str, fields: &[&Field]) -> bool {
    match &field.ty {
        FieldType::Number => true,
        // Under another label a flag is taken where it is denied, or said and no more.
        FieldType::Flag => {
            let own = |w: &std::sync::Arc<str>| compact_text(w) == compact_text(clause);
            let needs = words::holds("flag_verbs", low) && !words::holds("not_given", low);
            fields.is_empty()
                || needs
                || words::holds("no", low)
                || field.also.iter().any(|w| own(w) || is_plainly(low, w))
        }
        FieldType::Text(words_of) => {
            // "Socket T6" names its field itself.
            let led = field.also.iter().any(|w| low.starts_with(&w.to_lowercase()));
            // The plug of a light says nothing of how fans are driven.
            let anywhere = words::has("said_anywhere", &field.name) && !words::holds("lit", low);
            let other = fields.is_empty() || anywhere || led;
            !matches!(words_of, Words::Any) && other
        }
        FieldType::List(_) => fields.is_empty() && !words::has("counted_lists", &field.name),
        _ => false,
    }
}
