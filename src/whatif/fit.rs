//! What could stand on one line: every part of its kind, what it costs, raises, clears and moves;
//! and the next steps up and down.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use crate::build::bill::Total;
use crate::build::resolve::Resolved;
use crate::build::{Build, Line};
use crate::catalogue::Part;
use crate::catalogue::ranks::Rank;
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::rules::loader::Better;
use crate::trade::money::Money;
use crate::whatif::mend::{MendLoss, losses};
use crate::whatif::open_lines::{as_judged, unmet_wants};
use crate::whatif::search::space::Space;
use crate::whatif::search::{SearchLimits, affected};

/// What could stand on a line.
#[non_exhaustive]
#[derive(Default)]
pub struct Fit {
    /// The part that stands there, or that the line is judged with while it is open; none where no
    /// part fits an open line.
    pub now: Option<Arc<Part>>,
    /// Every part of the kind but that one, the ones that stop least first, then those that clear
    /// most stops, then by cautions and price.
    pub rows: Vec<FitRow>,
    /// Rules about parts of this kind that wait for facts as the list stands, the worst they may
    /// come to first: what they would say of another part is not known either.
    pub waiting: Vec<(String, Level)>,
    /// Measures that tell better from worse.
    pub measures: Vec<FitMeasure>,
    /// Whether every part was looked at before the time was over.
    pub complete: bool,
    /// By what parts of the kind are ranked.
    ranks: Vec<Rank>,
}

/// A measure that tells better from worse.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct FitMeasure {
    /// Its id.
    pub id: String,
    /// What reports call it.
    pub name: Arc<str>,
    /// Its unit.
    pub unit: Arc<str>,
    /// Which way is better.
    #[doc(hidden)]
    pub better: Better,
    /// Whether it is made of the whole price, so that it says again what that says.
    pub of_prices: bool,
    rule: u16,
}

/// One part that could stand on the line.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct FitRow {
    /// The part.
    pub part: Arc<Part>,
    /// Price of all its pieces; none without an offer.
    pub price: Option<Money>,
    /// What the whole list would cost more, or less when negative; none without an offer.
    pub more: Option<Money>,
    /// Wants of the open line that it does not meet.
    pub unmet: Vec<String>,
    /// Findings that it raises: rule and level, the worst first.
    pub raised: Vec<(String, Level)>,
    /// Findings that it clears.
    pub cleared: Vec<(String, Level)>,
    /// Rules that it leaves open, as nobody said a fact of it, with the worst they may come to.
    pub opened: Vec<(String, Level)>,
    /// Whether what it leaves open counts for nothing.
    trusted: bool,
    /// Rules that break on it.
    pub broken: Vec<String>,
    /// Measures that move: place in `Fit::measures`, before, after.
    pub moved: Vec<(usize, f64, f64)>,
    /// Whether another part costs no more, raises no more and is no worse in any measure, and
    /// better in something.
    pub beaten: bool,
}

impl FitRow {
    /// How many stops it raises or leaves open; a rule that breaks counts as one.
    pub fn stops(&self) -> usize {
        self.at(Level::Stop) + self.broken.len()
    }

    /// How many cautions it raises or leaves open.
    pub fn cautions(&self) -> usize {
        self.at(Level::Caution)
    }

    fn at(&self, level: Level) -> usize {
        let opened: &[_] = if self.trusted { &[] } else { &self.opened };
        self.raised.iter().chain(opened).filter(|(_, l)| *l == level).count()
    }

    /// Whether it may stand on the line as it is: it raises no stop and meets the line's wants.
    pub fn fits(&self) -> bool {
        self.stops() == 0 && self.unmet.is_empty()
    }

    /// What goes first: what fits, then stops and wants not met, what clears most stops, cautions,
    /// then what it costs more, known before unknown.
    fn key(&self) -> (usize, Reverse<usize>, usize, bool, i64) {
        let more = self.more.map_or(0, |m| m.minor());
        let cleared = self.cleared.iter().filter(|(_, level)| *level == Level::Stop).count();
        let stops = self.stops() + self.unmet.len();
        (stops, Reverse(cleared), self.cautions(), self.more.is_none(), more)
    }

