//! Mixtures of two lists: which of them pass, what could be weighed, and a way from one to the
//! other that never raises a stop.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap, HashMap};

use crate::build::bill::Total;
use crate::build::{Build, Line, What};
use crate::kit::Kit;
use crate::level::Level;
use crate::source::{Problem, Problems};

use crate::whatif::search::query::{Goal, Keep, Quest, SearchLimits};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::Space;

/// Most lines that only one of the lists has: each doubles the shapes that a mixture can take.
pub const MOST_EXTRA: usize = 6;
/// Most lines in which two lists may differ.
pub const MOST_DIFFERENCES: usize = 28;
/// Most differences for which every mixture is audited; with more, only what nothing else beats is
/// looked for.
const MOST_COUNTED: usize = 12;

/// A place in which two lists differ.
#[derive(Debug, Clone)]
pub struct Difference {
    /// The line of the first list; none where only the second has one.
    pub ours: Option<Line>,
    /// The line of the second.
    pub theirs: Option<Line>,
}

/// A mixture of two lists.
#[derive(Debug, Clone)]
pub struct Mixture {
    /// Which differences are taken from the second list, a bit each.
    pub taken: u32,
    /// The build.
    pub build: Build,
    /// Goods and shipping.
    pub total: Total,
    /// The measure it is weighed by; none when it does not apply.
    pub value: Option<f64>,
    /// Whether no other mixture that passes is cheaper and at least as good, or better at the same
    /// price.
    pub on_front: bool,
}

/// What mixtures of two lists there are.
pub struct Mix {
    /// Where they differ, in the order of the first list.
    pub differences: Vec<Difference>,
    /// How many mixtures there are, the two lists among them.
    pub count: u64,
    /// Those that nothing stops, the cheapest first; with many differences only those that no other
    /// beats.
    pub passing: Vec<Mixture>,
    /// Whether `passing` holds all that pass.
    pub counted: bool,
    /// Whether every mixture was looked at.
    pub complete: bool,
    /// A way from the first list to the second, one difference at a time: after each step nothing
    /// stops the build. None where there is none, or where one of the two is stopped itself.
    pub path: Option<Vec<usize>>,
    /// Whether a way that is missing is proven to be none.
    pub path_proven: bool,
    /// Rules that broke on every mixture that was tried first: none is held to them.
    pub left_out: BTreeSet<String>,
}

/// Mixes two lists; `measure` is what the price is weighed against, and whether more of it is
/// better.
/// Errors: the lists differ in too many lines, or leave one open.
pub fn mix(
    kit: &Kit,
    ours: &Build,
    theirs: &Build,
    measure: Option<(u16, bool)>,
    limits: SearchLimits<'_>,
) -> Result<Mix, Problems> {
    let Differences { pairs, differing, extra } = differences(ours, theirs)?;
    let mut mix = Mix {
        differences: differing
            .iter()
            .filter_map(|at| pairs.get(*at))
            .map(|(a, b)| Difference { ours: a.clone(), theirs: b.clone() })
            .collect(),
        count: 1u64 << differing.len(),
        passing: Vec::new(),
        counted: differing.len() <= MOST_COUNTED,
        complete: true,
        path: None,
        path_proven: true,
        left_out: BTreeSet::new(),
    };
    for shape in 0..1u32 << extra.len() {
        if limits.over() {
            mix.complete = false;
            break;
        }
        let has =
            |at: usize| extra.iter().position(|e| *e == at).map(|bit| shape & (1 << bit) != 0);
        of_shape(kit, ours, &pairs, &differing, &has, measure, limits, &mut mix);
    }
    mix.passing.sort_by(|a, b| a.total.minor().cmp(&b.total.minor()).then(a.taken.cmp(&b.taken)));
    mark_front(&mut mix.passing, measure.is_none_or(|(_, most)| most));
    let mut crossing = Crossing {
        kit,
        pairs: &pairs,
        differing: &differing,
        ours,
        passes: HashMap::new(),
        left_out: &mix.left_out,
        limits,
    };
    if mix.counted && mix.complete {
        crossing.passes = (0..1u32 << differing.len()).map(|taken| (taken, false)).collect();
    }
    crossing.passes.extend(mix.passing.iter().map(|m| (m.taken, true)));
    (mix.path, mix.path_proven) = crossing.path();
    Ok(mix)
}

/// Two lists side by side, and where they differ.
struct Differences {
    pairs: Vec<(Option<Line>, Option<Line>)>,
    /// Places among the pairs that differ.
    differing: Vec<usize>,
    /// Those of them that only one list has.
    extra: Vec<usize>,
}

