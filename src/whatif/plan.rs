//! From a brief to a parts list: the proven best, the next ones, what could be weighed against it,
//! and what each wish costs.

mod cautions;
mod choices;
mod costs;
mod spread;
mod ways_out;
mod why_not;

use std::cell::RefCell;
use std::sync::Arc;

use crate::audit::finding::Brief as Finding;
use crate::build::bill::Total;
use crate::build::brief::{BRIEF, Brief};
use crate::build::orders::line_costs;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::kit::{Kit, Layers};
use crate::layer::Layer;
use crate::level::Level;
use crate::source::{Problem, Problems, Span};
use crate::trade::money::Money;
use crate::whatif::brief_rules::{Wished, wished};
use crate::whatif::edit::{self, Edit, NewLine};
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::memo::Memo;
use crate::whatif::search::query::{Found, Goal, Keep, Outcome, Quest, SearchLimits};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::{MOST_OPEN, Space};

#[cfg(feature = "app")]
pub(crate) use cautions::{CAUTION_WORTH, REFUSED_WORTH};
use choices::{Choices, choices};
pub use costs::{PlanAdd, PlanCost};
pub use ways_out::{PlanReach, PlanWayOut};
pub use why_not::{WhyNot, why_not};

/// How many answers are given.
const ANSWERS: usize = 5;

/// What a brief leads to.
#[non_exhaustive]
pub struct Plan {
    /// What is reached for, the most important first; the price is always among it.
    pub goals: Vec<PlanAim>,
    /// The best, and the next ones.
    pub best: Vec<PlanAnswer>,
    /// What nothing else beats on every goal at once, in order of the first goal; the best is one
    /// of them.
    pub front: Vec<PlanAnswer>,
    /// Whether the best is proven to be the best.
    pub proven: bool,
    /// Whether the front is whole.
    pub front_proven: bool,
    /// Where the best is not proven: what the first goal could still reach.
    pub bound: Option<f64>,
    /// Whether no list without cautions meets the brief, so that the best has some.
    pub cautioned: bool,
    /// Rules whose cautions the best is rid of for little: the brief lets them pass, and the list
    /// that has them is as good in all but the price.
    pub spared: Vec<String>,
    /// What the best costs more for that.
    pub spared_for: Option<Money>,
    /// What it costs to be rid of each caution of the best, where it has some for want of better.
    pub cautions: Vec<PlanCost>,
    /// What each wish and each policy of the shop costs, the dearest first.
    pub costs: Vec<PlanCost>,
    /// Whether every cost was looked for to the end.
    pub costs_proven: bool,
    /// Where there is no answer: a smallest set of wishes and rules that cannot all be met.
    pub conflict: Vec<PlanWish>,
    /// Whether that set is proven to be as small as can be.
    pub conflict_smallest: bool,
    /// Where there is no answer: changes of the brief that make a list possible, each by itself.
    pub ways_out: Vec<PlanWayOut>,
    /// Whether they were looked for to the end.
    pub ways_out_proven: bool,
    /// What parts that no seller has in stock would change.
    pub unsold: Option<PlanUnsold>,
    /// Kinds for which there is nothing to choose from.
    pub empty: Vec<Problem>,
    /// Rules that broke on some build: such builds are refused.
    pub broken: Vec<Problem>,
    /// Rules that broke on every build that was tried first: a fault of theirs, so no build is held
    /// to them.
    pub left_out: Vec<String>,
    /// How much was looked at.
    pub effort: PlanEffort,
}

/// Something to reach for.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct PlanAim {
    /// `price`, the id of a measure, or the brief's own expression.
    pub name: String,
    /// Its unit; `money` for the price.
    pub unit: Arc<str>,
    /// Whether more of it is better.
    pub most: bool,
}

/// What builds are held to.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum PlanWish {
    /// A want of the brief, by its text.
    Want(String),
    /// The brief's budget.
    Budget,
    /// A rule, by its id.
    Rule(String),
    /// That a rule raises no caution.
    NoCaution(String),
}

/// How much a search looked at.
#[derive(Debug, Clone, Copy, Default)]
#[non_exhaustive]
pub struct PlanEffort {
    /// Builds that the choices make together.
    pub builds: f64,
    /// Search nodes.
    pub boxes: u64,
    /// Builds audited one by one.
    pub audits: u64,
    /// Scripts run; the rest came from memory.
    pub runs: u64,
}

