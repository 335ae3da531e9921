//! A build as the rules see it: lines by kind, with what comes in the boxes, and prices of the day.

use std::cell::OnceCell;
use std::rc::Rc;
use std::sync::{Arc, LazyLock};

use jiff::civil::Date;

use super::bill::{self, Bill, Total};
use super::chambers::{self, Air};
use super::lack::Lack;
use super::{Build, What};
use crate::catalogue::kinds::KindId;
use crate::catalogue::market::{Facts, Market, days_between};
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, Include, Part, unboxed};
use crate::trade::money::Currency;

/// A build joined with its catalogue.
#[derive(Debug)]
pub struct Resolved {
    /// The build.
    pub build: Arc<Build>,
    /// The catalogue.
    pub catalogue: Arc<Catalogue>,
    /// Every line in order of kind, and where the lines of each kind begin: two pieces of memory
    /// for a whole build.
    slots: Vec<Slot>,
    starts: Vec<u32>,
    /// The first line whose part is not chosen.
    open: Option<(KindId, u16)>,
    /// The offers of its day, looked at when first asked.
    market: OnceCell<Arc<Market>>,
    air: OnceCell<Result<Option<Air>, Lack>>,
    bill: OnceCell<Bill>,
    /// With the facts that are commonly one thing filled in.
    pub(super) common: OnceCell<Option<Rc<Self>>>,
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
    /// Whether that is only how its mount is usually turned.
    pub flow_usual: bool,
    /// Whether the customer has it.
    pub owned: bool,
    /// Whether it came in another part's box.
    pub included: bool,
    /// The line of the build file, its own or that of the part whose box it came in.
    pub line: usize,
    /// What the sellers say of a part that is not of the catalogue, worked out when first asked.
    facts: OnceCell<Box<Facts>>,
}

/// Where nothing is to be bought, no offer says anything.
static NOTHING: LazyLock<Facts> = LazyLock::new(Facts::default);