fn differences(ours: &Build, theirs: &Build) -> Result<Differences, Problems> {
    for build in [ours, theirs] {
        if let Some(line) = build.lines.iter().find(|l| matches!(l.what, What::Open { .. })) {
            let problem = Problem::new("a line is left open, and only what is chosen can be mixed")
                .at(&build.source, line.spans.part, "open");
            return Err(problem.help("choose a part first: `dryfit prices pin`").into());
        }
    }
    let pairs = pairs(ours, theirs);
    let differing: Vec<usize> = pairs
        .iter()
        .enumerate()
        .filter(|(_, (a, b))| !same(a.as_ref(), b.as_ref()))
        .map(|(at, _)| at)
        .collect();
    let extra: Vec<usize> = differing
        .iter()
        .copied()
        .filter(|at| pairs.get(*at).is_some_and(|(a, b)| a.is_none() || b.is_none()))
        .collect();
    if extra.len() > MOST_EXTRA || differing.len() > MOST_DIFFERENCES {
        let problem = format!(
            "these lists differ in {} lines, {} of which only one of them has",
            differing.len(),
            extra.len()
        );
        let help = format!(
            "mix lists that differ in {MOST_DIFFERENCES} lines at the most, {MOST_EXTRA} of them \
             in one list only"
        );
        return Err(Problem::new(problem).help(help).into());
    }
    Ok(Differences { pairs, differing, extra })
}

/// Lines of both lists side by side: each with the line of the same kind that stands as far down,
/// mounts first of all.
fn pairs(ours: &Build, theirs: &Build) -> Vec<(Option<Line>, Option<Line>)> {
    let mut left: Vec<Option<&Line>> = theirs.lines.iter().map(Some).collect();
    let mut pairs: Vec<(Option<Line>, Option<Line>)> = Vec::new();
    // What is the same on both sides pairs up first, then what is fitted in the same place, then by
    // order.
    let tests: [fn(&Line, &Line) -> bool; 3] = [
        |a, b| same(Some(a), Some(b)),
        |a, b| a.kind() == b.kind() && a.mount == b.mount && a.flow == b.flow,
        |a, b| a.kind() == b.kind(),
    ];
    let mut found: Vec<Option<usize>> = vec![None; ours.lines.len()];
    for test in tests {
        for (line, slot) in ours.lines.iter().zip(found.iter_mut()).filter(|(_, s)| s.is_none()) {
            if let Some(at) =
                left.iter().position(|other| other.is_some_and(|other| test(line, other)))
            {
                *slot = Some(at);
                if let Some(taken) = left.get_mut(at) {
                    *taken = None;
                }
            }
        }
    }
    for (line, at) in ours.lines.iter().zip(found) {
        pairs.push((Some(line.clone()), at.and_then(|at| theirs.lines.get(at)).cloned()));
    }
    pairs.extend(left.into_iter().flatten().map(|line| (None, Some(line.clone()))));
    pairs
}

fn same(a: Option<&Line>, b: Option<&Line>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => {
            let part = matches!((&a.what, &b.what), (What::Part(a), What::Part(b)) if a.id == b.id);
            part && a.count == b.count
                && a.mount == b.mount
                && a.flow == b.flow
                && a.owned == b.owned
                && a.included == b.included
        }
        _ => false,
    }
}

/// The lines of mixtures that are alike but for what is chosen of both lists.
#[derive(Default)]
struct Shape {
    lines: Vec<Line>,
    /// By line, what may stand there; nothing where both lists agree.
    choices: Vec<Vec<Line>>,
    /// By line, the bit of its difference, where something is chosen.
    from: Vec<Option<usize>>,
    /// Bits of differences that the shape itself decides.
    taken: u32,
}

fn shape(
    pairs: &[(Option<Line>, Option<Line>)],
    differing: &[usize],
    has: &dyn Fn(usize) -> Option<bool>,
) -> Shape {
    let mut shape = Shape::default();
    for (at, (a, b)) in pairs.iter().enumerate() {
        let bit = differing.iter().position(|d| *d == at);
        let (first, given) = match (a, b, has(at)) {
            (Some(a), Some(b), _) if bit.is_some() => (a, vec![a.clone(), b.clone()]),
            (Some(a), Some(_), _) => (a, Vec::new()),
            (Some(a), None, Some(true)) => (a, Vec::new()),
            (None, Some(b), Some(true)) => {
                shape.taken |= bit.map_or(0, |bit| 1 << bit);
                (b, Vec::new())
            }
            (Some(_), None, _) => {
                shape.taken |= bit.map_or(0, |bit| 1 << bit);
                continue;
            }
            _ => continue,
        };
        shape.lines.push(first.clone());
        shape.choices.push(given);
        shape.from.push(bit.filter(|_| a.is_some() && b.is_some()));
    }
    shape
}

