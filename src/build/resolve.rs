//! A build as the rules see it: lines by kind, with what comes in the boxes, and prices of the day.

use std::cell::OnceCell;
use std::sync::Arc;

use jiff::civil::Date;

use super::bill::{self, Bill};
use super::chambers::{self, Air};
use super::offered::{Offered, cheapest, offered};
use super::{Build, What};
use crate::catalogue::kinds::KindId;
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, Part, unboxed};
use crate::trade::money::Money;

/// A build joined with its catalogue.
#[derive(Debug)]
pub struct Resolved {
    /// The build.
    pub build: Arc<Build>,
    /// The catalogue.
    pub catalogue: Arc<Catalogue>,
    /// Every line in order of kind, and where the lines of each kind begin: two pieces of memory for a whole build.
    slots: Vec<Slot>,
    starts: Vec<u32>,
    totals: OnceCell<Totals>,
    air: OnceCell<Option<Air>>,
    bill: OnceCell<Bill>,
}

/// One line among those of its kind.
#[derive(Debug)]
pub struct Slot {
    /// The part; none while the line is open.
    pub part: Option<Arc<Part>>,
    /// Pieces.
    pub count: f64,
    /// Where it is fitted.
    pub mount: Val,
    /// Which way it blows.
    pub flow: Val,
    /// Whether the customer has it.
    pub owned: bool,
    /// Whether it came in another part's box.
    pub included: bool,
    /// The line of the build file, its own or that of the part whose box it came in.
    pub line: usize,
    /// What the sellers say, worked out when first asked.
    facts: OnceCell<Box<Facts>>,
}

/// What the offers say of a line on the pricing day.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Price of one at the till, in the build's currency.
    pub price: Option<Money>,
    /// What comes back by post for one.
    pub mail_rebate: Option<Money>,
    /// Credit for a later purchase that comes with one.
    pub credit: Option<Money>,
    /// What comes with one.
    pub bundle: Option<Arc<str>>,
    /// Its stated value.
    pub bundle_value: Option<Money>,
    /// Shipping of an order of this alone.
    pub shipping: Option<Money>,
    /// Offers in another currency for which no rate is stated: they do not count.
    pub left_out: u32,
    /// Pieces in stock over all sellers that state it.
    pub stock: Option<f64>,
    /// Sellers that have it or do not say.
    pub sellers: f64,
    /// Days since the chosen offer was seen.
    pub age_days: Option<f64>,
    /// Where the chosen offer is written.
    pub place: Option<(Arc<crate::source::Source>, crate::source::Span)>,
}