/// A build that meets the brief.
#[derive(Clone)]
#[non_exhaustive]
pub struct PlanAnswer {
    /// The build.
    pub build: Build,
    /// Its parts with the price of each line as it is ordered, in the order of the lines; none for
    /// the customer's own.
    pub parts: Vec<(Arc<Part>, u32, Option<Money>)>,
    /// Goods and shipping.
    pub total: Total,
    /// The goals' values.
    pub values: Vec<f64>,
    /// What the rules still find, waived findings left out, the worst first.
    pub remains: Vec<Finding>,
}

/// What parts that no seller has in stock would change.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct PlanUnsold {
    /// Those of them that the best list would hold.
    pub parts: Vec<Arc<Part>>,
    /// Which goal would be better, and by how much; none where there is no list without them.
    pub gain: Option<(usize, f64)>,
}

impl Plan {
    /// 0 when there is an answer, 1 when there is none, 2 when a rule is broken.
    pub fn exit_code(&self) -> u8 {
        match (self.broken.is_empty(), self.best.is_empty()) {
            (false, _) => 2,
            (true, true) => 1,
            (true, false) => 0,
        }
    }

    fn note(&mut self, outcome: &Outcome) {
        self.effort.boxes += outcome.boxes;
        self.effort.audits += outcome.audits;
        self.effort.runs += outcome.runs;
    }
}

struct Planner<'a> {
    brief: &'a Brief,
    wished: Wished,
    space: Space,
    /// The same with parts that no seller has in stock, where there are any.
    unsold: Option<Space>,
    /// Kinds for which there is nothing to choose from.
    empty: Vec<Problem>,
    aims: Vec<PlanAim>,
    /// The layer whose rules are not the shop's own.
    lowest: String,
    limits: SearchLimits<'a>,
    memo: Memo,
    /// Rules whose cautions refuse a build though others' pass.
    spared: RefCell<Vec<u16>>,
}

/// Makes a plan: the best builds, what could be weighed, and what each wish costs, or which wishes
/// cannot all be met.
///
/// # Errors
/// A want or an aim that cannot be read or asked.
pub fn plan(
    base: &Kit,
    layers: &Layers,
    brief: &Brief,
    limits: SearchLimits<'_>,
) -> Result<Plan, Problems> {
    Planner::new(base, layers, brief, limits)?.plan(Some((base, layers)))
}

/// The best builds only.
pub fn best(
    base: &Kit,
    layers: &Layers,
    brief: &Brief,
    limits: SearchLimits<'_>,
) -> Result<Plan, Problems> {
    Planner::new(base, layers, brief, limits)?.plan(None)
}

impl<'a> Planner<'a> {
    fn new(
        base: &Kit,
        layers: &Layers,
        brief: &'a Brief,
        limits: SearchLimits<'a>,
    ) -> Result<Self, Problems> {
        let wished = wished(layers, base, brief)?;
        let Choices { sold, all, empty } = choices(&wished.kit, &brief.build)?;
        let more = all.iter().zip(&sold).any(|(all, sold)| all.len() > sold.len());
        let catalogue = wished.kit.catalogue();
        let space = Space::new(&brief.build, catalogue, sold);
        let unsold = more.then(|| Space::new(&brief.build, catalogue, all));
        if space.open() > MOST_OPEN {
            return Err(too_many_open(brief, &space).into());
        }
        let rules = wished.kit.rules();
        let aim = |(goal, name): &(Goal, String)| {
            let (unit, most) = match goal {
                Goal::Price | Goal::Loss => (Some("money".into()), false),
                Goal::Measure { rule, most } => {
                    (rules.rules.get(*rule as usize).and_then(|r| r.unit.clone()), *most)
                }
            };
            PlanAim { name: name.clone(), unit: unit.unwrap_or_else(|| "".into()), most }
        };
        let aims = wished.goals.iter().map(aim).collect();
        let lowest =
            Layer::in_force(&layers.rules).first().map_or_else(String::new, |l| l.label.clone());
        Ok(Self {
            brief,
            wished,
            space,
            unsold,
            empty,
            aims,
            lowest,
            limits,
            memo: Memo::default(),
            spared: RefCell::default(),
        })
    }

    fn rules(&self) -> Vec<u16> {
        (0u16..).take(self.wished.kit.rules().rules.len()).collect()
    }

