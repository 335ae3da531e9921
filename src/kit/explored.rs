//! A rule whose build is not wholly known: every way it can end, and what that settles.

use std::rc::Rc;

use rhai::{Engine, EvalAltResult};

use super::Outcome;
use crate::audit::eval::View;
use crate::audit::explore::{End, Ends, Explorer, MAX_QUESTIONS, Released};
use crate::audit::expr::Expr;
use crate::audit::finding::Settled;
use crate::audit::interval::Span;
use crate::audit::memory::Walk;
use crate::audit::proofs::{Basis, LookedAt, Remembered, Ways};
use crate::audit::verdict::{Draft, Hole, Verdict};
use crate::build::lack::Lack;
use crate::build::resolve::Resolved;
use crate::level::Level;
use crate::rules::host::{Cut, Host, State};
use crate::rules::run;

/// Every way a rule can end, with what holds in all of them.
#[derive(Debug)]
pub struct Explored {
    /// With every place at all that its field allows.
    pub(crate) whole: Rc<Ends>,
    /// With every place at what it commonly is, where that is known.
    pub(crate) usual: Rc<Ends>,
    /// What it may say, each finding once.
    pub(crate) says: Vec<Saying>,
}

/// A finding that some of the ways end in.
#[derive(Debug, Clone)]
pub(crate) struct Saying {
    /// The way that is told of.
    pub(crate) verdict: Rc<Verdict>,
    /// Which of its findings.
    pub(crate) draft: usize,
    /// How firmly it stands; none where it is ruled out by what is common.
    pub(crate) settled: Option<Settled>,
}

impl Saying {
    /// The finding as its script raised it.
    pub(crate) fn draft(&self) -> Option<&Draft> {
        self.verdict.drafts.get(self.draft)
    }
}

impl Outcome {
    /// What the rule says that stands: the finding, the way to it, and how firmly. What only may
    /// hold, and a stop that holds as usual only, are not among them.
    pub(crate) fn found(&self) -> impl Iterator<Item = (&Draft, &Rc<Verdict>, Settled)> {
        let known = match self {
            Self::Known(verdict) => Some(verdict),
            _ => None,
        };
        let explored = match self {
            Self::Explored(explored) => Some(&explored.says),
            _ => None,
        };
        let certain = known
            .into_iter()
            .flat_map(|v| v.drafts.iter().map(move |draft| (draft, v, Settled::Certain)));
        let settled = explored.into_iter().flatten().filter_map(|saying| {
            let draft = saying.draft()?;
            match saying.settled? {
                Settled::Open => None,
                Settled::Usual if draft.level == Level::Stop => None,
                settled => Some((draft, &saying.verdict, settled)),
            }
        });
        certain.chain(settled)
    }
}

impl Outcome {
    /// Every way it can end, where it rests on facts that nobody said.
    pub(crate) fn exploration(&self) -> Option<&Explored> {
        match self {
            Self::Explored(explored) => Some(explored),
            _ => None,
        }
    }

    /// A way that the rule takes: the only one, or the one that is told of.
    pub(crate) fn verdict(&self) -> Option<&Rc<Verdict>> {
        match self {
            Self::Known(verdict) => Some(verdict),
            Self::Explored(explored) => {
                let told = explored.says.iter().find(|s| s.settled.is_some());
                let any = explored.whole.all.iter().find_map(|end| end.verdict.as_ref());
                told.map(|s| &s.verdict).or(any)
            }
            Self::Waits(_) | Self::Broken(_) => None,
        }
    }
}

impl Explored {
    /// The ways that decide what is asked: with everything as usual, or `whole`.
    pub(crate) fn ends(&self, whole: bool) -> &Ends {
        if whole { &self.whole } else { &self.usual }
    }

    /// What a measure can come to: as usual where that is known, else in all ways; none where it
    /// may not apply.
    pub(crate) fn value(&self, view: View<'_>) -> Option<Span> {
        let usual = self.usual.is_whole();
        let ends = if usual { &self.usual } else { &self.whole };
        let mut span: Option<Span> = None;
        for end in &ends.all {
            let id = end.verdict.as_ref()?.value?;
            let here = end.span(view, id, usual);
            span = Some(span.map_or(here, |s| s.join(here)));
        }
        span.filter(|_| ends.is_whole())
    }
}

