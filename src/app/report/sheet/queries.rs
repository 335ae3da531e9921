//! Short ways of asking an audited build, with names cut to a length that a page can bear.

use std::rc::Rc;

use jiff::civil::Date;

use crate::app::report::Audited;
use crate::audit::wording::figure;
use crate::build::resolve::{Resolved, Slot};
use crate::catalogue::kinds::{Field, FieldType, KindId};
use crate::catalogue::value::Val;
use crate::config::Shop;
use crate::kit::Kit;
use crate::kit::page_values::Entry;
use crate::trade::money::Money;
use crate::words::clip;

/// Longest name on the page, in letters.
pub(super) const NAME: usize = 160;
/// Longest name in a small table.
pub(super) const SHORT: usize = 60;
/// Longest sentence of a finding.
pub(super) const SENTENCE: usize = 900;

/// The build as the page sees it.
pub(super) struct Look<'a> {
    pub(super) kit: &'a Kit,
    pub(super) audited: &'a Audited,
    pub(super) build: Rc<Resolved>,
    pub(super) shop: &'a Shop,
}

/// A record of a part with the names of its values.
#[derive(Clone, Copy)]
pub(super) struct Record<'a> {
    fields: &'a [Field],
    values: &'a [Val],
}

impl Record<'_> {
    fn get(&self, name: &str) -> Option<&Val> {
        self.fields.iter().position(|f| *f.name == *name).and_then(|at| self.values.get(at))
    }

    pub(super) fn text(&self, name: &str) -> String {
        self.get(name).and_then(Val::as_text).map_or_else(String::new, |t| clip(t, SHORT))
    }

    pub(super) fn num(&self, name: &str) -> f64 {
        self.get(name).and_then(Val::as_num).unwrap_or(0.0)
    }

    pub(super) fn list(&self, name: &str) -> Vec<String> {
        words(self.get(name))
    }
}

fn words(val: Option<&Val>) -> Vec<String> {
    match val {
        Some(Val::List(words)) => words.iter().map(|w| clip(w, SHORT)).collect(),
        _ => Vec::new(),
    }
}

impl Look<'_> {
    pub(super) fn slots(&self, kind: &str) -> &[Slot] {
        self.build.catalogue.kind_id(kind).map_or(&[], |id| self.build.slots(id))
    }

    /// The first line of a kind, once its part is chosen.
    pub(super) fn first(&self, kind: &str) -> Option<&Slot> {
        self.slots(kind).first().filter(|s| s.part.is_some())
    }

    pub(super) fn val<'s>(&self, slot: &'s Slot, field: &str) -> Option<&'s Val> {
        let part = slot.part.as_ref()?;
        let (at, _) = self.build.catalogue.kind(part.kind)?.field(field)?;
        part.values.get(at as usize)
    }

    pub(super) fn num(&self, slot: &Slot, field: &str) -> f64 {
        self.val(slot, field).and_then(Val::as_num).unwrap_or(0.0)
    }

    pub(super) fn text(&self, slot: &Slot, field: &str) -> String {
        self.val(slot, field).and_then(Val::as_text).map_or_else(String::new, |t| clip(t, NAME))
    }

    pub(super) fn list(&self, slot: &Slot, field: &str) -> Vec<String> {
        words(self.val(slot, field))
    }

    pub(super) fn count_of(&self, slot: &Slot, field: &str, key: &str) -> f64 {
        self.val(slot, field).map_or(0.0, |v| v.count_of(key))
    }

    pub(super) fn records<'s>(&'s self, slot: &'s Slot, field: &str) -> Vec<Record<'s>> {
        let kind = slot.part.as_ref().and_then(|p| self.build.catalogue.kind(p.kind));
        let (Some((_, found)), Some(Val::Records(records))) =
            (kind.and_then(|k| k.field(field)), self.val(slot, field))
        else {
            return Vec::new();
        };
        let FieldType::Records(fields) = &found.ty else { return Vec::new() };
        records.iter().map(|values| Record { fields, values }).collect()
    }

    /// The record that an entry of a plan stands for.
    pub(super) fn record(&self, entry: Entry) -> Option<Record<'_>> {
        let slot = self.build.slot(entry.kind, entry.nth)?;
        let field = self.build.catalogue.kind(entry.kind)?.fields.get(entry.field as usize)?;
        self.records(slot, &field.name).get(entry.index as usize).copied()
    }

    /// A line's name, cut short.
    pub(super) fn short(&self, slot: &Slot) -> String {
        slot.part.as_ref().map_or_else(|| "left open".to_owned(), |p| clip(&p.name, SHORT))
    }

    pub(super) fn short_at(&self, (kind, nth): (KindId, u16)) -> String {
        self.build.slot(kind, nth).map_or_else(String::new, |s| self.short(s))
    }

    pub(super) fn measure(&self, id: &str) -> Option<f64> {
        self.audited.measure(id)?.value.filter(|n| n.is_finite())
    }

    pub(super) fn setting(&self, name: &str) -> Option<f64> {
        self.kit.settings().number("", name)
    }

    pub(super) fn cell(&self, table: &str, row: &str, column: &str) -> Option<Val> {
        let table = self.build.catalogue.table_named(table)?;
        Some(table.cell(row, table.column(column)?).clone())
    }

    /// What people call a row of a table; its own word where the table does not say.
    pub(super) fn title(&self, table: &str, row: &str) -> String {
        self.cell(table, row, "title")
            .and_then(|v| v.as_text().map(|t| clip(t, SHORT)))
            .unwrap_or_else(|| clip(row, SHORT))
    }

    pub(super) fn build_num(&self, field: &str) -> Option<f64> {
        self.build.build.field(field).and_then(Val::as_num)
    }

    pub(super) fn build_text(&self, field: &str) -> String {
        let text = self.build.build.field(field).and_then(Val::as_text);
        text.map_or_else(String::new, |t| clip(t, NAME))
    }

    pub(super) fn money(&self, amount: f64) -> String {
        self.written(&self.audited.money(amount))
    }

    pub(super) fn amount(&self, money: &Money) -> String {
        self.written(&money.to_string())
    }

    pub(super) fn figure(&self, n: f64, unit: &str) -> String {
        self.written(&figure(n, unit, &self.build.build.currency))
    }

    /// A number and what follows it, in the shop's form of numbers.
    pub(super) fn written(&self, plain: &str) -> String {
        match plain.split_once(' ') {
            Some((number, unit)) => format!("{} {unit}", self.shop.numbers.write(number)),
            None => self.shop.numbers.write(plain),
        }
    }

    /// A day in the shop's form.
    pub(super) fn day(&self, day: Date) -> String {
        self.shop.dates.write(day)
    }

    /// A line in words with its pieces: `3 × Lull 120`.
    pub(super) fn pieces(&self, slot: &Slot) -> String {
        pieces(&self.short(slot), slot.count)
    }
}

/// A name with its pieces: `3 × Lull 120`.
pub(super) fn pieces(name: &str, count: f64) -> String {
    if count > 1.0 { format!("{count} × {name}") } else { name.to_owned() }
}