impl Resolved {
    /// Joins a build with its catalogue.
    pub fn new(build: Arc<Build>, catalogue: Arc<Catalogue>) -> Self {
        let boxed = unbox(&build, &catalogue);
        // Small marks are sorted and each line is then put in its place at once: own lines by
        // number, what came in boxes behind them.
        let mut marks: Vec<(KindId, u32)> = Vec::with_capacity(build.lines.len() + boxed.len());
        marks.extend(
            build
                .lines
                .iter()
                .map(super::Line::kind)
                .chain(boxed.iter().map(|(_, part, _)| part.kind))
                .zip(0..),
        );
        marks.sort_unstable();
        let mut starts = vec![0u32; catalogue.kinds.len() + 1];
        for (kind, _) in &marks {
            if let Some(count) = starts.get_mut(kind.0 as usize + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for start in &mut starts {
            sum += *start;
            *start = sum;
        }
        let own = build.lines.len();
        let slot = |at: usize| match build.lines.get(at) {
            Some(line) => Some(Slot::own(line, at)),
            None => boxed.get(at - own).and_then(|(line, part, include)| {
                Some(Slot::boxed(build.lines.get(*line)?, *line, part, include))
            }),
        };
        let mut slots = Vec::with_capacity(marks.len());
        slots.extend(marks.iter().filter_map(|(_, at)| slot(*at as usize)));
        let open =
            slots.iter().zip(&marks).position(|(slot, _)| slot.part.is_none()).and_then(|at| {
                let (kind, _) = marks.get(at)?;
                let first = *starts.get(kind.0 as usize)?;
                Some((*kind, u16::try_from(at - first as usize).ok()?))
            });
        Self {
            build,
            catalogue,
            slots,
            starts,
            open,
            market: OnceCell::new(),
            air: OnceCell::new(),
            bill: OnceCell::new(),
            common: OnceCell::new(),
        }
    }

    /// The lines of a kind: the build's own first, then what came in boxes.
    pub fn slots(&self, kind: KindId) -> &[Slot] {
        let at = kind.0 as usize;
        let (Some(from), Some(to)) = (self.starts.get(at), self.starts.get(at + 1)) else {
            return &[];
        };
        self.slots.get(*from as usize..*to as usize).unwrap_or(&[])
    }

    /// One line of a kind.
    pub fn slot(&self, kind: KindId, nth: u16) -> Option<&Slot> {
        self.slots(kind).get(nth as usize)
    }

    /// Every line, in order of kind.
    pub(super) fn slots_in_order(&self) -> impl Iterator<Item = &Slot> {
        self.slots.iter()
    }

    /// Every line with its kind.
    pub fn all(&self) -> impl Iterator<Item = (KindId, u16, &Slot)> {
        let kinds = u16::try_from(self.catalogue.kinds.len()).unwrap_or(u16::MAX);
        (0..kinds).flat_map(|kind| {
            self.slots(KindId(kind))
                .iter()
                .zip(0u16..)
                .map(move |(slot, nth)| (KindId(kind), nth, slot))
        })
    }

    /// What the offers say of a line.
    pub fn facts<'a>(&'a self, slot: &'a Slot) -> &'a Facts {
        let Some(part) = slot.part.as_ref().filter(|_| !slot.included) else { return &NOTHING };
        if let Some(stated) =
            self.build.lines.get(slot.line).and_then(|line| line.stated.as_deref())
        {
            return stated;
        }
        let market = self.market();
        market.known(&self.catalogue, part).unwrap_or_else(|| {
            slot.facts.get_or_init(|| Box::new(market.facts(&self.catalogue, part)))
        })
    }

    fn market(&self) -> &Market {
        self.market
            .get_or_init(|| self.catalogue.market(&self.build.currency, self.build.priced_on))
    }

    /// The air through the case, worked out when first asked; none where nothing moves it.
    /// Errors: the line whose part is not chosen, or a fact that nobody said and the flow rests on.
    pub fn air(&self) -> Result<&Option<Air>, Lack> {
        self.air.get_or_init(|| chambers::air(self)).as_ref().map_err(|lack| *lack)
    }

    /// What the list comes to, taken apart, worked out when first asked. Lines whose part is not
    /// chosen are not in it.
    pub fn bill(&self) -> &Bill {
        self.bill.get_or_init(|| bill::bill(self, self.market().digits()))
    }

    /// What is to be paid: goods and shipping of the cheapest orders, before mail-in rebates. The
    /// customer's own and what is included cost nothing, and lines without an offer are not in it.
    pub fn total(&self) -> f64 {
        self.bill().number(self.bill().paid.total())
    }

    /// The same in the build's currency, with how much of it is shipping.
    pub fn paid(&self) -> Total {
        let currency = Currency::or_euro(&self.build.currency);
        Total::of(self.bill(), currency)
    }

    /// Lines to be bought for which there is no offer.
    pub fn unpriced(&self) -> f64 {
        f64::from(self.bill().unpriced)
    }

    /// The first line whose part is not chosen.
    pub fn open_line(&self) -> Option<(KindId, u16)> {
        self.open
    }

    /// Pieces of a kind of which a PC takes one that come with other parts and give way to a line
    /// of the list's own.
    pub(crate) fn spare(&self, kind: KindId) -> f64 {
        if !self.build.lines.iter().any(|line| line.kind() == kind) {
            return 0.0;
        }
        let lines = self.build.lines.iter().filter(|line| line.included);
        let boxed = lines.filter_map(|line| match &line.what {
            What::Part(part) => Some((line.count, unboxed(&self.catalogue, part, |_| false))),
            What::Open { .. } => None,
        });
        let pieces = boxed.map(|(count, within)| {
            let own = within.iter().filter(|(part, _)| part.kind == kind);
            own.map(|(_, include)| include.count * f64::from(count)).fold(0.0, |a, b| a + b)
        });
        pieces.fold(0.0, |a, b| a + b)
    }

    /// What a line itself has, without what comes with its part.
    pub(crate) fn slot_of_line(&self, line: usize) -> Option<&Slot> {
        self.all().map(|(_, _, s)| s).find(|s| s.line == line && !s.included)
    }

    /// Days from the pricing day to a day written as text, negative when it has passed.
    pub fn days_until(&self, day: &str) -> Option<f64> {
        days_until(self.build.priced_on, day)
    }
}

impl Slot {
    fn own(line: &super::Line, at: usize) -> Self {
        let text = |t: &Option<Arc<str>>| t.clone().map_or(Val::Absent, Val::Text);
        let part = match &line.what {
            What::Part(part) => Some(part.clone()),
            What::Open { .. } => None,
        };
        Self {
            part,
            count: f64::from(line.count),
            mount: text(&line.mount),
            flow: text(&line.flow),
            flow_usual: line.flow_usual,
            owned: line.owned,
            included: false,
            line: at,
            facts: OnceCell::new(),
        }
    }

    fn boxed(line: &super::Line, at: usize, part: &Arc<Part>, include: &Include) -> Self {
        Self {
            part: Some(part.clone()),
            count: include.count * f64::from(line.count),
            mount: include.mount.clone(),
            flow: include.flow.clone(),
            flow_usual: include.flow_usual,
            owned: line.owned,
            included: true,
            line: at,
            facts: OnceCell::new(),
        }
    }
}

/// The parts that come in the boxes, with the line of the box; one of a single kind yields to a
/// line of its own.
fn unbox(build: &Build, catalogue: &Catalogue) -> Vec<(usize, Arc<Part>, Include)> {
    let taken = |kind: KindId| build.lines.iter().any(|line| line.kind() == kind);
    let mut boxed = Vec::new();
    for (at, line) in build.lines.iter().enumerate().filter(|(_, l)| l.included) {
        let What::Part(part) = &line.what else { continue };
        boxed.extend(
            unboxed(catalogue, part, taken).into_iter().map(|(part, include)| (at, part, include)),
        );
    }
    boxed
}

/// Days from a day to another written as text, negative when it has passed.
pub(crate) fn days_until(from: Date, day: &str) -> Option<f64> {
    day.parse::<Date>().ok().map(|d| days_between(from, d))
}
