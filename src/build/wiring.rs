//! The front leads of the chassis matched to the headers of the board: from a build to the matching
//! and back.

use super::resolve::{Resolved, Slot};
use crate::catalogue::kinds::{FieldType, KindId};
use crate::catalogue::value::Val;
use crate::trade::wiring::{Bridge, Header, Lead, Why, wire};

/// A record of a part on a line: kind, line, field, which record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// Kind of the line.
    pub kind: KindId,
    /// Which line of the kind.
    pub nth: u16,
    /// Which field.
    pub field: u16,
    /// Which record.
    pub index: u16,
}

/// Which lead goes where.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// Leads with a header.
    pub placed: Vec<Placed>,
    /// Leads without, and why.
    pub unplaced: Vec<(Entry, Why)>,
    /// Headers that serve no lead.
    pub spare: Vec<Entry>,
}

/// A lead that has a header.
#[derive(Debug, Clone, Copy)]
pub struct Placed {
    /// The lead, a record of the chassis.
    pub lead: Entry,
    /// The header, a record of the board.
    pub header: Entry,
    /// The adapter or hub between, by kind and line.
    pub via: Option<(KindId, u16)>,
    /// Rate of each port in Gbit/s.
    pub gbps: f64,
}

/// What the plan looks at: kind and fields. A script that asks for the plan has read all of these.
pub const READS: &[(&str, &[&str])] = &[
    ("chassis", &["front_leads"]),
    ("board", &["headers"]),
    ("adapter", &["carries", "takes", "gives", "gbps"]),
    ("hub", &["serves", "outputs"]),
];

/// Works the plan out.
///
/// # Errors
/// The line whose part is not chosen.
pub fn plan(build: &Resolved) -> Result<Plan, (KindId, u16)> {
    let leads = entries(build, "chassis", "front_leads", usize::MAX)?;
    let headers = entries(build, "board", "headers", 1)?;
    let (bridges, vias) = bridges(build)?;
    let kinds = |all: &[Record]| all.iter().map(|r| r.text("kind")).collect::<Vec<_>>();
    let (lead_kinds, header_kinds) = (kinds(&leads), kinds(&headers));
    let asked: Vec<Lead<'_>> = leads
        .iter()
        .zip(&lead_kinds)
        .map(|(r, kind)| Lead {
            kind,
            ports: (r.num("ports") as u32).max(1),
            gbps: r.num("gbps"),
            least_gbps: 0.0,
            needed: r.flag("needed"),
        })
        .collect();
    let given: Vec<Header<'_>> = headers
        .iter()
        .zip(&header_kinds)
        .map(|(r, kind)| Header {
            kind,
            ports: (r.num("ports") as u32).max(1),
            gbps: r.num("gbps"),
        })
        .collect();
    let between: Vec<Bridge<'_>> = bridges
        .iter()
        .map(|b| {
            if b.sockets > 0 {
                Bridge::hub(&b.takes, b.sockets)
            } else {
                Bridge::adapter(&b.takes, &b.gives, b.gbps)
            }
        })
        .collect();
    let wiring = wire(&asked, &given, &between);
    let entry = |all: &[Record], at: usize| all.get(at).map(|r| r.at);
    Ok(Plan {
        placed: wiring
            .placed
            .iter()
            .filter_map(|p| {
                let via = p.bridge.and_then(|b| vias.get(b)).copied();
                Some(Placed {
                    lead: entry(&leads, p.lead)?,
                    header: entry(&headers, p.header)?,
                    via,
                    gbps: p.gbps,
                })
            })
            .collect(),
        unplaced: wiring
            .unplaced
            .iter()
            .filter_map(|u| Some((entry(&leads, u.lead)?, u.why)))
            .collect(),
        spare: wiring.spare.iter().filter_map(|at| entry(&headers, *at)).collect(),
    })
}

/// An adapter or a hub on the list, in words.
struct BridgeWords {
    takes: String,
    gives: String,
    gbps: f64,
    /// Sockets of a hub; 0 for an adapter.
    sockets: u32,
}

/// Adapters and hubs in words, each with the line it stands on.
type Bridges = (Vec<BridgeWords>, Vec<(KindId, u16)>);

fn bridges(build: &Resolved) -> Result<Bridges, (KindId, u16)> {
    let (mut bridges, mut vias) = (Vec::new(), Vec::new());
    for (kind, subject, wanted) in [("adapter", "carries", "front"), ("hub", "serves", "usb2")] {
        let Some(id) = build.catalogue.kind_id(kind) else { continue };
        for (slot, nth) in build.slots(id).iter().zip(0u16..) {
            if slot.part.is_none() {
                return Err((id, nth));
            }
            let text =
                |name: &str| value(build, slot, name).map_or_else(String::new, |(_, v)| v.show());
            let number =
                |name: &str| value(build, slot, name).and_then(|(_, v)| v.as_num()).unwrap_or(0.0);
            if text(subject) != wanted {
                continue;
            }
            for _ in 0..slot.count as usize {
                bridges.push(if kind == "hub" {
                    BridgeWords {
                        takes: wanted.to_owned(),
                        gives: wanted.to_owned(),
                        gbps: 0.0,
                        sockets: number("outputs") as u32,
                    }
                } else {
                    BridgeWords {
                        takes: text("takes"),
                        gives: text("gives"),
                        gbps: number("gbps"),
                        sockets: 0,
                    }
                });
                vias.push((id, nth));
            }
        }
    }
    Ok((bridges, vias))
}

/// A record with the names of its sub-fields.
struct Record<'a> {
    at: Entry,
    fields: &'a [crate::catalogue::kinds::Field],
    values: &'a [Val],
}

impl Record<'_> {
    fn get(&self, name: &str) -> Option<&Val> {
        self.fields.iter().position(|f| *f.name == *name).and_then(|at| self.values.get(at))
    }

    fn text(&self, name: &str) -> String {
        self.get(name).and_then(Val::as_text).map_or_else(String::new, ToString::to_string)
    }

    fn num(&self, name: &str) -> f64 {
        self.get(name).and_then(Val::as_num).unwrap_or(0.0)
    }

    fn flag(&self, name: &str) -> bool {
        matches!(self.get(name), Some(Val::Flag(true)))
    }
}

fn value<'a>(build: &'a Resolved, slot: &'a Slot, name: &str) -> Option<(u16, &'a Val)> {
    let part = slot.part.as_ref()?;
    let (at, _) = build.catalogue.kind(part.kind)?.field(name)?;
    Some((at, part.values.get(at as usize)?))
}

fn entries<'a>(
    build: &'a Resolved,
    kind: &str,
    field: &str,
    most: usize,
) -> Result<Vec<Record<'a>>, (KindId, u16)> {
    let mut out = Vec::new();
    let Some(id) = build.catalogue.kind_id(kind) else { return Ok(out) };
    for (slot, nth) in build.slots(id).iter().zip(0u16..).take(most) {
        if slot.part.is_none() {
            return Err((id, nth));
        }
        let Some((at, Val::Records(records))) = value(build, slot, field) else { continue };
        let Some(FieldType::Records(fields)) =
            build.catalogue.kind(id).and_then(|k| k.fields.get(at as usize)).map(|f| &f.ty)
        else {
            continue;
        };
        out.extend(records.iter().zip(0u16..).map(|(values, index)| Record {
            at: Entry { kind: id, nth, field: at, index },
            fields,
            values,
        }));
    }
    Ok(out)
}
