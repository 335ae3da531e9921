//! The few trade-offs that show what there is to choose between.

use super::{Plan, PlanAnswer};

impl Plan {
    /// At most so many trade-offs of the front, in its order: the best in each goal, then each
    /// time the one that differs most from all that are taken, every goal measured by its range.
    pub fn spread(&self, most: usize) -> Vec<&PlanAnswer> {
        let points: Vec<&[f64]> = self.front.iter().map(|a| &*a.values).collect();
        let better: Vec<bool> = self.goals.iter().map(|g| g.most).collect();
        let mut taken = chosen(&points, &better, most);
        taken.sort_unstable();
        taken.into_iter().filter_map(|at| self.front.get(at)).collect()
    }
}

/// The places of the points that are taken; `more_is_better` by goal.
fn chosen(points: &[&[f64]], more_is_better: &[bool], most: usize) -> Vec<usize> {
    let value = |at: usize, goal: usize| points.get(at).and_then(|p| p.get(goal)).copied();
    let value = |at, goal| value(at, goal).unwrap_or(0.0);
    let all = || 0..points.len();
    let range = |goal: usize| {
        let (lo, hi) = all()
            .map(|at| value(at, goal))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(v), hi.max(v)));
        hi - lo
    };
    let ranges: Vec<f64> = (0..more_is_better.len()).map(range).collect();
    let mut taken: Vec<usize> = Vec::new();
    for (goal, more) in more_is_better.iter().enumerate() {
        let score = |at: usize| if *more { -value(at, goal) } else { value(at, goal) };
        let best = all().min_by(|a, b| score(*a).total_cmp(&score(*b)).then(a.cmp(b)));
        taken.extend(best.filter(|at| taken.len() < most && !taken.contains(at)));
    }
    let apart = |a: usize, b: usize| {
        let goals = ranges.iter().enumerate().filter(|(_, range)| **range > 0.0);
        goals.map(|(goal, range)| ((value(a, goal) - value(b, goal)) / range).powi(2)).sum::<f64>()
    };
    while taken.len() < most.min(points.len()) {
        let nearest =
            |at: usize| taken.iter().map(|held| apart(at, *held)).fold(f64::INFINITY, f64::min);
        let left = all().filter(|at| !taken.contains(at));
        let Some(next) = left.max_by(|a, b| nearest(*a).total_cmp(&nearest(*b)).then(b.cmp(a)))
        else {
            break;
        };
        taken.push(next);
    }
    taken
}

#[cfg(test)]
#[path = "../../../tests/unit/whatif/plan/spread.rs"]
mod tests;