    fn quest(&self, level: Level, keep: Keep) -> Quest<'_> {
        Quest {
            levels: self.spared.borrow().iter().map(|at| (*at, Level::Caution)).collect(),
            goals: self.wished.goals.iter().map(|(g, _)| *g).collect(),
            memo: Some(&self.memo),
            ..Quest::new(&self.wished.kit, &self.space, level, keep, self.limits)
        }
    }

    /// The level from which on findings refuse a build: cautions too, unless the brief says
    /// otherwise.
    fn level(&self) -> Level {
        match self.brief.tolerate {
            Some(Level::Caution) => Level::Stop,
            _ => Level::Caution,
        }
    }

    /// The best; with the shop's own kit also what else there is to say.
    fn plan(&self, whole: Option<(&Kit, &Layers)>) -> Result<Plan, Problems> {
        let mut plan = self.nothing_yet();
        if !plan.empty.is_empty() {
            return Ok(plan);
        }
        let (outcome, level) = self.solve_best(&mut plan);
        self.wants_answered(&outcome)?;
        plan.cautioned = level == Level::Stop && self.level() == Level::Caution;
        plan.proven = outcome.proven;
        plan.bound = outcome.bound.filter(|b| b.is_finite()).map(|b| self.goal_value(b));
        plan.broken = self.wished.kit.rules().problems().collect();
        plan.broken.extend(outcome.broken.values().map(|p| self.wished.in_the_brief(p.clone())));
        plan.left_out = outcome.left_out.iter().cloned().collect();
        plan.best = outcome.found.iter().map(|f| self.answer(&self.space, f)).collect();
        let Some((base, layers)) = whole else { return Ok(plan) };
        let Some(best) = outcome.found.first() else {
            if outcome.proven {
                let quest = Quest { goals: Vec::new(), ..self.quest(level, Keep::Best(1)) };
                let (rules, smallest) = conflict(&quest, &outcome);
                plan.conflict = rules.iter().map(|rule| self.wish(rule)).collect();
                plan.conflict_smallest = smallest;
                self.ways_out(&mut plan, level, base, layers);
                self.try_unsold(&mut plan, level, None);
            }
            return Ok(plan);
        };
        self.costs(&mut plan, level, best, &outcome);
        if self.aims.len() > 1 {
            let front = solve(&Quest { known: &outcome.found, ..self.quest(level, Keep::Front) });
            plan.note(&front);
            plan.front_proven = front.proven;
            plan.front = front.found.iter().map(|f| self.answer(&self.space, f)).collect();
        }
        self.try_unsold(&mut plan, level, Some(best));
        Ok(plan)
    }

    fn nothing_yet(&self) -> Plan {
        Plan {
            goals: self.aims.clone(),
            best: Vec::new(),
            front: Vec::new(),
            proven: true,
            front_proven: true,
            bound: None,
            cautioned: false,
            spared: Vec::new(),
            spared_for: None,
            cautions: Vec::new(),
            costs: Vec::new(),
            costs_proven: true,
            conflict: Vec::new(),
            conflict_smallest: true,
            ways_out: Vec::new(),
            ways_out_proven: true,
            unsold: None,
            empty: self.empty.clone(),
            broken: Vec::new(),
            left_out: Vec::new(),
            effort: PlanEffort {
                builds: self.space.places.iter().map(|p| p.choices.len() as f64).product(),
                ..PlanEffort::default()
            },
        }
    }

    /// The best builds, and the level that they are held to: where the brief does not say what it
    /// tolerates and no build without cautions meets it, cautions are let pass.
    fn solve_best(&self, plan: &mut Plan) -> (Outcome, Level) {
        let level = self.level();
        let keep = Keep::Best(ANSWERS);
        if self.brief.tolerate.is_some() {
            let outcome = solve(&self.quest(level, keep));
            plan.note(&outcome);
            return (self.sparing(plan, outcome, level), level);
        }
        let half = Quest { limits: self.limits.half(), ..self.quest(level, keep) };
        let outcome = solve(&half);
        plan.note(&outcome);
        if !outcome.found.is_empty() {
            return (outcome, level);
        }
        let (strict, broken) = (outcome.proven, outcome.broken);
        let mut outcome = solve(&self.quest(Level::Stop, keep));
        outcome.broken.extend(broken);
        plan.note(&outcome);
        // A build without cautions may be there all the same.
        outcome.proven &= strict || outcome.found.is_empty();
        (self.sparing(plan, outcome, Level::Stop), Level::Stop)
    }

    /// A want that broke and left nothing over was not asked rightly.
    fn wants_answered(&self, outcome: &Outcome) -> Result<(), Problems> {
        let found = !outcome.found.is_empty();
        let own = outcome.broken.iter().filter(|(rule, _)| {
            self.wished.is_wish(rule) && (!found || outcome.left_out.contains(*rule))
        });
        Problems(own.map(|(_, b)| self.wished.in_the_brief(b.clone())).collect()).or(())
    }

    /// A score of the first goal as the value that it stands for.
    fn goal_value(&self, score: f64) -> f64 {
        match self.wished.goals.first().map(|(g, _)| *g) {
            Some(Goal::Measure { most: true, .. }) => -score,
            Some(Goal::Measure { .. }) => score,
            _ => self.space.money(score as i64),
        }
    }

    fn wish(&self, rule: &str) -> PlanWish {
        self.wished.wish(self.brief, rule)
    }

    /// The first goal in which one build is better than another, and by how much; less than nothing
    /// where it is worse.
    fn gain(&self, now: &Found, then: &Found) -> Option<(usize, f64)> {
        let mut pairs = now.values.iter().zip(&then.values).enumerate();
        let (goal, (now, then)) = pairs.find(|(_, (now, then))| now != then)?;
        let most = self.aims.get(goal).is_some_and(|a| a.most);
        Some((goal, if most { then - now } else { now - then }))
    }

    /// Whether parts that no seller has in stock would make a better list, or one at all.
    fn try_unsold(&self, plan: &mut Plan, level: Level, best: Option<&Found>) {
        let Some(space) = &self.unsold else { return };
        if self.limits.over() {
            return;
        }
        let outcome = solve(&Quest { space, memo: None, ..self.quest(level, Keep::Best(1)) });
        plan.note(&outcome);
        let Some(found) = outcome.found.first() else { return };
        let gain = best.and_then(|best| self.gain(best, found));
        if best.is_some() && gain.is_none_or(|(_, gain)| gain <= 0.0) {
            return;
        }
        let chosen = space.places.iter().zip(&found.picks).zip(&self.space.places);
        let parts = chosen.filter_map(|((wide, pick), sold)| {
            let choice = wide.choices.get(*pick as usize)?;
            let is_sold = sold.choices.iter().any(|c| c.part.id == choice.part.id);
            (!is_sold).then(|| choice.part.clone())
        });
        plan.unsold = Some(PlanUnsold { parts: parts.collect(), gain });
    }

    /// A found build in full.
    fn answer(&self, space: &Space, found: &Found) -> PlanAnswer {
        let build = space.build(&found.picks);
        let audit = self.wished.kit.audit(&build);
        let costs = line_costs(audit.build());
        let parts = build.lines.iter().zip(costs);
        let parts = parts.filter_map(|(line, cost)| Some((line.part()?.clone(), line.count, cost)));
        let (parts, remains) = (parts.collect(), audit.briefs());
        PlanAnswer {
            build,
            parts,
            total: found.total,
            values: found.values.clone(),
            remains: remains.into_iter().filter(|f| !f.waived).collect(),
        }
    }
}

