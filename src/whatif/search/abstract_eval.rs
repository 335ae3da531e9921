//! What a build with choices can answer to a rule's questions: expressions over places that may
//! hold one of several parts.

use std::rc::Rc;
use std::sync::Arc;

use crate::audit::ask::{Answer, Ask};
use crate::audit::derived::DERIVED;
use crate::audit::eval::offer_number;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord, Pool};
use crate::audit::functions::FUNCTIONS;
use crate::build::What;
use crate::build::resolve::Resolved;
use crate::catalogue::kinds::KindId;
use crate::catalogue::market::Facts;
use crate::catalogue::value::Val;
use crate::settings::Settings;

use super::cache::{Column, Notes, State};
use super::space::{Boxed, Choice, Space};
use crate::audit::interval::{Hull, Span};
use crate::audit::ranges::{Ranges, cell, count_of};

/// A look at a state, with one place held to one of its choices if need be.
pub(crate) struct Sight<'a> {
    pub(crate) space: &'a Space,
    pub(crate) pool: &'a Pool,
    pub(crate) settings: &'a Settings,
    pub(crate) state: &'a State,
    pub(crate) pin: Option<(usize, u32)>,
    pub(crate) notes: &'a mut Notes,
}

impl Sight<'_> {
    fn decided(&self, place: usize) -> Option<&Choice> {
        let at = match self.pin {
            Some((pinned, at)) if pinned == place => at,
            _ => self.state.doms.get(place)?.single()?,
        };
        self.space.places.get(place)?.choices.get(at as usize)
    }

    /// Which places with choices an expression rests on.
    pub(crate) fn deps(&mut self, id: ExprId) -> u64 {
        if let Some(Some(deps)) = self.notes.deps.get(id.at()) {
            return *deps;
        }
        let deps = match self.pool.get(id) {
            Expr::Const(_)
            | Expr::Word(_)
            | Expr::Setting(_)
            | Expr::Build(BuildWord::Field(_)) => 0,
            Expr::Field(kind, nth, _) | Expr::Sub(kind, nth, ..) | Expr::Line(kind, nth, _) => {
                self.line_deps(*kind, *nth)
            }
            Expr::Cell(_, _, a) | Expr::Measure(_, a) | Expr::Un(_, a) => self.deps(*a),
            Expr::KeyOf(a, b) | Expr::Bin(_, a, b) => self.deps(*a) | self.deps(*b),
            Expr::Func(_, args) => args.iter().fold(0, |mask, a| mask | self.deps(*a)),
            Expr::Assign(assign) => assign.exprs().fold(0, |mask, a| mask | self.deps(a)),
            Expr::Sum(name) => {
                let kinds = self
                    .space
                    .catalogue
                    .kinds
                    .iter()
                    .zip(0u16..)
                    .filter(|(k, _)| k.by_name.contains_key(name))
                    .map(|(_, id)| KindId(id));
                kinds.fold(0, |mask, kind| mask | self.kind_deps(kind))
            }
            Expr::Pieces(kind) => self.kind_deps(*kind),
            Expr::Build(_) | Expr::Derived(_) => {
                (0..self.space.places.len()).fold(0, |mask, p| mask | self.notes.mask(p))
            }
        };
        if self.notes.deps.len() <= id.at() {
            self.notes.deps.resize(self.pool.len().max(id.at() + 1), None);
        }
        if let Some(slot) = self.notes.deps.get_mut(id.at()) {
            *slot = Some(deps);
        }
        deps
    }

    pub(super) fn own(&self, kind: KindId) -> &[usize] {
        self.space.own.get(kind.0 as usize).map_or(&[], Vec::as_slice)
    }

    fn may_box(&self, kind: KindId) -> &[usize] {
        self.space.may_box.get(kind.0 as usize).map_or(&[], Vec::as_slice)
    }

    fn box_deps(&self, kind: KindId) -> u64 {
        self.may_box(kind).iter().fold(0, |mask, p| mask | self.notes.mask(*p))
    }

    fn kind_deps(&self, kind: KindId) -> u64 {
        self.own(kind).iter().fold(self.box_deps(kind), |mask, p| mask | self.notes.mask(*p))
    }

    fn line_deps(&self, kind: KindId, nth: u16) -> u64 {
        match self.own(kind).get(nth as usize) {
            Some(place) => self.notes.mask(*place),
            None => self.box_deps(kind),
        }
    }

    /// Which places with choices a question rests on.
    pub(crate) fn ask_deps(&mut self, ask: &Ask) -> u64 {
        match ask {
            Ask::Has(kind, nth) | Ask::Chosen(kind, nth)
                if self.own(*kind).len() > *nth as usize =>
            {
                0
            }
            Ask::Has(kind, _) | Ask::Chosen(kind, _) | Ask::Lines(kind) => self.box_deps(*kind),
            other => other.exprs().fold(0, |mask, e| mask | self.deps(e)),
        }
    }

    /// What comes in boxes of a kind, in order; none while that is not known.
    pub(super) fn boxed(&self, kind: KindId) -> Option<Vec<(&Boxed, bool)>> {
        let mut found = Vec::new();
        for place in self.may_box(kind) {
            let choice = self.decided(*place)?;
            found.extend(
                choice.boxed.iter().filter(|b| b.part.kind == kind).map(|b| (b, choice.line.owned)),
            );
        }
        Some(found)
    }

    fn of_one_place(&mut self, id: ExprId, place: usize) -> Hull {
        let column = self.column(id, place);
        if let Some((pinned, at)) = self.pin
            && pinned == place
        {
            return match &*column {
                Column::Nums(nums) => {
                    Hull::Num(nums.get(at as usize).map_or(Span::NONE, |n| Span::one(*n)))
                }
                Column::Vals(vals) => vals.get(at as usize).map_or(Hull::Any, Hull::val),
                Column::Any => Hull::Any,
            };
        }
        let Some(dom) = self.state.doms.get(place) else { return Hull::Any };
        if let Some((held, hull)) = self.notes.spans.get(id.at())
            && *held == dom.stamp
        {
            return hull.clone();
        }
        let hull = match &*column {
            Column::Nums(nums) => Hull::Num(span_over(nums, &dom.alive)),
            Column::Vals(vals) => {
                Hull::of(dom.alive.iter().filter_map(|at| vals.get(*at as usize)))
            }
            Column::Any => Hull::Any,
        };
        let stamp = dom.stamp;
        keep(&mut self.notes.spans, id, stamp, &hull);
        hull
    }

    pub(super) fn column(&mut self, id: ExprId, place: usize) -> Rc<Column> {
        if let Some(Some(column)) = self.notes.columns.get(id.at()) {
            return column.clone();
        }
        let count = self.space.places.get(place).map_or(0, |p| p.choices.len());
        let (mut nums, mut vals, mut any) = (Vec::with_capacity(count), Vec::new(), false);
        let held = self.pin;
        for at in (0u32..).take(count) {
            self.pin = Some((place, at));
            match self.work_out(id) {
                Hull::Num(span) => match span.single() {
                    Some(n) => {
                        nums.push(n);
                        vals.push(Val::Num(n));
                    }
                    None if span.is_empty() => {
                        nums.push(f64::NAN);
                        vals.push(Val::Absent);
                    }
                    None => any = true,
                },
                Hull::Vals(one) => match &*one {
                    [val] => {
                        nums.push(f64::NAN);
                        vals.push(val.clone());
                    }
                    _ => any = true,
                },
                Hull::Any => any = true,
            }
            if any {
                break;
            }
        }
        self.pin = held;
        let column = Rc::new(match any {
            true => Column::Any,
            false if vals.iter().all(|v| matches!(v, Val::Num(_) | Val::Absent)) => {
                Column::Nums(nums)
            }
            false => Column::Vals(vals),
        });
        put(&mut self.notes.columns, id, column.clone());
        column
    }

    fn work_out(&mut self, id: ExprId) -> Hull {
        let pool = self.pool;
        match pool.get(id) {
            Expr::Const(bits) => Hull::Num(Span::one(f64::from_bits(*bits))),
            Expr::Word(text) => Hull::val(&Val::Text(text.clone())),
            Expr::Setting(at) => Hull::val(self.settings.value(*at)),
            Expr::Build(BuildWord::Field(at)) => {
                self.space.base.values.get(*at as usize).map_or(Hull::Any, Hull::val)
            }
            Expr::Field(kind, nth, field) => self.field(*kind, *nth, |part| {
                part.values.get(*field as usize).cloned().unwrap_or_default()
            }),
            Expr::Sub(kind, nth, field, index, sub) => {
                self.field(*kind, *nth, |part| match part.values.get(*field as usize) {
                    Some(Val::Records(records)) => records
                        .get(*index as usize)
                        .and_then(|r| r.get(*sub as usize))
                        .cloned()
                        .unwrap_or_default(),
                    _ => Val::Absent,
                })
            }
            Expr::Line(kind, nth, word) => self.line(*kind, *nth, *word),
            Expr::Cell(table, column, row) => {
                cell(self.space.catalogue.table(*table), *column, &self.hull(*row))
            }
            Expr::KeyOf(counts, key) => {
                count_of(&self.hull(*counts), &self.hull(*key)).unwrap_or(Hull::Num(Span::ALL))
            }
            Expr::Measure(_, inner) => self.hull(*inner),
            Expr::Bin(op, a, b) => {
                let (a, b) = (self.span(*a), self.span(*b));
                Hull::Num(Span::apply(*op, a, b))
            }
            Expr::Un(op, a) => Hull::Num(Span::un(*op, self.span(*a))),
            Expr::Func(at, args) => Hull::Num(self.function(*at, args)),
            Expr::Sum(_) | Expr::Pieces(_) | Expr::Build(BuildWord::Unpriced) => {
                Hull::Num(self.sum(id))
            }
            Expr::Build(BuildWord::Total) => Hull::Num(self.total()),
            Expr::Derived(at) => Hull::Num(self.derived(*at)),
            Expr::Assign(_) => Hull::Any,
        }
    }

    /// A function of the trade, which is worked out where each argument is one number.
    fn function(&mut self, at: u16, args: &[ExprId]) -> Span {
        let mut values = [0.0; 8];
        for (value, arg) in values.iter_mut().zip(args) {
            match self.span(*arg).single() {
                Some(n) => *value = n,
                None => return Span::ALL,
            }
        }
        FUNCTIONS
            .get(at as usize)
            .map_or(Span::ALL, |f| Span::one((f.run)(values.get(..args.len()).unwrap_or(&[]))))
    }

    fn field(&self, kind: KindId, nth: u16, read: impl Fn(&crate::catalogue::Part) -> Val) -> Hull {
        let own = self.own(kind);
        if let Some(place) = own.get(nth as usize) {
            return self.decided(*place).map_or(Hull::Any, |c| Hull::val(&read(&c.part)));
        }
        match self.boxed(kind) {
            Some(boxed) => Hull::val(
                &boxed.get(nth as usize - own.len()).map_or(Val::Absent, |(b, _)| read(&b.part)),
            ),
            None => Hull::Any,
        }
    }

    fn line(&self, kind: KindId, nth: u16, word: LineWord) -> Hull {
        let own = self.own(kind);
        let text = |t: &Option<Arc<str>>| t.clone().map_or(Val::Absent, Val::Text);
        if let Some(place) = own.get(nth as usize) {
            let Some(choice) = self.decided(*place) else { return Hull::Any };
            return Hull::val(&match word {
                LineWord::Count => Val::Num(f64::from(choice.line.count)),
                LineWord::Mount => text(&choice.line.mount),
                LineWord::Flow => text(&choice.line.flow),
                LineWord::FlowUsual => Val::Flag(choice.line.flow_usual),
                LineWord::Owned => Val::Flag(choice.line.owned),
                LineWord::Included => Val::Flag(false),
                LineWord::PartId => Val::Text(choice.part.id.clone()),
                LineWord::SupportDays => self.support_days(&choice.part),
                _ => offer_word(choice.facts(self.space), word),
            });
        }
        let Some(boxed) = self.boxed(kind) else { return Hull::Any };
        let Some((boxed, owned)) = boxed.get(nth as usize - own.len()) else {
            return Hull::val(&Val::Absent);
        };
        Hull::val(&match word {
            LineWord::Count => Val::Num(boxed.count),
            LineWord::Mount => boxed.mount.clone(),
            LineWord::Flow => boxed.flow.clone(),
            LineWord::Owned => Val::Flag(*owned),
            LineWord::FlowUsual => Val::Flag(boxed.flow_usual),
            LineWord::Included => Val::Flag(true),
            LineWord::PartId => Val::Text(boxed.part.id.clone()),
            LineWord::SupportDays => self.support_days(&boxed.part),
            _ => offer_word(&Facts::default(), word),
        })
    }

    fn support_days(&self, part: &crate::catalogue::Part) -> Val {
        let field = self
            .space
            .catalogue
            .kind(part.kind)
            .and_then(|k| k.field("support_until"))
            .map(|(at, _)| at);
        let day = field.and_then(|at| part.values.get(at as usize)).and_then(Val::as_text);
        day.and_then(|day| crate::build::resolve::days_until(self.space.base.priced_on, day))
            .map_or(Val::Absent, Val::Num)
    }

    /// A figure that the host works out from the whole build: known where nothing it looks at is
    /// open.
    fn derived(&mut self, at: u16) -> Span {
        if self.pin.is_some() {
            return Span::ALL;
        }
        let stamp = self.state.stamp;
        if self.notes.partial.as_ref().is_none_or(|(held, _)| *held != stamp) {
            let partial = self.partial();
            self.notes.partial = Some((stamp, partial));
        }
        let Some((_, Some(build))) = &self.notes.partial else { return Span::ALL };
        match DERIVED.get(at as usize).map(|d| (d.run)(build)) {
            Some(Ok(n)) => Span::one(n),
            _ => Span::ALL,
        }
    }

    /// The build with what is decided, the rest open; none while a box may still bring something.
    fn partial(&self) -> Option<Rc<Resolved>> {
        let mut build = (*self.space.base).clone();
        for (at, (line, place)) in build.lines.iter_mut().zip(&self.space.places).enumerate() {
            match self.decided(at) {
                Some(choice) => *line = choice.line.clone(),
                None if place.choices.iter().any(|c| !c.boxed.is_empty()) => return None,
                None => line.what = What::Open { kind: place.kind, wants: Vec::new() },
            }
        }
        Some(Rc::new(Resolved::new(Arc::new(build), self.space.catalogue.clone())))
    }
}

