//! From a brief to a parts list: the proven best, the next ones, what could be weighed against it,
//! and what each wish costs.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::audit::wording::figure;
use crate::build::brief::{BRIEF_KEYS, Brief};
use crate::build::{Build, Line, What};
use crate::catalogue::Part;
use crate::kit::{Kit, Layers};
use crate::level::Level;
use crate::source::{Problem, Problems, Span};
use crate::trade::money::{Currency, Money};
use crate::whatif::brief_rules::{BUDGET, Wished, wished};
use crate::whatif::edit::{self, Edit, NewLine};
use crate::whatif::open_lines::candidates;
use crate::whatif::search::conflict::conflict;
use crate::whatif::search::query::{Found, Goal, Keep, Limits, Outcome, Quest};
use crate::whatif::search::solve::solve;
use crate::whatif::search::space::{MOST_OPEN, Space};

/// How many answers are given.
const ANSWERS: usize = 5;
/// Most reasons that are looked for.
const MOST_REASONS: usize = 24;

/// What a brief leads to.
#[non_exhaustive]
pub struct Plan {
    /// What was reached for, by name.
    pub goals: Vec<String>,
    /// The best, and the next ones.
    pub best: Vec<Answer>,
    /// What nothing else beats on every goal at once, in order of the first goal; the best is one
    /// of them.
    pub front: Vec<Answer>,
    /// Whether the best is proven to be the best.
    pub proven: bool,
    /// Whether the front is whole.
    pub front_proven: bool,
    /// Where it is not proven: what the first goal could still reach, in words.
    pub bound: Option<String>,
    /// What each wish and rule costs, the dearest first.
    pub reasons: Vec<Reason>,
    /// Where there is no answer: a smallest set of wishes and rules that cannot all be met, by
    /// name.
    pub conflict: Vec<String>,
    /// Whether that set is proven to be as small as can be.
    pub conflict_smallest: bool,
    /// Kinds for which there is nothing to choose from.
    pub empty: Vec<Problem>,
    /// Rules that broke on some build: such builds are refused.
    pub broken: Vec<Problem>,
    /// Rules that broke on every build that was tried first: a fault of theirs, so no build is held
    /// to them.
    pub left_out: Vec<String>,
    /// How much was looked at.
    pub effort: Effort,
}

/// How much a search looked at.
#[derive(Debug, Clone, Copy, Default)]
#[non_exhaustive]
pub struct Effort {
    /// Builds that the choices make together.
    pub builds: f64,
    /// Boxes of builds looked at.
    pub boxes: u64,
    /// Builds audited one by one.
    pub audits: u64,
    /// Scripts run; the rest came from memory.
    pub runs: u64,
}

/// A build that meets the brief.
#[derive(Clone)]
#[non_exhaustive]
pub struct Answer {
    /// The build.
    pub build: Build,
    /// Its parts with the price of each line, in the order of the lines; none for the customer's
    /// own.
    pub parts: Vec<(Arc<Part>, u32, Option<Money>)>,
    /// Price at the till.
    pub total: Money,
    /// The goals' values.
    pub values: Vec<f64>,
    /// The same in words.
    pub words: Vec<String>,
}

/// What a wish or a rule costs.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Reason {
    /// What it is called.
    pub name: String,
    /// Which goal would be better without it: the first that differs.
    pub goal: usize,
    /// By how much.
    pub gain: f64,
    /// The same in words.
    pub words: String,
    /// Lines that would hold another part: kind, the part now, the part then.
    pub swaps: Vec<(String, String, String)>,
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
}

struct Planner<'a> {
    brief: &'a Brief,
    wished: Wished,
    space: Space,
    level: Level,
    limits: Limits<'a>,
    units: Vec<Arc<str>>,
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
    limits: Limits<'_>,
) -> Result<Plan, Problems> {
    planner(base, layers, brief, limits).and_then(|(planner, empty)| planner.plan(empty, true))
}

/// The best builds only.
///
/// # Errors
/// As for [`plan`].
pub fn best(
    base: &Kit,
    layers: &Layers,
    brief: &Brief,
    limits: Limits<'_>,
) -> Result<Plan, Problems> {
    planner(base, layers, brief, limits).and_then(|(planner, empty)| planner.plan(empty, false))
}

fn planner<'a>(
    base: &Kit,
    layers: &Layers,
    brief: &'a Brief,
    limits: Limits<'a>,
) -> Result<(Planner<'a>, Vec<Problem>), Problems> {
    let wished = wished(layers, base, brief)?;
    let (choices, empty) = choices(&wished.kit, &brief.build)?;
    let space = Space::new(&brief.build, wished.kit.catalogue(), choices, false);
    if space.open() > MOST_OPEN {
        let line = space
            .places
            .iter()
            .zip(&brief.build.lines)
            .filter(|(p, _)| p.choices.len() > 1)
            .nth(MOST_OPEN);
        let span = line.map_or_else(Span::default, |(_, line)| line.spans.part);
        let problem = Problem::new(format!(
            "this brief leaves {} lines open, and a search takes {MOST_OPEN} at the most",
            space.open()
        ));
        return Err(problem
            .at(&brief.build.source, span, "one too many")
            .help("name parts on some lines, or give a line a `count`")
            .into());
    }
    let rules = wished.kit.rules();
    let units = wished
        .goals
        .iter()
        .map(|(goal, _)| match goal {
            Goal::Price => "money".into(),
            Goal::Measure { rule, .. } => rules
                .rules
                .get(*rule as usize)
                .and_then(|r| r.unit.clone())
                .unwrap_or_else(|| "".into()),
        })
        .collect();
    let planner = Planner { brief, level: Wished::level(brief), wished, space, limits, units };
    Ok((planner, empty))
}

