//! Fields that hold several records, filled from the sentences that list them.

use serde_json::Value;

use super::pages::Statement;
use super::reader::Reader;
use super::{board_headers, case_records, records, sockets, words};
use crate::catalogue::kinds::{Field, FieldType};
use crate::intake::plain_text;

impl<'a> Reader<'a> {
    /// The fields of records and counts that a statement may be of.
    fn wanted(&self, s: &Statement, fields: &[&'a Field]) -> Vec<&'a str> {
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
        // "A board for Dotterel 5 and Dotterel 6 processors"
        let told = |f: &Field| {
            let low = plain_text(&s.text);
            s.label.is_empty() && f.also.iter().any(|w| words::find_word(&low, w).is_some())
        };
        let families = self.kind.field("processors").is_some_and(|(_, f)| told(f));
        if families || fields.iter().any(|f| &*f.name == "socket") && has("processors") {
            wanted.push("processors");
        }
        let watts = super::fields::in_unit(&s.text, "W").is_empty();
        if fields.iter().any(|f| &*f.name == "draw_w") && watts {
            wanted.extend(self.kind.field("power_in").map(|(_, f)| &*f.name));
        }
        // "Front: USB-C, two USB-A" of a case.
        let front = words::first_of("mounts", &plain_text(&s.label)) == Some("front");
        if front && fields.is_empty() && plain_text(&s.text).contains("usb") {
            wanted.extend(self.kind.field("front_leads").map(|(_, f)| &*f.name));
        }
        wanted
    }

    /// Records and counts, by the field that the label names.
    pub(super) fn records(&mut self, s: &Statement, fields: &[&'a Field]) -> bool {
        let mut any = false;
        let wanted = self.wanted(s, fields);
        let board = self.kind.field("memory_slots").is_some();
        // "2 (1 x PCIe 5.0 x4, 1 x PCIe 4.0 x4)", "2 x M.2 (M2_1: ...; M2_2: ...)": each by itself.
        let (all, inner) = s.text.split_once('(').unwrap_or((&s.text, ""));
        let inner = inner.split_once(')').map_or("", |(inner, _)| inner);
        let whole = match all.trim().parse::<u32>() {
            Ok(_) => Some(inner.replace(", ", "; ")),
            Err(_) => inner.contains("; ").then(|| inner.to_owned()),
        };
        let whole = whole.filter(|inner| !inner.is_empty()).unwrap_or_else(|| s.text.clone());
        let s = &Statement { text: whole, ..s.clone() };
        for name in wanted {
            let list = match name {
                // "M2_1 (CPU): Key M, 2280": the label says which and whose.
                "m2" if !s.label.contains(['(', '_']) => sockets::m2(&s.text),
                "m2" => sockets::m2(&format!("{}, {}", s.label, s.text)),
                "slots" => sockets::slots(&s.text),
                "video_out" | "inputs" => {
                    let rear = fields.iter().any(|f| &*f.name == "rear_usb");
                    records::video(&s.text, rear)
                }
                "fan_headers" => board_headers::fan_headers(&s.text),
                "lighting_headers" => board_headers::lighting_headers(&s.text),
                "headers" => case_records::usb_leads(&s.text, false),
                "front_leads" => case_records::usb_leads(&s.text, true),
                "leads" => records::leads(&s.text),
                "processors" => sockets::families(&s.text),
                "memory_rates" => records::memory_rates(&s.text),
                "power_in" => match records::connectors(&s.text, board) {
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
    pub(super) fn grow(&mut self, name: &str, list: Vec<Value>, s: &Statement) -> bool {
        match self.read.get_mut(name) {
            Some(held) => {
                if let (Value::Array(all), true) = (&mut held.value, held.line != s.line) {
                    // Outputs are told of under graphics and at the rear, families twice too.
                    let keys = [("video_out", "kind"), ("processors", "family")];
                    let key = keys.iter().find(|(field, _)| *field == name).map(|(_, key)| *key);
                    let twice = |one: &Value| {
                        key.is_some_and(|key| all.iter().any(|held| held[key] == one[key]))
                    };
                    let list: Vec<Value> = list.into_iter().filter(|one| !twice(one)).collect();
                    all.extend(list);
                }
                true
            }
            None => self.keep(name, Value::Array(list), &s.text, s.line),
        }
    }

    pub(super) fn mounted(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        let has = self.kind.field("mounts").is_some();
        let low = plain_text(&s.label);
        let first = low.split(' ').next().unwrap_or("");
        let about = words::of("cooled").any(|w| first == w || w.len() > 4 && low.contains(w));
        let about = about || low.contains("fan");
        // "Front: 2 x 120 mm fans": the label is the place and no more.
        let placed = words::first_of("mounts", &low).is_some()
            && !low.contains(' ')
            && !plain_text(&s.text).contains("usb");
        // "Three 140 mm fans in the front": no label, and both are said.
        let text = plain_text(&s.text);
        let said = s.label.is_empty() && !words::all_of("mounts", &text).is_empty();
        let told = said && words::of("cooled").any(|w| words::find_word(&text, w).is_some());
        let about = about || placed || told;
        let other = fields.iter().any(|f| &*f.name != "mounts");
        if !has || other || !(about || fields.iter().any(|f| &*f.name == "mounts")) {
            return false;
        }
        // "Radiators", and below it "Front: 360 mm".
        let head = plain_text(&s.section);
        let headed = placed && words::of("cooled").any(|w| words::find_word(&head, w).is_some());
        let label = if headed { format!("{head} {}", s.label) } else { s.label.clone() };
        let any = case_records::mounts(&mut self.mounts, &label, &s.text);
        if any && self.mounts_from.is_none() {
            self.mounts_from = Some((s.text.clone(), s.line));
        }
        any
    }
}
