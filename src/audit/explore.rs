//! A rule over what is known of a build: every way it can end while some places are undecided.
//!
//! A place that nobody said, or that is let go, holds any value its field allows. A rule is run
//! again and again, from memory where its tree knows the way and by its script where not; where a
//! question can have several answers, one is forced, the places it looks at are narrowed to what
//! gives that answer, and the others are taken up afterwards. No build is made up for it.

mod narrow;
mod order;
mod reach;

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use ahash::{AHashMap, AHashSet};

use crate::audit::ask::{Answer, Ask};
use crate::audit::derived::DERIVED;
use crate::audit::domain;
use crate::audit::eval::View;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord};
use crate::audit::interval::{Hull, Span};
use crate::audit::linear::{Linear, Term};
use crate::audit::ranges::{NO, Possible, Ranges, YES};
use crate::audit::verdict::Verdict;
use crate::build::chambers;
use crate::build::lack::{Fact, Lack};
use crate::catalogue::kinds::KindId;
use order::Order;
use reach::Look;

/// Most questions of one exploration, over all the ways it takes.
pub(crate) const MAX_QUESTIONS: usize = 4_000;

/// What counts as undecided besides what nobody said.
#[derive(Debug, Clone, Default)]
pub(crate) struct Released {
    /// Every place but these, where there are any.
    pub(crate) all_but: Option<AHashSet<ExprId>>,
    /// Whole parts: the part of a line may be any of its kind.
    pub(crate) lines: Vec<(KindId, u16)>,
}

impl Released {
    /// Whether all that is known counts as decided.
    pub(crate) fn is_nothing(&self) -> bool {
        self.all_but.is_none() && self.lines.is_empty()
    }

    /// Whether a place counts as undecided, whatever is known of it.
    pub(crate) fn lets_go(&self, view: View<'_>, id: ExprId) -> bool {
        let line = |kind: &KindId, nth: &u16| self.lines.contains(&(*kind, *nth));
        let expr = view.pool.get(id);
        let kept = self.all_but.as_ref();
        kept.is_some_and(|kept| !kept.contains(&id) && is_fact(expr))
            || match expr {
                Expr::Field(kind, nth, _) | Expr::Sub(kind, nth, ..) => line(kind, nth),
                Expr::Line(kind, nth, word) => line(kind, nth) && domain::of_the_part(*word),
                Expr::Build(BuildWord::Total | BuildWord::Unpriced) => !self.lines.is_empty(),
                Expr::Derived(at) => self.moves(view, *at),
                _ => false,
            }
    }

    /// Whether a line that is let go moves a figure of the host. The air is moved by the lines
    /// that its network looks at: the few watts that another part warms it by are no way out.
    fn moves(&self, view: View<'_>, figure: u16) -> bool {
        let lines = &self.lines;
        if !DERIVED.get(figure as usize).is_some_and(|d| d.air) {
            return !lines.is_empty();
        }
        let kinds = chambers::kinds(&view.build.catalogue);
        lines.iter().any(|(kind, _)| kinds.contains(kind))
    }
}

/// Whether a place holds what could be otherwise by itself: of a part, of its line or of the
/// list, or a figure of the host.
pub(crate) fn is_fact(expr: &Expr) -> bool {
    let total = matches!(expr, Expr::Build(BuildWord::Total | BuildWord::Unpriced));
    let kind = matches!(
        expr,
        Expr::Field(..) | Expr::Sub(..) | Expr::Line(..) | Expr::Derived(_) | Expr::Build(_)
    );
    kind && !total
}

/// One way a rule can end.
#[derive(Debug, Clone)]
pub(crate) struct End {
    /// What it said; none where the script broke or a value was missing that it takes as plain.
    pub(crate) verdict: Option<Rc<Verdict>>,
    /// What the places it looked at can be, where it ends so.
    pub(crate) domains: AHashMap<ExprId, Hull>,
}

/// Every way a rule can end.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ends {
    /// The ways, each once.
    pub(crate) all: Vec<End>,
    /// Places whose value turned the rule one way or the other.
    pub(crate) turned: BTreeSet<ExprId>,
    /// Facts that the rule takes as plain, so that it waits for them.
    pub(crate) waits: BTreeSet<Fact>,
    /// Facts that it came to on some ways only, each with one of the same part that it always came
    /// to before.
    pub(crate) after: BTreeMap<Fact, Fact>,
    /// Whether there was more than could be looked at.
    pub(crate) cut_short: bool,
    /// How many questions it took.
    pub(crate) asked: usize,
    /// Every place that was looked at, with whether it is as the build has it.
    pub(crate) looked_at: AHashMap<ExprId, bool>,
    /// Kinds whose lines were counted.
    pub(crate) counted: AHashSet<KindId>,
}

