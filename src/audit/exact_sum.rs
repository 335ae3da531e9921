//! A sum of numbers that does not depend on the order in which they are added.

/// Numbers added without loss; the total is their exact sum, rounded once.
///
/// A build's parts stand in another order for an audit than for a search, so a sum that rounds as
/// it goes would let one of them refute the other.
#[derive(Debug, Clone, Default)]
pub(crate) struct ExactSum {
    sum: f64,
    /// What rounding `sum` left out.
    carry: f64,
    /// What rounding `carry` left out: hardly ever anything.
    rest: Vec<f64>,
    /// Numbers near the end of the range, made smaller by `SHRINK`; what is not finite as well.
    huge: Vec<f64>,
}

/// From here on numbers are added apart, so that no sum on the way runs over the range.
const HUGE: f64 = 1e290;
/// A power of two, so that nothing is lost by it.
const SHRINK: f64 = 1.0 / (1u64 << 40) as f64;

/// The rounded sum of two numbers, and what the rounding left out.
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let of_b = sum - a;
    (sum, (a - (sum - of_b)) + (b - of_b))
}

impl ExactSum {
    /// Adds a number.
    pub(crate) fn add(&mut self, n: f64) {
        if n.abs() < HUGE {
            let (sum, error) = two_sum(self.sum, n);
            self.sum = sum;
            if error != 0.0 {
                let (carry, rest) = two_sum(self.carry, error);
                self.carry = carry;
                if rest != 0.0 {
                    self.rest.push(rest);
                }
            }
        } else {
            self.huge.push(n * SHRINK);
        }
    }

    /// Whether the total so far is the sum itself, with nothing rounded away.
    pub(crate) fn is_exact(&self) -> bool {
        self.carry == 0.0 && self.rest.is_empty() && self.huge.is_empty()
    }

    /// The sum, rounded to the nearest number; not finite where it has none.
    pub(crate) fn total(&self) -> f64 {
        let small = [self.sum, self.carry].into_iter().chain(self.rest.iter().copied());
        match (self.huge.is_empty(), self.rest.is_empty()) {
            (true, true) => self.sum + self.carry + 0.0,
            (true, false) => rounded(small),
            (false, _) => {
                let all = self.huge.iter().copied().chain(small.map(|n| n * SHRINK));
                rounded(all) / SHRINK
            }
        }
    }
}

/// The exact sum of some numbers, rounded once: partial sums that do not overlap are kept in order
/// of size (Shewchuk 1997, "Adaptive precision floating-point arithmetic"), and added from the
/// largest down until one does not fit any more.
fn rounded(terms: impl Iterator<Item = f64>) -> f64 {
    let mut partials: Vec<f64> = Vec::new();
    for mut term in terms {
        if !term.is_finite() {
            return f64::NAN;
        }
        let mut kept = Vec::with_capacity(partials.len() + 1);
        for partial in partials {
            let (sum, error) = two_sum(term, partial);
            if error != 0.0 {
                kept.push(error);
            }
            term = sum;
        }
        kept.push(term);
        partials = kept;
    }
    let mut total = partials.pop().unwrap_or(0.0);
    while let Some(next) = partials.pop() {
        let (sum, error) = two_sum(total, next);
        total = sum;
        if error != 0.0 {
            // Half way between two numbers, what is still smaller decides.
            let below = partials.last().copied().unwrap_or(0.0);
            let (other, missed) = two_sum(sum, error * 2.0);
            if below * error > 0.0 && missed == 0.0 {
                total = other;
            }
            break;
        }
    }
    total + 0.0
}

#[cfg(test)]
#[path = "../../tests/unit/audit/exact_sum.rs"]
mod tests;
