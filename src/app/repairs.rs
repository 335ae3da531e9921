//! Changes of a list that clear findings. Each is proven: its text was read again and audited with
//! every rule before it is offered, in an editor or in a report.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use jiff::civil::Date;

use crate::app::counted::count;
use crate::app::prompt::search_report::{loss, signed};
use crate::app::replacements::{self, Replacement};
use crate::app::report::{Audited, Merged, merge};
use crate::audit::finding::Finding;
use crate::build::Build;
use crate::kit::Kit;
use crate::level::Level;
use crate::source::{Label, Problems, Source};
use crate::trade::money::Money;
use crate::whatif::edit::{self, Edit};
use crate::whatif::fit::{Fit, FitRow, fit};
use crate::whatif::mend::{Mend, MendChange, edits, losses, mend, part_loss};
use crate::whatif::search::SearchLimits;
use crate::whatif::trial::Snapshot;

/// Swaps offered for one finding.
const SWAPS: usize = 3;
/// Lines of one finding whose parts are tried.
const LINES: usize = 4;
/// Sets of changes offered that clear every stop.
const WAYS: usize = 3;

/// A proven change of a list.
#[derive(Debug, Clone)]
pub struct Repair {
    pub title: String,
    pub changes: Vec<MendChange>,
    /// What the list costs more with it, or less when negative; none without an offer.
    pub more: Option<Money>,
    /// Findings that it clears: rule and level, the worst first.
    pub clears: Vec<(String, Level)>,
    /// Cautions and advice that come with it.
    pub raises: Vec<(String, Level)>,
    /// The list's text.
    source: Arc<Source>,
    pub replacements: Vec<Replacement>,
}

impl Repair {
    /// Where a replacement begins and ends: lines and columns from 1, columns in Unicode scalars.
    pub(crate) fn places(&self, one: &Replacement) -> ((usize, usize), (usize, usize)) {
        let at = |offset| self.source.line_column(offset);
        (at(one.span.start()), at(one.span.end()))
    }

    /// How many cautions come with it.
    pub(crate) fn cautions(&self) -> usize {
        self.raises.iter().filter(|(_, level)| *level == Level::Caution).count()
    }
}

/// A finding to clear.
pub(crate) struct Target {
    id: String,
    pub(crate) rule: String,
    /// The lines that it rests on, from 0, the likeliest first.
    pub(crate) lines: Vec<usize>,
}

impl Target {
    /// A finding of a list, `file` being the name that the list was read under.
    pub(crate) fn of(merged: &Merged, build: &Build, file: &str) -> Self {
        let finding = &merged.finding;
        Self {
            id: merged.id.clone(),
            rule: finding.rule.clone(),
            lines: lines_of(finding, build, file),
        }
    }
}

/// The lines that a finding rests on: that of its own place, those of the parts that it is about,
/// and those that brought in what it read.
fn lines_of(finding: &Finding, build: &Build, file: &str) -> Vec<usize> {
    let numbered = || build.lines.iter().enumerate();
    let written = |label: &Label| {
        let start = label.span.start();
        let own = numbered().filter(move |(_, line)| line.spans.part.start() == start);
        own.map(|(at, _)| at).collect::<Vec<_>>()
    };
    let here = |label: &&Label| label.source.name == file;
    let mut home = finding
        .pointers
        .iter()
        .filter_map(|p| p.label.as_ref().filter(here).or(p.line.as_ref().filter(here)));
    let mut all: Vec<usize> = home.next().map(written).unwrap_or_default();
    for subject in &finding.subjects {
        let named = numbered().filter(|(_, l)| l.part().is_some_and(|p| *p.id == **subject));
        all.extend(named.map(|(at, _)| at));
    }
    all.extend(finding.pointers.iter().filter_map(|p| p.line.as_ref()).flat_map(written));
    let mut seen = BTreeSet::new();
    all.retain(|line| seen.insert(*line));
    all
}

/// What an audit of a text says, as far as a proof compares it.
struct State {
    findings: Vec<Merged>,
    tally: BTreeMap<(Level, String), usize>,
    /// Rules that a fact decides which nobody said, and that may come to a stop.
    open_stops: BTreeSet<String>,
    open: BTreeSet<String>,
    broken: BTreeSet<String>,
    left: usize,
}

impl State {
    fn of(kit: &Kit, source: &Arc<Source>, today: Date) -> Option<Self> {
        let now = Snapshot::of(kit, source, today).ok()?;
        let mut tally = BTreeMap::new();
        for brief in now.briefs.iter().filter(|b| !b.waived) {
            *tally.entry((brief.level, brief.rule.to_string())).or_default() += 1;
        }
        let open = now.audit.open_rules();
        let open = || open.iter().filter(|o| !o.waived);
        Some(Self {
            findings: merge(now.audit.findings()).0,
            tally,
            open_stops: open().filter(|o| o.level == Level::Stop).map(|o| o.rule.clone()).collect(),
            open: open().map(|o| o.rule.clone()).collect(),
            broken: now.audit.failed().map(|(rule, _)| rule.id.to_string()).collect(),
            left: now.left.len() + now.unread.0.len(),
        })
    }