/// Whether two findings are the same: rule, level, words and lines.
pub(crate) fn same_finding(a: &Draft, b: &Draft) -> bool {
    a.level == b.level && a.message.template == b.message.template && lines(a).eq(lines(b))
}

fn lines(draft: &Draft) -> impl Iterator<Item = &Hole> {
    draft
        .message
        .holes
        .iter()
        .map(|(_, hole)| hole)
        .filter(|hole| matches!(hole, Hole::Line(..) | Hole::Record(..)))
}

/// What runs rules: host and engine, shared by a kit and its audits.
#[derive(Clone)]
pub(crate) struct Runner {
    pub(crate) host: Rc<Host>,
    pub(crate) engine: Rc<Engine>,
}

impl Runner {
    /// Makes a build the one that is looked at: nothing worked out for another counts.
    pub(crate) fn look_at(&self, build: &Rc<Resolved>) {
        let mut state = self.host.state.borrow_mut();
        state.build = Some(build.clone());
        state.pool.invalidate();
    }

    /// What becomes of a rule that rests on facts nobody said.
    pub(super) fn outcome(&self, rule: u16) -> Outcome {
        let ways = self.explored_before(rule).unwrap_or_else(|| self.explored(rule));
        let says = sayings(&ways.whole, &ways.usual);
        Outcome::Explored(Rc::new(Explored { whole: ways.whole, usual: ways.usual, says }))
    }

    /// What an earlier exploration found, on a build that is the same in all that it rests on.
    fn explored_before(&self, rule: u16) -> Option<Ways> {
        let known = self.looking(|held, view| held.explorations.on(rule, view))?;
        let holds = |rests_on: &Basis| self.looking(|_, view| rests_on.holds(view)) == Some(true);
        known
            .into_iter()
            .find_map(|(rests_on, ways)| self.as_commonly(|| holds(&rests_on.1)).then_some(ways))
    }

    /// Explores a rule, and keeps what that rested on.
    fn explored(&self, rule: u16) -> Ways {
        let whole = Rc::new(self.explore(rule, false, Released::default(), &mut |_| true));
        let basis = self.looking(|_, view| LookedAt::of(&whole).basis(view));
        let never = {
            let rules = self.host.rules.borrow();
            rules.rules.get(rule as usize).is_some_and(|r| r.assumes_nothing)
        };
        let (usual, common) = self.as_commonly(|| {
            let usual = match never {
                true => whole.clone(),
                false => Rc::new(self.explore(rule, true, Released::default(), &mut |_| true)),
            };
            let basis = self.looking(|_, view| LookedAt::of(&usual).basis(view));
            (usual, basis)
        });
        let ways = Ways { whole, usual };
        if let (Some(basis), Some(common)) = (basis, common) {
            self.looking(|held, _| held.explorations.keep(rule, (basis, common), ways.clone()));
        }
        ways
    }

