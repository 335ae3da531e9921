//! What the shop's own scripts work out for a printed page: a number, or which part sits where.
//! Nothing is raised and nothing is remembered.

use std::rc::Rc;

use rhai::{Array, Map, Scope};

use crate::build::resolve::Resolved;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::rules::tracked::{BuildRef, LineRef, Num, RecordRef};

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

impl From<RecordRef> for Entry {
    fn from(record: RecordRef) -> Self {
        let LineRef { kind, nth } = record.line;
        Self { kind, nth, field: record.field, index: record.index }
    }
}

/// Which front cable goes where.
#[derive(Debug, Clone, Default)]
pub struct FrontPlan {
    /// Cables with a header.
    pub placed: Vec<FrontCable>,
    /// Cables without, and whether other cables have its headers.
    pub unplaced: Vec<(Entry, bool)>,
    /// Headers that serve no cable.
    pub spare: Vec<Entry>,
}

/// A front cable that has a header.
#[derive(Debug, Clone, Copy)]
pub struct FrontCable {
    /// The cable, a record of the case.
    pub lead: Entry,
    /// The header, a record of the board.
    pub header: Entry,
    /// The adapter or hub between, by kind and line.
    pub via: Option<(KindId, u16)>,
    /// Rate of each port in Gbit/s.
    pub gbps: f64,
}

/// A part in a slot or socket.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seated {
    /// The line, by kind.
    pub line: (KindId, u16),
    /// The slot or socket, a record of the board.
    pub seat: Entry,
}

impl Kit {
    fn value(&self, build: &Rc<Resolved>, text: &str) -> Option<rhai::Dynamic> {
        self.runner().look_at(build);
        let mut scope = Scope::new();
        scope.push("build", BuildRef);
        let expression = self.expression(&scope, text, |problem, _| problem).ok()?;
        let (value, _frame) = self.run_expression(&expression, &mut scope);
        value.ok().map(rhai::Dynamic::flatten)
    }

    /// The number that an expression over a build gives; none where the scripts at hand cannot
    /// tell.
    #[doc(hidden)]
    pub fn reckon(&self, build: &Rc<Resolved>, text: &str) -> Option<f64> {
        let value = self.value(build, text)?;
        let number = value.clone().try_cast::<Num>().map(|n| n.value);
        number
            .or_else(|| value.as_float().ok())
            .or_else(|| value.as_int().ok().map(|n| n as f64))
            .filter(|n| n.is_finite())
    }

    /// Pairs of a line and a record that an expression over a build gives; none where the scripts
    /// at hand cannot tell.
    #[doc(hidden)]
    pub fn seated(&self, build: &Rc<Resolved>, text: &str) -> Option<Vec<Seated>> {
        let pairs = self.value(build, text)?.try_cast::<Array>()?;
        let pair = |value: rhai::Dynamic| {
            let pair = value.try_cast::<Array>()?;
            let line = pair.first()?.clone().try_cast::<LineRef>()?;
            let seat = pair.get(1)?.clone().try_cast::<RecordRef>()?;
            Some(Seated { line: (line.kind, line.nth), seat: seat.into() })
        };
        pairs.into_iter().map(pair).collect()
    }

    /// Which front cable goes where, as `panel::plan` has it; none where the scripts at hand cannot
    /// tell.
    pub fn front_plan(&self, build: &Rc<Resolved>) -> Option<FrontPlan> {
        let plan = self.value(build, "panel::plan(build)")?.try_cast::<Map>()?;
        let list = |key: &str| plan.get(key).and_then(|list| list.clone().try_cast::<Array>());
        let placed = list("placed")?.into_iter().map(|cable| {
            let cable = cable.try_cast::<Map>()?;
            let via = cable.get("via").and_then(|via| via.clone().try_cast::<LineRef>());
            let gbps = cable.get("gbps")?;
            Some(FrontCable {
                lead: entry(cable.get("lead")?)?,
                header: entry(cable.get("header")?)?,
                via: via.map(|line| (line.kind, line.nth)),
                gbps: gbps.clone().try_cast::<Num>().map_or(0.0, |n| n.value),
            })
        });
        let unplaced = list("unplaced")?.into_iter().map(|cable| {
            let cable = cable.try_cast::<Map>()?;
            let why = cable.get("why").map(ToString::to_string);
            Some((entry(cable.get("lead")?)?, why.as_deref() == Some("taken")))
        });
        Some(FrontPlan {
            placed: placed.collect::<Option<_>>()?,
            unplaced: unplaced.collect::<Option<_>>()?,
            spare: list("spare")?.iter().map(entry).collect::<Option<_>>()?,
        })
    }
}

fn entry(value: &rhai::Dynamic) -> Option<Entry> {
    value.clone().try_cast::<RecordRef>().map(Entry::from)
}
