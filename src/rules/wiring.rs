//! `wiring(build)`: the front leads of the chassis matched to the headers of the board.

use std::rc::Rc;

use rhai::{Array, Dynamic, ImmutableString, Map, NativeCallContext};

use crate::audit::ask::Ask;
use crate::audit::expr::Expr;
use crate::catalogue::kinds::{FieldType, KindId};
use crate::catalogue::value::Val;
use crate::rules::host::{Host, Res, say};
use crate::rules::values::{LineRef, RecordRef};
use crate::trade::wiring::{Bridge, Header, Lead, wire};

/// Reads leads, headers and bridges as a whole, and hands out the best matching as plain data with handles.
pub(crate) fn wiring(host: &Rc<Host>, ctx: &NativeCallContext<'_>) -> Res<Dynamic> {
    let mut lead_records = Vec::new();
    for line in lines(host, ctx, "chassis")? {
        lead_records.extend(whole(host, ctx, line, "front_leads")?);
    }
    let header_records = match lines(host, ctx, "board")?.first() {
        Some(line) => whole(host, ctx, *line, "headers")?,
        None => Vec::new(),
    };
    let (bridge_words, bridge_refs) = bridges(host, ctx)?;
    let lead_kinds: Vec<String> = lead_records.iter().map(|r| r.text("kind")).collect();
    let header_kinds: Vec<String> = header_records.iter().map(|r| r.text("kind")).collect();
    let leads: Vec<Lead<'_>> = lead_records
        .iter()
        .zip(&lead_kinds)
        .map(|(r, kind)| Lead { kind, ports: r.int("ports").max(1), gbps: r.num("gbps"), least_gbps: 0.0, needed: r.flag("needed") })
        .collect();
    let headers: Vec<Header<'_>> = header_records.iter().zip(&header_kinds).map(|(r, kind)| Header { kind, ports: r.int("ports").max(1), gbps: r.num("gbps") }).collect();
    let bridges: Vec<Bridge<'_>> = bridge_words
        .iter()
        .map(|b| if b.sockets > 0 { Bridge::hub(&b.takes, b.sockets) } else { Bridge::adapter(&b.takes, &b.gives, b.gbps) })
        .collect();
    let plan = wire(&leads, &headers, &bridges);
    let lead_refs: Vec<RecordRef> = lead_records.iter().map(|r| r.at).collect();
    let header_refs: Vec<RecordRef> = header_records.iter().map(|r| r.at).collect();
    let handle = |refs: &[RecordRef], at: usize| refs.get(at).map_or(Dynamic::UNIT, |r| Dynamic::from(*r));
    let placed: Array = plan
        .placed
        .iter()
        .map(|p| {
            let mut map = Map::new();
            map.insert("lead".into(), handle(&lead_refs, p.lead));
            map.insert("header".into(), handle(&header_refs, p.header));
            map.insert("via".into(), p.bridge.and_then(|b| bridge_refs.get(b)).map_or(Dynamic::UNIT, |l| Dynamic::from(*l)));
            map.insert("gbps".into(), Dynamic::from(p.gbps));
            map.into()
        })
        .collect();
    let unplaced: Array = plan
        .unplaced
        .iter()
        .map(|u| {
            let mut map = Map::new();
            map.insert("lead".into(), handle(&lead_refs, u.lead));
            map.insert("why".into(), ImmutableString::from(u.why.text()).into());
            map.into()
        })
        .collect();
    let spare: Array = plan.spare.iter().map(|at| handle(&header_refs, *at)).collect();
    let mut result = Map::new();
    result.insert("placed".into(), placed.into());
    result.insert("unplaced".into(), unplaced.into());
    result.insert("spare".into(), spare.into());
    Ok(result.into())
}

/// An adapter or a hub on the list, in words.
struct BridgeWords {
    takes: String,
    gives: String,
    gbps: f64,
    /// Sockets of a hub; 0 for an adapter.
    sockets: u32,
}

