//! A rule over what is known of a build: every way it can end while some places are undecided.
//!
//! A place that nobody said, or that is let go, holds any value its field allows. A rule is run
//! again and again, from memory where its tree knows the way and by its script where not; where a
//! question can have several answers, one is forced, the places it looks at are narrowed to what
//! gives that answer, and the others are taken up afterwards. No build is made up for it.

use std::collections::BTreeSet;
use std::rc::Rc;

use ahash::{AHashMap, AHashSet};

use crate::audit::ask::{Answer, Ask};
use crate::audit::domain;
use crate::audit::eval::View;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord};
use crate::audit::functions::FUNCTIONS;
use crate::audit::interval::{Hull, Span};
use crate::audit::linear::{Linear, Term};
use crate::audit::ranges::{MOST_PAIRS, NO, Possible, Ranges, YES, contains};
use crate::audit::verdict::Verdict;
use crate::build::lack::{Fact, Lack};
use crate::catalogue::kinds::KindId;
use crate::catalogue::value::Val;

/// Most questions of one exploration, over all the ways it takes.
pub(crate) const MAX_QUESTIONS: usize = 4_000;

/// What counts as undecided besides what nobody said.
#[derive(Debug, Clone, Default)]
pub(crate) struct Released {
    /// Places by themselves.
    pub(crate) places: AHashSet<ExprId>,
    /// Whole parts: the part of a line may be any of its kind.
    pub(crate) lines: Vec<(KindId, u16)>,
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
    /// Whether there was more than could be looked at.
    pub(crate) cut_short: bool,
}

impl Ends {
    /// Whether nothing but what was found is possible.
    pub(crate) fn is_whole(&self) -> bool {
        self.waits.is_empty() && !self.cut_short && self.all.iter().all(|e| e.verdict.is_some())
    }
}

impl End {
    /// What a number can come to, with the places as they are where this way ends.
    pub(crate) fn span(&self, view: View<'_>, id: ExprId) -> Span {
        let mut explorer = Explorer::new(false, Released::default());
        explorer.domains = self.domains.clone();
        explorer.hull(view, id).span()
    }
}

