//! What the rules need of a part so that it may take another's place: which of its figures must not
//! grow, must not shrink, or must stay the same.
//!
//! Each comparison of a rule's tree may change its answer only towards an end that is no worse, and
//! the figures that it compares are followed down through sums and products to the place that they
//! come from. Where a way of a rule is not known yet, it may end in anything.

use std::collections::HashMap;

use crate::audit::ask::{Answer, Ask};
use crate::audit::expr::{BuildWord, Expr, ExprId, Op, UnOp};
use crate::audit::memory::{Stands, Tree};
use crate::audit::ranges::{BREAK, NO, Possible, Ranges as _, YES};
use crate::catalogue::value::Val;

use super::abstract_eval::Sight;
use super::cache::Column;
use super::walk::{BLOCK, PASS, Track};

/// No such node.
const NONE: u32 = u32::MAX;

/// How a figure may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    NotMore,
    NotLess,
    Same,
}

/// A figure of one place, with its value by choice; not a number where there is none.
pub(super) struct Figure {
    pub(super) values: Vec<f64>,
    pub(super) need: Need,
}

impl Figure {
    /// What must be the same in two choices for one to stand for the other, and where the choices
    /// are compared by the figure, the number that is to be less.
    pub(super) fn of(&self, choice: u32) -> (u64, Option<f64>) {
        // Zero is written in two ways.
        let n = self.values.get(choice as usize).map_or(f64::NAN, |n| n + 0.0);
        match self.need {
            _ if n.is_nan() => (u64::MAX, None),
            Need::Same => (n.to_bits(), None),
            Need::NotMore => (0, Some(n)),
            Need::NotLess => (0, Some(-n)),
        }
    }
}

/// What a figure of a place is.
#[derive(PartialEq, Eq, Hash)]
enum What {
    /// An expression that rests on the place alone.
    Of(ExprId),
    /// What the place adds to a sum.
    Share(ExprId),
}

/// What the rules need of the parts of each place.
pub(super) struct Needs {
    figures: Vec<HashMap<What, Need>>,
    /// Answers to questions about one place.
    answers: Vec<Vec<Figure>>,
    /// Places whose parts are not compared: a rule looks at them in a way that is not understood.
    barred: u64,
    /// Whether a total must not grow.
    total: bool,
}

/// Which ends a node of a tree may lead to.
#[derive(Clone, Copy, Default)]
struct Ends(u8);

impl Ends {
    const ANY: Self = Self(PASS | BLOCK);

    fn may(self, end: u8) -> bool {
        self.0 & end != 0
    }
}

impl Need {
    fn opposite(self) -> Self {
        match self {
            Self::NotMore => Self::NotLess,
            Self::NotLess => Self::NotMore,
            Self::Same => Self::Same,
        }
    }

    /// The same while the other factor is of this sign all over.
    fn times(self, lo: f64, hi: f64) -> Self {
        match (lo >= 0.0, hi <= 0.0) {
            (true, _) => self,
            (_, true) => self.opposite(),
            _ => Self::Same,
        }
    }
}

impl Needs {
    pub(super) fn new(places: usize) -> Self {
        Self {
            figures: (0..places).map(|_| HashMap::new()).collect(),
            answers: (0..places).map(|_| Vec::new()).collect(),
            barred: 0,
            total: false,
        }
    }

    /// The figures of a place; none where its parts are not compared.
    pub(super) fn of(&mut self, place: usize, sight: &mut Sight<'_>) -> Option<Vec<Figure>> {
        if self.barred & sight.notes.mask(place) != 0 {
            return None;
        }
        let mut all = std::mem::take(self.answers.get_mut(place)?);
        for (what, need) in self.figures.get(place)? {
            all.push(match what {
                What::Of(id) => match &*sight.column(*id, place) {
                    Column::Nums(values) => Figure { values: values.clone(), need: *need },
                    Column::Vals(vals) => Figure { values: numbered(vals), need: Need::Same },
                    Column::Any => return None,
                },
                What::Share(id) => {
                    let shares = sight.shares(*id);
                    let share = shares.0.get(place)?;
                    let rounded = !share.terms.is_empty();
                    let need = if rounded { Need::Same } else { *need };
                    Figure { values: share.by_choice.clone(), need }
                }
            });
        }
        Some(all)
    }

    /// Whether the rules need that the total does not grow.
    pub(super) fn looks_at_total(&self) -> bool {
        self.total
    }

    fn bar(&mut self, places: u64) {
        self.barred |= places;
    }

    fn put(&mut self, place: usize, what: What, need: Need) {
        let Some(figures) = self.figures.get_mut(place) else { return };
        let held = figures.entry(what).or_insert(need);
        if *held != need {
            *held = Need::Same;
        }
    }