    /// Looks at what is remembered, and at the build; not where nothing is.
    pub(super) fn looking<T>(
        &self,
        look: impl FnOnce(&mut Remembered, View<'_>) -> T,
    ) -> Option<T> {
        let mut guard = self.host.state.borrow_mut();
        let State { pool, settings, build, remembered, remember, .. } = &mut *guard;
        let build = build.as_ref().filter(|_| *remember && !self.host.sparse())?;
        Some(look(remembered, View { pool, settings, build }))
    }

    /// Does something while the build is looked at with what its facts commonly are.
    fn as_commonly<T>(&self, act: impl FnOnce() -> T) -> T {
        let build = self.host.state.borrow().build.clone();
        let common = build.as_ref().and_then(|build| build.as_commonly().cloned());
        if let Some(common) = &common {
            self.look_at(common);
        }
        let done = act();
        if let (Some(build), Some(_)) = (&build, common) {
            self.look_at(build);
        }
        done
    }

    /// Every way a rule can end on the build being looked at; `go_on` is shown each end and says
    /// whether the others are wanted.
    pub(crate) fn explore(
        &self,
        rule: u16,
        usual: bool,
        released: Released,
        go_on: &mut dyn FnMut(&End) -> bool,
    ) -> Ends {
        self.explore_within(MAX_QUESTIONS, rule, usual, released, go_on)
    }

    /// The same with at most so many questions.
    pub(crate) fn explore_within(
        &self,
        most: usize,
        rule: u16,
        usual: bool,
        released: Released,
        go_on: &mut dyn FnMut(&End) -> bool,
    ) -> Ends {
        self.name_sums();
        let mut explorer = Box::new(Explorer::new(usual, released));
        explorer.most = most;
        self.host.state.borrow_mut().explorer = Some(explorer);
        let mut ends = Vec::new();
        run::on_script_stack(|| {
            while let Some(end) = self.one_way(rule) {
                let wanted = end.as_ref().is_none_or(&mut *go_on);
                ends.extend(end);
                if !wanted || !self.exploring(|e| !e.is_spent() && e.advance()) {
                    break;
                }
            }
        });
        let explorer = self.host.state.borrow_mut().explorer.take();
        explorer.map_or_else(Ends::default, |explorer| explorer.finish(ends))
    }

    fn exploring<T: Default>(&self, look: impl FnOnce(&mut Explorer) -> T) -> T {
        self.host.state.borrow_mut().explorer.as_deref_mut().map(look).unwrap_or_default()
    }

    /// Takes the rule down one way; an inner none is a way that does not exist.
    fn one_way(&self, rule: u16) -> Option<Option<End>> {
        self.exploring(Explorer::start);
        let verdict = match run::recall(&self.host, rule) {
            Walk::Known(verdict) => Some(verdict),
            Walk::Waits(_) => None,
            Walk::Unknown => self.run_forced(rule),
        };
        Some(self.exploring(|e| e.end(verdict)))
    }

    fn run_forced(&self, rule: u16) -> Option<Rc<Verdict>> {
        self.host.start();
        let result: Result<_, Box<EvalAltResult>> = run::script(&self.host, &self.engine, rule);
        match (result, self.host.cut()) {
            (Ok(verdict), _) => Some(verdict),
            (Err(_), cut) => {
                if let Some(Cut::Lack(Lack::Fact(fact))) = cut {
                    self.exploring(|e| e.waits_for(fact));
                }
                None
            }
        }
    }

    /// Gives every place under a sum over lines an id, so that it can be undecided by itself.
    fn name_sums(&self) {
        let fields = self.host.state.borrow().pool.sums().to_vec();
        for field in fields {
            // There is a build: this is called while one is looked at.
            let _ = self.host.name_addends(&field);
        }
        self.host.expr(Expr::Const(0.0f64.to_bits()));
    }
}

/// What the ways say, each finding once, with how firmly it stands.
fn sayings(whole: &Ends, usual: &Ends) -> Vec<Saying> {
    let mut says: Vec<Saying> = Vec::new();
    // Where a fact is taken as plain, the ways it leaves open are known as usual only.
    let ends = whole.all.iter().chain(usual.all.iter().filter(|_| !whole.is_whole()));
    for verdict in ends.filter_map(|end| end.verdict.as_ref()) {
        for (at, draft) in verdict.drafts.iter().enumerate() {
            if says.iter().any(|s| s.draft().is_some_and(|d| same_finding(d, draft))) {
                continue;
            }
            let settled = match (holds(whole, draft), holds(usual, draft)) {
                (Holds::Always, _) => Some(Settled::Certain),
                (_, Holds::Always) => Some(Settled::Usual),
                (_, Holds::Never) => None,
                _ => Some(Settled::Open),
            };
            says.push(Saying { verdict: verdict.clone(), draft: at, settled });
        }
    }
    says
}

enum Holds {
    Always,
    Never,
    Perhaps,
}

fn holds(ends: &Ends, draft: &Draft) -> Holds {
    let raised = |verdict: &Rc<Verdict>| verdict.drafts.iter().any(|d| same_finding(d, draft));
    let (mut some, mut all) = (false, ends.is_whole() && !ends.all.is_empty());
    for end in &ends.all {
        let here = end.verdict.as_ref().is_some_and(raised);
        some |= here;
        all &= here;
    }
    match (all, some) {
        (true, _) => Holds::Always,
        (false, false) if ends.is_whole() => Holds::Never,
        _ => Holds::Perhaps,
    }
}