impl Ends {
    /// Whether nothing but what was found is possible.
    pub(crate) fn is_whole(&self) -> bool {
        self.waits.is_empty() && !self.cut_short && self.all.iter().all(|e| e.verdict.is_some())
    }
}

impl End {
    /// What a number can come to, with the places as they are where this way ends.
    pub(crate) fn span(&self, view: View<'_>, id: ExprId, usual: bool) -> Span {
        let mut explorer = Explorer::new(usual, Released::default());
        explorer.domains = self.domains.clone();
        explorer.hull(view, id).span()
    }
}

/// What a number that rests on unknown facts commonly lies between; none for a fact by itself, of
/// which nothing is known, and for what is no number.
pub(crate) fn possible_span(view: View<'_>, id: ExprId) -> Option<(f64, f64)> {
    let mut explorer = Explorer::new(true, Released::default());
    // A figure of the host is worked out from what its facts commonly are.
    let under = under_names(view, id);
    let figure = matches!(view.pool.get(under), Expr::Derived(_));
    if !figure && explorer.is_undecided(view, under) {
        return None;
    }
    let span = explorer.hull(view, id).span();
    let known = !span.is_empty() && (span.lo.is_finite() || span.hi.is_finite());
    known.then_some((span.lo, span.hi))
}

/// A choice among the answers of a question.
struct Decision {
    answer: Answer,
    others: Vec<Answer>,
}

/// What is forced on a rule while it runs.
pub(crate) struct Explorer {
    /// Most questions, over all ways.
    pub(crate) most: usize,
    usual: bool,
    pub(crate) released: Released,
    decisions: Vec<Decision>,
    depth: usize,
    asked: usize,
    answered: AHashMap<Ask, Answer>,
    domains: AHashMap<ExprId, Hull>,
    sums: AHashMap<Vec<(ExprId, u64)>, Span>,
    turned: BTreeSet<ExprId>,
    waits: BTreeSet<Fact>,
    order: Order,
    /// Whether the way taken turned out not to exist.
    impossible: bool,
    known: AHashMap<ExprId, bool>,
    counted: AHashSet<KindId>,
    /// The undecided places under each expression: what is undecided stays so for all ways.
    under: AHashMap<ExprId, Rc<[ExprId]>>,
}

impl Explorer {
    /// A fresh look; with `usual`, places hold what they commonly hold.
    pub(crate) fn new(usual: bool, released: Released) -> Self {
        Self {
            most: MAX_QUESTIONS,
            usual,
            released,
            decisions: Vec::new(),
            depth: 0,
            asked: 0,
            answered: AHashMap::new(),
            domains: AHashMap::new(),
            sums: AHashMap::new(),
            turned: BTreeSet::new(),
            waits: BTreeSet::new(),
            order: Order::default(),
            impossible: false,
            known: AHashMap::new(),
            counted: AHashSet::new(),
            under: AHashMap::new(),
        }
    }

    /// Makes ready for the next way.
    pub(crate) fn start(&mut self) {
        self.depth = 0;
        self.answered.clear();
        self.domains.clear();
        self.sums.clear();
        self.order.start();
        self.impossible = false;
    }

    /// Takes up the next answer not tried yet; false when all were.
    pub(crate) fn advance(&mut self) -> bool {
        while let Some(last) = self.decisions.last_mut() {
            if let Some(next) = last.others.pop() {
                last.answer = next;
                return true;
            }
            self.decisions.pop();
        }
        false
    }

    /// Whether too much was asked.
    pub(crate) fn is_spent(&self) -> bool {
        self.asked > self.most
    }

    /// Ends the way just taken: none where it does not exist at all.
    pub(crate) fn end(&mut self, verdict: Option<Rc<Verdict>>) -> Option<End> {
        if self.impossible {
            return None;
        }
        if verdict.is_some() {
            self.order.end();
        }
        Some(End { verdict, domains: self.domains.clone() })
    }