fn bridges(host: &Rc<Host>, ctx: &NativeCallContext<'_>) -> Res<(Vec<BridgeWords>, Vec<LineRef>)> {
    let mut bridges = Vec::new();
    let mut refs = Vec::new();
    for (kind, subject, wanted) in [("adapter", "carries", "front"), ("hub", "serves", "usb2")] {
        for line in lines(host, ctx, kind)? {
            if word(host, ctx, line, subject)? != wanted {
                continue;
            }
            for _ in 0..count(host, ctx, line)? {
                bridges.push(if kind == "hub" {
                    BridgeWords { takes: wanted.to_owned(), gives: wanted.to_owned(), gbps: 0.0, sockets: figure(host, ctx, line, "outputs")? as u32 }
                } else {
                    BridgeWords { takes: word(host, ctx, line, "takes")?, gives: word(host, ctx, line, "gives")?, gbps: figure(host, ctx, line, "gbps")?, sockets: 0 }
                });
                refs.push(line);
            }
        }
    }
    Ok((bridges, refs))
}

fn lines(host: &Rc<Host>, ctx: &NativeCallContext<'_>, kind: &str) -> Res<Vec<LineRef>> {
    let Some(kind): Option<KindId> = host.build()?.catalogue.kind_id(kind) else { return Ok(Vec::new()) };
    let count = host.count(ctx, Ask::Lines(kind))?;
    Ok((0..u16::try_from(count).unwrap_or(0)).map(|nth| LineRef { kind, nth }).collect())
}

fn value(host: &Rc<Host>, ctx: &NativeCallContext<'_>, line: LineRef, name: &str) -> Res<(u16, Val)> {
    let catalogue = host.build()?.catalogue.clone();
    match catalogue.kind(line.kind).and_then(|k| k.field(name)) {
        Some((at, _)) => Ok((at, host.whole(ctx, host.expr(Expr::Field(line.kind, line.nth, at)))?)),
        None => say(format!("wiring needs a field `{name}`, which this catalogue does not have")),
    }
}

fn word(host: &Rc<Host>, ctx: &NativeCallContext<'_>, line: LineRef, name: &str) -> Res<String> {
    Ok(value(host, ctx, line, name)?.1.as_text().map_or_else(String::new, |t| t.to_string()))
}

fn figure(host: &Rc<Host>, ctx: &NativeCallContext<'_>, line: LineRef, name: &str) -> Res<f64> {
    Ok(value(host, ctx, line, name)?.1.as_num().unwrap_or(0.0))
}

fn count(host: &Rc<Host>, ctx: &NativeCallContext<'_>, line: LineRef) -> Res<u32> {
    let id = host.expr(Expr::Line(line.kind, line.nth, crate::audit::expr::LineWord::Count));
    Ok(host.whole(ctx, id)?.as_num().unwrap_or(1.0) as u32)
}

/// One record read as a whole, by the names of its sub-fields.
struct Record {
    at: RecordRef,
    names: Vec<std::sync::Arc<str>>,
    values: Box<[Val]>,
}

impl Record {
    fn get(&self, name: &str) -> Option<&Val> {
        self.names.iter().position(|n| **n == *name).and_then(|at| self.values.get(at))
    }

    fn text(&self, name: &str) -> String {
        self.get(name).and_then(Val::as_text).map_or_else(String::new, |t| t.to_string())
    }

    fn num(&self, name: &str) -> f64 {
        self.get(name).and_then(Val::as_num).unwrap_or(0.0)
    }

    fn int(&self, name: &str) -> u32 {
        self.num(name) as u32
    }

    fn flag(&self, name: &str) -> bool {
        matches!(self.get(name), Some(Val::Flag(true)))
    }
}

fn whole(host: &Rc<Host>, ctx: &NativeCallContext<'_>, line: LineRef, name: &str) -> Res<Vec<Record>> {
    let (field, val) = value(host, ctx, line, name)?;
    let catalogue = host.build()?.catalogue.clone();
    let names: Vec<std::sync::Arc<str>> = match catalogue.kind(line.kind).and_then(|k| k.fields.get(field as usize)).map(|f| &f.ty) {
        Some(FieldType::Records(fields)) => fields.iter().map(|f| f.name.clone()).collect(),
        _ => Vec::new(),
    };
    match val {
        Val::Records(records) => Ok(records.iter().zip(0u16..).map(|(r, index)| Record { at: RecordRef { line, field, index }, names: names.clone(), values: r.clone() }).collect()),
        _ => Ok(Vec::new()),
    }
}