    /// Takes in what a rule that may stop a build needs.
    pub(super) fn rule(&mut self, track: &mut Track, tree: &Tree, sight: &mut Sight<'_>) {
        let answers = answers_of(tree, sight);
        let ends = ends_of(track, tree, &answers);
        let Some(root) = ends.first() else {
            // Nothing is known of it at all.
            return self.bar(u64::MAX);
        };
        if track.waivable && root.may(BLOCK) {
            // A waiver may be of one part.
            return self.bar(track.deps(tree, sight));
        }
        let of = |at: u32| ends.get(at as usize).copied().unwrap_or(Ends::ANY);
        for (ask, [at, no, yes]) in unsettled(tree, &answers) {
            let here = of(at);
            if !(here.may(PASS) && here.may(BLOCK)) {
                continue;
            }
            let fits = |from: u32, to: u32| !of(from).may(PASS) || !of(to).may(BLOCK);
            match answers.get(at as usize) {
                Some(Some(Possible::Bits(bits))) => {
                    let breaks = bits & BREAK != 0;
                    let toward_no = fits(yes, no) && !breaks;
                    let toward_yes = fits(no, yes) && !breaks;
                    self.ask(ask, (toward_no, toward_yes), sight);
                }
                _ => self.ask(ask, (false, false), sight),
            }
        }
    }

    /// Takes in what a measure that is aimed at needs.
    pub(super) fn goal(&mut self, tree: &Tree, sight: &mut Sight<'_>, most: bool) {
        let need = if most { Need::NotLess } else { Need::NotMore };
        let answers = answers_of(tree, sight);
        for (ask, _) in unsettled(tree, &answers) {
            self.ask(ask, (false, false), sight);
        }
        for at in 0..tree.len() {
            if let Some(Stands::Leaf(verdict)) = tree.node(at as u32)
                && let Some(value) = verdict.value
            {
                self.expr(value, need, sight);
            }
        }
    }

    /// What a question needs whose answer may change towards no, towards yes, or not at all.
    fn ask(&mut self, ask: &Ask, may: (bool, bool), sight: &mut Sight<'_>) {
        let deps = sight.ask_deps(ask);
        let need = match may {
            _ if deps == 0 => return,
            (true, true) => return,
            (true, false) => Need::NotMore,
            (false, true) => Need::NotLess,
            (false, false) => Need::Same,
        };
        if deps.is_power_of_two()
            && let Some(place) = sight.notes.place_of(deps)
            && let Some(values) = yes_or_no(ask, place, sight)
        {
            if let Some(answers) = self.answers.get_mut(place) {
                answers.push(Figure { values, need });
            }
            return;
        }
        match ask {
            Ask::Has(..) | Ask::Chosen(..) | Ask::Lines(_) => self.bar(deps),
            Ask::Less(a, b) | Ask::LessEqual(a, b) => {
                // Yes comes of a small first and a large second.
                self.expr(*a, need.opposite(), sight);
                self.expr(*b, need, sight);
            }
            _ => ask.exprs().for_each(|id| self.expr(id, Need::Same, sight)),
        }
    }

    /// What an expression needs that may only change so.
    fn expr(&mut self, id: ExprId, need: Need, sight: &mut Sight<'_>) {
        let deps = sight.deps(id);
        if deps == 0 {
            return;
        }
        if deps.is_power_of_two()
            && let Some(place) = sight.notes.place_of(deps)
        {
            return self.put(place, What::Of(id), need);
        }
        let pool = sight.pool;
        let span = sight.span(id);
        // A figure that may be none, or too large to be one, is not moved at all.
        let sound = !span.gap && span.lo.is_finite() && span.hi.is_finite();
        let need = if sound { need } else { Need::Same };
        match pool.get(id) {
            Expr::Bin(op, a, b) => self.pair((*op, *a, *b), need, sight),
            Expr::Un(op, a) => {
                let of = sight.span(*a);
                let need = match op {
                    UnOp::Neg => need.opposite(),
                    UnOp::Abs => need.times(of.lo, of.hi),
                    UnOp::Floor | UnOp::Ceil | UnOp::Round | UnOp::Sqrt => need,
                };
                self.expr(*a, need, sight);
            }
            Expr::Measure(_, inner) => self.expr(*inner, need, sight),
            Expr::Sum(_) | Expr::Pieces(_) | Expr::Build(BuildWord::Unpriced) => {
                let shares = sight.shares(id);
                for (place, share) in shares.0.iter().enumerate() {
                    if !share.by_choice.is_empty() {
                        self.put(place, What::Share(id), need);
                    }
                }
            }
            Expr::Build(BuildWord::Total) if need == Need::NotMore => self.total = true,
            Expr::Cell(_, _, a) => self.expr(*a, Need::Same, sight),
            Expr::KeyOf(a, b) => {
                self.expr(*a, Need::Same, sight);
                self.expr(*b, Need::Same, sight);
            }
            Expr::Func(_, args) => args.iter().for_each(|a| self.expr(*a, Need::Same, sight)),
            Expr::Assign(assign) => {
                assign.exprs().for_each(|a| self.expr(a, Need::Same, sight));
            }
            Expr::Field(..)
            | Expr::Sub(..)
            | Expr::Line(..)
            | Expr::Build(_)
            | Expr::Derived(_)
            | Expr::Const(_)
            | Expr::Word(_)
            | Expr::Setting(_) => self.bar(deps),
        }
    }