    /// By how much a measure is better with it; negative when worse.
    fn gain(&self, at: usize, told: &FitMeasure) -> f64 {
        self.moved.iter().find(|(m, ..)| *m == at).map_or(0.0, |(_, from, to)| {
            if told.better == Better::More { to - from } else { from - to }
        })
    }
}

/// A line's own part and every other of its kind.
pub(crate) fn every_part(kit: &Kit, line: &Line) -> Vec<Line> {
    kit.catalogue().parts_of(line.kind()).map(|part| line.with_part(part)).collect()
}

/// Looks at every part that could stand on a line of a build. Open lines have on them what an audit
/// judges them with, beside each of the parts.
pub fn fit(kit: &Kit, build: &Build, line: usize, limits: SearchLimits<'_>) -> Fit {
    let written = build;
    let settled = as_judged(kit, written);
    let build = &*settled;
    let base = kit.audit(build);
    let (Some(there), Some(open)) = (build.lines.get(line), written.lines.get(line)) else {
        return Fit { complete: true, ..Fit::default() };
    };
    let rules = kit.rules();
    let measures = told_measures(kit, &base);
    let mut choices = vec![Vec::new(); build.lines.len()];
    if let Some(slot) = choices.get_mut(line) {
        *slot = every_part(kit, open);
    }
    let space = Space::new(build, kit.catalogue(), choices);
    // A rule whose way asked nothing of this line says the same whatever stands here.
    // Where no part passes on an open line now, it stays open beside every other part too.
    let mut others = written.lines.iter().zip(&build.lines).enumerate();
    let resettles = others.any(|(at, (other, judged))| {
        at != line && other.part().is_none() && judged.part().is_some()
    });
    let kind = kit.catalogue().kind(there.kind());
    let mut waiting = base.opened_since(&BTreeMap::new(), |_| true);
    waiting.retain(|(rule, _)| {
        rules.rule(rule).zip(kind).is_some_and(|(rule, kind)| rule.names(&kind.name))
    });
    let which = match resettles {
        true => (0u16..).take(rules.rules.len()).collect(),
        false => affected(kit, &space, &base),
    };
    let before = Before::of(&base, line, limits);
    let now = there.part().cloned();
    let mut rows = Vec::new();
    let mut complete = true;
    for (at, choice) in space.places.get(line).map_or(&[][..], |p| &p.choices).iter().enumerate() {
        if now.as_ref().is_some_and(|n| n.id == choice.part.id) {
            continue;
        }
        if limits.over() {
            complete = false;
            break;
        }
        let picks: Vec<u32> =
            (0..build.lines.len()).map(|l| if l == line { at as u32 } else { 0 }).collect();
        let resolved = match resettles {
            true => {
                let with = written.with_part(line, &choice.part);
                let judged = Arc::new(as_judged(kit, &with).into_owned());
                Rc::new(Resolved::new(judged, kit.catalogue().clone()))
            }
            false => space.resolved(&picks),
        };
        let audit = kit.audit_with(&resolved, &which);
        let cost = choice.priced.then(|| choice.costs.goods());
        let row = before.row(kit, &audit, &which, choice.part.clone(), cost, &measures);
        // Wants that cannot be read are told when the list is.
        let unmet = unmet_wants(kit, written, line, &choice.part).unwrap_or_default();
        rows.push(FitRow { unmet, ..row });
    }
    mark_beaten(&mut rows, &measures);
    rows.sort_by(|a, b| a.key().cmp(&b.key()).then_with(|| a.part.id.cmp(&b.part.id)));
    let ranks = build.ranking(kit.catalogue()).ranks(there.kind()).to_vec();
    Fit { now, rows, waiting, measures, complete, ranks }
}

/// The measures of which more, or less, is better.
fn told_measures(kit: &Kit, base: &Audit) -> Vec<FitMeasure> {
    let (rules, of_prices) = (kit.rules(), base.resting_on_prices());
    let told = rules.rules.iter().zip(0u16..).filter_map(|(rule, at)| {
        let (better, unit) = (rule.better?, rule.unit.clone()?);
        let of_prices = of_prices.contains(&at);
        let (id, name) = (rule.id.to_string(), rule.name.clone());
        Some(FitMeasure { id, name, unit, better, of_prices, rule: at })
    });
    told.collect()
}