impl Facts {
    /// What the offers say of a part to be bought for a build.
    pub(crate) fn of(build: &Build, catalogue: &Catalogue, part: &Part) -> Self {
        let day = build.priced_on;
        let Offered { offers, left_out } = offered(catalogue, &part.id, &build.currency, day);
        let open = offers.iter().filter(|o| o.offer.stock != Some(0)).count();
        let pool = offers.iter().filter(|o| open == 0 || o.offer.stock != Some(0));
        let best = pool.min_by_key(|o| (o.till.minor(), o.offer.seller.clone()));
        Self {
            price: best.map(|o| o.till),
            mail_rebate: best.and_then(|o| o.mail_rebate),
            credit: best.and_then(|o| o.credit),
            bundle: best.and_then(|o| o.offer.bundle.as_ref().map(|(part, _)| part.clone())),
            bundle_value: best.and_then(|o| o.bundle_value),
            shipping: best.and_then(|o| o.shipping),
            left_out,
            stock: offers.iter().filter_map(|o| o.offer.stock).map(f64::from).reduce(|a, b| a + b),
            sellers: open as f64,
            age_days: best.map(|o| days_between(o.offer.seen_on, day)),
            place: best.map(|o| o.offer.place.clone()),
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Totals {
    price: f64,
    unpriced: f64,
}

impl Resolved {
    /// Joins a build with its catalogue.
    pub fn new(build: Arc<Build>, catalogue: Arc<Catalogue>) -> Self {
        let mut slots: Vec<(KindId, Slot)> = Vec::with_capacity(build.lines.len() + 8);
        for (at, line) in build.lines.iter().enumerate() {
            let text = |t: &Option<Arc<str>>| t.clone().map_or(Val::Absent, Val::Text);
            let part = match &line.what {
                What::Part(part) => Some(part.clone()),
                What::Open { .. } => None,
            };
            let slot = Slot {
                part,
                count: f64::from(line.count),
                mount: text(&line.mount),
                flow: text(&line.flow),
                owned: line.owned,
                included: false,
                line: at,
                facts: line.stated.clone().map_or_else(OnceCell::new, |facts| OnceCell::from(Box::new(facts))),
            };
            slots.push((line.kind(), slot));
        }
        unbox(&build, &catalogue, &mut slots);
        // A stable sort: within a kind, lines keep their order, and what came in boxes stays behind them.
        slots.sort_by_key(|(kind, _)| *kind);
        let mut starts = vec![0u32; catalogue.kinds.len() + 1];
        for (kind, _) in &slots {
            if let Some(count) = starts.get_mut(kind.0 as usize + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for start in &mut starts {
            sum += *start;
            *start = sum;
        }
        let slots = slots.into_iter().map(|(_, slot)| slot).collect();
        Self { build, catalogue, slots, starts, totals: OnceCell::new(), air: OnceCell::new(), bill: OnceCell::new() }
    }

    /// The lines of a kind: the build's own first, then what came in boxes.
    pub fn slots(&self, kind: KindId) -> &[Slot] {
        let at = kind.0 as usize;
        let (Some(from), Some(to)) = (self.starts.get(at), self.starts.get(at + 1)) else { return &[] };
        self.slots.get(*from as usize..*to as usize).unwrap_or(&[])
    }

    /// One line of a kind.
    pub fn slot(&self, kind: KindId, nth: u16) -> Option<&Slot> {
        self.slots(kind).get(nth as usize)
    }

    /// Every line with its kind.
    pub fn all(&self) -> impl Iterator<Item = (KindId, u16, &Slot)> {
        let kinds = u16::try_from(self.catalogue.kinds.len()).unwrap_or(u16::MAX);
        (0..kinds).flat_map(|kind| self.slots(KindId(kind)).iter().zip(0u16..).map(move |(slot, nth)| (KindId(kind), nth, slot)))
    }

    /// What the offers say of a line.
    pub fn facts<'a>(&self, slot: &'a Slot) -> &'a Facts {
        slot.facts.get_or_init(|| Box::new(self.find_facts(slot)))
    }

    fn find_facts(&self, slot: &Slot) -> Facts {
        match (&slot.part, slot.included) {
            (Some(part), false) => Facts::of(&self.build, &self.catalogue, part),
            _ => Facts::default(),
        }
    }

    /// The price of one at the till; the rest of what the offers say is not worked out for it.
    fn price(&self, slot: &Slot) -> Option<Money> {
        let known = slot.facts.get().map(|facts| facts.price);
        let quick = || slot.part.as_ref().and_then(|part| cheapest(&self.catalogue, &part.id, &self.build.currency, self.build.priced_on));
        known.or_else(quick).unwrap_or_else(|| self.facts(slot).price)
    }

    /// The air through the box, worked out when first asked; none where nothing moves it.
    ///
    /// # Errors
    /// The line whose part is not chosen.
    pub fn air(&self) -> Result<&Option<Air>, (KindId, u16)> {
        if let Some(air) = self.air.get() {
            return Ok(air);
        }
        let air = chambers::air(self)?;
        Ok(self.air.get_or_init(|| air))
    }

    /// What the list comes to, taken apart, worked out when first asked.
    ///
    /// # Errors
    /// The line whose part is not chosen.
    pub fn bill(&self) -> Result<&Bill, (KindId, u16)> {
        match self.open_line() {
            Some(open) => Err(open),
            None => Ok(self.bill.get_or_init(|| bill::bill(self))),
        }
    }

    /// Price at the till of every line that has an offer, customer's own and boxed parts at zero.
    pub fn total(&self) -> f64 {
        self.totals().price
    }

    /// Lines to be bought for which there is no offer.
    pub fn unpriced(&self) -> f64 {
        self.totals().unpriced
    }

    fn totals(&self) -> Totals {
        *self.totals.get_or_init(|| {
            let mut minor: i64 = 0;
            let mut unpriced = 0.0;
            let mut digits = 2;
            for slot in self.slots.iter().filter(|s| !s.owned && !s.included) {
                match &self.price(slot) {
                    Some(price) => {
                        digits = price.currency().minor_digits();
                        minor = minor.saturating_add(price.minor().saturating_mul(slot.count as i64));
                    }
                    None => unpriced += 1.0,
                }
            }
            Totals { price: minor as f64 / 10f64.powi(i32::from(digits)), unpriced }
        })
    }

    /// Whether a line whose part is not chosen counts towards the total.
    pub fn open_line(&self) -> Option<(KindId, u16)> {
        self.all().find(|(_, _, s)| s.part.is_none()).map(|(kind, nth, _)| (kind, nth))
    }

    /// Days from the pricing day to a day written as text, negative when it has passed.
    pub fn days_until(&self, day: &str) -> Option<f64> {
        days_until(self.build.priced_on, day)
    }
}

/// Adds the parts that come in the boxes; one of a single kind yields to a line of its own.
fn unbox(build: &Build, catalogue: &Catalogue, slots: &mut Vec<(KindId, Slot)>) {
    let own = slots.len();
    for (at, line) in build.lines.iter().enumerate().filter(|(_, l)| l.included) {
        let What::Part(part) = &line.what else { continue };
        let taken = |kind: KindId| slots.iter().take(own).any(|(own, _)| *own == kind);
        let boxed: Vec<_> = unboxed(catalogue, part, taken);
        for (part, include) in boxed {
            let kind = part.kind;
            let slot = Slot {
                part: Some(part),
                count: include.count * f64::from(line.count),
                mount: include.mount,
                flow: include.flow,
                owned: line.owned,
                included: true,
                line: at,
                facts: OnceCell::new(),
            };
            slots.push((kind, slot));
        }
    }
}

/// Days from a day to another written as text, negative when it has passed.
pub(crate) fn days_until(from: Date, day: &str) -> Option<f64> {
    day.parse::<Date>().ok().map(|d| days_between(from, d))
}

fn days_between(from: Date, to: Date) -> f64 {
    from.until(to).map_or(0.0, |span| f64::from(span.get_days()))
}