    /// What was learnt over all ways.
    pub(crate) fn finish(self, all: Vec<End>) -> Ends {
        let cut_short = self.asked > self.most;
        Ends {
            all,
            turned: self.turned,
            waits: self.waits,
            after: self.order.after(),
            cut_short,
            asked: self.asked,
            looked_at: self.known,
            counted: self.counted,
        }
    }

    /// Whether a place is undecided.
    pub(crate) fn is_undecided(&mut self, view: View<'_>, id: ExprId) -> bool {
        if let Some(known) = self.known.get(&id) {
            return !known;
        }
        let undecided = self.released.lets_go(view, id)
            || match view.pool.get(id) {
                Expr::Field(kind, nth, field) => {
                    domain::is_unknown(view, *kind, *nth, *field, None)
                }
                Expr::Sub(kind, nth, field, index, sub) => {
                    domain::is_unknown(view, *kind, *nth, *field, Some((*index, *sub)))
                }
                Expr::Derived(_) => view.number(id).is_err(),
                _ => false,
            };
        self.known.insert(id, !undecided);
        undecided
    }

    /// The answer to a question: the only one there can be, or the one that is forced.
    pub(crate) fn answer(&mut self, view: View<'_>, ask: &Ask) -> Result<Option<Answer>, Lack> {
        if let Some(answer) = self.answered.get(ask) {
            return Ok(Some(answer.clone()));
        }
        self.asked += 1;
        let answer = match self.possible(view, ask)? {
            Possible::Bits(bits) if bits & (YES | NO) == 0 => return Ok(None),
            Possible::Bits(bits) if bits & (YES | NO) != YES | NO => Answer::Bool(bits & YES != 0),
            Possible::Bits(_) => {
                self.decide(view, ask, vec![Answer::Bool(true), Answer::Bool(false)])
            }
            Possible::These(mut these) if these.len() == 1 => match these.pop() {
                Some(only) => only,
                None => return Ok(None),
            },
            Possible::These(these) if !these.is_empty() => self.decide(view, ask, these),
            Possible::These(_) | Possible::Any => return Err(self.wait(view, ask)),
        };
        self.answered.insert(ask.clone(), answer.clone());
        Ok(Some(answer))
    }

    fn possible(&mut self, view: View<'_>, ask: &Ask) -> Result<Possible, Lack> {
        if let Ask::Has(kind, _) | Ask::Chosen(kind, _) | Ask::Lines(kind) = ask {
            self.counted.insert(*kind);
        }
        if let Ask::Chosen(kind, nth) = ask {
            match view.holds(ask) {
                Err(lack @ Lack::Open(..)) => return Err(lack),
                _ => {
                    return Ok(Possible::Bits(
                        u8::from(view.build.slot(*kind, *nth).is_some()) + 1,
                    ));
                }
            }
        }
        let mut undecided = false;
        for id in ask.exprs() {
            undecided |= self.rests_on_undecided(view, id);
        }
        if !undecided {
            return match view.answer(ask)? {
                Some(Answer::Bool(yes)) => Ok(Possible::Bits(if yes { YES } else { NO })),
                Some(other) => Ok(Possible::These(vec![other])),
                None => Ok(Possible::Bits(0)),
            };
        }
        // What a script takes as plain it goes on with as it stands: no answer can be forced on it.
        if matches!(ask, Ask::Value(_)) {
            return Ok(Possible::Any);
        }
        Ok(Look { view, explorer: self }.answers(ask))
    }

    /// The fact that a script takes as plain, put down as one to look up.
    fn wait(&mut self, view: View<'_>, ask: &Ask) -> Lack {
        let mut places = Vec::new();
        for id in ask.exprs() {
            self.undecided_under(view, id, &mut places);
        }
        let facts: Vec<Fact> = places.iter().flat_map(|id| domain::facts_of(view, *id)).collect();
        self.waits.extend(facts.iter().copied());
        self.order.meet(&facts);
        match (facts.first(), places.first()) {
            (Some(fact), _) => Lack::Fact(*fact),
            _ => {
                // What was let go and is no field of a part: the rule cannot do without it.
                let (kind, nth) = (KindId(0), 0);
                self.waits.insert(Fact { kind, nth, field: u16::MAX, sub: None });
                Lack::Fact(Fact { kind, nth, field: u16::MAX, sub: None })
            }
        }
    }

    /// Puts down a fact without which the rule could not go on.
    pub(crate) fn waits_for(&mut self, fact: Fact) {
        self.waits.insert(fact);
        self.order.meet(&[fact]);
    }