fn too_many_open(brief: &Brief, space: &Space) -> Problem {
    let open = space.places.iter().zip(&brief.build.lines).filter(|(p, _)| p.choices.len() > 1);
    let span = open.map(|(_, line)| line.spans.part).nth(MOST_OPEN).unwrap_or_else(Span::default);
    Problem::new(format!(
        "this brief leaves {} lines open, and a search takes {MOST_OPEN} at the most",
        space.open()
    ))
    .at(&brief.build.source, span, "one too many")
    .help("name parts on some lines, or give a line a `count`")
}

/// The text of a build file with an answer in it: the brief's own text, its wishes taken out and
/// its lines filled.
/// Errors: the brief is written in a way that cannot be edited without loss.
pub fn build_file(brief: &Brief, answer: &PlanAnswer) -> Result<String, Problem> {
    let source = &brief.build.source;
    let cannot =
        |why: &str| Problem::new(format!("{} could not be made a build: {why}", source.name));
    let mut document =
        source.text.parse::<toml_edit::DocumentMut>().map_err(|e| cannot(e.message()))?;
    for key in BRIEF.names() {
        document.remove(key);
    }
    // An editor is pointed at the schema of what the file is now.
    let text = document.to_string().replacen("brief.schema.json", "build.schema.json", 1);
    let written = document
        .get("line")
        .and_then(|l| l.as_array_of_tables())
        .map_or(0, toml_edit::ArrayOfTables::len);
    let mut edits = Vec::new();
    for (line, (was, is)) in brief.build.lines.iter().zip(&answer.build.lines).enumerate() {
        let (What::Open { .. }, Some(part)) = (&was.what, is.part()) else { continue };
        let part = part.id.to_string();
        edits.push(if line < written {
            Edit::Part { line, part }
        } else {
            Edit::Add(NewLine { part, ..NewLine::default() })
        });
    }
    edit::apply(&text, &edits)
}