    fn pair(&mut self, (op, a, b): (Op, ExprId, ExprId), need: Need, sight: &mut Sight<'_>) {
        let (x, y) = (sight.span(a), sight.span(b));
        let (of_a, of_b) = match op {
            Op::Add | Op::Min | Op::Max => (need, need),
            Op::Sub => (need, need.opposite()),
            Op::Mul => (need.times(y.lo, y.hi), need.times(x.lo, x.hi)),
            Op::Div if y.lo > 0.0 || y.hi < 0.0 => {
                (need.times(y.lo, y.hi), need.opposite().times(x.lo, x.hi))
            }
            Op::Div | Op::Rem | Op::Pow => (Need::Same, Need::Same),
        };
        self.expr(a, of_a, sight);
        self.expr(b, of_b, sight);
    }
}

/// Values as numbers: the same for the same value.
fn numbered(vals: &[Val]) -> Vec<f64> {
    let mut known: HashMap<&Val, f64> = HashMap::new();
    let mut number = |val| {
        let next = known.len() as f64;
        *known.entry(val).or_insert(next)
    };
    vals.iter().map(&mut number).collect()
}

/// The answers to a question about one place, by choice: no is 0, yes is 1, not a number where the
/// script breaks; none where that is not all it can be.
fn yes_or_no(ask: &Ask, place: usize, sight: &mut Sight<'_>) -> Option<Vec<f64>> {
    if matches!(ask, Ask::Len(_) | Ask::Value(_) | Ask::Lines(_) | Ask::Assigned(_)) {
        return None;
    }
    let count = sight.space.places.get(place)?.choices.len();
    let held = sight.pin.take();
    let answers = (0u32..).take(count).map(|choice| {
        sight.pin = Some((place, choice));
        match sight.answers(ask) {
            Possible::Bits(NO) => Some(0.0),
            Possible::Bits(YES) => Some(1.0),
            Possible::Bits(BREAK) => Some(f64::NAN),
            _ => None,
        }
    });
    let answers = answers.collect();
    sight.pin = held;
    answers
}

/// What each question of a tree may be answered that some build may be asked; none for the others
/// and for ends.
fn answers_of(tree: &Tree, sight: &mut Sight<'_>) -> Vec<Option<Possible>> {
    let mut answers: Vec<Option<Possible>> = Vec::new();
    answers.resize_with(tree.len(), || None);
    let mut open = vec![0u32];
    while let Some(at) = open.pop() {
        let (Some(node), Some(slot)) = (tree.node(at), answers.get_mut(at as usize)) else {
            continue;
        };
        if let Stands::Ask { ask, .. } = node
            && slot.is_none()
        {
            next(node, slot.insert(sight.answers(ask)), |to| open.push(to));
        }
    }
    answers
}

/// Where an answered question may lead.
pub(super) fn next(node: Stands<'_>, possible: &Possible, mut to: impl FnMut(u32)) {
    let Stands::Ask { no, yes, many, .. } = node else { return };
    match possible {
        Possible::Bits(bits) => {
            [(NO, no), (YES, yes)].iter().filter(|(b, _)| bits & b != 0).for_each(|(_, n)| to(*n));
        }
        Possible::These(answers) => answers.iter().for_each(|answer| {
            to(match answer {
                Answer::Bool(false) => no,
                Answer::Bool(true) => yes,
                other => many.get(other),
            })
        }),
        Possible::Any => {
            many.values().for_each(|at| to(*at));
            to(NONE);
        }
    }
}

/// Which ends each node may lead to; what follows a question stands after it.
fn ends_of(track: &mut Track, tree: &Tree, answers: &[Option<Possible>]) -> Vec<Ends> {
    let mut ends = vec![Ends::default(); tree.len()];
    for (at, possible) in answers.iter().enumerate().rev() {
        let mut here = Ends::default();
        match (tree.node(at as u32), possible) {
            (Some(Stands::Leaf(verdict)), _) => {
                here.0 = match track.end(at as u32, verdict) {
                    PASS => PASS,
                    BLOCK => BLOCK,
                    _ => PASS | BLOCK,
                };
            }
            (Some(node), Some(possible)) => {
                if matches!(possible, Possible::Bits(bits) if bits & BREAK != 0) {
                    here.0 |= BLOCK;
                }
                next(node, possible, |to| {
                    here.0 |= ends.get(to as usize).copied().unwrap_or(Ends::ANY).0;
                });
            }
            _ => continue,
        }
        if let Some(slot) = ends.get_mut(at) {
            *slot = here;
        }
    }
    ends
}

/// The questions that may be answered in more than one way, each with where no and yes lead.
fn unsettled<'t>(
    tree: &'t Tree,
    answers: &[Option<Possible>],
) -> impl Iterator<Item = (&'t Ask, [u32; 3])> {
    (0u32..).zip(answers).filter_map(|(at, possible)| {
        let settled = match possible.as_ref()? {
            Possible::Bits(bits) => bits.is_power_of_two(),
            Possible::These(these) => these.len() < 2,
            Possible::Any => false,
        };
        match tree.node(at)? {
            Stands::Ask { ask, no, yes, .. } if !settled => Some((ask, [at, no, yes])),
            _ => None,
        }
    })
}