/// The mixtures that have the lines of one shape.
// What a shape is made of comes from all over `mix`, and is made nowhere else.
#[allow(clippy::too_many_arguments)]
fn of_shape(
    kit: &Kit,
    ours: &Build,
    pairs: &[(Option<Line>, Option<Line>)],
    differing: &[usize],
    has: &dyn Fn(usize) -> Option<bool>,
    measure: Option<(u16, bool)>,
    limits: SearchLimits<'_>,
    mix: &mut Mix,
) {
    let Shape { lines, choices, from, taken } = shape(pairs, differing, has);
    let base = Build { lines, ..ours.clone() };
    let space = Space::new(&base, kit.catalogue(), choices);
    let mut goals = vec![Goal::Price];
    let keep = if mix.counted {
        // The measure may not apply to a mixture, which passes all the same, so it is asked
        // afterwards.
        Keep::All(usize::MAX)
    } else {
        goals.extend(measure.map(|(rule, most)| Goal::Measure { rule, most }));
        Keep::Front
    };
    let quest = Quest { goals, ..Quest::new(kit, &space, Level::Stop, keep, limits) };
    let outcome = solve(&quest);
    mix.complete &= outcome.proven;
    mix.left_out.extend(outcome.left_out);
    for found in outcome.found {
        let mut taken = taken;
        for ((place, pick), bit) in space.places.iter().zip(&found.picks).zip(&from) {
            let (Some(choice), Some(bit)) = (place.choices.get(*pick as usize), bit) else {
                continue;
            };
            let theirs =
                differing.get(*bit).and_then(|at| pairs.get(*at)).and_then(|(_, b)| b.as_ref());
            if same(Some(&choice.line), theirs) {
                taken |= 1 << bit;
            }
        }
        let value = measure.and_then(|(rule, _)| {
            kit.audit_with(&space.resolved(&found.picks), &[rule]).number(rule)
        });
        mix.passing.push(Mixture {
            taken,
            build: space.build(&found.picks),
            total: found.total,
            value,
            on_front: false,
        });
    }
}

/// Marks what nothing else beats; the mixtures stand in order of price.
fn mark_front(passing: &mut [Mixture], most: bool) {
    let mut best: Option<f64> = None;
    let better = |a: f64, b: f64| if most { a > b } else { a < b };
    let mut at = 0;
    while at < passing.len() {
        let price = passing.get(at).map(|m| m.total.minor());
        let end =
            at + passing.iter().skip(at).take_while(|m| Some(m.total.minor()) == price).count();
        let group = passing.get_mut(at..end).unwrap_or_default();
        let top =
            group.iter().filter_map(|m| m.value).reduce(|a, b| if better(b, a) { b } else { a });
        if let Some(top) = top.filter(|top| best.is_none_or(|best| better(*top, best))) {
            group.iter_mut().filter(|m| m.value == Some(top)).for_each(|m| m.on_front = true);
            best = Some(top);
        }
        at = end.max(at + 1);
    }
}

/// Looks for a way from one list to the other over mixtures that pass.
struct Crossing<'a> {
    kit: &'a Kit,
    pairs: &'a [(Option<Line>, Option<Line>)],
    differing: &'a [usize],
    ours: &'a Build,
    /// What is known of mixtures so far.
    passes: HashMap<u32, bool>,
    left_out: &'a BTreeSet<String>,
    limits: SearchLimits<'a>,
}

impl Crossing<'_> {
    fn passes(&mut self, taken: u32) -> bool {
        if let Some(known) = self.passes.get(&taken) {
            return *known;
        }
        let lines = self.pairs.iter().enumerate().filter_map(|(at, (a, b))| {
            let theirs = self
                .differing
                .iter()
                .position(|d| *d == at)
                .is_some_and(|bit| taken & (1 << bit) != 0);
            if theirs { b.clone() } else { a.clone() }
        });
        let audit = self.kit.audit(&Build { lines: lines.collect(), ..self.ours.clone() });
        let passes = audit.failed().all(|(rule, _)| self.left_out.contains(&*rule.id))
            && audit.worst() != Some(Level::Stop);
        self.passes.insert(taken, passes);
        passes
    }

    /// A way, and whether it is proven that there is none where it is missing. The way that comes
    /// nearest to the other list first is followed first, so that a straight one is found soon.
    fn path(&mut self) -> (Option<Vec<usize>>, bool) {
        let bits = self.differing.len();
        let all = u32::try_from((1u64 << bits) - 1).unwrap_or(u32::MAX);
        if !self.passes(0) || !self.passes(all) {
            return (None, true);
        }
        let mut came: HashMap<u32, (u32, usize)> = HashMap::new();
        let mut queue = BinaryHeap::from([(0u32, Reverse(0u32))]);
        while let Some((_, Reverse(at))) = queue.pop() {
            if at == all {
                let (mut way, mut here) = (Vec::new(), at);
                while let Some((before, bit)) = came.get(&here) {
                    way.push(*bit);
                    here = *before;
                }
                way.reverse();
                return (Some(way), true);
            }
            for bit in 0..bits {
                if self.limits.over() {
                    return (None, false);
                }
                let next = at ^ (1 << bit);
                if next != 0 && !came.contains_key(&next) && self.passes(next) {
                    came.insert(next, (at, bit));
                    queue.push((next.count_ones(), Reverse(next)));
                }
            }
        }
        (None, true)
    }
}