    fn number(&self, rule: &str) -> usize {
        self.tally.iter().filter(|((_, id), _)| id == rule).map(|(_, number)| number).sum()
    }

    fn has_stops(&self) -> bool {
        self.tally.keys().any(|(level, _)| *level == Level::Stop)
    }

    /// Findings that this has more of than another state: rule and level, the worst first.
    fn beyond(&self, other: &Self) -> Vec<(String, Level)> {
        let mut more = Vec::new();
        for ((level, rule), number) in self.tally.iter().rev() {
            let there = other.tally.get(&(*level, rule.clone())).copied().unwrap_or(0);
            more.extend((there..*number).map(|_| (rule.clone(), *level)));
        }
        more
    }

    /// How many findings there are at each level, the worst first.
    fn counts(&self) -> [usize; 3] {
        [Level::Stop, Level::Caution, Level::Advice].map(|level| {
            self.tally.iter().filter(|((l, _), _)| *l == level).map(|(_, number)| number).sum()
        })
    }

    /// Whether it has fewer stops, or as many and fewer cautions, or fewer advice at the same, and
    /// nothing stands in the way of building that did not before.
    fn better_than(&self, before: &Self) -> bool {
        self.counts() < before.counts()
            && self.beyond(before).iter().all(|(_, level)| *level != Level::Stop)
            && self.open_stops.is_subset(&before.open_stops)
            && self.broken.is_subset(&before.broken)
            && self.left <= before.left
    }

    /// Whether a finding of before is gone, and its rule says nothing else in its place.
    fn clears(&self, target: &Target, before: &Self) -> bool {
        let there = |m: &Merged| m.id == target.id && m.finding.waived.is_none();
        self.number(&target.rule) < before.number(&target.rule)
            && !self.findings.iter().any(there)
            && !self.open.contains(&target.rule)
    }
}

/// A text that a change makes, with what an audit says of it.
struct Tried {
    text: String,
    state: State,
}

/// What goes first among swaps: fewest cautions, least loss, lowest price.
type Order = (usize, i64, i64);

/// A list with its kit, and what was found of it already.
pub(crate) struct Bench {
    pub(crate) kit: Rc<Kit>,
    /// The list's text.
    pub(crate) source: Arc<Source>,
    /// The day that prices are of where the list gives none.
    pub(crate) today: Date,
    pub(crate) build: Build,
    before: Option<State>,
    fits: HashMap<usize, Rc<Fit>>,
    tried: HashMap<(usize, Arc<str>), Option<Rc<Tried>>>,
    mended: Option<Rc<Mend>>,
}

impl Bench {
    /// Reads a list.
    pub(crate) fn new(kit: Rc<Kit>, source: Arc<Source>, today: Date) -> Result<Self, Problems> {
        let build = kit.read(&source, today)?;
        let before = State::of(&kit, &source, today);
        let (fits, tried, mended) = (HashMap::new(), HashMap::new(), None);
        Ok(Self { kit, source, today, build, before, fits, tried, mended })
    }

    /// The list as an audit sees it.
    pub(crate) fn list(&self) -> Result<Snapshot, Problems> {
        Snapshot::of(&self.kit, &self.source, self.today)
    }

    /// What could stand on a line; what was not looked through to the end is not kept.
    pub(crate) fn fit(&mut self, line: usize, limits: SearchLimits<'_>) -> Rc<Fit> {
        if let Some(known) = self.fits.get(&line) {
            return known.clone();
        }
        let found = Rc::new(fit(&self.kit, &self.build, line, limits));
        if found.complete {
            self.fits.insert(line, found.clone());
        }
        found
    }

    /// The fewest changes that clear every stop.
    pub(crate) fn mend(&mut self, limits: SearchLimits<'_>) -> Rc<Mend> {
        if let Some(known) = &self.mended {
            return known.clone();
        }
        let found = Rc::new(mend(&self.kit, &self.build, limits));
        // What was cut short is looked for anew by who has more time.
        if !limits.over() {
            self.mended = Some(found.clone());
        }
        found
    }

    /// The list with another part on a line, audited; none where that cannot be written or read.
    fn with_part(&mut self, line: usize, part: &Arc<str>) -> Option<Rc<Tried>> {
        if let Some(known) = self.tried.get(&(line, part.clone())) {
            return known.clone();
        }
        let edit = Edit::Part { line, part: part.to_string() };
        let tried = self.with(&[edit]).map(Rc::new);
        self.tried.insert((line, part.clone()), tried.clone());
        tried
    }

    fn with(&self, edits: &[Edit]) -> Option<Tried> {
        let text = edit::apply(&self.source.text, edits).ok()?;
        let source = Source::new(self.source.name.clone(), text.clone());
        // What is begun only may lack what a whole list has.
        self.kit.read(&source, self.today).ok()?;
        Some(Tried { text, state: State::of(&self.kit, &source, self.today)? })
    }