impl Ranges for Sight<'_> {
    fn assigned(&mut self, id: ExprId) -> Option<Vec<Answer>> {
        let pool = self.pool;
        let known = pool.assigned(id, |id| self.span(id).single().ok_or(())).ok().flatten();
        known.map(|answer| vec![answer])
    }

    /// What an expression can come to.
    fn hull(&mut self, id: ExprId) -> Hull {
        match self.pool.get(id) {
            Expr::Const(bits) => return Hull::Num(Span::one(f64::from_bits(*bits))),
            Expr::Setting(at) => return Hull::val(self.settings.value(*at)),
            _ => {}
        }
        let deps = self.deps(id);
        if deps == 0 {
            if let Some(Some(hull)) = self.notes.fixed.get(id.at()) {
                return hull.clone();
            }
            let hull = self.work_out(id);
            put(&mut self.notes.fixed, id, hull.clone());
            return hull;
        }
        if deps.is_power_of_two()
            && let Some(place) = self.notes.place_of(deps)
        {
            return self.of_one_place(id, place);
        }
        if self.pin.is_some_and(|(place, _)| deps & self.notes.mask(place) != 0) {
            return self.work_out(id);
        }
        let stamp = self.state.stamp;
        if let Some((held, hull)) = self.notes.whole.get(id.at())
            && *held == stamp
        {
            return hull.clone();
        }
        // Without the pin this is what it is with it, so it may be kept for every pin.
        let hull = self.work_out(id);
        keep(&mut self.notes.whole, id, stamp, &hull);
        hull
    }

    fn lines(&self, kind: KindId) -> (usize, Option<usize>) {
        (self.own(kind).len(), self.boxed(kind).map(|boxed| boxed.len()))
    }
}

pub(super) fn put<T: Clone>(held: &mut Vec<Option<T>>, id: ExprId, value: T) {
    if held.len() <= id.at() {
        held.resize(id.at() + 64, None);
    }
    if let Some(slot) = held.get_mut(id.at()) {
        *slot = Some(value);
    }
}

fn keep(held: &mut Vec<(u32, Hull)>, id: ExprId, stamp: u32, hull: &Hull) {
    if held.len() <= id.at() {
        held.resize(id.at() + 64, (0, Hull::Any));
    }
    if let Some(slot) = held.get_mut(id.at()) {
        *slot = (stamp, hull.clone());
    }
}

pub(super) fn span_over(column: &[f64], alive: &[u32]) -> Span {
    let mut span = Span { gap: false, ..Span::NONE };
    for at in alive {
        match column.get(*at as usize) {
            Some(n) if n.is_finite() => {
                span.lo = span.lo.min(*n);
                span.hi = span.hi.max(*n);
            }
            _ => span.gap = true,
        }
    }
    span
}

fn offer_word(facts: &Facts, word: LineWord) -> Val {
    offer_number(facts, word).map_or(Val::Absent, Val::Num)
}