/// What may stand on each open line, and the lines for which there is nothing.
pub(crate) fn choices(
    kit: &Kit,
    build: &Build,
) -> Result<(Vec<Vec<Line>>, Vec<Problem>), Problems> {
    let mut all = Vec::new();
    let mut empty = Vec::new();
    let mut wrong = Problems::default();
    for (at, line) in build.lines.iter().enumerate() {
        let What::Open { kind, wants } = &line.what else {
            all.push(Vec::new());
            continue;
        };
        match candidates(kit, build, at, *kind, wants) {
            Err(problem) => wrong.push(*problem),
            Ok(found) => {
                if found.is_empty() {
                    let name = kit.catalogue().kind(*kind).map_or("", |k| &k.name);
                    let problem = Problem::new(format!("there is no {name} to choose from")).at(
                        &build.source,
                        line.spans.part,
                        "nothing for this",
                    );
                    empty.push(problem.help(
                        "no part of the kind that meets the line's wants has a \
                     seller on the pricing day",
                    ));
                }
                all.push(found.iter().map(|(part, _)| line.with_part(part)).collect());
            }
        }
    }
    wrong.or((all, empty))
}

impl Planner<'_> {
    fn rules(&self) -> Vec<u16> {
        (0u16..).take(self.wished.kit.rules().rules.len()).collect()
    }

    fn quest(&self, rules: Vec<u16>, goals: Vec<Goal>, keep: Keep) -> Quest<'_> {
        Quest {
            kit: &self.wished.kit,
            space: &self.space,
            rules,
            level: self.level,
            goals,
            keep,
            limits: self.limits,
            under: None,
        }
    }

    fn goals(&self) -> Vec<Goal> {
        self.wished.goals.iter().map(|(g, _)| *g).collect()
    }

    fn plan(&self, empty: Vec<Problem>, whole: bool) -> Result<Plan, Problems> {
        let mut plan = Plan {
            goals: self.wished.goals.iter().map(|(_, name)| name.clone()).collect(),
            best: Vec::new(),
            front: Vec::new(),
            proven: true,
            front_proven: true,
            bound: None,
            reasons: Vec::new(),
            conflict: Vec::new(),
            conflict_smallest: true,
            empty,
            broken: Vec::new(),
            left_out: Vec::new(),
            effort: Effort {
                builds: self.space.places.iter().map(|p| p.choices.len() as f64).product(),
                ..Effort::default()
            },
        };
        if !plan.empty.is_empty() {
            return Ok(plan);
        }
        let outcome = solve(&self.quest(self.rules(), self.goals(), Keep::Best(ANSWERS)));
        self.wants_answered(&outcome)?;
        plan.note(&outcome);
        plan.proven = outcome.proven;
        plan.bound = outcome.bound.filter(|b| b.is_finite()).map(|b| self.bound_words(b));
        let rules = self.wished.kit.rules();
        plan.broken = rules.problems().cloned().collect();
        plan.broken.extend(outcome.broken.values().map(|p| self.wished.in_the_brief(p.clone())));
        plan.left_out = outcome.left_out.iter().cloned().collect();
        plan.best = outcome.found.iter().map(|f| self.answer(f)).collect();
        match outcome.found.first() {
            _ if !whole => {}
            None if outcome.proven => {
                let (rules, smallest) =
                    conflict(&self.quest(self.rules(), Vec::new(), Keep::Best(1)), &outcome);
                plan.conflict =
                    rules.iter().map(|rule| self.wished.name(self.brief, rule)).collect();
                plan.conflict_smallest = smallest;
            }
            None => {}
            Some(best) => {
                self.reasons(&mut plan, best, &outcome);
                if self.wished.goals.len() > 1 {
                    let front = solve(&self.quest(self.rules(), self.goals(), Keep::Front));
                    plan.note(&front);
                    plan.front_proven = front.proven;
                    plan.front = front.found.iter().map(|f| self.answer(f)).collect();
                }
            }
        }
        Ok(plan)
    }

    /// A want that broke and left nothing over was not asked rightly.
    fn wants_answered(&self, outcome: &Outcome) -> Result<(), Problems> {
        let found = !outcome.found.is_empty();
        let own = outcome.broken.iter().filter(|(rule, _)| {
            rule.starts_with("brief.") && (!found || outcome.left_out.contains(*rule))
        });
        Problems(own.map(|(_, p)| self.wished.in_the_brief(p.clone())).collect()).or(())
    }

    fn bound_words(&self, score: f64) -> String {
        match self.wished.goals.first().map(|(g, _)| *g) {
            Some(Goal::Measure { most: true, .. }) => self.words(0, -score),
            Some(Goal::Measure { .. }) => self.words(0, score),
            _ => self.words(0, self.space.money(score as i64)),
        }
    }

    fn words(&self, goal: usize, value: f64) -> String {
        figure(value, self.units.get(goal).map_or("", |u| u), &self.space.base.currency)
    }

    fn answer(&self, found: &Found) -> Answer {
        answer(&self.space, found, |goal, value| self.words(goal, value))
    }

    /// Takes one want or rule away at a time, and sees what that would gain.
    fn reasons(&self, plan: &mut Plan, best: &Found, outcome: &Outcome) {
        let rules = self.wished.kit.rules();
        let mut ids: Vec<u16> = self.wished.wants.clone();
        ids.extend(rules.find(BUDGET));
        let mut blamed: Vec<(&String, &u64)> = outcome.stopped_by.iter().collect();
        blamed.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        ids.extend(blamed.iter().filter_map(|(rule, _)| rules.find(rule)));
        let mut seen = BTreeSet::new();
        ids.retain(|id| seen.insert(*id));
        for id in ids.into_iter().take(MOST_REASONS) {
            let Some(rule) =
                rules.rules.get(id as usize).filter(|r| outcome.stopped_by.contains_key(&*r.id))
            else {
                continue;
            };
            let left = self.rules().into_iter().filter(|r| *r != id).collect();
            let without = solve(&self.quest(left, self.goals(), Keep::Best(1)));
            plan.note(&without);
            let Some(other) = without.found.first() else { continue };
            let pairs = best.values.iter().zip(&other.values).enumerate();
            let Some((goal, (now, then))) = pairs.into_iter().find(|(_, (now, then))| now != then)
            else {
                continue;
            };
            let most =
                matches!(self.wished.goals.get(goal), Some((Goal::Measure { most: true, .. }, _)));
            let gain = if most { then - now } else { now - then };
            if gain <= 0.0 {
                continue;
            }
            let swaps = self.swaps(best, other);
            plan.reasons.push(Reason {
                name: self.wished.name(self.brief, &rule.id),
                goal,
                gain,
                words: self.words(goal, gain),
                swaps,
            });
        }
        plan.reasons.sort_by(|a, b| {
            a.goal.cmp(&b.goal).then(b.gain.total_cmp(&a.gain)).then_with(|| a.name.cmp(&b.name))
        });
    }

    fn swaps(&self, now: &Found, then: &Found) -> Vec<(String, String, String)> {
        let mut swaps = Vec::new();
        for ((place, a), b) in self.space.places.iter().zip(&now.picks).zip(&then.picks) {
            let (Some(a), Some(b)) =
                (place.choices.get(*a as usize), place.choices.get(*b as usize))
            else {
                continue;
            };
            if a.part.id != b.part.id {
                let kind = self
                    .space
                    .catalogue
                    .kind(place.kind)
                    .map_or_else(String::new, |k| k.name.to_string());
                swaps.push((kind, a.part.id.to_string(), b.part.id.to_string()));
            }
        }
        swaps
    }
}