    /// The best swaps that clear a finding, proven: those without new cautions first, then those
    /// that lose the least, then the cheapest.
    pub(crate) fn swaps(&mut self, target: &Target, limits: SearchLimits<'_>) -> Vec<Repair> {
        let mut swaps = Vec::new();
        for line in target.lines.iter().take(LINES) {
            swaps.extend(self.swaps_on(target, *line, limits));
        }
        swaps.sort_by_key(|(key, _)| *key);
        swaps.into_iter().take(SWAPS).map(|(_, swap)| swap).collect()
    }

    fn swaps_on(
        &mut self,
        target: &Target,
        line: usize,
        limits: SearchLimits<'_>,
    ) -> Vec<(Order, Repair)> {
        let (fit, ranking) = (self.fit(line, limits), self.build.ranking(self.kit.catalogue()));
        let Some(from) = &fit.now else { return Vec::new() };
        let ranks = ranking.ranks(from.kind);
        let clears = |row: &&FitRow| {
            row.price.is_some()
                && row.stops() == 0
                && row.cleared.iter().any(|(rule, _)| *rule == target.rule)
        };
        let order = |row: &FitRow| {
            let loss = part_loss(ranks, from, &row.part);
            (row.cautions(), loss, row.more.map_or(0, |m| m.minor()))
        };
        let rows = fit.rows.iter().filter(clears).map(|row| (order(row), row));
        let mut rows: Vec<(Order, &FitRow)> = rows.collect();
        rows.sort_by_key(|(order, _)| *order);
        let mut swaps = Vec::new();
        for (order, row) in rows {
            if swaps.len() >= SWAPS || limits.over() {
                break;
            }
            let Some(tried) = self.with_part(line, &row.part.id) else { continue };
            let Some(before) = &self.before else { break };
            if !tried.state.better_than(before) || !tried.state.clears(target, before) {
                continue;
            }
            let what = format!("Swap {} for {}", from.name, row.part.name);
            let losses = losses(ranks, from, &row.part);
            let (from, to) = (from.clone(), row.part.clone());
            let changes = vec![MendChange::Swap { line, from, to, losses }];
            swaps.push((order, self.repair(&what, None, changes, row.more, &tried, before)));
        }
        swaps
    }

    /// Sets of changes that clear every stop, proven: the smallest first.
    pub(crate) fn ways(&mut self, limits: SearchLimits<'_>) -> Vec<Repair> {
        let mend = self.mend(limits);
        let mut ways = Vec::new();
        for way in mend.ways.iter().filter(|way| way.offered).take(WAYS) {
            let Some(tried) = self.with(&edits(&way.changes)) else { continue };
            let Some(before) = &self.before else { break };
            if tried.state.has_stops() || !tried.state.better_than(before) {
                continue;
            }
            let what = format!("Mend every stop: {}", count(way.changes.len(), "change"));
            let proof = if mend.proven { "no smaller fix exists" } else { "best so far" };
            let changes = way.changes.clone();
            let more = Some(way.more);
            ways.push(self.repair(&what, Some(proof), changes, more, &tried, before));
        }
        ways
    }

    fn repair(
        &self,
        what: &str,
        proof: Option<&str>,
        changes: Vec<MendChange>,
        more: Option<Money>,
        tried: &Tried,
        before: &State,
    ) -> Repair {
        let (clears, raises) = (before.beyond(&tried.state), tried.state.beyond(before));
        let replacements = replacements::between(&self.source.text, &tried.text);
        let (title, source) = (String::new(), self.source.clone());
        let mut repair = Repair { title, changes, more, clears, raises, source, replacements };
        let mut said: Vec<String> = Vec::new();
        if let [MendChange::Swap { losses, .. }] = repair.changes.as_slice() {
            said.extend(losses.iter().map(|one| loss(one, &self.build.currency)));
        }
        said.push(more.map_or_else(|| "no offer".to_owned(), signed));
        if repair.cautions() > 0 {
            said.push(format!("raises {}", count(repair.cautions(), "caution")));
        }
        said.extend(proof.map(str::to_owned));
        repair.title = format!("{what} ({})", said.join(", "));
        repair
    }
}

/// Puts beside each finding in force the changes that clear it; a stop that no swap clears has the
/// smallest changes that clear every stop. `time` bounds the search.
pub(crate) fn attach(bench: &mut Bench, audited: &mut Audited, time: Duration) {
    let halt = std::sync::atomic::AtomicBool::new(false);
    let limits =
        SearchLimits { until: Instant::now().checked_add(time), ..SearchLimits::new(&halt) };
    let file = bench.source.name.clone();
    for merged in audited.findings.iter_mut().filter(|m| m.finding.waived.is_none()) {
        let target = Target::of(merged, &bench.build, &file);
        merged.fixes = bench.swaps(&target, limits);
    }
    let bare = |m: &Merged| {
        m.fixes.is_empty() && m.finding.waived.is_none() && m.finding.level == Level::Stop
    };
    if audited.findings.iter().any(bare) {
        let ways = bench.ways(limits);
        for merged in audited.findings.iter_mut().filter(|m| bare(m)) {
            merged.fixes.clone_from(&ways);
        }
    }
    audited.fixes_searched = Some(!limits.over());
}