/// The build as it is.
struct Before {
    tally: BTreeMap<(u16, Level), usize>,
    open: BTreeMap<(String, Level), usize>,
    trusting: bool,
    line: usize,
    numbers: Vec<(u16, f64)>,
    total: Total,
}

impl Before {
    fn of(base: &Audit, line: usize, limits: SearchLimits<'_>) -> Self {
        Self {
            tally: base.tally(),
            open: base.open_tally(|_| true),
            line,
            trusting: limits.trust_unknown,
            numbers: base.numbers(),
            total: base.build().paid(),
        }
    }

    fn row(
        &self,
        kit: &Kit,
        audit: &Audit,
        which: &[u16],
        part: Arc<Part>,
        cost: Option<i64>,
        measures: &[FitMeasure],
    ) -> FitRow {
        let rules = kit.rules();
        let after = audit.tally();
        let (mut raised, mut cleared) = (Vec::new(), Vec::new());
        let name =
            |at: u16| rules.rules.get(at as usize).map_or_else(String::new, |r| r.id.to_string());
        for at in which {
            for level in [Level::Stop, Level::Caution, Level::Advice] {
                let count = |tally: &BTreeMap<(u16, Level), usize>| {
                    tally.get(&(*at, level)).copied().unwrap_or(0)
                };
                let (was, is) = (count(&self.tally), count(&after));
                raised.extend((was..is).map(|_| (name(*at), level)));
                cleared.extend((is..was).map(|_| (name(*at), level)));
            }
        }
        for found in [&mut raised, &mut cleared] {
            found.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        }
        let numbers = audit.numbers();
        let find = |numbers: &[(u16, f64)], rule: u16| {
            numbers.iter().find(|(at, _)| *at == rule).map(|(_, n)| *n)
        };
        let told = measures.iter().enumerate().filter(|(_, told)| which.contains(&told.rule));
        let moved = told.filter_map(|(at, told)| {
            let (was, is) = (find(&self.numbers, told.rule)?, find(&numbers, told.rule)?);
            ((is - was).abs() > 1e-9 * was.abs().max(1.0)).then_some((at, was, is))
        });
        let moved: Vec<(usize, f64, f64)> = moved.collect();
        let currency = self.total.money.currency();
        let more = cost.and_then(|_| audit.build().paid().over(&self.total));
        let broken = audit.failed().map(|(rule, _)| rule.id.to_string()).collect();
        FitRow {
            part,
            price: cost.map(|c| Money::from_minor(c, currency)),
            more,
            unmet: Vec::new(),
            raised,
            cleared,
            opened: audit.opened_since(&self.open, |line| line == self.line),
            trusted: self.trusting,
            broken,
            moved,
            beaten: false,
        }
    }
}

/// Marks each row that another is at least as good as in everything and better in something.
fn mark_beaten(rows: &mut [FitRow], measures: &[FitMeasure]) {
    let keys: Vec<Option<Vec<f64>>> = rows
        .iter()
        .map(|row| {
            let mut key = vec![row.more?.minor() as f64, row.stops() as f64, row.cautions() as f64];
            key.push(row.unmet.len() as f64);
            // What is made of money moves with the price, which is counted already.
            let counted = measures.iter().enumerate().filter(|(_, told)| !told.of_prices);
            key.extend(counted.map(|(at, told)| -row.gain(at, told)));
            Some(key)
        })
        .collect();
    for (at, row) in rows.iter_mut().enumerate() {
        let Some(Some(own)) = keys.get(at) else { continue };
        row.beaten = keys
            .iter()
            .flatten()
            .any(|other| other.iter().zip(own).all(|(o, m)| o <= m) && other != own);
    }
}

/// A step from the part on a line to another.
#[derive(Debug, Clone)]
pub struct Step {
    /// The part.
    pub row: FitRow,
    /// In what it is better, by what its kind ranks by: the figures then, and now.
    pub better: Vec<MendLoss>,
    /// In what it is worse.
    pub worse: Vec<MendLoss>,
    /// What it buys, or what is given up for it, the largest share first.
    pub buys: Vec<Gain>,
}