impl Plan {
    fn note(&mut self, outcome: &Outcome) {
        self.effort.boxes += outcome.boxes;
        self.effort.audits += outcome.audits;
        self.effort.runs += outcome.runs;
    }
}

/// A found build in full.
pub(crate) fn answer(space: &Space, found: &Found, words: impl Fn(usize, f64) -> String) -> Answer {
    let currency = Currency::from_code(&space.base.currency).unwrap_or(Currency::EURO);
    let mut parts = Vec::new();
    for (place, pick) in space.places.iter().zip(&found.picks) {
        let Some(choice) = place.choices.get(*pick as usize) else { continue };
        let price =
            (!choice.line.owned && choice.priced).then(|| Money::from_minor(choice.cost, currency));
        parts.push((choice.part.clone(), choice.line.count, price));
    }
    Answer {
        build: space.build(&found.picks),
        parts,
        total: Money::from_minor(found.cost, currency),
        values: found.values.clone(),
        words: found.values.iter().enumerate().map(|(goal, value)| words(goal, *value)).collect(),
    }
}

/// The text of a build file with an answer in it: the brief's own text, its wishes taken out and
/// its lines filled.
///
/// # Errors
/// The brief is written in a way that cannot be edited without loss.
pub fn build_file(brief: &Brief, answer: &Answer) -> Result<String, Problem> {
    let source = &brief.build.source;
    let cannot =
        |why: &str| Problem::new(format!("{} could not be made a build: {why}", source.name));
    let mut document =
        source.text.parse::<toml_edit::DocumentMut>().map_err(|e| cannot(e.message()))?;
    for key in BRIEF_KEYS {
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
        let What::Part(part) = &is.what else { continue };
        let part = part.id.to_string();
        match &was.what {
            What::Part(_) => {}
            What::Open { .. } if line < written => edits.push(Edit::Part { line, part }),
            What::Open { .. } => edits.push(Edit::Add(NewLine { part, ..NewLine::default() })),
        }
    }
    edit::apply(&text, &edits)
}