    fn decide(&mut self, view: View<'_>, ask: &Ask, mut answers: Vec<Answer>) -> Answer {
        let mut places = Vec::new();
        for id in ask.exprs() {
            self.undecided_under(view, id, &mut places);
        }
        if self.released.is_nothing() {
            let facts = places.iter().flat_map(|id| domain::facts_of(view, *id));
            self.order.meet(&facts.collect::<Vec<_>>());
        }
        self.turned.extend(places);
        if self.depth == self.decisions.len() {
            let answer = answers.remove(0);
            answers.reverse();
            self.decisions.push(Decision { answer, others: answers });
        }
        let answer = self
            .decisions
            .get(self.depth)
            .map_or(Answer::Bool(false), |decision| decision.answer.clone());
        self.depth += 1;
        self.narrow(view, ask, &answer);
        answer
    }

    /// Whether an expression rests on a place that is undecided.
    pub(crate) fn rests_on_undecided(&mut self, view: View<'_>, id: ExprId) -> bool {
        !self.all_under(view, id).is_empty()
    }

    /// The undecided places that an expression rests on.
    pub(crate) fn undecided_under(&mut self, view: View<'_>, id: ExprId, into: &mut Vec<ExprId>) {
        into.extend(self.all_under(view, id).iter());
    }

    fn all_under(&mut self, view: View<'_>, id: ExprId) -> Rc<[ExprId]> {
        if let Some(known) = self.under.get(&id) {
            return known.clone();
        }
        let mut found = Vec::new();
        let mut stack = vec![id];
        let mut seen = AHashSet::new();
        while let Some(id) = stack.pop() {
            if !seen.insert(id) {
                continue;
            }
            if self.is_undecided(view, id) {
                found.push(id);
                continue;
            }
            match view.pool.get(id) {
                Expr::Sum(name) => {
                    stack.extend(self.addends(view, name).into_iter().map(|(id, _)| id));
                    let kinds = view.build.catalogue.kinds_with(name);
                    self.counted.extend(kinds.iter().map(|(kind, _)| *kind));
                }
                expr => stack.extend(expr.operands()),
            }
        }
        let found: Rc<[ExprId]> = found.into();
        self.under.insert(id, found.clone());
        found
    }

    /// The places that a sum over lines adds up, where they are known as expressions, with the
    /// pieces of each.
    fn addends(&self, view: View<'_>, name: &str) -> Vec<(ExprId, f64)> {
        let mut addends = Vec::new();
        for (kind, field) in view.build.catalogue.kinds_with(name) {
            for (slot, nth) in view.build.slots(*kind).iter().zip(0u16..) {
                if let Some(id) = view.pool.find(&Expr::Field(*kind, nth, *field)) {
                    addends.push((id, slot.count));
                }
            }
        }
        addends
    }

    fn term(&mut self, view: View<'_>, id: ExprId) -> Term {
        if !self.rests_on_undecided(view, id) {
            return match view.number(id) {
                Ok(n) if n.is_finite() => Term::Known(n),
                _ => Term::Place,
            };
        }
        let Expr::Sum(name) = view.pool.get(id) else { return Term::Place };
        let name = name.clone();
        let mut places = Vec::new();
        let mut rest = 0.0;
        for (id, count) in self.addends(view, &name) {
            if self.is_undecided(view, id) {
                places.push((id, count));
            } else if let Ok(n) = view.number(id) {
                rest += n * count;
            }
        }
        Term::Sum(places, rest)
    }

    fn linear(&mut self, view: View<'_>, a: ExprId, b: ExprId) -> Linear {
        Linear::difference(view.pool, a, b, &mut |id| self.term(view, id))
    }
}

fn finite(n: f64) -> f64 {
    if n.is_finite() { n } else { 0.0 }
}

/// The expression that a measure's name is put on.
fn under_names(view: View<'_>, mut id: ExprId) -> ExprId {
    while let Expr::Measure(_, inner) = view.pool.get(id) {
        id = *inner;
    }
    id
}

/// Words of a line that go with its part, and not with the line.
pub(crate) const PART_WORDS: &[LineWord] = &[
    LineWord::PartId,
    LineWord::Price,
    LineWord::MailRebate,
    LineWord::Credit,
    LineWord::BundleValue,
    LineWord::Shipping,
    LineWord::Stock,
    LineWord::Sellers,
    LineWord::OfferAge,
    LineWord::SupportDays,
];