/// What a step changes in one measure.
#[derive(Debug, Clone)]
pub struct Gain {
    /// The measure's place in `Fit::measures`.
    pub measure: usize,
    /// Its number now.
    pub from: f64,
    /// Its number then.
    pub to: f64,
    /// The money for one unit of it, where more money buys more of it.
    pub each: Option<f64>,
}

/// How many steps each way are looked for on a line.
const STEPS: usize = 2;

/// The next steps up and down on a line that raise no new stop: dearer parts that are better by a
/// rank of the kind and worse by none, and cheaper ones. Where a kind has no ranks, measures say
/// what is better.
pub fn steps(fit: &Fit) -> (Vec<Step>, Vec<Step>) {
    let sound = |r: &&FitRow| r.fits() && !r.beaten && r.more.is_some();
    let minor = |r: &FitRow| r.more.map_or(0, |m| m.minor());
    let (better, worse) = (
        |r: &FitRow, now: &Part| fit.ranks.iter().any(|rank| rank.loss(&r.part, now) > 0.0),
        |r: &FitRow, now: &Part| fit.ranks.iter().any(|rank| rank.loss(now, &r.part) > 0.0),
    );
    let gains = |r: &FitRow| match fit.now.as_deref().filter(|_| !fit.ranks.is_empty()) {
        Some(now) => better(r, now) && !worse(r, now),
        None => better_somewhere(r, &fit.measures),
    };
    let mut up: Vec<&FitRow> =
        fit.rows.iter().filter(sound).filter(|r| minor(r) > 0 && gains(r)).collect();
    // What saves nothing and gains nothing is no step.
    let mut down: Vec<&FitRow> = fit
        .rows
        .iter()
        .filter(sound)
        .filter(|r| minor(r) < 0 || (minor(r) == 0 && gains(r)))
        .collect();
    up.sort_by_key(|r| minor(r));
    down.sort_by_key(|r| -minor(r));
    let lost = |from: Option<&Part>, to: Option<&Part>| {
        from.zip(to).map_or_else(Vec::new, |(from, to)| losses(&fit.ranks, from, to))
    };
    let step = |row: &&FitRow| {
        let (now, then) = (fit.now.as_deref(), Some(&*row.part));
        let (better, worse) = (lost(then, now), lost(now, then));
        Step { buys: buys(row, &fit.measures), better, worse, row: (*row).clone() }
    };
    (up.iter().take(STEPS).map(step).collect(), down.iter().take(STEPS).map(step).collect())
}

/// The least amount that is worth a word.
const CENT: f64 = 0.005;
/// Share of its value by which a measure must move to be worth a word.
const SMALL: f64 = 0.02;

/// By which share of the larger a measure moves.
pub(crate) fn share(from: f64, to: f64) -> f64 {
    (to - from).abs() / from.abs().max(to.abs()).max(1e-9)
}

fn better_somewhere(row: &FitRow, measures: &[FitMeasure]) -> bool {
    let told = |at: usize| measures.get(at).filter(|t| !t.of_prices);
    row.moved.iter().any(|(at, from, to)| {
        share(*from, *to) >= SMALL && told(*at).is_some_and(|t| row.gain(*at, t) > 0.0)
    })
}

/// Whether a unit is that of money, or of money for something.
fn is_money(unit: &str) -> bool {
    unit.contains("money") || (unit.len() == 3 && unit.chars().all(|c| c.is_ascii_uppercase()))
}

fn buys(row: &FitRow, measures: &[FitMeasure]) -> Vec<Gain> {
    let more = row.more.map_or(0.0, |m| m.to_f64());
    let mut moved: Vec<(f64, Gain)> = Vec::new();
    for &(measure, from, to) in &row.moved {
        let Some(told) = measures.get(measure).filter(|t| !t.of_prices) else { continue };
        if share(from, to) < SMALL {
            continue;
        }
        let gain = row.gain(measure, told);
        // Money for a unit makes sense where more money buys more, or less money costs some.
        let sensible = !is_money(&told.unit)
            && gain != 0.0
            && (more > 0.0) == (gain > 0.0)
            && (more / gain).abs() >= CENT;
        let each = sensible.then(|| (more / gain).abs());
        moved.push((share(from, to), Gain { measure, from, to, each }));
    }
    moved.sort_by(|a, b| b.0.total_cmp(&a.0));
    moved.into_iter().map(|(_, m)| m).collect()
}
