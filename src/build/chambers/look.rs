//! Asks a build for what the network of chambers is made of, and puts down the first fact that
//! nobody said.

use std::cell::Cell;

use super::{CARDS, FRONT, MAIN};
use crate::build::lack::{Fact, Lack};
use crate::build::resolve::{Resolved, Slot};
use crate::catalogue::kinds::{FieldType, Kind, KindId};
use crate::catalogue::value::Val;
use crate::trade::air;

/// Short ways of asking the build.
pub(super) struct Look<'a> {
    pub(super) build: &'a Resolved,
    /// The first fact met that nobody said: what is worked out without it is not worth telling.
    pub(super) unknown: Cell<Option<Fact>>,
}

impl Look<'_> {
    pub(super) fn slots(&self, kind: &str) -> Result<Vec<&Slot>, Lack> {
        let Some(id) = self.build.catalogue.kind_id(kind) else { return Ok(Vec::new()) };
        let slots = self.build.slots(id);
        match slots.iter().zip(0u16..).find(|(s, _)| s.part.is_none()) {
            Some((_, nth)) => Err(Lack::Open(id, nth)),
            None => Ok(slots.iter().collect()),
        }
    }

    /// Lines of the kinds that a test names, each with its kind and its place among its lines.
    pub(super) fn slots_of(
        &self,
        wanted: impl Fn(&Kind) -> bool,
    ) -> Result<Vec<(KindId, u16, &Slot)>, Lack> {
        let mut found = Vec::new();
        for (kind, id) in self.build.catalogue.kinds.iter().zip(0u16..) {
            if wanted(kind) {
                let slots = self.slots(&kind.name)?;
                found.extend(
                    slots.into_iter().zip(0u16..).map(|(slot, nth)| (KindId(id), nth, slot)),
                );
            }
        }
        Ok(found)
    }

    pub(super) fn first(&self, kind: &str) -> Result<Option<&Slot>, Lack> {
        Ok(self.slots(kind)?.first().copied())
    }

    pub(super) fn val(&self, slot: &Slot, field: &str) -> Val {
        let part = slot.part.as_ref();
        let at = part
            .and_then(|p| self.build.catalogue.kind(p.kind))
            .and_then(|k| k.field(field))
            .map(|(at, _)| at as usize);
        let value = part.zip(at).and_then(|(p, at)| p.values.get(at)).cloned().unwrap_or_default();
        if value.is_unknown() {
            self.note(slot, at.unwrap_or(0), None);
        }
        value
    }

    /// Puts down that the flow rests on a fact that nobody said.
    fn note(&self, slot: &Slot, field: usize, sub: Option<(usize, usize)>) {
        let Some(kind) = slot.part.as_ref().map(|p| p.kind) else { return };
        let nth = self.build.slots(kind).iter().position(|s| std::ptr::eq(s, slot)).unwrap_or(0);
        let small = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
        let sub = sub.map(|(index, sub)| (small(index), small(sub)));
        let fact = Fact { kind, nth: small(nth), field: small(field), sub };
        self.unknown.set(self.unknown.get().or(Some(fact)));
    }

    pub(super) fn num(&self, slot: &Slot, field: &str) -> f64 {
        self.val(slot, field).as_num().unwrap_or(0.0)
    }

    pub(super) fn is(&self, slot: &Slot, field: &str, word: &str) -> bool {
        self.val(slot, field).as_text().is_some_and(|t| **t == *word)
    }

    pub(super) fn build_num(&self, name: &str) -> f64 {
        self.build.build.field(name).and_then(Val::as_num).unwrap_or(0.0)
    }

    pub(super) fn density(&self) -> f64 {
        air::density(self.build_num("altitude_m"), self.build_num("room_c")).unwrap_or(1.18)
    }

    /// The mounts of a chassis: where, free area, filter, and how many 120 mm fans it would take.
    pub(super) fn mounts(&self, chassis: &Slot) -> Vec<Mount> {
        let kind = chassis.part.as_ref().and_then(|p| self.build.catalogue.kind(p.kind));
        let Some((at, field)) = kind.and_then(|k| k.field("mounts")) else { return Vec::new() };
        let (FieldType::Records(fields), Val::Records(records)) =
            (&field.ty, self.val(chassis, "mounts"))
        else {
            return Vec::new();
        };
        let sub = |(index, record): (usize, &[Val]), name: &str| {
            let place = fields.iter().position(|f| *f.name == *name);
            let value = place.and_then(|at| record.get(at)).cloned().unwrap_or_default();
            if value.is_unknown() {
                self.note(chassis, at as usize, place.map(|sub| (index, sub)));
            }
            value
        };
        records
            .iter()
            .enumerate()
            .map(|(index, record)| {
                let r = (index, &**record);
                let fans =
                    |name: &str, mm: f64| sub(r, name).as_num().unwrap_or(0.0) * mm * mm * 1e-6;
                Mount {
                    name: sub(r, "mount").show(),
                    area_m2: fans("fans_120", 120.0)
                        .max(fans("fans_140", 140.0))
                        .max(fans("fans_200", 200.0))
                        .max(fans("fans_80", 80.0)),
                    open: sub(r, "open").as_num().unwrap_or(0.0),
                    filter: sub(r, "filter") == Val::Flag(true),
                }
            })
            .collect()
    }
}

pub(super) struct Mount {
    pub(super) name: String,
    pub(super) area_m2: f64,
    pub(super) open: f64,
    pub(super) filter: bool,
}

impl Mount {
    pub(super) fn chamber(&self) -> usize {
        match self.name.as_str() {
            "front" => FRONT,
            "bottom" | "side" => CARDS,
            _ => MAIN,
        }
    }
}
