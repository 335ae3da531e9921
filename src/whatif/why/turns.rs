//! Which parts would turn what a rule says, if only one line changed.

use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use super::Why;
use crate::build::Build;
use crate::build::resolve::Resolved;
use crate::catalogue::Part;
use crate::kit::{Audit, Kit, Outcome};
use crate::level::Level;
use crate::trade::money::Money;
use crate::whatif::open_lines::as_judged;
use crate::whatif::trial::Snapshot;

/// Most parts that are tried.
pub const MOST_TRIED: usize = 4000;
/// Longest time spent on trying them.
pub const MOST_TIME: Duration = Duration::from_millis(500);
/// Most parts kept a line.
const MOST_KEPT: usize = 200;
/// Parts shown a line, each with what else it would stop.
pub const MOST_SHOWN: usize = 3;

/// A line and the parts that would turn the verdict if only that line changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// The line's number, from 1.
    pub line: usize,
    /// What stands there.
    pub name: String,
    /// The kind's word.
    pub kind: String,
    /// How many parts of the kind were tried.
    pub of: usize,
    /// Those that turn it, the cheapest first.
    pub parts: Vec<Choice>,
    /// How many turn it altogether.
    pub count: usize,
}

/// A part that would turn the verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Price of one, if there is an offer.
    pub price: Option<f64>,
    /// What the rule would find with it: stops, cautions, advice.
    pub left: [usize; 3],
    /// Rules that would stop the build and do not now.
    pub stops: Vec<String>,
    /// Stops that it would leave open, as nobody said a fact of it.
    pub opens: Vec<String>,
}

/// Findings by level, stops first: fewer is better. What a missing fact leaves open counts as
/// found.
fn weight(kit: &Kit, audit: &Audit) -> [usize; 3] {
    let mut weight = [0; 3];
    let mut count = |level: Level, number: usize| {
        let at = match level {
            Level::Stop => 0,
            Level::Caution => 1,
            Level::Advice => 2,
        };
        if let Some(slot) = weight.get_mut(at) {
            *slot += number;
        }
    };
    let settings = kit.settings();
    for (rule, outcome) in audit.outcomes() {
        let chosen = settings.choices.get(&*rule.id).and_then(|c| c.level);
        for (draft, ..) in outcome.found() {
            count(chosen.unwrap_or(draft.level), 1);
        }
    }
    for ((_, level), number) in audit.open_tally(|_| true) {
        count(level, number);
    }
    weight
}

impl Turn {
    /// Keeps the parts that were found, those that leave the least and cost the least first.
    fn keep(&mut self, mut found: Vec<(Option<f64>, Arc<Part>, [usize; 3])>) {
        found.sort_by(|a, b| {
            a.2.cmp(&b.2)
                .then_with(|| a.0.unwrap_or(f64::INFINITY).total_cmp(&b.0.unwrap_or(f64::INFINITY)))
                .then_with(|| a.1.id.cmp(&b.1.id))
        });
        self.count = found.len();
        found.truncate(MOST_KEPT);
        self.parts = found
            .into_iter()
            .map(|(price, part, next)| Choice {
                id: part.id.to_string(),
                name: part.name.to_string(),
                price,
                left: next,
                stops: Vec::new(),
                opens: Vec::new(),
            })
            .collect();
    }
}

/// A build as it is judged: beside another part an open line may be judged with another.
fn joined(kit: &Kit, build: &Build) -> Rc<Resolved> {
    let judged = Arc::new(as_judged(kit, build).into_owned());
    Rc::new(Resolved::new(judged, kit.catalogue().clone()))
}

/// Tries the parts of each line's kind in its place.
pub(super) fn turns(kit: &Kit, now: &Snapshot, rule: u16, touched: &[usize], why: &mut Why) {
    let (build, judged) = (now.build(), &now.audit.build().build);
    let catalogue = &now.audit.build().catalogue;
    let until = Instant::now() + MOST_TIME;
    let alone = kit.audit_with(now.audit.build(), &[rule]);
    let present = weight(kit, &alone);
    let mut lines: Vec<usize> = touched.to_vec();
    lines.sort_unstable();
    lines.dedup();
    for at in lines {
        let Some(line) = build.lines.get(at) else { continue };
        let Some(kind) = catalogue.kind(line.kind()) else { continue };
        let held = line.part().or_else(|| judged.lines.get(at)?.part());
        let mut turn = Turn {
            line: at + 1,
            name: held.map_or_else(|| format!("any {}", kind.name), |p| p.name.to_string()),
            kind: kind.name.to_string(),
            of: 0,
            parts: Vec::new(),
            count: 0,
        };
        let mut found: Vec<(Option<f64>, Arc<Part>, [usize; 3])> = Vec::new();
        for part in catalogue.parts_of(line.kind()).filter(|p| held.is_none_or(|h| h.id != p.id)) {
            if why.tried.0 >= MOST_TRIED || Instant::now() > until {
                why.tried.1 = false;
                break;
            }
            why.tried.0 += 1;
            turn.of += 1;
            let swapped = joined(kit, &build.with_part(at, part));
            let audit = kit.audit_with(&swapped, &[rule]);
            let broken = audit
                .outcomes()
                .any(|(_, o)| !matches!(o, Outcome::Known(_) | Outcome::Explored(_)));
            let next = weight(kit, &audit);
            let turned = if present == [0; 3] { next != present } else { next < present };
            if turned && !broken {
                found.push((price(&swapped, at), part.clone(), next));
            }
        }
        turn.keep(found);
        if turn.of > 0 {
            why.turns.push(turn);
        }
    }
    side_effects(kit, now, why);
}

/// The stops that the first few parts of each line would bring with them.
fn side_effects(kit: &Kit, now: &Snapshot, why: &mut Why) {
    let build = now.build();
    let catalogue = &now.audit.build().catalogue;
    let stops = |audit: &Audit| -> Vec<String> {
        audit
            .briefs()
            .iter()
            .filter(|f| f.level == Level::Stop && !f.waived)
            .map(|f| f.rule.to_string())
            .collect()
    };
    let (held, open) = (stops(&now.audit), now.audit.open_tally(|_| true));
    for turn in &mut why.turns {
        for option in turn.parts.iter_mut().take(MOST_SHOWN) {
            let Some(part) = catalogue.part(&option.id) else { continue };
            let swapped = joined(kit, &build.with_part(turn.line - 1, part));
            let audit = kit
                .audit_with(&swapped, &(0u16..).take(kit.rules().rules.len()).collect::<Vec<_>>());
            let fresh = stops(&audit).into_iter().filter(|s| *s != why.rule && !held.contains(s));
            option.stops = fresh.collect();
            let opened = audit.opened_since(&open, |line| line + 1 == turn.line).into_iter();
            option.opens =
                opened.filter(|(_, l)| *l == Level::Stop).map(|(rule, _)| rule).collect();
            option.stops.dedup();
        }
    }
}

/// Price of one of the part on a line.
pub fn price(build: &Resolved, line: usize) -> Option<f64> {
    let slot = build.slot_of_line(line)?;
    build.facts(slot).price.as_ref().map(Money::to_f64)
}