/// What a number that rests on unknown facts lies between; none for a fact by itself, of which
/// nothing is known, and for what is no number.
pub(crate) fn possible_span(view: View<'_>, id: ExprId) -> Option<(f64, f64)> {
    let mut explorer = Explorer::new(false, Released::default());
    if explorer.is_undecided(view, under_names(view, id)) {
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
    usual: bool,
    released: Released,
    decisions: Vec<Decision>,
    depth: usize,
    asked: usize,
    answered: AHashMap<Ask, Answer>,
    domains: AHashMap<ExprId, Hull>,
    sums: AHashMap<Vec<(ExprId, u64)>, Span>,
    turned: BTreeSet<ExprId>,
    waits: BTreeSet<Fact>,
    /// Whether the way taken turned out not to exist.
    impossible: bool,
    known: AHashMap<ExprId, bool>,
}

impl Explorer {
    /// A fresh look; with `usual`, places hold what they commonly hold.
    pub(crate) fn new(usual: bool, released: Released) -> Self {
        Self {
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
            impossible: false,
            known: AHashMap::new(),
        }
    }

    /// Makes ready for the next way.
    pub(crate) fn start(&mut self) {
        self.depth = 0;
        self.answered.clear();
        self.domains.clear();
        self.sums.clear();
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
        self.asked > MAX_QUESTIONS
    }

    /// Whether the way just taken exists at all.
    pub(crate) fn is_possible(&self) -> bool {
        !self.impossible
    }

    /// What the places are narrowed to on the way just taken.
    pub(crate) fn domains(&self) -> AHashMap<ExprId, Hull> {
        self.domains.clone()
    }

    /// What was learnt over all ways.
    pub(crate) fn finish(self, all: Vec<End>) -> Ends {
        let cut_short = self.asked > MAX_QUESTIONS;
        Ends { all, turned: self.turned, waits: self.waits, cut_short }
    }

    /// Whether a place is undecided.
    pub(crate) fn is_undecided(&mut self, view: View<'_>, id: ExprId) -> bool {
        if let Some(known) = self.known.get(&id) {
            return !known;
        }
        let line = |kind: &KindId, nth: &u16| self.released.lines.contains(&(*kind, *nth));
        let undecided = self.released.places.contains(&id)
            || match view.pool.get(id) {
                Expr::Field(kind, nth, field) => {
                    line(kind, nth) || domain::is_unknown(view, *kind, *nth, *field, None)
                }
                Expr::Sub(kind, nth, field, index, sub) => {
                    line(kind, nth)
                        || domain::is_unknown(view, *kind, *nth, *field, Some((*index, *sub)))
                }
                Expr::Line(kind, nth, word) => line(kind, nth) && domain::of_the_part(*word),
                Expr::Build(BuildWord::Total | BuildWord::Unpriced) => {
                    !self.released.lines.is_empty()
                }
                Expr::Derived(_) => !self.released.lines.is_empty() || view.number(id).is_err(),
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

    fn decide(&mut self, view: View<'_>, ask: &Ask, mut answers: Vec<Answer>) -> Answer {
        let mut places = Vec::new();
        for id in ask.exprs() {
            self.undecided_under(view, id, &mut places);
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
        let mut places = Vec::new();
        self.undecided_under(view, id, &mut places);
        !places.is_empty()
    }

    /// The undecided places that an expression rests on.
    pub(crate) fn undecided_under(&mut self, view: View<'_>, id: ExprId, into: &mut Vec<ExprId>) {
        let mut stack = vec![id];
        let mut seen = AHashSet::new();
        while let Some(id) = stack.pop() {
            if !seen.insert(id) {
                continue;
            }
            if self.is_undecided(view, id) {
                into.push(id);
                continue;
            }
            match view.pool.get(id) {
                Expr::Bin(_, a, b) | Expr::KeyOf(a, b) => stack.extend([*a, *b]),
                Expr::Un(_, a) | Expr::Measure(_, a) | Expr::Cell(_, _, a) => stack.push(*a),
                Expr::Func(_, args) => stack.extend(args.iter().copied()),
                Expr::Assign(assign) => stack.extend(assign.exprs()),
                Expr::Sum(name) => {
                    stack.extend(self.addends(view, name).into_iter().map(|(id, _)| id));
                }
                _ => {}
            }
        }
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

    /// Keeps only what gives the answer that is taken.
    fn narrow(&mut self, view: View<'_>, ask: &Ask, answer: &Answer) {
        let yes = *answer == Answer::Bool(true);
        match ask {
            Ask::Less(a, b) => self.narrow_order(view, *a, *b, yes, true),
            Ask::LessEqual(a, b) => self.narrow_order(view, *a, *b, yes, false),
            Ask::Equal(a, b) => self.narrow_equal(view, *a, *b, yes),
            Ask::Truth(e) => self.keep(view, *e, |v| (*v == Val::Flag(true)) == yes),
            Ask::Contains(list, word) => {
                let (lists, words) = (self.hull(view, *list), self.hull(view, *word));
                if let Hull::Vals(lists) = &lists
                    && let [list] = &**lists
                {
                    self.keep(view, *word, |w| contains(list, w) == yes);
                }
                if let Hull::Vals(words) = &words
                    && let [word] = &**words
                {
                    self.keep(view, *list, |l| contains(l, word) == yes);
                }
            }
            Ask::Present(e) => self.narrow_present(view, *e, yes),
            _ => {}
        }
    }

    fn narrow_present(&mut self, view: View<'_>, id: ExprId, yes: bool) {
        if !self.is_undecided(view, id) {
            return;
        }
        let now = match (self.hull(view, id), yes) {
            (Hull::Num(span), true) => Hull::Num(Span { gap: false, ..span }),
            (Hull::Vals(vals), true) => {
                Hull::Vals(vals.iter().filter(|v| !v.is_absent()).cloned().collect())
            }
            (other, true) => other,
            (_, false) => Hull::val(&Val::Absent),
        };
        self.domains.insert(id, now);
    }

    /// Keeps the values of an undecided place that pass.
    fn keep(&mut self, view: View<'_>, id: ExprId, passes: impl Fn(&Val) -> bool) {
        let id = under_names(view, id);
        if !self.is_undecided(view, id) {
            return;
        }
        if let Hull::Vals(vals) = self.hull(view, id) {
            let left: Rc<[Val]> = vals.iter().filter(|v| passes(v)).cloned().collect();
            self.impossible |= left.is_empty();
            self.domains.insert(id, Hull::Vals(left));
        }
    }

    fn narrow_equal(&mut self, view: View<'_>, a: ExprId, b: ExprId, yes: bool) {
        let hulls = (self.hull(view, a), self.hull(view, b));
        match hulls {
            (Hull::Num(_), Hull::Num(_)) => {
                if yes {
                    self.narrow_order(view, a, b, true, false);
                    self.narrow_order(view, b, a, true, false);
                }
            }
            (x, y) => {
                if let Hull::Vals(vals) = &y
                    && (yes || vals.len() == 1)
                {
                    self.keep(view, a, |v| vals.contains(v) == yes);
                }
                if let Hull::Vals(vals) = &x
                    && (yes || vals.len() == 1)
                {
                    self.keep(view, b, |v| vals.contains(v) == yes);
                }
            }
        }
    }

    /// Keeps what makes `a < b` (or `a <= b`) hold or fail.
    fn narrow_order(&mut self, view: View<'_>, a: ExprId, b: ExprId, yes: bool, strict: bool) {
        // What fails is the other way about: not a < b is b <= a.
        let (a, b, strict) = if yes { (a, b, strict) } else { (b, a, !strict) };
        let (ua, ub) = (under_names(view, a), under_names(view, b));
        let (sa, sb) = (self.hull(view, a).span(), self.hull(view, b).span());
        let exact = self.is_undecided(view, ua) || self.is_undecided(view, ub);
        if exact {
            let below = |n: f64| if strict { n.next_down() } else { n };
            let above = |n: f64| if strict { n.next_up() } else { n };
            if self.is_undecided(view, ua) {
                self.cut(view, ua, f64::NEG_INFINITY, below(sb.hi));
            }
            if self.is_undecided(view, ub) {
                self.cut(view, ub, above(sa.lo), f64::INFINITY);
            }
        }
        let sum = self.linear(view, a, b);
        self.narrow_sum(view, &sum);
    }

    /// Keeps what makes a weighted sum at most zero.
    fn narrow_sum(&mut self, view: View<'_>, sum: &Linear) {
        let spans: Vec<(ExprId, f64, Span)> =
            sum.terms.iter().map(|(id, w)| (*id, *w, self.hull(view, *id).span())).collect();
        let spread: f64 =
            spans.iter().map(|(_, w, s)| w.abs() * finite(s.lo.abs().max(s.hi.abs()))).sum();
        let slack = sum.slack(spread);
        if let Some((shape, scale)) = sum.shape().filter(|(shape, _)| shape.len() > 1) {
            let bound = (slack - sum.constant) / scale;
            let held = self.sums.entry(shape).or_insert(Span { gap: false, ..Span::ALL });
            if scale > 0.0 {
                held.hi = held.hi.min(bound);
            } else {
                held.lo = held.lo.max(bound);
            }
        }
        let least = |w: f64, s: &Span| if w > 0.0 { w * s.lo } else { w * s.hi };
        for (at, (id, weight, _)) in spans.iter().enumerate() {
            if !self.is_undecided(view, *id) {
                continue;
            }
            let others: f64 = spans
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != at)
                .map(|(_, (_, w, s))| least(*w, s))
                .sum();
            let bound = (slack - sum.constant - others) / weight;
            if bound.is_finite() {
                if *weight > 0.0 {
                    self.cut(view, *id, f64::NEG_INFINITY, bound);
                } else {
                    self.cut(view, *id, bound, f64::INFINITY);
                }
            }
        }
    }

    /// Cuts the numbers of an undecided place to those from `lo` to `hi`.
    fn cut(&mut self, view: View<'_>, id: ExprId, lo: f64, hi: f64) {
        if let Hull::Num(span) = self.hull(view, id) {
            let now = Span { lo: span.lo.max(lo), hi: span.hi.min(hi), gap: false };
            self.impossible |= now.is_empty();
            self.domains.insert(id, Hull::Num(now));
        }
    }

    /// What an expression can come to, with the places as they are narrowed now.
    pub(crate) fn hull(&mut self, view: View<'_>, id: ExprId) -> Hull {
        if self.is_undecided(view, id) {
            if let Some(held) = self.domains.get(&id) {
                return held.clone();
            }
            let first = self.first_hull(view, id);
            self.domains.insert(id, first.clone());
            return first;
        }
        if !self.rests_on_undecided(view, id) {
            return match view.pool.get(id) {
                Expr::Bin(..) | Expr::Un(..) | Expr::Sum(_) | Expr::Func(..) => {
                    view.number(id).map_or(Hull::Any, |n| Hull::Num(Span::one(n)))
                }
                _ => view.see(id).map_or(Hull::Any, |seen| Hull::val(&seen.keep())),
            };
        }
        self.composite(view, id)
    }

    fn first_hull(&self, view: View<'_>, id: ExprId) -> Hull {
        domain::of(view, id, self.usual)
    }

    fn composite(&mut self, view: View<'_>, id: ExprId) -> Hull {
        match view.pool.get(id).clone() {
            Expr::Measure(_, inner) => self.hull(view, inner),
            Expr::Bin(op, a, b) => {
                let (x, y) = (self.hull(view, a).span(), self.hull(view, b).span());
                let span = Span::apply(op, x, y);
                match self.held_sum(view, id) {
                    Some(held) => Hull::Num(meet(span, held)),
                    None => Hull::Num(span),
                }
            }
            Expr::Un(op, a) => Hull::Num(Span::un(op, self.hull(view, a).span())),
            Expr::Func(at, args) => {
                let spans: Vec<Span> = args.iter().map(|a| self.hull(view, *a).span()).collect();
                Hull::Num(function_span(at, &spans))
            }
            Expr::Sum(name) => {
                let mut sum = Span::one(0.0);
                for (place, count) in self.addends(view, &name) {
                    let each = self.hull(view, place).span();
                    sum = Span::apply(
                        crate::audit::expr::Op::Add,
                        sum,
                        Span::apply(crate::audit::expr::Op::Mul, each, Span::one(count)),
                    );
                }
                Hull::Num(loosened(sum))
            }
            Expr::KeyOf(counts, key) => key_of(&self.hull(view, counts), &self.hull(view, key)),
            Expr::Cell(table, column, row) => {
                let Some(table) = view.build.catalogue.table(table) else { return Hull::Any };
                match self.hull(view, row) {
                    Hull::Vals(rows) => {
                        let absent = Val::Absent;
                        Hull::of(rows.iter().map(|row| {
                            row.as_text().map_or(&absent, |row| table.cell(row, column))
                        }))
                    }
                    Hull::Num(_) => Hull::val(&Val::Absent),
                    Hull::Any => Hull::Any,
                }
            }
            _ => Hull::Any,
        }
    }

    /// What is known of a sum as a whole, from comparisons answered on this way.
    fn held_sum(&mut self, view: View<'_>, id: ExprId) -> Option<Span> {
        if self.sums.is_empty() {
            return None;
        }
        let zero = view.pool.find(&Expr::Const(0.0f64.to_bits()))?;
        let sum = self.linear(view, id, zero);
        self.bound(&sum)
    }

    fn bound(&self, sum: &Linear) -> Option<Span> {
        let (shape, scale) = sum.shape().filter(|(shape, _)| shape.len() > 1)?;
        let held = self.sums.get(&shape)?;
        let (x, y) = (held.lo * scale + sum.constant, held.hi * scale + sum.constant);
        Some(Span { lo: x.min(y), hi: x.max(y), gap: false })
    }
}

/// A look at the build while a rule is explored.
struct Look<'a, 'e> {
    view: View<'a>,
    explorer: &'e mut Explorer,
}

impl Ranges for Look<'_, '_> {
    fn hull(&mut self, id: ExprId) -> Hull {
        self.explorer.hull(self.view, id)
    }

    fn assigned(&mut self, id: ExprId) -> Option<Answer> {
        let pool = self.view.pool;
        pool.assigned(id, |id| self.span(id).single().ok_or(())).ok().flatten()
    }

    fn lines(&self, kind: KindId) -> (usize, Option<usize>) {
        (self.view.build.slots(kind).len(), Some(0))
    }

    fn difference(&mut self, a: ExprId, b: ExprId) -> Option<Span> {
        let (view, explorer) = (self.view, &mut *self.explorer);
        let (mut left, mut right) = (Vec::new(), Vec::new());
        explorer.undecided_under(view, a, &mut left);
        explorer.undecided_under(view, b, &mut right);
        let shared = left.iter().any(|id| right.contains(id));
        if !shared && explorer.sums.is_empty() {
            return None;
        }
        let sum = explorer.linear(view, a, b);
        let mut span = Span::one(sum.constant);
        let mut spread = 0.0;
        for (id, weight) in &sum.terms {
            let each = explorer.hull(view, *id).span();
            if each.gap || each.is_empty() {
                return None;
            }
            spread += weight.abs() * finite(each.lo.abs().max(each.hi.abs()));
            let ends = (each.lo * weight, each.hi * weight);
            span.lo += ends.0.min(ends.1);
            span.hi += ends.0.max(ends.1);
        }
        if span.lo.is_nan() || span.hi.is_nan() {
            return None;
        }
        let slack = sum.slack(spread);
        let span = Span { lo: span.lo - slack, hi: span.hi + slack, gap: false };
        Some(explorer.bound(&sum).map_or(span, |held| meet(span, held)))
    }
}

fn meet(a: Span, b: Span) -> Span {
    Span { lo: a.lo.max(b.lo), hi: a.hi.min(b.hi), gap: a.gap }
}

/// A little wider: the sum is added here in another way than the build's own.
fn loosened(span: Span) -> Span {
    let slack = |n: f64| if span.single().is_some() { 0.0 } else { n.abs() * 1e-12 };
    Span { lo: span.lo - slack(span.lo), hi: span.hi + slack(span.hi), gap: span.gap }
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

/// The arithmetic of the trade is asked at the ends and the middle of what its arguments can be;
/// between them nothing is promised, so the span is opened to all numbers where they differ.
fn function_span(at: u16, args: &[Span]) -> Span {
    let singles: Vec<f64> = args.iter().filter_map(Span::single).collect();
    match FUNCTIONS.get(at as usize) {
        Some(function) if singles.len() == args.len() => Span::one((function.run)(&singles)),
        _ => Span { gap: false, ..Span::ALL },
    }
}

fn key_of(counts: &Hull, key: &Hull) -> Hull {
    match (counts, key) {
        (Hull::Vals(counts), Hull::Vals(keys)) if counts.len() * keys.len() <= MOST_PAIRS => {
            let mut span: Option<Span> = None;
            for (counts, key) in counts.iter().flat_map(|c| keys.iter().map(move |k| (c, k))) {
                let n = match (counts, key) {
                    (Val::Absent, _) => f64::NAN,
                    (counts, Val::Text(key)) => counts.count_of(key),
                    _ => f64::NAN,
                };
                span = Some(span.map_or_else(|| Span::one(n), |s| s.join(Span::one(n))));
            }
            span.map_or(Hull::Any, Hull::Num)
        }
        // Counts that nobody said: any number of each word.
        _ => Hull::Num(Span { lo: 0.0, hi: 1e6, gap: false }),
    }
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
