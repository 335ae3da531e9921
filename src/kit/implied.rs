//! What the answers on one rule's way say about the questions of another: `x < 300` says that
//! `x < 400`.

use ahash::AHashMap;

use crate::audit::ask::{Answer, Ask, Step};
use crate::audit::expr::{Expr, ExprId, Pool};
use crate::kit::Kit;
use crate::settings::Settings;

/// Where a figure lies, each end with whether it is one that the figure cannot have.
#[derive(Debug, Clone, Copy)]
struct Between {
    low: (f64, bool),
    high: (f64, bool),
}

/// What a way knows.
struct Known<'a> {
    answers: AHashMap<&'a Ask, &'a Answer>,
    figures: AHashMap<ExprId, Between>,
}

impl Kit {
    /// Of other ways, each with a key, the keys of those that every build goes which goes this way
    /// through its questions. Only ways that the same figure, or the same question, decides count:
    /// what else is said of a part is another matter.
    pub(crate) fn implied<'w, K>(
        &self,
        way: &[Step],
        others: impl Iterator<Item = (K, &'w [Step])>,
    ) -> Vec<K> {
        let state = self.inside().0.state.borrow();
        let plain = |id: ExprId| plain(&state.pool, &state.settings, id);
        let known = Known::of(way, &plain);
        let of = |step: &Step| figure(step, &plain).map(|(id, _)| id);
        let decides = way.last();
        let alike = |step: &Step, other: &Step| {
            step.ask == other.ask && step.ask.compares()
                || of(step).is_some_and(|id| of(other) == Some(id))
        };
        let same = |other: &[Step]| {
            decides.zip(other.last()).is_some_and(|(step, other)| alike(step, other))
        };
        // The last question is the one that most ways differ in.
        let implied = |way: &[Step]| way.iter().rev().all(|step| known.says(step, &plain));
        others.filter(|(_, way)| same(way) && implied(way)).map(|(key, _)| key).collect()
    }
}

/// The value of a number that is the same for every build: one of the script's, or a setting.
fn plain(pool: &Pool, settings: &Settings, id: ExprId) -> Option<f64> {
    match pool.get(id) {
        Expr::Const(bits) => Some(f64::from_bits(*bits)),
        Expr::Setting(at) => settings.value(*at).as_num(),
        _ => None,
    }
}

/// A comparison of a figure with a plain number that holds: which figure, and where it lies.
fn figure(step: &Step, plain: &dyn Fn(ExprId) -> Option<f64>) -> Option<(ExprId, Between)> {
    let Answer::Bool(holds) = step.answer else { return None };
    let (a, b, strict) = match &step.ask {
        Ask::Less(a, b) => (*a, *b, true),
        Ask::LessEqual(a, b) => (*a, *b, false),
        _ => return None,
    };
    // What does not hold is the other order: not `a < b` is `b <= a`.
    let (a, b, strict) = if holds { (a, b, strict) } else { (b, a, !strict) };
    let open = (f64::INFINITY, false);
    match (plain(a), plain(b)) {
        (None, Some(high)) => Some((a, Between { low: (-open.0, false), high: (high, strict) })),
        (Some(low), None) => Some((b, Between { low: (low, strict), high: open })),
        _ => None,
    }
}

impl<'a> Known<'a> {
    fn of(way: &'a [Step], plain: &dyn Fn(ExprId) -> Option<f64>) -> Self {
        let answers = way.iter().map(|step| (&step.ask, &step.answer)).collect();
        let mut figures: AHashMap<ExprId, Between> = AHashMap::new();
        for (id, new) in way.iter().filter_map(|step| figure(step, plain)) {
            let held = figures.entry(id).or_insert(new);
            if is_tighter(new.low, held.low, 1.0) {
                held.low = new.low;
            }
            if is_tighter(new.high, held.high, -1.0) {
                held.high = new.high;
            }
        }
        Self { answers, figures }
    }

    /// Whether a question has this answer on every build that goes this way.
    fn says(&self, step: &Step, plain: &dyn Fn(ExprId) -> Option<f64>) -> bool {
        if self.answers.get(&step.ask).is_some_and(|answer| **answer == step.answer) {
            return true;
        }
        let Some((id, wanted)) = figure(step, plain) else { return false };
        let within = |held: &Between| {
            !is_tighter(wanted.low, held.low, 1.0) && !is_tighter(wanted.high, held.high, -1.0)
        };
        self.figures.get(&id).is_some_and(within)
    }
}

/// Whether a low end (`sign` 1) lies above another, or a high end (-1) below it.
fn is_tighter(new: (f64, bool), held: (f64, bool), sign: f64) -> bool {
    let (a, b) = (new.0 * sign, held.0 * sign);
    a > b || a == b && new.1 && !held.1
}
