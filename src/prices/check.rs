//! Drift: what moved since the quote, what is gone, and which single swap would put the build back
//! under its budget.

use std::collections::HashSet;
use std::sync::Arc;

use jiff::civil::Date;

use crate::build::bill::Total;
use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::catalogue::value::Val;
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::trade::money::{Currency, Money};

/// Most swaps that are audited for one build.
const MOST_SWAPS: usize = 600;
/// Most swaps that are shown.
const MOST_SHOWN: usize = 3;

/// What moved since a build was quoted.
#[derive(Debug)]
pub struct Drift {
    /// The day it is looked at.
    pub on: Date,
    /// Lines with a quote.
    pub lines: Vec<LineDrift>,
    /// Lines to be bought that hold no quote.
    pub unquoted: usize,
    /// The quoted lines as they were quoted.
    pub then: Money,
    /// The quoted lines that have an offer, as they are now.
    pub now: Money,
    /// The whole list now, with shipping.
    pub total: Total,
    /// What it may cost.
    pub budget: Option<f64>,
    /// Swaps that would put it back under budget at the same findings, the smallest step first.
    pub swaps: Vec<Swap>,
    /// Whether every swap that could was looked at.
    pub all_tried: bool,
}

/// What moved on a line; amounts are of all its pieces.
#[derive(Debug)]
pub struct LineDrift {
    /// The part's id.
    pub part: Arc<str>,
    /// Its name.
    pub name: Arc<str>,
    /// As quoted.
    pub then: Money,
    /// The day of the quote.
    pub quoted_on: Date,
    /// As it is now; none when no seller has it.
    pub now: Option<Money>,
}

/// One part in place of another.
#[derive(Debug)]
pub struct Swap {
    /// What gives way.
    pub from: Arc<Part>,
    /// What comes.
    pub to: Arc<Part>,
    /// What the list would come to.
    pub total: Total,
}

impl Drift {
    /// How far the list is over its budget.
    pub fn over(&self) -> Option<f64> {
        self.budget.map(|b| self.total.money.to_f64() - b).filter(|over| *over > 0.000_01)
    }

    /// 1 when the quoted lines cost more, something is gone, or the list is over its budget.
    pub fn code(&self) -> u8 {
        let dearer = self.now.minor()
            > self.lines.iter().filter(|l| l.now.is_some()).map(|l| l.then.minor()).sum();
        u8::from(dearer || self.lines.iter().any(|l| l.now.is_none()) || self.over().is_some())
    }
}

/// Compares a build's quotes with the offers of a day, which is the build's pricing day by then.
pub fn drift(kit: &Kit, build: &Build) -> Drift {
    let audit = kit.audit(build);
    let resolved = audit.build();
    let zero = zero(build, resolved);
    let mut drift = Drift {
        on: build.priced_on,
        lines: Vec::new(),
        unquoted: 0,
        then: zero,
        now: zero,
        total: resolved.paid(),
        budget: build.field("budget").and_then(Val::as_num),
        swaps: Vec::new(),
        all_tried: true,
    };
    let add = |sum: &mut Money, money: &Money| *sum = sum.checked_add(money).unwrap_or(*sum);
    for (_, _, slot) in resolved.all().filter(|(_, _, s)| !s.owned && !s.included) {
        let (Some(part), Some(line)) = (&slot.part, build.lines.get(slot.line)) else { continue };
        let facts = resolved.facts(slot);
        let all = |each: Money| each.times(i64::from(line.count)).unwrap_or(each);
        let now = facts.price.map(all);
        let Some(quote) = line.quoted.filter(|q| q.price.currency() == zero.currency()) else {
            drift.unquoted += 1;
            continue;
        };
        let now = now.filter(|_| facts.sellers > 0.0);
        let then = all(quote.price);
        add(&mut drift.then, &then);
        if let Some(now) = &now {
            add(&mut drift.now, now);
        }
        drift.lines.push(LineDrift {
            part: part.id.clone(),
            name: part.name.clone(),
            then,
            quoted_on: quote.on,
            now,
        });
    }
    drift.lines.sort_by_key(|l| {
        build.lines.iter().position(|b| matches!(&b.what, What::Part(p) if p.id == l.part))
    });
    if drift.over().is_some() {
        swaps(kit, build, &audit, &mut drift);
    }
    drift
}

/// Nothing, in the build's currency; one that the table lacks has no offers, so nothing is summed
/// in it.
fn zero(build: &Build, resolved: &Resolved) -> Money {
    let any = || resolved.all().find_map(|(_, _, s)| resolved.facts(s).price).map(|m| m.currency());
    Money::zero(Currency::from_code(&build.currency).or_else(any).unwrap_or(Currency::EURO))
}

/// Findings that a swap may not add to; what is said of prices is what it is to cure.
fn findings(audit: &Audit) -> HashSet<(u16, Level)> {
    let of_prices = audit.resting_on_prices();
    audit.tally().into_keys().filter(|(rule, _)| !of_prices.contains(rule)).collect()
}

fn swaps(kit: &Kit, build: &Build, audit: &Audit, drift: &mut Drift) {
    let Some(budget) = drift.budget else { return };
    let held = findings(audit);
    let broken = audit.broken().len();
    let resolved = audit.build();
    let mut steps: Vec<(Total, usize, Arc<Part>, Arc<Part>)> = Vec::new();
    for (kind, _, slot) in resolved.all().filter(|(_, _, s)| !s.owned && !s.included) {
        let (Some(from), Some(_)) = (&slot.part, resolved.facts(slot).price) else { continue };
        for to in kit.catalogue().parts_of(kind).filter(|p| p.id != from.id) {
            let next =
                Resolved::new(Arc::new(build.with_part(slot.line, to)), kit.catalogue().clone());
            let facts = next
                .slots(kind)
                .iter()
                .find(|s| s.line == slot.line && !s.included)
                .map(|s| next.facts(s));
            if facts.is_none_or(|f| f.sellers <= 0.0 || f.price.is_none()) {
                continue;
            }
            let total = next.paid();
            if total.money.to_f64() <= budget + 0.000_01 {
                steps.push((total, slot.line, from.clone(), to.clone()));
            }
        }
    }
    // The smallest step down first: it is felt least.
    steps.sort_by(|a, b| b.0.minor().cmp(&a.0.minor()).then_with(|| a.3.id.cmp(&b.3.id)));
    drift.all_tried = steps.len() <= MOST_SWAPS;
    for (total, line, from, to) in steps.into_iter().take(MOST_SWAPS) {
        let audit = kit.audit(&build.with_part(line, &to));
        if audit.broken().len() <= broken && findings(&audit).is_subset(&held) {
            drift.swaps.push(Swap { from, to, total });
            if drift.swaps.len() >= MOST_SHOWN {
                return;
            }
        }
    }
}
